//! What can be wrong with a line or an event.

/// Why a line, an event or one of its times cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Fault {
    /// Bytes that are no UTF-8.
    #[error("the line is not UTF-8")]
    Encoding,
    /// Not `NAME;PARAMETER=VALUE:VALUE`.
    #[error("`{line}` is not a property: {reason}")]
    Line {
        /// The line, cut short.
        line: String,
        /// What is wrong with it.
        reason: &'static str,
    },
    /// A property outside of any calendar.
    #[error("{name} stands outside of any VCALENDAR")]
    Outside {
        /// Its name.
        name: String,
    },
    /// An END that nothing begins.
    #[error("END:{name} without a BEGIN")]
    Unopened {
        /// The component's name.
        name: String,
    },
    /// A BEGIN that nothing ends.
    #[error("BEGIN:{name} without an END")]
    Unclosed {
        /// The component's name.
        name: String,
    },
    /// A component that is no event.
    #[error("{name} is not an event; only VEVENT is taken in")]
    Component {
        /// Its name.
        name: String,
    },
    /// A required property is missing.
    #[error("{property} is missing")]
    Missing {
        /// The property.
        property: &'static str,
    },
    /// A property that may stand once stands more often.
    #[error("{property} stands {count} times, and may stand once")]
    Repeated {
        /// The property.
        property: &'static str,
        /// How often.
        count: usize,
    },
    /// A value of the wrong form.
    #[error("{property} `{value}` is not {expected}")]
    Value {
        /// The property.
        property: String,
        /// The value, cut short.
        value: String,
        /// What it should be.
        expected: &'static str,
    },
    /// A time zone that is neither defined in the calendar nor known by name.
    #[error("time zone `{id}` is neither defined in the calendar nor an IANA name")]
    Zone {
        /// The TZID.
        id: String,
    },
    /// A VTIMEZONE that cannot be used.
    #[error("time zone `{id}` cannot be used: {reason}")]
    ZoneDefinition {
        /// The TZID.
        id: String,
        /// What is wrong.
        reason: String,
    },
    /// The end lies before the beginning.
    #[error("{property} lies before DTSTART")]
    EndBeforeStart {
        /// DTEND or DURATION.
        property: &'static str,
    },
    /// DTEND and DURATION exclude each other.
    #[error("DTEND and DURATION may not both be given")]
    TwoEnds,
    /// A rule that the recurrence library refuses.
    #[error("RRULE `{rule}` cannot be used: {reason}")]
    Rule {
        /// The rule, cut short.
        rule: String,
        /// What is wrong with it.
        reason: String,
    },
    /// A rule that repeats more often than a booking can.
    #[error("RRULE `{rule}` repeats more often than hourly")]
    TooFrequent {
        /// The rule, cut short.
        rule: String,
    },
    /// More times in the window, or since the beginning, than are taken in.
    #[error("it takes place more than {limit} times {span}")]
    TooMany {
        /// The limit.
        limit: usize,
        /// "in the window" or "since it began".
        span: &'static str,
    },
    /// The rules of the whole calendar are too much work.
    #[error("the calendar's rules before this one are all that is worked out for one calendar")]
    TooMuchWork,
    /// `RECURRENCE-ID;RANGE=THISANDFUTURE`.
    #[error("RECURRENCE-ID with RANGE={range} is not supported; only single times can be moved")]
    Range {
        /// The range.
        range: String,
    },
    /// A date outside the calendar of this program.
    #[error("a time lies outside the years 1970 to 9998")]
    Calendar,
    /// So much was wrong that reading ended.
    #[error("more than {limit} faults; nothing is read from this line on")]
    TooManyFaults {
        /// The limit.
        limit: usize,
    },
}

/// Text cut short for a message.
pub(crate) fn short(text: &str) -> String {
    let cut: String = text.chars().take(60).collect();
    let dots = if cut.len() < text.len() { "..." } else { "" };
    format!("{}{dots}", cut.escape_debug())
}
