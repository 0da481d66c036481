//! Heard and not heard, with levels and limits worked by hand.

mod support;

use ledger::{Role, build};
use support::*;
use units::{Band, Zone};

const HZ: f64 = 434e6;

#[test]
fn one_for_each_capture_that_listened_there() {
    let nan = f64::NAN;
    let mut input = survey(&[HZ], &[[nan, -40.0, -62.0, nan, -70.0]]);
    // One that listened elsewhere, and one that was set aside.
    let mut elsewhere = capture("C6", Role::Room, "P2", minute(90.0), Vec::new());
    elsewhere.listened.remove(0);
    input.captures.push(elsewhere);
    let mut aside = capture("C7", Role::Room, "P2", minute(95.0), vec![row(HZ, -10.0)]);
    aside.set_aside = Some("wrong antenna".into());
    input.captures.push(aside);
    let ledger = build(&input).ledger;
    assert_eq!(ledger.emissions.len(), 1);
    let receptions = &ledger.emissions[0].receptions;
    let told: Vec<(&str, bool)> =
        receptions.iter().map(|r| (r.capture.as_str(), r.heard)).collect();
    assert_eq!(told, [("C1", false), ("C2", true), ("C3", true), ("C4", false), ("C5", true)]);
    let (yard, boardroom) = (&receptions[0], &receptions[1]);
    // 20 kHz of line width 1 kHz: −110 + 13.0 = −97 dBFS; what the noise (−95 dBFS in its band)
    // plus 10 dB would allow is more.
    assert!((yard.limit_dbfs.expect("a limit").0 + 96.99).abs() < 0.01, "{yard:?}");
    assert_eq!((yard.level_dbfs, yard.first, yard.looked_s), (None, None, 10.0));
    assert_eq!(boardroom.level_dbfs.map(|l| l.0), Some(-40.0));
    assert_eq!(boardroom.u_db, Some(0.5));
    assert_eq!(boardroom.first, Some(minute(15.0)));
    assert_eq!(boardroom.last, Some(minute(15.0).plus_seconds(10.0)));
}

#[test]
fn gain_is_taken_off() {
    let mut input = survey(&[HZ], &[[-60.0, -40.0, f64::NAN, f64::NAN, f64::NAN]]);
    for (capture, gain_db) in input.captures.iter_mut().zip([30.0, 20.0, 20.0, 20.0, 20.0]) {
        capture.chain.gain_db = Some(gain_db);
    }
    let row = &build(&input).ledger.emissions[0];
    // −60 − 30 against −40 − 20: 30 dB, not 20.
    assert_eq!(row.origin.excess_db, Some(30.0));
    // √(0.5² + 0.5²) dB.
    assert_eq!(row.origin.excess_u_db, Some(0.71));
    assert_eq!(row.receptions[1].level_dbfs.map(|l| l.0), Some(-60.0));
    assert_eq!(row.emission.level_dbfs.map(|l| l.0), Some(-60.0));
}

#[test]
fn a_log_is_silent_only_where_its_bands_are_known() {
    let band = Band::new(130e6, 180e6);
    let events = [(35.0, 9.0, 300.0), (41.0, 10.0, 300.0)];
    let mut input = ledger::Input { positions: positions(), ..Default::default() };
    input.captures.push(log(&["P1", "P2", "P3"], band, &events));
    let known = &build(&input).ledger.emissions[0];
    let told: Vec<(Option<&str>, bool, f64)> =
        (known.receptions.iter()).map(|r| (r.position.as_deref(), r.heard, r.looked_s)).collect();
    // 90 min over three places.
    assert_eq!(
        told,
        [(Some("P1"), false, 1800.0), (Some("P2"), true, 1800.0), (Some("P3"), false, 1800.0)]
    );
    let strength = known.receptions[1].strength.expect("a strength");
    assert_eq!((strength.value, strength.of), (10.0, 12.0));
    assert_eq!(known.emission.bursts.count, 2);
    // 600 s on in the half hour at the one place where it was heard.
    // Printed to a millionth.
    assert!((known.emission.bursts.on_fraction - 600.0 / 1800.0).abs() < 1e-6);
    assert_eq!((known.emission.level_dbfs, known.emission.bandwidth_hz), (None, None));
    assert_eq!(known.origin.excess_db, None);

    input.captures[0].listened.clear();
    let unknown = &build(&input).ledger.emissions[0];
    assert!(unknown.receptions.iter().all(|r| r.heard), "{:?}", unknown.receptions);
}

/// The detector leaves the yard in minute 30 and is in the boardroom in the same minute: the strong
/// event of that minute is no strength of the yard.
#[test]
fn the_minute_of_a_move_gives_no_strength() {
    let band = Band::new(130e6, 180e6);
    let events = [(5.0, 2.0, 60.0), (30.0, 9.0, 60.0), (45.0, 9.0, 60.0)];
    let mut input = ledger::Input { positions: positions(), ..Default::default() };
    input.captures.push(log(&["P1", "P2"], band, &events));
    let row = &build(&input).ledger.emissions[0];
    let strengths: Vec<Option<f64>> =
        row.receptions.iter().map(|r| r.strength.map(|s| s.value)).collect();
    assert_eq!(strengths, [Some(2.0), Some(9.0)]);
}

#[test]
fn levels_of_two_chains_do_not_compare() {
    let nan = f64::NAN;
    let mut input = survey(&[HZ], &[[-70.0, -40.0, nan, nan, nan]]);
    assert_eq!(build(&input).ledger.emissions[0].origin.excess_db, Some(30.0));
    input.captures[0].chain.name = "another".into();
    assert_eq!(build(&input).ledger.emissions[0].origin.excess_db, None);
    input.captures[0].chain.name = "stepper".into();
    input.captures[0].chain.setting = Some("attenuator in".into());
    assert_eq!(build(&input).ledger.emissions[0].origin.excess_db, None);
}

#[test]
fn the_reference_of_a_like_hour_counts() {
    let nan = f64::NAN;
    let mut input = survey(&[HZ], &[[-70.0, -40.0, nan, nan, nan]]);
    // At noon the yard was louder; the evening's yard stands.
    let noon = minute(-360.0);
    input.captures.push(capture("C6", Role::Reference, "P6", noon, vec![row(HZ, -50.0)]));
    input.positions.push(position("P6", "Street", Zone::Outside));
    let both = build(&input).ledger;
    assert_eq!(both.emissions[0].origin.excess_db, Some(30.0));
    assert!(!both.emissions[0].origin.excess_at_least);
    // With noon alone the comparison is wider: √(0.5² + 0.5² + 3²) dB.
    input.captures.remove(0);
    let noon_alone = build(&input).ledger;
    assert_eq!(noon_alone.emissions[0].origin.excess_db, Some(10.0));
    assert_eq!(noon_alone.emissions[0].origin.excess_u_db, Some(3.08));
}

#[test]
fn not_heard_outside_is_at_least_so_much() {
    let nan = f64::NAN;
    let input = survey(&[HZ], &[[nan, -40.0, -62.0, -70.0, -75.0]]);
    let row = &build(&input).ledger.emissions[0];
    // −40 against the limit of −96.99 dBFS.
    assert_eq!((row.origin.excess_db, row.origin.excess_at_least), (Some(56.99), true));
    assert!(text(row, "only_inside").contains("not in Yard"), "{}", text(row, "only_inside"));
    assert!(row.origin.p_inside > Some(0.8), "{:?}", row.origin);
}

#[test]
fn the_receivers_own_line() {
    let nan = f64::NAN;
    let mut input =
        survey(&[HZ, 436e6], &[[-70.0, -69.0, -70.5, -70.0, -71.0], [nan, -50.0, nan, nan, nan]]);
    let bare =
        capture("C6", Role::NoAntenna, "", minute(-30.0), vec![row(HZ, -70.2), row(436e6, -72.0)]);
    input.captures.push(bare);
    let ledger = build(&input).ledger;
    let own = nearest(&ledger.emissions, HZ);
    assert_eq!(own.receiver_line.as_deref(), Some("C6"));
    assert_eq!(own.attention.rank, 2, "leads nothing");
    // 22 dB more with an antenna is more than the receiver.
    let real = nearest(&ledger.emissions, 436e6);
    assert_eq!(real.receiver_line, None);
    assert_eq!(real.attention.rank, 1);
    // The bare receiver is no place.
    assert_eq!(own.receptions.iter().filter(|r| r.role == Role::NoAntenna).count(), 1);
    assert_eq!(real.emission.level_dbfs.map(|l| l.0), Some(-50.0));
}
