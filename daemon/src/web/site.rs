//! The files below the web root, read once when the daemon starts. A request
//! is looked up among them by name and never touches the file system, so there
//! is no path that leads out.

use std::collections::HashMap;
use std::path::{Path, PathBuf};

use bytes::Bytes;
use http::{HeaderValue, Method, Request, Response, StatusCode, header};
use sha2::{Digest as _, Sha256};
use tonic::body::Body;

use super::{body, plain, text};

/// The most that is kept in memory, bytes. A page takes about one million.
const MAX_BYTES: u64 = 64 << 20;
/// The page that every route of its own begins with.
const INDEX: &str = "index.html";
/// Vite puts what has a hash in its name here; it never changes.
const IMMUTABLE: &str = "assets/";

/// Why a directory cannot be served.
#[derive(Debug, thiserror::Error)]
pub enum SiteError {
    /// A file or directory cannot be read.
    #[error("cannot read {} for the web page", path.display())]
    Read {
        /// Which.
        path: PathBuf,
        /// The system's answer.
        source: std::io::Error,
    },
    /// No page in it.
    #[error("{} has no {INDEX}; build the page first", root.display())]
    NoIndex {
        /// The directory.
        root: PathBuf,
    },
    /// More than a page has.
    #[error("{} holds more than {} MB; is it the built page?", root.display(), MAX_BYTES >> 20)]
    TooLarge {
        /// The directory.
        root: PathBuf,
    },
}

/// The files by their path below the root, written with slashes.
#[derive(Debug)]
pub struct Site {
    files: HashMap<String, File>,
}

/// One file in each encoding there is, what browsers like best first.
#[derive(Debug)]
struct File {
    content_type: &'static str,
    forms: Vec<Form>,
}

/// One file in one encoding.
#[derive(Debug)]
struct Form {
    /// As in Content-Encoding; empty: as it is.
    encoding: &'static str,
    etag: String,
    bytes: Bytes,
}

impl Site {
    /// Reads everything below `root`. Names with a dot in front are left out,
    /// and so are links that lead out of it.
    ///
    /// # Errors
    /// When something cannot be read, there is no index.html, or it is too much.
    pub fn read(root: &Path) -> Result<Self, SiteError> {
        let mut found = HashMap::new();
        let mut left = MAX_BYTES;
        let canonical = root.canonicalize().map_err(refused(root))?;
        gather(&canonical, &canonical, "", &mut left, &mut found).map_err(|error| match error {
            Some(error) => error,
            None => SiteError::TooLarge {
                root: root.to_owned(),
            },
        })?;
        let site = Self {
            files: encodings(found),
        };
        if site.files.contains_key(INDEX) {
            Ok(site)
        } else {
            Err(SiteError::NoIndex {
                root: root.to_owned(),
            })
        }
    }

    /// A file, or the index for a route that the page itself knows.
    pub(super) fn answer<B>(&self, request: &Request<B>) -> Response<Body> {
        if !matches!(*request.method(), Method::GET | Method::HEAD) {
            let mut answer = plain(StatusCode::METHOD_NOT_ALLOWED, "only GET and HEAD\n");
            let allowed = HeaderValue::from_static("GET, HEAD");
            answer.headers_mut().insert(header::ALLOW, allowed);
            return answer;
        }
        let Some((path, file)) = self.find(request.uri().path()) else {
            return plain(StatusCode::NOT_FOUND, "there is no such file\n");
        };
        let accepted = text(request, header::ACCEPT_ENCODING);
        let form = file
            .forms
            .iter()
            .find(|form| accepts(accepted, form.encoding));
        let Some(form) = form else {
            return plain(StatusCode::NOT_FOUND, "there is no such file\n");
        };
        let known = text(request, header::IF_NONE_MATCH);
        let unchanged = known.split(',').any(|tag| {
            let tag = tag.trim();
            tag.strip_prefix("W/").unwrap_or(tag) == form.etag
        });
        let mut answer = Response::new(match (unchanged, request.method() == Method::HEAD) {
            (false, false) => body(form.bytes.clone()),
            _ => Body::empty(),
        });
        if unchanged {
            *answer.status_mut() = StatusCode::NOT_MODIFIED;
        }
        describe(&mut answer, path, file, form, unchanged);
        answer
    }

    fn find(&self, path: &str) -> Option<(&str, &File)> {
        // The page's own routes need none of these; what does is up to no good.
        let odd = path.contains(['%', '\\', '\0']) || path.contains("//");
        if odd || path.split('/').any(|part| part.starts_with('.')) {
            return None;
        }
        let path = path.strip_prefix('/')?;
        if let Some((path, file)) = self.files.get_key_value(path) {
            return Some((path, file));
        }
        let last = path.rsplit('/').next().unwrap_or_default();
        if last.contains('.') {
            return None;
        }
        let (path, file) = self.files.get_key_value(INDEX)?;
        Some((path, file))
    }
}

/// Reads a directory and those below it; an error of `None` means too much.
fn gather(
    root: &Path,
    dir: &Path,
    prefix: &str,
    left: &mut u64,
    found: &mut HashMap<String, Vec<u8>>,
) -> Result<(), Option<SiteError>> {
    let entries = std::fs::read_dir(dir).map_err(refused(dir))?;
    for entry in entries {
        let entry = entry.map_err(refused(dir))?;
        let path = entry.path();
        let name = entry.file_name();
        let Some(name) = name.to_str().filter(|name| !name.starts_with('.')) else {
            continue;
        };
        let real = path.canonicalize().map_err(refused(&path))?;
        if !real.starts_with(root) {
            tracing::warn!(file = %path.display(), "not served: it leads out of the web root");
            continue;
        }
        let name = format!("{prefix}{name}");
        let about = std::fs::symlink_metadata(&path).map_err(refused(&path))?;
        if about.is_dir() {
            gather(root, &path, &format!("{name}/"), left, found)?;
        } else if real.is_file() {
            let bytes = std::fs::read(&real).map_err(refused(&real))?;
            *left = left.checked_sub(bytes.len() as u64).ok_or(None)?;
            found.insert(name, bytes);
        }
    }
    Ok(())
}

fn refused(path: &Path) -> impl Fn(std::io::Error) -> SiteError {
    let path = path.to_owned();
    move |source| SiteError::Read {
        path: path.clone(),
        source,
    }
}

/// Puts `a.js.br` and `a.js.gz` beside `a.js`.
fn encodings(mut found: HashMap<String, Vec<u8>>) -> HashMap<String, File> {
    let mut names: Vec<String> = found.keys().cloned().collect();
    // A name is shorter than that of its encodings, and is dealt with before.
    names.sort_by_key(String::len);
    let mut files = HashMap::new();
    for name in names {
        let Some(bytes) = found.remove(&name) else {
            continue;
        };
        let mut forms = Vec::new();
        for (encoding, suffix) in [("br", ".br"), ("gzip", ".gz")] {
            if let Some(bytes) = found.remove(&format!("{name}{suffix}")) {
                forms.push(form(encoding, bytes));
            }
        }
        forms.push(form("", bytes));
        let content_type = content_type(&name);
        files.insert(
            name,
            File {
                content_type,
                forms,
            },
        );
    }
    files
}

fn form(encoding: &'static str, bytes: Vec<u8>) -> Form {
    Form {
        encoding,
        etag: format!("\"{}\"", hex::encode(&Sha256::digest(&bytes)[..12])),
        bytes: bytes.into(),
    }
}

fn content_type(name: &str) -> &'static str {
    match name.rsplit('.').next().unwrap_or_default() {
        "html" => "text/html; charset=utf-8",
        "js" | "mjs" => "text/javascript; charset=utf-8",
        "css" => "text/css; charset=utf-8",
        "json" | "map" => "application/json",
        "svg" => "image/svg+xml",
        "png" => "image/png",
        "jpg" | "jpeg" => "image/jpeg",
        "webp" => "image/webp",
        "ico" => "image/x-icon",
        "woff2" => "font/woff2",
        "wasm" => "application/wasm",
        "txt" | "md" => "text/plain; charset=utf-8",
        _ => "application/octet-stream",
    }
}

/// Whether an Accept-Encoding allows this encoding. What is refused by `q=0`
/// does not count as listed.
fn accepts(accepted: &str, encoding: &str) -> bool {
    encoding.is_empty()
        || accepted.split(',').any(|item| {
            let (name, weight) = item.split_once(';').unwrap_or((item, ""));
            let weight = weight.trim().strip_prefix("q=").unwrap_or("1");
            name.trim().eq_ignore_ascii_case(encoding)
                && weight
                    .trim()
                    .parse::<f32>()
                    .is_ok_and(|weight| weight > 0.0)
        })
}

fn describe(answer: &mut Response<Body>, path: &str, file: &File, form: &Form, unchanged: bool) {
    let caching = if path.starts_with(IMMUTABLE) {
        "public, max-age=31536000, immutable"
    } else {
        "no-cache"
    };
    let headers = answer.headers_mut();
    let mut put = |name, value: &str| {
        // All of them are visible ASCII.
        if let Ok(value) = HeaderValue::from_str(value) {
            headers.insert(name, value);
        }
    };
    put(header::CACHE_CONTROL, caching);
    put(header::ETAG, &form.etag);
    put(header::VARY, "accept-encoding");
    if unchanged {
        return;
    }
    put(header::CONTENT_TYPE, file.content_type);
    put(header::CONTENT_LENGTH, &form.bytes.len().to_string());
    if !form.encoding.is_empty() {
        put(header::CONTENT_ENCODING, form.encoding);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_encoding_is_taken_only_where_it_is_asked_for() {
        assert!(accepts("gzip, deflate, br, zstd", "br"));
        assert!(accepts("GZIP;q=0.5", "gzip"));
        assert!(accepts("", ""));
        assert!(!accepts("gzip;q=0, br", "gzip"));
        assert!(!accepts("", "br"));
        assert!(!accepts("brotli", "br"));
    }

    #[test]
    fn a_directory_without_a_page_is_refused() {
        let dir = tempfile::TempDir::new().unwrap();
        let error = Site::read(dir.path()).unwrap_err().to_string();
        assert!(error.contains("has no index.html"), "{error}");
        let error = Site::read(&dir.path().join("none"))
            .unwrap_err()
            .to_string();
        assert!(error.contains("cannot read"), "{error}");
    }
}
