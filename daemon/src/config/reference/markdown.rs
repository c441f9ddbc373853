//! The page for people.

use std::fmt::Write as _;

use serde_json::Value;

use super::{Key, Section, join};

const HEAD: &str = "\
# Configuration of `lamellad`

<!-- Written by `lamellad config-reference`: change the code, not this page. -->

Settings come from flags, environment variables and one TOML file (`--config FILE`,
or `LAMELLA_CONFIG`). A flag beats its variable, which beats the file, which beats the
default. A key of the file that is not known is an error: all of them are told, with
their lines. A variable `LAMELLA_...` that looks like one of these but is none is
warned of at start.

- `lamellad config-reference --format toml` prints a whole file to begin with.
- `lamellad config-reference --format schema` prints its JSON Schema, for editors.
";

/// The whole page.
pub(super) fn page(root: &Section) -> String {
    let mut page = HEAD.to_owned();
    section(root, &mut page);
    page
}

fn section(section: &Section, page: &mut String) {
    let title = match (section.path.as_str(), section.repeated) {
        ("", _) => "Keys before any table".to_owned(),
        (path, false) => format!("`[{path}]`"),
        (path, true) => format!("`[[{path}]]`"),
    };
    // Writing to a String cannot fail, here and below.
    let _ = write!(page, "\n## {title}\n");
    if !section.path.is_empty() {
        let _ = write!(page, "\n{}\n", section.about_all());
    }
    if !section.keys.is_empty() {
        table(section, page);
        for key in &section.keys {
            entry(section, key, page);
        }
    }
    for inner in &section.sections {
        self::section(inner, page);
    }
}

/// All keys at a glance; columns that are empty throughout are left out.
fn table(section: &Section, page: &mut String) {
    let mut columns: Vec<(&str, Vec<String>)> = vec![
        ("key", column(section, |key| code(&key.name))),
        ("type", column(section, |key| key.kind.clone())),
        (
            "unit",
            column(section, |key| key.unit.clone().unwrap_or_default()),
        ),
        ("default", column(section, default)),
        (
            "allowed",
            column(section, |key| {
                key.allowed().unwrap_or_default().replace('"', "`")
            }),
        ),
        (
            "flag",
            column(section, |key| optional_code(key.flag.as_deref())),
        ),
        (
            "environment variable",
            column(section, |key| optional_code(key.variable.as_deref())),
        ),
    ];
    columns.retain(|(_, cells)| cells.iter().any(|cell| !cell.is_empty()));
    let row = |cells: Vec<&str>| format!("| {} |\n", cells.join(" | "));
    page.push('\n');
    page.push_str(&row(columns.iter().map(|(title, _)| *title).collect()));
    page.push_str(&format!("|{}\n", "---|".repeat(columns.len())));
    for line in 0..section.keys.len() {
        let cells = columns.iter().map(|(_, cells)| cells[line].as_str());
        page.push_str(&row(cells.collect()));
    }
}

fn column(section: &Section, cell: impl Fn(&Key) -> String) -> Vec<String> {
    section.keys.iter().map(cell).collect()
}

fn entry(section: &Section, key: &Key, page: &mut String) {
    let path = join(&section.path, &key.name);
    let _ = write!(page, "\n### `{path}`\n\n{}\n", key.about);
    if !key.choices.is_empty() {
        page.push('\n');
    }
    for (word, about) in &key.choices {
        let about = about.replace('\n', " ");
        let _ = writeln!(page, "- `{word}`: {about}");
    }
    if let (None, Some(example)) = (&key.default, &key.example) {
        let _ = write!(page, "\nFor example: `{}`\n", plain(example));
    }
}

fn default(key: &Key) -> String {
    match &key.default {
        Some(value) => code(&plain(value)),
        None if key.required => "required".to_owned(),
        None => "unset".to_owned(),
    }
}

fn plain(value: &Value) -> String {
    value
        .as_str()
        .map_or_else(|| value.to_string(), ToOwned::to_owned)
}

fn code(text: &str) -> String {
    format!("`{text}`")
}

fn optional_code(text: Option<&str>) -> String {
    text.map(code).unwrap_or_default()
}
