//! The receiver's own lines: what it shows with no antenna connected.

use crate::atom::Group;
use crate::compare::own_level;
use crate::contract::{Reception, Role};
use crate::input::Input;

/// A room that shows it by no more than this over the receiver alone shows the receiver, dB (our
/// choice: the line's own wandering with temperature and gain).
const SAME_DB: f64 = 4.0;
/// And so many standard uncertainties of the difference.
const SAME_U: f64 = 3.0;

/// The no-antenna capture that shows a group as the receiver's own, the loudest where several do;
/// `None` if none does, or if an antenna brings clearly more of it.
pub(crate) fn line_of(input: &Input, group: &Group, receptions: &[Reception]) -> Option<String> {
    if !group.atoms.iter().any(|atom| atom.role(input) == Role::NoAntenna) {
        return None;
    }
    let level = |r: &Reception| own_level(input, r);
    let (bare, antenna): (Vec<&Reception>, Vec<&Reception>) =
        receptions.iter().filter(|r| r.heard).partition(|r| r.role == Role::NoAntenna);
    let own = bare.iter().copied().reduce(|a, b| {
        let louder = level(b).map(|l| l.db) > level(a).map(|l| l.db);
        if louder { b } else { a }
    })?;
    let Some(own_level) = level(own) else { return Some(own.capture.clone()) };
    let brings_more = antenna.iter().filter_map(|r| level(r)).any(|l| {
        l.key == own_level.key
            && l.db - own_level.db > SAME_DB.max(SAME_U * l.u_db.hypot(own_level.u_db))
    });
    (!brings_more).then(|| own.capture.clone())
}
