//! Fields of a JSON object with their place, so that what is wrong can be pointed at.

use crate::{CaptureError, Place};
use serde_json::{Map, Value};
use std::path::Path;

/// One JSON object, its file and its place in it.
pub(super) struct Fields<'a> {
    pub(super) map: &'a Map<String, Value>,
    pub(super) place: String,
    pub(super) file: &'a Path,
}

impl<'a> Fields<'a> {
    /// A number; `None` where the field is absent.
    pub(super) fn number(&self, key: &str) -> Result<Option<f64>, CaptureError> {
        self.get(key, "a number", |v| v.as_f64().filter(|x| x.is_finite()))
    }

    /// A whole number from 0 on, also where written as `0.0`.
    pub(super) fn index(&self, key: &str) -> Result<Option<u64>, CaptureError> {
        let whole = |x: &f64| *x >= 0.0 && *x < 9e15 && x.fract() == 0.0;
        self.get(key, "a whole number from 0 on", |v| {
            v.as_u64().or_else(|| v.as_f64().filter(whole).map(|x| x as u64))
        })
    }

    /// A text.
    pub(super) fn text(&self, key: &str) -> Result<Option<&'a str>, CaptureError> {
        self.get(key, "a text", Value::as_str)
    }

    /// True or false.
    pub(super) fn flag(&self, key: &str) -> Result<Option<bool>, CaptureError> {
        self.get(key, "true or false", Value::as_bool)
    }

    fn get<T>(
        &self,
        key: &str,
        expected: &str,
        read: impl Fn(&'a Value) -> Option<T>,
    ) -> Result<Option<T>, CaptureError> {
        match self.map.get(key) {
            None | Some(Value::Null) => Ok(None),
            Some(value) => read(value).map(Some).ok_or_else(|| {
                let remedy = "Correct the metadata file with a text editor.";
                self.refuse(key, format!("it is {}", shortened(value)), expected, remedy)
            }),
        }
    }

    /// A refusal that points at the field.
    #[cold]
    pub(super) fn refuse(
        &self,
        key: &str,
        found: impl Into<String>,
        expected: &str,
        remedy: &str,
    ) -> CaptureError {
        let place = Place::Field(format!("{}.{key}", self.place));
        CaptureError::refused(self.file, place, found, expected, remedy)
    }
}

/// A value for a message, cut where it is long.
pub(super) fn shortened(value: &Value) -> String {
    let text = value.to_string();
    match text.char_indices().nth(60) {
        Some((end, _)) => format!("{}…", &text[..end]),
        None => text,
    }
}
