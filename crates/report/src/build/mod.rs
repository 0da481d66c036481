//! The content of a report, as a pure function of the facts: a file for each part.

mod account;
mod advice;
mod annex;
mod answer;
mod authority;
mod cautions;
mod checked;
mod cover;
mod findings;
mod interim;
mod pictures;
mod plans;
mod plots;
mod recorded;
mod resolve;
mod spectra;
mod view;

use crate::facts::{Facts, FactsError};
use crate::model::{Report, Section};
use view::View;

/// The whole report.
///
/// # Errors
/// If the survey's time zone is not known.
pub fn full(facts: &Facts) -> Result<Report, FactsError> {
    let view = View::of(facts)?;
    let mut sections = vec![answer::section(&view)];
    sections.push(findings::section(&view));
    sections.extend(advice::section(&view));
    sections.extend([
        account::unresolved(&view),
        cover::section(&view),
        recorded::section(&view),
        account::section(&view),
        cautions::section(),
    ]);
    for (i, section) in sections.iter_mut().enumerate() {
        section.number = (i + 1).to_string();
    }
    for (letter, mut section) in ["A", "B", "C", "D"].into_iter().zip(annex::sections(&view)) {
        section.number = letter.to_owned();
        sections.push(section);
    }
    Ok(report(&view, "Report of a radio survey", sections, false))
}

/// One page for the same night.
///
/// # Errors
/// If the survey's time zone is not known.
pub fn interim(facts: &Facts) -> Result<Report, FactsError> {
    let view = View::of(facts)?;
    Ok(report(&view, "Interim page of a radio survey", interim::sections(&view), true))
}

fn report(view: &View<'_>, title: &str, sections: Vec<Section>, one_page: bool) -> Report {
    let head = &view.facts.record.survey;
    let mut lines = Vec::new();
    if let Some(client) = view.brief().and_then(|brief| brief.client.clone()) {
        lines.push(("For".to_owned(), client));
    }
    if let Some(name) = view.facts.record.premises.as_ref().and_then(|p| p.name.clone()) {
        lines.push(("Premises".to_owned(), name));
    }
    if let Some(author) = view.statement().and_then(|statement| statement.author.as_deref()) {
        let by = view.statement().and_then(|statement| statement.qualification.as_deref());
        let by = by.map(|by| format!(", {by}")).unwrap_or_default();
        lines.push(("Author".to_owned(), format!("{author}{by}")));
    }
    let technician = head.technician.clone();
    lines.push(("Technician".to_owned(), technician.unwrap_or_else(|| "not stated".into())));
    lines.push(("Report made".to_owned(), view.when.long(view.facts.made)));
    lines.push(("Times".to_owned(), format!("as in {}", head.time_zone)));
    // Last: it takes the whole width.
    lines.push(("As found".to_owned(), view.validity()));
    let seal: String = view.facts.verification.head.chars().take(16).collect();
    Report {
        title: title.to_owned(),
        survey: head.name.clone(),
        author: view
            .statement()
            .and_then(|statement| statement.author.clone())
            .or_else(|| head.technician.clone()),
        made: view.facts.made,
        head: lines,
        foot: format!("{} · journal {seal}", head.name),
        one_page,
        sections,
    }
}
