//! Long logs, by structure: what is kept is ranges and marks, never a list for every event.

use super::*;

const EVENTS: usize = 100_000;

fn moment(from_s: f64, duration_s: f64) -> Moment {
    Moment {
        from_s,
        step_s: 1.0,
        duration_s: Some(duration_s),
        duration_step_s: 1.0,
        strength: None,
    }
}

/// Every event belongs to one emitter.
fn is_partition(emitters: &[Emitter], count: usize) -> bool {
    let mut members: Vec<usize> = emitters.iter().flat_map(|e| e.members.clone()).collect();
    members.sort_unstable();
    members.into_iter().eq(0..count)
}

#[test]
fn a_hundred_thousand_events_of_like_length_are_one_reporter() {
    // As a list for every event these would be 10^10 indices, 80 GB: the test would not end.
    let events: Vec<Moment> =
        (0..EVENTS).map(|k| moment(30.0 * k as f64, 3.0 + (k % 3) as f64)).collect();
    let all: Vec<usize> = (0..EVENTS).collect();
    let groups = like_durations(&events, &all);
    assert_eq!(groups, [all]);
    let found = emitters(&events);
    assert!(is_partition(&found, EVENTS));
    let Kind::Bursts(Some(period)) = found[0].kind else { panic!("{:?}", found[0].kind) };
    assert!((period.period_s / 30.0 - 1.0).abs() < 0.01, "{period:?}");
}

#[test]
fn a_chain_of_a_hundred_thousand_short_events_is_cut_down_without_summing_anew() {
    // Gaps of 4 s are a chain's, but the events fill a fifth of it: it is cut to nothing.
    let events: Vec<Moment> = (0..EVENTS).map(|k| moment(5.0 * k as f64, 1.0)).collect();
    assert!(pieces(&events).is_empty());
    // What fills its time inside such a chain is kept.
    let mut filled = events;
    filled[EVENTS / 2..EVENTS / 2 + 20].iter_mut().for_each(|e| e.duration_s = Some(5.0));
    let kept = pieces(&filled);
    assert!(kept.len() >= 20 && kept.contains(&(EVENTS / 2 + 10)), "{kept:?}");
    assert!(kept.len() < 40, "{}", kept.len());
}

#[test]
fn groups_of_durations_take_what_is_free() {
    // A geometric ladder of durations, each 1.7 (over the factor) longer than the last, nine of
    // each: nine a group, and none is taken twice.
    let events: Vec<Moment> =
        (0..90).map(|k| moment(k as f64, 100.0 * 1.7f64.powi(k % 10))).collect();
    let all: Vec<usize> = (0..90).collect();
    let groups = like_durations(&events, &all);
    assert!(groups.len() == 10 && groups.iter().all(|g| g.len() == 9), "{groups:?}");
    assert!(groups.iter().all(|g| g.iter().all(|k| k % 10 == g[0] % 10)));
    // Three of a length are no group.
    assert_eq!(like_durations(&events, &[0, 10, 20]), Vec::<Vec<usize>>::new());
    let mut free = Free::new(5);
    [1, 2, 3].iter().for_each(|at| free.take(*at));
    assert_eq!(free.of(0..5), [0, 4]);
    assert!(free.of(1..4).is_empty());
}
