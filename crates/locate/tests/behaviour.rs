//! What the probability must do, whatever its constants.

use locate::{Context, Observation, Received, origin, origins, weigh, zone_prior};
use units::{Strength, Zone};

fn level(zone: Zone, room: usize, db: f64) -> Observation {
    Observation {
        zone,
        room,
        spot: None,
        received: Received::Level { db, u_db: 0.5 },
        p_silent: 0.0,
    }
}

fn below(zone: Zone, room: usize, limit_db: f64) -> Observation {
    Observation { zone, room, spot: None, received: Received::Below { limit_db }, p_silent: 0.0 }
}

const ATTACHED: Context = Context { attached: true, in_step: None, own: false };

fn p(chain: &[Observation]) -> f64 {
    origin(450e6, &ATTACHED, &[chain.to_vec().into()]).expect("heard").p_inside
}

/// Four rooms of one loudness and a yard of another.
fn rooms_and_yard(rooms: [f64; 4], yard: f64) -> Vec<Observation> {
    let mut all: Vec<Observation> =
        rooms.iter().enumerate().map(|(room, &db)| level(Zone::Inside, room, db)).collect();
    all.push(level(Zone::Outside, 4, yard));
    all
}

#[test]
fn the_louder_outside_the_less_inside() {
    let by_yard = [-110.0, -90.0, -70.0, -50.0, -30.0]
        .map(|yard| p(&rooms_and_yard([-40.0, -62.0, -65.0, -70.0], yard)));
    assert!(by_yard.windows(2).all(|w| w[0] >= w[1]), "{by_yard:?}");
    assert!(by_yard[0] > 0.8 && by_yard[4] < 0.05, "{by_yard:?}");
}

#[test]
fn a_mast_is_outside_at_any_level() {
    for loud in [0.0, -40.0, -80.0] {
        let found = p(&rooms_and_yard([-14.0, -18.0, -11.0, -16.0].map(|r| r + loud), loud));
        assert!(found < 0.1, "{found}");
    }
}

#[test]
fn heard_only_outside() {
    let mut chain: Vec<Observation> = (0..4).map(|room| below(Zone::Inside, room, -95.0)).collect();
    chain.push(level(Zone::Outside, 4, -85.0));
    assert!(p(&chain) < 0.15, "{}", p(&chain));
}

#[test]
fn gain_does_not_matter_and_chains_add() {
    let chain = rooms_and_yard([-40.0, -62.0, -65.0, -70.0], -85.0);
    let louder = rooms_and_yard([0.0, -22.0, -25.0, -30.0], -45.0);
    assert!((p(&chain) - p(&louder)).abs() < 1e-9);
    // A second receiver that saw the same makes it surer.
    let both =
        origin(450e6, &ATTACHED, &[chain.clone().into(), louder.into()]).expect("heard").p_inside;
    assert!(both > p(&chain), "{both}");
}

#[test]
fn the_corridor_tells_next_door_from_inside() {
    let mut chain = rooms_and_yard([-60.0, -64.0, -66.0, -70.0], -90.0);
    let without = p(&chain);
    chain.push(level(Zone::Adjacent, 5, -35.0));
    let with = origin(450e6, &ATTACHED, &[chain.into()]).expect("heard");
    assert!(with.p_inside < without - 0.2, "{} {without}", with.p_inside);
    assert!(with.p_adjacent > 0.5, "{}", with.p_adjacent);
}

#[test]
fn one_that_may_have_been_silent_says_less() {
    let at = |p_silent| {
        let yard = Observation { p_silent, ..below(Zone::Outside, 1, -90.0) };
        p(&[level(Zone::Inside, 0, -50.0), yard])
    };
    assert!(at(0.0) > at(0.5) && at(0.5) > at(0.9) && at(0.9) > at(1.0));
}

#[test]
fn one_level_in_one_room_tells_next_to_nothing() {
    let found =
        origin(450e6, &ATTACHED, &[vec![level(Zone::Inside, 0, -50.0)].into()]).expect("heard");
    assert!((found.p_inside - zone_prior(true).inside).abs() < 0.12, "{}", found.p_inside);
    assert!(found.high - found.low > 0.3);
    assert!(found.reasons.iter().any(|r| r.code == "no_reference"));
    let priors = found.reasons.iter().find(|r| r.code == "origin_priors").expect("named");
    assert!(priors.text.contains("P.2109"), "{}", priors.text);
}

/// An emission heard 14 dB over the yard, of a building through which masts lose so much.
fn beside_masts(hz: f64, loss_db: f64, own: bool) -> f64 {
    let mast = |k: usize| {
        let rooms = [1.0, -2.0, 2.0, -1.0].map(|r| -40.0 - loss_db + r * (k % 3) as f64);
        let context = Context { own, ..ATTACHED };
        weigh(hz, &context, &[rooms_and_yard(rooms, -40.0).into()])
    };
    let chain = rooms_and_yard([-50.0, -58.0, -60.0, -61.0], -64.0);
    let mut all = vec![weigh(450e6, &ATTACHED, &[chain.into()])];
    all.extend((0..6).map(mast));
    origins(&all)[0].as_ref().expect("heard").p_inside
}

#[test]
fn emissions_of_one_survey_tell_of_its_building() {
    // Little goes out of a building that lets little in: 14 dB are the way through a thin wall.
    let (thin, thick) = (beside_masts(450e6, 5.0, false), beside_masts(450e6, 28.0, false));
    assert!(thin > thick + 0.2, "{thin} {thick}");
    // Walls take something else of another carrier.
    let far = beside_masts(5e9, 5.0, false) - beside_masts(5e9, 28.0, false);
    assert!(far > 0.0 && far < thin - thick, "{far}");
    // The receiver's own lines never came through a wall.
    assert_eq!(beside_masts(450e6, 5.0, true).to_bits(), beside_masts(450e6, 28.0, true).to_bits());
    let alone = p(&rooms_and_yard([-50.0, -58.0, -60.0, -61.0], -64.0));
    assert_eq!(beside_masts(450e6, 5.0, true).to_bits(), alone.to_bits());
}

#[test]
fn nothing_heard_is_no_answer() {
    assert!(origin(450e6, &ATTACHED, &[vec![below(Zone::Inside, 0, -90.0)].into()]).is_none());
    assert!(origin(450e6, &ATTACHED, &[]).is_none());
}

#[test]
fn a_vehicle_counts_as_inside() {
    let chain = [level(Zone::Moving, 0, -40.0), level(Zone::Outside, 1, -90.0)];
    assert!(p(&chain) > 0.8, "{}", p(&chain));
}

#[test]
fn strengths() {
    let reading = |zone, room, value: f64| Observation {
        zone,
        room,
        spot: None,
        received: match value {
            0.0 => Received::NoStrength,
            value => Received::Strength(Strength { value, of: 12.0 }),
        },
        p_silent: 0.0,
    };
    let by = |rooms: [f64; 3], yard: f64| {
        let mut chain: Vec<Observation> = (rooms.iter().enumerate())
            .map(|(room, &value)| reading(Zone::Inside, room, value))
            .collect();
        chain.push(reading(Zone::Outside, 3, yard));
        p(&chain)
    };
    assert!(by([12.0, 4.0, 2.0], 0.0) > 0.8, "{}", by([12.0, 4.0, 2.0], 0.0));
    assert!(by([3.0, 2.0, 4.0], 9.0) < 0.1, "{}", by([3.0, 2.0, 4.0], 9.0));
    // All at the end of the scale: nothing learnt but that it is strong everywhere.
    let full = by([12.0, 12.0, 12.0], 12.0);
    assert!(full > 0.1 && full < 0.7, "{full}");
}
