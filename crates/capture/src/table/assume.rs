//! What a proposal has to assume where a table names no unit: each assumption is a sentence.

use super::looks::Looks;
use super::mapping::TimeForm;
use super::named::{named, only};
use super::sheet::Beginning;
use super::unit::{DurationUnit, FrequencyUnit, level_name, level_unit};
use units::LevelUnit;

pub(super) fn either(either_order: bool, form: &Option<TimeForm>, assumed: &mut Vec<String>) {
    if let (true, Some(TimeForm::Pattern(pattern))) = (either_order, form) {
        assumed.push(format!(
            "dates are taken as {pattern}: day and month could be the other way round"
        ));
    }
}

pub(super) fn frequency_unit(
    look: &Looks<'_>,
    beginning: &Beginning,
    assumed: &mut Vec<String>,
) -> Option<FrequencyUnit> {
    if look.has_units {
        return None;
    }
    let comments: Vec<&str> = beginning.comments.iter().map(String::as_str).collect();
    let named = named(look.name, FrequencyUnit::from_word);
    named.or_else(|| only(&comments, FrequencyUnit::from_word)).or_else(|| {
        let unit = by_size(look.most);
        assumed.push(format!(
            "frequencies are taken as {}, since nothing names their unit",
            unit.name()
        ));
        Some(unit)
    })
}

pub(super) fn level_unit_of(
    look: &Looks<'_>,
    beginning: &Beginning,
    assumed: &mut Vec<String>,
) -> Option<LevelUnit> {
    if look.has_units {
        return None;
    }
    let comments: Vec<&str> = beginning.comments.iter().map(String::as_str).collect();
    let named = named(look.name, level_unit);
    named.or_else(|| only(&comments, level_unit)).or_else(|| Some(level_assumed(assumed)))
}

pub(super) fn level_assumed(assumed: &mut Vec<String>) -> LevelUnit {
    let unit = LevelUnit::Dbfs;
    assumed.push(format!(
        "levels are taken as {} (relative to full scale), since nothing names their unit: say dBm only if \
         the receiver is calibrated",
        level_name(unit)
    ));
    unit
}

/// The unit in which radio frequencies have that size (common practice, no source).
pub(super) fn by_size(largest: f64) -> FrequencyUnit {
    match largest {
        f if f >= 1e7 => FrequencyUnit::Hz,
        f if f >= 2e4 => FrequencyUnit::KHz,
        f if f >= 10.0 => FrequencyUnit::MHz,
        _ => FrequencyUnit::GHz,
    }
}

/// How the sentence of a guessed scale begins.
pub(super) const SCALE: &str = "the scale of";

/// Steps of the scale: as the header or the cells name them, else the next usual scale.
pub(super) fn scale(look: &Looks<'_>, assumed: &mut Vec<String>) -> f64 {
    const USUAL: [f64; 8] = [5.0, 8.0, 10.0, 12.0, 16.0, 20.0, 100.0, 255.0];
    let cell = look.cells.iter().find_map(|c| c.split_once('/')?.1.trim().parse().ok());
    let figures =
        look.name.split(|c: char| !c.is_ascii_digit()).filter_map(|w| w.parse::<f64>().ok());
    if let Some(of) =
        cell.or(figures.max_by(f64::total_cmp)).filter(|of: &f64| *of >= look.most.max(1.0))
    {
        return of;
    }
    let most = look.most.max(1.0);
    let of = USUAL.into_iter().find(|of| *of >= most).unwrap_or(most);
    assumed.push(format!(
        "{SCALE} {} is taken to have {of} steps: the highest seen is {most}, correct it if there are more",
        look.column
    ));
    of
}

pub(super) fn duration_unit(look: &Looks<'_>, assumed: &mut Vec<String>) -> Option<DurationUnit> {
    if look.has_units {
        return None;
    }
    named(look.name, DurationUnit::from_word).or_else(|| {
        assumed.push("durations are taken as seconds, since nothing names their unit".to_owned());
        Some(DurationUnit::S)
    })
}
