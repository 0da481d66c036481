//! The content as a tagged document for keeping: PDF/A-3a (ISO 19005-3) and PDF/UA-1 (ISO 14289-1),
//! fonts inside, its data attached. A typesetter sets `report.typ`, which reads the content as JSON;
//! everything lies in memory, so the same content gives the same bytes.

mod data;
mod fonts;
mod letters;
mod world;

use crate::facts::{Facts, FactsError};
use crate::model::{Block, Figure, Plot, Report, fact};
use data::Files;
use jiff::Timestamp as Moment;
use typst::World;
use typst::diag::{SourceDiagnostic, Warned};
use typst::foundations::{Datetime, Smart};
use typst_layout::PagedDocument;
use typst_pdf::{PdfOptions, PdfStandard, PdfStandards, Timestamp};
use world::Memory;

/// Sizes of text that are tried, points: the first that fits where all has to fit one page.
const SIZES_PT: [f64; 4] = [8.8, 8.2, 7.6, 7.0];
/// Size of text of a report of many pages, points.
const SIZE_PT: f64 = 9.4;

/// A file that goes with the document.
#[derive(Debug, Clone)]
pub struct Attachment {
    /// Its name.
    pub name: String,
    /// Its media type (RFC 6838).
    pub media_type: String,
    /// What it is, in a sentence.
    pub description: String,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

impl Attachment {
    /// The ledger that a report is of, as JSON.
    ///
    /// # Errors
    /// If it cannot be written.
    pub fn ledger(facts: &Facts) -> Result<Attachment, FactsError> {
        Ok(Attachment {
            name: "ledger.json".to_owned(),
            media_type: "application/json".to_owned(),
            description: "The ledger that this report is of, as data (stillroom.ledger/1)"
                .to_owned(),
            bytes: facts.ledger_json()?,
        })
    }
}

/// Why there is no document.
#[derive(Debug, thiserror::Error)]
pub enum PdfError {
    /// The typesetter refused. That is a fault of this program.
    #[error(
        "the report cannot be set as PDF ({0}): the HTML report says the same; tell the makers"
    )]
    Typeset(String),
}

/// The report as PDF, with files attached.
///
/// # Errors
/// If it cannot be set, which would be a fault of this program.
pub fn pdf(report: &Report, attachments: &[Attachment]) -> Result<Vec<u8>, PdfError> {
    let written = set(report, attachments);
    match (&written, without_photographs(report)) {
        // A photograph that its decoder takes and the standard does not must not cost the report.
        (Err(_), Some(bare)) => set(&bare, attachments),
        _ => written,
    }
}

fn set(report: &Report, attachments: &[Attachment]) -> Result<Vec<u8>, PdfError> {
    let sizes = if report.one_page { &SIZES_PT[..] } else { &[SIZE_PT][..] };
    let mut fits = Err(PdfError::Typeset("no size of text".into()));
    for size_pt in sizes {
        fits = document(report, attachments, *size_pt);
        if fits.as_ref().map_or(true, |document| !report.one_page || document.pages().len() == 1) {
            break;
        }
    }
    let written = fits.and_then(|document| write(report, &document));
    // What the typesetter remembers of one report is of no use to the next.
    typst::comemo::evict(0);
    written
}

/// The report with words in place of its photographs, if it has any.
fn without_photographs(report: &Report) -> Option<Report> {
    let mut bare = report.clone();
    let mut any = false;
    let said =
        |figure: &Figure| fact(format!("{} This file cannot be shown here.", figure.caption));
    for section in &mut bare.sections {
        let blocks = std::mem::take(&mut section.blocks);
        section.blocks = blocks
            .into_iter()
            .flat_map(|block| match block {
                Block::Figure(figure) if matches!(figure.plot, Plot::Photograph(_)) => {
                    any = true;
                    vec![said(&figure)]
                }
                Block::Pictures(figures) => {
                    any = true;
                    figures.iter().map(said).collect()
                }
                other => vec![other],
            })
            .collect();
    }
    any.then_some(bare)
}

fn document(
    report: &Report,
    attachments: &[Attachment],
    size_pt: f64,
) -> Result<PagedDocument, PdfError> {
    let memory = Memory::of(Files::of(report, attachments, size_pt));
    let Warned { output, .. } = typst::compile::<PagedDocument>(&memory);
    output.map_err(|errors| refused(&errors, Some(&memory)))
}

fn write(report: &Report, document: &PagedDocument) -> Result<Vec<u8>, PdfError> {
    let standards = PdfStandards::new(&[PdfStandard::A_3a, PdfStandard::Ua_1]);
    let standards = standards.map_err(|e| PdfError::Typeset(e.message().to_string()))?;
    let options = PdfOptions {
        ident: Smart::Custom(format!("{} {}", report.foot, report.made)),
        creator: Smart::Custom(Some("stillroom".to_owned())),
        timestamp: moment(report).map(Timestamp::new_utc),
        standards,
        ..PdfOptions::default()
    };
    typst_pdf::pdf(document, &options).map_err(|errors| refused(&errors, None))
}

/// When the report was made, to the second, UTC.
fn moment(report: &Report) -> Option<Datetime> {
    let at = Moment::from_nanosecond(i128::from(report.made.0)).ok()?;
    let at = at.to_zoned_datetime(jiff::tz::TimeZone::UTC);
    let small = |number: i8| u8::try_from(number).ok();
    Datetime::from_ymd_hms(
        i32::from(at.year()),
        small(at.month())?,
        small(at.day())?,
        small(at.hour())?,
        small(at.minute())?,
        small(at.second())?,
    )
}

fn refused(errors: &[SourceDiagnostic], memory: Option<&Memory>) -> PdfError {
    let said = errors.iter().map(|error| {
        let line = memory.and_then(|memory| {
            let source = memory.source(memory.main()).ok()?;
            let range = typst::WorldExt::range(memory, error.span)?;
            source.lines().byte_to_line(range.start)
        });
        match line {
            Some(line) => format!("{}, line {} of report.typ", error.message, line + 1),
            None => error.message.to_string(),
        }
    });
    PdfError::Typeset(said.collect::<Vec<_>>().join("; "))
}
