//! Numbers as labels print them, and as people are shown them.

/// Percent for a person: two decimals, or two significant digits below 1.
pub(super) fn shown(value: f64) -> String {
    let decimals = (0..9_i32)
        .find(|n| value.abs() * 10f64.powi(n - 1) >= 1.0)
        .unwrap_or(8)
        .max(2);
    let text = format!("{value:.*}", usize::try_from(decimals).unwrap_or(2));
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// Digits, then a point or comma and digits at most: no sign, exponent or "inf".
pub(super) fn decimal(text: &str) -> Option<f64> {
    let digits = |part: &str| !part.is_empty() && part.bytes().all(|byte| byte.is_ascii_digit());
    let sound = match text.split_once(['.', ',']) {
        Some((whole, rest)) => digits(whole) && digits(rest),
        None => digits(text),
    };
    if sound {
        text.replace(',', ".").parse().ok()
    } else {
        None
    }
}

/// "1,000" and "1.000" may be a thousand; "0,125" cannot.
pub(super) fn may_be_thousands(text: &str) -> bool {
    decimal(text).is_some()
        && text
            .split_once(['.', ','])
            .is_some_and(|(whole, rest)| rest.len() == 3 && whole.bytes().any(|byte| byte != b'0'))
}

/// A number of parts, in digits or as a word.
pub(super) fn parts(text: &str) -> Option<f64> {
    const WORDS: [(&str, f64); 20] = [
        ("one", 1.0),
        ("two", 2.0),
        ("three", 3.0),
        ("four", 4.0),
        ("five", 5.0),
        ("six", 6.0),
        ("seven", 7.0),
        ("eight", 8.0),
        ("nine", 9.0),
        ("ten", 10.0),
        ("twelve", 12.0),
        ("fifteen", 15.0),
        ("twenty", 20.0),
        ("thirty", 30.0),
        ("forty", 40.0),
        ("fifty", 50.0),
        ("sixty", 60.0),
        ("eighty", 80.0),
        ("hundred", 100.0),
        ("thousand", 1000.0),
    ];
    let word = WORDS
        .iter()
        .find(|(word, _)| text.strip_prefix("a ").unwrap_or(text) == *word);
    word.map(|(_, number)| *number).or_else(|| decimal(text))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_shown_short_but_not_as_zero() {
        for (value, expected) in [
            (100.0 / 11.0, "9.09"),
            (35.0, "35"),
            (0.000_099_99, "0.0001"),
            (1.5, "1.5"),
        ] {
            assert_eq!(shown(value), expected);
        }
    }
}
