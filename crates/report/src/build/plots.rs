//! The pictures of a finding, as data: its level at each position, and when it was on.

use super::view::View;
use crate::model::{Figure, Lane, Lanes, LevelPoint, Levels, Nature, Plot};
use crate::words;
use ledger::{LedgerRow, Reception};
use std::collections::BTreeMap;
use survey::OnTimes;
use units::Utc;

/// Lanes in one picture; the earliest measurements are drawn.
const LANES: usize = 16;
/// A measurement this long is drawn with others of its kind, seconds.
const LONG_S: f64 = 600.0;
/// Short measurements share an axis of time up to so many times the longest of them.
const APART: f64 = 20.0;
/// Lengths between marks on a time axis, seconds, with how many marks fit at most.
const STEPS_S: [f64; 22] = [
    0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 30.0, 60.0, 300.0,
    600.0, 1800.0, 3600.0, 7200.0, 21600.0, 86400.0,
];
const TICKS: f64 = 8.0;

/// Levels of a row that compare with one another: one point a position, the loudest that was heard
/// there, else the lowest limit.
pub(super) struct Compared<'a> {
    /// Chain, and its setting where one is stated.
    pub(super) chain: String,
    /// `dBm`, `dBFS`, or `steps of 12`.
    pub(super) unit: String,
    /// Steps of the scale, for levels in steps.
    pub(super) steps: Option<u64>,
    /// By id of the position.
    pub(super) points: BTreeMap<&'a String, LevelPoint>,
}

/// One for each chain that heard it, since levels compare only inside one.
pub(super) fn compared<'a>(view: &View<'_>, row: &'a LedgerRow) -> Vec<Compared<'a>> {
    let mut groups: BTreeMap<(String, &'static str, u64), Vec<&Reception>> = BTreeMap::new();
    let mut silent = Vec::new();
    for reception in row.receptions.iter().filter(|reception| reception.position.is_some()) {
        let chain = chain_of(view, &reception.capture);
        match unit(reception) {
            Some((unit, scale)) => {
                groups.entry((chain, unit, scale)).or_default().push(reception);
            }
            None => silent.push((chain, reception)),
        }
    }
    // A detector that listened and logged nothing has no scale to tell that on but that of its others.
    for (chain, reception) in silent {
        let mut scales =
            groups.iter_mut().filter(|((of, unit, _), _)| *of == chain && *unit == "steps");
        if let Some((_, group)) = scales.next().filter(|_| !reception.heard) {
            group.push(reception);
        }
    }
    let heard = |group: &&Vec<&Reception>| group.iter().any(|reception| reception.heard);
    let groups = groups.into_iter().filter(|(_, group)| heard(&group));
    groups
        .map(|((chain, unit, scale), group)| Compared {
            chain,
            unit: if unit == "steps" { format!("steps of {scale}") } else { unit.to_owned() },
            steps: (unit == "steps").then_some(scale.max(1)),
            points: points(view, unit, &group),
        })
        .collect()
}

/// A picture for each chain that heard it.
pub(super) fn levels(view: &View<'_>, row: &LedgerRow) -> Vec<Figure> {
    compared(view, row).into_iter().filter_map(|compared| figure(row, compared)).collect()
}

/// What a measurement's levels compare with: its chain, and the setting where one is stated.
fn chain_of(view: &View<'_>, id: &str) -> String {
    let whole = id.split('.').next().unwrap_or(id);
    let capture = view.facts.captures.iter().find(|capture| capture.id == whole);
    capture.map_or_else(String::new, |capture| match &capture.setting {
        Some(setting) => format!("{} ({setting})", capture.chain),
        None => capture.chain.clone(),
    })
}

/// The unit in which a reception is told, and the steps of its scale if it is one of steps.
fn unit(reception: &Reception) -> Option<(&'static str, u64)> {
    if reception.level_dbm.is_some() || (!reception.heard && reception.limit_dbm.is_some()) {
        Some(("dBm", 0))
    } else if reception.level_dbfs.is_some() || (!reception.heard && reception.limit_dbfs.is_some())
    {
        Some(("dBFS", 0))
    } else {
        reception.strength.map(|strength| ("steps", strength.of.round() as u64))
    }
}

fn value(reception: &Reception) -> Option<f64> {
    if reception.heard {
        let level = reception.level_dbm.map(|l| l.0).or(reception.level_dbfs.map(|l| l.0));
        level.or(reception.strength.map(|strength| strength.value))
    } else {
        reception.limit_dbm.map(|l| l.0).or(reception.limit_dbfs.map(|l| l.0))
    }
}

fn points<'a>(
    view: &View<'_>,
    unit: &str,
    group: &[&'a Reception],
) -> BTreeMap<&'a String, LevelPoint> {
    let mut points: BTreeMap<&String, LevelPoint> = BTreeMap::new();
    for reception in group {
        let Some(id) = &reception.position else { continue };
        let none = (unit == "steps" && !reception.heard).then_some(0.0);
        let Some(value) = value(reception).or(none) else { continue };
        let position = view.position(id);
        let point = LevelPoint {
            place: view.place(id),
            zone: position.map_or("", |position| words::zone(position.zone)).to_owned(),
            inside: view.is_inside(Some(id)),
            value,
            heard: reception.heard,
            u: reception.u_db.filter(|_| reception.heard && unit != "steps"),
        };
        let better = points.get(id).is_none_or(|old| match (old.heard, point.heard) {
            (false, true) => true,
            (true, false) => false,
            (true, true) => point.value > old.value,
            (false, false) => point.value < old.value,
        });
        if better {
            points.insert(id, point);
        }
    }
    points
}

fn figure(row: &LedgerRow, compared: Compared<'_>) -> Option<Figure> {
    let Compared { chain, unit, steps, points } = compared;
    let mut points: Vec<LevelPoint> = points.into_values().collect();
    points.sort_by(|a, b| (!a.heard).cmp(&!b.heard).then(b.value.total_cmp(&a.value)));
    let loudest = points.first()?;
    let (low, high) = if let Some(steps) = steps {
        (0.0, steps as f64)
    } else {
        let values = || points.iter().map(|point| point.value);
        let low = values().fold(f64::INFINITY, f64::min);
        let high = values().fold(f64::NEG_INFINITY, f64::max);
        ((low / 10.0).floor() * 10.0 - 10.0, (high / 10.0).ceil() * 10.0)
    };
    let heard = points.iter().filter(|point| point.heard).count();
    let unit_said = if steps.is_some() { unit.replacen("steps ", "", 1) } else { unit.clone() };
    let alternative = format!(
        "{} at {} positions with {chain}, heard at {heard}, loudest at {} with {}.",
        row.id,
        points.len(),
        loudest.place,
        words::signed(loudest.value, &unit_said)
    );
    let how = match steps {
        Some(_) => "Strengths are steps of its own scale: they have an order and are no decibels.",
        None => {
            "Dots are levels, with their standard uncertainty; open marks stand at the level below \
             which it could not have been heard."
        }
    };
    Some(Figure {
        caption: format!("{} by position, measured with {chain}. {how}", row.id),
        alternative,
        nature: Nature::Calculation,
        plot: Plot::Levels(Levels { unit, low, high, points }),
    })
}

/// When it was on, a lane for each measurement that heard it and knows its times. Long measurements
/// and short ones are drawn apart: on one axis the short ones would be specks.
pub(super) fn on_times(view: &View<'_>, row: &LedgerRow) -> Vec<Figure> {
    let mut heard: Vec<&OnTimes> = view.facts.on_times.get(&row.id).into_iter().flatten().collect();
    heard.retain(|times| !times.on.is_empty() && times.until > times.from);
    heard.sort_by_key(|times| times.from);
    let (long, short): (Vec<_>, Vec<_>) =
        heard.into_iter().partition(|times| length(times) >= LONG_S);
    [long, short].into_iter().filter_map(|group| axis(view, row, group)).collect()
}

fn length(times: &OnTimes) -> f64 {
    times.until.seconds_since(times.from)
}

/// One picture; where its measurements are far apart each starts at the left.
fn axis(view: &View<'_>, row: &LedgerRow, mut heard: Vec<&OnTimes>) -> Option<Figure> {
    let left_out = heard.len().saturating_sub(LANES);
    heard.truncate(LANES);
    let start = heard.iter().map(|times| times.from).min()?;
    let stop = heard.iter().map(|times| times.until).max()?;
    let longest_s = heard.iter().map(|times| length(times)).fold(0.0, f64::max);
    let together = stop.seconds_since(start) <= APART * longest_s;
    let length_s = if together { stop.seconds_since(start) } else { longest_s };
    let name = |times: &OnTimes| {
        let stays = view.facts.stays.iter().filter(|stay| stay.capture == times.capture);
        let mut places: Vec<String> =
            stays.filter_map(|stay| stay.position.as_ref()).map(|id| view.place(id)).collect();
        places.dedup();
        let place = match &places[..] {
            [] => None,
            [only] => Some(only.clone()),
            _ => Some("carried about".to_owned()),
        };
        let at =
            if together { String::new() } else { format!(", {}", view.when.clock(times.from)) };
        match place {
            Some(place) => format!("{place} ({}{at})", times.capture),
            None => format!("{}{at}", times.capture),
        }
    };
    let lane = |times: &&OnTimes| {
        let zero = if together { start } else { times.from };
        let span =
            |(from, until): (Utc, Utc)| (from.seconds_since(zero), until.seconds_since(zero));
        Lane {
            name: name(times),
            listened: span((times.from, times.until)),
            on: times.on.iter().copied().map(span).collect(),
        }
    };
    let lanes: Vec<Lane> = heard.iter().map(lane).collect();
    let zero = if together { "" } else { " Each measurement begins at the left." };
    let rest = if left_out > 0 {
        let many =
            words::counted(left_out as u64, "later measurement is", "later measurements are");
        format!(" {many} not drawn.")
    } else {
        String::new()
    };
    let bars: usize = lanes.iter().map(|lane| lane.on.len()).sum();
    Some(Figure {
        caption: format!(
            "When {} was on. A line spans each measurement, a bar stands where it was received; the shortest \
             bar stands for any time up to a two-thousandth of its measurement.{zero}{rest}",
            row.id
        ),
        alternative: format!(
            "{} in {}, between {} and {}.",
            words::counted(bars as u64, "on-time", "on-times"),
            words::counted(lanes.len() as u64, "measurement", "measurements"),
            view.when.second(start),
            view.when.second(stop)
        ),
        nature: Nature::Calculation,
        plot: Plot::OnTimes(Lanes {
            length_s,
            ticks: if together { ticks(view, start, length_s) } else { elapsed(length_s, TICKS) },
            lanes,
        }),
    })
}

fn step_s(length_s: f64, most: f64) -> f64 {
    let fits = STEPS_S.iter().copied().find(|step| length_s / step <= most);
    fits.unwrap_or((length_s / most / 86400.0).ceil() * 86400.0)
}

/// Marks from the start on, at most so many.
pub(super) fn elapsed(length_s: f64, most: f64) -> Vec<(f64, String)> {
    let step_s = step_s(length_s, most);
    let text = |s: f64| match step_s {
        step if step >= 60.0 => format!("{:.0} min", s / 60.0),
        step if step >= 1.0 => format!("{s:.0} s"),
        step if step >= 0.1 => format!("{s:.1} s"),
        _ => format!("{:.0} ms", s * 1e3),
    };
    let count = (length_s / step_s).floor() as u64;
    (0..=count).map(|i| i as f64 * step_s).map(|s| (s, text(s))).collect()
}

/// Round moments on the axis, by the survey's clock.
fn ticks(view: &View<'_>, start: Utc, length_s: f64) -> Vec<(f64, String)> {
    let step_s = step_s(length_s, TICKS);
    let step_ns = ((step_s * 1e9) as i64).max(1);
    let mut at = start.0.div_euclid(step_ns).saturating_mul(step_ns);
    let mut ticks = Vec::new();
    while at <= start.plus_seconds(length_s).0 {
        let moment = Utc(at);
        let s = moment.seconds_since(start);
        if s >= 0.0 {
            let text = match step_s {
                step if step >= 86400.0 => view.when.date(moment),
                step if step >= 60.0 => view.when.clock(moment),
                step if step >= 1.0 => view.when.clock_second(moment),
                step if step >= 0.1 => format!("+{s:.1} s"),
                _ => format!("+{:.0} ms", s * 1e3),
            };
            ticks.push((s, text));
        }
        at = at.saturating_add(step_ns);
    }
    ticks
}
