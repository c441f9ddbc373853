//! Cautions.

use lamella_calc::caution::{Caution, Severity};
use lamella_proto::v1;

pub(crate) fn to_pb(caution: &Caution) -> v1::Caution {
    let severity = match caution.severity {
        Severity::Info => v1::Severity::Info,
        Severity::Caution => v1::Severity::Caution,
        Severity::Warning => v1::Severity::Warning,
        Severity::Stop => v1::Severity::Stop,
    };
    v1::Caution {
        code: caution.code.as_str().to_owned(),
        severity: severity.into(),
        text: caution.text.clone(),
        basis: caution.basis.to_owned(),
    }
}

pub(crate) fn all_to_pb(cautions: &[Caution]) -> Vec<v1::Caution> {
    cautions.iter().map(to_pb).collect()
}
