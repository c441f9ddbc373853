//! The demo prints the commands that a person would have typed. Typed for real
//! against a fresh daemon, they do what the demo says.

use std::process::Stdio;

use lamella_tests::binaries;
use lamella_tests::cli;
use lamella_tests::daemon::Daemon;

/// The commands that the demo prints, in order.
fn printed_commands(story: &str) -> Vec<String> {
    let prompt = "   $ lamella ";
    story
        .lines()
        .filter_map(|line| line.strip_prefix(prompt))
        .map(str::to_owned)
        .collect()
}

/// Types a command into a shell, as it was printed.
fn typed(server: &str, command: &str) -> (Option<i32>, String) {
    let mut shell = cli::clean(std::path::Path::new("/bin/sh"));
    let program = binaries::lamella();
    shell.args(["-c", &format!("'{}' {command}", program.display())]);
    shell.env("LAMELLA_SERVER", server).stdin(Stdio::null());
    // Where the files lie that it names.
    shell.current_dir(binaries::repository());
    let output = shell.output().expect("a shell runs");
    (
        output.status.code(),
        String::from_utf8_lossy(&output.stderr).into_owned(),
    )
}

#[test]
fn the_commands_that_the_demo_prints_work_as_printed() {
    let story = cli::lamellad(["demo"]).ended_with(0).stdout;
    let commands = printed_commands(&story);
    assert!(
        commands.len() >= 30,
        "the demo prints few commands:\n{story}"
    );
    let daemon = Daemon::start();
    let mut refused = Vec::new();
    for command in &commands {
        match typed(&daemon.address, command) {
            (Some(0), _) => {}
            (Some(3), _) => refused.push(command.as_str()),
            (code, stderr) => panic!("`lamella {command}` ended with {code:?}: {stderr}"),
        }
    }
    // What the demo shows as refused is refused here as well. Its clock is set
    // forward so that the coating dries; ours is not, so the last moves wait.
    let expected = story.matches("   refused:").count() + 2;
    assert_eq!(refused, vec!["job move blue-estate"; expected], "{story}");
    let shown = daemon.lamella(["job", "show", "blue-estate"]).ended_with(0);
    assert!(shown.stdout.contains("curing"), "{shown}");
}
