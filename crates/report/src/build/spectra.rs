//! The spectrum around a row, as data: where it was loudest, the best reference under it, and the
//! loudest over time.

use super::plots::elapsed;
use super::view::View;
use crate::model::{
    Block, Figure, LevelsOverTime, LineStyle, Nature, Plot, Spectrum, SpectrumLine, fact,
};
use crate::words;
use ledger::LedgerRow;
use survey::{Around, OverTime, Seen, Shown};

/// Marks on the axis of frequency, at most.
const TICKS: f64 = 6.0;
/// Marks on the axis of time, at most.
const TICKS_S: f64 = 4.0;
/// Between lines of the axis of levels, dB; the axis ends on one.
const STEP_DB: f64 = 10.0;
/// Under so large a part of the levels the axis begins: what dips deeper is cut.
const DIPS: f64 = 0.02;

/// What can be drawn of a row: a figure, why there is none, or nothing where no recording of samples
/// or swept spectra received it.
pub(super) fn of(view: &View<'_>, row: &LedgerRow) -> Option<Block> {
    match view.facts.around.get(&row.id)? {
        Around::Shown(shown) => Some(Block::Figure(figure(view, row, shown))),
        Around::Unreadable(capture) => Some(fact(format!(
            "The spectrum of {} is not drawn: the recording of measurement {capture} cannot be read \
             now. Whether its file is as it was is said under evidence.",
            row.id
        ))),
    }
}

fn figure(view: &View<'_>, row: &LedgerRow, shown: &Shown) -> Figure {
    let (loudest, unit) = (&shown.loudest, shown.unit);
    let place = |seen: &Seen| match &seen.position {
        Some(id) => view.place(id),
        None => "no antenna".to_owned(),
    };
    let mut lines = Vec::new();
    if let Some(reference) = &shown.reference {
        lines.push(SpectrumLine {
            place: place(reference),
            what: format!("{}, largest", reference.capture),
            style: LineStyle::Dashed,
            points: points(reference, &reference.largest),
        });
    }
    let mine =
        [("mean", LineStyle::Thin, &loudest.mean), ("largest", LineStyle::Full, &loudest.largest)];
    lines.extend(mine.into_iter().map(|(what, style, levels)| SpectrumLine {
        place: place(loudest),
        what: format!("{}, {what}", loudest.capture),
        style,
        points: points(loudest, levels),
    }));
    let emission = &row.emission;
    let (scale_hz, unit_hz) = unit_of(shown.high_hz);
    Figure {
        caption: caption(view, row, shown),
        alternative: alternative(row, shown, &place),
        nature: Nature::Calculation,
        plot: Plot::Spectrum(Box::new(Spectrum {
            mark: row.id.clone(),
            band_hz: (emission.low_hz, emission.high_hz),
            others: others(view, row, shown),
            span_hz: (shown.low_hz, shown.high_hz),
            span_db: span_db(&lines),
            unit,
            lines,
            unit_hz,
            ticks_hz: ticks(shown.low_hz / scale_hz, shown.high_hz / scale_hz)
                .into_iter()
                .map(|(at, text)| (at * scale_hz, text))
                .collect(),
            over_time: shown.over_time.as_ref().map(over_time),
        })),
    }
}

/// Other rows that the same measurement heard in the band that is drawn, the loudest first.
fn others(view: &View<'_>, row: &LedgerRow, shown: &Shown) -> Vec<(String, (f64, f64))> {
    let level = |other: &LedgerRow| {
        let mut here = other.receptions.iter().filter(|r| r.capture == shown.loudest.capture);
        here.find(|r| r.heard).and_then(|r| r.level_dbm.map(|l| l.0).or(r.level_dbfs.map(|l| l.0)))
    };
    let inside = |other: &&LedgerRow| {
        let hz = other.emission.centre_hz;
        other.id != row.id && shown.low_hz < hz && hz < shown.high_hz
    };
    let rows = view.facts.ledger.emissions.iter().filter(inside);
    let mut heard: Vec<_> = rows.filter_map(|other| Some((level(other)?, other))).collect();
    heard.sort_by(|a, b| b.0.total_cmp(&a.0));
    let band = |other: &LedgerRow| (other.emission.low_hz, other.emission.high_hz);
    heard.into_iter().map(|(_, other)| (other.id.clone(), band(other))).collect()
}

/// Middles of the cells and their levels.
fn points(seen: &Seen, levels: &[Option<f64>]) -> Vec<(f64, Option<f64>)> {
    let at = |i: usize| seen.low_hz + (i as f64 + 0.5) * seen.cell_hz;
    levels.iter().enumerate().map(|(i, level)| (at(i), *level)).collect()
}

fn caption(view: &View<'_>, row: &LedgerRow, shown: &Shown) -> String {
    let loudest = &shown.loudest;
    let told = |seen: &Seen| {
        let place = seen.position.as_ref().map(|id| format!("at {}", view.place(id)));
        let start = seen.start.map(|at| format!("{}, ", view.when.second(at)));
        format!(
            "{} ({}, {}, {}{})",
            place.unwrap_or_else(|| "with no antenna".to_owned()),
            seen.capture,
            words::role(seen.role),
            start.unwrap_or_default(),
            words::length(seen.length_s)
        )
    };
    let resolution = match loudest.noise_bandwidth_hz {
        Some(hz) => format!("in a bandwidth of {}", words::width(hz)),
        None => format!("in steps of {}", words::width(loudest.cell_hz)),
    };
    let reference = match &shown.reference {
        Some(reference) => format!(" Broad dashes beneath: the largest {}.", told(reference)),
        None => " No reference was measured there with the same equipment and setting.".to_owned(),
    };
    let time = match &shown.over_time {
        Some(picture) if picture.codes.contains(&0) => {
            " Below: over time; white where the receiver was tuned elsewhere."
        }
        Some(_) => " Below: over time, brighter is stronger.",
        None => "",
    };
    let named = if others(view, row, shown).is_empty() {
        ""
    } else {
        "; other rows that were heard there are named"
    };
    format!(
        "Spectrum around {} {}: the largest level (heavy) and the mean (thin), {resolution}; the \
         emission's own band is shaded{named}.{reference}{time}",
        row.id,
        told(loudest)
    )
}

fn alternative(row: &LedgerRow, shown: &Shown, place: &dyn Fn(&Seen) -> String) -> String {
    let emission = &row.emission;
    let highest = |seen: &Seen| {
        let inside = points(seen, &seen.largest).into_iter().filter(|(hz, _)| {
            let near_hz = seen.cell_hz / 2.0;
            (emission.low_hz - near_hz..=emission.high_hz + near_hz).contains(hz)
        });
        let levels = inside.filter_map(|(hz, level)| Some((hz, level?)));
        levels.reduce(|a, b| if b.1 > a.1 { b } else { a })
    };
    let reaches = |seen: &Seen| match highest(seen) {
        Some((hz, level)) => format!(
            "{} (measurement {}) reaches {} at {}",
            place(seen),
            seen.capture,
            words::signed(level, shown.unit),
            words::frequency(hz)
        ),
        None => format!("{} (measurement {}) shows nothing", place(seen), seen.capture),
    };
    let reference = match &shown.reference {
        Some(reference) => format!("; the reference {}", reaches(reference)),
        None => String::new(),
    };
    let time = if shown.over_time.is_some() { ", above its levels over time" } else { "" };
    format!(
        "Spectrum from {}{time}. In the band of {}, {}{reference}.",
        words::band(shown.low_hz, shown.high_hz),
        row.id,
        reaches(&shown.loudest)
    )
}

/// From under nearly all levels to over all.
fn span_db(lines: &[SpectrumLine]) -> (f64, f64) {
    let levels = lines.iter().flat_map(|line| &line.points);
    let mut levels: Vec<f64> = levels.filter_map(|(_, level)| *level).collect();
    levels.sort_by(f64::total_cmp);
    let low = levels.get((DIPS * levels.len() as f64) as usize).copied().unwrap_or(-STEP_DB);
    let high = levels.last().copied().unwrap_or(0.0);
    let low = ((low - 2.0) / STEP_DB).floor() * STEP_DB;
    (low, ((high + 2.0) / STEP_DB).ceil() * STEP_DB)
}

fn unit_of(hz: f64) -> (f64, &'static str) {
    match hz.abs() {
        size if size >= 1e6 => (1e6, "MHz"),
        size if size >= 1e3 => (1e3, "kHz"),
        _ => (1.0, "Hz"),
    }
}

/// Round numbers in a span: steps of 1, 2 or 5 times a power of ten.
fn ticks(from: f64, to: f64) -> Vec<(f64, String)> {
    let least = (to - from).max(1e-12) / TICKS;
    let power = least.log10().floor();
    let fits = |m: &f64| m * 10f64.powf(power) >= least * (1.0 - 1e-9);
    let step = [1.0, 2.0, 5.0, 10.0].into_iter().find(fits).unwrap_or(10.0) * 10f64.powf(power);
    let decimals = (-step.log10() + 1e-9).ceil().max(0.0) as usize;
    let (first, last) = ((from / step - 1e-9).ceil() as i64, (to / step + 1e-9).floor() as i64);
    (first..=last).map(|n| n as f64 * step).map(|at| (at, format!("{at:.decimals$}"))).collect()
}

/// Codes of levels as shades of the span between the quiet and the loudest.
fn over_time(picture: &OverTime) -> LevelsOverTime {
    let rows = picture.codes.len() / picture.cells.max(1);
    let mut lit: Vec<u8> = picture.codes.iter().copied().filter(|code| *code > 0).collect();
    lit.sort_unstable();
    let quiet = lit.get(lit.len() / 20).copied().unwrap_or(1);
    let loud = lit.last().copied().unwrap_or(1).max(quiet.saturating_add(1));
    let span = f64::from(loud) - f64::from(quiet);
    let shade = |code: &u8| match *code {
        0 => 0,
        code => {
            let part = (f64::from(code) - f64::from(quiet)) / span;
            1 + (254.0 * part.clamp(0.0, 1.0)).round() as u8
        }
    };
    let level = |code: u8| picture.level_of_1 + f64::from(code - 1) * picture.step_db;
    let length_s = rows as f64 * picture.row_s;
    LevelsOverTime {
        length_s,
        ticks_s: elapsed(length_s, TICKS_S),
        cells: picture.cells,
        shades: picture.codes.iter().map(shade).collect(),
        levels: (level(quiet), level(loud)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn marks_are_round_and_lie_within() {
        let ticks = ticks(434.5430, 434.6836);
        let texts: Vec<&str> = ticks.iter().map(|(_, text)| text.as_str()).collect();
        assert_eq!(texts, ["434.55", "434.60", "434.65"]);
        assert!(super::ticks(1230.0, 1250.0).len() <= 7);
        assert_eq!(super::ticks(1230.0, 1250.0)[1].1, "1235");
    }
}
