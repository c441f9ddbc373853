//! `[photos]`: how large a photo may be.

use schemars::JsonSchema;
use serde::Deserialize;

use super::ConfigError;

/// Largest photo taken unless the file says otherwise, mebibytes.
const DEFAULT_MAX_MIB: u64 = 32;
/// Largest that may be allowed, mebibytes: a photo is taken apart in memory.
const LARGEST_MAX_MIB: u64 = 256;

/// The section as the file has it.
#[derive(Debug, Clone, Default, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PhotosSection {
    /// Largest photo taken.
    #[schemars(range(min = 1, max = LARGEST_MAX_MIB), extend("default" = DEFAULT_MAX_MIB))]
    pub max_mib: Option<u64>,
}

/// The photos, with nothing left open.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PhotoLimits {
    /// Largest photo taken, mebibytes.
    pub max_mib: u64,
}

impl Default for PhotoLimits {
    fn default() -> Self {
        Self {
            max_mib: DEFAULT_MAX_MIB,
        }
    }
}

impl PhotosSection {
    pub(super) fn resolve(self) -> Result<PhotoLimits, ConfigError> {
        let max_mib = self.max_mib.unwrap_or(DEFAULT_MAX_MIB);
        if (1..=LARGEST_MAX_MIB).contains(&max_mib) {
            return Ok(PhotoLimits { max_mib });
        }
        Err(ConfigError::Value {
            key: "photos.max_mib",
            value: max_mib.to_string(),
            reason: format!("expected 1 to {LARGEST_MAX_MIB}"),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_limit_has_a_default_and_a_range() {
        let max_mib = |max_mib| PhotosSection { max_mib }.resolve();
        assert_eq!(max_mib(None).unwrap(), PhotoLimits::default());
        assert_eq!(max_mib(Some(256)).unwrap().max_mib, 256);
        for bad in [0, 257] {
            let error = max_mib(Some(bad)).unwrap_err().to_string();
            assert!(
                error.contains(&format!("photos.max_mib `{bad}`")),
                "{error}"
            );
        }
    }
}
