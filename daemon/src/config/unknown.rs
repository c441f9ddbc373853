//! Keys of the file that nothing reads: all of them, each with its line and the
//! known key that may have been meant.

use std::fmt;
use std::path::Path;

use toml::de::{DeTable, DeValue};

use super::reference::{Section, join};

/// A key that nothing reads.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UnknownKey {
    /// Its line, the first being 1.
    pub line: usize,
    /// The key with the tables around it, as `shop.time_zoen`.
    pub key: String,
    hint: Hint,
}

#[derive(Debug, Clone, PartialEq, Eq)]
enum Hint {
    /// One that is spelt much the same, or the same in another table.
    Meant(String),
    /// What the table may have.
    Known(Vec<String>),
}

impl fmt::Display for UnknownKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "unknown key `{}`; ", self.key)?;
        match &self.hint {
            Hint::Meant(name) => write!(f, "did you mean `{name}`?"),
            Hint::Known(names) => write!(f, "expected one of: {}", names.join(", ")),
        }
    }
}

/// All unknown keys of the file, in its order.
///
/// # Errors
/// When it is not TOML.
pub(super) fn keys(text: &str) -> Result<Vec<UnknownKey>, toml::de::Error> {
    let table = DeTable::parse(text)?;
    let root = Section::whole_file();
    let mut walk = Walk {
        text,
        root: &root,
        found: Vec::new(),
    };
    walk.table(table.get_ref(), &root);
    // A table is kept sorted by name.
    walk.found.sort_by_key(|(start, _)| *start);
    Ok(walk.found.into_iter().map(|(_, key)| key).collect())
}

/// The message that names them all, one in each line, as `FILE:LINE: ...`.
pub(super) fn report(path: &Path, keys: &[UnknownKey]) -> String {
    let count = match keys.len() {
        1 => "a key that is not known".to_owned(),
        count => format!("{count} keys that are not known"),
    };
    let mut report = format!("the configuration file has {count}");
    for key in keys {
        report.push_str(&format!("\n{}:{}: {key}", path.display(), key.line));
    }
    report
}

struct Walk<'a> {
    text: &'a str,
    root: &'a Section,
    found: Vec<(usize, UnknownKey)>,
}

impl Walk<'_> {
    fn table(&mut self, table: &DeTable<'_>, section: &Section) {
        for (name, value) in table {
            let (start, name) = (name.span().start, name.get_ref());
            if let Some(inner) = section.section(name) {
                self.value(value.get_ref(), inner);
            } else if !section.keys.iter().any(|key| key.name == **name) {
                let key = UnknownKey {
                    line: 1 + self.text[..start].matches('\n').count(),
                    key: join(&section.path, &shown(name)),
                    hint: self.hint(name, section),
                };
                self.found.push((start, key));
            }
        }
    }

    /// What is no table where one should be is left to whoever reads the values.
    fn value(&mut self, value: &DeValue<'_>, section: &Section) {
        match value {
            DeValue::Table(table) => self.table(table, section),
            DeValue::Array(array) => {
                for element in array {
                    self.value(element.get_ref(), section);
                }
            }
            _ => {}
        }
    }

    fn hint(&self, name: &str, section: &Section) -> Hint {
        let near = nearest(name, section.names());
        near.map(ToOwned::to_owned)
            .or_else(|| elsewhere(name, self.root))
            .map_or_else(
                || Hint::Known(section.names().map(ToOwned::to_owned).collect()),
                Hint::Meant,
            )
    }
}

/// The known name that is spelt most like it, if any is much like it: at most a
/// third of its letters differ, and one in any case.
pub(super) fn nearest<'a>(name: &str, known: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    let most = (name.chars().count() / 3).max(1);
    known
        .map(|known| (strsim::damerau_levenshtein(name, known), known))
        .filter(|(distance, _)| *distance <= most)
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, known)| known)
}

/// The path of the same name in whatever table has it.
fn elsewhere(name: &str, section: &Section) -> Option<String> {
    if section.names().any(|known| known == name) {
        return Some(join(&section.path, name));
    }
    section
        .sections
        .iter()
        .find_map(|inner| elsewhere(name, inner))
}

/// A key as TOML would have it written.
fn shown(name: &str) -> String {
    let bare = |letter: char| letter.is_ascii_alphanumeric() || "_-".contains(letter);
    if !name.is_empty() && name.chars().all(bare) {
        name.to_owned()
    } else {
        format!("{name:?}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn report_of(text: &str) -> String {
        report(Path::new("lamellad.toml"), &keys(text).unwrap())
    }

    #[test]
    fn all_unknown_keys_are_told_in_order_with_lines_and_what_was_meant() {
        let text = "\
lisen = \"127.0.0.1:0\"
log = \"info\"
time_zone = \"Europe/Vienna\"

[shop]
time_zoen = \"Europe/Vienna\"
name = \"n\"
colour = \"red\"

[mony]
currency = \"EUR\"

[money]
rounding = \"half-up\"
[[money.tax_classes]]
name = \"a\"
rate_percent = \"1\"
[[money.tax_classes]]
nmae = \"b\"
\"rate percent\" = \"2\"
rate = { percent = 2 }
";
        assert_eq!(
            report_of(text),
            "\
the configuration file has 8 keys that are not known
lamellad.toml:1: unknown key `lisen`; did you mean `listen`?
lamellad.toml:3: unknown key `time_zone`; did you mean `shop.time_zone`?
lamellad.toml:6: unknown key `shop.time_zoen`; did you mean `time_zone`?
lamellad.toml:8: unknown key `shop.colour`; expected one of: name, time_zone
lamellad.toml:10: unknown key `mony`; did you mean `money`?
lamellad.toml:19: unknown key `money.tax_classes.nmae`; did you mean `name`?
lamellad.toml:20: unknown key `money.tax_classes.\"rate percent\"`; did you mean `rate_percent`?
lamellad.toml:21: unknown key `money.tax_classes.rate`; expected one of: name, rate_percent"
        );
    }

    #[test]
    fn a_table_may_be_written_in_every_way_that_toml_has() {
        for (text, key) in [
            ("shop.tme_zone = \"x\"", "shop.tme_zone"),
            ("shop = { tme_zone = \"x\" }", "shop.tme_zone"),
            (
                "[money]\ntax_classes = [{ naem = \"x\" }]",
                "money.tax_classes.naem",
            ),
            ("[money.tax_classes.more]\nx = 1", "money.tax_classes.more"),
        ] {
            let found = keys(text).unwrap();
            assert_eq!(found.len(), 1, "{text}: {found:?}");
            assert_eq!(found[0].key, key, "{text}");
        }
    }

    #[test]
    fn what_is_known_is_not_told_whatever_its_type() {
        for text in [
            "",
            "listen = 1\nshop = \"no table\"\nmoney = [1]\n[listen_]",
            "[outbox]\nurl = \"x\"\n[[money.tax_classes]]\nname = \"x\"",
        ] {
            let found = keys(text).unwrap();
            let strange = text.matches("listen_").count();
            assert_eq!(found.len(), strange, "{text}: {found:?}");
        }
        assert!(keys("listen = ").is_err());
    }
}
