//! Where, when and with what a capture was made, as typed for `add` and `amend`.

use crate::args::{AsArg, FieldArg, FormatArg, RoleArg, Said, ZoneArg};
use ledger::Role;
use survey::{Field, Survey};
use units::{Utc, Zone};

impl From<RoleArg> for Role {
    fn from(role: RoleArg) -> Role {
        match role {
            RoleArg::Reference => Role::Reference,
            RoleArg::Room => Role::Room,
            RoleArg::Walk => Role::Walk,
            RoleArg::Check => Role::Check,
            RoleArg::NoAntenna => Role::NoAntenna,
        }
    }
}

impl From<ZoneArg> for Zone {
    fn from(zone: ZoneArg) -> Zone {
        match zone {
            ZoneArg::Inside => Zone::Inside,
            ZoneArg::Adjacent => Zone::Adjacent,
            ZoneArg::Outside => Zone::Outside,
            ZoneArg::Moving => Zone::Moving,
        }
    }
}

impl From<FieldArg> for Field {
    fn from(field: FieldArg) -> Field {
        match field {
            FieldArg::At => Field::At,
            FieldArg::Chain => Field::Chain,
            FieldArg::Gain => Field::GainDb,
            FieldArg::Setting => Field::Setting,
            FieldArg::Condition => Field::Condition,
            FieldArg::From => Field::From,
            FieldArg::Until => Field::Until,
            FieldArg::Bands => Field::Bands,
            FieldArg::Clock => Field::ClockS,
            FieldArg::Format => Field::Format,
            FieldArg::Rate => Field::RateHz,
            FieldArg::Centre => Field::CentreHz,
            FieldArg::Start => Field::Start,
            FieldArg::TimeZone => Field::TimeZone,
            FieldArg::As => Field::TreatAs,
            FieldArg::Columns => Field::Columns,
        }
    }
}

/// The readers' word for a raw format.
pub fn format_word(format: FormatArg) -> &'static str {
    match format {
        FormatArg::Cu8 => "cu8",
        FormatArg::Ci8 => "ci8",
        FormatArg::Ci16Le => "ci16_le",
        FormatArg::Cf32Le => "cf32_le",
    }
}

/// A time as typed, in the survey's time zone where it has no offset.
pub fn time(survey: &Survey, typed: Option<&str>) -> anyhow::Result<Option<Utc>> {
    Ok(typed.map(|text| survey.time(text)).transpose()?)
}

/// What is said over a file's metadata, as the record keeps it.
pub fn overrides(survey: &Survey, said: &Said) -> anyhow::Result<survey::Overrides> {
    let columns = match (&said.mapping.columns, &said.mapping.map) {
        (Some(columns), _) => Some(columns.clone()),
        (None, Some(name)) => Some(survey.mapping(name)?),
        (None, None) => None,
    };
    let typed = &said.overrides;
    Ok(survey::Overrides {
        format: typed.format.map(|f| format_word(f).to_owned()),
        rate_hz: typed.rate,
        centre_hz: typed.centre,
        start: time(survey, typed.start.as_deref())?,
        time_zone: said.circumstances.time_zone.clone(),
        treat_as: typed.treat_as.map(|kind| match kind {
            AsArg::Iq => "iq".to_owned(),
            AsArg::Sound => "sound".to_owned(),
        }),
        columns,
        inner: None,
    })
}
