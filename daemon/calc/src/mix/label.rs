//! The label for the bottle: what, how strong, when, which hazard. Plain lines of
//! at most [`MAX_LINE_CHARS`] characters for any printer. It is a reminder in the
//! shop, not a label in the sense of the law: the safety data sheet and local
//! codes say what a container must carry.

use super::hazard::{HazardResult, SignalWord};
use crate::violation::Checks;

/// What to print besides the figures.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LabelInput {
    /// What is in the bottle, 1 to 80 characters, no control characters.
    pub what: String,
    /// When it was mixed, `YYYY-MM-DD`.
    pub mixed_date: String,
}

/// Longest line, characters.
pub const MAX_LINE_CHARS: usize = 40;
/// Longest name, characters.
pub const MAX_WHAT_CHARS: usize = 80;

impl LabelInput {
    /// Notes what cannot be printed, under `label.what` and `label.mixed_date`.
    pub(crate) fn check(&self, checks: &mut Checks) {
        let (what, chars) = (self.what.trim(), self.what.chars().count());
        let holds = !what.is_empty() && chars <= MAX_WHAT_CHARS;
        checks.require(holds, "label.what", || {
            format!("must have 1 to {MAX_WHAT_CHARS} characters, got {chars}")
        });
        checks.require(!what.chars().any(char::is_control), "label.what", || {
            "must have no control characters".to_owned()
        });
        checks.require(is_date(&self.mixed_date), "label.mixed_date", || {
            let shown: String = self.mixed_date.chars().take(20).collect();
            format!("must be a date as YYYY-MM-DD, got {shown:?}")
        });
    }
}

/// Digits and hyphens in their places, month and day in range. Whether February
/// has that day is for the edge to say, which has a calendar.
fn is_date(text: &str) -> bool {
    let mut parts = text.split('-');
    let mut number = |chars: usize| {
        let part = parts.next().filter(|part| part.len() == chars)?;
        let digits = part.bytes().all(|byte| byte.is_ascii_digit());
        digits.then(|| part.parse::<u16>().ok()).flatten()
    };
    let date = (number(4), number(2), number(2));
    let (Some(_), Some(1..=12), Some(1..=31)) = date else {
        return false;
    };
    parts.next().is_none()
}

/// The lines of the label. `strength` in words; `hazard` as found, or `None` if
/// nothing was said of the ingredients.
pub(crate) fn lines(
    input: &LabelInput,
    strength: &str,
    total_ml: f64,
    hazard: Option<&HazardResult>,
) -> Vec<String> {
    let mut text = vec![
        input.what.trim().to_owned(),
        strength.to_owned(),
        format!("mixed {}, {total_ml:.0} ml", input.mixed_date),
    ];
    match hazard {
        None => text.push("Hazard not worked out: treat as the stock.".to_owned()),
        Some(hazard) => {
            match hazard.signal_word() {
                SignalWord::None => text.push("No class found; not a clearance.".to_owned()),
                word => text.push(word.as_str().to_owned()),
            }
            text.extend(
                hazard
                    .printed()
                    .map(|class| format!("{} {}", class.statement(), class.text())),
            );
        }
    }
    text.push("See safety data sheet.".to_owned());
    text.iter()
        .flat_map(|line| textwrap::wrap(line, MAX_LINE_CHARS))
        .map(std::borrow::Cow::into_owned)
        .collect()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn dates_are_dates() {
        assert!(is_date("2025-03-01"));
        for bad in [
            "",
            "2025-3-1",
            "2025-13-01",
            "2025-00-10",
            "01.03.2025",
            "2025-03-01-",
            "２025-03-01",
        ] {
            assert!(!is_date(bad), "{bad}");
        }
    }

    #[test]
    fn what_cannot_be_printed_is_named() {
        let mut checks = Checks::new();
        LabelInput {
            what: "a\u{7}b".to_owned(),
            mixed_date: "soon".to_owned(),
        }
        .check(&mut checks);
        let text = checks.finish().unwrap_err().to_string();
        assert!(text.contains("label.what: must have no control"), "{text}");
        assert!(text.contains("label.mixed_date: must be a date"), "{text}");
    }

    proptest! {
        #[test]
        fn no_line_is_too_long(what in "\\PC{1,80}", strength in "[ -~]{0,60}") {
            let input = LabelInput { what, mixed_date: "2025-03-01".to_owned() };
            for line in lines(&input, &strength, 1e7, None) {
                prop_assert!(line.chars().count() <= MAX_LINE_CHARS, "{line:?}");
            }
        }
    }
}
