//! What is said of files that are brought in, and what is told of them afterwards.

use crate::things::{Capture, Overrides};
use ledger::Role;
use serde_json::{Value, json};
use std::path::PathBuf;
use units::{Band, Reason, Utc, Zone};

/// What is said of the files that are brought in.
#[derive(Debug, Clone)]
pub struct AddOptions {
    /// Why they were recorded.
    pub role: Role,
    /// Position, by name; made if it is named for the first time.
    pub at: Option<String>,
    /// What the position is to the premises, where it is new.
    pub zone: Option<Zone>,
    /// Chain, by the user's name.
    pub chain: Option<String>,
    /// Gain ahead of the converter, dB.
    pub gain_db: Option<f64>,
    /// Setting that changes what levels mean.
    pub setting: Option<String>,
    /// How the room was.
    pub condition: Option<String>,
    /// Listening began.
    pub from: Option<Utc>,
    /// Listening ended.
    pub until: Option<Utc>,
    /// Bands listened to.
    pub bands: Vec<Band>,
    /// What is said over the files' metadata.
    pub overrides: Overrides,
    /// Column mappings of single files, where that differs from one to the next.
    pub columns: Vec<(PathBuf, String)>,
    /// Store only; analyse at the next command.
    pub later: bool,
    /// The same recording may count at another position too.
    pub again: bool,
}

impl AddOptions {
    /// Nothing said but why.
    pub fn new(role: Role) -> Self {
        AddOptions {
            role,
            at: None,
            zone: None,
            chain: None,
            gain_db: None,
            setting: None,
            condition: None,
            from: None,
            until: None,
            bands: Vec::new(),
            overrides: Overrides::default(),
            columns: Vec::new(),
            later: false,
            again: false,
        }
    }
}

/// One recording that was brought in.
#[derive(Debug, Clone, PartialEq)]
pub struct Added {
    /// Its id, `C1`.
    pub capture: String,
    /// The file that holds its samples or rows, as it was named.
    pub file: PathBuf,
    /// Whether it was there before, and nothing was done.
    pub already: bool,
    /// What to distrust.
    pub warnings: Vec<Reason>,
}

/// What is said of a recording that is there already, and otherwise than it was said then.
pub(super) fn said_otherwise(there: &Capture, said: &AddOptions) -> Option<Reason> {
    let (was, is) = (&there.overrides, &said.overrides);
    let bands = Some(&said.bands).filter(|bands| !bands.is_empty());
    let pairs: [(&str, Value, Value); 14] = [
        ("--role", json!(there.role), json!(said.role)),
        ("--chain", json!(there.chain.to_lowercase()), json!(lower(&said.chain))),
        ("--gain", json!(there.gain_db), json!(said.gain_db)),
        ("--setting", json!(there.setting), json!(said.setting)),
        ("--condition", json!(lower(&there.condition)), json!(lower(&said.condition))),
        ("--from", json!(there.from), json!(said.from)),
        ("--until", json!(there.until), json!(said.until)),
        ("--bands", json!(there.bands), json!(bands)),
        ("--format", json!(was.format), json!(is.format)),
        ("--rate", json!(was.rate_hz), json!(is.rate_hz)),
        ("--centre", json!(was.centre_hz), json!(is.centre_hz)),
        ("--start", json!(was.start), json!(is.start)),
        ("--as", json!(was.treat_as), json!(is.treat_as)),
        ("--columns", json!(was.columns), json!(is.columns)),
    ];
    let mut differs: Vec<String> = pairs
        .into_iter()
        .filter(|(_, was, is)| !is.is_null() && was != is)
        .map(|(option, was, is)| {
            let word = |value: &Value| value.as_str().map_or(value.to_string(), str::to_owned);
            let was = if was.is_null() { "unstated".into() } else { word(&was) };
            format!("{option} is {was} there, {} here", word(&is))
        })
        .collect();
    if let Some(zone) = is.time_zone.as_ref().filter(|zone| Some(*zone) != was.time_zone.as_ref()) {
        let was = was.time_zone.as_deref().unwrap_or("unstated");
        differs.push(format!("--time-zone is {was} there, {zone} here"));
    }
    (!differs.is_empty()).then(|| {
        let id = there.id.as_str();
        let text = format!(
            "This recording is {id} already, and what is said of it now was not taken over: {}. \
             `amend {id}` with those options corrects it.",
            differs.join("; ")
        );
        Reason::new("already_said_otherwise", text).with("capture", id)
    })
}

fn lower(text: &Option<String>) -> Option<String> {
    text.as_ref().map(|text| text.trim().to_lowercase())
}
