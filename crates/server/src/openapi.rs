//! The description of the API: from the routes, with the schemas of the contracts from the crates
//! that own them. Both speak JSON Schema 2020-12, as OpenAPI 3.1 does.

use crate::{Config, api, contract};
use serde_json::{Map, Value, json};
use std::collections::BTreeSet;

/// The OpenAPI document.
pub fn openapi() -> Value {
    let (_, described) = api::routes(Config::PATIENCE).split_for_parts();
    let mut document = serde_json::to_value(described).unwrap_or_default();
    let mut settings = schemars::generate::SchemaSettings::draft2020_12().for_serialize();
    settings.definitions_path = "/components/schemas".into();
    let mut generator = settings.into_generator();
    contract::generate(&mut generator);
    let owned = generator.take_definitions(true);
    if let Some(schemas) =
        document.pointer_mut("/components/schemas").and_then(Value::as_object_mut)
    {
        // A name that a route describes itself must not be a contract's too.
        let held = |there: &Value| *there == json!({"type": "object"});
        let taken = schemas.iter().find(|(name, there)| owned.contains_key(*name) && !held(there));
        assert!(taken.is_none(), "two schemas are named {taken:?}");
        schemas.extend(owned);
        sort(schemas);
    }
    finish(&mut document);
    document
}

/// Every operation may be refused, always in the same words, and has a name of its own: that of its
/// resource and of what is done.
///
/// # Panics
/// If two operations have one name: what is made from the description would mix them up.
fn finish(document: &mut Value) {
    let mut names = BTreeSet::new();
    let problem = json!({
        "description": "Refused, or could not: what is wrong and what to do (RFC 9457).",
        "content": {"application/problem+json": {"schema": {"$ref": "#/components/schemas/Problem"}}},
    });
    let paths = document.pointer_mut("/paths").and_then(Value::as_object_mut);
    for path in paths.into_iter().flat_map(|paths| paths.values_mut()) {
        for operation in path.as_object_mut().into_iter().flat_map(|o| o.values_mut()) {
            let resource = operation.pointer("/tags/0").and_then(Value::as_str).unwrap_or_default();
            let done = operation.get("operationId").and_then(Value::as_str).unwrap_or_default();
            let name = format!("{resource}-{done}");
            assert!(names.insert(name.clone()), "two operations are named {name}");
            if let Some(operation) = operation.as_object_mut() {
                operation.insert("operationId".into(), name.into());
            }
            if let Some(responses) = operation.get_mut("responses").and_then(Value::as_object_mut) {
                responses.insert("default".into(), problem.clone());
            }
        }
    }
}

fn sort(schemas: &mut Map<String, Value>) {
    let mut all: Vec<_> = std::mem::take(schemas).into_iter().collect();
    all.sort_by(|a, b| a.0.cmp(&b.0));
    schemas.extend(all);
}
