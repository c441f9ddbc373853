//! Why a command was not carried out. Nothing has changed when it is returned.

use lamella_calc::error::CalcError;
use lamella_calc::violation::Violations;

use crate::stage::Stage;

/// Why a command was not carried out.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Refusal {
    /// The input breaks stated ranges; every violation is named.
    #[error("{0}")]
    Invalid(Violations),
    /// Conditions that must hold first do not; every one is named.
    #[error("{what} must wait: {}", list(unmet))]
    Unmet {
        /// What was asked for, for example "stage ready".
        what: String,
        /// The conditions.
        unmet: Vec<Unmet>,
    },
    /// There is no move between these stages.
    #[error("a job that is {from} cannot become {to}; it can become {}", moves(*from))]
    NoSuchMove {
        /// Where the job stands.
        from: Stage,
        /// Where it was to go.
        to: Stage,
    },
    /// The job is over.
    #[error("the job is {stage}; only notes and photos can be added to it")]
    Closed {
        /// Which end it came to.
        stage: Stage,
    },
    /// It is deleted; undelete it first.
    #[error("{name} is deleted; undelete it first")]
    Deleted {
        /// The resource, for example `jobs/a`.
        name: String,
    },
    /// It is not deleted, so there is nothing to take back.
    #[error("{name} is not deleted")]
    NotDeleted {
        /// The resource.
        name: String,
    },
    /// A calculator could not answer.
    #[error(transparent)]
    Calc(CalcError),
}

/// One condition that does not hold.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unmet {
    /// Stable code in UPPER_SNAKE_CASE.
    pub code: &'static str,
    /// What it is about, for example `panels/hood` or `parts/front badge`.
    pub subject: String,
    /// What is missing, in words.
    pub description: String,
}

fn list(unmet: &[Unmet]) -> String {
    let all: Vec<&str> = unmet
        .iter()
        .map(|condition| condition.description.as_str())
        .collect();
    all.join("; ")
}

fn moves(from: Stage) -> String {
    let all: Vec<&str> = from.moves().map(Stage::as_str).collect();
    if all.is_empty() {
        "nothing else: the job is over".to_owned()
    } else {
        all.join(", ")
    }
}

impl From<CalcError> for Refusal {
    fn from(error: CalcError) -> Self {
        match error {
            CalcError::Invalid(violations) => Self::Invalid(violations),
            CalcError::Infeasible { .. } => Self::Calc(error),
        }
    }
}
