//! What the shop tells a plugin, as typed: `KEY=VALUE`.

use std::str::FromStr;

use lamella_proto::v1;

use crate::commands::setup::SpecError;

/// One setting. The value may be empty and may hold more `=`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Setting {
    key: String,
    value: String,
}

impl FromStr for Setting {
    type Err = SpecError;

    fn from_str(text: &str) -> Result<Self, SpecError> {
        match text.split_once('=') {
            Some((key, value)) if !key.trim().is_empty() => Ok(Self {
                key: key.trim().to_owned(),
                value: value.to_owned(),
            }),
            Some(_) | None => Err(SpecError::Form {
                given: text.to_owned(),
                form: "KEY=VALUE, for example film-per-m=5500",
            }),
        }
    }
}

impl Setting {
    /// As the API has it.
    pub(crate) fn to_proto(&self) -> v1::PluginSetting {
        v1::PluginSetting {
            key: self.key.clone(),
            value: self.value.clone(),
        }
    }
}

/// All of them as the API has them.
pub(crate) fn to_proto(settings: &[Setting]) -> Vec<v1::PluginSetting> {
    settings.iter().map(Setting::to_proto).collect()
}

/// What is left after a change: those named in `unset` taken out, those in
/// `set` changed in their place or added.
///
/// # Errors
/// The first key in `unset` that there is not.
pub(crate) fn change(
    mut settings: Vec<v1::PluginSetting>,
    set: &[Setting],
    unset: &[String],
) -> Result<Vec<v1::PluginSetting>, String> {
    for key in unset {
        let before = settings.len();
        settings.retain(|setting| setting.key != *key);
        if settings.len() == before {
            return Err(format!("the plugin has no setting `{key}`"));
        }
    }
    for change in set {
        match settings.iter_mut().find(|old| old.key == change.key) {
            Some(old) => old.value.clone_from(&change.value),
            None => settings.push(change.to_proto()),
        }
    }
    Ok(settings)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn setting(text: &str) -> Setting {
        text.parse().unwrap()
    }

    #[test]
    fn a_value_may_hold_anything() {
        for (text, key, value) in [
            ("film-per-m=5500", "film-per-m", "5500"),
            ("a= b=c ", "a", " b=c "),
            ("each.wash=", "each.wash", ""),
        ] {
            let read = setting(text);
            assert_eq!((read.key.as_str(), read.value.as_str()), (key, value));
        }
        insta::assert_snapshot!("=5".parse::<Setting>().unwrap_err(), @"`=5` is not of the form KEY=VALUE, for example film-per-m=5500");
        assert!("5500".parse::<Setting>().is_err());
    }

    #[test]
    fn settings_are_changed_added_and_taken_out() {
        let before = to_proto(&[setting("a=1"), setting("b=2"), setting("c=3")]);
        let set = [setting("c=4"), setting("d=5")];
        let after = change(before.clone(), &set, &["a".to_owned()]).unwrap();
        assert_eq!(
            after,
            to_proto(&[setting("b=2"), setting("c=4"), setting("d=5")])
        );
        let unknown = change(before, &[], &["x".to_owned()]);
        assert_eq!(unknown, Err("the plugin has no setting `x`".to_owned()));
    }
}
