//! The scenes that come with the program: valid, and as demanding as they say.

use simulate::scene::Role;
use simulate::{Scene, Simulation};
use units::Zone;

fn read(text: &str) -> Scene {
    toml::from_str(text).expect("a scene")
}

const DEMO: &str = include_str!("../../../scenes/demo.toml");
const STEPPED: &str = include_str!("../../../scenes/stepped.toml");
const LOGS: &str = include_str!("../../../scenes/logs.toml");

#[test]
fn the_demonstration_has_what_it_promises() {
    let scene = read(DEMO);
    let sim = Simulation::new(&scene, 1).expect("valid");
    let truth = sim.truth();
    let legitimate = truth.emitters.iter().filter(|e| !e.planted);
    assert!(legitimate.clone().count() >= 15);
    for zone in [Zone::Inside, Zone::Adjacent, Zone::Outside] {
        assert!(legitimate.clone().filter(|e| e.zone == Some(zone)).count() >= 2, "{zone:?}");
    }
    let planted: Vec<&str> =
        truth.emitters.iter().filter(|e| e.planted).map(|e| e.kind.as_str()).collect();
    assert_eq!(planted, ["fm", "fm", "video-fm", "fsk", "gsm"]);
    let rooms: std::collections::BTreeSet<_> =
        sim.visits().iter().filter(|v| v.role == Role::Room).map(|v| &v.position).collect();
    assert!(rooms.len() >= 6, "{rooms:?}");
    let bytes: u64 = sim
        .visits()
        .iter()
        .map(|v| {
            let samples: u64 = v.segments.iter().map(|s| s.samples).sum();
            samples * if v.adc_bits <= 8 { 2 } else { 4 }
        })
        .sum();
    assert!(bytes < 700_000_000, "{bytes}");
    for v in &truth.visits {
        for h in &v.emitters {
            assert!(h.level_dbfs < -9.0, "{} in {}: {} dBFS", h.name, v.name, h.level_dbfs);
        }
    }
    let heard = |visit: &str, name: &str| {
        let v = truth.visits.iter().find(|v| v.name.contains(visit)).expect("a visit");
        v.emitters.iter().find(|h| h.name.contains(name)).cloned().expect("an emitter")
    };
    // The sound-operated one is silent at night and on in the meeting.
    assert_eq!(heard("night", "sound-operated").burst_count, 0);
    assert!(heard("board-room-meeting", "sound-operated").on_s > 0.5);
    // The store-and-forward device sends only where somebody talked.
    assert!(heard("meeting-corner", "store").burst_count >= 2);
    assert_eq!(heard("accounts", "store").burst_count, 0);
    for (visit, name) in [
        ("directors-office", "lamp"),
        ("board-room-meeting", "sound-operated"),
        ("board-room-wide", "picture"),
        ("meeting-corner", "store"),
    ] {
        assert!(heard(visit, name).snr_db > 20.0, "{name}: {} dB", heard(visit, name).snr_db);
    }
    // The tracker shows in the log at the garage, every third minute.
    let log = sim.detector_log(0).expect("a walk");
    let garage = log.movements.iter().find(|m| m.position == "Garage").expect("a stop").arrived;
    let reports: Vec<_> = log
        .rows
        .iter()
        .filter(|r| {
            r.band == "900 up" && r.stamp >= garage && r.stamp < garage.plus_seconds(2700.0)
        })
        .collect();
    assert!((14..=16).contains(&reports.len()), "{}", reports.len());
}

#[test]
fn the_stepped_survey_has_eleven_emitters_of_which_three_are_planted() {
    let sim = Simulation::new(&read(STEPPED), 1).expect("valid");
    let truth = sim.truth();
    assert_eq!(truth.emitters.len(), 11);
    let planted: Vec<_> = truth.emitters.iter().filter(|e| e.planted).collect();
    assert_eq!(planted.len(), 3);
    assert!(planted.iter().all(|e| e.zone == Some(Zone::Inside)));
    assert_eq!(truth.visits.len(), 5);
    for e in &truth.emitters {
        let best = truth
            .visits
            .iter()
            .flat_map(|v| &v.emitters)
            .filter(|h| h.name == e.name && h.on_s > 0.05)
            .map(|h| h.snr_db)
            .fold(f64::NEG_INFINITY, f64::max);
        assert!(best > 15.0, "{}: {best} dB", e.name);
    }
    let most = truth.visits.iter().flat_map(|v| &v.emitters).map(|h| h.level_dbfs);
    assert!(most.fold(f64::NEG_INFINITY, f64::max) < -9.0);
}

#[test]
fn the_log_survey_shows_a_voice_in_one_room_and_reports_every_three_minutes() {
    let sim = Simulation::new(&read(LOGS), 1).expect("valid");
    let log = sim.detector_log(0).expect("a walk");
    let at = |name: &str| {
        let k = log.movements.iter().position(|m| m.position == name).expect("a stop");
        let until = log.movements.get(k + 1).map_or(log.until, |m| m.arrived);
        (log.movements[k].arrived, until)
    };
    let strongest = |band: &str, place: &str| {
        let (from, until) = at(place);
        log.rows
            .iter()
            .filter(|r| r.band == band && r.stamp >= from && r.stamp < until)
            .map(|r| r.strength)
            .max()
            .unwrap_or(0)
    };
    let own = strongest("150", "Partners' room");
    for other in ["Front office", "File room", "Back office", "Carport", "Yard"] {
        assert!(
            strongest("150", other) + 2 <= own,
            "{other}: {} of {own}",
            strongest("150", other)
        );
    }
    let (from, until) = at("Carport");
    let reports = log.rows.iter().filter(|r| {
        r.band == "900 up" && r.stamp >= from && r.stamp < until && (4..=5).contains(&r.duration_s)
    });
    assert!((12..=14).contains(&reports.count()));
    assert!(log.rows.len() > 40, "ordinary traffic: {}", log.rows.len());
}
