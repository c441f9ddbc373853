//! Variables of the environment that look like the daemon's and are not: a typing
//! error there would otherwise go unseen, as nobody can know all variables.

use std::collections::BTreeSet;

use super::unknown::nearest;

/// What all variables of this project begin with.
const PREFIX: &str = "LAMELLA_";

/// A variable that nothing reads, though one is spelt much the same.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NearMiss {
    /// The variable.
    pub name: String,
    /// The one that may have been meant.
    pub meant: String,
}

/// Those of the `names` that `command` and its subcommands do not read, but that
/// are spelt much like one they do. Others with the prefix are left alone: the
/// client has its own, and so have scripts.
#[must_use]
pub fn near_misses(
    names: impl IntoIterator<Item = String>,
    command: &clap::Command,
) -> Vec<NearMiss> {
    let known = variables(command);
    let ends = || known.iter().filter_map(|name| name.strip_prefix(PREFIX));
    let mut misses: Vec<NearMiss> = names
        .into_iter()
        .filter(|name| !known.contains(name))
        .filter_map(|name| {
            let end = name.strip_prefix(PREFIX)?.to_ascii_uppercase();
            let meant = format!("{PREFIX}{}", nearest(&end, ends())?);
            Some(NearMiss { name, meant })
        })
        .collect();
    misses.sort_by(|one, other| one.name.cmp(&other.name));
    misses
}

/// Every variable that a command or one of its subcommands reads.
fn variables(command: &clap::Command) -> BTreeSet<String> {
    let own = command
        .get_arguments()
        .filter_map(|arg| arg.get_env()?.to_str().map(ToOwned::to_owned));
    own.chain(command.get_subcommands().flat_map(variables))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::super::Given;
    use super::*;

    fn misses(names: &[&str]) -> Vec<(String, String)> {
        let command = <Given as clap::Args>::augment_args(clap::Command::new("lamellad"));
        let sub = clap::Command::new("sub").arg(clap::Arg::new("c").env("LAMELLA_CONFIG"));
        near_misses(
            names.iter().map(|name| (*name).to_owned()),
            &command.subcommand(sub),
        )
        .into_iter()
        .map(|miss| (miss.name, miss.meant))
        .collect()
    }

    #[test]
    fn typing_errors_are_told_with_what_was_meant() {
        for (name, meant) in [
            ("LAMELLA_LISTN", "LAMELLA_LISTEN"),
            ("LAMELLA_listen", "LAMELLA_LISTEN"),
            ("LAMELLA_DATADIR", "LAMELLA_DATA_DIR"),
            ("LAMELLA_ALLOWED_HOST", "LAMELLA_ALLOWED_HOSTS"),
            ("LAMELLA_GRACE_SECOND", "LAMELLA_GRACE_SECONDS"),
            ("LAMELLA_LOGS", "LAMELLA_LOG"),
            ("LAMELLA_CONFIGS", "LAMELLA_CONFIG"),
        ] {
            assert_eq!(misses(&[name]), [(name.to_owned(), meant.to_owned())]);
        }
    }

    #[test]
    fn what_is_known_or_somebody_elses_is_left_alone() {
        let others = [
            "LAMELLA_LISTEN",
            "LAMELLA_CONFIG",
            "LAMELLA_SERVER",
            "LAMELLA_UNITS",
            "LAMELLA_BIN_DIR",
            "LAMELLA_BROWSER",
            "LAMELLA_EXPORT_DIR",
            "LAMELLA_EXPORT_FORMATS",
            "LAMELLA_EXTRA_SCREENSHOTS",
            "LAMELLA_PLUGIN_CACHE",
            "LAMELLA_RUN_SKIPS",
            "LAMELLA_TEST_PYTHON",
            "LAMELLA_TEST_SEED",
            "LAMELLA_WASM_TOOLCHAIN",
            "LISTN",
        ];
        assert_eq!(misses(&others), []);
    }
}
