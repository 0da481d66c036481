//! Captures: what was recorded, and what is said of it.

use super::App;
use crate::call::{By, In, InWith, off, seen, tag, time};
use crate::contract;
use crate::problem::Problem;
use crate::surveys::Open;
use crate::wording::reasons;
use axum::Json;
use axum::extract::{Path, Query, State};
use axum::http::{HeaderMap, HeaderValue, header};
use ledger::Role;
use serde::de::Error;
use serde::{Deserialize, Deserializer, Serialize};
use serde_json::{Map, Value};
use survey::{Capture, Field, Overrides, Survey, SurveyError};
use units::{Band, Reason, Zone};
use utoipa::ToSchema;

/// What is said over a file's own metadata.
#[derive(Debug, Default, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct Over {
    /// Sample format of a raw file: cu8, ci8, ci16_le, cf32_le.
    format: Option<String>,
    /// Samples a second.
    rate_hz: Option<f64>,
    /// Centre frequency.
    centre_hz: Option<f64>,
    /// Time of the first sample.
    start: Option<String>,
    /// IANA time zone of stamps without an offset; the survey's without.
    time_zone: Option<String>,
    /// `iq` or `sound`, for a two-channel WAV.
    treat_as: Option<String>,
    /// Column mapping of a table: KEY=COLUMN[:UNIT],…
    columns: Option<String>,
    /// Name of a saved column mapping, in place of `columns`.
    map: Option<String>,
    /// Name of the recording inside an archive that holds several.
    inner: Option<String>,
}

impl Over {
    pub(super) fn read(self, survey: &Survey) -> Result<Overrides, SurveyError> {
        let columns = match (self.columns, self.map) {
            (None, Some(name)) => Some(survey.mapping(&name)?),
            (columns, _) => columns,
        };
        Ok(Overrides {
            format: self.format,
            rate_hz: self.rate_hz,
            centre_hz: self.centre_hz,
            start: time(survey, self.start.as_deref())?,
            time_zone: self.time_zone,
            treat_as: self.treat_as,
            columns,
            inner: self.inner,
        })
    }
}

/// A correction: what is left out stays as it is, and what is null is emptied.
#[derive(Debug, Default, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Amend {
    /// Why it was recorded.
    #[schema(value_type = Option<contract::Role>)]
    role: Option<Role>,
    /// Position, by name; made when named for the first time.
    at: Option<String>,
    /// Zone of a position that is new.
    #[schema(value_type = Option<contract::Zone>)]
    zone: Option<Zone>,
    /// Chain, by name.
    chain: Option<String>,
    /// Gain ahead of the converter.
    gain_db: Option<f64>,
    /// Setting.
    setting: Option<String>,
    /// How the room was.
    condition: Option<String>,
    /// Listening began.
    from: Option<String>,
    /// Listening ended.
    until: Option<String>,
    /// Bands listened to.
    #[schema(value_type = Option<Vec<contract::Band>>)]
    bands: Option<Vec<Band>>,
    /// What is said over the file's metadata.
    #[serde(default)]
    overrides: Over,
    /// What must be added to the recording's times, seconds.
    clock_s: Option<f64>,
    /// Set aside, and why.
    set_aside: Option<String>,
    /// Let it count again.
    #[serde(default)]
    restore: bool,
}

/// A correction with the fields that are null in it.
#[derive(Debug)]
pub(crate) struct Correction {
    said: Amend,
    empty: Vec<Field>,
}

impl<'de> Deserialize<'de> for Correction {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let mut members = Map::deserialize(deserializer)?;
        let mut empty = nulls(&mut members).map_err(D::Error::custom)?;
        if let Some(Value::Object(over)) = members.get_mut("overrides") {
            empty.extend(nulls(over).map_err(D::Error::custom)?);
        }
        let said = serde_json::from_value(Value::Object(members)).map_err(D::Error::custom)?;
        Ok(Correction { said, empty })
    }
}

/// Takes the members out that are null, as the fields to empty.
fn nulls(members: &mut Map<String, Value>) -> Result<Vec<Field>, String> {
    let mut fields = Vec::new();
    for (key, _) in members.iter().filter(|(_, value)| value.is_null()) {
        let field = serde_json::from_value(Value::from(key.as_str()));
        fields.push(field.map_err(|_| format!("'{key}' cannot be emptied"))?);
    }
    members.retain(|_, value| !value.is_null());
    Ok(fields)
}

/// A capture as it is since, and what to distrust.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Amended {
    /// The capture.
    #[schema(value_type = contract::Capture)]
    capture: Capture,
    /// What to distrust.
    #[schema(value_type = Vec<contract::Reason>)]
    warnings: Vec<Reason>,
}

type Tagged<T> = Result<([(header::HeaderName, HeaderValue); 1], Json<T>), Problem>;

/// All captures, in the order in which they came in.
#[utoipa::path(get, path = "/api/surveys/{survey}/captures", tag = "captures", params(In),
    responses((status = 200, description = "The captures; the survey's version is the ETag.",
        body = Vec<contract::Capture>, headers(("etag" = String, description = "Version.")))))]
pub(crate) async fn list(State(app): State<App>, Path(of): Path<In>) -> Tagged<Vec<Capture>> {
    let open = app.open(&of).await?;
    off(move || {
        let version = tag(open.survey.version()?);
        let all = open.survey.captures()?.into_iter().map(told).collect();
        Ok(([(header::ETAG, version)], Json(all)))
    })
    .await
}

/// One capture.
#[utoipa::path(get, path = "/api/surveys/{survey}/captures/{id}", tag = "captures", params(InWith),
    responses((status = 200, description = "The capture; the survey's version is the ETag.",
        body = contract::Capture, headers(("etag" = String, description = "Version.")))))]
pub(crate) async fn show(State(app): State<App>, Path(of): Path<InWith>) -> Tagged<Capture> {
    let open = app.surveys.get(&of.survey).await?;
    off(move || {
        let version = tag(open.survey.version()?);
        Ok(([(header::ETAG, version)], Json(told(capture(&open, &of.id)?))))
    })
    .await
}

/// Corrects a capture, sets it aside or lets it count again. What is null is emptied.
///
/// Needs the version that was seen as If-Match, and is refused if somebody corrected this capture since.
#[utoipa::path(patch, path = "/api/surveys/{survey}/captures/{id}", tag = "captures",
    params(InWith, By, ("if-match" = String, Header, description = "Version that was seen.")),
    request_body = Amend,
    responses((status = 200, description = "Corrected.", body = Amended,
        headers(("etag" = String, description = "Version.")))))]
pub(crate) async fn amend(
    State(app): State<App>,
    Path(of): Path<InWith>,
    Query(who): Query<By>,
    headers: HeaderMap,
    Json(Correction { said, empty }): Json<Correction>,
) -> Tagged<Amended> {
    let (open, seen) = (app.surveys.get(&of.survey).await?, seen(&headers)?);
    off(move || {
        let survey = &open.survey;
        let id = capture(&open, &of.id)?.id;
        let amend = survey::Amend {
            role: said.role,
            at: said.at,
            zone: said.zone,
            chain: said.chain,
            gain_db: said.gain_db,
            setting: said.setting,
            condition: said.condition,
            from: time(survey, said.from.as_deref())?,
            until: time(survey, said.until.as_deref())?,
            bands: said.bands,
            overrides: said.overrides.read(survey)?,
            clock_s: said.clock_s,
            set_aside: said.set_aside,
            restore: said.restore,
            empty,
            seen: Some(seen),
        };
        let warnings = reasons(survey.amend(&id, &amend, &who.by)?);
        open.analyse()?;
        let version = tag(survey.version()?);
        let amended = Amended { capture: told(survey.capture(&id)?), warnings };
        Ok(([(header::ETAG, version)], Json(amended)))
    })
    .await
}

/// A capture as a page is told of it.
fn told(capture: Capture) -> Capture {
    Capture { warnings: reasons(capture.warnings), ..capture }
}

/// The capture of this id.
fn capture(open: &Open, id: &str) -> Result<Capture, Problem> {
    let all = open.survey.captures()?;
    all.into_iter().find(|capture| capture.id.eq_ignore_ascii_case(id)).ok_or_else(|| {
        Problem::missing(format!("there is no capture {id}"), "The list of captures has them all.")
    })
}
