//! Which atoms are one emission.

use crate::atom::{Atom, Group};
use crate::input::Input;

/// Joins atoms into groups, in canonical order of their first atoms.
pub(crate) fn join(_input: &Input, atoms: Vec<Atom>) -> Vec<Group> {
    let mut groups: Vec<Group> = Vec::new();
    for atom in atoms {
        let u = |a: &Atom| a.u_centre_hz.hypot(a.u_reference_ppm * 1e-6 * a.centre_hz);
        let fits = |g: &&mut Group| {
            let (a, b) = (&g.atoms[0], &atom);
            (a.centre_hz - b.centre_hz).abs() <= 3.0 * u(a).hypot(u(b))
                && a.identity == b.identity
                && !g.atoms.iter().any(|c| c.of == b.of && c.position == b.position)
        };
        match groups.iter_mut().find(fits) {
            Some(group) => group.atoms.push(atom),
            None => groups.push(Group { identity: atom.identity.clone(), atoms: vec![atom] }),
        }
    }
    groups
}
