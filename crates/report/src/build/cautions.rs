//! Cautions, in plain words; local law and licensed people come first (common practice, no source).

use crate::model::{Block, Section};

const CAUTIONS: [(&str, &str); 6] = [
    (
        "Interception",
        "To listen to, to make out or even to store what other people send can be an offence. What may \
         be done is for the law of the place and for a lawyer to say; this survey received and measured, \
         and sent nothing.",
    ),
    (
        "Hands off",
        "A thing that was found is evidence. Do not touch, move or switch it off, and keep the place as \
         it is. Photograph it, note the time, and call the client's lawyer or the police.",
    ),
    (
        "Say nothing there",
        "Do not speak of this report in the rooms that it is about, nor on a telephone or by a mail \
         account that may be overheard.",
    ),
    (
        "Where a person may be in danger",
        "Where somebody may be stalked or abused, taking a device away can raise the danger. Plan for \
         safety first, with those whose work it is.",
    ),
    (
        "Mains, lifts, alarms",
        "Mains installations, lifts, fire alarms and whatever else protects life are for licensed people \
         only.",
    ),
    (
        "This report",
        "Reasons and decisions stand in the survey's journal, cannot be taken out of it and may be read \
         in court. Whoever passes this report on passes on what it says of people and rooms.",
    ),
];

pub(super) fn section() -> Section {
    let caution = |(name, text): (&str, &str)| Block::Caution(name.to_owned(), text.to_owned());
    Section {
        id: "cautions",
        title: "Cautions".into(),
        blocks: CAUTIONS.into_iter().map(caution).collect(),
        ..Section::default()
    }
}

/// The one that no page may lack.
pub(super) fn short() -> Block {
    Block::Caution(
        "Until the report".into(),
        "Do not speak of this in the rooms. Touch, move and switch off nothing that was found. Local \
         law decides what may be listened to or stored."
            .to_owned(),
    )
}
