//! Inside or outside, from the levels at each place.

use crate::atom::Group;
use crate::contract::{Origin, Reception};
use crate::input::Input;

/// What attention wants to know of an origin beyond the wire's fields.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Facts {}

/// Where a group radiates from, and on what that rests.
pub(crate) fn of(_input: &Input, _group: &Group, _receptions: &[Reception]) -> (Origin, Facts) {
    (Origin::default(), Facts::default())
}
