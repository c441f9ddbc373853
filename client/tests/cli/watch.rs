//! `lamella job watch`: nothing missed, nothing twice, and a clean end.

use std::io::{BufRead as _, BufReader};
use std::process::{Child, Command, Stdio};

use crate::{fake, lamella, ok};

#[test]
fn a_watch_goes_on_where_it_broke_off() {
    let fake = fake::on_tcp();
    let text = ok(
        &fake,
        &[
            "job",
            "watch",
            "--from",
            "0",
            "--no-follow",
            "--output",
            "json",
        ],
    );
    let sequences: Vec<String> = text
        .lines()
        .map(|line| serde_json::from_str::<serde_json::Value>(line).unwrap())
        .map(|message| message["resumeToken"].as_str().unwrap().to_owned())
        .collect();
    assert_eq!(sequences, ["1", "2", "2"]);
    assert_eq!(fake.seen.lock().unwrap().watched, ["0", "1"]);
}

/// Ends the child however the test ends.
struct Guard(Child);

impl Drop for Guard {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

#[test]
fn an_interrupted_watch_ends_well() {
    let fake = fake::on_tcp();
    let mut command = lamella(&fake.address, &["job", "watch", "--from", "1"]);
    let mut watch = Guard(
        command
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap(),
    );
    let mut lines = BufReader::new(watch.0.stdout.take().unwrap()).lines();
    let line = lines.next().unwrap().unwrap();
    assert!(
        line.contains("jobs/a") && line.contains("created"),
        "{line}"
    );
    let pid = watch.0.id().to_string();
    assert!(
        Command::new("kill")
            .args(["-INT", &pid])
            .status()
            .unwrap()
            .success()
    );
    assert_eq!(watch.0.wait().unwrap().code(), Some(0));
}
