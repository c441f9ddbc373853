//! `lamella completions`: completion scripts for shells.

use clap::CommandFactory as _;

use crate::cli::Cli;
use crate::errors::CliError;
use crate::output;

/// Print a completion script for a shell.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  lamella completions bash > ~/.local/share/bash-completion/completions/lamella
  lamella completions zsh > ~/.zfunc/_lamella
  lamella completions fish > ~/.config/fish/completions/lamella.fish")]
pub(crate) struct Args {
    /// Which shell.
    #[arg(value_enum)]
    shell: Shell,
}

#[derive(Debug, Clone, Copy, clap::ValueEnum)]
enum Shell {
    Bash,
    Zsh,
    Fish,
}

/// Runs the command.
///
/// # Errors
/// When the script cannot be written.
pub(crate) fn run(args: &Args) -> Result<(), CliError> {
    output::print_bytes(&script(args.shell))
}

fn script(shell: Shell) -> Vec<u8> {
    let shell = match shell {
        Shell::Bash => clap_complete::Shell::Bash,
        Shell::Zsh => clap_complete::Shell::Zsh,
        Shell::Fish => clap_complete::Shell::Fish,
    };
    let mut script = Vec::new();
    clap_complete::generate(shell, &mut Cli::command(), "lamella", &mut script);
    script
}

#[cfg(test)]
mod tests {
    use clap::ValueEnum as _;

    use super::*;

    #[test]
    fn each_script_knows_the_commands() {
        for &shell in Shell::value_variants() {
            let script = String::from_utf8(script(shell)).unwrap();
            for word in ["dilute", "undelete", "--request-id"] {
                let word = word.trim_start_matches("--");
                assert!(script.contains(word), "{shell:?} lacks {word}");
            }
        }
    }
}
