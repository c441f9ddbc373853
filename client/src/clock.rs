//! The one place that reads the clock and the zone.

use jiff::Timestamp;
use jiff::tz::TimeZone;

/// The present moment.
pub(crate) fn now() -> Timestamp {
    #[expect(
        clippy::disallowed_methods,
        reason = "this is the client's clock module"
    )]
    Timestamp::now()
}

/// The zone that times are written and read in: the system's, or UTC where the
/// system names none.
pub(crate) fn zone() -> TimeZone {
    TimeZone::system()
}
