//! `lamella man`: manual pages for every command.

use std::path::{Path, PathBuf};

use clap::CommandFactory as _;

use crate::cli::Cli;
use crate::errors::CliError;

/// Write manual pages for every command into a folder.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  lamella man ~/.local/share/man/man1")]
pub(crate) struct Args {
    /// The folder; made if it is not there.
    #[arg(value_name = "DIR")]
    dir: PathBuf,
}

/// Runs the command.
///
/// # Errors
/// [`CliError::Write`].
pub(crate) fn run(args: &Args) -> Result<(), CliError> {
    write(&args.dir).map_err(|source| CliError::Write {
        path: args.dir.clone(),
        source,
    })
}

fn write(dir: &Path) -> std::io::Result<()> {
    std::fs::create_dir_all(dir)?;
    clap_mangen::generate_to(Cli::command(), dir)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_command_gets_a_page() {
        let dir = tempfile::tempdir().unwrap();
        let pages = dir.path().join("man1");
        write(&pages).unwrap();
        for page in [
            "lamella.1",
            "lamella-job-new.1",
            "lamella-job-add-pass.1",
            "lamella-call.1",
        ] {
            let text = std::fs::read_to_string(pages.join(page)).unwrap();
            assert!(text.contains("lamella"), "{page}");
        }
        let text = std::fs::read_to_string(pages.join("lamella.1")).unwrap();
        assert!(
            text.contains("refused by the server"),
            "exit codes are in the manual"
        );
    }
}
