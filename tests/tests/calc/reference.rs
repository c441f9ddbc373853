//! What the Python libraries answered: `tests/python/reference.py`, run once.

use std::process::Command;

use lamella_tests::python;
use serde_json::Value;

/// The answers by key, `calculator.name`.
#[derive(Debug)]
pub(crate) struct Reference(Value);

impl Reference {
    /// Runs the libraries.
    ///
    /// # Panics
    /// When Python or a library is missing or fails; none is skipped.
    pub(crate) fn ask() -> Self {
        let output = Command::new(python::interpreter())
            .arg(python::script("reference.py"))
            .output()
            .expect("the Python interpreter starts");
        assert!(
            output.status.success(),
            "reference.py failed: {}",
            String::from_utf8_lossy(&output.stderr)
        );
        Self(serde_json::from_slice(&output.stdout).expect("reference.py prints JSON"))
    }

    /// One number.
    ///
    /// # Panics
    /// When there is no such key, or it is not a number.
    pub(crate) fn number(&self, key: &str) -> f64 {
        self.0[key]
            .as_f64()
            .unwrap_or_else(|| panic!("reference.py gives no number `{key}`: {}", self.0[key]))
    }

    /// A list of numbers, such as a curve.
    ///
    /// # Panics
    /// When there is no such key, or it is not a list of numbers.
    pub(crate) fn numbers(&self, key: &str) -> Vec<f64> {
        self.list(key)
            .iter()
            .map(|value| {
                value
                    .as_f64()
                    .unwrap_or_else(|| panic!("`{key}` holds {value}, not a number"))
            })
            .collect()
    }

    /// A list of rows of numbers, such as a grid of inputs with their answers.
    ///
    /// # Panics
    /// When there is no such key, or it is not a list of lists of numbers.
    pub(crate) fn rows(&self, key: &str) -> Vec<Vec<f64>> {
        self.list(key)
            .iter()
            .map(|row| serde_json::from_value(row.clone()).expect("a row of numbers"))
            .collect()
    }

    fn list(&self, key: &str) -> &Vec<Value> {
        self.0[key]
            .as_array()
            .unwrap_or_else(|| panic!("reference.py gives no list `{key}`"))
    }
}
