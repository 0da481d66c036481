//! What the levels tell: where it comes from, and how strong a sender it can be.

use crate::compare::Unit;
use crate::origin::{Excess, rounded};
use crate::signs::{Look, Sign};
use units::{Reason, Zone};

/// Levels move the odds of 'inside' by at most this much, nepers. Surer than some 12 to 1 that it is
/// inside makes a row no more worth a look: there what it is and does decides.
const ORIGIN_MOST: (f64, f64) = (-4.0, 2.5);

/// Where the levels say it comes from: how much they changed the odds of 'inside'.
pub(crate) fn where_from(look: &Look<'_>) -> Option<Sign> {
    let weight = origin_weight(look)?;
    let p = look.facts.inside.as_ref()?.p_inside;
    let reason = comparison(look).unwrap_or_else(|| {
        Reason::new("p_inside", format!("inside with probability {p:.2}")).with("p_inside", p)
    });
    Some(Sign { weight, reason })
}

/// How much the levels changed the odds of 'inside', nepers.
pub(crate) fn origin_weight(look: &Look<'_>) -> Option<f64> {
    let inside = look.facts.inside.as_ref()?;
    let logit = |p: f64| (p / (1.0 - p)).ln();
    Some((logit(inside.p_inside) - logit(inside.prior)).clamp(ORIGIN_MOST.0, ORIGIN_MOST.1))
}

/// 'Heard only inside', '22 dB above the yard in the board room', or what there is of it.
fn comparison(look: &Look<'_>) -> Option<Reason> {
    let facts = look.facts;
    if facts.heard_inside.is_empty() && !facts.heard_beyond.is_empty() {
        let places = names(look, &facts.heard_beyond);
        let text = format!("not heard inside, only in {places}");
        return Some(Reason::new("not_inside", text).with("places", places));
    }
    let excess = facts.excess.as_ref()?;
    let (room, reference) = (look.name(&excess.room), look.name(&excess.reference));
    let (size, u) = amounts(excess);
    if excess.at_least && facts.heard_beyond.is_empty() {
        let rooms = facts.heard_inside.len();
        let silent = names(look, &facts.silent_beyond);
        // What is no decibel is none to tell.
        let margin = match (excess.unit, excess.value >= 0.5) {
            (Unit::Steps(_), _) | (_, false) => String::new(),
            _ => format!(", {size} above what would have been heard there"),
        };
        let text = format!(
            "heard only inside ({rooms} {}, loudest in {room}), not in {silent}{margin}",
            if rooms == 1 { "place" } else { "places" }
        );
        let reason = Reason::new("only_inside", text)
            .with("rooms", rooms as f64)
            .with("room", room)
            .with("references", silent);
        return Some(with_excess(reason, excess));
    }
    let (code, text) = if excess.value.abs() < 0.5 {
        ("as_strong", format!("as strong in {room} as in {reference}{u}"))
    } else if excess.value >= 0.0 {
        ("stronger_inside", format!("{size} above {reference} in {room}{u}"))
    } else {
        ("stronger_outside", format!("{size} weaker in {room} than in {reference}{u}"))
    };
    let reason = Reason::new(code, text).with("room", room).with("reference", reference);
    Some(with_excess(reason, excess))
}

fn amounts(excess: &Excess) -> (String, String) {
    match excess.unit {
        Unit::Steps(of) => (steps(excess.value.abs(), of), String::new()),
        _ => (
            format!("{:.0} dB", excess.value.abs()),
            format!(
                " (u {:.1} dB{})",
                excess.u,
                if excess.like_hours { "" } else { ", other hours" }
            ),
        ),
    }
}

/// '1 step of 12', '3 steps of 12'.
fn steps(count: f64, of: u32) -> String {
    let count = format!("{count:.0}");
    let unit = if count == "1" { "step" } else { "steps" };
    format!("{count} {unit} of {of}")
}

fn with_excess(reason: Reason, excess: &Excess) -> Reason {
    match excess.unit {
        Unit::Steps(of) => reason.with("excess_steps", excess.value).with("of", f64::from(of)),
        _ => reason
            .with("excess_db", rounded(excess.value, 1e2))
            .with("excess_u_db", rounded(excess.u, 1e2)),
    }
}

fn names(look: &Look<'_>, positions: &[String]) -> String {
    let names: Vec<String> = positions.iter().map(|p| look.name(p)).collect();
    names.join(", ")
}

/// What the origin rests on: last in the list, no weight of its own.
pub(crate) fn origin_notes(look: &Look<'_>) -> Vec<Sign> {
    let Some(inside) = &look.facts.inside else { return Vec::new() };
    let (p, low, high) =
        (rounded(inside.p_inside, 1e2), rounded(inside.low, 1e2), rounded(inside.high, 1e2));
    let text = format!("inside with probability {p:.2} ({low:.2} to {high:.2} by the prior)");
    let p_inside = Reason::new("p_inside", text)
        .with("p_inside", p)
        .with("low", low)
        .with("high", high)
        .with("p_adjacent", rounded(inside.p_adjacent, 1e2));
    let all = std::iter::once(p_inside).chain(inside.reasons.iter().cloned());
    all.map(|reason| Sign { weight: 0.0, reason }).collect()
}

/// Under this SNR a row may be noise, dB.
const WEAK_DB: f64 = 8.0;

pub(crate) fn weak(look: &Look<'_>) -> Option<Sign> {
    let snr_db = look.row.emission.snr_db.filter(|snr| *snr < WEAK_DB)?;
    let text = match snr_db {
        snr_db if snr_db >= 0.5 => format!("only {snr_db:.0} dB over the noise at its loudest"),
        snr_db if snr_db > -0.5 => "no stronger than the noise at its loudest".to_owned(),
        snr_db => format!("{:.0} dB under the noise even at its loudest", -snr_db),
    };
    let reason = Reason::new("weak", text).with("snr_db", rounded(snr_db, 1e2));
    let weight = (0.3 * (snr_db - WEAK_DB)).max(-3.0) - 0.5;
    Some(Sign { weight, reason })
}

/// A place in the same room is about so far from what sends there, metres (our choice).
const ROOM_M: f64 = 3.0;
/// Half or twice that distance: what an estimate of power leaves open, dB (ITU-R P.525).
const ROOM_DB: f64 = 6.0;
/// Band and EIRP that information technology equipment may radiate unmeant: CISPR 32 class B, 30
/// and 37 dBµV/m at 10 m below 1 GHz, 50 and 54 dBµV/m at 3 m above (values from memory); 54 dBµV/m
/// at 3 m is −41.2 dBm.
const UNMEANT: [(f64, f64, f64); 4] =
    [(30e6, 230e6, -54.8), (230e6, 1e9, -47.8), (1e9, 3e9, -45.2), (3e9, 6e9, -41.2)];
/// Weight of each decibel that it lies under that, and at most so many.
const UNMEANT_WEIGHT: f64 = 0.2;
const UNMEANT_MOST: f64 = 3.0;

/// What it would send, were its loudest room its own: EIRP in dBm by free space (ITU-R P.525).
/// `None` without a level in dBm inside.
pub(crate) fn sent_dbm(look: &Look<'_>) -> Option<f64> {
    let inside = |id: &String| {
        let position = look.input.positions.iter().find(|p| p.id == *id);
        position.is_some_and(|p| matches!(p.zone, Zone::Inside | Zone::Moving))
    };
    let receptions = look.row.receptions.iter();
    let heard = receptions.filter(|r| r.heard && r.position.as_ref().is_some_and(inside));
    let loudest = heard.filter_map(|r| r.level_dbm).map(|l| l.0).max_by(f64::total_cmp)?;
    let wavelengths = ROOM_M * look.row.emission.centre_hz / 299_792_458.0;
    Some(loudest + 20.0 * (4.0 * std::f64::consts::PI * wavelengths).log10())
}

/// No stronger than a computer or a charger may be by accident: who hides a transmitter wants to
/// receive it beyond the walls.
pub(crate) fn accidental(look: &Look<'_>) -> Option<Sign> {
    let hz = look.row.emission.centre_hz;
    let (.., limit_dbm) = UNMEANT.iter().find(|(low, high, _)| (*low..*high).contains(&hz))?;
    let sent_dbm = sent_dbm(look)?;
    let under_db = limit_dbm + ROOM_DB - sent_dbm;
    if under_db <= 0.0 {
        return None;
    }
    let text = format!(
        "so weak that any equipment may radiate it by accident ({sent_dbm:.0} dBm if {ROOM_M:.0} m \
         away; CISPR 32 class B allows {limit_dbm:.0} dBm)"
    );
    let reason = Reason::new("unmeant", text)
        .with("sent_dbm", rounded(sent_dbm, 1e1))
        .with("limit_dbm", *limit_dbm);
    Some(Sign { weight: -(UNMEANT_WEIGHT * under_db).min(UNMEANT_MOST), reason })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_step_is_no_steps() {
        let told = [0.0, 0.6, 1.0, 1.4, 2.0].map(|count| steps(count, 12));
        let steps = ["0 steps of 12", "1 step of 12", "1 step of 12", "1 step of 12"];
        assert_eq!(told[..4], steps);
        assert_eq!(told[4], "2 steps of 12");
    }

    /// EIRP of a field: P(dBm) = E(dBµV/m) + 20 log d − 104.8 (P.525: E = √(30 P)/d).
    #[test]
    fn limits_of_field_as_power() {
        let dbm = |field: f64, m: f64| {
            let volts = 10f64.powf(field / 20.0) * 1e-6;
            10.0 * ((volts * m).powi(2) / 30.0 * 1e3).log10()
        };
        let fields = [(30.0, 10.0), (37.0, 10.0), (50.0, 3.0), (54.0, 3.0)];
        for ((.., limit), (field, m)) in UNMEANT.iter().zip(fields) {
            assert!((dbm(field, m) - limit).abs() < 0.1, "{field} {}", dbm(field, m));
        }
    }
}
