//! `[shop]`: who it is and which clock hangs on its wall.

use jiff::tz::TimeZone;
use schemars::JsonSchema;
use serde::Deserialize;

use super::ConfigError;

/// The section as the file has it.
#[derive(Debug, Clone, Default, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ShopSection {
    /// Name for people, on what is printed. Unset: none is printed.
    #[schemars(example = &"Harbour Paint Workshop")]
    pub name: Option<String>,
    /// IANA time zone; days are days there. Unset: the machine's.
    #[schemars(example = &"Europe/Vienna")]
    pub time_zone: Option<String>,
}

/// The shop, with nothing left open.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Shop {
    /// Name for people; empty when none was given.
    pub name: String,
    /// The zone whose days are the shop's days.
    pub time_zone: TimeZone,
}

impl Default for Shop {
    fn default() -> Self {
        Self {
            name: String::new(),
            time_zone: TimeZone::system(),
        }
    }
}

impl ShopSection {
    pub(super) fn resolve(self) -> Result<Shop, ConfigError> {
        let time_zone = match self.time_zone {
            None => TimeZone::system(),
            Some(name) => TimeZone::get(&name).map_err(|error| ConfigError::Value {
                key: "shop.time_zone",
                value: name,
                reason: format!("{error}; expected an IANA name such as \"Europe/Vienna\""),
            })?,
        };
        Ok(Shop {
            name: self.name.unwrap_or_default(),
            time_zone,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn zone_is_an_iana_name_and_others_are_refused_by_key() {
        let section = |zone: &str| ShopSection {
            time_zone: Some(zone.to_owned()),
            ..ShopSection::default()
        };
        let shop = section("Europe/Vienna").resolve().unwrap();
        assert_eq!(shop.time_zone.iana_name(), Some("Europe/Vienna"));
        let error = section("Europe/Nowhere").resolve().unwrap_err().to_string();
        assert!(error.contains("shop.time_zone `Europe/Nowhere`"), "{error}");
    }
}
