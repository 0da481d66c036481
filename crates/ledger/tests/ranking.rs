//! What leads, what does not, and in which words.

mod support;

use ledger::{Input, KnownDevice, LedgerRow, Role, RoomState, Shape, build};
use support::*;
use units::{Band, Dbm, Value};

const PLANTED: f64 = 434.5e6;
const NAN: f64 = f64::NAN;

fn rows(input: &Input) -> Vec<LedgerRow> {
    build(input).ledger.emissions
}

#[test]
fn twenty_two_decibels_above_the_yard() {
    let rows = rows(&survey(&[PLANTED], &[[-62.0, -40.0, -58.0, -60.0, -61.0]]));
    assert_eq!(text(&rows[0], "stronger_inside"), "22 dB above Yard in Boardroom (u 0.7 dB)");
    assert!(text(&rows[0], "p_inside").starts_with("inside with probability"));
    assert!(text(&rows[0], "origin_priors").contains("P.2109"));
    let weaker = self::rows(&survey(&[PLANTED], &[[-40.0, -52.0, -58.0, -60.0, -61.0]]));
    assert_eq!(
        text(&weaker[0], "stronger_outside"),
        "12 dB weaker in Boardroom than in Yard (u 0.7 dB)"
    );
}

/// 434.5 MHz is loud in one room; 931 MHz is a mast (925 to 960 MHz is downlink; 3GPP TS 45.005),
/// stronger everywhere; 433 MHz comes from the street.
#[test]
fn a_mast_never_leads() {
    let levels = [
        [-75.0, -50.0, -64.0, -70.0, -72.0],
        [-20.0, -18.0, -19.0, -25.0, -24.0],
        [-40.0, -55.0, -58.0, -52.0, -60.0],
    ];
    let rows = rows(&survey(&[PLANTED, 931e6, 433.1e6], &levels));
    assert_eq!(rows[0].emission.centre_hz, PLANTED);
    let mast = nearest(&rows, 931e6);
    assert_eq!(mast.attention.rank, 3);
    assert_eq!(codes(mast)[0], "mobile_downlink", "strongest first");
    assert!(nearest(&rows, 433.1e6).origin.p_inside.expect("levels") < 0.35);
    let ranks: Vec<u32> = rows.iter().map(|r| r.attention.rank).collect();
    assert_eq!(ranks, [1, 2, 3]);
}

#[test]
fn an_uplink_and_the_known_telephone() {
    // 880 to 915 MHz is uplink (3GPP TS 45.005, E-GSM 900).
    let mut input = survey(&[900e6], &[[-75.0, -50.0, -64.0, -70.0, -72.0]]);
    let unknown = rows(&input);
    assert_eq!(text(&unknown[0], "mobile_uplink"), "mobile uplink while no known telephone was on");
    input.known_devices.push(KnownDevice {
        id: "D1".into(),
        owner: "client".into(),
        what: "caretaker's telephone".into(),
        ..KnownDevice::default()
    });
    let known = rows(&input);
    assert!(text(&known[0], "mobile_uplink").contains("caretaker's telephone"));
    assert!(known[0].attention.score < unknown[0].attention.score - 1.0);
    // One that was off then is no excuse.
    input.known_devices[0].on_from = Some(minute(600.0));
    assert_eq!(rows(&input)[0].attention.score, unknown[0].attention.score);
}

#[test]
fn a_known_device_is_named_and_lowers() {
    let levels = [[-75.0, -50.0, -64.0, -70.0, -72.0]];
    let mut input = survey(&[PLANTED], &levels);
    let before = rows(&input)[0].attention.score;
    input.known_devices.push(KnownDevice {
        id: "D1".into(),
        owner: "client".into(),
        what: "weather station".into(),
        place: Some("Boardroom".into()),
        band: Some(Band::around(PLANTED, 200e3)),
        ..KnownDevice::default()
    });
    let there = rows(&input);
    assert_eq!(
        text(&there[0], "known_device"),
        "where the known weather station (client) sends, and loudest there"
    );
    // What spoke for 'inside' speaks for the known one: its weight and two more are gone.
    let inside = there[0].attention.reasons.iter().find(|r| r.code == "stronger_inside");
    let Some(Value::Number(weight)) = inside.and_then(|r| r.values.get("weight")).cloned() else {
        panic!("a weight")
    };
    assert!(weight > 1.0, "{weight}");
    assert!((before - there[0].attention.score - 2.0 - weight).abs() < 0.011);
    // Loudest elsewhere, it may be another on the same channel.
    input.known_devices[0].place = Some("Pantry".into());
    let elsewhere = rows(&input);
    assert!((before - elsewhere[0].attention.score - 1.0).abs() < 1e-9);
    assert!(text(&elsewhere[0], "known_device").contains("loudest in Boardroom"));
    // On another channel it is none of it.
    input.known_devices[0].band = Some(Band::around(PLANTED + 1e6, 200e3));
    assert_eq!(rows(&input)[0].attention.score, before);
}

#[test]
fn a_reporter_says_its_period() {
    let mut input = survey(&[900e6], &[[NAN, -50.0, NAN, NAN, NAN]]);
    let emission = &mut input.captures[1].rows[0].emission;
    emission.shape = Shape::Bursts;
    (emission.bursts.count, emission.bursts.on_fraction) = (9, 0.02);
    emission.bursts.period_s = Some(180.0);
    emission.u.period_s = Some(0.9);
    let rows = rows(&input);
    assert_eq!(text(&rows[0], "reports"), "reports every 180 s (u 0.90 s), 9 times");
    // Frames of a protocol are no reports.
    input.captures[1].rows[0].emission.bursts.period_s = Some(0.01);
    assert_eq!(text(&self::rows(&input)[0], "reports"), "");
}

#[test]
fn on_only_with_the_room() {
    let mut input = survey(&[PLANTED], &[[NAN, -50.0, NAN, NAN, NAN]]);
    input.captures[1].room_state = Some(RoomState::Meeting);
    let mut night = capture("C6", Role::Room, "P2", minute(480.0), Vec::new());
    night.room_state = Some(RoomState::Empty);
    input.captures.push(night.clone());
    let rows = self::rows(&input);
    assert_eq!(
        text(&rows[0], "with_the_room"),
        "on only while Boardroom was in use: silent for 10 s when it was empty"
    );
    // What a condition is called decides nothing: what it is stated to be does.
    let empty_room = |name: &str, state: Option<RoomState>| {
        let mut named = input.clone();
        named.captures[5].condition = Some(name.into());
        named.captures[5].room_state = state;
        text(&self::rows(&named)[0], "with_the_room").contains("when it was empty")
    };
    assert!(!empty_room("not empty", Some(RoomState::InUse)));
    assert!(!empty_room("empty", None));
    assert!(empty_room("no meeting", Some(RoomState::Empty)));
    // Bursts, one in ten seconds, may have missed every look.
    let mut few = input.clone();
    let bursts = &mut few.captures[1].rows[0].emission;
    (bursts.shape, bursts.bursts.count, bursts.bursts.on_fraction) = (Shape::Bursts, 1, 0.1);
    assert_eq!(text(&self::rows(&few)[0], "with_the_room"), "");
    // An empty room whose limit (now −50 dBFS) it would not have passed says nothing; the other
    // places, which it would have passed through all walls, still do.
    let deaf = |capture: &mut ledger::Capture| {
        for l in &mut capture.listened {
            l.limit_dbfs = l.limit_dbfs.map(|l| units::Dbfs(l.0 + 60.0));
        }
    };
    deaf(&mut input.captures[5]);
    let with_step = self::rows(&input);
    assert_eq!(
        text(&with_step[0], "with_the_room"),
        "on only while Boardroom was in use: silent in 4 other captures for 40 s"
    );
    // What keeps step with a room is likelier in it: more so than were nobody told of its use.
    let mut untold = input.clone();
    untold.captures[1].room_state = None;
    let p = |rows: &[LedgerRow]| rows[0].origin.p_inside.expect("levels");
    assert!(p(&with_step) > p(&self::rows(&untold)));
    [0, 2, 3, 4].iter().for_each(|&k| deaf(&mut input.captures[k]));
    assert_eq!(text(&self::rows(&input)[0], "with_the_room"), "");
    // Heard there too, it is not with the room.
    input.captures[5].rows.push(row(PLANTED, -51.0));
    assert_eq!(text(&self::rows(&input)[0], "with_the_room"), "");
}

#[test]
fn a_carrier_that_never_stops() {
    let mut input = survey(&[PLANTED], &[[NAN, -50.0, -60.0, NAN, NAN]]);
    assert_eq!(text(&rows(&input)[0], "never_stops"), "never stops (20 s looked at)");
    for capture in &mut input.captures {
        for row in &mut capture.rows {
            row.emission.bandwidth_is = ledger::BandwidthIs::UpperBound;
        }
    }
    assert_eq!(
        text(&rows(&input)[0], "never_stops"),
        "a carrier that never stops (20 s looked at)"
    );
}

/// A computer's clock: at 434 MHz −83 dBm in a room is −48 dBm EIRP 3 m away (P.525: 34.7 dB), what
/// CISPR 32 class B lets any equipment radiate. A transmitter of 0 dBm is 45 dB above that.
#[test]
fn a_clock_of_a_computer_does_not_lead() {
    let at = |dbm: f64| {
        let levels = [dbm - 35.0, dbm, dbm - 18.0, dbm - 22.0, dbm - 25.0];
        let mut input = survey(&[434.0e6], &[levels]);
        for row in input.captures.iter_mut().flat_map(|capture| &mut capture.rows) {
            row.emission.level_dbm = row.emission.level_dbfs.map(|l| Dbm(l.0));
            row.emission.bandwidth_is = ledger::BandwidthIs::UpperBound;
        }
        rows(&input).remove(0)
    };
    let (clock, planted) = (at(-83.0), at(-38.0));
    assert_eq!(
        text(&clock, "unmeant"),
        "so weak that any equipment may radiate it by accident (-48 dBm if 3 m away; CISPR 32 \
         class B allows -48 dBm)"
    );
    assert_eq!(text(&planted, "unmeant"), "");
    assert_eq!(text(&clock, "dedicated"), "", "too weak to be of use beyond the walls");
    assert!(!text(&planted, "dedicated").is_empty());
    assert!(planted.attention.score > clock.attention.score + 1.0);
}

/// One emitter that two captures show as rows of different centres: the other row in the yard lies
/// over its band, so that nothing is known of this one there.
#[test]
fn what_lies_over_its_band_hides_it() {
    let alone = survey(&[PLANTED], &[[NAN, -50.0, NAN, NAN, NAN]]);
    let mut hidden = alone.clone();
    let mut over = row(PLANTED + 40e3, -45.0);
    (over.emission.low_hz, over.emission.high_hz) = (PLANTED - 60e3, PLANTED + 140e3);
    over.emission.bandwidth_hz = Some(200e3);
    hidden.captures[0].rows.push(over);
    let limit = |input: &Input| {
        let rows = rows(input);
        let yard = nearest(&rows, PLANTED).receptions.iter().find(|r| r.capture == "C1");
        yard.and_then(|r| r.limit_dbfs).expect("listened").0
    };
    // A tenth of its band: 10 dB less.
    assert!(limit(&alone) < -90.0, "{}", limit(&alone));
    assert!((limit(&hidden) + 55.0).abs() < 1e-9, "{}", limit(&hidden));
}

#[test]
fn any_order_gives_the_same_bits() {
    let levels = [
        [-75.0, -50.0, -64.0, -70.0, -72.0],
        [-20.0, -18.0, -19.0, -25.0, -24.0],
        [-40.0, -55.0, -58.0, -52.0, -60.0],
        [NAN, NAN, NAN, -60.0, -81.0],
    ];
    let mut input = survey(&[PLANTED, 931e6, 433.1e6, 437e6], &levels);
    let first = rows(&input);
    for turn in 0..5 {
        input.captures.rotate_left(1);
        if turn % 2 == 0 {
            input.captures.swap(0, 3);
        }
        let again = rows(&input);
        for (a, b) in first.iter().zip(&again) {
            assert_eq!(
                (a.emission.clone(), &a.origin, &a.attention),
                (b.emission.clone(), &b.origin, &b.attention)
            );
        }
    }
}
