//! The page as PDF, printed by a Chromium that is on the machine: what lays out the
//! page on a screen lays it out on paper too. There is none in this program.

use std::path::{Path, PathBuf};
use std::process::Stdio;
use std::time::Duration;

use crate::errors::CliError;

/// Names under which it is looked for.
const NAMES: [&str; 3] = ["chromium", "chromium-browser", "chromium-headless-shell"];
/// The argument that names another.
const BROWSER: &str = "--browser";

/// Prints a page.
///
/// # Errors
/// When no browser is found, it fails, or it takes longer than `limit`.
pub(crate) async fn print(
    html: &str,
    browser: Option<&Path>,
    limit: Duration,
) -> Result<Vec<u8>, CliError> {
    let browser = match browser {
        Some(browser) => browser.to_owned(),
        None => find().ok_or_else(|| CliError::Argument {
            argument: BROWSER,
            rule: format!(
                "PDF is printed by Chromium, and none of {} is on the PATH; install it, name it \
                 with --browser or LAMELLA_BROWSER, or make FILE.html and print that",
                NAMES.join(", ")
            ),
        })?,
    };
    let dir = tempfile::tempdir().map_err(|source| CliError::Write {
        path: std::env::temp_dir(),
        source,
    })?;
    let (page, pdf) = (dir.path().join("sheet.html"), dir.path().join("sheet.pdf"));
    std::fs::write(&page, html).map_err(|source| CliError::Write {
        path: page.clone(),
        source,
    })?;
    let mut command = tokio::process::Command::new(&browser);
    command
        .args(["--headless", "--disable-gpu", "--no-pdf-header-footer"])
        .args([
            "--no-first-run",
            "--disable-extensions",
            "--disable-background-networking",
        ])
        // The page needs nothing from elsewhere; a shop's own template gets nothing.
        .arg("--host-resolver-rules=MAP * ~NOTFOUND")
        .arg(format!(
            "--user-data-dir={}",
            dir.path().join("profile").display()
        ))
        .arg(format!("--print-to-pdf={}", pdf.display()));
    // It refuses to work for root with its sandbox on.
    if rustix::process::geteuid().is_root() {
        command.arg("--no-sandbox");
    }
    command
        .arg(&page)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .kill_on_drop(true);
    let failed = |rule: String| CliError::Argument {
        argument: BROWSER,
        rule: format!("{} {rule}", browser.display()),
    };
    let child = command
        .spawn()
        .map_err(|error| failed(format!("cannot be started: {error}")))?;
    let ended = tokio::time::timeout(limit, child.wait_with_output())
        .await
        .map_err(|_| {
            failed(format!(
                "did not print within {limit:?}; --timeout waits longer"
            ))
        })?
        .map_err(|error| failed(format!("failed: {error}")))?;
    match std::fs::read(&pdf) {
        Ok(bytes) if ended.status.success() => Ok(bytes),
        Ok(_) | Err(_) => {
            let said = String::from_utf8_lossy(&ended.stderr);
            let last = said.lines().last().unwrap_or("it said nothing");
            Err(failed(format!(
                "printed nothing ({}): {last}",
                ended.status
            )))
        }
    }
}

fn find() -> Option<PathBuf> {
    let path = std::env::var_os("PATH")?;
    let dirs: Vec<PathBuf> = std::env::split_paths(&path).collect();
    NAMES
        .iter()
        .flat_map(|name| dirs.iter().map(move |dir| dir.join(name)))
        .find(|file| file.is_file())
}
