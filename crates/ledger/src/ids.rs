//! Ids: given once, kept by best match of receptions, never reused.

use crate::atom::Group;
use crate::input::{Anchor, Input, Seen, SeenFacts};
use units::Reason;

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

/// All names, and what must be kept of them.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Named {
    /// One for each group.
    pub(crate) names: Vec<Name>,
    /// For the next ledger.
    pub(crate) anchors: Vec<Anchor>,
    /// What a decision on each row would see.
    pub(crate) seen: Vec<(String, Seen)>,
    /// What to tell the person.
    pub(crate) warnings: Vec<Reason>,
}

/// Names groups: an anchor that shares a reception keeps its id.
pub(crate) fn name(input: &Input, groups: &[Group]) -> Named {
    let mut named = Named { anchors: input.anchors.clone(), ..Named::default() };
    let number = |a: &Anchor| a.id.trim_start_matches('E').parse::<u64>().unwrap_or(0);
    let mut last = input.anchors.iter().map(number).max().unwrap_or(0);
    let mut used = vec![false; input.anchors.len()];
    for group in groups {
        let keys: Vec<_> = group.atoms.iter().map(|atom| atom.key.clone()).collect();
        let known = (0..input.anchors.len()).find(|&i| {
            !used[i] && input.anchors[i].receptions.iter().any(|key| keys.contains(key))
        });
        let id = match known {
            Some(i) => {
                used[i] = true;
                named.anchors[i].receptions.clone_from(&keys);
                named.anchors[i].id.clone()
            }
            None => {
                last += 1;
                named.anchors.push(Anchor {
                    id: format!("E{last}"),
                    merged_into: None,
                    was_part_of: None,
                    receptions: keys.clone(),
                });
                format!("E{last}")
            }
        };
        let seen = Seen { receptions: keys, facts: SeenFacts::default() };
        named.seen.push((id.clone(), seen));
        named.names.push(Name { id, aliases: Vec::new(), was_part_of: None });
    }
    named
}
