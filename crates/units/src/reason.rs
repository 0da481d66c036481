//! A reason or warning: a code, a sentence with its numbers, and the numbers by name.

use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// A reason or a warning, kept apart from its wording so that it can be translated.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Reason {
    /// Stable word for programs, `only_inside`.
    pub code: String,
    /// English sentence with the numbers in it.
    pub text: String,
    /// The numbers and names, units in their keys (`excess_db`).
    pub values: BTreeMap<String, Value>,
}

/// A value of a [`Reason`].
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(untagged)]
pub enum Value {
    /// A number; its unit stands in its key.
    Number(f64),
    /// A name.
    Text(String),
}

impl From<f64> for Value {
    fn from(x: f64) -> Self {
        Value::Number(x)
    }
}
impl From<&str> for Value {
    fn from(x: &str) -> Self {
        Value::Text(x.to_owned())
    }
}
impl From<String> for Value {
    fn from(x: String) -> Self {
        Value::Text(x)
    }
}

impl Reason {
    /// A reason without values; add them with [`Reason::with`].
    pub fn new(code: &str, text: impl Into<String>) -> Self {
        Reason { code: code.to_owned(), text: text.into(), values: BTreeMap::new() }
    }
    /// The same with one more value.
    #[must_use]
    pub fn with(mut self, key: &str, value: impl Into<Value>) -> Self {
        self.values.insert(key.to_owned(), value.into());
        self
    }
}
