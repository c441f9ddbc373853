//! The id of a call: what the caller gave in `x-request-id`, or one made here. It
//! goes back with the answer, so that a line of the log can be found from either side.

use http::{HeaderMap, HeaderName, HeaderValue};
use ulid::Ulid;

/// Where it stands, coming and going.
pub(super) const HEADER: HeaderName = HeaderName::from_static("x-request-id");

/// The longest that is taken over, bytes.
const LONGEST: usize = 128;

/// The id of a call with these headers. One that is too long, or holds more than
/// letters, digits and `-_.:/+=`, is replaced: it is written into logs.
pub(super) fn of(headers: &HeaderMap) -> HeaderValue {
    match headers.get(HEADER) {
        Some(given) if is_plain(given.as_bytes()) => given.clone(),
        Some(_) | None => made(),
    }
}

fn is_plain(id: &[u8]) -> bool {
    let plain = |byte: &u8| byte.is_ascii_alphanumeric() || b"-_.:/+=".contains(byte);
    (1..=LONGEST).contains(&id.len()) && id.iter().all(plain)
}

fn made() -> HeaderValue {
    // Letters and digits only, so the other arm is never taken.
    HeaderValue::from_str(&Ulid::generate().to_string())
        .unwrap_or_else(|_| HeaderValue::from_static("none"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn given(id: &str) -> HeaderMap {
        HeaderMap::from_iter([(HEADER, HeaderValue::from_bytes(id.as_bytes()).unwrap())])
    }

    #[test]
    fn a_plain_id_is_taken_over() {
        for id in ["7", "b3f0-11", "run:42/step.1", &"a".repeat(LONGEST)] {
            assert_eq!(of(&given(id)), id);
        }
    }

    #[test]
    fn any_other_is_replaced_by_one_of_its_own() {
        for id in [
            "",
            "two words",
            "a=\"b\"",
            "\u{1b}[31m",
            "naïve",
            &"a".repeat(LONGEST + 1),
        ] {
            if HeaderValue::from_bytes(id.as_bytes()).is_err() {
                continue;
            }
            let made = of(&given(id));
            assert_ne!(made, id);
            assert_eq!(made.len(), 26, "{made:?}");
        }
        assert_ne!(of(&HeaderMap::new()), of(&HeaderMap::new()));
    }
}
