//! Names as typed: `jobs/blue-estate` and `blue-estate` mean the same job, and
//! `blue-estate/1` one of its quotes.

use std::convert::Infallible;
use std::str::FromStr;

/// A job's resource name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct JobName(pub(crate) String);

/// A booking's resource name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct BookingName(pub(crate) String);

impl FromStr for BookingName {
    type Err = Infallible;

    fn from_str(text: &str) -> Result<Self, Infallible> {
        Ok(Self(qualified("bookings/", text)))
    }
}
/// A photo's resource name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct PhotoName(pub(crate) String);

/// A vehicle's resource name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct VehicleName(pub(crate) String);

/// A plugin's resource name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct PluginName(pub(crate) String);

/// A quote's resource name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct QuoteName(pub(crate) String);

/// A quote named in no form that is known.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("`{given}` names no quote; write jobs/JOB/quotes/QUOTE or JOB/QUOTE")]
pub(crate) struct QuoteNameError {
    given: String,
}

impl FromStr for JobName {
    type Err = Infallible;

    fn from_str(text: &str) -> Result<Self, Infallible> {
        Ok(Self(qualified("jobs/", text)))
    }
}

impl FromStr for PhotoName {
    type Err = Infallible;

    fn from_str(text: &str) -> Result<Self, Infallible> {
        Ok(Self(qualified("jobs/", text)))
    }
}

impl FromStr for VehicleName {
    type Err = Infallible;

    fn from_str(text: &str) -> Result<Self, Infallible> {
        Ok(Self(qualified("vehicles/", text)))
    }
}

impl FromStr for PluginName {
    type Err = Infallible;

    fn from_str(text: &str) -> Result<Self, Infallible> {
        Ok(Self(qualified("plugins/", text)))
    }
}

impl FromStr for QuoteName {
    type Err = QuoteNameError;

    fn from_str(text: &str) -> Result<Self, QuoteNameError> {
        let parts: Vec<&str> = text.split('/').collect();
        match parts.as_slice() {
            ["jobs", job, "quotes", quote] | [job, quote]
                if !job.is_empty() && !quote.is_empty() =>
            {
                Ok(Self(format!("jobs/{job}/quotes/{quote}")))
            }
            _ => Err(QuoteNameError {
                given: text.to_owned(),
            }),
        }
    }
}

/// Text from elsewhere, safe to print: control characters, escape codes among
/// them, become U+FFFD, and line ends become spaces.
pub(crate) fn clean(text: &str) -> String {
    text.chars()
        .map(|c| match c {
            '\n' | '\r' | '\t' => ' ',
            c if c.is_control() => char::REPLACEMENT_CHARACTER,
            c => c,
        })
        .collect()
}

fn qualified(collection: &str, text: &str) -> String {
    if text.starts_with(collection) {
        text.to_owned()
    } else {
        format!("{collection}{text}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_forms_mean_the_same() {
        assert_eq!("jobs/a".parse(), Ok(JobName("jobs/a".to_owned())));
        assert_eq!("a".parse(), Ok(JobName("jobs/a".to_owned())));
        assert_eq!("a".parse(), Ok(VehicleName("vehicles/a".to_owned())));
        assert_eq!("a".parse(), Ok(PluginName("plugins/a".to_owned())));
        let quote = Ok(QuoteName("jobs/a/quotes/1".to_owned()));
        assert_eq!("a/1".parse(), quote);
        assert_eq!("jobs/a/quotes/1".parse(), quote);
        for wrong in ["a", "a/", "/1", "jobs/a/1", "jobs/a/quotes/", "a/b/c"] {
            assert!(wrong.parse::<QuoteName>().is_err(), "{wrong}");
        }
    }
}
