//! What BEGIN and END enclose.

use crate::fault::Fault;
use crate::line::{BadLine, Property, properties};

/// A component: its own properties, and the components in it.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct Component {
    pub(crate) line: u32,
    pub(crate) name: String,
    pub(crate) properties: Vec<Property>,
    /// Lines in it that are no properties.
    pub(crate) bad: Vec<BadLine>,
    pub(crate) components: Vec<Component>,
}

/// A file's calendars, and what belongs to none.
#[derive(Debug, Default)]
pub(crate) struct File {
    pub(crate) calendars: Vec<Component>,
    pub(crate) faults: Vec<(u32, Fault)>,
}

/// More faults than this in what belongs to no calendar end the reading.
const MAX_FAULTS: usize = 1000;
/// Deeper nesting than any calendar has.
const MAX_DEPTH: usize = 16;

/// Reads a file. What is not closed is named; a calendar that is not closed is
/// used all the same, an event is not: its end may be missing.
pub(crate) fn read(bytes: &[u8]) -> File {
    let mut file = File::default();
    let mut open: Vec<Component> = Vec::new();
    for line in properties(bytes) {
        let number = match &line {
            Ok(property) => property.line,
            Err(bad) => bad.line,
        };
        if file.faults.len() >= MAX_FAULTS {
            let limit = MAX_FAULTS;
            file.faults.push((number, Fault::TooManyFaults { limit }));
            break;
        }
        match (line, open.last_mut()) {
            (Err(bad), None) => file.faults.push((bad.line, bad.fault)),
            (Err(bad), Some(inner)) => inner.bad.push(bad),
            (Ok(property), inner) => match (property.name.as_str(), inner) {
                ("BEGIN", _) => begin(&property, &mut open, &mut file),
                ("END", _) => end(&property, &mut open, &mut file),
                (_, Some(inner)) => inner.properties.push(property),
                (_, None) => {
                    let name = property.name;
                    file.faults.push((number, Fault::Outside { name }));
                }
            },
        }
    }
    close(0, &mut open, &mut file);
    file
}

impl Component {
    /// The properties of a name.
    pub(crate) fn all<'a>(&'a self, name: &'a str) -> impl Iterator<Item = &'a Property> {
        self.properties.iter().filter(move |p| p.name == name)
    }

    /// The property of a name that may stand once.
    pub(crate) fn one(&self, name: &'static str) -> Result<Option<&Property>, Fault> {
        match self.all(name).count() {
            0 | 1 => Ok(self.all(name).next()),
            count => Err(Fault::Repeated {
                property: name,
                count,
            }),
        }
    }

    /// As [`one`](Self::one), where it must be there.
    pub(crate) fn required(&self, name: &'static str) -> Result<&Property, Fault> {
        self.one(name)?.ok_or(Fault::Missing { property: name })
    }
}

fn begin(property: &Property, open: &mut Vec<Component>, file: &mut File) {
    let name = property.value.trim().to_ascii_uppercase();
    // A calendar lies in nothing, and an event in a calendar alone (RFC 5545, 3.6):
    // whatever else is open was not closed, and must not swallow the event.
    match name.as_str() {
        "VCALENDAR" => close(0, open, file),
        "VEVENT" => close(open.len().min(1), open, file),
        _ => {}
    }
    if open.len() >= MAX_DEPTH || (open.is_empty() && name != "VCALENDAR") {
        // Its lines and its END are then named as lying outside.
        file.faults.push((property.line, Fault::Outside { name }));
        return;
    }
    open.push(Component {
        line: property.line,
        name,
        ..Component::default()
    });
}

fn end(property: &Property, open: &mut Vec<Component>, file: &mut File) {
    let name = property.value.trim().to_ascii_uppercase();
    let Some(depth) = open.iter().rposition(|component| component.name == name) else {
        file.faults.push((property.line, Fault::Unopened { name }));
        return;
    };
    close(depth + 1, open, file);
    if let Some(component) = open.pop() {
        keep(component, open, file);
    }
}

/// Ends everything from `depth` on that was not ended.
fn close(depth: usize, open: &mut Vec<Component>, file: &mut File) {
    while open.len() > depth {
        let Some(component) = open.pop() else { return };
        let name = component.name.clone();
        file.faults.push((component.line, Fault::Unclosed { name }));
        if component.name == "VCALENDAR" {
            keep(component, open, file);
        }
    }
}

fn keep(component: Component, open: &mut [Component], file: &mut File) {
    match open.last_mut() {
        Some(outer) => outer.components.push(component),
        None => file.calendars.push(component),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_not_closed_is_named_and_the_rest_is_kept() {
        let file = read(
            b"BEGIN:VCALENDAR\nBEGIN:VEVENT\nUID:1\nBEGIN:VEVENT\nUID:2\nEND:VEVENT\nEND:VALARM\nX:1\n",
        );
        assert_eq!(file.calendars.len(), 1);
        assert_eq!(file.calendars[0].components.len(), 1);
        assert_eq!(file.calendars[0].components[0].properties[0].value, "2");
        let lines: Vec<u32> = file.faults.iter().map(|(line, _)| *line).collect();
        assert_eq!(lines, [2, 7, 1]);
    }

    #[test]
    fn an_event_is_not_lost_in_what_was_not_closed() {
        let file = read(b"BEGIN:VCALENDAR\nBEGIN:STANDARD\nBEGIN:VEVENT\nUID:1\nEND:VEVENT\n");
        assert_eq!(file.calendars[0].components[0].name, "VEVENT");
        let lines: Vec<u32> = file.faults.iter().map(|(line, _)| *line).collect();
        assert_eq!(lines, [2, 1]);
    }

    #[test]
    fn a_file_of_rubbish_is_given_up_on() {
        let rubbish = "rubbish\n".repeat(5000);
        let file = read(rubbish.as_bytes());
        assert!(file.calendars.is_empty());
        assert_eq!(file.faults.len(), MAX_FAULTS + 1);
        assert_eq!(file.faults[MAX_FAULTS].0, 1001);
    }
}
