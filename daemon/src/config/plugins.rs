//! `[plugins]`: what one call of a plugin may use.

use lamella_plugin_host::HostConfig;
use serde::Deserialize;

use super::ConfigError;

/// The section as the file has it; what is unset keeps the host's default.
#[derive(Debug, Clone, Default, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PluginsSection {
    /// Fuel for one call, about one unit for each instruction, above 0.
    pub fuel_units: Option<u64>,
    /// Wall time for one call, milliseconds, 1 to 600 000.
    pub deadline_ms: Option<u64>,
    /// Memory for one call, mebibytes, 1 to 4096.
    pub memory_mib: Option<usize>,
    /// Data that a plugin may hand over at one time, kibibytes, above 0.
    pub output_kib: Option<usize>,
    /// Log lines kept from one call.
    pub log_lines: Option<usize>,
    /// Calls that may run at the same time, 1 to 256.
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
                .map_or(default.memory_bytes, |mib| mib.saturating_mul(1 << 20)),
            output_bytes: self
                .output_kib
                .map_or(default.output_bytes, |kib| kib.saturating_mul(1 << 10)),
            log_lines: self.log_lines.unwrap_or(default.log_lines),
            pool_slots: self.pool_slots.unwrap_or(default.pool_slots),
            ..default
        };
        Ok(config)
    }
}
