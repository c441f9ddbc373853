//! How the projection's keys are laid out. Numbers are big-endian so that
//! byte order is number order.
//!
//! | key | value |
//! |---|---|
//! | `j/{job}` | creation sequence (8 bytes), then the job |
//! | `o/{creation}` | job id, in order of creation |
//! | `s/{stage}/{creation}` | job id, for jobs that are not deleted |
//! | `x/{vehicle}/{creation}` | job id |
//! | `v/{vehicle}` | creation sequence (8 bytes), then the vehicle |
//! | `w/{creation}` | vehicle id, in order of creation |
//! | `r/{job}/{sequence}` | record |
//! | `h/{job}/{sequence}` | job event |
//! | `t/{seconds}{nanoseconds}{sequence}` | job id, by the moment of each job event |
//! | `u/{job}/{sequence}` | quote, by the sequence number of its creation |
//! | `p/{plugin}` | plugin |
//! | `bk/{booking}` | creation sequence (8 bytes), then the booking |
//! | `bo/{creation}` | booking id, in order of creation |
//! | `bj/{job}` | sequence of its booking's last change (8 bytes), then the booking id |
//! | `f/{job}/{sequence}` | photo |
//! | `g/{sha256}/{job}/{sequence}` | nothing; that photo is in the file of this hash |
//! | `k/{sha256}` | nothing; the file of this hash was in photos, and all are deleted |
//! | `q/{request_id}` | the journal entry that the request caused |

use lamella_jobs::stage::Stage;

/// Version of this layout and of what is stored under it. Raise it with every
/// change: the projection is then rebuilt from the journal.
pub(crate) const SCHEMA: u32 = 2;

/// Jobs in order of creation.
pub(crate) const JOB_ORDER: &[u8] = b"o/";
/// Vehicles in order of creation.
pub(crate) const VEHICLE_ORDER: &[u8] = b"w/";

pub(crate) fn job(id: &str) -> Vec<u8> {
    text(b"j/", id)
}

pub(crate) fn vehicle(id: &str) -> Vec<u8> {
    text(b"v/", id)
}

pub(crate) fn request(id: &str) -> Vec<u8> {
    text(b"q/", id)
}

pub(crate) fn job_order(creation: u64) -> Vec<u8> {
    number(JOB_ORDER, creation)
}

pub(crate) fn vehicle_order(creation: u64) -> Vec<u8> {
    number(VEHICLE_ORDER, creation)
}

/// Prefix of the jobs at a stage.
pub(crate) fn at_stage(stage: Stage) -> Vec<u8> {
    text(b"s/", &format!("{}/", stage.as_str()))
}

/// Prefix of a vehicle's jobs.
pub(crate) fn of_vehicle(vehicle: &str) -> Vec<u8> {
    text(b"x/", &format!("{vehicle}/"))
}

/// Prefix of a job's records.
pub(crate) fn records(job: &str) -> Vec<u8> {
    text(b"r/", &format!("{job}/"))
}

/// All quotes.
pub(crate) const QUOTES: &[u8] = b"u/";

/// Prefix of a job's quotes.
pub(crate) fn quotes(job: &str) -> Vec<u8> {
    text(QUOTES, &format!("{job}/"))
}

/// Plugins in order of their ids.
pub(crate) const PLUGINS: &[u8] = b"p/";

pub(crate) fn plugin(id: &str) -> Vec<u8> {
    text(PLUGINS, id)
}

/// Photos of all jobs.
pub(crate) const PHOTOS: &[u8] = b"f/";
/// Files that no photo is in any more.
pub(crate) const DROPPED_FILES: &[u8] = b"k/";

/// Prefix of a job's photos.
pub(crate) fn photos(job: &str) -> Vec<u8> {
    text(PHOTOS, &format!("{job}/"))
}

/// Prefix of the photos in a file.
pub(crate) fn in_file(sha256: &str) -> Vec<u8> {
    text(b"g/", &format!("{sha256}/"))
}

pub(crate) fn dropped_file(sha256: &str) -> Vec<u8> {
    text(DROPPED_FILES, sha256)
}

/// Prefix of a job's history.
pub(crate) fn history(job: &str) -> Vec<u8> {
    text(b"h/", &format!("{job}/"))
}

/// Job events in order of their moments, then of the journal.
pub(crate) const MOMENTS: &[u8] = b"t/";

/// The moment of a job event: for a record when it happened, for labour when it
/// began, for everything else when it was committed. Never before 1970.
pub(crate) fn moment(at: jiff::Timestamp, seq: u64) -> Vec<u8> {
    let mut key = moments_from(at);
    key.extend_from_slice(&seq.to_be_bytes());
    key
}

/// What every key of [`moment`] at or after an instant is not below.
pub(crate) fn moments_from(at: jiff::Timestamp) -> Vec<u8> {
    let mut key = MOMENTS.to_vec();
    let seconds = u64::try_from(at.as_second()).unwrap_or(0);
    let nanos = u32::try_from(at.subsec_nanosecond()).unwrap_or(0);
    key.extend_from_slice(&seconds.to_be_bytes());
    key.extend_from_slice(&nanos.to_be_bytes());
    key
}

/// Bookings in order of creation.
pub(crate) const BOOKING_ORDER: &[u8] = b"bo/";

pub(crate) fn booking(id: &str) -> Vec<u8> {
    text(b"bk/", id)
}

pub(crate) fn booking_order(creation: u64) -> Vec<u8> {
    number(BOOKING_ORDER, creation)
}

/// Where the booking of a job is named.
pub(crate) fn booking_of(job: &str) -> Vec<u8> {
    text(b"bj/", job)
}

/// A value of a number and an id.
pub(crate) fn numbered_id(number: u64, id: &str) -> Vec<u8> {
    let mut value = number.to_be_bytes().to_vec();
    value.extend_from_slice(id.as_bytes());
    value
}

/// What [`numbered_id`] put together.
pub(crate) fn split_numbered_id(value: &[u8]) -> Option<(u64, String)> {
    let (number, id) = value.split_first_chunk::<8>()?;
    let id = String::from_utf8_lossy(id).into_owned();
    Some((u64::from_be_bytes(*number), id))
}

/// `prefix` followed by a number.
pub(crate) fn number(prefix: &[u8], number: u64) -> Vec<u8> {
    let mut key = prefix.to_vec();
    key.extend_from_slice(&number.to_be_bytes());
    key
}

/// The number at the end of a key.
pub(crate) fn last_number(key: &[u8]) -> Option<u64> {
    let start = key.len().checked_sub(8)?;
    Some(u64::from_be_bytes(key.get(start..)?.try_into().ok()?))
}

fn text(prefix: &[u8], id: &str) -> Vec<u8> {
    let mut key = prefix.to_vec();
    key.extend_from_slice(id.as_bytes());
    key
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_keep_their_order_and_come_back() {
        let keys: Vec<Vec<u8>> = [1, 255, 256, u64::MAX].map(job_order).into();
        assert!(keys.is_sorted());
        assert_eq!(last_number(&keys[2]), Some(256));
        assert_eq!(last_number(b"short"), None);
        let value = numbered_id(7, "a-1");
        assert_eq!(split_numbered_id(&value), Some((7, "a-1".to_owned())));
        assert_eq!(split_numbered_id(b"short"), None);
    }

    #[test]
    fn moments_are_in_order_of_time_then_of_the_journal() {
        let at = |text: &str| text.parse::<jiff::Timestamp>().unwrap();
        let (early, late) = (at("2026-03-29T00:59:59.999Z"), at("2026-03-29T01:00:00Z"));
        let keys = [
            moments_from(early),
            moment(early, 300),
            moment(early, u64::MAX),
            moments_from(late),
            moment(late, 1),
        ];
        assert!(keys.is_sorted());
        assert_eq!(last_number(&keys[1]), Some(300));
    }

    #[test]
    fn one_job_is_never_a_prefix_of_another() {
        assert!(!records("a-1").starts_with(&records("a")));
        assert!(!at_stage(Stage::Ready).starts_with(&at_stage(Stage::Received)));
    }
}
