//! A booking's versions in any order.

use jiff::Timestamp;
use proptest::prelude::*;

use crate::booking::{Booking, BookingVersion, Decision, Outcome, Revision, decide};
use crate::job::{Job, JobField, JobFields};
use crate::stage::Stage;

fn version(sequence: i32, wishes: &str, cancelled: bool) -> BookingVersion {
    BookingVersion {
        source: "web-form".to_owned(),
        external_id: "A-17".to_owned(),
        revision: Revision {
            sequence,
            time: Timestamp::UNIX_EPOCH,
        },
        cancelled,
        fields: JobFields {
            display_name: "Blue estate".to_owned(),
            wishes: wishes.to_owned(),
            ..JobFields::default()
        },
        arrival_time: None,
    }
}

/// What the ledger keeps, in as few lines as it can be told.
#[derive(Debug, Default)]
struct Kept {
    booking: Option<Booking>,
    job: Option<Job>,
    jobs_made: usize,
    notes: usize,
}

impl Kept {
    fn take_in(&mut self, version: BookingVersion) -> Decision {
        let decision = decide(&version, self.booking.as_ref(), self.job.as_ref());
        let mut shops = Vec::new();
        match &decision {
            Decision::Leave(_) => return decision,
            Decision::Keep(_) => {}
            Decision::Create => {
                self.jobs_made += 1;
                self.job = Some(Job {
                    id: self.jobs_made.to_string(),
                    fields: version.fields.clone(),
                    stage: Stage::Booked,
                    create_time: Timestamp::UNIX_EPOCH,
                    update_time: Timestamp::UNIX_EPOCH,
                    delete_time: None,
                });
            }
            Decision::Update { mask, kept } => {
                let job = self.job.as_mut().unwrap();
                job.fields = job.fields.updated(&version.fields, mask);
                shops.clone_from(kept);
            }
            Decision::Cancel { note } => {
                assert!(!note.is_empty());
                self.job.as_mut().unwrap().stage = Stage::Cancelled;
            }
            Decision::Note { text } => {
                assert!(!text.is_empty() && text.chars().count() <= 4000);
                self.notes += 1;
            }
        }
        self.booking = Some(Booking {
            id: "b".to_owned(),
            version: version.over(self.booking.as_ref()),
            job: self.job.as_ref().map(|job| job.id.clone()),
            kept: shops,
            create_time: Timestamp::UNIX_EPOCH,
            update_time: Timestamp::UNIX_EPOCH,
        });
        decision
    }
}

proptest! {
    /// However they come and how often, the newest version decides.
    #[test]
    fn the_newest_version_decides_whatever_the_order(
        cancelled in prop::collection::vec(any::<bool>(), 1..6),
        order in prop::collection::vec(any::<prop::sample::Index>(), 0..20),
        last in any::<prop::sample::Index>(),
    ) {
        let versions: Vec<BookingVersion> = cancelled.iter().enumerate()
            .map(|(n, cancelled)| version(i32::try_from(n).unwrap(), &format!("wish {n}"), *cancelled))
            .collect();
        let mut kept = Kept::default();
        let everything = order.iter().map(|index| index.index(versions.len()))
            .chain((0..versions.len()).map(|n| (n + last.index(versions.len())) % versions.len()));
        for index in everything {
            kept.take_in(versions[index].clone());
        }
        let newest = versions.last().unwrap();
        let booking = kept.booking.unwrap();
        prop_assert_eq!(booking.version.revision, newest.revision);
        prop_assert_eq!(booking.version.cancelled, newest.cancelled);
        match kept.job {
            Some(job) if newest.cancelled => prop_assert_eq!(job.stage, Stage::Cancelled),
            Some(job) => {
                prop_assert_eq!(job.stage, Stage::Booked);
                prop_assert_eq!(job.fields, newest.fields.clone());
            }
            None => prop_assert!(newest.cancelled),
        }
        prop_assert_eq!(kept.notes, 0);
    }

    /// From received on, no version changes the job.
    #[test]
    fn nothing_changes_a_job_that_the_shop_has_gone_on_with(
        stage in prop::sample::select(Stage::ALL.to_vec()),
        cancelled: bool,
    ) {
        let mut kept = Kept::default();
        kept.take_in(version(0, "first", false));
        kept.job.as_mut().unwrap().stage = stage;
        let before = kept.job.clone().unwrap();
        let decision = kept.take_in(version(1, "second", cancelled));
        let after = kept.job.unwrap();
        if stage == Stage::Booked {
            prop_assert!(after != before);
        } else {
            prop_assert_eq!(after, before);
            let noted = matches!(decision, Decision::Note { .. });
            prop_assert!(noted, "{:?}", decision);
        }
    }
}

#[test]
fn a_field_that_the_shop_wrote_is_kept_and_named_until_they_agree() {
    let mut kept = Kept::default();
    kept.take_in(version(0, "first", false));
    kept.job.as_mut().unwrap().fields.wishes = "the shop's".to_owned();
    kept.take_in(version(1, "second", false));
    let named = |kept: &Kept| kept.booking.as_ref().unwrap().kept.clone();
    assert_eq!(named(&kept), [JobField::Wishes]);
    let mut renamed = version(2, "second", false);
    renamed.fields.display_name = "Blue estate, 2 keys".to_owned();
    kept.take_in(renamed);
    assert_eq!(named(&kept), [JobField::Wishes], "still");
    let fields = kept.job.as_ref().unwrap().fields.clone();
    assert_eq!(
        (fields.wishes.as_str(), fields.display_name.as_str()),
        ("the shop's", "Blue estate, 2 keys")
    );
    kept.take_in(version(3, "the shop's", false));
    assert_eq!(named(&kept), []);
}

#[test]
fn a_deleted_job_is_left_alone() {
    let mut kept = Kept::default();
    kept.take_in(version(0, "first", false));
    kept.job.as_mut().unwrap().delete_time = Some(Timestamp::UNIX_EPOCH);
    let decision = kept.take_in(version(1, "second", true));
    assert_eq!(decision, Decision::Keep(Outcome::Noted));
}
