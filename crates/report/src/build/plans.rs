//! Levels of a finding on the floor plans, where rooms have corners and positions a place.

use super::plots::{Compared, compared};
use super::view::View;
use crate::model::{Figure, Nature, Plan, PlanFloor, Plot};
use crate::words;
use ledger::LedgerRow;

/// A picture for each chain that heard it on a plan.
pub(super) fn of(view: &View<'_>, row: &LedgerRow) -> Vec<Figure> {
    compared(view, row).iter().filter_map(|compared| figure(view, row, compared)).collect()
}

fn figure(view: &View<'_>, row: &LedgerRow, compared: &Compared<'_>) -> Option<Figure> {
    let record = &view.facts.record;
    let mut known: Vec<_> = record.floors.iter().collect();
    known.sort_by(|a, b| {
        let height = |f: &survey::Floor| f.level.map(f64::from).or(f.height_m).unwrap_or(0.0);
        height(a).total_cmp(&height(b))
    });
    let floors: Vec<PlanFloor> = known
        .into_iter()
        .filter_map(|floor| {
            let rooms = record.rooms.iter().filter(|room| {
                room.floor.as_ref() == Some(&floor.name) && room.corners_m.len() > 2
            });
            let rooms: Vec<_> =
                rooms.map(|room| (room.name.clone(), room.corners_m.clone())).collect();
            let marks = compared.points.iter().filter_map(|(id, point)| {
                let position = view.position(id)?;
                let here = position.floor.as_ref() == Some(&floor.name);
                here.then_some(([position.x_m?, position.y_m?], point.clone()))
            });
            let marks: Vec<_> = marks.collect();
            let drawn = !rooms.is_empty() && !marks.is_empty();
            drawn.then(|| PlanFloor { name: floor.name.clone(), rooms, marks })
        })
        .collect();
    let marks = || floors.iter().flat_map(|floor| &floor.marks).map(|(_, point)| point);
    let heard = || marks().filter(|point| point.heard);
    let loudest = heard().max_by(|a, b| a.value.total_cmp(&b.value))?;
    let low = heard().map(|point| point.value).fold(f64::INFINITY, f64::min);
    let off = compared.points.len() - marks().count();
    let rest = match off {
        0 => String::new(),
        n => format!(
            " {} off these floors.",
            words::counted(n as u64, "position lies", "positions lie")
        ),
    };
    Some(Figure {
        caption: format!(
            "{} on the plan, with {}: a larger mark is a stronger level; open marks stand where it was not \
             heard.{rest}",
            row.id, compared.chain
        ),
        alternative: format!(
            "Floor plan of {} with the level of {} at {} positions, strongest at {} with {}.",
            words::listed(&floors.iter().map(|floor| floor.name.clone()).collect::<Vec<_>>()),
            row.id,
            marks().count(),
            loudest.place,
            words::signed(loudest.value, &compared.unit)
        ),
        nature: Nature::Calculation,
        plot: Plot::Plan(Plan {
            unit: compared.unit.clone(),
            low,
            high: loudest.value,
            floors: floors.clone(),
        }),
    })
}
