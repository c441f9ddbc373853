//! Why an export was not made.

use lamella_export::error::ExportError;

use crate::ledger::LedgerError;

/// Why an export was not made.
#[derive(Debug, thiserror::Error)]
pub(crate) enum ExportFailed {
    /// What happened cannot be read.
    #[error(transparent)]
    Ledger(#[from] LedgerError),
    /// A row does not fit, the books do not balance, or nobody takes the bytes.
    #[error(transparent)]
    Export(#[from] ExportError),
}
