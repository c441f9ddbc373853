//! `lamella doctor`: whether the daemon does what it should, and what to do where
//! it does not.

use std::time::Duration;

use crate::doctor::{self, Level, Limits, ask, report};
use crate::errors::{CliError, Exit};
use crate::output::{self, Format};
use crate::session::Session;
use crate::units::{DurationS, SizeBytes};

/// Check whether the daemon is well, and say what to do where it is not.
///
/// Looks at the way there, the versions, the clocks, the disk, the journal, the
/// projection, plugins, the outbox and the shop's settings. Each finding is ok, a
/// note, a warning or a failure. The exit code is 0 unless something failed, 3
/// where something did, and 5 where the daemon cannot be reached.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  lamella doctor
  lamella doctor --min-free 20GB --max-skew 2s
  lamella doctor --output json | jq '.findings[] | select(.level != \"ok\")'")]
pub(crate) struct Args {
    /// Warn when the disk of the data directory has less than this free, for
    /// example 500MB or 2GiB; a tenth of it is a failure.
    #[arg(long, value_name = "SIZE", default_value = "1GB")]
    min_free: SizeBytes,
    /// Warn when the clocks of both ends differ by more than this, for example 2s;
    /// thirty times as much is a failure.
    #[arg(long, value_name = "TIME", default_value = "10s")]
    max_skew: DurationS,
}

/// Runs the command.
///
/// # Errors
/// [`CliError::Unwell`] when something failed, after all of it was printed.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    let limits = args.limits()?;
    let seen = Box::pin(ask::look(session)).await;
    let findings = doctor::judge(&seen, &limits);
    output::print(&match session.format {
        Format::Text => report::as_text(&findings),
        Format::Json => report::as_json(&seen, &findings)?,
    })?;
    let failed = findings.iter().filter(|f| f.level == Level::Fail);
    let codes: Vec<&'static str> = failed.map(|finding| finding.code).collect();
    if codes.is_empty() {
        return Ok(());
    }
    Err(CliError::Unwell {
        codes,
        exit: match seen.server_seen {
            Ok(_) => Exit::Refused,
            Err(_) => Exit::Unreachable,
        },
    })
}

impl Args {
    fn limits(&self) -> Result<Limits, CliError> {
        let refused = |argument, rule: &str| CliError::Argument {
            argument,
            rule: rule.to_owned(),
        };
        if self.min_free.0 < 0.0 {
            return Err(refused("--min-free", "must not be negative"));
        }
        let max_skew = Duration::try_from_secs_f64(self.max_skew.0)
            .map_err(|_| refused("--max-skew", "must not be negative, nor beyond any clock"))?;
        Ok(Limits {
            min_free_bytes: self.min_free.0,
            max_skew,
        })
    }
}
