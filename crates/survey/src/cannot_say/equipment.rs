//! Of the equipment: which bands and conductors it did not listen to, what it was not compared with.

use super::Known;
use crate::Coupling;
use crate::words::{frequency, ids, listed, sentence};
use ledger::{CaptureKind, Role};

/// The outermost edges of what was listened to.
pub(super) fn bands(of: &Known<'_>) -> Vec<String> {
    let edges = of.covered.iter().filter(|c| c.inside).filter_map(|c| c.band_hz);
    let (low, high) =
        edges.fold((f64::INFINITY, 0.0f64), |(l, h), (low, high)| (l.min(low), h.max(high)));
    let mut said = Vec::new();
    if low < high {
        said.push(format!(
            "Below {} and above {} no room was listened to, nor in the gaps that the table shows; an \
             emission weaker than its levels was not covered either.",
            frequency(low),
            frequency(high)
        ));
    }
    if of.covered.iter().any(|c| c.band_hz.is_none()) {
        said.push(
            "For some event logs the bands that the detector listened to are not stated: that it \
             heard nothing at a place says nothing there."
                .into(),
        );
    }
    if of.covered.iter().any(|c| c.limit_dbfs.is_some()) {
        said.push(
            "Levels in dBFS are those of a receiver that is not calibrated: they compare only with \
             one another, on the same equipment."
                .into(),
        );
    }
    said
}

pub(super) fn couplings(of: &Known<'_>) -> Option<String> {
    let used = |coupling: Coupling| {
        let mut counting = of.counting();
        counting.any(|capture| {
            let mut chains = of.record.chains.iter();
            chains.any(|c| Some(&c.name) == capture.chain.as_ref() && c.coupling == coupling)
        })
    };
    let without: Vec<String> = [
        (Coupling::Mains, "the mains"),
        (Coupling::Line, "telephone and data lines"),
        (Coupling::Light, "light and infrared"),
    ]
    .into_iter()
    .filter(|(coupling, _)| !used(*coupling))
    .map(|(_, words)| words.to_owned())
    .collect();
    (!without.is_empty()).then(|| format!("Not measured: {}.", listed(&without)))
}

pub(super) fn comparisons(of: &Known<'_>) -> Vec<String> {
    let has = |role: Role| of.counting().any(|capture| capture.role == role);
    let samples = of.counting().any(|capture| capture.kind == CaptureKind::Iq);
    let mut said = Vec::new();
    let outside = of.covered.iter().any(|covered| !covered.inside);
    if !has(Role::Reference) && !outside {
        said.push(
            "No reference outside the rooms was recorded: levels cannot tell what comes from \
             inside."
                .into(),
        );
    }
    if samples && !has(Role::NoAntenna) {
        said.push(
            "The receiver was not recorded without its antenna: what it makes itself is known only \
             by its pattern."
                .into(),
        );
    }
    if !has(Role::Check) {
        said.push(
            "No measurement of a known sender is recorded, so the equipment was not shown to receive \
             as it should on that day."
                .into(),
        );
    } else if let unchecked = unchecked(of)
        && !unchecked.is_empty()
    {
        said.push(format!(
            "No known sender was measured with {}: that equipment was not shown to receive as it \
             should on that day.",
            listed(&unchecked)
        ));
    }
    said
}

/// Chains that rooms were measured with and that no check was made with.
fn unchecked(of: &Known<'_>) -> Vec<String> {
    let with = |is: &dyn Fn(Role) -> bool| {
        let mut chains: Vec<String> = Vec::new();
        for chain in of.counting().filter(|c| is(c.role)).filter_map(|c| c.chain.clone()) {
            if !chains.contains(&chain) {
                chains.push(chain);
            }
        }
        chains
    };
    let checked = with(&|role| role == Role::Check);
    let mut used = with(&|role| matches!(role, Role::Room | Role::Walk));
    used.retain(|chain| !checked.contains(chain));
    used
}

/// What was recorded and does not count.
pub(super) fn left_out(of: &Known<'_>) -> Vec<String> {
    let mut said = Vec::new();
    for capture in &of.ledger.captures {
        if let Some(reason) = &capture.set_aside {
            let reason = sentence(reason);
            said.push(format!(
                "Measurement {} is set aside and does not count. {reason}",
                capture.id
            ));
        }
    }
    let warned: Vec<String> = of
        .counting()
        .filter(|capture| !capture.warnings.is_empty())
        .map(|capture| capture.id.clone())
        .collect();
    if !warned.is_empty() {
        said.push(format!(
            "The analyses of {} warn of what the receiver itself hid or made; it is told with each \
             measurement.",
            ids(&warned)
        ));
    }
    let warnings = of.warnings.iter();
    said.extend(warnings.map(|warning| sentence(&warning.text)));
    said
}
