//! Ids: given once, kept by best match, never reused.
//!
//! Each id owns the receptions it stands for, and each reception has one owner, also while its
//! capture is set aside. A row's id is the one that owns most of it, one to one over all rows; what
//! else owns part of it is merged into it (the oldest stays), and what nobody owned before is owned
//! by the row's id from then on. So a merge that comes undone gives both rows back as they were.

use crate::atom::{Atom, Group, natural};
use crate::hand::parted;
use crate::input::{ActKind, Anchor, Input, ReceptionKey};
use crate::keys::{Index, fit};
use crate::shares::{Shares, chosen};
use std::collections::BTreeMap;

/// The names of one group.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Name {
    /// `E7`.
    pub(crate) id: String,
    /// Ids merged into it.
    pub(crate) aliases: Vec<String>,
    /// The row it was split from.
    pub(crate) was_part_of: Option<String>,
}

/// All names, and who owns what.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Named {
    /// One for each group.
    pub(crate) names: Vec<Name>,
    /// For the next ledger, by the number of their ids.
    pub(crate) anchors: Vec<Anchor>,
    /// Group that each anchor's row is now; `None` while nothing that counts shows it.
    pub(crate) group_of: Vec<Option<usize>>,
    /// Anchor that owns each atom, atoms numbered through the groups in order.
    pub(crate) owner_of: Vec<usize>,
}

/// An atom, numbered through the groups, and the group that it is in.
pub(crate) fn numbered(groups: &[Group]) -> (Vec<Atom>, Vec<usize>) {
    let mut atoms = Vec::new();
    let mut group_of = Vec::new();
    for (i, group) in groups.iter().enumerate() {
        for atom in &group.atoms {
            atoms.push(atom.clone());
            group_of.push(i);
        }
    }
    (atoms, group_of)
}

/// Names groups after the anchors that own their receptions.
pub(crate) fn name(input: &Input, groups: &[Group]) -> Named {
    let (atoms, group_of) = numbered(groups);
    let index = Index::new(&atoms);
    let mut anchors = anchors_before(input);
    let owners = owners(&anchors, &index, atoms.len());
    let weights = weights(input, &anchors, &index, &owners, &group_of);
    let mut place = chosen(&weights);
    for (place, own) in place.iter_mut().zip(&weights) {
        // Not the best of any row: merged into the row that holds most of it, the first of equals.
        let most = own.values().copied().max();
        *place = place.or_else(|| {
            own.iter().find(|(_, weight)| Some(**weight) == most).map(|(group, _)| *group)
        });
    }
    // Anchors are in the order of their numbers: the oldest id stays.
    let mut heads: Vec<Option<usize>> = vec![None; groups.len()];
    for (anchor, group) in place.iter().enumerate() {
        if let Some(group) = *group {
            heads[group] = heads[group].or(Some(anchor));
        }
    }
    let mut last = last_number(input, &anchors);
    let heads: Vec<usize> = heads
        .into_iter()
        .enumerate()
        .map(|(group, head)| {
            head.unwrap_or_else(|| {
                last += 1;
                anchors.push(Anchor {
                    id: format!("E{last}"),
                    merged_into: None,
                    was_part_of: split_from(&anchors, &owners, &group_of, group),
                    receptions: Vec::new(),
                });
                place.push(Some(group));
                anchors.len() - 1
            })
        })
        .collect();
    let owner_of: Vec<usize> = group_of
        .iter()
        .zip(&owners)
        .map(|(&group, owner)| match owner {
            Some(owner) if place[*owner] == Some(group) => *owner,
            _ => heads[group],
        })
        .collect();
    for anchor in &mut anchors {
        // What is not shown now is kept: its capture may come back.
        anchor.receptions.retain(|key| index.find(key).is_none());
    }
    for (atom, &owner) in atoms.iter().zip(&owner_of) {
        anchors[owner].receptions.push(atom.key.clone());
    }
    for a in 0..anchors.len() {
        if let Some(group) = place[a] {
            let head = heads[group];
            anchors[a].merged_into = (head != a).then(|| anchors[head].id.clone());
        }
    }
    let names = heads.iter().map(|&head| name_of(&anchors, head)).collect();
    Named { names, anchors, group_of: place, owner_of }
}

fn name_of(anchors: &[Anchor], head: usize) -> Name {
    let id = &anchors[head].id;
    let aliases: Vec<String> = anchors
        .iter()
        .filter(|anchor| anchor.id != *id && root(anchors, anchor) == id)
        .map(|anchor| anchor.id.clone())
        .collect();
    let was_part_of = anchors[head].was_part_of.clone();
    Name {
        was_part_of: was_part_of.filter(|of| of != id && !aliases.contains(of)),
        id: id.clone(),
        aliases,
    }
}

/// The id that an anchor was merged into in the end.
fn root<'a>(anchors: &'a [Anchor], anchor: &'a Anchor) -> &'a String {
    let mut at = anchor;
    // No chain is longer than there are anchors; one that circles is cut there.
    for _ in 0..anchors.len() {
        let next = at.merged_into.as_ref().and_then(|id| anchors.iter().find(|a| a.id == *id));
        match next {
            Some(next) => at = next,
            None => break,
        }
    }
    &at.id
}

/// Anchors as they were, by number, with those that splits by hand have made since.
fn anchors_before(input: &Input) -> Vec<Anchor> {
    let mut anchors = input.anchors.clone();
    for act in &input.acts {
        let ActKind::Split { id, seen, captures, new_id, .. } = &act.what else { continue };
        if anchors.iter().any(|anchor| anchor.id == *new_id) {
            continue;
        }
        let (leaving, staying) = parted(input, seen, captures);
        let leaves = |key: &ReceptionKey| leaving.iter().any(|other| fit(key, other) > 0);
        let mut receptions = Vec::new();
        for anchor in &mut anchors {
            receptions.extend(anchor.receptions.iter().filter(|key| leaves(key)).cloned());
            anchor.receptions.retain(|key| !leaves(key));
        }
        // The part that stays keeps the name, also where all that the name owned leaves and only
        // what was merged into it stays.
        if anchors.iter().any(|anchor| anchor.id == *id && anchor.receptions.is_empty()) {
            let stays = |key: &ReceptionKey| staying.iter().any(|other| fit(key, other) > 0);
            let mut kept = Vec::new();
            for anchor in &mut anchors {
                kept.extend(anchor.receptions.iter().filter(|key| stays(key)).cloned());
                anchor.receptions.retain(|key| !stays(key));
            }
            if let Some(anchor) = anchors.iter_mut().find(|anchor| anchor.id == *id) {
                anchor.receptions = kept;
            }
        }
        let was_part_of = Some(id.clone());
        anchors.push(Anchor { id: new_id.clone(), merged_into: None, was_part_of, receptions });
    }
    anchors.sort_by_cached_key(|anchor| natural(&anchor.id));
    anchors
}

/// The anchor that owns each atom: the one whose key fits it best, the oldest of equal ones.
fn owners(anchors: &[Anchor], index: &Index<'_>, atoms: usize) -> Vec<Option<usize>> {
    let mut best = vec![(0, None); atoms];
    for (a, anchor) in anchors.iter().enumerate() {
        for hit in anchor.receptions.iter().filter_map(|key| index.find(key)) {
            if hit.score > best[hit.atom].0 {
                best[hit.atom] = (hit.score, Some(a));
            }
        }
    }
    best.into_iter().map(|(_, owner)| owner).collect()
}

/// What each anchor holds of each group. Where a decision was made under its name and a group holds
/// most of what was decided on, that counts alone: the id stays with that part.
fn weights(
    input: &Input,
    anchors: &[Anchor],
    index: &Index<'_>,
    owners: &[Option<usize>],
    group_of: &[usize],
) -> Vec<Shares> {
    let mut weights = vec![Shares::new(); anchors.len()];
    for (a, anchor) in anchors.iter().enumerate() {
        for hit in anchor.receptions.iter().filter_map(|key| index.find(key)) {
            if owners[hit.atom] == Some(a) {
                *weights[a].entry(group_of[hit.atom]).or_default() += i64::from(hit.weight);
            }
        }
    }
    for act in &input.acts {
        let ActKind::Decide { id, seen, .. } = &act.what else { continue };
        let Some(anchor) = anchors.iter().position(|anchor| anchor.id == *id) else { continue };
        let mut shares = Shares::new();
        for hit in seen.receptions.iter().filter_map(|key| index.find(key)) {
            *shares.entry(group_of[hit.atom]).or_default() += i64::from(hit.weight);
        }
        // Where most of it is not shown, the name waits with that and claims nothing of the rest.
        let whole = 10 * seen.receptions.len() as i64;
        if shares.values().any(|share| 2 * share > whole) {
            weights[anchor] = shares;
        }
    }
    weights
}

/// The id that owned most of a group that gets a new one.
fn split_from(
    anchors: &[Anchor],
    owners: &[Option<usize>],
    group_of: &[usize],
    group: usize,
) -> Option<String> {
    let mut owned: BTreeMap<usize, usize> = BTreeMap::new();
    for (owner, _) in owners.iter().zip(group_of).filter(|(_, g)| **g == group) {
        if let Some(owner) = owner {
            *owned.entry(*owner).or_default() += 1;
        }
    }
    let most = owned.values().copied().max()?;
    let (&anchor, _) = owned.iter().find(|(_, n)| **n == most)?;
    Some(anchors[anchor].id.clone())
}

/// The largest number that any id ever had.
fn last_number(input: &Input, anchors: &[Anchor]) -> u64 {
    let number = |id: &str| natural(id).1.first().copied().unwrap_or(0);
    let acts = input.acts.iter().flat_map(|act| match &act.what {
        ActKind::Decide { id, .. } => vec![number(id)],
        ActKind::Join { rows, .. } => rows.iter().map(|(id, _)| number(id)).collect(),
        ActKind::Split { id, new_id, .. } => vec![number(id), number(new_id)],
    });
    anchors.iter().map(|anchor| number(&anchor.id)).chain(acts).max().unwrap_or(0)
}
