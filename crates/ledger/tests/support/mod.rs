//! Surveys made by hand: positions, captures and rows with round numbers.
#![allow(dead_code, reason = "each test file uses its part")]

use ledger::{
    Capture, CaptureKind, CaptureRow, Chain, Emission, Input, LedgerRow, Listened, Role, RowEvent,
    Visit,
};
use units::{Band, Dbfs, Event, Position, Strength, TimeSpan, Utc, Zone};

pub fn at(text: &str) -> Utc {
    Utc::parse(text).expect("a time")
}

/// Evening of the survey, minutes after 18:00.
pub fn minute(minutes: f64) -> Utc {
    at("2026-02-10T18:00:00Z").plus_seconds(60.0 * minutes)
}

pub fn position(id: &str, name: &str, zone: Zone) -> Position {
    Position {
        id: id.into(),
        name: name.into(),
        zone,
        room: (zone == Zone::Inside).then(|| name.to_owned()),
        floor: None,
        x_m: None,
        y_m: None,
        height_m: None,
    }
}

/// Yard outside, and four rooms.
pub fn positions() -> Vec<Position> {
    let rooms = ["Boardroom", "Office", "Library", "Pantry"];
    let mut all = vec![position("P1", "Yard", Zone::Outside)];
    all.extend((2..).zip(rooms).map(|(k, room)| position(&format!("P{k}"), room, Zone::Inside)));
    all
}

/// A continuous emission 20 kHz wide, level in dBFS, noise at −95 dBFS in its band.
pub fn row(centre_hz: f64, level: f64) -> CaptureRow {
    let emission = serde_json::json!({
        "centre_hz": centre_hz, "low_hz": centre_hz - 10e3, "high_hz": centre_hz + 10e3,
        "bandwidth_hz": 20e3, "bandwidth_is": "measured", "shape": "continuous",
        "channels_hz": null,
        "bursts": {"count": 1, "median_s": 10.0, "period_s": null, "on_fraction": 1.0},
        "level_dbfs": level, "level_dbm": null, "snr_db": level + 95.0,
        "u": {"centre_hz": 10.0, "bandwidth_hz": 200.0, "level_db": 0.5,
              "first_s": 0.01, "last_s": 0.01, "period_s": null},
        "measured": {"symbol_rate_hz": null, "deviation_hz": null, "ofdm_useful_s": null,
            "ofdm_guard_s": null, "chirp_hz_per_s": null, "chip_rate_hz": null, "frame_s": null,
            "tone_hz": null, "line_hz": null, "field_hz": null, "subcarrier_hz": null,
            "hop_dwell_s": null, "hop_spacing_hz": null},
        "modulation": null, "technology": null, "allocations": []
    });
    let emission: Emission = serde_json::from_value(emission).expect("an emission");
    CaptureRow { first_s: 0.0, last_s: 10.0, emission, strength: None, identity: None }
}

/// Ten seconds of samples from 430 MHz to 440 MHz and 925 MHz to 935 MHz, lines found from
/// −110 dBFS on.
pub fn capture(id: &str, role: Role, position: &str, start: Utc, rows: Vec<CaptureRow>) -> Capture {
    let listened = |low_hz, high_hz| Listened {
        low_hz,
        high_hz,
        looked_s: 10.0,
        limit_dbfs: Some(Dbfs(-110.0)),
        limit_dbm: None,
    };
    Capture {
        id: id.into(),
        sha256: format!("{id:0>64}"),
        kind: CaptureKind::Iq,
        role,
        position: Some(position.to_owned()).filter(|p| !p.is_empty()),
        chain: Chain { name: "stepper".into(), ..Chain::default() },
        condition: None,
        room_state: None,
        files: Vec::new(),
        start: Some(start),
        stop: Some(start.plus_seconds(10.0)),
        clock_u_s: 0.0,
        listened: vec![listened(430e6, 440e6), listened(880e6, 960e6)],
        listening_assumed: false,
        warnings: Vec::new(),
        rows,
        events: Vec::new(),
        visits: Vec::new(),
        set_aside: None,
    }
}

/// A yard and four rooms, each with its levels of the emissions at `centres` (NaN: not heard).
pub fn survey(centres: &[f64], levels: &[[f64; 5]]) -> Input {
    let mut input = Input { positions: positions(), ..Input::default() };
    input.survey.region = "CEPT".into();
    for place in 0..5usize {
        let heard = centres.iter().zip(levels).filter(|(_, l)| !l[place].is_nan());
        let rows = heard.map(|(&centre, l)| row(centre, l[place])).collect();
        let role = if place == 0 { Role::Reference } else { Role::Room };
        let (id, position) = (format!("C{}", place + 1), format!("P{}", place + 1));
        input.captures.push(capture(&id, role, &position, minute(15.0 * place as f64), rows));
    }
    input
}

/// A log of a hand-held detector that went from place to place, half an hour at each; each event
/// is (minute, strength of 12, seconds), in one band.
pub fn log(places: &[&str], band: Band, events: &[(f64, f64, f64)]) -> Capture {
    let end = 30.0 * places.len() as f64;
    let mut log = capture("C9", Role::Walk, "", minute(0.0), vec![log_row(band)]);
    log.kind = CaptureKind::EventLog;
    log.chain.name = "hand-held".into();
    log.stop = Some(minute(end));
    log.listened = vec![Listened {
        low_hz: band.low_hz,
        high_hz: band.high_hz,
        looked_s: 60.0 * end,
        limit_dbfs: None,
        limit_dbm: None,
    }];
    log.visits = (0..)
        .zip(places)
        .map(|(k, place)| Visit {
            position: (*place).to_owned(),
            from: minute(30.0 * f64::from(k)),
            until: minute(30.0 * f64::from(k + 1)),
            clock_step_s: 60.0,
        })
        .collect();
    log.events = (1..)
        .zip(events)
        .map(|(line, &(from, value, seconds))| RowEvent {
            row: 0,
            event: Event {
                line,
                start: TimeSpan { from: minute(from), until: minute(from + 1.0) },
                duration_s: Some(seconds),
                duration_step_s: 1.0,
                band: Some(band),
                label: None,
                strength: Some(Strength { value, of: 12.0 }),
                level: None,
                position: None,
                setting: None,
                bearing_deg: None,
                heard: None,
                note: None,
            },
        })
        .collect();
    log
}

fn log_row(band: Band) -> CaptureRow {
    let mut row = row(band.centre_hz(), 0.0);
    let emission = &mut row.emission;
    (emission.low_hz, emission.high_hz) = (band.low_hz, band.high_hz);
    (emission.bandwidth_hz, emission.level_dbfs, emission.snr_db) = (None, None, None);
    emission.shape = ledger::Shape::Bursts;
    emission.bursts.on_fraction = 0.0;
    row.strength = Some(units::Strength { value: 12.0, of: 12.0 });
    row
}

/// The row whose centre is nearest.
pub fn nearest(rows: &[LedgerRow], hz: f64) -> &LedgerRow {
    let away = |r: &LedgerRow| (r.emission.centre_hz - hz).abs();
    rows.iter().min_by(|a, b| away(a).total_cmp(&away(b))).expect("a row")
}

pub fn codes(row: &LedgerRow) -> Vec<&str> {
    row.attention.reasons.iter().map(|r| r.code.as_str()).collect()
}

pub fn text<'a>(row: &'a LedgerRow, code: &str) -> &'a str {
    let mut of = row.attention.reasons.iter().filter(|r| r.code == code);
    of.next().map_or("", |r| r.text.as_str())
}
