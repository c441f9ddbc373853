//! From refusals to gRPC: canonical codes with `google.rpc` details, and a
//! stable reason for each.

use lamella_calc::error::CalcError;
use lamella_calc::violation::Violations;
use lamella_export::error::ExportError;
use lamella_jobs::refusal::{Refusal, Unmet};
use lamella_plugin_host::PluginError;
use lamella_store::{StoreError, WatchError};
use tonic::{Code, Status};
use tonic_types::{ErrorDetails, StatusExt as _};

use crate::export::ExportFailed;
use crate::ledger::LedgerError;
use crate::photos::PhotoError;
use crate::plugins::PluginsError;

/// Domain of every `google.rpc.ErrorInfo`.
pub const ERROR_DOMAIN: &str = "lamella";

/// A refusal of input: INVALID_ARGUMENT with one field violation for each.
pub(crate) fn invalid(violations: &Violations) -> Status {
    let mut details = info("INPUT_INVALID");
    for violation in violations.iter() {
        details.add_bad_request_violation(&violation.field, &violation.message);
    }
    Status::with_error_details(Code::InvalidArgument, violations.to_string(), details)
}

/// A calculator's refusal.
pub(crate) fn calc(error: &CalcError) -> Status {
    match error {
        CalcError::Invalid(violations) => invalid(violations),
        CalcError::Infeasible {
            reason,
            field,
            message,
        } => {
            let mut details = info(reason);
            details.add_precondition_failure_violation(*reason, field, message);
            Status::with_error_details(Code::FailedPrecondition, error.to_string(), details)
        }
    }
}

/// The ledger's refusal. What a person cannot mend is logged here, and said in
/// general terms to the caller.
pub(crate) fn ledger(error: &LedgerError) -> Status {
    match error {
        LedgerError::Refused(refusal) => refused(refusal),
        LedgerError::NotFound { name } => {
            with_resource(Code::NotFound, "RESOURCE_NOT_FOUND", name, error)
        }
        LedgerError::Exists { name } => {
            with_resource(Code::AlreadyExists, "RESOURCE_EXISTS", name, error)
        }
        LedgerError::EtagStale { name, .. } => {
            with_resource(Code::Aborted, "ETAG_STALE", name, error)
        }
        LedgerError::JobChanged { name } => {
            with_resource(Code::Aborted, "JOB_CHANGED", name, error)
        }
        LedgerError::RequestReused { .. } => {
            let mut details = info("REQUEST_ID_REUSED");
            details.add_bad_request_violation("request_id", error.to_string());
            Status::with_error_details(Code::AlreadyExists, error.to_string(), details)
        }
        LedgerError::PageToken => {
            let mut details = info("PAGE_TOKEN_UNKNOWN");
            details.add_bad_request_violation("page_token", error.to_string());
            Status::with_error_details(Code::InvalidArgument, error.to_string(), details)
        }
        LedgerError::Watch(watch_error) => watch(watch_error),
        LedgerError::Store(store_error) => store(store_error),
        LedgerError::Unreadable { .. } => internal("STORED_DATA_UNREADABLE", error),
    }
}

/// Why a photo's file was not taken or cannot be given.
pub(crate) fn photo(error: &PhotoError) -> Status {
    let at = |reason: &str, field: &str| {
        let mut details = info(reason);
        details.add_bad_request_violation(field, error.to_string());
        Status::with_error_details(Code::InvalidArgument, error.to_string(), details)
    };
    match error {
        PhotoError::TooLarge { .. } => at("PHOTO_TOO_LARGE", "chunk"),
        PhotoError::HashDiffers { .. } => at("PHOTO_HASH_DIFFERS", "header.sha256"),
        PhotoError::UnknownType => at("PHOTO_TYPE_UNKNOWN", "chunk"),
        PhotoError::Broken { .. } => at("PHOTO_BROKEN", "chunk"),
        PhotoError::Lost { .. } => {
            tracing::error!(%error, "a photo's file is lost");
            Status::with_error_details(Code::DataLoss, error.to_string(), info("PHOTO_FILE_LOST"))
        }
        PhotoError::Io { .. } => internal("PHOTO_STORE_FAILED", error),
    }
}

/// Why a watch ended or could not begin.
pub(crate) fn watch(error: &WatchError) -> Status {
    let reason = match error {
        WatchError::Ahead { .. } => "RESUME_TOKEN_AHEAD",
        WatchError::TooOld { .. } => "RESUME_TOKEN_TOO_OLD",
        WatchError::Replay(_) => return internal("JOURNAL_UNREADABLE", error),
    };
    let mut details = info(reason);
    details.add_bad_request_violation("resume_token", error.to_string());
    Status::with_error_details(Code::OutOfRange, error.to_string(), details)
}

/// Why an export ended early.
pub(crate) fn export(error: &ExportFailed) -> Status {
    let error = match error {
        ExportFailed::Ledger(error) => return ledger(error),
        ExportFailed::Export(error) => error,
    };
    match error {
        ExportError::Unbalanced { what, .. } | ExportError::Currencies { what, .. } => {
            let mut details = info("JOURNAL_UNBALANCED");
            let said = error.to_string();
            details.add_precondition_failure_violation("JOURNAL_UNBALANCED", what, &said);
            Status::with_error_details(Code::FailedPrecondition, said, details)
        }
        ExportError::RowLength { .. }
        | ExportError::CellKind { .. }
        | ExportError::DecimalRange { .. }
        | ExportError::DaysReversed { .. }
        | ExportError::TooManyDays { .. }
        | ExportError::DayRange { .. }
        | ExportError::Io(_)
        | ExportError::Parquet(_) => internal("EXPORT_FAILED", error),
    }
}

fn refused(refusal: &Refusal) -> Status {
    let code = Code::FailedPrecondition;
    match refusal {
        Refusal::Invalid(violations) => invalid(violations),
        Refusal::Calc(error) => calc(error),
        Refusal::Unmet { unmet, .. } => preconditions("CONDITIONS_UNMET", unmet, refusal),
        Refusal::NoSuchMove { .. } => {
            let mut details = info("STAGE_MOVE_UNKNOWN");
            details.add_bad_request_violation("to_stage", refusal.to_string());
            Status::with_error_details(code, refusal.to_string(), details)
        }
        Refusal::Closed { .. } => {
            Status::with_error_details(code, refusal.to_string(), info("JOB_CLOSED"))
        }
        Refusal::Deleted { name } => with_resource(code, "RESOURCE_DELETED", name, refusal),
        Refusal::NotDeleted { name } => with_resource(code, "RESOURCE_NOT_DELETED", name, refusal),
    }
}

fn preconditions(reason: &str, unmet: &[Unmet], refusal: &Refusal) -> Status {
    let mut details = info(reason);
    for condition in unmet {
        details.add_precondition_failure_violation(
            condition.code,
            &condition.subject,
            &condition.description,
        );
    }
    Status::with_error_details(Code::FailedPrecondition, refusal.to_string(), details)
}

fn store(error: &StoreError) -> Status {
    match error {
        StoreError::Failed { .. } => {
            tracing::error!(error = %chain(error), "the store is read-only");
            Status::with_error_details(
                Code::Unavailable,
                error.to_string(),
                info("STORE_READ_ONLY"),
            )
        }
        StoreError::Closed => {
            let message = "the daemon is stopping";
            Status::with_error_details(Code::Unavailable, message, info("DAEMON_STOPPING"))
        }
        StoreError::PayloadTooLarge { .. } => Status::with_error_details(
            Code::InvalidArgument,
            error.to_string(),
            info("ENTRY_TOO_LARGE"),
        ),
        StoreError::Io { .. }
        | StoreError::Locked { .. }
        | StoreError::Damaged { .. }
        | StoreError::JournalMissing { .. }
        | StoreError::Project { .. }
        | StoreError::Projection { .. }
        | StoreError::NoBase { .. }
        | StoreError::UnknownFormat { .. }
        | StoreError::CommandPanicked { .. } => internal("STORE_FAILED", error),
    }
}

fn with_resource(code: Code, reason: &str, name: &str, error: &dyn std::error::Error) -> Status {
    let mut details = info(reason);
    let kind = if name.starts_with("vehicles/") {
        "Vehicle"
    } else if name.starts_with("plugins/") {
        "Plugin"
    } else if name.contains("/quotes/") {
        "Quote"
    } else if name.contains("/photos/") {
        "Photo"
    } else {
        "Job"
    };
    details.set_resource_info(kind, name, "", error.to_string());
    Status::with_error_details(code, error.to_string(), details)
}

fn internal(reason: &str, error: &dyn std::error::Error) -> Status {
    tracing::error!(reason, error = %chain(error), "a call failed inside the daemon");
    let message = "the daemon failed; its log says why";
    Status::with_error_details(Code::Internal, message, info(reason))
}

fn info(reason: &str) -> ErrorDetails {
    let mut details = ErrorDetails::new();
    details.set_error_info(reason, ERROR_DOMAIN, std::collections::HashMap::new());
    details
}

/// The error and all its causes, joined by colons.
pub(crate) fn chain(error: &dyn std::error::Error) -> String {
    let mut text = error.to_string();
    let mut cause = error.source();
    while let Some(error) = cause {
        text.push_str(": ");
        text.push_str(&error.to_string());
        cause = error.source();
    }
    text
}

/// Why there is no plugin, or no answer from one.
pub(crate) fn plugins(error: &PluginsError) -> Status {
    let code = match error {
        PluginsError::Ledger(error) => return ledger(error),
        PluginsError::Files { .. } | PluginsError::Lost(_) => {
            return internal(error.reason(), error);
        }
        PluginsError::Host(error) => host_code(error),
        PluginsError::NoneEnabled
        | PluginsError::Ambiguous { .. }
        | PluginsError::NotServing { .. }
        | PluginsError::NotPricing { .. }
        | PluginsError::NotKept { .. } => Code::FailedPrecondition,
        PluginsError::UploadTooLarge { .. } => Code::InvalidArgument,
    };
    Status::with_error_details(code, error.to_string(), info(error.reason()))
}

/// INVALID_ARGUMENT for bytes that are no plugin, RESOURCE_EXHAUSTED where a later
/// try may do, FAILED_PRECONDITION for what a plugin did wrong.
fn host_code(error: &PluginError) -> Code {
    match error {
        PluginError::ComponentTooLarge { .. }
        | PluginError::HashMismatch { .. }
        | PluginError::NotAComponent { .. }
        | PluginError::ResourceLimit { .. }
        | PluginError::WrongWorld { .. }
        | PluginError::WrongVersion { .. }
        | PluginError::ImportNotOffered { .. }
        | PluginError::BadDescription { .. } => Code::InvalidArgument,
        PluginError::HostBusy { .. } => Code::ResourceExhausted,
        PluginError::BadConfig { .. }
        | PluginError::EngineUnavailable { .. }
        | PluginError::CacheUnavailable { .. } => Code::Internal,
        PluginError::FuelExhausted { .. }
        | PluginError::DeadlineExceeded { .. }
        | PluginError::MemoryLimit { .. }
        | PluginError::TableLimit { .. }
        | PluginError::StackOverflow { .. }
        | PluginError::OutputTooLarge { .. }
        | PluginError::InvalidUtf8 { .. }
        | PluginError::Trapped { .. }
        | PluginError::Refused { .. }
        | PluginError::QuoteDoesNotAddUp { .. }
        | PluginError::ProductsNotValid { .. } => Code::FailedPrecondition,
    }
}
