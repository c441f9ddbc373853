//! Bookings, imports and the outbox as text.

use std::fmt::Write as _;

use lamella_proto::v1::{self, imported_event::Result as Became};

use crate::names::clean;
use crate::text::{self, View};

/// What a version of a booking did.
pub(crate) fn upserted(answer: &v1::UpsertBookingResponse, view: &View) -> String {
    let booking = answer.booking.clone().unwrap_or_default();
    format!("{}\n{}", outcome(answer.outcome()), full(&booking, view))
}

/// A booking in full.
pub(crate) fn full(booking: &v1::Booking, view: &View) -> String {
    let mut out = format!("{}\n", text::strong(&clean(&booking.display_name)));
    let mut line = |name: &str, value: String| {
        if !value.is_empty() {
            let _ = writeln!(out, "{name:<9} {}", clean(&value));
        }
    };
    let time = |time: &Option<prost_types::Timestamp>| {
        time.as_ref()
            .map(|time| view.time(time))
            .unwrap_or_default()
    };
    let revision = booking.revision.unwrap_or_default();
    line("booking", booking.name.clone());
    line(
        "source",
        format!("{} {}", booking.source, booking.external_id),
    );
    line(
        "revision",
        format!("{} of {}", revision.sequence, time(&revision.time)),
    );
    if booking.cancelled {
        line("state", "cancelled".to_owned());
    }
    line("job", booking.job.clone());
    line("vehicle", booking.vehicle.clone());
    line("arrives", time(&booking.arrival_time));
    line("promise", time(&booking.promise_time));
    let customer = booking.customer.clone().unwrap_or_default();
    let contact = [customer.display_name, customer.phone, customer.email];
    line("customer", contact.join(" ").trim().to_owned());
    let codes: Vec<&str> = booking.services.iter().map(|s| s.code.as_str()).collect();
    line("services", codes.join(", "));
    line("wishes", booking.wishes.clone());
    line("kept", booking.kept_fields.join(", "));
    out
}

/// A page of bookings, one to a line.
pub(crate) fn list(page: &v1::ListBookingsResponse, view: &View) -> String {
    if page.bookings.is_empty() && page.next_page_token.is_empty() {
        return "no bookings\n".to_owned();
    }
    let rows: Vec<[String; 5]> = page
        .bookings
        .iter()
        .map(|booking| {
            let state = if booking.cancelled {
                " (cancelled)"
            } else {
                ""
            };
            let arrives = booking.arrival_time.as_ref();
            [
                clean(&booking.source),
                clean(&booking.external_id),
                format!("{}{state}", clean(&booking.display_name)),
                arrives.map(|time| view.time(time)).unwrap_or_default(),
                clean(&booking.job),
            ]
        })
        .collect();
    text::table(&rows) + &super::job::more(&page.next_page_token)
}

/// What became of a calendar: a line for each event, and the sum.
pub(crate) fn imported(answer: &v1::ImportCalendarResponse, view: &View) -> String {
    let rows: Vec<[String; 4]> = answer.events.iter().map(|event| row(event, view)).collect();
    let (taken_in, outside) = (answer.taken_in_count, answer.outside_count);
    let rejected = answer.rejected_count;
    text::table(&rows)
        + &format!("{taken_in} taken in, {outside} outside the window, {rejected} rejected\n")
}

fn row(event: &v1::ImportedEvent, view: &View) -> [String; 4] {
    let (what, detail) = match &event.result {
        Some(Became::TakenIn(taken)) => (outcome(taken.outcome()), clean(&taken.job)),
        Some(Became::OutsideWindow(_)) => ("outside the window".to_owned(), String::new()),
        Some(Became::Rejected(why)) => ("rejected".to_owned(), clean(why)),
        None => ("unknown".to_owned(), String::new()),
    };
    let begins = event.start_time.as_ref();
    [
        format!("line {}", event.line),
        begins.map(|time| view.time(time)).unwrap_or_default(),
        what,
        if detail.is_empty() {
            clean(&event.uid)
        } else {
            detail
        },
    ]
}

/// How far delivery has come.
pub(crate) fn outbox(outbox: &v1::Outbox, _: &View) -> String {
    if !outbox.configured {
        return "no outbox is configured\n".to_owned();
    }
    format!(
        "delivered up to event {}; {} jobs wait for another attempt, {} dead letters\n",
        outbox.sequence, outbox.waiting_job_count, outbox.dead_letter_count
    )
}

/// The dead letters, one to a line.
pub(crate) fn dead_letters(page: &v1::ListDeadLettersResponse, view: &View) -> String {
    if page.dead_letters.is_empty() && page.next_page_token.is_empty() {
        return "no dead letters\n".to_owned();
    }
    let rows: Vec<[String; 5]> = page
        .dead_letters
        .iter()
        .map(|letter| {
            let last = letter.last_attempt_time.as_ref();
            [
                clean(&letter.job),
                format!("event {}", letter.sequence),
                format!("{} attempts", letter.attempts),
                last.map(|time| view.time(time)).unwrap_or_default(),
                clean(&letter.last_error),
            ]
        })
        .collect();
    text::table(&rows) + &super::job::more(&page.next_page_token)
}

fn outcome(outcome: v1::BookingOutcome) -> String {
    text::words("BOOKING_OUTCOME_", outcome.as_str_name())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::tests::{plain, view};
    use crate::units::System;

    #[test]
    fn an_import_says_what_became_of_each_line() {
        let event = |line, result| v1::ImportedEvent {
            line,
            uid: format!("event-{line}"),
            result: Some(result),
            ..Default::default()
        };
        let answer = v1::ImportCalendarResponse {
            events: vec![
                event(
                    4,
                    Became::TakenIn(v1::ImportedBooking {
                        outcome: v1::BookingOutcome::Created.into(),
                        job: "jobs/a".to_owned(),
                        ..Default::default()
                    }),
                ),
                event(9, Became::OutsideWindow(v1::OutsideWindow {})),
                event(15, Became::Rejected("DTSTART is missing".to_owned())),
            ],
            taken_in_count: 1,
            outside_count: 1,
            rejected_count: 1,
        };
        insta::assert_snapshot!(plain(&imported(&answer, &view(System::Metric))), @"
        line 4     created             jobs/a
        line 9     outside the window  event-9
        line 15    rejected            DTSTART is missing
        1 taken in, 1 outside the window, 1 rejected
        ");
    }
}
