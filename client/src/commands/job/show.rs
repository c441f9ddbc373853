//! `lamella job show`: the job, what was recorded, and what it waits for.

use std::fmt::Write as _;

use lamella_proto::v1;
use tonic_types::StatusExt as _;

use crate::commands::job::records;
use crate::errors::CliError;
use crate::names::{JobName, clean};
use crate::output::Format;
use crate::render;
use crate::session::Session;
use crate::text::{self, View};

/// Show a job: where it stands, what it waits for, what was recorded.
///
/// With --output json it prints the job alone; `job records` has the records.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  lamella job show blue-estate")]
pub(crate) struct Args {
    /// The job: jobs/ID, or its ID.
    job: JobName,
}

/// Runs the command.
///
/// # Errors
/// The server's.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    let mut jobs = session.jobs().await?;
    let name = args.job.0;
    let request = session.request(v1::GetJobRequest { name: name.clone() });
    let job = session.answer(jobs.get_job(request)).await?;
    let (records, unmet) = match session.format {
        Format::Json => (Vec::new(), Vec::new()),
        Format::Text => {
            let records = records::all(&mut jobs, session, &name).await?;
            let question = session.request(v1::AdvanceStageRequest {
                name,
                validate_only: true,
                ..Default::default()
            });
            let unmet = jobs
                .advance_stage(question)
                .await
                .err()
                .as_ref()
                .map(unmet)
                .unwrap_or_default();
            (records, unmet)
        }
    };
    session.show(&job, |job, view| render_with(job, &records, &unmet, view))
}

/// What the next stage's gate says is missing, less what [`render::open`] reads
/// off the job and its records in better words.
fn unmet(status: &tonic::Status) -> Vec<String> {
    const SEEN: [&str; 6] = [
        "VEHICLE_MISSING",
        "SERVICES_MISSING",
        "APPROVAL_MISSING",
        "PART_OFF",
        "CURE_WINDOW_OPEN",
        "NOTHING_TO_CURE",
    ];
    let details = status.get_details_precondition_failure();
    let conditions = details
        .map(|details| details.violations)
        .unwrap_or_default();
    conditions
        .into_iter()
        .filter(|condition| !SEEN.contains(&condition.r#type.as_str()))
        .map(|condition| condition.description)
        .collect()
}

fn render_with(job: &v1::Job, records: &[v1::Record], unmet: &[String], view: &View) -> String {
    let mut out = render::job::full(job, view);
    let mut open = render::open::points(job, records, view);
    open.extend_from_slice(unmet);
    if !open.is_empty() {
        let _ = writeln!(out, "\n{}", text::strong("waits for"));
        for point in open {
            let _ = writeln!(out, "  {}", clean(&point));
        }
    }
    if !records.is_empty() {
        let page = v1::ListRecordsResponse {
            records: records.to_vec(),
            ..Default::default()
        };
        let _ = write!(out, "\nrecords\n{}", render::record::list(&page, view));
    }
    let cautions: Vec<v1::Caution> = latest_cautions(records);
    out + &text::cautions(&cautions)
}

/// Each caution once, as the latest record that carries it has it.
fn latest_cautions(records: &[v1::Record]) -> Vec<v1::Caution> {
    let mut latest: Vec<v1::Caution> = Vec::new();
    for caution in records.iter().rev().flat_map(|record| &record.cautions) {
        if latest.iter().all(|seen| seen.code != caution.code) {
            latest.push(caution.clone());
        }
    }
    latest
}

#[cfg(test)]
mod tests {
    use lamella_proto::v1::record::Entry;

    use super::*;
    use crate::text::tests::{caution, plain, view};
    use crate::units::System;

    #[test]
    fn a_job_with_its_records() {
        let record = |text: &str| v1::Record {
            entry: Some(Entry::Note(v1::Note {
                text: text.to_owned(),
                panel: String::new(),
            })),
            record_time: Some(prost_types::Timestamp {
                seconds: 1_772_442_000,
                nanos: 0,
            }),
            cautions: vec![caution(v1::Severity::Caution, "CHIP", text)],
            ..Default::default()
        };
        let records = [record("first"), record("second")];
        let text = render_with(
            &render::job::tests::example(),
            &records,
            &["panel `hood` has no gauge readings".to_owned()],
            &view(System::Metric),
        );
        insta::assert_snapshot!(plain(&text), @"
        Blue estate  in work
        job       jobs/blue-estate
        vehicle   vehicles/blue-estate
        promised  Mon 2026-03-02 18:00
        customer  A. Customer, 555 0100
        service   correct-one-step on hood, roof
        wishes    no wax
        approved  by A. Customer, Mon 2026-03-02 10:00, 850.00 EUR, by phone
        etag      7

        waits for
          next: curing or ready
          panel `hood` has no gauge readings

        records
        Mon 2026-03-02 10:00  note     first
        Mon 2026-03-02 10:00  note     second

        CAUTION  second
                 [CHIP] common practice, no source
        ");
    }
}
