//! What is noted by hand: readings, stimuli, remarks, movements.

use super::App;
use crate::call::{By, In, off, time};
use crate::contract;
use crate::problem::Problem;
use axum::Json;
use axum::extract::{Path, Query, State};
use axum::http::StatusCode;
use serde::{Deserialize, Serialize};
use survey::{ReadingNote, Survey, SurveyError};
use units::{Band, Strength, Zone};
use utoipa::ToSchema;

/// A note.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(tag = "kind", rename_all = "kebab-case", deny_unknown_fields)]
pub(crate) enum Note {
    /// A strength or level read.
    Reading {
        /// Position, by name.
        at: String,
        /// When; now without.
        when: Option<String>,
        /// Frequency (both edges equal) or band.
        #[schema(value_type = Option<contract::Band>)]
        band: Option<Band>,
        /// Row that it was taken of.
        emission: Option<String>,
        /// Strength read.
        #[schema(value_type = Option<contract::Strength>)]
        strength: Option<Strength>,
        /// Level read.
        level_dbm: Option<f64>,
        /// Bearing, degrees from north.
        bearing_deg: Option<f64>,
        /// What was heard.
        heard: Option<String>,
        /// Chain, by name.
        chain: Option<String>,
        /// Its setting.
        setting: Option<String>,
    },
    /// Something done to provoke.
    Stimulus {
        /// What.
        what: String,
        /// Position, by name.
        at: Option<String>,
        /// From when; now without.
        from: Option<String>,
        /// Until when.
        until: Option<String>,
    },
    /// Something seen or done.
    Remark {
        /// In the person's words.
        text: String,
        /// Position, by name.
        at: Option<String>,
        /// From when; now without.
        from: Option<String>,
        /// Until when.
        until: Option<String>,
    },
    /// Arrived at a position.
    Movement {
        /// Position, by name.
        at: String,
        /// When; now without.
        when: Option<String>,
        /// Chain that was carried, by name.
        chain: Option<String>,
    },
}

/// A note at a place.
#[derive(Debug, Deserialize, ToSchema)]
pub(crate) struct Noting {
    /// Zone of a position that is new.
    #[schema(value_type = Option<contract::Zone>)]
    zone: Option<Zone>,
    /// What is noted.
    note: Note,
}

/// What was noted.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Noted {
    /// Its id.
    id: String,
}

/// Notes a reading, stimulus, remark or movement.
#[utoipa::path(post, path = "/api/surveys/{survey}/notes", tag = "notes", params(In, By),
    request_body = Noting, responses((status = 201, description = "Noted.", body = Noted)))]
pub(crate) async fn note(
    State(app): State<App>,
    Path(of): Path<In>,
    Query(who): Query<By>,
    Json(said): Json<Noting>,
) -> Result<(StatusCode, Json<Noted>), Problem> {
    let open = app.open(&of).await?;
    off(move || {
        let note = read(said.note, &open.survey)?;
        let id = open.survey.note_in(&note, said.zone, &who.by)?;
        // A recording that was carried about is cut differently since.
        open.analyse()?;
        Ok((StatusCode::CREATED, Json(Noted { id })))
    })
    .await
}

fn read(note: Note, survey: &Survey) -> Result<survey::Note, SurveyError> {
    let time = |typed: Option<String>| time(survey, typed.as_deref());
    Ok(match note {
        Note::Reading {
            at,
            when,
            band,
            emission,
            strength,
            level_dbm,
            bearing_deg,
            heard,
            chain,
            setting,
        } => survey::Note::Reading(ReadingNote {
            at,
            when: time(when)?,
            band,
            emission,
            strength,
            level_dbm,
            bearing_deg,
            heard,
            chain,
            setting,
        }),
        Note::Stimulus { what, at, from, until } => {
            survey::Note::Stimulus { what, at, from: time(from)?, until: time(until)? }
        }
        Note::Remark { text, at, from, until } => {
            survey::Note::Remark { text, at, from: time(from)?, until: time(until)? }
        }
        Note::Movement { at, when, chain } => {
            survey::Note::Arrived { at, when: time(when)?, chain }
        }
    })
}
