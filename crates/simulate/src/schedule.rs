//! When an emitter is on: its on-times over a stretch of the scene, in order, in scene seconds.

use crate::audio::Stage;
use crate::draw;
use crate::scene::Schedule;

/// Pauses in talk shorter than this do not count as silence to a sound-operated switch, seconds:
/// its own hold is much longer, so this only limits the number of spans.
const BREATH_S: f64 = 0.1;

/// On-times that touch `window`, clipped to nothing; `key` is the emitter's.
pub fn on_times(
    schedule: &Schedule,
    window: (f64, f64),
    key: u64,
    stage: &Stage,
) -> Vec<(f64, f64)> {
    let (from, until) = window;
    match schedule {
        Schedule::Always => vec![window],
        Schedule::Periodic { period_s, on_s, first_s, jitter_s } => {
            let first = (((from - first_s - on_s - jitter_s) / period_s).floor() as i64).max(0);
            let start = |k: i64| {
                let late = draw::between(&mut draw::rng(key, &[0x9e, k as u64]), 0.0, *jitter_s);
                first_s + k as f64 * period_s + late
            };
            (first..)
                .map(|k| (start(k), start(k) + on_s))
                .take_while(|(a, _)| *a < until + jitter_s)
                .filter(|(a, z)| *z > from && *a < until)
                .collect()
        }
        Schedule::Random { mean_gap_s, on_s } => {
            // Drawn anew for every hour, so that a night need not be walked from its start.
            const STRETCH_S: f64 = 3600.0;
            let mut spans = Vec::new();
            let first = (from / STRETCH_S).floor() as i64 - 1;
            for h in first..=(until / STRETCH_S).floor() as i64 {
                let mut rng = draw::rng(key, &[0x9f, h as u64]);
                let end = (h + 1) as f64 * STRETCH_S;
                let mut t = h as f64 * STRETCH_S + draw::exponential(&mut rng, *mean_gap_s);
                while t < end {
                    let stop = (t + draw::between(&mut rng, on_s[0], on_s[1])).min(end);
                    if stop > from && t < until {
                        spans.push((t, stop));
                    }
                    t = stop + draw::exponential(&mut rng, *mean_gap_s);
                }
            }
            spans
        }
        Schedule::StoreAndForward { room, period_s, first_s, compression, least_s } => {
            let speaker = stage.room(room);
            // A sending never lasts longer than its period.
            let first = (((from - first_s) / period_s).floor() as i64 - 1).max(0);
            (first..)
                .map(|k| first_s + k as f64 * period_s)
                .take_while(|start| *start < until)
                .filter_map(|start| {
                    let heard = speaker.active(start - period_s, start, 0.5);
                    let collected: f64 =
                        heard.iter().map(|(a, z)| z.min(start) - a.max(start - period_s)).sum();
                    let on = (collected * compression).max(*least_s).min(*period_s);
                    (on > 0.0 && start + on > from).then_some((start, start + on))
                })
                .collect()
        }
        Schedule::Voice { room, attack_s, hang_s } => {
            let speaker = stage.room(room);
            let mut spans: Vec<(f64, f64)> = Vec::new();
            let heard = speaker.active(from - hang_s - 60.0, until, BREATH_S);
            for (start, stop) in heard {
                let (a, z) = (start + attack_s, stop + hang_s);
                match spans.last_mut() {
                    // Still on: stays on without a new attack.
                    Some(last) if start <= last.1 => last.1 = last.1.max(z),
                    _ if stop > start + attack_s => spans.push((a, z)),
                    _ => {}
                }
            }
            spans.retain(|(a, z)| *z > from && *a < until);
            spans
        }
    }
}

/// The parts of `spans` that lie inside `windows` (both in order, each without overlaps).
pub fn within(spans: &[(f64, f64)], windows: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let mut out = Vec::new();
    for s in spans {
        for w in windows {
            let (a, z) = (s.0.max(w.0), s.1.min(w.1));
            if a < z {
                out.push((a, z));
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeMap;

    fn stage() -> Stage {
        let talks = BTreeMap::from([("Den".to_string(), vec![(600.0, 900.0)])]);
        Stage::new(1, talks, BTreeMap::new())
    }

    #[test]
    fn every_schedule_gives_the_same_times_in_any_window() {
        let schedules = [
            Schedule::Periodic { period_s: 7.0, on_s: 0.5, first_s: 3.0, jitter_s: 1.0 },
            Schedule::Random { mean_gap_s: 5.0, on_s: [0.1, 2.0] },
            Schedule::StoreAndForward {
                room: "Den".into(),
                period_s: 60.0,
                first_s: 10.0,
                compression: 0.02,
                least_s: 0.0,
            },
            Schedule::Voice { room: "Den".into(), attack_s: 0.2, hang_s: 4.0 },
        ];
        let stage = stage();
        for s in schedules {
            let whole = on_times(&s, (0.0, 1500.0), 5, &stage);
            assert!(!whole.is_empty(), "{s:?}");
            assert!(whole.windows(2).all(|w| w[0].1 <= w[1].0), "{s:?}");
            for k in 0..15 {
                let (a, z) = (f64::from(k) * 100.0, f64::from(k + 1) * 100.0);
                let part = within(&on_times(&s, (a, z), 5, &stage), &[(a, z)]);
                assert_eq!(part, within(&whole, &[(a, z)]), "{s:?} {a}");
            }
        }
    }

    #[test]
    fn voice_and_storage_follow_the_rooms_sound() {
        let stage = stage();
        let voice = Schedule::Voice { room: "Den".into(), attack_s: 0.2, hang_s: 4.0 };
        let on = on_times(&voice, (0.0, 2000.0), 5, &stage);
        assert!(on[0].0 >= 600.2 && on.last().expect("some").1 <= 904.0, "{on:?}");
        assert!(on_times(&voice, (0.0, 590.0), 5, &stage).is_empty());
        let store = Schedule::StoreAndForward {
            room: "Den".into(),
            period_s: 100.0,
            first_s: 0.0,
            compression: 0.02,
            least_s: 0.0,
        };
        let on = on_times(&store, (0.0, 2000.0), 5, &stage);
        assert_eq!(on.iter().map(|s| s.0).collect::<Vec<_>>(), [700.0, 800.0, 900.0]);
        // About three quarters of the time is speech.
        assert!(on.iter().all(|(a, z)| (0.8..2.0).contains(&(z - a))), "{on:?}");
    }
}
