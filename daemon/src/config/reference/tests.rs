//! The reference against the settings that it tells of.

use std::path::Path;

use super::super::{ConfigError, Settings};
use super::*;

fn settings(toml: &str) -> Result<Settings, ConfigError> {
    toml::from_str::<super::super::Given>(toml)
        .unwrap_or_else(|error| panic!("{error} in:\n{toml}"))
        .resolve()
}

/// Every table and key, with the table's path.
fn every_key() -> Vec<(String, Key)> {
    fn walk(section: &Section, found: &mut Vec<(String, Key)>) {
        let keys = section.keys.iter();
        found.extend(keys.map(|key| (section.path.clone(), key.clone())));
        for inner in &section.sections {
            walk(inner, found);
        }
    }
    let mut found = Vec::new();
    walk(&Section::whole_file(), &mut found);
    found
}

fn key(table: &str, name: &str) -> Key {
    let mut keys = every_key().into_iter();
    let found = keys.find(|(path, key)| path == table && key.name == name);
    found.expect(name).1
}

#[test]
fn the_committed_page_is_what_the_code_says() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("CONFIGURATION.md");
    let page = std::fs::read_to_string(&file).unwrap_or_default();
    assert!(
        page == text(Format::Markdown),
        "daemon/CONFIGURATION.md is not what the code says; renew it with\n  \
         cargo run --bin lamellad -- config-reference > daemon/CONFIGURATION.md"
    );
}

#[test]
fn the_sample_says_nothing_as_it_is() {
    let sample = text(Format::Toml);
    assert_eq!(
        toml::from_str::<super::super::Given>(&sample)
            .unwrap()
            .resolve()
            .map(|settings| format!("{settings:?}"))
            .unwrap(),
        format!("{:?}", settings("").unwrap())
    );
}

#[test]
fn the_sample_with_its_defaults_uncommented_resolves_to_the_defaults() {
    let sample = text(Format::Toml);
    let live: Vec<&str> = sample
        .lines()
        .map(|line| match line.strip_prefix('#') {
            Some(rest) if !rest.is_empty() && !rest.starts_with(' ') => rest,
            _ => line,
        })
        .collect();
    let defaults = every_key().into_iter().filter(|(table, key)| {
        let outbox = table == "outbox";
        key.default.is_some() && !outbox
    });
    let uncommented = live.iter().filter(|line| !line.starts_with('#')).count();
    assert!(uncommented >= defaults.count(), "{sample}");
    let settings = settings(&live.join("\n")).unwrap();
    assert_eq!(
        format!("{settings:?}"),
        format!("{:?}", self::settings("").unwrap())
    );
}

/// With its examples uncommented as well, the sample is TOML of known keys.
#[test]
fn the_sample_s_examples_are_keys_of_the_file() {
    let sample = text(Format::Toml);
    let is_setting = |line: &str| {
        line.starts_with('[')
            || line
                .split_once(" = ")
                .is_some_and(|(name, _)| !name.contains(' '))
    };
    let live: Vec<&str> = sample
        .lines()
        .skip_while(|line| !line.is_empty())
        .map(|line| line.trim_start_matches("# ").trim_start_matches('#'))
        .filter(|line| is_setting(line))
        .collect();
    let live = live.join("\n");
    let known: super::super::Given =
        toml::from_str(&live).unwrap_or_else(|error| panic!("{error} in:\n{live}"));
    assert_eq!(known.outbox.unwrap().attempts, Some(100));
    assert_eq!(known.money.unwrap().tax_classes.unwrap().len(), 1);
    assert_eq!(known.shop.unwrap().time_zone.unwrap(), "Europe/Vienna");
}

#[test]
fn defaults_within_an_optional_table_are_those_it_has() {
    let dir = tempfile::tempdir().unwrap();
    let secret = dir.path().join("secret");
    std::fs::write(&secret, "0123456789abcdef").unwrap();
    let mut bare = format!(
        "[outbox]\nurl = \"http://127.0.0.1:1/\"\nsecret_file = {:?}\n",
        secret.display().to_string()
    );
    let expected = settings(&bare).unwrap();
    for (_, key) in every_key().iter().filter(|(table, _)| table == "outbox") {
        if let Some(default) = &key.default {
            bare.push_str(&format!("{} = {default}\n", key.name));
        }
    }
    assert!(bare.contains("retry_max_ms"), "{bare}");
    assert_eq!(
        format!("{:?}", settings(&bare).unwrap()),
        format!("{expected:?}")
    );
}

/// What the reference calls the least and the most is taken, and one beyond is not.
#[test]
fn ranges_are_those_that_hold() {
    let dir = tempfile::tempdir().unwrap();
    let secret = dir.path().join("secret");
    std::fs::write(&secret, "0123456789abcdef").unwrap();
    let with = |table: &str, name: &str, value: u64| {
        let needs = match table {
            "outbox" => format!(
                "url = \"http://127.0.0.1:1/\"\nsecret_file = {:?}",
                secret.display().to_string()
            ),
            _ => String::new(),
        };
        settings(&format!("[{table}]\n{needs}\n{name} = {value}"))
    };
    let mut tried = 0;
    for (table, key) in every_key() {
        if table.is_empty() || key.kind != "integer" {
            continue;
        }
        let name = key.name.as_str();
        for value in [key.range.least, key.range.most].into_iter().flatten() {
            with(&table, name, value).unwrap_or_else(|error| panic!("{name}: {error}"));
        }
        let beyond = [
            key.range.least.and_then(|least| least.checked_sub(1)),
            key.range.most.map(|most| most + 1),
        ];
        for value in beyond.into_iter().flatten() {
            with(&table, name, value).expect_err(name);
            tried += 1;
        }
    }
    assert!(tried >= 14, "only {tried} values beyond a range");
}

#[test]
fn flags_and_variables_are_clap_s() {
    let listen = key("", "listen");
    assert_eq!(listen.flag.as_deref(), Some("--listen"));
    assert_eq!(listen.variable.as_deref(), Some("LAMELLA_LISTEN"));
    let hosts = key("", "allowed_hosts");
    assert_eq!(hosts.flag.as_deref(), Some("--allowed-host"));
    assert_eq!(hosts.kind, "array of strings");
    assert_eq!(key("shop", "name").flag, None);
}

#[test]
fn every_key_has_its_comment_and_a_number_its_unit() {
    for (table, key) in every_key() {
        let path = join(&table, &key.name);
        assert!(key.about.ends_with('.'), "{path}: {}", key.about);
        assert!(!key.about.contains("[default"), "{path}: {}", key.about);
    }
    assert_eq!(key("", "grace_seconds").unit.as_deref(), Some("seconds"));
    assert_eq!(key("plugins", "memory_mib").allowed().unwrap(), "1 to 4096");
    assert_eq!(
        key("money", "rounding").allowed().unwrap(),
        "\"half-up\" or \"half-even\""
    );
}

/// `--help` states defaults in its own words.
#[test]
fn help_and_reference_tell_the_same_defaults() {
    let command = <super::super::Given as clap::Args>::augment_args(clap::Command::new("lamellad"));
    let mut told = 0;
    for arg in command.get_arguments() {
        let help = arg.get_long_help().or(arg.get_help()).unwrap().to_string();
        let default = key("", arg.get_id().as_str()).default;
        let Some((_, rest)) = help.split_once("[default: ") else {
            continue;
        };
        let said = rest.split_once(']').unwrap().0;
        let default = default.unwrap_or_else(|| panic!("{} has no default", arg.get_id()));
        let default = default.as_str().map_or(default.to_string(), str::to_owned);
        assert_eq!(said, default, "--{}", arg.get_long().unwrap());
        told += 1;
    }
    assert!(told >= 4, "only {told} flags tell a default");
}

#[test]
fn the_schema_is_strict_and_knows_no_null() {
    let schema: Value = serde_json::from_str(&text(Format::Schema)).unwrap();
    assert_eq!(
        schema["$schema"],
        "https://json-schema.org/draft/2020-12/schema"
    );
    assert_eq!(schema["additionalProperties"], false);
    let shop = &schema["properties"]["shop"];
    assert_eq!(shop["additionalProperties"], false);
    assert_eq!(shop["properties"]["name"]["type"], "string");
    let outbox = &schema["properties"]["outbox"];
    assert_eq!(
        outbox["required"],
        serde_json::json!(["url", "secret_file"])
    );
    let classes = &schema["properties"]["money"]["properties"]["tax_classes"];
    assert_eq!(classes["maxItems"], 20);
    assert!(!schema.to_string().contains("null"), "{schema:#}");
}
