//! Photographs of rooms and positions, small, and which are not shown.

use super::view::View;
use crate::model::{Block, Figure, Nature, Plot, Section, fact};
use crate::words::{counted, listed, sentence};
use survey::Photograph;

/// The annex of them; `None` where there is no photograph of a place.
pub(super) fn section(view: &View<'_>) -> Option<Section> {
    let photographs = &view.facts.record.photographs;
    if photographs.is_empty() {
        return None;
    }
    let (mut pictures, mut left_out) = (Vec::new(), Vec::new());
    for one in photographs {
        let Some(file) = &one.file else { continue };
        match view.facts.photographs.get(&file.sha256) {
            Some(picture) => pictures.push(Figure {
                caption: caption(view, one),
                alternative: format!("Photograph {} of {}", one.id, place(view, one)),
                nature: Nature::Fact,
                plot: Plot::Photograph(picture.clone()),
            }),
            None => left_out.push(format!("{} ({})", one.id, place(view, one))),
        }
    }
    let mut blocks = Vec::new();
    if !pictures.is_empty() {
        blocks.push(fact(
            "What the cameras wrote beside these pictures, like the place, is left out here and kept in \
             the evidence files, whose hashes stand under evidence.",
        ));
        blocks.push(Block::Pictures(pictures));
    }
    if !left_out.is_empty() {
        let n = left_out.len() as u64;
        blocks.push(fact(format!(
            "{} kept as evidence and not shown here, being no JPEG or PNG that can be read, too large, or \
             too many for one report: {}.",
            counted(n, "photograph is", "photographs are"),
            listed(&left_out)
        )));
    }
    let title = "Photographs of the place".to_owned();
    Some(Section { id: "photographs", title, blocks, ..Section::default() })
}

fn place(view: &View<'_>, one: &Photograph) -> String {
    let position = one.position.as_ref().map(|id| view.place(id));
    position.or_else(|| one.room.clone()).unwrap_or_else(|| "a place not stated".to_owned())
}

fn caption(view: &View<'_>, one: &Photograph) -> String {
    let at = one.taken_at.map(|at| format!(", {}", view.when.minute(at))).unwrap_or_default();
    let notes = one.notes.as_deref().map(|notes| format!(" {}", sentence(notes)));
    format!("{}: {}{at}.{}", one.id, place(view, one), notes.unwrap_or_default())
}
