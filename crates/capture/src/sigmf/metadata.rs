//! The metadata file: JSON with `global`, `captures`, `annotations`. Every field is kept, known or
//! not.

use super::fields::{Fields, shortened};
use crate::number::{Number, NumberKind};
use crate::source::ByteSource;
use crate::{Annotation, CaptureError, Place};
use serde_json::{Map, Value};
use std::path::Path;
use units::Reason;

/// Larger metadata are refused rather than loaded.
const MOST_BYTES: u64 = 512 << 20;

/// What a metadata file holds.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Metadata {
    /// Fields of the whole recording.
    pub global: Map<String, Value>,
    /// One object a segment.
    pub captures: Vec<Map<String, Value>>,
    /// One object a claim.
    pub annotations: Vec<Map<String, Value>>,
    /// Other top-level objects.
    pub other: Map<String, Value>,
}

impl Metadata {
    /// From the bytes of a file named `path`.
    ///
    /// # Errors
    /// If it is no JSON (with the byte), or lacks `global` or `captures`.
    pub fn parse(bytes: &[u8], path: &Path) -> Result<Self, CaptureError> {
        let Value::Object(mut top) = parse_json(bytes, path)? else {
            return Err(not_metadata(path));
        };
        let Some(Value::Object(global)) = top.remove("global") else {
            return Err(not_metadata(path));
        };
        let captures = objects(top.remove("captures"), "captures", path)?;
        let annotations = objects(top.remove("annotations"), "annotations", path)?;
        Ok(Metadata { global, captures, annotations, other: top })
    }

    pub(super) fn read(path: &Path, source: &dyn ByteSource) -> Result<Self, CaptureError> {
        Metadata::parse(&read_small(path, source)?, path)
    }

    pub(super) fn global<'a>(&'a self, file: &'a Path) -> Fields<'a> {
        Fields { map: &self.global, place: "global".to_owned(), file }
    }

    /// The file's text.
    pub fn to_json(&self) -> String {
        let mut top = self.other.clone();
        let list = |maps: &[Map<String, Value>]| maps.iter().cloned().map(Value::Object).collect();
        top.insert("global".into(), Value::Object(self.global.clone()));
        top.insert("captures".into(), list(&self.captures));
        top.insert("annotations".into(), list(&self.annotations));
        let mut text = format!("{:#}", Value::Object(top));
        text.push('\n');
        text
    }
}

/// The whole of a metadata file.
pub(super) fn read_small(path: &Path, source: &dyn ByteSource) -> Result<Vec<u8>, CaptureError> {
    let size = source.size();
    if size > MOST_BYTES {
        return Err(CaptureError::refused(
            path,
            Place::Whole,
            format!("as metadata it is {size} bytes long"),
            format!("at most {MOST_BYTES}"),
            "Name the recording's own metadata file.",
        ));
    }
    let mut bytes = vec![0; size as usize];
    let n = source.read_full(0, &mut bytes).map_err(|e| CaptureError::disk(path, "read it", e))?;
    bytes.truncate(n);
    Ok(bytes)
}

/// JSON, or the byte where it stops being JSON.
pub(super) fn parse_json(bytes: &[u8], path: &Path) -> Result<Value, CaptureError> {
    let text = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    serde_json::from_slice(text).map_err(|e| {
        let lines = text.split_inclusive(|&b| b == b'\n').take(e.line().saturating_sub(1));
        let before: usize = lines.map(<[u8]>::len).sum();
        let at = bytes.len() - text.len() + before + e.column().saturating_sub(1);
        CaptureError::refused(
            path,
            Place::Byte(at as u64),
            format!("it is no JSON here ({e})"),
            "SigMF metadata",
            "Correct it with a text editor, or look for another copy.",
        )
    })
}

fn objects(
    value: Option<Value>,
    name: &str,
    path: &Path,
) -> Result<Vec<Map<String, Value>>, CaptureError> {
    let refuse = |place: String, found: &Value, expected: &str| {
        CaptureError::refused(
            path,
            Place::Field(place),
            format!("it is {}", shortened(found)),
            expected,
            "Correct the metadata file with a text editor.",
        )
    };
    let list = match value {
        None | Some(Value::Null) => return Ok(Vec::new()),
        Some(Value::Array(list)) => list,
        Some(other) => return Err(refuse(name.to_owned(), &other, "a list of objects")),
    };
    let object = |(i, value)| match value {
        Value::Object(map) => Ok(map),
        other => Err(refuse(format!("{name}[{i}]"), &other, "an object")),
    };
    list.into_iter().enumerate().map(object).collect()
}

#[cold]
fn not_metadata(path: &Path) -> CaptureError {
    CaptureError::refused(
        path,
        Place::Field("global".into()),
        "there is no such object",
        "SigMF metadata with 'global' and 'captures'",
        "Name a recording's metadata file.",
    )
}

/// How a number of a sample is stored, from `core:datatype`.
pub(super) fn number(global: &Fields, warnings: &mut Vec<Reason>) -> Result<Number, CaptureError> {
    const KEY: &str = "core:datatype";
    const COMPLEX: &str = "one of cu8 ci8 cu16_le ci16_le cu32_le ci32_le cf32_le cf64_le, or _be";
    let refuse = |found: String, remedy: &str| Err(global.refuse(KEY, found, COMPLEX, remedy));
    let Some(word) = global.text(KEY)? else {
        return refuse(
            "it is missing".into(),
            "Add it, or name the data with --format and --rate.",
        );
    };
    let (name, order) = match word.rsplit_once('_') {
        Some((name, order @ ("le" | "be"))) => (name, Some(order)),
        _ => (word, None),
    };
    let kind = match name {
        "cu8" => NumberKind::U8,
        "ci8" => NumberKind::I8,
        "cu16" => NumberKind::U16,
        "ci16" => NumberKind::I16,
        "cu32" => NumberKind::U32,
        "ci32" => NumberKind::I32,
        "cf32" => NumberKind::F32,
        "cf64" => NumberKind::F64,
        real if real.starts_with('r') => {
            return refuse(
                format!("'{word}' are real samples, not complex"),
                "Real samples have no reader: convert them to complex ones (analytic signal).",
            );
        }
        _ => return refuse(format!("'{word}' is not known"), "Correct the field."),
    };
    let number = Number { kind, big_endian: order == Some("be") };
    if order.is_none() && number.bytes() > 1 {
        warnings.push(
            Reason::new(
                "byte_order_assumed",
                format!(
                    "core:datatype '{word}' does not say its byte order: little-endian is taken"
                ),
            )
            .with("datatype", word),
        );
    }
    Ok(number)
}

/// The annotations, counted from the recording's first sample, which is the file's `shift`. One
/// that cannot be read is left out with a warning: claims are for people.
pub(super) fn claims(
    metadata: &Metadata,
    path: &Path,
    shift: u64,
    warnings: &mut Vec<Reason>,
) -> Vec<Annotation> {
    let mut claims = Vec::with_capacity(metadata.annotations.len());
    let mut first_fault = None;
    let mut faults = 0;
    for (i, map) in metadata.annotations.iter().enumerate() {
        let fields = Fields { map, place: format!("annotations[{i}]"), file: path };
        match claim(&fields, shift) {
            Ok(claim) => claims.push(claim),
            Err(e) => {
                faults += 1;
                first_fault.get_or_insert(e);
            }
        }
    }
    if let Some(e) = first_fault {
        warnings.push(
            Reason::new(
                "claim_unreadable",
                format!("{faults} annotations left out; the first: {e}"),
            )
            .with("count", f64::from(faults)),
        );
    }
    claims
}

fn claim(fields: &Fields, shift: u64) -> Result<Annotation, CaptureError> {
    let owned = |text: Option<&str>| text.map(str::to_owned);
    Ok(Annotation {
        first_sample: fields.index("core:sample_start")?.unwrap_or(shift).saturating_sub(shift),
        samples: fields.index("core:sample_count")?,
        low_hz: fields.number("core:freq_lower_edge")?,
        high_hz: fields.number("core:freq_upper_edge")?,
        label: owned(fields.text("core:label")?),
        comment: owned(fields.text("core:comment")?),
        generator: owned(fields.text("core:generator")?),
    })
}
