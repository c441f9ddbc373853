//! What is wrong with an input: every violation at once, each with its field.

use std::fmt;

/// One thing wrong with one field.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Violation {
    /// Dotted path of the input, in the API's snake case:
    /// `pieces[2].rectangle.width_mm`.
    pub field: String,
    /// Lower-case fragment with rule and value: "must be 0 to 100 percent, got 140".
    pub message: String,
}

/// One or more violations, in the order they were found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Violations(Vec<Violation>);

impl Violations {
    /// Iterates over the violations.
    pub fn iter(&self) -> std::slice::Iter<'_, Violation> {
        self.0.iter()
    }

    /// The same violations with `path` before every field.
    #[must_use]
    pub fn below(self, path: &str) -> Self {
        let below = |violation: Violation| Violation {
            field: format!("{path}.{}", violation.field),
            ..violation
        };
        Self(self.0.into_iter().map(below).collect())
    }
}

impl<'a> IntoIterator for &'a Violations {
    type Item = &'a Violation;
    type IntoIter = std::slice::Iter<'a, Violation>;

    fn into_iter(self) -> Self::IntoIter {
        self.iter()
    }
}

impl IntoIterator for Violations {
    type Item = Violation;
    type IntoIter = std::vec::IntoIter<Violation>;

    fn into_iter(self) -> Self::IntoIter {
        self.0.into_iter()
    }
}

impl fmt::Display for Violations {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, violation) in self.0.iter().enumerate() {
            let separator = if index == 0 { "" } else { "; " };
            write!(f, "{separator}{}: {}", violation.field, violation.message)?;
        }
        Ok(())
    }
}

/// Collects violations. A field is reported once, with what was found first.
#[derive(Debug, Clone, Default)]
pub struct Checks {
    found: Vec<Violation>,
}

impl Checks {
    /// Nothing checked yet.
    pub fn new() -> Self {
        Self::default()
    }

    /// Notes `message` for `field` unless `holds`.
    pub fn require(
        &mut self,
        holds: bool,
        field: impl Into<String>,
        message: impl FnOnce() -> String,
    ) {
        if holds {
            return;
        }
        let field = field.into();
        if self.found.iter().all(|violation| violation.field != field) {
            self.found.push(Violation {
                field,
                message: message(),
            });
        }
    }

    /// Notes a value that is not a number from `low` to `high`.
    pub fn in_range(
        &mut self,
        field: impl Into<String>,
        value: f64,
        low: f64,
        high: f64,
        unit: &str,
    ) {
        let holds = value >= low && value <= high;
        self.require(holds, field, || {
            format!("must be {low} to {high} {unit}, got {value}")
        });
    }

    /// Notes a value that is not a number above `low` and up to `high`.
    pub fn above(&mut self, field: impl Into<String>, value: f64, low: f64, high: f64, unit: &str) {
        let holds = value > low && value <= high;
        self.require(holds, field, || {
            format!("must be above {low} and up to {high} {unit}, got {value}")
        });
    }

    /// As [`in_range`](Self::in_range) for a value that may be absent.
    pub fn optional_in_range(
        &mut self,
        field: impl Into<String>,
        value: Option<f64>,
        low: f64,
        high: f64,
        unit: &str,
    ) {
        if let Some(value) = value {
            self.in_range(field, value, low, high, unit);
        }
    }

    /// Takes over violations found elsewhere.
    pub fn take(&mut self, violations: Violations) {
        for Violation { field, message } in violations {
            self.require(false, field, || message);
        }
    }

    /// Whether something was found wrong with `field`. What is compared with it
    /// is then not at fault.
    pub fn has(&self, field: &str) -> bool {
        self.found.iter().any(|violation| violation.field == field)
    }

    /// Whether nothing was found so far.
    pub fn is_clean(&self) -> bool {
        self.found.is_empty()
    }

    /// Ends the checks.
    ///
    /// # Errors
    /// [`CalcError::Invalid`](crate::error::CalcError::Invalid) with everything that was found.
    pub fn finish(self) -> Result<(), crate::error::CalcError> {
        if self.found.is_empty() {
            Ok(())
        } else {
            Err(crate::error::CalcError::Invalid(Violations(self.found)))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_violation_is_kept_and_a_field_is_named_once() {
        let mut checks = Checks::new();
        checks.in_range("a", f64::NAN, 0.0, 1.0, "C");
        checks.in_range("a", 7.0, 0.0, 1.0, "C");
        checks.above("b", 0.0, 0.0, 1.0, "ml");
        checks.optional_in_range("c", None, 0.0, 1.0, "K");
        checks.in_range("d", f64::INFINITY, 0.0, 1.0, "K");
        let error = checks.finish().unwrap_err().to_string();
        assert_eq!(
            error,
            "a: must be 0 to 1 C, got NaN; b: must be above 0 and up to 1 ml, got 0; \
             d: must be 0 to 1 K, got inf"
        );
    }
}
