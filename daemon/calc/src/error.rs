//! Why a calculator gives no answer.

use crate::violation::Violations;

/// Why a calculator gives no answer.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CalcError {
    /// The input breaks stated ranges; every violation is named.
    #[error("{0}")]
    Invalid(Violations),
    /// The input is sound, but there is no answer to it.
    #[error("{field}: {message}")]
    Infeasible {
        /// Stable reason in UPPER_SNAKE_CASE.
        reason: &'static str,
        /// The input to change first.
        field: String,
        /// What stands in the way, with values.
        message: String,
    },
}
