//! Photos of a job: what may be said of one, and when one may be added.

use jiff::{SignedDuration, Timestamp};
use lamella_calc::violation::Checks;

use crate::append;
use crate::check::{self, join};
use crate::gate::Situation;
use crate::refusal::Refusal;

/// How far ahead of the daemon's clock a camera's may be.
const AHEAD: SignedDuration = SignedDuration::from_hours(24);

/// What a person says of a photo.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct PhotoNote {
    /// The panel that it shows, by id; `None`: the car.
    pub panel: Option<String>,
    /// What it shows, up to 1000 characters.
    pub caption: String,
    /// When it was taken, at most a day in the future; `None`: not said.
    pub taken_time: Option<Timestamp>,
}

impl PhotoNote {
    /// Checks everything that can be checked without the job.
    pub fn check(&self, now: Timestamp, checks: &mut Checks, path: &str) {
        if let Some(panel) = &self.panel {
            check::id(checks, &join(path, "panel"), panel);
        }
        check::text(checks, &join(path, "caption"), &self.caption, 0, 1000);
        let ahead = self.taken_time.is_some_and(|taken| !is_past(taken, now));
        checks.require(!ahead, join(path, "taken_time"), || {
            format!(
                "must be at most a day in the future, got {}",
                self.taken_time.unwrap_or_default()
            )
        });
    }
}

/// Whether a photo can have been taken then, as clocks go.
pub fn is_past(taken: Timestamp, now: Timestamp) -> bool {
    now.checked_add(AHEAD)
        .map_or(true, |latest| taken <= latest)
}

/// Whether a photo may be added. Unlike other records it may come after the end
/// of the job: those taken at hand-over are often unloaded in the evening.
///
/// # Errors
/// [`Refusal::Deleted`], [`Refusal::Invalid`] with every value out of range and a
/// panel that the vehicle does not have.
pub fn photograph(situation: &Situation<'_>, note: &PhotoNote, path: &str) -> Result<(), Refusal> {
    if situation.job.delete_time.is_some() {
        return Err(Refusal::Deleted {
            name: format!("jobs/{}", situation.job.id),
        });
    }
    let mut checks = Checks::new();
    note.check(situation.now, &mut checks, path);
    if let Some(panel) = note.panel.as_deref().filter(|panel| check::is_id(panel)) {
        append::known_panel(situation, panel, join(path, "panel"), &mut checks);
    }
    checks.finish()?;
    Ok(())
}
