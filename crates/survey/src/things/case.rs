//! What was heard of the case, by what right one works, and what was found.

use ledger::FileInfo;
use serde::{Deserialize, Serialize};
use units::Utc;

/// What the client said, heard away from the suspected place.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub struct Brief {
    /// Always `brief`.
    pub id: String,
    /// For whom the survey is made, and to whom its report goes.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub client: Option<String>,
    /// What leaked.
    pub leaked: Option<String>,
    /// Who could know.
    pub who_could_know: Option<String>,
    /// Who had access.
    pub who_had_access: Option<String>,
    /// Kinds of transmitter that are feared.
    pub feared: Vec<String>,
    /// When it was heard.
    pub heard_at: Option<Utc>,
    /// Where it was heard: not in the suspected room.
    pub heard_where: Option<String>,
    /// Free text.
    pub notes: Option<String>,
}

/// The right to work, in writing.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub struct Authority {
    /// `A1`.
    pub id: String,
    /// Who gives it.
    pub who: String,
    /// By what right (owner, tenant, employer's board…).
    pub right: String,
    /// Rooms that it covers; empty means none is named.
    pub rooms: Vec<String>,
    /// From when.
    pub from: Option<Utc>,
    /// Until when.
    pub to: Option<Utc>,
    /// Whether sound or picture may be listened to or viewed; given separately.
    pub listening: bool,
    /// What the permission to listen says.
    pub listening_terms: Option<String>,
    /// The paper that says so.
    pub document: Option<String>,
}

/// A thing that was found, radiating or not.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub struct FoundItem {
    /// `F1`.
    pub id: String,
    /// What it looks like.
    pub what: String,
    /// Where it lies: position id or words.
    pub place: Option<String>,
    /// When it was found.
    pub found_at: Option<Utc>,
    /// By whom.
    pub found_by: Option<String>,
    /// Whether it radiated when it was found.
    pub radiating: Option<bool>,
    /// Rows of the ledger that it explains; none or several.
    pub emissions: Vec<String>,
    /// Photographs, evidence files of the survey.
    pub photographs: Vec<FileInfo>,
    /// Who had it, when.
    pub custody: Vec<Custody>,
    /// Free text.
    pub notes: Option<String>,
}

/// One step in the custody of a found item.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub struct Custody {
    /// When.
    pub at: Option<Utc>,
    /// Who had it before.
    pub from: Option<String>,
    /// Who has it since.
    pub to: Option<String>,
    /// Seal, bag, place.
    pub note: Option<String>,
}

/// What the technician concludes, in their own words: what the report prints as opinion.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub struct Statement {
    /// Always `statement`.
    pub id: String,
    /// The answer in plain words. Paragraphs are parted by an empty line.
    pub summary: Option<String>,
    /// What the client should do. Paragraphs are parted by an empty line.
    pub advice: Option<String>,
    /// What is to be thought of single findings.
    pub opinions: Vec<Opinion>,
    /// Who answers for the report.
    pub author: Option<String>,
    /// By what training, licence or practice.
    pub qualification: Option<String>,
}

/// What the technician thinks of one finding.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub struct Opinion {
    /// Row of the ledger, or found item: `E7`, `F1`.
    pub of: String,
    /// What it is and why it matters, as judged.
    pub text: Option<String>,
    /// What should be done about it.
    pub advice: Option<String>,
}

/// A device or network address of an emission, as a person states it.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub struct Identity {
    /// `I1`.
    pub id: String,
    /// Row of the ledger.
    pub emission: String,
    /// Device or network address, cell.
    pub identity: String,
    /// How it is known.
    pub source: Option<String>,
}
