//! The one place that reads the system's clock. Everything else is told what
//! time it is, so that tests and the demo can say.

use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};

use jiff::{SignedDuration, Timestamp};

/// The daemon's clock: the system's, moved by an offset that is zero except in
/// the demo and in tests. Clones share the offset.
#[derive(Debug, Clone, Default)]
pub struct Clock {
    offset_ms: Arc<AtomicI64>,
}

impl Clock {
    /// The system's clock as it is.
    pub fn system() -> Self {
        Self::default()
    }

    /// The system's clock moved by `offset`; negative lies in the past.
    pub fn moved_by(offset: SignedDuration) -> Self {
        let clock = Self::default();
        clock.advance(offset);
        clock
    }

    /// Moves the clock, and all its clones, on by `by`.
    pub fn advance(&self, by: SignedDuration) {
        let ms = i64::try_from(by.as_millis()).unwrap_or(i64::MAX);
        self.offset_ms.fetch_add(ms, Ordering::Relaxed);
    }

    /// What time it is, to the millisecond: what the store keeps and what a
    /// person could have read off.
    pub fn now(&self) -> Timestamp {
        #[expect(clippy::disallowed_methods, reason = "this is the clock")]
        let now = Timestamp::now();
        let ms = now
            .as_millisecond()
            .saturating_add(self.offset_ms.load(Ordering::Relaxed));
        Timestamp::from_millisecond(ms).unwrap_or(now)
    }
}
