//! What the program says of itself: manual pages and completions, as files for a
//! package, and the printing of such texts.

use std::io::{ErrorKind, Write as _};
use std::path::Path;
use std::process::ExitCode;

use anyhow::Context as _;

/// A shell that completions can be had for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum Shell {
    /// bash, with its completion package.
    Bash,
    /// zsh.
    Zsh,
    /// fish.
    Fish,
}

/// Prints a text to standard output. A reader that has seen enough is no error.
///
/// # Errors
/// When it cannot be written.
pub fn print(text: &str) -> anyhow::Result<ExitCode> {
    let mut out = std::io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() != ErrorKind::BrokenPipe => {
            Err(error).context("cannot write to standard output")
        }
        Ok(()) | Err(_) => Ok(ExitCode::SUCCESS),
    }
}

/// The completion script of `command` for a shell.
///
/// # Errors
/// When the script is not UTF-8, which no name here can bring about.
pub fn completions(mut command: clap::Command, shell: Shell) -> anyhow::Result<String> {
    let shell = match shell {
        Shell::Bash => clap_complete::Shell::Bash,
        Shell::Zsh => clap_complete::Shell::Zsh,
        Shell::Fish => clap_complete::Shell::Fish,
    };
    let name = command.get_name().to_owned();
    let mut script = Vec::new();
    clap_complete::generate(shell, &mut command, name, &mut script);
    String::from_utf8(script).context("the completion script")
}

/// Writes a manual page for `command` and for each subcommand into `dir`, which is
/// made if it is not there.
///
/// # Errors
/// When the directory or a page cannot be written.
pub fn man(command: clap::Command, dir: &Path) -> anyhow::Result<ExitCode> {
    std::fs::create_dir_all(dir)
        .and_then(|()| clap_mangen::generate_to(command, dir))
        .with_context(|| format!("cannot write the manual pages into {}", dir.display()))?;
    Ok(ExitCode::SUCCESS)
}

#[cfg(test)]
mod tests {
    use clap::ValueEnum as _;

    use super::*;
    use crate::config::Given;

    fn command() -> clap::Command {
        let daemon = <Given as clap::Args>::augment_args(clap::Command::new("lamellad"));
        daemon.subcommand(clap::Command::new("verify"))
    }

    #[test]
    fn each_script_knows_flags_and_commands() {
        for &shell in Shell::value_variants() {
            let script = completions(command(), shell).unwrap();
            for word in ["lamellad", "verify", "grace-seconds"] {
                assert!(script.contains(word), "{shell:?} lacks {word}");
            }
        }
    }

    #[test]
    fn every_command_gets_a_page() {
        let dir = tempfile::tempdir().unwrap();
        man(command(), &dir.path().join("man1")).unwrap();
        let page = |name| std::fs::read_to_string(dir.path().join("man1").join(name));
        assert!(page("lamellad.1").unwrap().contains("grace\\-seconds"));
        assert!(page("lamellad-verify.1").unwrap().contains("verify"));
    }
}
