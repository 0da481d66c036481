//! Is the probability what it says? Against invented premises drawn by another generator than the
//! estimator's priors: real plans in two dimensions, walls counted one by one along the ray, an
//! exponent drawn for each place, shadowing correlated over distance, fading, thresholds.

use locate::{Chain, Context, InsideOutside, Observation, Received, Spot, origins, weigh};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Normal};
use units::{Strength, Zone};

#[derive(Clone, Copy, PartialEq)]
enum Truth {
    Inside,
    Adjacent,
    Outside,
}

struct Case {
    truth: Truth,
    observations: Vec<Observation>,
    ordinal: Vec<Observation>,
    /// What makes its levels dBm.
    to_dbm_db: f64,
}

/// A building of `columns` × 2 rooms about a corridor; four rooms visited, one reference outside.
struct Premises {
    columns: usize,
    side: f64,
    rooms: Vec<(usize, usize)>,
    places: Vec<((f64, f64), Zone)>,
    attached: bool,
    inner_db: f64,
    facade_db: f64,
    round_db: f64,
    sigma: f64,
    /// Of the detector with the scale.
    step: f64,
}

fn room_at(side: f64, column: usize, row: usize) -> (f64, f64) {
    (column as f64 * side, row as f64 * (side + 2.0))
}

fn in_room(x0: f64, y0: f64, side: f64, random: &mut ChaCha8Rng) -> (f64, f64) {
    (x0 + random.random_range(0.4..side - 0.4), y0 + random.random_range(0.4..side - 0.4))
}

fn premises(random: &mut ChaCha8Rng, reference: bool, attached: bool) -> Premises {
    let (columns, side) = (random.random_range(2..5usize), random.random_range(3.5..7.0f64));
    let (width, depth) = (columns as f64 * side, 2.0 * side + 2.0);
    // Four different rooms.
    let mut rooms: Vec<(usize, usize)> = (0..columns).flat_map(|c| [(c, 0), (c, 1)]).collect();
    for i in (1..rooms.len()).rev() {
        let j = random.random_range(0..=i);
        rooms.swap(i, j);
    }
    let mut places: Vec<((f64, f64), Zone)> = rooms[..4]
        .iter()
        .map(|&(c, r)| {
            let (x0, y0) = room_at(side, c, r);
            (in_room(x0, y0, side, random), Zone::Inside)
        })
        .collect();
    if reference {
        let angle: f64 = random.random_range(0.0..std::f64::consts::TAU);
        let away = random.random_range(8.0..40.0f64);
        let (cx, cy) = (width / 2.0, depth / 2.0);
        let radius = away + width.max(depth) / 2.0;
        places.push(((cx + radius * angle.cos(), cy + radius * angle.sin()), Zone::Outside));
    }
    if attached {
        // The corridor is a reference too.
        let spot = (random.random_range(0.0..width), side + random.random_range(0.3..1.7));
        places.push((spot, Zone::Adjacent));
    }
    Premises {
        columns,
        side,
        rooms,
        places,
        attached,
        inner_db: random.random_range(2.0..9.0f64),
        facade_db: random.random_range(4.0..22.0f64),
        round_db: random.random_range(10.0..25.0f64),
        sigma: random.random_range(3.0..7.0f64),
        step: random.random_range(2.0..6.0f64),
    }
}

/// One emitter on given premises.
fn case(premises: &Premises, random: &mut ChaCha8Rng) -> Case {
    let normal = |sigma: f64, random: &mut ChaCha8Rng| {
        Normal::new(0.0, sigma).expect("sigma").sample(random)
    };
    let &Premises { columns, side, ref rooms, ref places, attached, sigma, step, .. } = premises;
    let (width, depth) = (columns as f64 * side, 2.0 * side + 2.0);
    // Where it is: as often as the priors say (a test of the likelihoods, not of the priors).
    let pick: f64 = random.random();
    let zones = locate::zone_prior(attached);
    let (truth, emitter) = if pick < zones.inside {
        let (c, r) = rooms[random.random_range(0..rooms.len())];
        let (x0, y0) = room_at(side, c, r);
        (Truth::Inside, in_room(x0, y0, side, random))
    } else if pick < zones.inside + zones.adjacent {
        // The corridor, or the house that shares a wall.
        let spot = if random.random::<f64>() < 0.5 {
            (random.random_range(0.0..width), side + random.random_range(0.3..1.7))
        } else {
            (width + random.random_range(0.5..8.0), random.random_range(0.0..depth))
        };
        (Truth::Adjacent, spot)
    } else {
        let angle: f64 = random.random_range(0.0..std::f64::consts::TAU);
        // From the kerb to a broadcaster 50 km away.
        let away = 10f64.powf(random.random_range(0.7..4.7));
        let radius = away + width.max(depth) / 2.0;
        let (cx, cy) = (width / 2.0, depth / 2.0);
        (Truth::Outside, (cx + radius * angle.cos(), cy + radius * angle.sin()))
    };
    let power = random.random_range(-20.0..30.0f64);
    let &Premises { inner_db, facade_db, round_db, .. } = premises;
    let building_in_way = |a: (f64, f64), b: (f64, f64)| {
        let steps = 200;
        // The last 60 m hold the building.
        let far = (a.0 - b.0).hypot(a.1 - b.1) / 60.0;
        let a = if far > 1.0 { (b.0 + (a.0 - b.0) / far, b.1 + (a.1 - b.1) / far) } else { a };
        let (mut walls, mut crossed, mut was) = (0u32, 0u32, None);
        let mut cell_before: Option<(i64, i64)> = None;
        for k in 0..=steps {
            let t = f64::from(k) / f64::from(steps);
            let (x, y) = (a.0 + t * (b.0 - a.0), a.1 + t * (b.1 - a.1));
            let is_in = x > 0.0 && x < width && y > 0.0 && y < depth;
            if was.is_some_and(|w| w != is_in) {
                crossed += 1;
            }
            was = Some(is_in);
            if is_in {
                let row = if y < side {
                    0
                } else if y < side + 2.0 {
                    1
                } else {
                    2
                };
                let column = if row == 1 { -1 } else { (x / side).floor() as i64 };
                if cell_before.is_some_and(|c| c != (column, row)) {
                    walls += 1;
                }
                cell_before = Some((column, row));
            }
        }
        (f64::from(crossed), f64::from(walls))
    };
    let shared = normal(sigma * 0.5, random);
    // What is heard from afar sends with more than what hides in a room.
    let away = (emitter.0.powi(2) + emitter.1.powi(2)).sqrt().max(1.0);
    let extra = if truth == Truth::Outside { random.random_range(0.0..27.0f64) } else { 0.0 };
    let extra = extra * away.log10();
    let floor_db = power - 32.0 - random.random_range(35.0..75.0f64) - extra;
    let mut observations = Vec::new();
    let mut ordinal = Vec::new();
    for (index, &(at, zone)) in places.iter().enumerate() {
        let d = ((at.0 - emitter.0).powi(2) + (at.1 - emitter.1).powi(2) + 0.25).sqrt();
        let (facades, walls) = building_in_way(emitter, at);
        let exponent = random.random_range(1.8..2.6f64);
        let own = normal(sigma * 0.87, random);
        // Rayleigh power in dB.
        let fading = 10.0 * (-(1.0 - random.random::<f64>()).ln()).max(1e-3).log10() * 0.6;
        // Body and orientation: 3 to 5 dB a reception (methods, common practice). A window here, a
        // pillar there: the facade differs from ray to ray.
        let own = own + normal(4.0, random) + facades * normal(3.0, random);
        let common = if zone == Zone::Inside { shared } else { 0.0 };
        // What goes round and over a building is no weaker than that.
        let through = facades * facade_db + walls * inner_db;
        let through = if facades >= 2.0 { through.min(round_db) } else { through };
        let level = power - 32.0 - 10.0 * exponent * d.log10() - through + own + common + fading;
        let (room, p_silent) = (index, 0.0);
        let spot = Some(Spot { x_m: at.0, y_m: at.1, floor: 0 });
        let received = if level > floor_db {
            Received::Level { db: level + normal(0.5, random), u_db: 0.5 }
        } else {
            Received::Below { limit_db: floor_db }
        };
        observations.push(Observation { zone, room, spot, received, p_silent });
        let steps = ((level - floor_db) / step).ceil();
        let received = if steps >= 1.0 {
            Received::Strength(Strength { value: steps.min(12.0), of: 12.0 })
        } else {
            Received::NoStrength
        };
        ordinal.push(Observation { zone, room, spot, received, p_silent });
    }
    Case { truth, observations, ordinal, to_dbm_db: extra }
}

/// Bins of predicted probability against how often it was inside.
fn reliability(results: &[(f64, bool)]) -> Vec<(usize, f64, f64)> {
    (0..10)
        .map(|bin| {
            let of_bin: Vec<&(f64, bool)> =
                results.iter().filter(|r| ((r.0 * 10.0) as usize).min(9) == bin).collect();
            let n = of_bin.len().max(1) as f64;
            let predicted = of_bin.iter().map(|r| r.0).sum::<f64>() / n;
            let observed = of_bin.iter().filter(|r| r.1).count() as f64 / n;
            (of_bin.len(), predicted, observed)
        })
        .collect()
}

/// What is known of the places and of the receiver.
#[derive(Clone, Copy, PartialEq)]
enum Known {
    Zones,
    Plan,
    PlanAndDbm,
}

/// Emitters on one premises.
const TOGETHER: usize = 10;

/// Probabilities with the truth, each emission judged alone, and with what the others tell.
struct Results {
    alone: Vec<(f64, Truth)>,
    together: Vec<(f64, Truth)>,
}

fn run(ordinal: bool, reference: bool, attached: bool, known: Known, seed: u64) -> Results {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let context = Context { attached, in_step: None, own: false };
    let mut results = Results { alone: Vec::new(), together: Vec::new() };
    for _ in 0..(if known == Known::Zones { 250 } else { 70 }) {
        let premises = premises(&mut random, reference, attached);
        let (mut weighed, mut truths) = (Vec::new(), Vec::new());
        for _ in 0..TOGETHER {
            let case = case(&premises, &mut random);
            let mut observations = if ordinal { case.ordinal } else { case.observations };
            if known == Known::Zones {
                observations.iter_mut().for_each(|o| o.spot = None);
            }
            let to_dbm_db = (known == Known::PlanAndDbm).then_some(case.to_dbm_db);
            weighed.push(weigh(450e6, &context, &[Chain { observations, to_dbm_db }]));
            truths.push(case.truth);
        }
        let put = |all: &[Option<InsideOutside>], into: &mut Vec<(f64, Truth)>| {
            let heard =
                all.iter().zip(&truths).filter_map(|(p, t)| Some((p.as_ref()?.p_inside, *t)));
            into.extend(heard);
        };
        put(&origins(&weighed), &mut results.together);
        let alone = weighed.into_iter().map(|one| origins(&[one]).remove(0)).collect::<Vec<_>>();
        put(&alone, &mut results.alone);
    }
    results
}

struct Shares {
    inside_over_80: f64,
    outside_over_80: f64,
    outside_under_35: f64,
}

/// The same of both; the shares with what the others tell.
fn check(name: &str, results: &Results, allowed: f64) -> Shares {
    check_one(&format!("{name}, alone"), &results.alone, allowed);
    check_one(name, &results.together, allowed)
}

/// Prints the reliability and checks every bin of 50 or more against `allowed`.
fn check_one(name: &str, results: &[(f64, Truth)], allowed: f64) -> Shares {
    let pairs: Vec<(f64, bool)> = results.iter().map(|r| (r.0, r.1 == Truth::Inside)).collect();
    println!("{name}: {} cases; predicted, observed:", pairs.len());
    for (n, predicted, observed) in reliability(&pairs) {
        println!("  {n:5} {predicted:.3} {observed:.3}");
        if n >= 50 {
            // Three deviations of the bin's own binomial error on top.
            let most = allowed + 3.0 * (observed * (1.0 - observed) / n as f64).sqrt();
            assert!((predicted - observed).abs() < most, "{name}: {predicted} but {observed}");
        }
    }
    let share = |truth: Truth, test: &dyn Fn(f64) -> bool| {
        let of: Vec<f64> = results.iter().filter(|r| r.1 == truth).map(|r| r.0).collect();
        of.iter().filter(|&&p| test(p)).count() as f64 / of.len() as f64
    };
    let shares = Shares {
        inside_over_80: share(Truth::Inside, &|p| p > 0.8),
        outside_over_80: share(Truth::Outside, &|p| p > 0.8),
        outside_under_35: share(Truth::Outside, &|p| p < 0.35),
    };
    // Mean logarithm of the probability of what was so: the nearer to 0 the better (Good 1952).
    let ln = |&(p, inside): &(f64, bool)| if inside { p.ln() } else { (1.0 - p).ln() };
    let score = pairs.iter().map(ln).sum::<f64>() / pairs.len() as f64;
    println!(
        "  inside over 0.8 {:.2}; outside over 0.8 {:.2}, under 0.35 {:.2}; log score {score:.4}",
        shares.inside_over_80, shares.outside_over_80, shares.outside_under_35
    );
    shares
}

#[test]
fn levels_with_a_reference() {
    let shares = check("levels", &run(false, true, false, Known::Zones, 1), 0.1);
    assert!(shares.inside_over_80 > 0.75, "{}", shares.inside_over_80);
    assert!(shares.outside_under_35 > 0.75, "{}", shares.outside_under_35);
    assert!(shares.outside_over_80 < 0.1, "{}", shares.outside_over_80);
}

#[test]
fn strengths_with_a_reference() {
    let shares = check("strengths", &run(true, true, false, Known::Zones, 2), 0.1);
    assert!(shares.inside_over_80 > 0.75, "{}", shares.inside_over_80);
    assert!(shares.outside_under_35 > 0.75, "{}", shares.outside_under_35);
    assert!(shares.outside_over_80 < 0.08, "{}", shares.outside_over_80);
}

/// Rooms alone: near the prior, and what it does say is not more than it knows.
#[test]
fn levels_without_a_reference() {
    let results = run(false, false, false, Known::Zones, 3);
    check("no reference", &results, 0.1);
    let results = results.together;
    let near =
        results.iter().filter(|r| (r.0 - locate::zone_prior(false).inside).abs() < 0.35).count();
    assert!(near as f64 > 0.85 * results.len() as f64, "{near} of {}", results.len());
}

#[test]
fn levels_with_a_corridor_too() {
    let shares = check("corridor", &run(false, true, true, Known::Zones, 4), 0.1);
    assert!(shares.outside_under_35 > 0.75, "{}", shares.outside_under_35);
}

/// Where the plan is known, and what the receiver is. Seeds 11 to 14 were looked at while spreads
/// were chosen; these were not. With a corridor in the middle much is left open, truly.
#[test]
fn levels_on_a_known_plan() {
    let near = |shares: Shares| {
        assert!(shares.inside_over_80 > 0.3, "{}", shares.inside_over_80);
        assert!(shares.outside_under_35 > 0.75, "{}", shares.outside_under_35);
        assert!(shares.outside_over_80 < 0.06, "{}", shares.outside_over_80);
    };
    near(check("plan", &run(false, true, true, Known::Plan, 31), 0.05));
    near(check("plan, dBm", &run(false, true, true, Known::PlanAndDbm, 32), 0.1));
    near(check("strengths, plan", &run(true, true, true, Known::Plan, 33), 0.1));
    let shares = check("one yard, plan", &run(false, true, false, Known::Plan, 34), 0.1);
    assert!(shares.inside_over_80 > 0.7, "{}", shares.inside_over_80);
    check("rooms alone, plan, dBm", &run(false, false, false, Known::PlanAndDbm, 35), 0.1);
}
