//! Chance with a seed, so that a failure can be tried again.

use std::hash::{BuildHasher as _, RandomState};
use std::ops::RangeInclusive;
use std::time::Duration;

/// Gives the seed of an earlier run.
const SEED: &str = "LAMELLA_TEST_SEED";

/// SplitMix64: the generator and its constants are those of Steele, Lea and
/// Flood, "Fast splittable pseudorandom number generators", 2014.
#[derive(Debug)]
pub(crate) struct Random {
    state: u64,
}

impl Random {
    /// With the seed of the environment, or one that no run had before; prints it.
    pub(crate) fn of_this_run() -> Self {
        let seed = match std::env::var(SEED) {
            Ok(text) => text
                .parse()
                .unwrap_or_else(|error| panic!("{SEED}={text}: {error}")),
            Err(_) => RandomState::new().hash_one(std::process::id()),
        };
        println!("chance: {SEED}={seed}");
        Self { state: seed }
    }

    pub(crate) fn next(&mut self) -> u64 {
        self.state = self.state.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.state;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Any number of the range.
    pub(crate) fn within(&mut self, range: RangeInclusive<usize>) -> usize {
        let span = (range.end() - range.start() + 1) as u64;
        range.start() + usize::try_from(self.next() % span).expect("less than a usize")
    }

    /// Any time up to `limit`.
    pub(crate) fn time_up_to(&mut self, limit: Duration) -> Duration {
        let us = usize::try_from(limit.as_micros()).expect("a short time");
        Duration::from_micros(self.within(0..=us) as u64)
    }

    /// Overwrites all bytes.
    pub(crate) fn fill(&mut self, bytes: &mut [u8]) {
        for byte in bytes {
            *byte = self.next().to_le_bytes()[0];
        }
    }
}
