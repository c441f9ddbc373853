//! A configuration file with every key.
//!
//! A default stands as `#key = value`: with the `#` gone the file says the same as
//! before. What has no default stands as `# key = value`, an example. A table that
//! changes something by being there stands as an example with all that is in it.

use serde_json::Value;

use super::{Key, Section};

const HEAD: &str = "\
# Configuration of lamellad. Every key is here, sorted by name within its table.
#
#   #key = value    the default; take the # away to change it
#   # key = value   an example; nothing is set unless you set it
#
# Flags beat environment variables, which beat this file. A key that is not known
# is an error. What each key takes: CONFIGURATION.md, or `lamellad config-reference`.
";

/// The whole file.
pub(super) fn file(root: &Section) -> String {
    let mut text = HEAD.to_owned();
    section(root, false, &mut text);
    text
}

fn section(section: &Section, within_example: bool, text: &mut String) {
    let example = within_example || section.needs_keys() || section.repeated;
    if !section.path.is_empty() {
        text.push('\n');
        comment(&section.about_all(), text);
        let head = if section.repeated {
            format!("[[{}]]", section.path)
        } else {
            format!("[{}]", section.path)
        };
        text.push_str(if example { "# " } else { "" });
        text.push_str(&head);
        text.push('\n');
    }
    for key in &section.keys {
        text.push('\n');
        value(key, example, text);
    }
    for inner in &section.sections {
        self::section(inner, example, text);
    }
}

fn value(key: &Key, within_example: bool, text: &mut String) {
    comment(&key.about, text);
    if let Some(allowed) = key.allowed() {
        // Without a range the unit is in the name.
        let unit = key.unit.as_deref().unwrap_or_default();
        comment(format!("Allowed: {allowed} {unit}").trim_end(), text);
    }
    if key.required {
        comment("Required where the table is.", text);
    }
    let (mark, value) = match &key.default {
        Some(default) if within_example => ("# ", default.clone()),
        Some(default) => ("#", default.clone()),
        None => ("# ", key.example()),
    };
    text.push_str(&format!("{mark}{} = {}\n", key.name, literal(&value)));
}

fn comment(about: &str, text: &mut String) {
    for line in about.lines().filter(|line| !line.is_empty()) {
        text.push_str("# ");
        text.push_str(line);
        text.push('\n');
    }
}

/// The value as TOML writes it.
fn literal(value: &Value) -> String {
    toml::Value::try_from(value).map_or_else(|_| value.to_string(), |value| value.to_string())
}

impl Key {
    /// A value to show: the example of the code, or one that is right by its type.
    fn example(&self) -> Value {
        if let Some(example) = &self.example {
            return example.clone();
        }
        if let Some((word, _)) = self.choices.first() {
            return word.as_str().into();
        }
        match self.kind.as_str() {
            "integer" | "float" => self.range.least.unwrap_or_default().into(),
            "boolean" => false.into(),
            "string" => "".into(),
            _ => Value::Array(Vec::new()),
        }
    }
}
