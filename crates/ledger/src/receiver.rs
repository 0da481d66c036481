//! The receiver's own lines: what a no-antenna capture shows.

use crate::atom::Group;
use crate::contract::{Reception, Role};
use crate::input::Input;

/// The no-antenna capture that shows a group as the receiver's own; `None` if none does.
pub(crate) fn line_of(input: &Input, group: &Group, _receptions: &[Reception]) -> Option<String> {
    let own = group.atoms.iter().find(|atom| atom.role(input) == Role::NoAntenna)?;
    own.capture(input).map(|capture| capture.id.clone())
}
