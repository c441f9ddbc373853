//! Content lines (RFC 5545 section 3.1): unfolding, name, parameters, value.

use crate::fault::{Fault, short};

/// A property with the number of the line on which it begins.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Property {
    /// First line, from 1.
    pub(crate) line: u32,
    /// Name in upper case.
    pub(crate) name: String,
    /// Parameters, names in upper case, each with its values.
    pub(crate) parameters: Vec<(String, Vec<String>)>,
    /// Everything after the colon, still escaped.
    pub(crate) value: String,
}

/// A line that is no property. `name` is what its name might have been.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct BadLine {
    pub(crate) line: u32,
    pub(crate) name: String,
    pub(crate) fault: Fault,
}

impl Property {
    /// The first value of a parameter.
    pub(crate) fn parameter(&self, name: &str) -> Option<&str> {
        let found = self.parameters.iter().find(|(n, _)| n == name)?;
        found.1.first().map(String::as_str)
    }
}

/// Every content line of a file. Line ends may be CRLF, as the RFC has it, or LF.
pub(crate) fn properties(bytes: &[u8]) -> impl Iterator<Item = Result<Property, BadLine>> {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    Unfolded {
        lines: bytes.split(|byte| *byte == b'\n'),
        number: 0,
        next: None,
    }
    .filter(|(_, line)| !line.is_empty())
    .map(|(number, line)| property(number, &line))
}

/// Joins the lines that begin with a space or tab to those before them. Works on
/// bytes, because a fold may fall inside a character.
struct Unfolded<'a, I: Iterator<Item = &'a [u8]>> {
    lines: I,
    number: u32,
    next: Option<(u32, &'a [u8])>,
}

impl<'a, I: Iterator<Item = &'a [u8]>> Unfolded<'a, I> {
    fn physical(&mut self) -> Option<(u32, &'a [u8])> {
        self.next.take().or_else(|| {
            let line = self.lines.next()?;
            self.number = self.number.saturating_add(1);
            Some((self.number, line.strip_suffix(b"\r").unwrap_or(line)))
        })
    }
}

impl<'a, I: Iterator<Item = &'a [u8]>> Iterator for Unfolded<'a, I> {
    type Item = (u32, Vec<u8>);

    fn next(&mut self) -> Option<Self::Item> {
        let (number, first) = self.physical()?;
        let mut line = first.to_vec();
        while let Some((next_number, next)) = self.physical() {
            match next.split_first() {
                Some((b' ' | b'\t', rest)) => line.extend_from_slice(rest),
                Some(_) | None => {
                    self.next = Some((next_number, next));
                    break;
                }
            }
        }
        Some((number, line))
    }
}

fn property(line: u32, bytes: &[u8]) -> Result<Property, BadLine> {
    let Ok(text) = std::str::from_utf8(bytes) else {
        let name = name_of(&String::from_utf8_lossy(bytes));
        let fault = Fault::Encoding;
        return Err(BadLine { line, name, fault });
    };
    parse(line, text).map_err(|reason| BadLine {
        line,
        name: name_of(text),
        fault: Fault::Line {
            line: short(text),
            reason,
        },
    })
}

/// What a line's name is, or would be.
fn name_of(text: &str) -> String {
    let end = text.find(|c: char| !is_name(c)).unwrap_or(text.len());
    text.get(..end).unwrap_or_default().to_ascii_uppercase()
}

fn is_name(c: char) -> bool {
    c.is_ascii_alphanumeric() || c == '-'
}

fn parse(line: u32, text: &str) -> Result<Property, &'static str> {
    let name = name_of(text);
    let mut rest = text.get(name.len()..).unwrap_or_default();
    if name.is_empty() {
        return Err("it does not begin with a name");
    }
    let mut parameters = Vec::new();
    loop {
        if let Some(value) = rest.strip_prefix(':') {
            if value.chars().any(|c| c.is_control() && c != '\t') {
                return Err("it holds a control character");
            }
            return Ok(Property {
                line,
                name,
                parameters,
                value: value.to_owned(),
            });
        }
        let Some(after) = rest.strip_prefix(';') else {
            return Err("a colon is missing");
        };
        let parameter = name_of(after);
        rest = after
            .get(parameter.len()..)
            .unwrap_or_default()
            .strip_prefix('=')
            .ok_or("a parameter has no `=`")?;
        let mut values = Vec::new();
        loop {
            let (value, after) = parameter_value(rest)?;
            values.push(value);
            rest = after;
            match rest.strip_prefix(',') {
                Some(after) => rest = after,
                None => break,
            }
        }
        parameters.push((parameter, values));
    }
}

/// One value of a parameter and what follows it; `^n`, `^'` and `^^` as in RFC 6868.
fn parameter_value(text: &str) -> Result<(String, &str), &'static str> {
    let (value, rest) = match text.strip_prefix('"') {
        Some(quoted) => quoted
            .split_once('"')
            .ok_or("a quotation mark is not closed")?,
        None => text.split_at(text.find([';', ':', ',']).unwrap_or(text.len())),
    };
    let value = value.replace("^n", "\n").replace("^'", "\"");
    Ok((value.replace("^^", "^"), rest))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all(text: &str) -> Vec<Result<Property, BadLine>> {
        properties(text.as_bytes()).collect()
    }

    #[test]
    fn the_folded_line_of_the_rfc_is_one_line() {
        // RFC 5545, section 3.1, the example of folding.
        let folded =
            "DESCRIPTION:This is a lo\r\n ng description\r\n  that exists on a long line.\r\n";
        let lines = all(folded);
        let [Ok(property)] = lines.as_slice() else {
            panic!("{lines:?}");
        };
        assert_eq!(
            property.value,
            "This is a long description that exists on a long line."
        );
        assert_eq!((property.line, property.name.as_str()), (1, "DESCRIPTION"));
    }

    #[test]
    fn the_quoted_parameters_of_the_rfc_are_taken_apart() {
        // RFC 5545, section 3.1.1, the examples of lists and parameters.
        let line = "ATTENDEE;RSVP=TRUE;ROLE=REQ-PARTICIPANT;DELEGATED-TO=\"mailto:a@x.example\",\
                    \"mailto:b@x.example\":mailto:c@x.example";
        let property = all(line).remove(0).unwrap();
        assert_eq!(property.parameter("ROLE"), Some("REQ-PARTICIPANT"));
        assert_eq!(property.parameters[2].1.len(), 2);
        assert_eq!(property.value, "mailto:c@x.example");
    }

    #[test]
    fn a_fold_inside_a_character_and_a_lone_lf_are_read() {
        let mut bytes = b"SUMMARY:Gr".to_vec();
        bytes.extend_from_slice(b"\xc3\r\n \xbcn\nX:1");
        let lines: Vec<_> = properties(&bytes).map(Result::unwrap).collect();
        assert_eq!(lines[0].value, "Gr\u{fc}n");
        assert_eq!((lines[1].name.as_str(), lines[1].line), ("X", 3));
    }

    #[test]
    fn what_is_no_property_is_named_with_its_line() {
        let lines = all("A:1\nno colon here\nB;X:1\nC;X=\"open:1\n:no name\nD:\u{7}");
        let faults: Vec<_> = lines.iter().filter_map(|l| l.as_ref().err()).collect();
        let numbers: Vec<u32> = faults.iter().map(|bad| bad.line).collect();
        assert_eq!(numbers, [2, 3, 4, 5, 6]);
        assert_eq!(
            faults[0].fault.to_string(),
            "`no colon here` is not a property: a colon is missing"
        );
    }
}
