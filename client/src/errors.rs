//! Why a command did not succeed, what is printed about it, and the exit code
//! that scripts act on.

use std::error::Error as StdError;
use std::fmt::Write as _;
use std::path::PathBuf;
use std::time::Duration;

use tonic::{Code, Status};
use tonic_types::StatusExt as _;

use crate::connect::AddressError;
use crate::handover::page::TemplateError;
use crate::json::JsonError;
use crate::names::clean;
use crate::reflect::ReflectError;
use crate::times::TimeError;

/// What the exit codes mean; part of `--help`.
pub(crate) const EXIT_CODES: &str = "\
Exit codes:
  0  done
  1  the answer could not be written (disk full, folder not writable)
  2  usage: an argument, a quantity, or the JSON is wrong
  3  refused by the server, or a plugin that was tried or a check did not do
  4  not found
  5  the server cannot be reached, or did not answer in time";

/// The exit codes. They are part of the contract with scripts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Exit {
    /// Done.
    Ok = 0,
    /// The answer could not be written.
    Output = 1,
    /// What was asked makes no sense; clap uses the same code.
    Usage = 2,
    /// The server said no.
    Refused = 3,
    /// There is no such thing.
    NotFound = 4,
    /// No answer.
    Unreachable = 5,
}

/// Why a command did not succeed.
#[derive(Debug, thiserror::Error)]
pub(crate) enum CliError {
    /// The server's address is of no known form.
    #[error(transparent)]
    Address(#[from] AddressError),
    /// A time that does not exist, or lies outside the calendar.
    #[error(transparent)]
    Time(#[from] TimeError),
    /// An argument that only makes sense beside another one.
    #[error("{argument}: {rule}")]
    Argument {
        /// The argument.
        argument: &'static str,
        /// What it must be.
        rule: String,
    },
    /// The JSON cannot be turned into the request.
    #[error(transparent)]
    Json(#[from] JsonError),
    /// The service or method cannot be found out.
    #[error(transparent)]
    Reflect(#[from] ReflectError),
    /// The server answered with a status.
    #[error("{0}")]
    Refused(Box<Status>),
    /// No connection.
    #[error("cannot reach the server at {server}")]
    Unreachable {
        /// The address tried.
        server: String,
        /// Why not.
        source: tonic::transport::Error,
    },
    /// No answer in time.
    #[error("no answer from the server at {server} within {limit:?}")]
    TimedOut {
        /// The address.
        server: String,
        /// The limit.
        limit: Duration,
    },
    /// A file or folder cannot be written.
    #[error("cannot write to {}", path.display())]
    Write {
        /// Where.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
    /// A stream of files ended early, or a file is not what it was said to be.
    #[error("the export did not come whole: {what}; nothing was replaced")]
    Incomplete {
        /// Where it went wrong.
        what: String,
    },
    /// A file or standard input cannot be read.
    #[error("cannot read {what}")]
    Read {
        /// What.
        what: String,
        /// Why.
        source: std::io::Error,
    },
    /// It was done, and did not come out as it should.
    #[error("{0}")]
    CameOutBad(String),
    /// The daemon was looked at, and something failed; what it was is printed.
    #[error("failed: {}", codes.join(", "))]
    Unwell {
        /// What failed.
        codes: Vec<&'static str>,
        /// Whether it was reached at all.
        exit: Exit,
    },
    /// A template that cannot be used.
    #[error(transparent)]
    Template(#[from] TemplateError),
    /// Whoever read the output has stopped reading, as `head` does. No fault.
    #[error("the output was closed")]
    OutputClosed,
    /// Standard output failed.
    #[error("cannot write the answer")]
    Output(#[source] std::io::Error),
}

impl From<Status> for CliError {
    fn from(status: Status) -> Self {
        Self::Refused(Box::new(status))
    }
}

impl Exit {
    /// What a gRPC status means to a script.
    pub(crate) fn of_code(code: Code) -> Self {
        match code {
            Code::Ok => Self::Ok,
            Code::NotFound => Self::NotFound,
            // This client cancels no call of its own, so a cancelled one ran
            // into its deadline or into the server's shutdown.
            Code::Unavailable | Code::DeadlineExceeded | Code::Cancelled => Self::Unreachable,
            Code::Unknown
            | Code::InvalidArgument
            | Code::AlreadyExists
            | Code::PermissionDenied
            | Code::ResourceExhausted
            | Code::FailedPrecondition
            | Code::Aborted
            | Code::OutOfRange
            | Code::Unimplemented
            | Code::Internal
            | Code::DataLoss
            | Code::Unauthenticated => Self::Refused,
        }
    }
}

impl From<Exit> for std::process::ExitCode {
    fn from(exit: Exit) -> Self {
        Self::from(exit as u8)
    }
}

impl CliError {
    /// The exit code.
    pub(crate) fn exit(&self) -> Exit {
        match self {
            Self::Address(_) | Self::Time(_) | Self::Argument { .. } | Self::Json(_) => Exit::Usage,
            Self::Read { .. } | Self::Template(_) => Exit::Usage,
            Self::Reflect(error) => error.exit(),
            Self::Refused(status) => Exit::of_code(status.code()),
            Self::Unreachable { .. } | Self::TimedOut { .. } | Self::Incomplete { .. } => {
                Exit::Unreachable
            }
            Self::CameOutBad(_) => Exit::Refused,
            Self::Unwell { exit, .. } => *exit,
            Self::OutputClosed => Exit::Ok,
            Self::Write { .. } | Self::Output(_) => Exit::Output,
        }
    }

    /// What is printed: a summary line, then a line for each thing at fault,
    /// then what to do about it. Empty when there is nothing to say.
    pub(crate) fn report(&self) -> String {
        match self {
            Self::OutputClosed => String::new(),
            Self::Refused(status) => describe(status),
            Self::Reflect(ReflectError::Status(status)) => describe(status),
            Self::Unreachable { server, .. } => format!(
                "{}\n  hint: start it with `lamellad`, or name another with --server or \
                 LAMELLA_SERVER (tried {server})\n",
                chain(self)
            ),
            Self::TimedOut { .. } => {
                format!("{}\n  hint: --timeout 60s waits longer\n", chain(self))
            }
            Self::Address(_)
            | Self::Time(_)
            | Self::Argument { .. }
            | Self::Json(_)
            | Self::Reflect(_)
            | Self::Write { .. }
            | Self::Incomplete { .. }
            | Self::Read { .. }
            | Self::CameOutBad(_)
            | Self::Unwell { .. }
            | Self::Template(_)
            | Self::Output(_) => format!("{}\n", chain(self)),
        }
    }
}

/// An error and its causes in one line. A cause whose text the line already
/// ends in is not repeated.
pub(crate) fn chain(error: &dyn StdError) -> String {
    let mut line = error.to_string();
    let mut source = error.source();
    while let Some(cause) = source {
        let text = cause.to_string();
        if !line.ends_with(&text) {
            let _ = write!(line, ": {text}");
        }
        source = cause.source();
    }
    line
}

/// A status in words: code, stable reason, message, then every violation.
fn describe(status: &Status) -> String {
    let details = status.get_error_details();
    let mut text = code_name(status.code()).to_owned();
    if let Some(info) = details.error_info() {
        let _ = write!(text, " ({})", clean(&info.reason));
    }
    let fields = details
        .bad_request()
        .map(|bad| bad.field_violations.as_slice());
    let unmet = details
        .precondition_failure()
        .map(|failure| failure.violations.as_slice());
    let fields = fields
        .unwrap_or_default()
        .iter()
        .map(|f| (&f.field, &f.description, ""));
    let unmet = unmet.unwrap_or_default().iter();
    let unmet = unmet.map(|u| (&u.subject, &u.description, u.r#type.as_str()));
    let faults: Vec<(&String, &String, &str)> = fields.chain(unmet).collect();
    let _ = writeln!(text, ": {}", clean(&summary(status.message(), &faults)));
    for (subject, description, code) in faults {
        let code = if code.is_empty() {
            String::new()
        } else {
            format!(" [{code}]")
        };
        let _ = writeln!(
            text,
            "  {}",
            clean(&format!("{subject}: {description}{code}"))
        );
    }
    text
}

/// The message without what the lines below it say again.
fn summary(message: &str, faults: &[(&String, &String, &str)]) -> String {
    let plain: Vec<&str> = faults.iter().map(|(_, text, _)| text.as_str()).collect();
    let named: Vec<String> = faults
        .iter()
        .map(|(at, text, _)| format!("{at}: {text}"))
        .collect();
    let repeated = [named.join("; "), plain.join("; ")];
    let head = repeated
        .iter()
        .find_map(|tail| message.strip_suffix(tail.as_str()));
    match (
        head.unwrap_or(message).trim_end_matches([':', ' ']),
        faults.len(),
    ) {
        ("", 0) => "no reason given".to_owned(),
        ("", 1) => "this is wrong".to_owned(),
        ("", count) => format!("{count} things are wrong"),
        (head, _) => head.to_owned(),
    }
}

/// The canonical name of a code, as the gRPC documentation spells it.
fn code_name(code: Code) -> &'static str {
    match code {
        Code::Ok => "OK",
        Code::Cancelled => "CANCELLED",
        Code::Unknown => "UNKNOWN",
        Code::InvalidArgument => "INVALID_ARGUMENT",
        Code::DeadlineExceeded => "DEADLINE_EXCEEDED",
        Code::NotFound => "NOT_FOUND",
        Code::AlreadyExists => "ALREADY_EXISTS",
        Code::PermissionDenied => "PERMISSION_DENIED",
        Code::ResourceExhausted => "RESOURCE_EXHAUSTED",
        Code::FailedPrecondition => "FAILED_PRECONDITION",
        Code::Aborted => "ABORTED",
        Code::OutOfRange => "OUT_OF_RANGE",
        Code::Unimplemented => "UNIMPLEMENTED",
        Code::Internal => "INTERNAL",
        Code::Unavailable => "UNAVAILABLE",
        Code::DataLoss => "DATA_LOSS",
        Code::Unauthenticated => "UNAUTHENTICATED",
    }
}

#[cfg(test)]
mod tests {
    use std::collections::HashMap;

    use tonic_types::{ErrorDetails, FieldViolation, PreconditionViolation};

    use super::*;

    fn refused(code: Code, message: &str, details: ErrorDetails) -> CliError {
        Status::with_error_details(code, message, details).into()
    }

    #[test]
    fn field_violations_follow_the_summary_one_to_a_line() {
        let mut details = ErrorDetails::new();
        details.set_error_info("INPUT_INVALID", "lamella", HashMap::new());
        details.set_bad_request(vec![
            FieldViolation::new("stock.percent", "must be above 0 and at most 100, got 110"),
            FieldViolation::new("total_ml", "is required"),
        ]);
        let error = refused(Code::InvalidArgument, "2 fields are wrong", details);
        assert_eq!(error.exit(), Exit::Refused);
        insta::assert_snapshot!(error.report(), @r"
        INVALID_ARGUMENT (INPUT_INVALID): 2 fields are wrong
          stock.percent: must be above 0 and at most 100, got 110
          total_ml: is required
        ");
    }

    #[test]
    fn unmet_conditions_carry_subject_words_and_code() {
        let mut details = ErrorDetails::new();
        details.set_error_info("GATE_CLOSED", "lamella", HashMap::new());
        details.set_precondition_failure(vec![PreconditionViolation::new(
            "PART_OFF",
            "parts/front badge",
            "the front badge is off; it is kept in tray 3",
        )]);
        let error = refused(
            Code::FailedPrecondition,
            "stage ready must wait: the front badge is off; it is kept in tray 3",
            details,
        );
        assert_eq!(error.exit(), Exit::Refused);
        insta::assert_snapshot!(error.report(), @r"
        FAILED_PRECONDITION (GATE_CLOSED): stage ready must wait
          parts/front badge: the front badge is off; it is kept in tray 3 [PART_OFF]
        ");
    }

    #[test]
    fn a_message_that_only_repeats_its_details_is_shortened() {
        let all = [
            ("total_ml: is required", vec![("total_ml", "is required")]),
            ("a: x; b: y", vec![("a", "x"), ("b", "y")]),
            ("read it again", vec![("etag", "stale")]),
        ]
        .map(|(message, faults)| {
            let mut details = ErrorDetails::new();
            for (field, description) in faults {
                details.add_bad_request_violation(field, description);
            }
            refused(Code::InvalidArgument, message, details).report()
        });
        insta::assert_snapshot!(all.concat(), @"
        INVALID_ARGUMENT: this is wrong
          total_ml: is required
        INVALID_ARGUMENT: 2 things are wrong
          a: x
          b: y
        INVALID_ARGUMENT: read it again
          etag: stale
        ");
    }

    #[test]
    fn escape_codes_from_elsewhere_do_not_reach_the_terminal() {
        let error = CliError::from(Status::not_found("no \u{1b}[2Jjob"));
        assert_eq!(error.exit(), Exit::NotFound);
        assert_eq!(error.report(), "NOT_FOUND: no \u{fffd}[2Jjob\n");
    }

    // The codes are those of the project's own contract (issue text, `--help`);
    // the numbers of the statuses are gRPC's: grpc.io, "Status codes and their
    // use in gRPC" (from memory).
    #[test]
    fn every_status_has_the_exit_code_that_help_promises() {
        let exits: Vec<u8> = (0..=16)
            .map(|n| Exit::of_code(Code::from(n)) as u8)
            .collect();
        assert_eq!(exits, [0, 5, 3, 3, 5, 4, 3, 3, 3, 3, 3, 3, 3, 3, 5, 3, 3]);
    }

    #[test]
    fn a_closed_pipe_is_no_fault_and_says_nothing() {
        assert_eq!(CliError::OutputClosed.exit(), Exit::Ok);
        assert_eq!(CliError::OutputClosed.report(), "");
    }
}
