//! Reading a label's strength. Two notations are in print for "1:10": one part
//! and ten of water, 9.09 % (published dilution-control charts), and one part in
//! ten, 10 % (published janitorial tables). So the reading used is always shown
//! beside the other, and what could be read in either order is refused.
//!
//! | label | meaning |
//! |---|---|
//! | `35%`, `35 percent`, `1,5 %` | percent by volume |
//! | `1+10` | parts of product + parts of water |
//! | `1:10`, `1 to 10` | the same, and "one in ten" is shown beside it |
//! | `1 in 10`, `one in ten` | share of the total |
//! | `40:60`, `10:1`, `1/10` | refused, with both readings |
//!
//! A comma is a decimal comma. Parts with three digits behind the separator
//! ("1:1,000") are refused, since they may mean thousands.

use super::number::{decimal, may_be_thousands, parts, shown};
use super::strength::{MAX_PARTS, Parts};

/// Longest label, characters.
pub const MAX_LABEL_CHARS: usize = 64;

/// What a label says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Label {
    /// The reading that is used.
    pub meaning: Meaning,
    /// The other reading that is in print for the same label.
    pub other: Option<Meaning>,
}

/// A strength, free of notation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Meaning {
    /// Percent by volume, above 0 to 100.
    Percent(f64),
    /// Parts by volume.
    Parts(Parts),
    /// So many parts in so many parts in all.
    Share {
        /// Parts of product, above 0, at most `total`.
        product: f64,
        /// Parts in all.
        total: f64,
    },
}

impl Meaning {
    /// Product or stock by volume, percent, taken by itself.
    pub fn percent(self) -> f64 {
        match self {
            Self::Percent(percent) => percent,
            Self::Parts(Parts { product, water }) => 100.0 * product / (product + water),
            Self::Share { product, total } => 100.0 * product / total,
        }
    }
}

/// Reads a label of up to [`MAX_LABEL_CHARS`] characters.
///
/// # Errors
/// A lower-case fragment: the label quoted, why it is refused, what to write instead.
pub fn read(label: &str) -> Result<Label, String> {
    let chars = label.chars().count();
    if chars > MAX_LABEL_CHARS {
        return Err(format!(
            "must be at most {MAX_LABEL_CHARS} characters, got {chars}"
        ));
    }
    let text = label
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ")
        .to_lowercase();
    if let Some(number) = text
        .strip_suffix('%')
        .or_else(|| text.strip_suffix("percent"))
    {
        let percent = decimal(number.trim()).ok_or_else(|| unreadable(label))?;
        return one(Meaning::Percent(percent), label);
    }
    let Some((notation, first, second)) = split(&text) else {
        return Err(unreadable(label));
    };
    if [first, second].into_iter().any(may_be_thousands) {
        return Err(format!(
            "{} has three digits behind a comma or point, which may mean thousands; write whole \
             numbers without a separator, or the strength in percent",
            quoted(label)
        ));
    }
    let (Some(first), Some(second)) = (parts(first), parts(second)) else {
        return Err(unreadable(label));
    };
    match notation {
        Notation::Plus => one(plus(first, second), label),
        Notation::Share => one(
            Meaning::Share {
                product: first,
                total: second,
            },
            label,
        ),
        Notation::Ratio => ratio(first, second, label),
        Notation::Fraction => Err(fraction(first, second, label)),
    }
}

/// How two numbers are joined.
#[derive(Debug, Clone, Copy)]
enum Notation {
    /// `1+10`.
    Plus,
    /// `1:10`, `1 to 10`.
    Ratio,
    /// `1 in 10`.
    Share,
    /// `1/10`.
    Fraction,
}

fn split(text: &str) -> Option<(Notation, &str, &str)> {
    [
        ("+", Notation::Plus),
        (":", Notation::Ratio),
        ("/", Notation::Fraction),
        (" in ", Notation::Share),
        (" to ", Notation::Ratio),
    ]
    .into_iter()
    .find_map(|(separator, notation)| {
        let (first, second) = text.split_once(separator)?;
        Some((notation, without_noun(first), without_noun(second)))
    })
}

/// "1 part" and "10 parts" count as their number.
fn without_noun(side: &str) -> &str {
    let side = side.trim();
    let number = side
        .strip_suffix("parts")
        .or_else(|| side.strip_suffix("part"));
    number.unwrap_or(side).trim()
}

fn plus(product: f64, water: f64) -> Meaning {
    Meaning::Parts(Parts { product, water })
}

fn one(meaning: Meaning, label: &str) -> Result<Label, String> {
    let rule = match meaning {
        Meaning::Percent(percent) if percent > 0.0 && percent <= 100.0 => None,
        Meaning::Percent(_) => Some("must be above 0 and up to 100 percent".to_owned()),
        Meaning::Parts(Parts { product, water })
            if product > 0.0 && product <= MAX_PARTS && water <= MAX_PARTS =>
        {
            None
        }
        Meaning::Parts(_) => Some(format!(
            "must have product above 0 and up to {MAX_PARTS} parts, water 0 to {MAX_PARTS}"
        )),
        Meaning::Share { product, total }
            if product > 0.0 && product <= total && total <= MAX_PARTS =>
        {
            None
        }
        Meaning::Share { .. } => Some(format!(
            "must have product above 0 and up to the total, the total up to {MAX_PARTS} parts"
        )),
    };
    match rule {
        None => Ok(Label {
            meaning,
            other: None,
        }),
        Some(rule) => Err(format!("{rule}, got {}", quoted(label))),
    }
}

#[expect(
    clippy::float_cmp,
    reason = "only a side that is exactly 1, or equal sides, fix the order"
)]
fn ratio(first: f64, second: f64, label: &str) -> Result<Label, String> {
    let read = one(plus(first, second), label)?;
    if first == 1.0 && second > 1.0 {
        let other = Meaning::Share {
            product: first,
            total: second,
        };
        return Ok(Label {
            other: Some(other),
            ..read
        });
    }
    // Equal sides mean the same in either order.
    if first == 1.0 || first == second {
        return Ok(read);
    }
    if second <= 0.0 {
        return Err(unreadable(label));
    }
    Err(format!(
        "{} can be read both ways: product first is {} % ({first} parts product + {second} \
         water), water first is {} % ({second} parts product + {first} water); write \
         \"{first}+{second}\" or \"{second}+{first}\" (product + water), or give parts",
        quoted(label),
        shown(plus(first, second).percent()),
        shown(plus(second, first).percent()),
    ))
}

/// Why a fraction is refused: it may be a share or a ratio.
fn fraction(first: f64, second: f64, label: &str) -> String {
    let share = Meaning::Share {
        product: first,
        total: second,
    };
    match (one(share, label), one(plus(first, second), label)) {
        (Ok(share), Ok(ratio)) => format!(
            "{} can be read both ways: {first} in {second} is {} %, {first} part product + \
             {second} water is {} %; write \"{first} in {second}\" or \"{first}+{second}\"",
            quoted(label),
            shown(share.meaning.percent()),
            shown(ratio.meaning.percent()),
        ),
        (Err(_), _) | (_, Err(_)) => unreadable(label),
    }
}

fn unreadable(label: &str) -> String {
    format!(
        "must be like \"35 %\", \"1+10\" (product + water), \"1:10\" or \"1 in 10\", got {}",
        quoted(label)
    )
}

/// The label in quotes, cut short and with control characters made visible.
fn quoted(label: &str) -> String {
    const SHOWN_CHARS: usize = 32;
    let rest = if label.chars().count() > SHOWN_CHARS {
        "..."
    } else {
        ""
    };
    let start: String = label.chars().take(SHOWN_CHARS).collect();
    format!("\"{}{rest}\"", start.escape_debug())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn percent(label: &str) -> f64 {
        read(label)
            .unwrap_or_else(|why| panic!("{why}"))
            .meaning
            .percent()
    }

    fn refusal(label: &str) -> String {
        read(label).unwrap_err()
    }

    /// Dilution-control conversion chart (docslib.org 12198174): parts; janitorial
    /// dilution table (pages.infinit.net/pbanat/dilution.htm): share. Ounces per US
    /// gallon of 128 fl oz, as printed, both rounded there to half an ounce.
    #[test]
    fn both_printed_notations_are_kept_apart() {
        for (n, parts_oz, share_oz) in [
            (4.0, 25.5, 32.0),
            (10.0, 11.5, 12.0),
            (32.0, 4.0, 4.0),
            (128.0, 1.0, 1.0),
        ] {
            let label = read(&format!("1:{n}")).unwrap();
            assert!(
                (1.28 * label.meaning.percent() - parts_oz).abs() < 0.25,
                "1:{n}"
            );
            let share = label.other.unwrap().percent();
            assert!((1.28 * share - share_oz).abs() < 0.81, "1:{n}");
            assert!(
                (percent(&format!("1 in {n}")) - share).abs() < 1e-12,
                "1 in {n}"
            );
        }
    }

    #[test]
    fn accepted_labels_mean_what_the_table_says() {
        for (label, expected) in [
            ("35%", 35.0),
            ("35 %", 35.0),
            (" 35  percent ", 35.0),
            ("1,5 %", 1.5),
            ("36,364 %", 36.364),
            ("1:10", 100.0 / 11.0),
            ("1 : 10", 100.0 / 11.0),
            ("1 part to 10 parts", 100.0 / 11.0),
            ("1+10", 100.0 / 11.0),
            ("40+60", 40.0),
            ("0,125+1", 12.5 / 1.125),
            ("1 in 10", 10.0),
            ("One in Ten", 10.0),
            ("one part in a hundred", 1.0),
            ("1:1", 50.0),
            ("50:50", 50.0),
            ("1\u{a0}in\u{a0}10", 10.0),
        ] {
            assert!(
                (percent(label) - expected).abs() < 1e-9,
                "{label}: {}",
                percent(label)
            );
        }
        assert_eq!(read("1+10").unwrap().other, None);
        assert_eq!(read("1:1").unwrap().other, None);
    }

    #[test]
    fn a_two_sided_ratio_is_refused_with_both_readings() {
        assert_eq!(
            refusal("40:60"),
            "\"40:60\" can be read both ways: product first is 40 % (40 parts product + 60 \
             water), water first is 60 % (60 parts product + 40 water); write \"40+60\" or \
             \"60+40\" (product + water), or give parts"
        );
        assert!(refusal("10:1").contains("90.91 %") && refusal("10:1").contains("9.09 %"));
        assert!(refusal("2:3").contains("both ways"));
        let fraction = refusal("1/10");
        assert!(
            fraction.contains("10 %") && fraction.contains("9.09 %"),
            "{fraction}"
        );
    }

    #[test]
    fn garbage_is_refused_with_its_text() {
        for label in [
            "",
            "%",
            "35",
            "abc",
            "1:",
            ":10",
            "1:2:3",
            "-5 %",
            "+5%",
            "1e3:1",
            "inf %",
            "nan%",
            "1+",
            "1 in ten in",
            "1..5 %",
            "1,5,5 %",
            "10:0",
            "/",
            "\u{0}1:x",
        ] {
            assert!(
                refusal(label).contains("must be like"),
                "{label}: {}",
                refusal(label)
            );
        }
        for label in [
            "0 %",
            "101 %",
            "0:10",
            "0+1",
            "1+2000000",
            "11 in 10",
            "0 in 10",
        ] {
            assert!(
                refusal(label).contains(label),
                "{label}: {}",
                refusal(label)
            );
        }
        for label in ["1:1,000", "1:1.000", "1,000+1"] {
            assert!(
                refusal(label).contains("thousands"),
                "{label}: {}",
                refusal(label)
            );
        }
        assert!(refusal(&"x".repeat(60)).ends_with(&format!("\"{}...\"", "x".repeat(32))));
        assert_eq!(
            refusal(&"1".repeat(65)),
            "must be at most 64 characters, got 65"
        );
    }

    proptest! {
        #[test]
        fn no_text_makes_it_panic(label in ".*") {
            let _ = read(&label);
        }

        #[test]
        fn near_labels_do_not_make_it_panic(label in "[0-9.,:+/% intopars-]{0,20}") {
            if let Ok(read) = read(&label) {
                let percent = read.meaning.percent();
                prop_assert!(percent > 0.0 && percent <= 100.0, "{label}: {percent}");
            }
        }

        #[test]
        fn what_was_written_is_read_back(product in 1..10_000u32, water in 0..10_000u32) {
            let (product, water) = (f64::from(product), f64::from(water));
            let expected = Meaning::Parts(Parts { product, water });
            prop_assert_eq!(read(&format!("{product}+{water}")).unwrap().meaning, expected);
            let share = format!("{product} in {}", product + water);
            let expected = Meaning::Share { product, total: product + water };
            prop_assert_eq!(read(&share).unwrap().meaning, expected);
            let percent = 100.0 * product / (product + water);
            let read = read(&format!("{percent} %")).unwrap().meaning;
            prop_assert_eq!(read, Meaning::Percent(percent));
        }
    }
}
