//! What can be configured, read off the code: the structs of the file with their
//! comments, defaults and ranges (`schemars`), and the flags with their environment
//! variables (`clap`). A new key shows up here by being a field.
//!
//! - `schema`: the JSON Schema, with unit, flag and variable added
//! - `markdown`: the page for people, `daemon/CONFIGURATION.md`
//! - `sample`: a whole TOML file in which every key stands as a comment

mod markdown;
mod sample;
mod schema;

use serde_json::{Map, Value};

/// How the reference is printed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum Format {
    /// A page for people.
    Markdown,
    /// A configuration file with every key, each as a comment.
    Toml,
    /// JSON Schema 2020-12 of the configuration file, for editors and checks.
    Schema,
}

/// The reference as text, ending in a line end. The same every time.
#[must_use]
pub fn text(format: Format) -> String {
    match format {
        Format::Markdown => markdown::page(&Section::whole_file()),
        Format::Toml => sample::file(&Section::whole_file()),
        Format::Schema => format!("{:#}\n", schema::annotated()),
    }
}

/// A table of the file, or the file itself.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Section {
    /// Its name with those around it, as `money.tax_classes`; empty for the file.
    pub(super) path: String,
    /// What it is for.
    pub(super) about: String,
    /// Whether it is an array of tables.
    pub(super) repeated: bool,
    /// How many tables such an array may have.
    pub(super) range: Bounds,
    /// Its values, by name.
    pub(super) keys: Vec<Key>,
    /// The tables in it, by name.
    pub(super) sections: Vec<Section>,
}

/// A value of the file.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Key {
    /// Its name within its table.
    pub(super) name: String,
    /// What it is for.
    pub(super) about: String,
    /// What TOML calls its type.
    pub(super) kind: String,
    /// What a number counts.
    pub(super) unit: Option<String>,
    /// What holds where nothing is said.
    pub(super) default: Option<Value>,
    /// A value that it may have.
    pub(super) example: Option<Value>,
    /// Smallest and largest number.
    pub(super) range: Bounds,
    /// The words that it may be, each with what it means.
    pub(super) choices: Vec<(String, String)>,
    /// Whether its table cannot be without it.
    pub(super) required: bool,
    /// The flag that beats it, with its dashes.
    pub(super) flag: Option<String>,
    /// The environment variable that beats it.
    pub(super) variable: Option<String>,
}

/// From and to, both included, where there is a limit.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct Bounds {
    /// The smallest.
    pub(super) least: Option<u64>,
    /// The largest.
    pub(super) most: Option<u64>,
}

impl Section {
    /// The whole file.
    pub(super) fn whole_file() -> Self {
        Self::read("", &schema::annotated())
    }

    fn read(path: &str, schema: &Value) -> Self {
        let repeated = schema.get("items").is_some();
        let table = schema.get("items").unwrap_or(schema);
        let mut section = Self {
            path: path.to_owned(),
            about: text_of(schema, "description"),
            repeated,
            range: Bounds::read(schema, ["minItems", "maxItems"]),
            keys: Vec::new(),
            sections: Vec::new(),
        };
        let required = |name: &str| {
            let names = table.get("required").and_then(Value::as_array);
            names.is_some_and(|names| names.iter().any(|known| known == name))
        };
        for (name, inner) in properties(table).into_iter().flatten() {
            let items = inner.get("items").unwrap_or(inner);
            if properties(items).is_some() {
                section.sections.push(Self::read(&join(path, name), inner));
            } else {
                section.keys.push(Key::read(name, inner, required(name)));
            }
        }
        section
    }

    /// Whether it means nothing without keys that have no default.
    pub(super) fn needs_keys(&self) -> bool {
        self.keys.iter().any(|key| key.required)
    }

    /// What it is for, and how many there may be.
    pub(super) fn about_all(&self) -> String {
        match self.range.told() {
            Some(range) => format!("{} There are {range}.", self.about),
            None => self.about.clone(),
        }
    }

    /// Its own name.
    pub(super) fn name(&self) -> &str {
        self.path
            .rsplit_once('.')
            .map_or(&self.path, |(_, name)| name)
    }

    /// The names of its keys and tables.
    pub(super) fn names(&self) -> impl Iterator<Item = &str> {
        let keys = self.keys.iter().map(|key| key.name.as_str());
        keys.chain(self.sections.iter().map(Self::name))
    }

    /// The table of this name in it.
    pub(super) fn section(&self, name: &str) -> Option<&Self> {
        self.sections.iter().find(|inner| inner.name() == name)
    }
}

impl Key {
    fn read(name: &str, schema: &Value, required: bool) -> Self {
        Self {
            name: name.to_owned(),
            about: without_default(&text_of(schema, "description")),
            kind: kind(schema),
            unit: said(schema, schema::UNIT),
            default: schema.get("default").cloned(),
            example: schema.get("examples").and_then(|all| all.get(0)).cloned(),
            range: Bounds::read(schema, ["minimum", "maximum"]),
            choices: choices(schema),
            required,
            flag: said(schema, schema::FLAG),
            variable: said(schema, schema::VARIABLE),
        }
    }

    /// What it may be, where not everything of its type is: `1 to 256`,
    /// `"class" or "line"`.
    pub(super) fn allowed(&self) -> Option<String> {
        if self.choices.is_empty() {
            return self.range.told();
        }
        let words = self.choices.iter().map(|(word, _)| format!("\"{word}\""));
        Some(words.collect::<Vec<_>>().join(" or "))
    }
}

impl Bounds {
    fn read(schema: &Value, [least, most]: [&str; 2]) -> Self {
        Self {
            least: schema.get(least).and_then(Value::as_u64),
            most: schema.get(most).and_then(Value::as_u64),
        }
    }

    /// `1 to 256`, `1 or more`, `at most 5`; a least of nothing goes without saying.
    pub(super) fn told(self) -> Option<String> {
        match (self.least, self.most) {
            (Some(least), Some(most)) => Some(format!("{least} to {most}")),
            (Some(0) | None, None) => None,
            (Some(least), None) => Some(format!("{least} or more")),
            (None, Some(most)) => Some(format!("at most {most}")),
        }
    }
}

/// `outer.name`, or the name where nothing is around it.
pub(super) fn join(outer: &str, name: &str) -> String {
    if outer.is_empty() {
        name.to_owned()
    } else {
        format!("{outer}.{name}")
    }
}

fn properties(schema: &Value) -> Option<&Map<String, Value>> {
    schema.get("properties").and_then(Value::as_object)
}

fn text_of(schema: &Value, name: &str) -> String {
    said(schema, name).unwrap_or_default()
}

fn said(schema: &Value, name: &str) -> Option<String> {
    let text = schema.get(name).and_then(Value::as_str);
    text.map(ToOwned::to_owned)
}

/// The `[default: ...]` is for `--help`; here the default has a place of its own.
fn without_default(about: &str) -> String {
    match about.split_once("[default:") {
        Some((before, after)) => {
            let after = after.split_once(']').map_or("", |(_, after)| after);
            format!("{}{after}", before.trim_end())
        }
        None => about.to_owned(),
    }
}

fn kind(schema: &Value) -> String {
    match schema.get("type").and_then(Value::as_str) {
        Some("array") => format!("array of {}s", kind(&schema["items"])),
        Some("number") => "float".to_owned(),
        Some(kind) => kind.to_owned(),
        None => "string".to_owned(),
    }
}

/// The words of an enum. Those with comments of their own are a schema each.
fn choices(schema: &Value) -> Vec<(String, String)> {
    let plain = schema.get("enum").and_then(Value::as_array);
    let told = schema.get("oneOf").and_then(Value::as_array);
    let plain = plain.into_iter().flatten().filter_map(|word| {
        let word = word.as_str()?;
        Some((word.to_owned(), String::new()))
    });
    let told = told.into_iter().flatten().filter_map(|choice| {
        let word = choice.get("const")?.as_str()?;
        Some((word.to_owned(), text_of(choice, "description")))
    });
    plain.chain(told).collect()
}

#[cfg(test)]
mod tests;
