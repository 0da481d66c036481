//! Inputs made up for tests.

use crate::contract::{CaptureKind, Role, State};
use crate::input::{
    Act, ActKind, Capture, CaptureRow, Chain, Input, Outcome, Reading, RowEvent, Visit,
};
use detect::{BandwidthIs, BurstSummary, Listened, Shape, Uncertainty};
use identify::{Emission, Measured};
use units::{Band, Dbfs, Event, Position, Strength, TimeSpan, Utc, Zone};

/// Seconds after 2026-03-01T20:00:00Z.
pub(crate) fn at(seconds: f64) -> Utc {
    Utc(1_772_395_200_000_000_000).plus_seconds(seconds)
}

/// A narrowband row that never stops, 10 kHz wide.
pub(crate) fn row(centre_hz: f64, level_dbfs: f64) -> CaptureRow {
    CaptureRow {
        first_s: 0.0,
        last_s: 60.0,
        emission: Emission {
            centre_hz,
            low_hz: centre_hz - 5e3,
            high_hz: centre_hz + 5e3,
            bandwidth_hz: Some(10e3),
            bandwidth_is: BandwidthIs::Measured,
            shape: Shape::Continuous,
            channels_hz: None,
            bursts: BurstSummary {
                count: 1,
                median_s: Some(60.0),
                period_s: None,
                on_fraction: 1.0,
            },
            level_dbfs: Some(Dbfs(level_dbfs)),
            level_dbm: None,
            snr_db: Some(30.0),
            u: Uncertainty {
                centre_hz: Some(50.0),
                bandwidth_hz: Some(300.0),
                level_db: Some(0.5),
                ..Uncertainty::default()
            },
            measured: Measured::default(),
            modulation: None,
            technology: None,
            allocations: Vec::new(),
        },
        strength: None,
        identity: None,
    }
}

/// An IQ capture of a minute at a position, by the chain 'receiver', of rows at these centres.
pub(crate) fn iq(id: &str, start_s: f64, position: &str, centres_hz: &[f64]) -> Capture {
    Capture {
        id: id.into(),
        sha256: format!("hash of {id}"),
        kind: CaptureKind::Iq,
        role: if position == "yard" { Role::Reference } else { Role::Room },
        position: Some(position.into()),
        chain: Chain { name: "receiver".into(), ..Chain::default() },
        condition: None,
        room_state: None,
        files: Vec::new(),
        start: Some(at(start_s)),
        stop: Some(at(start_s + 60.0)),
        clock_u_s: 1.0,
        listened: vec![Listened {
            low_hz: 400e6,
            high_hz: 500e6,
            looked_s: 60.0,
            limit_dbfs: Some(Dbfs(-100.0)),
            limit_dbm: None,
        }],
        listening_assumed: false,
        warnings: Vec::new(),
        rows: centres_hz.iter().map(|&hz| row(hz, -50.0)).collect(),
        events: Vec::new(),
        visits: Vec::new(),
        set_aside: None,
    }
}

/// A row of a log: events of `length_s` at these seconds, in a band; its shape is bursts.
pub(crate) fn log_row(
    log: &mut Capture,
    band: Band,
    seconds: &[f64],
    length_s: f64,
    strength: f64,
) -> usize {
    let start = log.start.expect("a log with a start");
    let stop = log.stop.expect("a log with an end");
    let mut found = row(band.centre_hz(), 0.0);
    let emission = &mut found.emission;
    (emission.low_hz, emission.high_hz) = (band.low_hz, band.high_hz);
    (emission.bandwidth_hz, emission.level_dbfs, emission.snr_db) = (None, None, None);
    emission.u = Uncertainty::default();
    emission.shape = Shape::Bursts;
    emission.bursts = BurstSummary {
        count: seconds.len() as u64,
        median_s: Some(length_s),
        period_s: None,
        on_fraction: seconds.len() as f64 * length_s / stop.seconds_since(start),
    };
    found.strength = Some(Strength { value: strength, of: 12.0 });
    (found.first_s, found.last_s) =
        (seconds.first().copied().unwrap_or(0.0), seconds.last().map_or(0.0, |s| s + length_s));
    let row = log.rows.len();
    log.rows.push(found);
    for &second in seconds {
        let from = start.plus_seconds(second).floor_to_minute();
        log.events.push(RowEvent {
            row: row as u32,
            event: Event {
                line: log.events.len() as u64 + 2,
                start: TimeSpan { from, until: from.plus_seconds(60.0) },
                duration_s: Some(length_s),
                duration_step_s: 1.0,
                band: Some(band),
                label: None,
                strength: Some(Strength { value: strength, of: 12.0 }),
                level: None,
                position: None,
                setting: None,
                bearing_deg: None,
                heard: None,
                note: None,
            },
        });
    }
    row
}

/// An empty event log of an hour.
pub(crate) fn log(id: &str, start_s: f64, visits: &[(&str, f64, f64)]) -> Capture {
    let mut log = iq(id, start_s, "", &[]);
    log.kind = CaptureKind::EventLog;
    log.role = Role::Walk;
    log.chain.name = "hand-held".into();
    log.stop = Some(at(start_s + 3600.0));
    log.listened.clear();
    log.position = None;
    log.visits = visits
        .iter()
        .map(|&(position, from, until)| Visit {
            position: position.into(),
            from: at(from),
            until: at(until),
            clock_step_s: 60.0,
        })
        .collect();
    log
}

/// A reading of a strength of 12.
pub(crate) fn reading(id: &str, at_s: f64, position: &str, hz: f64, value: f64) -> Reading {
    Reading {
        id: id.into(),
        position: position.into(),
        at: Some(at(at_s)),
        band: Some(Band::around(hz, 0.0)),
        emission: None,
        strength: Some(Strength { value, of: 12.0 }),
        level_dbm: None,
        bearing_deg: None,
        heard: None,
        chain: Chain { name: "hand-held".into(), ..Chain::default() },
    }
}

/// An input of these captures, at positions 'yard' (outside) and any other (inside).
pub(crate) fn input(captures: Vec<Capture>) -> Input {
    let place = |id: &str| Position {
        id: id.into(),
        name: id.into(),
        zone: if id == "yard" { Zone::Outside } else { Zone::Inside },
        room: None,
        floor: None,
        x_m: None,
        y_m: None,
        height_m: None,
    };
    let positions = ["yard", "hall", "office", "den"].map(place).into();
    Input { version: 1, captures, positions, ..Input::default() }
}

/// Builds, and hands the anchors on.
pub(crate) fn built(input: &mut Input) -> Outcome {
    let outcome = crate::build(input);
    input.anchors.clone_from(&outcome.anchors);
    outcome
}

/// Centres in kilohertz and ids, by frequency, as `433920 E1`.
pub(crate) fn told(outcome: &Outcome) -> Vec<String> {
    let mut rows: Vec<_> = outcome.ledger.emissions.iter().collect();
    rows.sort_by(|a, b| a.emission.centre_hz.total_cmp(&b.emission.centre_hz));
    rows.iter().map(|row| format!("{:.0} {}", row.emission.centre_hz / 1e3, row.id)).collect()
}

/// A decision on a row as `outcome` shows it.
pub(crate) fn decide(input: &mut Input, outcome: &Outcome, id: &str, state: State) {
    let seen = outcome.seen.iter().find(|(row, _)| row == id).expect("a row").1.clone();
    act(input, ActKind::Decide { id: id.into(), state, ground: None, reason: "so".into(), seen });
}

/// A join of rows as `outcome` shows them.
pub(crate) fn join(input: &mut Input, outcome: &Outcome, ids: &[&str]) {
    let row = |id: &&str| outcome.seen.iter().find(|(row, _)| row == id).expect("a row").clone();
    act(input, ActKind::Join { rows: ids.iter().map(row).collect(), reason: "so".into() });
}

/// A split of captures out of a row as `outcome` shows it.
pub(crate) fn split(input: &mut Input, outcome: &Outcome, id: &str, captures: &[&str], new: &str) {
    let seen = outcome.seen.iter().find(|(row, _)| row == id).expect("a row").1.clone();
    let captures = captures.iter().map(|&c| c.into()).collect();
    act(
        input,
        ActKind::Split { id: id.into(), seen, captures, new_id: new.into(), reason: "so".into() },
    );
}

fn act(input: &mut Input, what: ActKind) {
    let seq = input.acts.len() as u64 + 1;
    input.acts.push(Act { seq, by: "somebody".into(), at: Some(at(seq as f64)), what });
}
