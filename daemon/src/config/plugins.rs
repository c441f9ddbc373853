//! `[plugins]`: what one call of a plugin may use.

use lamella_plugin_host::HostConfig;
use schemars::JsonSchema;
use serde::Deserialize;

use super::ConfigError;

/// Bytes of a mebibyte.
const MIB: usize = 1 << 20;
/// Bytes of a kibibyte.
const KIB: usize = 1 << 10;

/// The section as the file has it; what is unset keeps the host's default.
#[derive(Debug, Clone, Default, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PluginsSection {
    /// Fuel for one call, about one unit for each instruction.
    #[schemars(
        range(min = *HostConfig::FUEL_UNITS.start()),
        extend("default" = HostConfig::default().fuel_units)
    )]
    pub fuel_units: Option<u64>,
    /// Wall time for one call.
    #[schemars(
        range(min = *HostConfig::DEADLINE_MS.start(), max = *HostConfig::DEADLINE_MS.end()),
        extend("default" = HostConfig::default().deadline_ms)
    )]
    pub deadline_ms: Option<u64>,
    /// Memory for one call.
    #[schemars(
        range(
            min = HostConfig::MEMORY_BYTES.start().div_ceil(MIB as u64),
            max = *HostConfig::MEMORY_BYTES.end() / MIB as u64
        ),
        extend("default" = HostConfig::default().memory_bytes / MIB)
    )]
    pub memory_mib: Option<usize>,
    /// Data that a plugin may hand over at one time.
    #[schemars(
        range(min = HostConfig::OUTPUT_BYTES.start().div_ceil(KIB as u64)),
        extend("default" = HostConfig::default().output_bytes / KIB)
    )]
    pub output_kib: Option<usize>,
    /// Log lines kept from one call.
    #[schemars(extend("default" = HostConfig::default().log_lines))]
    pub log_lines: Option<usize>,
    /// Calls that may run at the same time.
    #[schemars(
        range(min = *HostConfig::POOL_SLOTS.start(), max = *HostConfig::POOL_SLOTS.end()),
        extend("default" = HostConfig::default().pool_slots)
    )]
    pub pool_slots: Option<u32>,
}

impl PluginsSection {
    pub(super) fn resolve(self) -> Result<HostConfig, ConfigError> {
        let default = HostConfig::default();
        let config = HostConfig {
            fuel_units: self.fuel_units.unwrap_or(default.fuel_units),
            deadline_ms: self.deadline_ms.unwrap_or(default.deadline_ms),
            memory_bytes: self
                .memory_mib
                .map_or(default.memory_bytes, |mib| mib.saturating_mul(MIB)),
            output_bytes: self
                .output_kib
                .map_or(default.output_bytes, |kib| kib.saturating_mul(KIB)),
            log_lines: self.log_lines.unwrap_or(default.log_lines),
            pool_slots: self.pool_slots.unwrap_or(default.pool_slots),
            ..default
        };
        let faults = config.faults();
        if faults.is_empty() {
            Ok(config)
        } else {
            Err(ConfigError::Plugins { faults })
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> PluginsSection {
        toml::from_str(text).unwrap()
    }

    #[test]
    fn what_is_given_replaces_the_default_and_the_rest_stays() {
        let config = read("memory_mib = 64\noutput_kib = 2\ndeadline_ms = 500")
            .resolve()
            .unwrap();
        assert_eq!(config.memory_bytes, 64 * 1024 * 1024);
        assert_eq!(config.output_bytes, 2048);
        assert_eq!(config.deadline_ms, 500);
        assert_eq!(config.fuel_units, HostConfig::default().fuel_units);
    }

    #[test]
    fn every_figure_out_of_range_is_told_at_once() {
        let error = read("fuel_units = 0\npool_slots = 257\nmemory_mib = 4097")
            .resolve()
            .unwrap_err()
            .to_string();
        for part in [
            "[plugins]",
            "fuel_units 0",
            "pool_slots 257",
            "memory_bytes 4296015872",
        ] {
            assert!(error.contains(part), "{part} in {error}");
        }
    }

    #[test]
    fn an_unknown_key_is_refused_by_name() {
        let error = toml::from_str::<PluginsSection>("fuel = 1")
            .unwrap_err()
            .to_string();
        assert!(error.contains("fuel_units"), "{error}");
    }
}
