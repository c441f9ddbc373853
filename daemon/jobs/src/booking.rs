//! A booking of another system, and what a version of it does to its job.
//!
//! The rule, in one place ([`decide`]):
//!
//! | its job | a newer version that is live | one that is cancelled |
//! |---|---|---|
//! | none yet | a new job at booked | kept, so that an older live version changes nothing later |
//! | booked | field by field, except what the shop has changed since | cancels the job |
//! | received or later, or over | a note | a note |
//! | cancelled, and so was the booking | a new job at booked | nothing |
//! | deleted | kept on the booking only | kept on the booking only |
//!
//! Versions are ordered by [`Revision`] alone, never by when they arrive.

use jiff::Timestamp;
use lamella_calc::violation::Checks;

use crate::check::{self, join, quote};
use crate::job::{Job, JobField, JobFields};
use crate::stage::Stage;

/// Which version of a booking: compared by sequence, then by time.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Revision {
    /// Counts the changes in the other system, from 0.
    pub sequence: i32,
    /// When this version was made there.
    pub time: Timestamp,
}

/// A version of a booking, as the other system has it.
#[derive(Debug, Clone, PartialEq)]
pub struct BookingVersion {
    /// Which system, an id of 1 to 63 characters.
    pub source: String,
    /// Its id there, 1 to 255 characters.
    pub external_id: String,
    /// Which version.
    pub revision: Revision,
    /// It was called off; the fields below may then be empty.
    pub cancelled: bool,
    /// What a job takes from it: [`BOOKED_FIELDS`], nothing else.
    pub fields: JobFields,
    /// When the car is to be brought.
    pub arrival_time: Option<Timestamp>,
}

/// A booking as the daemon keeps it: its newest version, and its job.
#[derive(Debug, Clone, PartialEq)]
pub struct Booking {
    /// Its id, the last segment of `bookings/{booking}`.
    pub id: String,
    /// Its newest version; of a cancelled one the fields are the last live ones.
    pub version: BookingVersion,
    /// Id of the job made of it.
    pub job: Option<String>,
    /// Fields in which the shop's later word was kept.
    pub kept: Vec<JobField>,
    /// When it was first seen.
    pub create_time: Timestamp,
    /// When its newest version was taken in.
    pub update_time: Timestamp,
}

/// What became of a version.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// A job was created.
    Created,
    /// The job took changes over.
    Updated,
    /// It said nothing new.
    Unchanged,
    /// The booking is cancelled.
    Cancelled,
    /// The shop has gone on; a note says what came.
    Noted,
    /// A newer version was here already.
    Outdated,
    /// This version was here already, with other content.
    Conflict,
}

/// What is to be done with a version.
#[derive(Debug, Clone, PartialEq)]
pub enum Decision {
    /// Nothing is kept of it: outdated, a conflict, or here already.
    Leave(Outcome),
    /// The booking is kept; there is no job to change.
    Keep(Outcome),
    /// A new job at booked, with the version's fields.
    Create,
    /// The fields of `mask` go into the job.
    Update {
        /// Which fields; may be empty.
        mask: Vec<JobField>,
        /// Which the shop has changed since, and keeps.
        kept: Vec<JobField>,
    },
    /// The job is cancelled, with this note.
    Cancel {
        /// Why.
        note: String,
    },
    /// This note is appended to the job.
    Note {
        /// What came.
        text: String,
    },
}

/// The fields of a job that a booking has a say in.
pub const BOOKED_FIELDS: [JobField; 6] = [
    JobField::DisplayName,
    JobField::Vehicle,
    JobField::Customer,
    JobField::Services,
    JobField::PromiseTime,
    JobField::Wishes,
];

/// What `version` does, given the booking as it is kept and its job.
pub fn decide(version: &BookingVersion, kept: Option<&Booking>, job: Option<&Job>) -> Decision {
    let Some(kept) = kept else {
        return if version.cancelled {
            Decision::Keep(Outcome::Cancelled)
        } else {
            Decision::Create
        };
    };
    let same = version.says_the_same_as(&kept.version);
    match version.revision.cmp(&kept.version.revision) {
        std::cmp::Ordering::Less => Decision::Leave(Outcome::Outdated),
        std::cmp::Ordering::Equal if same => Decision::Leave(Outcome::Unchanged),
        std::cmp::Ordering::Equal => Decision::Leave(Outcome::Conflict),
        // Kept all the same: a version between the two may still arrive.
        std::cmp::Ordering::Greater if same => Decision::Keep(Outcome::Unchanged),
        std::cmp::Ordering::Greater => newer(version, kept, job),
    }
}

fn newer(version: &BookingVersion, kept: &Booking, job: Option<&Job>) -> Decision {
    let Some(job) = job else {
        return if version.cancelled {
            Decision::Keep(Outcome::Cancelled)
        } else {
            Decision::Create
        };
    };
    if job.delete_time.is_some() {
        return Decision::Keep(Outcome::Noted);
    }
    match job.stage {
        Stage::Booked if version.cancelled => Decision::Cancel {
            note: format!("cancelled by its booking {}", version.label()),
        },
        Stage::Booked => merge(version, kept, job),
        Stage::Cancelled if kept.version.cancelled && !version.cancelled => Decision::Create,
        Stage::Received
        | Stage::Assessed
        | Stage::Approved
        | Stage::InWork
        | Stage::Curing
        | Stage::Ready
        | Stage::HandedOver
        | Stage::Cancelled => Decision::Note {
            text: version.news(&kept.version),
        },
    }
}

/// Field by field: what the booking changed is written unless the shop has
/// changed it to something else meanwhile.
fn merge(version: &BookingVersion, kept: &Booking, job: &Job) -> Decision {
    let (mut mask, mut shops) = (Vec::new(), Vec::new());
    for field in BOOKED_FIELDS {
        let same = |a: &JobFields, b: &JobFields| a.updated(b, &[field]) == *a;
        let booking_changed = !same(&version.fields, &kept.version.fields);
        let shop_changed = !same(&job.fields, &kept.version.fields);
        if same(&job.fields, &version.fields) {
            continue;
        }
        match (booking_changed, shop_changed) {
            (true, false) => mask.push(field),
            (true, true) => shops.push(field),
            // The shop's own word stands for as long as the booking says no more.
            (false, _) => shops.extend(kept.kept.contains(&field).then_some(field)),
        }
    }
    Decision::Update { mask, kept: shops }
}

impl BookingVersion {
    /// Puts every violation of the stated ranges into `checks`, below `path`.
    pub fn check(&self, checks: &mut Checks, path: &str) {
        check::id(checks, &join(path, "source"), &self.source);
        check::text(
            checks,
            &join(path, "external_id"),
            &self.external_id,
            1,
            255,
        );
        let sequence = self.revision.sequence;
        checks.require(sequence >= 0, join(path, "revision.sequence"), || {
            format!("must not be negative, got {sequence}")
        });
        if self.cancelled && self.fields.display_name.is_empty() {
            let named = JobFields {
                display_name: "cancelled".to_owned(),
                ..self.fields.clone()
            };
            named.check(checks, path);
        } else {
            self.fields.check(checks, path);
        }
        if let (Some(arrival), Some(promise)) = (self.arrival_time, self.fields.promise_time) {
            checks.require(promise >= arrival, join(path, "promise_time"), || {
                format!("must not be before arrival_time {arrival}, got {promise}")
            });
        }
    }

    /// This version as it is kept: a cancelled one keeps the last live fields.
    #[must_use]
    pub fn over(self, before: Option<&Booking>) -> Self {
        match before {
            Some(before) if self.cancelled => Self {
                fields: before.version.fields.clone(),
                arrival_time: before.version.arrival_time,
                ..self
            },
            Some(_) | None => self,
        }
    }

    fn says_the_same_as(&self, other: &Self) -> bool {
        // What a cancelled booking says besides is of no account.
        if self.cancelled && other.cancelled {
            return true;
        }
        self.cancelled == other.cancelled
            && self.fields == other.fields
            && self.arrival_time == other.arrival_time
    }

    fn label(&self) -> String {
        format!("{} of {}", quote(&self.external_id), self.source)
    }

    /// What is new against `before`, without the customer's data.
    fn news(&self, before: &Self) -> String {
        let mut news = Vec::new();
        if self.cancelled {
            news.push("it is cancelled".to_owned());
            return format!("booking {}: {}", self.label(), news.join("; "));
        }
        if before.cancelled {
            news.push("it is no longer cancelled".to_owned());
        }
        if self.arrival_time != before.arrival_time {
            news.push(format!("arrival_time is now {}", time(self.arrival_time)));
        }
        for field in BOOKED_FIELDS {
            if self.fields.updated(&before.fields, &[field]) != self.fields {
                news.push(self.now(field));
            }
        }
        format!("booking {}: {}", self.label(), news.join("; "))
    }

    fn now(&self, field: JobField) -> String {
        let fields = &self.fields;
        let name = field.as_str();
        match field {
            JobField::DisplayName => format!("{name} is now {}", quote(&fields.display_name)),
            JobField::PromiseTime => format!("{name} is now {}", time(fields.promise_time)),
            JobField::Services => {
                let codes = fields.services.iter().map(|s| s.code.as_str());
                // A note has to fit its 4000 characters.
                let codes: Vec<&str> = codes.take(20).collect();
                format!(
                    "{name} are now {}: {}",
                    fields.services.len(),
                    codes.join(", ")
                )
            }
            JobField::Vehicle
            | JobField::Customer
            | JobField::Wishes
            | JobField::ArrivalCondition
            | JobField::Approval => format!("{name} changed, see the booking"),
        }
    }
}

fn time(time: Option<Timestamp>) -> String {
    time.map_or_else(|| "not set".to_owned(), |time| time.to_string())
}
