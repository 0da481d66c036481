//! Joins and splits by hand, as every later join obeys them.
//!
//! The latest act that speaks of two looks decides about them, so acts are followed from the latest
//! back: a join puts together whatever no later split holds apart; a split holds apart whatever no
//! later join put together.

use crate::atom::Atom;
use crate::clusters::Clusters;
use crate::input::{ActKind, Input, ReceptionKey, Seen};
use crate::keys::Index;
use crate::look::Look;

/// Puts looks together and holds them apart as the acts say, and puts readings to the rows that
/// their notes name.
pub(crate) fn follow(input: &Input, atoms: &[Atom], looks: &[Look], clusters: &mut Clusters) {
    let index = Index::new(atoms);
    let mut look_of = vec![0; atoms.len()];
    for (i, look) in looks.iter().enumerate() {
        look.atoms.iter().for_each(|&atom| look_of[atom] = i);
    }
    let find = |key: &ReceptionKey| index.find(key).map(|hit| look_of[hit.atom]);
    for act in input.acts.iter().rev() {
        match &act.what {
            ActKind::Join { rows, .. } => {
                let mut all: Vec<usize> =
                    rows.iter().flat_map(|(_, seen)| &seen.receptions).filter_map(find).collect();
                all.sort_unstable();
                all.dedup();
                // Each with each, not along a chain: a link that a later split forbids must not
                // keep the others from meeting.
                for (i, &a) in all.iter().enumerate() {
                    for &b in &all[i + 1..] {
                        clusters.put_together(a, b);
                    }
                }
            }
            ActKind::Split { seen, captures, .. } => {
                let (leave, stay) = parted(input, seen, captures);
                let found = |keys: Vec<&ReceptionKey>| -> Vec<usize> {
                    let mut found: Vec<usize> = keys.into_iter().filter_map(find).collect();
                    found.sort_unstable();
                    found.dedup();
                    found
                };
                clusters.keep_apart(found(leave), found(stay));
            }
            ActKind::Decide { .. } => {}
        }
    }
    for (i, atom) in atoms.iter().enumerate() {
        let named = atom.reading(input).and_then(|reading| reading.emission.as_ref());
        let anchor = named.and_then(|id| input.anchors.iter().find(|anchor| anchor.id == *id));
        let Some(anchor) = anchor else { continue };
        let others = anchor.receptions.iter().filter(|key| key.sha256 != atom.key.sha256);
        if let Some(row) = others.filter_map(find).next() {
            clusters.put_together(row, look_of[i]);
        }
    }
}

/// The keys that a split takes out of a row, and those that it leaves there.
pub(crate) fn parted<'a>(
    input: &Input,
    seen: &'a Seen,
    captures: &[String],
) -> (Vec<&'a ReceptionKey>, Vec<&'a ReceptionKey>) {
    let leaves = |key: &ReceptionKey| {
        input.captures.iter().any(|capture| {
            captures.contains(&capture.id)
                && capture.sha256 == key.sha256
                // Parts of one recording share its hash and differ in their places.
                && (capture.position.is_none() || capture.position == key.position)
        }) || captures.contains(&key.sha256)
    };
    seen.receptions.iter().partition(|key| leaves(key))
}
