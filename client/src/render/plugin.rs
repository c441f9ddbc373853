//! A plugin as text, and what came of trying one.

use std::fmt::Write as _;

use lamella_proto::v1;
use lamella_proto::v1::plugin_trial::Outcome;

use crate::names::clean;
use crate::render::{job, quote, shop_products};
use crate::text::{self, View};

/// Digits of a hash that tell components apart at a glance.
const SHORT_HASH: usize = 12;

/// A plugin in full. The first line is what it is and whether it serves.
pub(crate) fn full(plugin: &v1::Plugin, view: &View) -> String {
    let current = plugin.current.clone().unwrap_or_default();
    let head = format!(
        "{} {}  {}",
        clean(&current.name),
        clean(&current.version),
        state(plugin.state())
    );
    let mut out = format!("{}\n", text::strong(&head));
    let mut line = |name: &str, value: &str| {
        if !value.is_empty() {
            let _ = writeln!(out, "{name:<9} {}", clean(value));
        }
    };
    line("plugin", &plugin.name);
    if let Some(failure) = &plugin.failure {
        line("failure", &reasoned(failure));
    }
    line("does", &world(current.world()));
    line("summary", &current.summary);
    line("sha256", &current.sha256);
    line("size", &format!("{} bytes", current.size_bytes));
    line("wasi", &wasi(current.wasi()));
    let installed = current.install_time.as_ref().map(|time| view.time(time));
    line("installed", &installed.unwrap_or_default());
    for setting in &plugin.settings {
        line("setting", &format!("{} = {}", setting.key, setting.value));
    }
    for earlier in &plugin.earlier {
        let time = earlier.install_time.as_ref().map(|time| view.time(time));
        let parts = [version(earlier), time.unwrap_or_default()];
        line("earlier", parts.join(", ").trim_end_matches([',', ' ']));
    }
    line("etag", &plugin.etag);
    out
}

/// A page of plugins, one to a line.
pub(crate) fn list(page: &v1::ListPluginsResponse, _: &View) -> String {
    if page.plugins.is_empty() && page.next_page_token.is_empty() {
        return "no plugins; lamella plugin install FILE --id ID brings one\n".to_owned();
    }
    let rows: Vec<[String; 4]> = page
        .plugins
        .iter()
        .map(|plugin| {
            let current = plugin.current.clone().unwrap_or_default();
            let failure = plugin.failure.as_ref();
            let reason = failure.map(|failure| format!(" ({})", clean(&failure.reason)));
            [
                clean(&plugin.name),
                format!("{}{}", state(plugin.state()), reason.unwrap_or_default()),
                world(current.world()),
                version(&current),
            ]
        })
        .collect();
    text::table(&rows) + &job::more(&page.next_page_token)
}

/// What the shop tells a plugin, one to a line.
pub(crate) fn settings(plugin: &v1::Plugin) -> String {
    if plugin.settings.is_empty() {
        return "no settings\n".to_owned();
    }
    let rows: Vec<[String; 2]> = plugin
        .settings
        .iter()
        .map(|setting| [clean(&setting.key), clean(&setting.value)])
        .collect();
    text::table(&rows)
}

/// A version in one line: `tiered-pricing 1.0.0, sha256 0a1b2c3d4e5f`.
pub(crate) fn version(version: &v1::PluginVersion) -> String {
    let hash: String = version.sha256.chars().take(SHORT_HASH).collect();
    clean(&format!(
        "{} {}, sha256 {hash}",
        version.name, version.version
    ))
}

/// What came of trying a plugin: each job's quote or failure with its log, or
/// the products.
pub(crate) fn trials(answer: &v1::TryPluginResponse, why: bool, view: &View) -> String {
    let plugin = answer.plugin.clone().unwrap_or_default();
    let mut out = format!("{}  {}\n", version(&plugin), world(plugin.world()));
    for trial in &answer.trials {
        let _ = writeln!(out, "\n== {}", clean(&trial.job));
        match &trial.outcome {
            Some(Outcome::Quote(quote)) => out.push_str(&quote::full(quote, why, view)),
            Some(Outcome::Failure(failure)) => {
                let _ = writeln!(out, "{}", text::strong(&clean(&reasoned(failure))));
            }
            None => out.push_str("no answer\n"),
        }
        for line in &trial.log_lines {
            let _ = writeln!(
                out,
                "log       {}: {}",
                clean(&line.level),
                clean(&line.text)
            );
        }
        if trial.dropped_log_lines != 0 {
            let _ = writeln!(out, "log       {} more, not kept", trial.dropped_log_lines);
        }
    }
    if let Some(products) = &answer.products {
        out.push('\n');
        out.push_str(&shop_products::all(products, view));
    }
    out
}

/// A failure in one line, its stable reason first.
pub(crate) fn reasoned(failure: &v1::PluginFailure) -> String {
    format!("{}: {}", failure.reason, failure.message)
}

fn state(state: v1::PluginState) -> String {
    text::words("PLUGIN_STATE_", state.as_str_name())
}

fn world(world: v1::PluginWorld) -> String {
    match world {
        v1::PluginWorld::Unspecified => "never loaded",
        v1::PluginWorld::Pricing => "prices jobs",
        v1::PluginWorld::ProductList => "lists products",
    }
    .to_owned()
}

fn wasi(wasi: v1::PluginWasi) -> String {
    match wasi {
        v1::PluginWasi::Unspecified | v1::PluginWasi::None => "none",
        v1::PluginWasi::Empty => "empty",
    }
    .to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::tests::{plain, view};
    use crate::units::System;

    fn example() -> v1::Plugin {
        let version = |version: &str, digit: &str| v1::PluginVersion {
            name: "tiered-pricing".to_owned(),
            version: version.to_owned(),
            summary: "Prices by size and condition".to_owned(),
            sha256: digit.repeat(64),
            size_bytes: 53_000,
            wasi: v1::PluginWasi::None.into(),
            world: v1::PluginWorld::Pricing.into(),
            install_time: Some(prost_types::Timestamp {
                seconds: 1_772_442_900,
                nanos: 0,
            }),
        };
        v1::Plugin {
            name: "plugins/shop-prices".to_owned(),
            state: v1::PluginState::Failed.into(),
            current: Some(version("1.1.0", "a")),
            earlier: vec![version("1.0.0", "b")],
            settings: vec![v1::PluginSetting {
                key: "per-hour".to_owned(),
                value: "7200".to_owned(),
            }],
            failure: Some(v1::PluginFailure {
                reason: "FUEL_EXHAUSTED".to_owned(),
                message: "used all of its fuel".to_owned(),
            }),
            etag: "3".to_owned(),
            ..Default::default()
        }
    }

    #[test]
    fn a_plugin_in_full() {
        insta::assert_snapshot!(plain(&full(&example(), &view(System::Metric))), @"
        tiered-pricing 1.1.0  failed
        plugin    plugins/shop-prices
        failure   FUEL_EXHAUSTED: used all of its fuel
        does      prices jobs
        summary   Prices by size and condition
        sha256    aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa
        size      53000 bytes
        wasi      none
        installed Mon 2026-03-02 10:15
        setting   per-hour = 7200
        earlier   tiered-pricing 1.0.0, sha256 bbbbbbbbbbbb, Mon 2026-03-02 10:15
        etag      3
        ");
    }

    #[test]
    fn a_list_of_plugins() {
        let mut other = example();
        other.name = "plugins/products".to_owned();
        other.state = v1::PluginState::Enabled.into();
        other.failure = None;
        other.current = Some(v1::PluginVersion {
            name: "workshop-products".to_owned(),
            version: "1.0.0".to_owned(),
            sha256: "c".repeat(64),
            world: v1::PluginWorld::ProductList.into(),
            ..Default::default()
        });
        let page = v1::ListPluginsResponse {
            plugins: vec![example(), other],
            next_page_token: String::new(),
        };
        insta::assert_snapshot!(plain(&list(&page, &view(System::Metric))), @"
        plugins/shop-prices  failed (FUEL_EXHAUSTED)  prices jobs     tiered-pricing 1.1.0, sha256 aaaaaaaaaaaa
        plugins/products     enabled                  lists products  workshop-products 1.0.0, sha256 cccccccccccc
        ");
    }

    #[test]
    fn trials_show_failures_and_logs() {
        let answer = v1::TryPluginResponse {
            plugin: example().current,
            trials: vec![v1::PluginTrial {
                job: "jobs/red-van".to_owned(),
                log_lines: vec![v1::PluginLogLine {
                    level: "warn".to_owned(),
                    text: "no \u{1b}[31m area".to_owned(),
                }],
                dropped_log_lines: 2,
                outcome: Some(Outcome::Failure(v1::PluginFailure {
                    reason: "REFUSED_MISSING".to_owned(),
                    message: "the area of `hood` is missing".to_owned(),
                })),
            }],
            products: None,
        };
        insta::assert_snapshot!(plain(&trials(&answer, false, &view(System::Metric))), @"
        tiered-pricing 1.1.0, sha256 aaaaaaaaaaaa  prices jobs

        == jobs/red-van
        REFUSED_MISSING: the area of `hood` is missing
        log       warn: no �[31m area
        log       2 more, not kept
        ");
    }
}
