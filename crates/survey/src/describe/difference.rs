//! One difference between the survey and a text, and how it is told.

use crate::canonical::text_of;
use serde_json::{Map, Value};
use std::fmt;

/// One thing that the survey says otherwise than a text.
#[derive(Debug, Clone, PartialEq)]
pub struct Difference {
    /// Kind of thing: `position`.
    pub kind: String,
    /// Its id.
    pub id: String,
    /// What the survey said; `None` if it did not have it.
    pub was: Option<Value>,
    /// What the text says; `None` if it leaves it out.
    pub is: Option<Value>,
}

impl fmt::Display for Difference {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.kind.replace('-', " "))?;
        if self.kind != self.id {
            write!(f, " {}", self.id)?;
        }
        let nothing = Map::new();
        let was = self.was.as_ref().and_then(Value::as_object);
        let is = self.is.as_ref().and_then(Value::as_object);
        let named = was.or(is).and_then(|thing| thing.get("name").or(thing.get("what")));
        if let (Some(Value::String(name)), true) = (named, self.kind != self.id) {
            write!(f, " ({name})")?;
        }
        let (verb, was, is) = match (was, is) {
            (Some(was), Some(is)) => ("", was, is),
            (Some(was), None) => (" is taken out", was, &nothing),
            (None, is) => (" is new", &nothing, is.unwrap_or(&nothing)),
        };
        let mut keys: Vec<_> = was.keys().chain(is.keys()).filter(|key| *key != "id").collect();
        keys.sort();
        keys.dedup();
        let empty = |value: &Value| value.as_array().is_some_and(Vec::is_empty);
        let mut changed: Vec<_> =
            keys.into_iter().filter(|key| was.get(*key) != is.get(*key)).collect();
        if !verb.is_empty() {
            // Its name was said; of what is there or not there at once, empty lists say nothing.
            changed
                .retain(|key| *key != "name" && !was.get(*key).or(is.get(*key)).is_some_and(empty));
        }
        write!(f, "{verb}:")?;
        for (i, key) in changed.into_iter().enumerate() {
            let comma = if i > 0 { "," } else { "" };
            match (was.get(key), is.get(key), verb) {
                (was, is, "") => write!(f, "{comma} {key} {} → {}", told(was), told(is))?,
                (was, is, _) => write!(f, "{comma} {key} {}", told(was.or(is)))?,
            }
        }
        Ok(())
    }
}

fn told(value: Option<&Value>) -> String {
    value.map_or("nothing".into(), text_of)
}
