//! The part of JSON Schema (draft 2020-12) that the committed schemas use. A keyword that this does
//! not know fails, so that nothing is passed over.

use serde_json::Value;

/// Checks a document against a schema of docs/schemas; every fault with the place where it is.
pub fn faults(schema: &Value, document: &Value) -> Vec<String> {
    let mut faults = Vec::new();
    check(schema, schema, document, "", &mut faults);
    faults
}

fn check(root: &Value, schema: &Value, at: &Value, place: &str, faults: &mut Vec<String>) {
    let Some(keywords) = schema.as_object() else {
        if schema == &Value::Bool(false) {
            faults.push(format!("{place}: nothing may stand here"));
        }
        return;
    };
    for (keyword, wanted) in keywords {
        let fits = match keyword.as_str() {
            "$schema" | "$defs" | "title" | "description" | "format" | "default" => true,
            "$ref" => {
                let name = wanted.as_str().and_then(|r| r.strip_prefix("#/")).expect("a local ref");
                let schema = root.pointer(&format!("/{name}")).expect("a definition");
                check(root, schema, at, place, faults);
                true
            }
            "type" => match wanted {
                Value::Array(types) => types.iter().any(|t| is(at, t)),
                one => is(at, one),
            },
            "const" => at == wanted,
            "enum" => wanted.as_array().expect("a list").contains(at),
            "minimum" => at.as_f64().is_none_or(|x| x >= wanted.as_f64().expect("a number")),
            "required" => {
                for name in wanted.as_array().expect("a list") {
                    let name = name.as_str().expect("a name");
                    if at.as_object().is_some_and(|o| !o.contains_key(name)) {
                        faults.push(format!("{place}: '{name}' is missing"));
                    }
                }
                true
            }
            "properties" => {
                for (name, schema) in wanted.as_object().expect("an object") {
                    if let Some(value) = at.get(name) {
                        check(root, schema, value, &format!("{place}/{name}"), faults);
                    }
                }
                true
            }
            "additionalProperties" => {
                let known = keywords.get("properties").and_then(Value::as_object);
                for (name, value) in at.as_object().into_iter().flatten() {
                    if known.is_none_or(|k| !k.contains_key(name)) {
                        check(root, wanted, value, &format!("{place}/{name}"), faults);
                    }
                }
                true
            }
            "items" => {
                for (i, value) in at.as_array().into_iter().flatten().enumerate() {
                    check(root, wanted, value, &format!("{place}/{i}"), faults);
                }
                true
            }
            "anyOf" | "oneOf" => {
                let fitting = wanted.as_array().expect("a list").iter().filter(|schema| {
                    let mut own = Vec::new();
                    check(root, schema, at, place, &mut own);
                    own.is_empty()
                });
                let fitting = fitting.count();
                fitting == 1 || (keyword == "anyOf" && fitting > 1)
            }
            unknown => panic!("the schema uses '{unknown}', which this check does not know"),
        };
        if !fits {
            faults.push(format!("{place}: {at} is against {keyword} {wanted}"));
        }
    }
}

fn is(value: &Value, name: &Value) -> bool {
    match name.as_str().expect("a type") {
        "null" => value.is_null(),
        "boolean" => value.is_boolean(),
        "string" => value.is_string(),
        "number" => value.is_number(),
        "integer" => value.is_u64() || value.is_i64(),
        "array" => value.is_array(),
        "object" => value.is_object(),
        other => panic!("type '{other}'"),
    }
}
