//! The schema of the file, with what clap knows of the same names.

use schemars::generate::SchemaSettings;
use schemars::transform::RecursiveTransform;
use serde_json::{Map, Value};

use super::super::Given;

/// What a number counts.
pub(super) const UNIT: &str = "x-unit";
/// The flag that beats a key.
pub(super) const FLAG: &str = "x-flag";
/// The environment variable that beats a key.
pub(super) const VARIABLE: &str = "x-environment-variable";

/// A key's name ends in its unit; these are the endings.
const UNITS: [(&str, &str); 8] = [
    ("_bytes", "bytes"),
    ("_hours", "hours"),
    ("_kib", "kibibytes"),
    ("_mib", "mebibytes"),
    ("_minutes", "minutes"),
    ("_ms", "milliseconds"),
    ("_percent", "percent"),
    ("_seconds", "seconds"),
];

/// The schema of the whole file, JSON Schema 2020-12; members sorted by name.
pub(super) fn annotated() -> Value {
    let settings = SchemaSettings::draft2020_12().with(|settings| {
        // A file of this size reads better without references within it.
        settings.inline_subschemas = true;
        settings.transforms.push(Box::new(RecursiveTransform(
            |schema: &mut schemars::Schema| {
                if let Some(object) = schema.as_object_mut() {
                    without_null(object);
                }
            },
        )));
    });
    let root = settings.into_generator().into_root_schema_for::<Given>();
    let mut root = Value::from(root);
    root["title"] = "Configuration of lamellad".into();
    root["description"] =
        "The TOML file given with --config. Flags beat environment variables, which \
         beat the file, which beats the defaults."
            .into();
    add_units(&mut root);
    add_flags(&mut root);
    sorted(root)
}

/// What may be left out is null to serde; TOML has no null.
fn without_null(schema: &mut Map<String, Value>) {
    if let Some(Value::Array(types)) = schema.get_mut("type") {
        types.retain(|kind| kind != "null");
        if let [only] = types.as_slice() {
            let only = only.clone();
            schema.insert("type".to_owned(), only);
        }
    }
    if let Some(Value::Array(words)) = schema.get_mut("enum") {
        words.retain(|word| !word.is_null());
    }
    let Some(Value::Array(either)) = schema.get_mut("anyOf") else {
        return;
    };
    either.retain(|one| one.get("type").is_none_or(|kind| kind != "null"));
    if let [Value::Object(only)] = either.as_slice() {
        let only = only.clone();
        schema.remove("anyOf");
        // What the field says goes before what its type says.
        for (name, value) in only {
            schema.entry(name).or_insert(value);
        }
    }
}

fn add_units(schema: &mut Value) {
    if let Some(Value::Object(properties)) = schema.get_mut("properties") {
        for (name, inner) in properties {
            let unit = UNITS.iter().find(|(ending, _)| name.ends_with(ending));
            if let (Some((_, unit)), Value::Object(inner)) = (unit, &mut *inner) {
                inner
                    .entry(UNIT)
                    .or_insert_with(|| Value::from(unit.to_owned()));
            }
            add_units(inner);
        }
    }
    if let Some(items) = schema.get_mut("items") {
        add_units(items);
    }
}

/// A flag has the name of its field, so flags and keys meet there.
fn add_flags(root: &mut Value) {
    let command = <Given as clap::Args>::augment_args(clap::Command::new("lamellad"));
    for arg in command.get_arguments() {
        let Some(Value::Object(key)) = root["properties"].get_mut(arg.get_id().as_str()) else {
            continue;
        };
        if let Some(flag) = arg.get_long() {
            key.insert(FLAG.to_owned(), format!("--{flag}").into());
        }
        if let Some(variable) = arg.get_env().and_then(|variable| variable.to_str()) {
            key.insert(VARIABLE.to_owned(), variable.into());
        }
    }
}

/// In an order that does not depend on how `serde_json` was built.
fn sorted(value: Value) -> Value {
    match value {
        Value::Object(object) => {
            let mut members: Vec<(String, Value)> = object.into_iter().collect();
            members.sort_by(|one, other| one.0.cmp(&other.0));
            members
                .into_iter()
                .map(|(name, inner)| (name, sorted(inner)))
                .collect()
        }
        Value::Array(array) => array.into_iter().map(sorted).collect(),
        other => other,
    }
}
