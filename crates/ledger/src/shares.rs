//! Which id goes to which group, where ids hold parts of several groups and groups parts of several
//! ids.

use crate::assign::assign;
use std::collections::BTreeMap;

/// What an anchor holds of each group that it holds anything of.
pub(crate) type Shares = BTreeMap<usize, i64>;

/// The group of each anchor that is some group's best, one to one. Squares favour one large share
/// over several small ones; of equal ones the older id and the earlier group.
pub(crate) fn chosen(weights: &[Shares]) -> Vec<Option<usize>> {
    let mut place = vec![None; weights.len()];
    for (anchors, groups) in parts(weights) {
        let matrix: Vec<Vec<i64>> = anchors
            .iter()
            .enumerate()
            .map(|(i, &a)| {
                let own = |(j, g): (usize, &usize)| {
                    let Some(&weight) = weights[a].get(g) else { return 0 };
                    let (older, earlier) =
                        ((anchors.len() - i).min(255), (groups.len() - j).min(63));
                    let tie = (older * 64 + earlier) as i64;
                    (weight * weight).min(1 << 30) * (1 << 16) + tie
                };
                groups.iter().enumerate().map(own).collect()
            })
            .collect();
        for (&anchor, column) in anchors.iter().zip(assign(&matrix)) {
            place[anchor] = column.map(|column| groups[column]);
        }
    }
    place
}

/// Anchors and groups that have to do with each other, apart from those that have not.
fn parts(weights: &[Shares]) -> Vec<(Vec<usize>, Vec<usize>)> {
    let mut parts: Vec<(Vec<usize>, Vec<usize>)> = Vec::new();
    let mut part_of: BTreeMap<usize, usize> = BTreeMap::new();
    for (a, own) in weights.iter().enumerate().filter(|(_, own)| !own.is_empty()) {
        let mut into: Vec<usize> = own.keys().filter_map(|g| part_of.get(g).copied()).collect();
        into.sort_unstable();
        into.dedup();
        let home = into.first().copied().unwrap_or_else(|| {
            parts.push((Vec::new(), Vec::new()));
            parts.len() - 1
        });
        for &other in into.iter().skip(1) {
            let (anchors, groups) = std::mem::take(&mut parts[other]);
            part_of.extend(groups.iter().map(|&g| (g, home)));
            parts[home].0.extend(anchors);
            parts[home].1.extend(groups);
        }
        parts[home].0.push(a);
        for &g in own.keys() {
            if part_of.insert(g, home).is_none() {
                parts[home].1.push(g);
            }
        }
    }
    for (anchors, groups) in &mut parts {
        anchors.sort_unstable();
        groups.sort_unstable();
    }
    parts
}
