//! What would resolve a row, from what was and what was not measured of it: nothing is advised that was
//! done already.

use super::view::View;
use crate::words::{self, ids, listed};
use ledger::{CaptureInfo, CaptureKind, LedgerRow, Reception, Role};

/// Rows less likely to be one are not named.
const MAY_BE: f64 = 0.33;
/// What the ledger calls a comparison of a room with a reference.
const COMPARED: [&str; 4] = ["only_inside", "stronger_inside", "stronger_outside", "as_strong"];

/// What is missing to tell what it is and where it comes from, in sentences.
pub(super) fn would(view: &View<'_>, row: &LedgerRow) -> Vec<String> {
    let mut said = Vec::new();
    said.extend(inside(view, row));
    said.extend(what(view, row));
    said.extend(timing(row));
    for other in row.may_be.iter().filter(|other| other.probability >= MAY_BE) {
        let word = words::likelihood(other.probability);
        said.push(format!(
            "It is {word} the same emission as {}: a measurement that resolves both in frequency \
             would tell.",
            other.id
        ));
    }
    said.push(
        "Would settle it: switching off what is thought to send it, and seeing it stop.".to_owned(),
    );
    said
}

/// Whether it is said of the row how likely it is another one.
pub(super) fn is_likely_another(row: &LedgerRow) -> bool {
    row.may_be.iter().any(|other| other.probability >= MAY_BE)
}

/// The measurement that a reception is of; of a part of a walk, the whole.
fn capture<'a>(view: &View<'a>, reception: &Reception) -> Option<&'a CaptureInfo> {
    let captures = &view.facts.ledger.captures;
    let whole = reception.capture.split('.').next().unwrap_or_default();
    let named = captures.iter().find(|capture| capture.id == reception.capture);
    named.or_else(|| captures.iter().find(|capture| capture.id == whole))
}

/// What would tell inside from outside.
fn inside(view: &View<'_>, row: &LedgerRow) -> Option<String> {
    let compared = row.attention.reasons.iter().any(|why| COMPARED.contains(&why.code.as_str()));
    if compared || row.origin.excess_db.is_some() {
        return None;
    }
    let (mut within, mut beyond) = (Vec::new(), Vec::new());
    for reception in row.receptions.iter().filter(|one| one.role != Role::NoAntenna) {
        let Some(chain) = capture(view, reception).and_then(|of| of.chain.clone()) else {
            continue;
        };
        let inside = view.is_inside(reception.position.as_ref());
        let side = if inside { &mut within } else { &mut beyond };
        if !side.contains(&chain) {
            side.push(chain);
        }
    }
    let with = |chains: &[String]| match chains {
        [] => String::new(),
        _ => format!(", with {}", listed(chains)),
    };
    let missing = match (within.is_empty(), beyond.is_empty()) {
        (true, true) => "the same equipment in the room and at a reference outside, at the same hours".to_owned(),
        (false, true) => format!("a reference outside{}, at the same hours", with(&within)),
        (true, false) => format!("listening in the rooms{}, at the same hours", with(&beyond)),
        (false, false) if within.iter().any(|chain| beyond.contains(chain)) => {
            "levels that compare, of the same setting of the equipment and at the same hours: both \
             the room and a reference outside were listened to, and what was recorded there does not tell"
                .to_owned()
        }
        (false, false) => format!(
            "one equipment at both: the rooms were listened to with {}, the reference outside with {}",
            listed(&within),
            listed(&beyond)
        ),
    };
    Some(format!("Would tell inside from outside: {missing}."))
}

/// What would tell what it is.
fn what(view: &View<'_>, row: &LedgerRow) -> Option<String> {
    if words::technology_of(&row.emission).is_some() {
        return None;
    }
    let mut samples: Vec<String> = Vec::new();
    for reception in row.receptions.iter().filter(|one| one.heard) {
        let of = capture(view, reception).filter(|of| of.kind == CaptureKind::Iq);
        samples.extend(of.map(|of| of.id.clone()).filter(|id| !samples.contains(id)));
    }
    Some(if samples.is_empty() {
        "Would tell what it is: a recording of samples at this frequency.".to_owned()
    } else {
        format!(
            "What it is could not be told from the samples in {}; a recording nearer to it might.",
            ids(&samples)
        )
    })
}

/// What would tell how it comes and goes.
fn timing(row: &LedgerRow) -> Option<String> {
    let bursts = &row.emission.bursts;
    (bursts.count <= 2 && bursts.on_fraction < 0.5).then(|| {
        let longest_s = row.receptions.iter().map(|one| one.looked_s).fold(0.0, f64::max);
        let done = match longest_s > 0.0 {
            true => format!("the {} of the longest measurement there", words::length(longest_s)),
            false => "was done".to_owned(),
        };
        format!(
            "Would tell its timing: listening at this frequency without a gap for several times \
             longer than {done}."
        )
    })
}
