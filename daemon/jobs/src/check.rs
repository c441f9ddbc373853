//! Checks on text, ids and counts that every input shares.

use lamella_calc::violation::Checks;

/// `path.field`, or `field` where there is no path.
pub fn join(path: &str, field: &str) -> String {
    if path.is_empty() {
        field.to_owned()
    } else {
        format!("{path}.{field}")
    }
}

/// Text of `min` to `max` characters without control characters other than
/// line breaks and tabs.
pub fn text(checks: &mut Checks, field: &str, value: &str, min: usize, max: usize) {
    let length = value.chars().count();
    if min > 0 && value.trim().is_empty() {
        checks.require(false, field, || {
            "is required and must not be blank".to_owned()
        });
        return;
    }
    checks.require((min..=max).contains(&length), field, || {
        format!("must have {min} to {max} characters, got {length}")
    });
    let control = value
        .chars()
        .find(|c| c.is_control() && !matches!(c, '\n' | '\r' | '\t'));
    if let Some(control) = control {
        checks.require(false, field, || {
            format!(
                "must not contain control characters, got {}",
                control.escape_unicode()
            )
        });
    }
}

/// An id: 1 to 63 of lower-case letters, digits and hyphens, beginning with a
/// letter or digit.
pub fn id(checks: &mut Checks, field: &str, value: &str) {
    checks.require(is_id(value), field, || {
        if value.is_empty() {
            "is required".to_owned()
        } else {
            format!(
                "must be 1 to 63 of lower-case letters, digits and hyphens, not beginning or ending with a hyphen, got {}",
                quote(value)
            )
        }
    });
}

/// Whether `value` is an id as [`id`] wants it.
pub fn is_id(value: &str) -> bool {
    (1..=63).contains(&value.len())
        && value
            .bytes()
            .all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-')
        && !value.starts_with('-')
        && !value.ends_with('-')
}

/// A list of panel ids, at least `min` and at most 200, none twice.
pub fn panel_ids(checks: &mut Checks, field: &str, panels: &[String], min: usize) {
    count(checks, field, panels.len(), min, 200);
    for (index, panel) in panels.iter().enumerate() {
        let field = format!("{field}[{index}]");
        id(checks, &field, panel);
        checks.require(!panels[..index].contains(panel), &field, || {
            format!("names {} a second time", quote(panel))
        });
    }
}

/// A count of things between `min` and `max`.
pub fn count(checks: &mut Checks, field: &str, value: usize, min: usize, max: usize) {
    checks.require((min..=max).contains(&value), field, || {
        format!("must have {min} to {max} entries, got {value}")
    });
}

/// The value in backquotes, cut short where it is long, for an error message.
pub fn quote(value: &str) -> String {
    let short: String = value.chars().take(40).collect();
    let dots = if short.len() < value.len() { "..." } else { "" };
    format!("`{}{dots}`", short.escape_debug())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ids_are_what_the_api_says() {
        for good in ["a", "hood", "left-front-door", "7", &"a".repeat(63)] {
            assert!(is_id(good), "{good}");
        }
        for bad in ["", "-a", "a-", "Hood", "a b", "ä", "a/b", &"a".repeat(64)] {
            assert!(!is_id(bad), "{bad}");
        }
    }

    #[test]
    fn long_values_are_cut_in_messages() {
        assert_eq!(quote("hood"), "`hood`");
        assert_eq!(quote(&"x".repeat(50)), format!("`{}...`", "x".repeat(40)));
        assert_eq!(quote("a\u{7}b"), "`a\\u{7}b`");
    }
}
