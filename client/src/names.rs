//! Names as typed: `jobs/blue-estate` and `blue-estate` mean the same job.

use std::convert::Infallible;
use std::str::FromStr;

/// A job's resource name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct JobName(pub(crate) String);

/// A vehicle's resource name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct VehicleName(pub(crate) String);

impl FromStr for JobName {
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
    }
}
