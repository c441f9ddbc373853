//! Instants.

use jiff::Timestamp;
use lamella_calc::violation::Checks;

pub(crate) fn to_pb(instant: Timestamp) -> prost_types::Timestamp {
    // Protobuf counts nanoseconds forward, also before 1970.
    let (mut seconds, mut nanos) = (instant.as_second(), instant.subsec_nanosecond());
    if nanos < 0 {
        seconds -= 1;
        nanos += 1_000_000_000;
    }
    prost_types::Timestamp { seconds, nanos }
}

/// The instant, or none where none is given or it is not one: the latter is
/// noted. Years 1970 to 9998, so that no later sum can leave the calendar.
pub(crate) fn from_pb(
    message: Option<&prost_types::Timestamp>,
    field: &str,
    checks: &mut Checks,
) -> Option<Timestamp> {
    let message = message?;
    let instant = Timestamp::new(message.seconds, message.nanos)
        .ok()
        .filter(|instant| {
            (0..1_000_000_000).contains(&message.nanos)
                && (0..=LATEST).contains(&instant.as_second())
        });
    checks.require(instant.is_some(), field, || {
        format!(
            "must be an instant in the years 1970 to 9998, got {} s and {} ns since 1970",
            message.seconds, message.nanos
        )
    });
    instant
}

/// 9998-12-31T23:59:59Z in seconds since 1970.
const LATEST: i64 = 253_370_764_799;

/// As [`from_pb`], where an instant must be given. Missing: noted, and the
/// beginning of 1970 stands in.
pub(crate) fn required(
    message: Option<&prost_types::Timestamp>,
    field: &str,
    checks: &mut Checks,
) -> Timestamp {
    checks.require(message.is_some(), field, || "is required".to_owned());
    from_pb(message, field, checks).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn the_latest_instant_is_the_last_second_of_9998() {
        let latest = Timestamp::from_second(LATEST).unwrap();
        assert_eq!(latest.to_string(), "9998-12-31T23:59:59Z");
    }

    proptest! {
        #[test]
        fn instants_go_there_and_back(seconds in 0..LATEST, nanos in 0..1_000_000_000) {
            let instant = Timestamp::new(seconds, nanos).unwrap();
            let mut checks = Checks::new();
            prop_assert_eq!(from_pb(Some(&to_pb(instant)), "t", &mut checks), Some(instant));
            prop_assert!(checks.finish().is_ok());
        }

        #[test]
        fn anything_else_is_refused_and_never_panics(seconds: i64, nanos: i32) {
            let mut checks = Checks::new();
            let instant = from_pb(Some(&prost_types::Timestamp { seconds, nanos }), "t", &mut checks);
            prop_assert_eq!(instant.is_some(), checks.finish().is_ok());
        }
    }
}
