//! What a hand-held detector stores while it is carried from position to position: one event a
//! time that something in one of its bands is over its threshold, stamped by a coarse clock,
//! with the strongest step of its scale and whole seconds of duration.
//!
//! It answers to peaks, so packets closer together than its hold time are one event. An event
//! that lasts is closed after a while and another opened.

use crate::draw;
use crate::scene::{Detector, DetectorBand, Walk};
use crate::simulation::{Simulation, touching};
use serde::Serialize;
use units::{Dbm, Utc};

/// A stored log, and where the detector was.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WalkLog {
    /// Name of the walk.
    pub walk: String,
    /// Name of the detector.
    pub detector: String,
    /// Switched on.
    pub from: Utc,
    /// Switched off.
    pub until: Utc,
    /// Bands that it listened to.
    pub bands: Vec<DetectorBand>,
    /// Step of its clock, seconds.
    pub clock_s: f64,
    /// Events, by time.
    pub rows: Vec<LogRow>,
    /// Arrivals, by time, as exact as somebody wrote them down.
    pub movements: Vec<Movement>,
}

/// One event as the detector shows it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LogRow {
    /// Start, cut down to the step of its clock.
    pub stamp: Utc,
    /// What its display calls the band.
    pub band: String,
    /// Lower edge of the band.
    pub low_hz: f64,
    /// Upper edge of the band.
    pub high_hz: f64,
    /// Strongest step, 1 to `of`.
    pub strength: u32,
    /// Steps of the scale.
    pub of: u32,
    /// Whole seconds, at least 1.
    pub duration_s: u32,
}

/// An arrival.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Movement {
    /// When.
    pub arrived: Utc,
    /// Where.
    pub position: String,
}

/// Something over the threshold, scene seconds.
#[derive(Debug, Clone, Copy)]
struct Heard {
    start_s: f64,
    stop_s: f64,
    level: Dbm,
}

impl Simulation {
    /// The log of a walk; `None` if there is no such walk.
    pub fn detector_log(&self, walk: usize) -> Option<WalkLog> {
        let walk = self.scene.walks.get(walk)?;
        let detector = self.scene.detectors.iter().find(|d| d.name == walk.detector)?;
        let mut events: Vec<(Heard, &DetectorBand)> = Vec::new();
        for band in &detector.bands {
            let heard = self.over_threshold(walk, detector, band);
            events.extend(join(heard, detector).into_iter().map(|e| (e, band)));
        }
        events.sort_by(|a, b| {
            a.0.start_s.total_cmp(&b.0.start_s).then_with(|| a.1.low_hz.total_cmp(&b.1.low_hz))
        });
        let rows = events.iter().map(|(e, band)| self.row(walk, detector, e, band)).collect();
        let movements = walk
            .stops
            .iter()
            .map(|s| Movement { arrived: s.arrived, position: s.position.clone() });
        Some(WalkLog {
            walk: walk.name.clone(),
            detector: detector.name.clone(),
            from: walk.stops.first().map_or(walk.until, |s| s.arrived),
            until: walk.until,
            bands: detector.bands.clone(),
            clock_s: detector.clock_s,
            rows,
            movements: movements.collect(),
        })
    }
    /// On-times of every emitter in a band, where it is strong enough, stop by stop.
    fn over_threshold(&self, walk: &Walk, detector: &Detector, band: &DetectorBand) -> Vec<Heard> {
        let second = |t: Utc| t.seconds_since(self.scene.start);
        let left = |next: Utc| next.plus_seconds(-walk.carry_s);
        let ends = walk.stops.iter().skip(1).map(|s| left(s.arrived)).chain([walk.until]);
        let mut heard = Vec::new();
        for (stop, end) in walk.stops.iter().zip(ends) {
            let window = (second(stop.arrived), second(end));
            if window.0 >= window.1 {
                continue;
            }
            for (k, (e, p)) in self.scene.emitters.iter().zip(&self.prepared).enumerate() {
                let channels = e.signal.channels_hz();
                let inside = |hz: f64| (band.low_hz..=band.high_hz).contains(&hz);
                if !(inside(e.centre_hz) || channels.iter().any(|hz| inside(*hz))) {
                    continue;
                }
                let level = self.level_at(k, detector.antenna_gain_dbi, &stop.position);
                let Some(level) = level.filter(|l| l.0 >= detector.threshold_dbm) else { continue };
                let on = self.on(e, p, window);
                heard.extend(touching(&on, window).map(|(_, (a, z))| Heard {
                    start_s: a.max(window.0),
                    stop_s: z.min(window.1),
                    level,
                }));
            }
        }
        heard
    }
    fn row(&self, walk: &Walk, d: &Detector, e: &Heard, band: &DetectorBand) -> LogRow {
        let moment = e.start_s.to_bits() ^ band.low_hz.to_bits();
        let path = [0x10c, draw::name(&walk.name), moment];
        let wander = d.wander_db * draw::normal(&mut draw::rng(self.seed, &path));
        let step = 1.0 + ((e.level.0 + wander - d.threshold_dbm) / d.step_db).floor();
        let start = self.scene.start.plus_seconds(e.start_s);
        let clock_ns = (d.clock_s * 1e9) as i64;
        LogRow {
            stamp: Utc(start.0.div_euclid(clock_ns) * clock_ns),
            band: band.label.clone(),
            low_hz: band.low_hz,
            high_hz: band.high_hz,
            strength: step.clamp(1.0, f64::from(d.steps)) as u32,
            of: d.steps,
            duration_s: (e.stop_s - e.start_s).round().max(1.0) as u32,
        }
    }
}

/// Events: what follows within the hold time is the same event, up to its longest.
fn join(mut heard: Vec<Heard>, detector: &Detector) -> Vec<Heard> {
    // Latest first, so that the earliest is taken from the end.
    let by_start = |a: &Heard, b: &Heard| b.start_s.total_cmp(&a.start_s);
    heard.sort_by(by_start);
    let mut events = Vec::new();
    while let Some(mut event) = heard.pop() {
        let limit = event.start_s + detector.longest_s;
        let keep = |e: Heard, heard: &mut Vec<Heard>| {
            if e.stop_s > limit {
                let rest = Heard { start_s: limit, ..e };
                let at = heard.partition_point(|h| h.start_s > limit);
                heard.insert(at, rest);
            }
        };
        keep(event, &mut heard);
        event.stop_s = event.stop_s.min(limit);
        while let Some(next) = heard.last().copied() {
            if next.start_s > event.stop_s + detector.hold_s || next.start_s >= limit {
                break;
            }
            heard.pop();
            keep(next, &mut heard);
            event.stop_s = event.stop_s.max(next.stop_s.min(limit));
            event.level = Dbm(event.level.0.max(next.level.0));
        }
        events.push(event);
    }
    events
}

#[cfg(test)]
mod tests {
    use super::*;

    fn detector() -> Detector {
        Detector {
            name: "d".into(),
            bands: Vec::new(),
            threshold_dbm: -60.0,
            step_db: 5.0,
            steps: 10,
            hold_s: 2.0,
            longest_s: 60.0,
            clock_s: 60.0,
            antenna_gain_dbi: 0.0,
            wander_db: 0.0,
        }
    }

    #[test]
    fn what_comes_within_the_hold_time_is_one_event_up_to_the_longest() {
        let h =
            |start_s: f64, stop_s: f64, level: f64| Heard { start_s, stop_s, level: Dbm(level) };
        let heard = vec![
            h(0.0, 1.0, -50.0),
            h(2.5, 3.0, -40.0),
            h(10.0, 145.0, -30.0),
            h(20.0, 21.0, -20.0),
        ];
        let got: Vec<_> =
            join(heard, &detector()).iter().map(|e| (e.start_s, e.stop_s, e.level.0)).collect();
        assert_eq!(
            got,
            [(0.0, 3.0, -40.0), (10.0, 70.0, -20.0), (70.0, 130.0, -30.0), (130.0, 145.0, -30.0)]
        );
    }

    #[test]
    fn a_tracker_and_a_voice_transmitter_are_logged_where_they_are_loud() {
        let text = r#"
            name = "log"
            start = "2026-03-01T18:00:00Z"
            [[positions]]
            name = "near"
            place = { at_m = [0.0, 0.0] }
            [[positions]]
            name = "far"
            place = { at_m = [60.0, 0.0] }
            [[emitters]]
            name = "tracker"
            place = { at_m = [2.0, 0.0] }
            eirp_dbm = 23
            centre_hz = 900e6
            signal = { kind = "gsm", direction = "up" }
            schedule = { kind = "periodic", period_s = 180, on_s = 4.2, first_s = 20 }
            [[emitters]]
            name = "voice"
            place = { at_m = [0.0, 2.0] }
            eirp_dbm = 0
            centre_hz = 150e6
            signal = { kind = "fm", deviation_hz = 5000, sound = "silence" }
            [[detectors]]
            name = "hand-held"
            bands = [{ label = "150", low_hz = 130e6, high_hz = 180e6 }, { label = "900 up", low_hz = 880e6, high_hz = 915e6 }]
            threshold_dbm = -30
            step_db = 4
            steps = 12
            hold_s = 2
            longest_s = 300
            wander_db = 0
            [[walks]]
            name = "evening"
            detector = "hand-held"
            until = "2026-03-01T19:00:00Z"
            stops = [{ position = "far", arrived = "2026-03-01T18:00:00Z" }, { position = "near", arrived = "2026-03-01T18:30:30Z" }]
        "#;
        let scene: crate::Scene = toml::from_str(text).expect("a scene");
        let log = Simulation::new(&scene, 1).expect("valid").detector_log(0).expect("a walk");
        let of = |band: &str| log.rows.iter().filter(|r| r.band == band).collect::<Vec<_>>();
        // 900 MHz over 60 m: 23 − 67.1 dBm is under the threshold, over 2 m 23 − 37.6 is not.
        let tracker = of("900 up");
        // Reports at 18:00:20 + 3 min: from 18:33:20 to 18:57:20.
        assert_eq!(tracker.len(), 9);
        assert!(tracker.iter().all(|r| r.duration_s == 4 && r.strength == 4));
        assert_eq!(tracker[0].stamp, Utc::parse("2026-03-01T18:33:00Z").expect("a time"));
        // 29.5 min at 5 min each: five whole and one of 4.5 min.
        let voice = of("150");
        assert_eq!(
            voice.iter().map(|r| r.duration_s).collect::<Vec<_>>(),
            [300, 300, 300, 300, 300, 270]
        );
        assert_eq!(voice[0].stamp, Utc::parse("2026-03-01T18:30:00Z").expect("a time"));
        assert_eq!(log.movements.len(), 2);
    }
}
