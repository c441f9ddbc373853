//! A job as text: in full, and as a row of a list.

use std::fmt::Write as _;

use lamella_proto::v1;

use crate::money;
use crate::names::clean;
use crate::text::{self, View};

/// A stage in words.
pub(crate) fn stage(stage: v1::Stage) -> String {
    text::words("STAGE_", stage.as_str_name())
}

/// A job in full. The first line is what it is and where it stands.
pub(crate) fn full(job: &v1::Job, view: &View) -> String {
    let mut out = String::new();
    let head = format!("{}  {}", clean(&job.display_name), stage(job.stage()));
    let _ = writeln!(out, "{}", text::strong(&head));
    let mut line = |name: &str, value: &str| {
        if !value.is_empty() {
            let _ = writeln!(out, "{name:<9} {}", clean(value));
        }
    };
    line("job", &job.name);
    line("vehicle", &job.vehicle);
    line(
        "promised",
        &job.promise_time
            .as_ref()
            .map(|t| view.time(t))
            .unwrap_or_default(),
    );
    line(
        "customer",
        &job.customer.as_ref().map(customer).unwrap_or_default(),
    );
    for service in &job.services {
        line("service", &service_line(service));
    }
    line("arrival", &job.arrival_condition);
    line("wishes", &job.wishes);
    line(
        "approved",
        &job.approval
            .as_ref()
            .map(|a| approval(a, view))
            .unwrap_or_default(),
    );
    line(
        "deleted",
        &job.delete_time
            .as_ref()
            .map(|t| view.time(t))
            .unwrap_or_default(),
    );
    line("etag", &job.etag);
    out
}

/// A page of jobs, one to a line.
pub(crate) fn list(page: &v1::ListJobsResponse, view: &View) -> String {
    if page.jobs.is_empty() && page.next_page_token.is_empty() {
        return "no jobs\n".to_owned();
    }
    let rows: Vec<[String; 4]> = page.jobs.iter().map(|job| row(job, view)).collect();
    text::table(&rows) + &more(&page.next_page_token)
}

/// How to see the rest of a list.
pub(crate) fn more(next_page_token: &str) -> String {
    if next_page_token.is_empty() {
        String::new()
    } else {
        format!(
            "{}\n",
            text::faint(&format!("more: --all, or --page-token {next_page_token}"))
        )
    }
}

fn row(job: &v1::Job, view: &View) -> [String; 4] {
    let promised = job
        .promise_time
        .as_ref()
        .map(|time| format!("for {}", view.time(time)));
    let deleted = if job.delete_time.is_some() {
        " (deleted)"
    } else {
        ""
    };
    [
        clean(&job.name),
        format!("{}{deleted}", stage(job.stage())),
        clean(&job.display_name),
        promised.unwrap_or_default(),
    ]
}

fn customer(customer: &v1::Customer) -> String {
    let parts = [&customer.display_name, &customer.phone, &customer.email];
    let parts: Vec<&str> = parts
        .into_iter()
        .map(String::as_str)
        .filter(|p| !p.is_empty())
        .collect();
    parts.join(", ")
}

fn service_line(service: &v1::Service) -> String {
    let mut text = service.code.clone();
    if !service.panels.is_empty() {
        let _ = write!(text, " on {}", service.panels.join(", "));
    }
    if !service.description.is_empty() {
        let _ = write!(text, ": {}", service.description);
    }
    text
}

fn approval(approval: &v1::Approval, view: &View) -> String {
    let mut text = format!("by {}", approval.approved_by);
    if let Some(time) = &approval.approve_time {
        let _ = write!(text, ", {}", view.time(time));
    }
    if let Some(amount) = &approval.amount {
        let _ = write!(text, ", {}", money::shown(amount));
    }
    if !approval.quote.is_empty() {
        let _ = write!(text, ", {}", approval.quote);
    }
    if !approval.note.is_empty() {
        let _ = write!(text, ", {}", approval.note);
    }
    text
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::text::tests::{plain, view};
    use crate::units::System;

    /// A job with everything set. 1772470800 is 2 March 2026, 18:00 in Berlin.
    pub(crate) fn example() -> v1::Job {
        let at = |seconds| Some(prost_types::Timestamp { seconds, nanos: 0 });
        v1::Job {
            name: "jobs/blue-estate".to_owned(),
            display_name: "Blue estate".to_owned(),
            stage: v1::Stage::InWork.into(),
            vehicle: "vehicles/blue-estate".to_owned(),
            customer: Some(v1::Customer {
                display_name: "A. Customer".to_owned(),
                phone: "555 0100".to_owned(),
                email: String::new(),
            }),
            services: vec![v1::Service {
                code: "correct-one-step".to_owned(),
                description: String::new(),
                panels: vec!["hood".to_owned(), "roof".to_owned()],
            }],
            promise_time: at(1_772_470_800),
            wishes: "no\nwax".to_owned(),
            approval: Some(v1::Approval {
                approved_by: "A. Customer".to_owned(),
                approve_time: at(1_772_442_000),
                amount: Some(v1::Money {
                    currency_code: "EUR".to_owned(),
                    minor_units: 85_000,
                }),
                note: "by phone".to_owned(),
                quote: String::new(),
            }),
            etag: "7".to_owned(),
            ..Default::default()
        }
    }

    #[test]
    fn a_job_in_full() {
        insta::assert_snapshot!(plain(&full(&example(), &view(System::Metric))), @"
        Blue estate  in work
        job       jobs/blue-estate
        vehicle   vehicles/blue-estate
        promised  Mon 2026-03-02 18:00
        customer  A. Customer, 555 0100
        service   correct-one-step on hood, roof
        wishes    no wax
        approved  by A. Customer, Mon 2026-03-02 10:00, 850.00 EUR, by phone
        etag      7
        ");
    }

    #[test]
    fn a_list_of_jobs() {
        let page = v1::ListJobsResponse {
            jobs: vec![
                example(),
                v1::Job {
                    name: "jobs/b".to_owned(),
                    display_name: "Red van".to_owned(),
                    stage: v1::Stage::Booked.into(),
                    delete_time: Some(prost_types::Timestamp::default()),
                    ..Default::default()
                },
            ],
            next_page_token: "abc".to_owned(),
            resume_token: String::new(),
        };
        insta::assert_snapshot!(plain(&list(&page, &view(System::Metric))), @"
        jobs/blue-estate  in work           Blue estate  for Mon 2026-03-02 18:00
        jobs/b            booked (deleted)  Red van
        more: --all, or --page-token abc
        ");
    }
}
