//! Waiting for a condition, never for a time: a slow machine waits longer and
//! still passes, a broken program fails with what was waited for.

use std::time::{Duration, Instant};

/// How long anything may take before it counts as never happening.
pub const PATIENCE: Duration = Duration::from_secs(60);
/// How often a condition is looked at.
const LOOK_EVERY: Duration = Duration::from_millis(5);

/// Waits until `look` finds something.
///
/// # Panics
/// When it has found nothing within [`PATIENCE`]; the message says `what`.
pub fn until<T>(what: &str, mut look: impl FnMut() -> Option<T>) -> T {
    let begun = Instant::now();
    loop {
        if let Some(found) = look() {
            return found;
        }
        assert!(
            begun.elapsed() < PATIENCE,
            "waited {PATIENCE:?} in vain for {what}"
        );
        std::thread::sleep(LOOK_EVERY);
    }
}

/// Waits for a future.
///
/// # Panics
/// When it is not ready within [`PATIENCE`]; the message says `what`.
pub async fn ready<T>(what: &str, future: impl Future<Output = T>) -> T {
    match tokio::time::timeout(PATIENCE, future).await {
        Ok(value) => value,
        Err(_) => panic!("waited {PATIENCE:?} in vain for {what}"),
    }
}
