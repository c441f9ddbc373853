//! Who wants to know of every call that a plugin was given.

use std::sync::{Arc, OnceLock};
use std::time::Duration;

/// One call of a plugin that has ended.
#[derive(Debug, Clone, Copy)]
pub struct CallSeen<'a> {
    /// The name that it gives itself.
    pub plugin: &'a str,
    /// How long the call took, its instance included.
    pub took: Duration,
    /// The stable code of the failure; `None` where it answered.
    pub failure: Option<&'static str>,
}

/// Called after every call, on the thread that made it: it must be quick.
pub type Observer = Arc<dyn Fn(CallSeen<'_>) + Send + Sync>;

/// The observer of a host, once there is one.
#[derive(Default)]
pub(crate) struct Observing(OnceLock<Observer>);

impl Observing {
    /// The first observer stays.
    pub(crate) fn begin(&self, observer: Observer) {
        // A second one is not an error: the first sees everything.
        let _ = self.0.set(observer);
    }

    pub(crate) fn tell(&self, seen: CallSeen<'_>) {
        if let Some(observer) = self.0.get() {
            observer(seen);
        }
    }
}
