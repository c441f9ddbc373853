//! The page of `--web-root` over raw HTTP/1.1, and who is turned away. Caching
//! and conditional requests are those of RFC 9110 and RFC 9111, `immutable` that
//! of RFC 8246, the policy that of Content Security Policy Level 3.

use std::fs;
use std::io::{Read as _, Write as _};
use std::net::TcpStream;
use std::path::Path;

use lamella_tests::daemon::Daemon;
use lamella_tests::{wait, web};
use tempfile::TempDir;

const PAGE: &[u8] = b"<!doctype html><title>page</title>";
const SCRIPT: &[u8] = b"export const answer = 42;";
const SCRIPT_BR: &[u8] = b"as if by brotli";
const SECRET: &str = "nobody may read this";

/// An answer taken apart.
struct Answer {
    status: u16,
    headers: Vec<(String, String)>,
    body: Vec<u8>,
}

impl Answer {
    fn header(&self, name: &str) -> &str {
        let found = self.headers.iter().find(|(key, _)| key == name);
        found.map(|(_, value)| value.as_str()).unwrap_or_default()
    }
}

/// Sends a request as it is written: no library tidies the path.
fn ask(address: &str, method: &str, target: &str, headers: &[(&str, &str)]) -> Answer {
    let mut head = format!("{method} {target} HTTP/1.1\r\nConnection: close\r\n");
    if !headers.iter().any(|(name, _)| *name == "Host") {
        head.push_str(&format!("Host: {address}\r\n"));
    }
    for (name, value) in headers {
        head.push_str(&format!("{name}: {value}\r\n"));
    }
    head.push_str("\r\n");
    let mut stream = TcpStream::connect(address).unwrap();
    stream.set_read_timeout(Some(wait::PATIENCE)).unwrap();
    stream.write_all(head.as_bytes()).unwrap();
    let mut bytes = Vec::new();
    stream.read_to_end(&mut bytes).unwrap();
    let end = bytes.windows(4).position(|w| w == b"\r\n\r\n").unwrap();
    let text = String::from_utf8(bytes[..end].to_vec()).unwrap();
    let mut lines = text.split("\r\n");
    let status = lines.next().unwrap().split(' ').nth(1).unwrap();
    Answer {
        status: status.parse().unwrap(),
        headers: lines
            .filter_map(|line| line.split_once(':'))
            .map(|(name, value)| (name.to_lowercase(), value.trim().to_owned()))
            .collect(),
        body: bytes[end + 4..].to_vec(),
    }
}

/// A built page in a folder beside a secret, and a link that leads to it.
fn page() -> TempDir {
    let dir = TempDir::new().unwrap();
    let root = dir.path().join("root");
    fs::create_dir_all(root.join("assets")).unwrap();
    fs::write(dir.path().join("secret.txt"), SECRET).unwrap();
    fs::write(root.join("index.html"), PAGE).unwrap();
    fs::write(root.join("assets/app-1a2b.js"), SCRIPT).unwrap();
    fs::write(root.join("assets/app-1a2b.js.br"), SCRIPT_BR).unwrap();
    fs::write(root.join(".env"), SECRET).unwrap();
    std::os::unix::fs::symlink(dir.path().join("secret.txt"), root.join("link.txt")).unwrap();
    std::os::unix::fs::symlink(dir.path(), root.join("up")).unwrap();
    dir
}

fn serve(dir: &Path) -> Daemon {
    let root = dir.join("root");
    Daemon::builder().arg("--web-root").arg(root).start()
}

#[test]
fn the_page_its_routes_and_its_files_are_served_with_their_types() {
    let dir = page();
    let daemon = serve(dir.path());
    for route in [
        "/",
        "/index.html",
        "/jobs/blue-estate",
        "/bench/dilute?stock=91%25",
    ] {
        let answer = ask(&daemon.address, "GET", route, &[]);
        assert_eq!(
            (answer.status, answer.body.as_slice()),
            (200, PAGE),
            "{route}"
        );
        assert_eq!(answer.header("content-type"), "text/html; charset=utf-8");
        assert_eq!(answer.header("cache-control"), "no-cache");
    }
    let script = ask(&daemon.address, "GET", "/assets/app-1a2b.js", &[]);
    assert_eq!((script.status, script.body.as_slice()), (200, SCRIPT));
    assert_eq!(
        script.header("content-type"),
        "text/javascript; charset=utf-8"
    );
    assert_eq!(
        script.header("cache-control"),
        "public, max-age=31536000, immutable"
    );
    assert_eq!(
        ask(&daemon.address, "GET", "/assets/app-9.js", &[]).status,
        404
    );
}

#[test]
fn a_copy_that_is_compressed_is_sent_to_those_who_take_it() {
    let dir = page();
    let daemon = serve(dir.path());
    let get = |accept: &str| {
        let headers = [("Accept-Encoding", accept)];
        ask(&daemon.address, "GET", "/assets/app-1a2b.js", &headers)
    };
    let compressed = get("gzip, deflate, br");
    assert_eq!(compressed.header("content-encoding"), "br");
    assert_eq!(compressed.header("vary"), "accept-encoding");
    assert_eq!(compressed.body, SCRIPT_BR);
    let plain = get("gzip, br;q=0");
    assert_eq!(plain.header("content-encoding"), "");
    assert_eq!(plain.body, SCRIPT);
    assert_ne!(plain.header("etag"), compressed.header("etag"));
}

#[test]
fn what_a_browser_has_already_is_not_sent_again_and_head_has_no_body() {
    let dir = page();
    let daemon = serve(dir.path());
    let first = ask(&daemon.address, "GET", "/", &[]);
    let tags = format!("\"other\", W/{}", first.header("etag"));
    let again = ask(&daemon.address, "GET", "/", &[("If-None-Match", &tags)]);
    assert_eq!((again.status, again.body.len()), (304, 0));
    assert_eq!(again.header("etag"), first.header("etag"));
    let changed = ask(
        &daemon.address,
        "GET",
        "/",
        &[("If-None-Match", "\"other\"")],
    );
    assert_eq!(changed.status, 200);
    let head = ask(&daemon.address, "HEAD", "/", &[]);
    assert_eq!((head.status, head.body.len()), (200, 0));
    assert_eq!(head.header("content-length"), PAGE.len().to_string());
}

#[test]
fn a_browser_is_told_to_load_nothing_from_elsewhere() {
    let dir = page();
    let daemon = serve(dir.path());
    for (target, status) in [("/", 200), ("/none.js", 404)] {
        let answer = ask(&daemon.address, "GET", target, &[]);
        assert_eq!(answer.status, status);
        let policy: Vec<&str> = answer
            .header("content-security-policy")
            .split(';')
            .map(str::trim)
            .collect();
        assert_eq!(
            policy,
            [
                "default-src 'none'",
                "script-src 'self'",
                "style-src 'self'",
                "img-src 'self' data:",
                "connect-src 'self'",
                "base-uri 'none'",
                "form-action 'none'",
                "frame-ancestors 'none'",
            ]
        );
        assert_eq!(answer.header("x-content-type-options"), "nosniff");
        assert_eq!(answer.header("referrer-policy"), "no-referrer");
    }
}

#[test]
fn no_path_and_no_link_leads_out_of_the_folder() {
    let dir = page();
    let daemon = serve(dir.path());
    for target in [
        "/../secret.txt",
        "/assets/../../secret.txt",
        "/%2e%2e/secret.txt",
        "/..%2fsecret.txt",
        "/..%5csecret.txt",
        "//etc/passwd",
        "/assets/..",
        "/link.txt",
        "/up/secret.txt",
        "/.env",
        "/index.html%00.js",
    ] {
        let answer = ask(&daemon.address, "GET", target, &[]);
        assert_eq!(answer.status, 404, "{target}");
        assert!(!String::from_utf8_lossy(&answer.body).contains(SECRET));
    }
    let warned = daemon.stderr();
    assert!(warned.contains("leads out of the web root"), "{warned}");
}

#[test]
fn only_get_and_head_are_answered() {
    let dir = page();
    let daemon = serve(dir.path());
    for method in ["POST", "PUT", "DELETE", "OPTIONS"] {
        let answer = ask(&daemon.address, method, "/", &[("Content-Length", "0")]);
        assert_eq!(
            (answer.status, answer.header("allow")),
            (405, "GET, HEAD"),
            "{method}"
        );
    }
}

#[test]
fn a_foreign_name_is_turned_away_from_page_and_api() {
    let dir = page();
    let daemon = Daemon::builder()
        .arg("--web-root")
        .arg(dir.path().join("root"))
        .arg("--allowed-host")
        .arg("wall.example")
        .start();
    let port = daemon.address.rsplit_once(':').unwrap().1;
    for (host, status) in [
        ("rebound.example", 421),
        ("localhost.rebound.example", 421),
        ("localhost", 200),
        ("wall.example", 200),
        ("WALL.example.", 200),
    ] {
        let host = format!("{host}:{port}");
        let answer = ask(&daemon.address, "GET", "/", &[("Host", &host)]);
        assert_eq!(answer.status, status, "{host}");
        // The API answers a browser by the same rule.
        let api = [
            ("Host", host.as_str()),
            ("Content-Type", "application/grpc-web+proto"),
            ("Content-Length", "0"),
        ];
        let answer = ask(
            &daemon.address,
            "POST",
            "/lamella.v1.JobService/ListJobs",
            &api,
        );
        assert_eq!(
            answer.status == 421,
            status == 421,
            "{host}: {}",
            answer.status
        );
    }
}

#[test]
fn the_api_is_served_beside_the_page_and_without_one() {
    let dir = page();
    for daemon in [serve(dir.path()), Daemon::start()] {
        let answer = web::post(&daemon.address, "/lamella.v1.JobService/ListJobs", &[], &[]);
        assert_eq!(answer.grpc_status(), Some(0), "{answer:?}");
        daemon.lamella(["job", "list"]).ended_with(0);
    }
}

#[test]
fn a_folder_without_a_page_is_refused_at_start() {
    let dir = TempDir::new().unwrap();
    let refused = Daemon::builder()
        .arg("--web-root")
        .arg(dir.path())
        .try_start()
        .unwrap_err();
    assert!(!refused.status.success());
    assert!(
        refused.stderr.contains("has no index.html"),
        "{}",
        refused.stderr
    );
}
