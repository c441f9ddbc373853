//! Every limit that a plugin runs under, in one place, with its unit in its name.

use std::ops::RangeInclusive;
use std::path::PathBuf;

/// The largest component that any host takes: 64 MiB.
pub const MAX_COMPONENT_BYTES: usize = 64 << 20;

/// The host's limits. [`HostConfig::default`] suits guests from Rust, Python and
/// JavaScript; the figures are the project's own choice, not from a standard.
#[derive(Debug, Clone)]
pub struct HostConfig {
    /// Fuel that one call may burn; about one unit for each Wasm instruction, and
    /// one for each byte that a guest writes to the log. Above 0.
    pub fuel_units: u64,
    /// Wall time that one call may take, milliseconds, 1 to 600 000. It is kept to
    /// within one tick ([`tick_ms`](Self::tick_ms)).
    pub deadline_ms: u64,
    /// How often running guests look whether their time is up, milliseconds, 1 to 1 000.
    pub tick_ms: u64,
    /// Linear memory that one call may hold, bytes, all its memories together;
    /// one page (65 536) to 4 GiB.
    pub memory_bytes: usize,
    /// Entries in one of a guest's tables, 1 to 10 000 000.
    pub table_elements: usize,
    /// Core instances, memories and tables that one component may have, each; 1 to 1 000.
    pub instances: usize,
    /// Data that a guest may hand to the host at one time, bytes as Rust holds them; above 0.
    pub output_bytes: usize,
    /// Log lines kept from one call; the rest are counted and dropped.
    pub log_lines: usize,
    /// Log text kept from one call, bytes, all lines together.
    pub log_bytes: usize,
    /// Longest log line, bytes; longer ones are cut.
    pub log_line_bytes: usize,
    /// Largest component that is taken, bytes, 1 to [`MAX_COMPONENT_BYTES`].
    pub component_bytes: usize,
    /// Stack for a guest's calls, bytes, 65 536 to 1 MiB; the calling thread needs
    /// this and about 256 KiB more.
    pub stack_bytes: usize,
    /// Calls that may run at the same time, 1 to 256; one more is refused as busy.
    pub pool_slots: u32,
    /// Where compiled code is kept, an absolute path; none keeps it in memory only.
    ///
    /// What lies there is run as machine code, so nobody but the daemon may write
    /// to it; the host makes it private to its user when it creates it.
    pub cache_dir: Option<PathBuf>,
}

impl Default for HostConfig {
    fn default() -> Self {
        Self {
            fuel_units: 1_000_000_000,
            deadline_ms: 2_000,
            tick_ms: 10,
            memory_bytes: 128 << 20,
            table_elements: 100_000,
            instances: 100,
            output_bytes: 1 << 20,
            log_lines: 100,
            log_bytes: 64 << 10,
            log_line_bytes: 2 << 10,
            component_bytes: MAX_COMPONENT_BYTES,
            stack_bytes: 512 << 10,
            pool_slots: 16,
            cache_dir: None,
        }
    }
}

impl HostConfig {
    /// What [`fuel_units`](Self::fuel_units) may be.
    pub const FUEL_UNITS: RangeInclusive<u64> = 1..=u64::MAX;
    /// What [`deadline_ms`](Self::deadline_ms) may be.
    pub const DEADLINE_MS: RangeInclusive<u64> = 1..=600_000;
    /// What [`memory_bytes`](Self::memory_bytes) may be.
    pub const MEMORY_BYTES: RangeInclusive<u64> = 65_536..=4 << 30;
    /// What [`output_bytes`](Self::output_bytes) may be.
    pub const OUTPUT_BYTES: RangeInclusive<u64> = 1..=u64::MAX;
    /// What [`pool_slots`](Self::pool_slots) may be.
    pub const POOL_SLOTS: RangeInclusive<u64> = 1..=256;

    /// Says which figures are out of their range; empty where all is well.
    #[must_use]
    pub fn faults(&self) -> Vec<String> {
        let component = 1..=MAX_COMPONENT_BYTES as u64;
        let ranges: [(&str, u64, RangeInclusive<u64>); 11] = [
            ("fuel_units", self.fuel_units, Self::FUEL_UNITS),
            ("deadline_ms", self.deadline_ms, Self::DEADLINE_MS),
            ("tick_ms", self.tick_ms, 1..=1_000),
            ("memory_bytes", self.memory_bytes as u64, Self::MEMORY_BYTES),
            ("table_elements", self.table_elements as u64, 1..=10_000_000),
            ("instances", self.instances as u64, 1..=1_000),
            ("output_bytes", self.output_bytes as u64, Self::OUTPUT_BYTES),
            ("log_line_bytes", self.log_line_bytes as u64, 1..=u64::MAX),
            ("component_bytes", self.component_bytes as u64, component),
            ("stack_bytes", self.stack_bytes as u64, 65_536..=1 << 20),
            ("pool_slots", self.pool_slots.into(), Self::POOL_SLOTS),
        ];
        let mut faults: Vec<String> = ranges
            .into_iter()
            .filter(|(_, value, range)| !range.contains(value))
            .map(|(name, value, range)| {
                let (least, most) = range.into_inner();
                format!("{name} {value} is not in {least} to {most}")
            })
            .collect();
        if let Some(dir) = self.cache_dir.as_deref().filter(|dir| !dir.is_absolute()) {
            faults.push(format!(
                "cache_dir `{}` is not an absolute path",
                dir.display()
            ));
        }
        faults
    }
}

/// Limits of one call where they differ from the host's; `None` takes the host's.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct CallLimits {
    /// Fuel for this call, as [`HostConfig::fuel_units`].
    pub fuel_units: Option<u64>,
    /// Wall time for this call, milliseconds, as [`HostConfig::deadline_ms`].
    pub deadline_ms: Option<u64>,
}

/// Whether a plugin is given WASI (version 0.2).
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum Wasi {
    /// It gets its arguments and the log, nothing else.
    #[default]
    None,
    /// It gets a WASI in which there is nothing, for languages whose runtime asks
    /// for one: no files, network, arguments or environment; clocks stand at zero and
    /// sleeping ends at once; "random" bytes are the same for every call; what is
    /// written to standard output and error goes to the log.
    EmptyDeterministic,
}

/// How a component is to be loaded.
#[derive(Debug, Clone, Default)]
pub struct LoadOptions {
    /// Whether it is given WASI.
    pub wasi: Wasi,
    /// Its SHA-256, where the caller knows what it ought to be.
    pub expected_sha256: Option<[u8; 32]>,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn default_is_in_range() {
        assert_eq!(HostConfig::default().faults(), Vec::<String>::new());
    }

    #[test]
    fn every_fault_is_told_at_once() {
        let config = HostConfig {
            fuel_units: 0,
            component_bytes: MAX_COMPONENT_BYTES + 1,
            cache_dir: Some("here".into()),
            ..HostConfig::default()
        };
        assert_eq!(
            config.faults(),
            [
                "fuel_units 0 is not in 1 to 18446744073709551615",
                "component_bytes 67108865 is not in 1 to 67108864",
                "cache_dir `here` is not an absolute path",
            ]
        );
    }
}
