//! What a request says of a plugin.

use std::collections::BTreeSet;

use lamella_calc::violation::Checks;
use lamella_jobs::check::{self, join};
use lamella_proto::v1;

/// Most settings of one plugin.
const MOST_SETTINGS: usize = 200;

/// The settings, each checked.
pub(crate) fn settings_from_pb(
    settings: &[v1::PluginSetting],
    path: &str,
    checks: &mut Checks,
) -> Vec<v1::PluginSetting> {
    let count = settings.len();
    checks.require(count <= MOST_SETTINGS, path, || {
        format!("must have at most {MOST_SETTINGS} entries, got {count}")
    });
    let mut seen = BTreeSet::new();
    for (index, setting) in settings.iter().take(MOST_SETTINGS).enumerate() {
        let at = format!("{path}[{index}]");
        let key = join(&at, "key");
        check::text(checks, &key, &setting.key, 1, 200);
        checks.require(seen.insert(setting.key.as_str()), &key, || {
            format!("{} is there already", check::quote(&setting.key))
        });
        let characters = setting.value.chars().count();
        checks.require(characters <= 4000, join(&at, "value"), || {
            format!("must be up to 4000 characters, got {characters}")
        });
    }
    settings.to_vec()
}

/// The WASI asked for; not said: none.
pub(crate) fn wasi_from_pb(wasi: i32, path: &str, checks: &mut Checks) -> v1::PluginWasi {
    let known = v1::PluginWasi::try_from(wasi);
    checks.require(known.is_ok(), path, || {
        format!("must be a known WASI, got number {wasi}")
    });
    known.unwrap_or_default()
}

/// A SHA-256: 64 lower-case hexadecimal digits.
pub(crate) fn sha256_from_pb(text: &str, path: &str, checks: &mut Checks) -> String {
    let digits = text.len() == 64
        && text
            .bytes()
            .all(|byte| matches!(byte, b'0'..=b'9' | b'a'..=b'f'));
    checks.require(digits, path, || {
        if text.is_empty() {
            "is required".to_owned()
        } else {
            format!(
                "must be 64 lower-case hexadecimal digits, got {}",
                check::quote(text)
            )
        }
    });
    text.to_owned()
}

/// The new settings of an update: the only field that there is to change.
pub(crate) fn update_from_pb(
    request: &v1::UpdatePluginRequest,
    checks: &mut Checks,
) -> Vec<v1::PluginSetting> {
    let plugin = request.plugin.clone().unwrap_or_default();
    let mask = request.update_mask.as_ref();
    match mask.filter(|mask| !mask.paths.is_empty()) {
        Some(mask) => {
            for path in mask.paths.iter().filter(|path| *path != "settings") {
                checks.require(false, "update_mask", || {
                    format!("must name settings, got {}", check::quote(path))
                });
            }
        }
        // Without a mask, none at all cannot be told from not given.
        None => checks.require(
            request.plugin.is_none() || !plugin.settings.is_empty(),
            "update_mask",
            || "must name settings where all of them are to be taken out".to_owned(),
        ),
    }
    settings_from_pb(&plugin.settings, "plugin.settings", checks)
}
