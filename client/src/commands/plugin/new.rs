//! `lamella plugin new`.

use std::path::{Path, PathBuf};

use crate::commands::plugin::project;
use crate::errors::CliError;
use crate::output;

/// Words that Cargo or the compiler keeps for itself, or that the project uses.
const TAKEN: &[&str] = &[
    "alloc",
    "core",
    "lamella-componentize",
    "lamella-plugin-sdk",
    "proc-macro",
    "std",
    "test",
];

/// Rust's keywords, strict and reserved: The Rust Reference, "Keywords".
const KEYWORDS: &[&str] = &[
    "abstract", "as", "async", "await", "become", "box", "break", "const", "continue", "crate",
    "do", "dyn", "else", "enum", "extern", "false", "final", "fn", "for", "gen", "if", "impl",
    "in", "let", "loop", "macro", "match", "mod", "move", "mut", "override", "priv", "pub", "ref",
    "return", "self", "static", "struct", "super", "trait", "true", "try", "type", "typeof",
    "unsafe", "unsized", "use", "virtual", "where", "while", "yield",
];

/// What a project can begin as.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
enum Kind {
    /// A price rule.
    Pricing,
}

/// Write a project for a plugin in Rust: a rule, tests, the contract, a build
/// script. It stands on its own.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  lamella plugin new shop-prices
  lamella plugin new shop-prices --dir ~/plugins/shop-prices")]
pub(crate) struct Args {
    /// Its name: lower-case letters, digits and hyphens, a letter first.
    name: String,
    /// Where; must not exist, or be empty. [default: a folder of that name, here]
    #[arg(long)]
    dir: Option<PathBuf>,
    /// What it begins as.
    #[arg(long, value_enum, default_value_t = Kind::Pricing)]
    kind: Kind,
}

/// Runs the command.
///
/// # Errors
/// A usage error for a name that will not do or a folder that is not empty;
/// else when a file cannot be written.
pub(crate) fn run(args: &Args) -> Result<(), CliError> {
    let name = &args.name;
    if let Some(rule) = fault(name) {
        return Err(CliError::Argument {
            argument: "NAME",
            rule: format!("{rule}, got `{name}`"),
        });
    }
    let here = PathBuf::from(name);
    let dir = args.dir.as_ref().unwrap_or(&here);
    if !is_free(dir)? {
        return Err(CliError::Argument {
            argument: "--dir",
            rule: format!("{} is there and not an empty folder", dir.display()),
        });
    }
    let written = match args.kind {
        Kind::Pricing => project::write(dir, name)?,
    };
    output::print(&format!(
        "{written} files written to {0}; the rule is in src/lib.rs, README.md says more\n\
         next: cd {0} && cargo test && ./build\n",
        dir.display()
    ))
}

/// What a name breaks: it becomes a crate and, most likely, a plugin's id.
fn fault(name: &str) -> Option<&'static str> {
    let letters = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
    let first = name.starts_with(|c: char| c.is_ascii_lowercase());
    if !first || name.ends_with('-') || name.len() > 63 || !name.chars().all(letters) {
        Some(
            "must be 1 to 63 of lower-case letters, digits and hyphens, a letter first, no hyphen last",
        )
    } else if TAKEN.contains(&name) || KEYWORDS.contains(&name) {
        Some("must not be a word that Rust keeps for itself")
    } else {
        None
    }
}

fn is_free(dir: &Path) -> Result<bool, CliError> {
    match std::fs::read_dir(dir) {
        Ok(mut entries) => Ok(entries.next().is_none()),
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(true),
        Err(error) if error.kind() == std::io::ErrorKind::NotADirectory => Ok(false),
        Err(source) => Err(CliError::Read {
            what: dir.display().to_string(),
            source,
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_that_cargo_and_the_server_take() {
        for good in ["a", "shop-prices", "p2", "a--b"] {
            assert_eq!(fault(good), None, "{good}");
        }
        let long = "a".repeat(64);
        for bad in [
            "", "2p", "-a", "a-", "A", "a_b", "a/b", "..", "ä", "fn", "std", "test", &long,
        ] {
            assert!(fault(bad).is_some(), "{bad}");
        }
    }
}
