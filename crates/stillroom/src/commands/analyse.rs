//! `analyse`: the emissions of recordings, without a survey.

use crate::args::{self, AsArg};
use crate::commands::circumstances::format_word;
use crate::exit::{Outcome, refused};
use crate::progress::Bar;
use crate::wrap::wrapped;
use crate::{say, table};
use analyse::{AnalyseOptions, Analysed, Document, Region, analyse_opened};
use capture::{Annotation, OpenOptions, TreatAs, one_line};
use jiff::tz::TimeZone;
use std::path::PathBuf;

/// Claims of a file that are listed; the rest are counted.
const CLAIMS_SHOWN: usize = 10;

/// Analyses every recording among the files; as a table each is printed when it is done.
pub fn run(args: &args::Analyse) -> anyhow::Result<Outcome> {
    let options = options(args)?;
    let mut analysed = Vec::new();
    for named in recordings(&args.files)? {
        let mut options = options.clone();
        options.open.inner.clone_from(&named.inner);
        let opened = capture::open(&named.path, &options.open)?;
        let claims = opened.claims.clone();
        let bar = Bar::new();
        let mut one = analyse_opened(&named.called, opened, &options, &bar)?;
        drop(bar);
        one.analysis.warnings.extend(named.warnings);
        if args.json.json {
            analysed.push(one);
        } else {
            print(&one, &claims)?;
        }
    }
    if args.json.json {
        say::json(&Document::new(&analysed))?;
    }
    Ok(Outcome::Done)
}

/// One recording among those named.
struct Named {
    path: PathBuf,
    inner: Option<String>,
    /// As it was given, where it alone was meant.
    called: PathBuf,
    warnings: Vec<units::Reason>,
}

fn recordings(files: &[PathBuf]) -> anyhow::Result<Vec<Named>> {
    let mut all: Vec<Named> = Vec::new();
    for file in files {
        let parts = capture::parts(std::slice::from_ref(file))?;
        let alone = parts.len() == 1;
        for part in parts {
            if all.iter().any(|named| named.path == part.path && named.inner == part.inner) {
                continue;
            }
            let called = match (&part.inner, alone) {
                (_, true) => file.clone(),
                (Some(inner), false) => part.path.join(inner),
                (None, false) => part.path.clone(),
            };
            let (path, inner, warnings) = (part.path, part.inner, part.warnings);
            all.push(Named { path, inner, called, warnings });
        }
    }
    Ok(all)
}

fn options(args: &args::Analyse) -> anyhow::Result<AnalyseOptions> {
    let o = &args.overrides;
    let zone = match &args.time_zone {
        Some(zone) => zone.clone(),
        None => TimeZone::system().iana_name().unwrap_or("UTC").to_owned(),
    };
    let refuse = |why: String| refused(why);
    Ok(AnalyseOptions {
        open: OpenOptions {
            format: o.format.map(|f| format_word(f).parse()).transpose().map_err(refuse)?,
            rate_hz: o.rate,
            centre_hz: o.centre,
            start: o.start.as_deref().map(|text| survey::time_in(text, &zone)).transpose()?,
            treat_as: o.treat_as.map(|kind| match kind {
                AsArg::Iq => TreatAs::Iq,
                AsArg::Sound => TreatAs::Sound,
            }),
            mapping: match &args.columns {
                Some(text) => Some(text.parse().map_err(anyhow::Error::new)?),
                None => None,
            },
            time_zone: Some(zone),
            inner: None,
            again: false,
        },
        region: args.region.word().parse::<Region>().map_err(|e| refused(e.to_string()))?,
        faint: args.faint,
        false_alarms_per_hour: args.false_alarms_per_hour,
        bursts: args.bursts,
        deep: args.deep,
        ..AnalyseOptions::default()
    })
}

fn print(one: &Analysed, claims: &[Annotation]) -> anyhow::Result<()> {
    let mut text = table::analysis(&one.analysis);
    for warning in &one.analysis.warnings {
        text.push_str(&wrapped(&format!("warning: {}", one_line(&warning.text))));
    }
    for claim in claims.iter().take(CLAIMS_SHOWN) {
        text.push_str(&wrapped(&claimed(claim)));
    }
    if claims.len() > CLAIMS_SHOWN {
        text.push_str(&format!("the file claims {} more\n", claims.len() - CLAIMS_SHOWN));
    }
    say::text(&text)?;
    if let Some(bursts) = &one.bursts {
        bursts.each(|row| say::text(&table::burst(&row)))?;
    }
    say::text("\n")
}

/// What a file says is in it, as its own words: nothing here was measured.
fn claimed(claim: &Annotation) -> String {
    let words = claim.label.as_deref().or(claim.comment.as_deref()).unwrap_or("something");
    let place = match (claim.low_hz, claim.high_hz) {
        (Some(low), Some(high)) => {
            format!(" from {} to {}", table::frequency(low), table::frequency(high))
        }
        _ => String::new(),
    };
    let words = one_line(words);
    format!("the file claims: {words}{place}, from sample {} on", claim.first_sample)
}
