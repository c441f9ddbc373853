//! What the shop has set for this plugin, read so that all that is wrong is told at once.

use crate::{Refusal, Setting};
use std::cell::RefCell;
use std::collections::BTreeSet;
use std::ops::RangeInclusive;

/// Settings being read: ask for each one that there is, then [`finish`](Self::finish).
///
/// ```
/// use lamella_plugin_sdk::{Setting, Settings};
/// let given = [Setting { key: "per-hour".into(), value: "65 EUR".into() }];
/// let settings = Settings::new(&given);
/// let per_hour_minor = settings.integer("per-hour", 6_500, 0..=1_000_000);
/// assert!(settings.finish().is_err());
/// # assert_eq!(per_hour_minor, 6_500);
/// ```
#[derive(Debug)]
pub struct Settings<'a> {
    given: &'a [Setting],
    asked: RefCell<BTreeSet<&'a str>>,
    faults: RefCell<Vec<String>>,
}

impl<'a> Settings<'a> {
    /// Starts reading.
    #[must_use]
    pub fn new(given: &'a [Setting]) -> Self {
        let mut seen = BTreeSet::new();
        let repeated = given.iter().filter(|setting| !seen.insert(&setting.key));
        let faults = repeated
            .map(|setting| format!("`{}` is given twice", setting.key))
            .collect();
        Self {
            given,
            asked: RefCell::default(),
            faults: RefCell::new(faults),
        }
    }

    /// A whole number; `default` where the shop has set nothing, or nothing usable.
    pub fn integer(&self, key: &'a str, default: i64, range: RangeInclusive<i64>) -> i64 {
        let Some(text) = self.text(key) else {
            return default;
        };
        match text.parse() {
            Ok(value) if range.contains(&value) => value,
            _ => {
                let (least, most) = range.into_inner();
                self.faults.borrow_mut().push(format!(
                    "`{key}` is `{text}`, not a whole number from {least} to {most}"
                ));
                default
            }
        }
    }

    /// A text; `None` where the shop has set nothing.
    pub fn text(&self, key: &'a str) -> Option<&'a str> {
        self.asked.borrow_mut().insert(key);
        let mut given = self.given.iter();
        given
            .find(|setting| setting.key == key)
            .map(|setting| setting.value.as_str())
    }

    /// Ends reading: whatever was not asked for is not known.
    ///
    /// # Errors
    /// `BadSetting` with everything that is wrong.
    pub fn finish(self) -> Result<(), Refusal> {
        let mut faults = self.faults.into_inner();
        let asked = self.asked.into_inner();
        for setting in self.given {
            if !asked.contains(setting.key.as_str()) {
                faults.push(format!("`{}` is not known", setting.key));
            }
        }
        if faults.is_empty() {
            Ok(())
        } else {
            Err(Refusal::BadSetting(faults.join("; ")))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn setting(key: &str, value: &str) -> Setting {
        Setting {
            key: key.into(),
            value: value.into(),
        }
    }

    #[test]
    fn reads_what_is_set_and_defaults_the_rest() {
        let given = [setting("per-hour", "7000"), setting("class", "reduced")];
        let settings = Settings::new(&given);
        assert_eq!(settings.integer("per-hour", 6_500, 0..=10_000), 7_000);
        assert_eq!(settings.integer("per-metre", 5_500, 0..=10_000), 5_500);
        assert_eq!(settings.text("class"), Some("reduced"));
        assert!(settings.finish().is_ok());
    }

    #[test]
    fn all_faults_are_told_at_once() {
        let given = [
            setting("per-hour", "10001"),
            setting("per-hour", "1"),
            setting("per-metre", "5.5"),
            setting("per-our", "1"),
        ];
        let settings = Settings::new(&given);
        settings.integer("per-hour", 6_500, 0..=10_000);
        settings.integer("per-metre", 5_500, 0..=10_000);
        let Err(Refusal::BadSetting(told)) = settings.finish() else {
            panic!("accepted");
        };
        assert_eq!(
            told,
            "`per-hour` is given twice; \
             `per-hour` is `10001`, not a whole number from 0 to 10000; \
             `per-metre` is `5.5`, not a whole number from 0 to 10000; \
             `per-our` is not known"
        );
    }
}
