//! Jobs.

use jiff::Timestamp;
use lamella_calc::violation::Checks;
use lamella_jobs::check::{join, quote};
use lamella_jobs::job::{Approval, Customer, Job, JobField, JobFields, Money, Service};
use lamella_jobs::stage::Stage;
use lamella_proto::v1;

use super::{names, time};

pub(crate) fn stage_to_pb(stage: Stage) -> v1::Stage {
    match stage {
        Stage::Booked => v1::Stage::Booked,
        Stage::Received => v1::Stage::Received,
        Stage::Assessed => v1::Stage::Assessed,
        Stage::Approved => v1::Stage::Approved,
        Stage::InWork => v1::Stage::InWork,
        Stage::Curing => v1::Stage::Curing,
        Stage::Ready => v1::Stage::Ready,
        Stage::HandedOver => v1::Stage::HandedOver,
        Stage::Cancelled => v1::Stage::Cancelled,
    }
}

pub(crate) fn stage_from_pb(stage: v1::Stage) -> Option<Stage> {
    match stage {
        v1::Stage::Unspecified => None,
        v1::Stage::Booked => Some(Stage::Booked),
        v1::Stage::Received => Some(Stage::Received),
        v1::Stage::Assessed => Some(Stage::Assessed),
        v1::Stage::Approved => Some(Stage::Approved),
        v1::Stage::InWork => Some(Stage::InWork),
        v1::Stage::Curing => Some(Stage::Curing),
        v1::Stage::Ready => Some(Stage::Ready),
        v1::Stage::HandedOver => Some(Stage::HandedOver),
        v1::Stage::Cancelled => Some(Stage::Cancelled),
    }
}

/// A stage as a number on the wire; 0 is none, an unknown number is noted.
pub(crate) fn optional_stage(value: i32, field: &str, checks: &mut Checks) -> Option<Stage> {
    let known = v1::Stage::try_from(value).ok();
    checks.require(known.is_some(), field, || {
        format!("{value} is not a known stage")
    });
    known.and_then(stage_from_pb)
}

/// What a person wrote about a job. Output-only fields are left aside.
pub(crate) fn fields_from_pb(job: &v1::Job, path: &str, checks: &mut Checks) -> JobFields {
    let at = |field: &str| join(path, field);
    JobFields {
        display_name: job.display_name.clone(),
        vehicle: names::optional_id(&job.vehicle, "vehicles", &at("vehicle"), checks),
        customer: job.customer.as_ref().map(|customer| Customer {
            display_name: customer.display_name.clone(),
            phone: customer.phone.clone(),
            email: customer.email.clone(),
        }),
        services: job.services.iter().map(service_from_pb).collect(),
        promise_time: time::from_pb(job.promise_time.as_ref(), &at("promise_time"), checks),
        arrival_condition: job.arrival_condition.clone(),
        wishes: job.wishes.clone(),
        approval: job
            .approval
            .as_ref()
            .map(|approval| approval_from_pb(approval, &at("approval"), checks)),
    }
}

fn service_from_pb(service: &v1::Service) -> Service {
    Service {
        code: service.code.clone(),
        description: service.description.clone(),
        panels: service.panels.clone(),
    }
}

fn approval_from_pb(approval: &v1::Approval, path: &str, checks: &mut Checks) -> Approval {
    let field = join(path, "approve_time");
    Approval {
        approved_by: approval.approved_by.clone(),
        // The beginning of 1970 stands for "now" until the ledger dates it.
        approve_time: time::from_pb(approval.approve_time.as_ref(), &field, checks)
            .unwrap_or(Timestamp::UNIX_EPOCH),
        amount: approval.amount.as_ref().map(money_from_pb),
        note: approval.note.clone(),
        quote: approval
            .quote
            .rsplit_once("/quotes/")
            .map(|(_, id)| id.to_owned()),
    }
}

pub(crate) fn money_from_pb(money: &v1::Money) -> Money {
    Money {
        currency_code: money.currency_code.clone(),
        minor_units: money.minor_units,
    }
}

/// A whole job as it is stored.
pub(crate) fn job_from_pb(job: &v1::Job, checks: &mut Checks) -> Job {
    let stage = stage_from_pb(job.stage());
    checks.require(stage.is_some(), "stage", || {
        format!("{} is not a known stage", job.stage)
    });
    Job {
        id: names::id(&job.name, "jobs", "name", checks),
        fields: fields_from_pb(job, "", checks),
        stage: stage.unwrap_or(Stage::Booked),
        create_time: time::required(job.create_time.as_ref(), "create_time", checks),
        update_time: time::required(job.update_time.as_ref(), "update_time", checks),
        delete_time: time::from_pb(job.delete_time.as_ref(), "delete_time", checks),
    }
}

pub(crate) fn job_to_pb(job: &Job, etag: &str) -> v1::Job {
    let fields = &job.fields;
    v1::Job {
        name: names::job(&job.id),
        display_name: fields.display_name.clone(),
        stage: stage_to_pb(job.stage).into(),
        vehicle: fields
            .vehicle
            .as_deref()
            .map(names::vehicle)
            .unwrap_or_default(),
        customer: fields.customer.as_ref().map(|customer| v1::Customer {
            display_name: customer.display_name.clone(),
            phone: customer.phone.clone(),
            email: customer.email.clone(),
        }),
        services: fields
            .services
            .iter()
            .map(|service| v1::Service {
                code: service.code.clone(),
                description: service.description.clone(),
                panels: service.panels.clone(),
            })
            .collect(),
        promise_time: fields.promise_time.map(time::to_pb),
        arrival_condition: fields.arrival_condition.clone(),
        wishes: fields.wishes.clone(),
        approval: fields.approval.as_ref().map(|approval| v1::Approval {
            approved_by: approval.approved_by.clone(),
            approve_time: Some(time::to_pb(approval.approve_time)),
            amount: approval.amount.as_ref().map(|amount| v1::Money {
                currency_code: amount.currency_code.clone(),
                minor_units: amount.minor_units,
            }),
            note: approval.note.clone(),
            quote: approval
                .quote
                .as_deref()
                .map(|quote| names::quote(&job.id, quote))
                .unwrap_or_default(),
        }),
        create_time: Some(time::to_pb(job.create_time)),
        update_time: Some(time::to_pb(job.update_time)),
        delete_time: job.delete_time.map(time::to_pb),
        etag: etag.to_owned(),
    }
}

/// The fields that an update writes: those of the mask, or without a mask all
/// that the request sets. An unknown path is noted beside those that exist.
pub(crate) fn mask_from_pb(
    mask: Option<&prost_types::FieldMask>,
    fields: &JobFields,
    checks: &mut Checks,
) -> Vec<JobField> {
    match mask.filter(|mask| !mask.paths.is_empty()) {
        Some(mask) => masked(&JobField::ALL, JobField::as_str, mask, checks),
        None => JobField::ALL
            .into_iter()
            .filter(|field| field.is_set_in(fields))
            .collect(),
    }
}

/// The fields of `all` that the mask names; `*` names them all.
pub(crate) fn masked<F: Copy + PartialEq>(
    all: &[F],
    name: impl Fn(F) -> &'static str,
    mask: &prost_types::FieldMask,
    checks: &mut Checks,
) -> Vec<F> {
    if mask.paths.iter().any(|path| path == "*") {
        return all.to_vec();
    }
    let mut fields = Vec::new();
    for path in &mask.paths {
        let found = all.iter().copied().find(|field| name(*field) == path);
        checks.require(found.is_some(), "update_mask", || {
            let known: Vec<&str> = all.iter().map(|field| name(*field)).collect();
            format!(
                "{} cannot be updated; these can: {}",
                quote(path),
                known.join(", ")
            )
        });
        fields.extend(found.filter(|field| !fields.contains(field)));
    }
    fields
}
