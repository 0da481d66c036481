//! One emission as each capture that listened there received it, or did not.

use crate::atom::Group;
use crate::contract::Reception;
use crate::input::Input;

/// The receptions of a group, in canonical order of captures, then of time.
pub(crate) fn of(input: &Input, group: &Group) -> Vec<Reception> {
    group
        .atoms
        .iter()
        .map(|atom| {
            let row = atom.row(input);
            let reading = atom.reading(input);
            let id = atom.capture(input).map(|c| c.id.clone());
            Reception {
                capture: id.or(reading.map(|r| r.id.clone())).unwrap_or_default(),
                position: atom.position.clone(),
                role: atom.role(input),
                heard: true,
                level_dbfs: row.and_then(|r| r.emission.level_dbfs),
                level_dbm: row.and_then(|r| r.emission.level_dbm),
                strength: row.and_then(|r| r.strength).or(reading.and_then(|r| r.strength)),
                u_db: row.and_then(|r| r.emission.u.level_db),
                limit_dbfs: None,
                limit_dbm: None,
                looked_s: 0.0,
                first: atom.first,
                last: atom.last,
            }
        })
        .collect()
}
