//! Logs written down by hand, and those of the simulated detector, whose truth is known.

use super::*;
use units::TimeSpan;

const START: Utc = Utc(1_772_395_200_000_000_000);

/// An event stamped by a minute clock.
fn event(start_s: f64, duration_s: f64, band: (f64, f64), label: &str, strength: f64) -> Event {
    let from = START.plus_seconds(start_s).floor_to_minute();
    Event {
        line: 1,
        start: TimeSpan { from, until: from.plus_seconds(60.0) },
        duration_s: Some(duration_s),
        duration_step_s: 1.0,
        band: Some(Band::new(band.0, band.1)),
        label: Some(label.into()),
        strength: Some(Strength { value: strength, of: 12.0 }),
        level: None,
        position: None,
        setting: None,
        bearing_deg: None,
        heard: None,
        note: None,
    }
}

const UP: (f64, f64) = (880e6, 915e6);
const VHF: (f64, f64) = (130e6, 180e6);

#[test]
fn a_steady_emitter_logged_in_pieces_is_one_continuous_row() {
    let pieces = (0..8).map(|k| event(20.0 + 242.0 * f64::from(k), 240.0, VHF, "150", 7.0));
    let events: Vec<Event> =
        pieces.chain([event(20.0 + 242.0 * 8.0, 35.0, VHF, "150", 9.0)]).collect();
    let (d, rows) = from_events(&events, &Listening::default());
    assert_eq!(d.found.len(), 1);
    let f = &d.found[0];
    assert_eq!((f.shape, f.bursts.count, f.bursts.period_s), (Shape::Continuous, 9, None));
    assert_eq!((f.low_hz, f.high_hz, f.centre_hz), (130e6, 180e6, 155e6));
    assert_eq!((f.bandwidth_hz, f.level_dbfs, f.level_dbm, f.snr_db), (None, None, None, None));
    assert_eq!(f.strength, Some(Strength { value: 9.0, of: 12.0 }));
    assert_eq!(f.bursts.median_s, Some(240.0));
    assert!(rows.iter().all(|r| *r == Some(0)));
    // Standard deviation of a minute stamp: checks EVT-017.
    assert!((f.u.first_s.expect("known") - 17.3205080757).abs() < 1e-9);
}

#[test]
fn a_reporter_has_its_period_and_is_not_mixed_with_another_band_or_a_call() {
    let mut events: Vec<Event> =
        (0..12).map(|k| event(47.0 + 180.0 * f64::from(k), 4.0, UP, "900 up", 8.0)).collect();
    // Calls in the same band, of another length; and the same clock in another band.
    for (at, length) in [(100.0, 55.0), (871.0, 31.0), (1900.0, 77.0)] {
        events.push(event(at, length, UP, "900 up", 4.0));
    }
    events.extend((0..5).map(|k| event(400.0 * f64::from(k), 2.0, VHF, "150", 3.0)));
    let (d, rows) = from_events(&events, &Listening::default());
    let reporter = &d.found[rows[0].expect("a row") as usize];
    assert_eq!((reporter.bursts.count, reporter.shape), (12, Shape::Bursts));
    let period = reporter.bursts.period_s.expect("a period");
    assert!((period / 180.0 - 1.0).abs() < 0.01, "{period}");
    assert!(rows[..12].iter().all(|r| *r == rows[0]));
    assert!(rows[12..15].iter().all(|r| *r == rows[12] && *r != rows[0]));
    assert_eq!(d.found.len(), 3);
    assert!(d.found[0].high_hz < d.found[1].low_hz);
}

#[test]
fn a_steady_emitter_and_a_reporter_in_one_band_are_two_rows() {
    let steady = (0..6).map(|k| event(241.0 * f64::from(k), 240.0, UP, "900 up", 6.0));
    let reports = (0..10).map(|k| event(1800.0 + 180.0 * f64::from(k), 4.0, UP, "900 up", 9.0));
    let events: Vec<Event> = steady.chain(reports).collect();
    let (d, rows) = from_events(&events, &Listening::default());
    assert_eq!(d.found.len(), 2);
    assert!(rows[..6].iter().all(|r| *r == rows[0]) && rows[6..].iter().all(|r| *r == rows[6]));
    let shape = |k: usize| d.found[rows[k].expect("a row") as usize].shape;
    assert_eq!((shape(0), shape(6)), (Shape::Continuous, Shape::Bursts));
}

#[test]
fn short_reports_every_minute_are_no_steady_emitter() {
    let events: Vec<Event> =
        (0..20).map(|k| event(60.0 * f64::from(k) + 5.0, 4.0, UP, "900 up", 8.0)).collect();
    let (d, _) = from_events(&events, &Listening::default());
    assert_eq!(d.found.len(), 1);
    assert_eq!(d.found[0].shape, Shape::Bursts);
}

#[test]
fn frequencies_a_step_apart_are_one_row_and_others_are_not() {
    let at = |mhz: f64| (mhz * 1e6 - 50e3, mhz * 1e6 + 50e3);
    let events = [433.9, 433.9, 433.95, 446.0].map(|f| event(10.0, 1.0, at(f), "", 2.0));
    let (d, rows) = from_events(&events, &Listening::default());
    assert_eq!(d.found.len(), 2);
    assert_eq!(rows, [Some(0), Some(0), Some(0), Some(1)]);
}

#[test]
fn listening_is_what_was_stated_and_times_count_from_it() {
    let from = START.plus_seconds(-600.0);
    let listening = Listening {
        from: Some(from),
        until: Some(from.plus_seconds(3600.0)),
        bands: Some(vec![Band::new(UP.0, UP.1), Band::new(VHF.0, VHF.1)]),
    };
    let (d, rows) = from_events(&[event(0.0, 36.0, UP, "900 up", 3.0)], &listening);
    assert_eq!(rows, [Some(0)]);
    assert_eq!(d.found[0].first_s, 630.0);
    assert!((d.found[0].bursts.on_fraction - 0.01).abs() < 1e-12);
    assert_eq!(d.listened.len(), 2);
    assert_eq!((d.listened[0].low_hz, d.listened[0].looked_s), (130e6, 3600.0));
    assert_eq!(d.listened[0].limit_dbm, None);
    // Nothing at all.
    let (d, rows) = from_events(&[], &Listening::default());
    assert!(d.found.is_empty() && rows.is_empty());
}

#[test]
fn the_simulated_walk_gives_the_voice_transmitter_and_the_tracker() {
    let text = include_str!("../../../../scenes/logs.toml");
    let scene: simulate::Scene = toml::from_str(text).expect("a scene");
    let mut errors = Vec::new();
    for seed in 1..=10 {
        let simulation = simulate::Simulation::new(&scene, seed).expect("valid");
        let log = simulation.detector_log(0).expect("a walk");
        let events: Vec<Event> = log.rows.iter().map(|r| from_log(r, log.clock_s)).collect();
        let bands = log.bands.iter().map(|b| Band::new(b.low_hz, b.high_hz)).collect();
        let listening =
            Listening { from: Some(log.from), until: Some(log.until), bands: Some(bands) };
        let (d, _) = from_events(&events, &listening);
        let of = |low: f64| d.found.iter().filter(move |f| f.low_hz == low);
        assert!(of(130e6).any(|f| f.shape == Shape::Continuous), "seed {seed}");
        let tracker = of(880e6).find(|f| f.bursts.period_s.is_some());
        let period = tracker.and_then(|f| f.bursts.period_s).unwrap_or(0.0);
        errors.push((period / 180.0 - 1.0).abs());
        // Bands that were heard give one row, or two where two emitters are told apart.
        assert!(d.found.len() <= 2 * log.bands.len(), "seed {seed}: {}", d.found.len());
    }
    errors.sort_by(f64::total_cmp);
    assert!(errors[errors.len() / 2] < 0.01, "{errors:?}");
}

fn from_log(r: &simulate::LogRow, clock_s: f64) -> Event {
    let mut e = event(0.0, f64::from(r.duration_s), (r.low_hz, r.high_hz), &r.band, 0.0);
    e.start = TimeSpan { from: r.stamp, until: r.stamp.plus_seconds(clock_s) };
    e.strength = Some(Strength { value: f64::from(r.strength), of: f64::from(r.of) });
    e
}
