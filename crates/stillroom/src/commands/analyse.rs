//! `analyse`: emissions of recordings, without a survey.

use crate::args::{AsArg, FormatArg, Overrides};
use crate::exit::{Outcome, refused};
use crate::progress::Bar;
use crate::{args, say, table, values};
use analyse::{Analysed, DocumentWriter, OpenOptions, Options, RawFormat, TreatAs};
use anyhow::Context;
use std::io::{BufWriter, StdoutLock, Write};
use std::path::PathBuf;

/// Analyses each recording in turn. A file that cannot be read is said on standard error and does
/// not keep the others from being analysed; the status is then that of the first such file.
pub fn run(args: args::Analyse) -> anyhow::Result<Outcome> {
    let mut options = options(&args)?;
    let scratch = args.bursts.then(scratch).transpose()?;
    options.keep_bursts = scratch.as_ref().map(|folder| folder.path().join("bursts.csv"));
    let mut parts = Vec::new();
    let mut failed = None;
    let mut note = |error: anyhow::Error| {
        if failed.is_none() {
            failed = Some(error);
        } else {
            anstream::eprintln!("stillroom: {error:#}");
        }
    };
    for file in &args.files {
        // Named one by one, so that one bad name does not hide the others; a recording named by
        // its data and its metadata still is one, because both lead to the same part.
        match capture::parts(std::slice::from_ref(file)) {
            Ok(found) => parts.extend(found),
            Err(error) => note(error.into()),
        }
    }
    let mut seen: Vec<(PathBuf, Option<String>)> = Vec::new();
    let out = BufWriter::new(std::io::stdout().lock());
    let mut out = if args.json.json {
        Out::Json(DocumentWriter::new(out)?)
    } else {
        Out::Text(out)
    };
    for part in parts {
        let key = (part.path.clone(), part.inner.clone());
        if seen.contains(&key) {
            continue;
        }
        seen.push(key);
        options.open.inner = part.inner;
        let bar = Bar::new();
        let analysed = analyse::analyse(&part.path, &options, &bar);
        drop(bar);
        match analysed {
            Ok(mut analysed) => {
                analysed.analysis.warnings.splice(0..0, part.warnings);
                out.push(&analysed)?;
            }
            Err(error) if error.is_cancelled() => return Err(error.into()),
            Err(error) => note(error.into()),
        }
    }
    out.finish()?;
    match failed {
        Some(error) => Err(error),
        None => Ok(Outcome::Done),
    }
}

/// Where the recordings go as they come.
enum Out {
    Json(DocumentWriter<BufWriter<StdoutLock<'static>>>),
    Text(BufWriter<StdoutLock<'static>>),
}

impl Out {
    fn push(&mut self, analysed: &Analysed) -> anyhow::Result<()> {
        match self {
            Out::Json(document) => document.push(&analysed.analysis, analysed.bursts.as_ref())?,
            Out::Text(out) => {
                write!(out, "{}", table::analysis(&analysed.analysis))?;
                if let Some(bursts) = &analysed.bursts {
                    writeln!(out, "{}", table::BURST_HEAD)?;
                    for burst in bursts.rows()? {
                        writeln!(out, "{}", table::burst(&burst?))?;
                    }
                }
                writeln!(out)?;
            }
        }
        Ok(())
    }

    fn finish(self) -> anyhow::Result<()> {
        match self {
            Out::Json(document) => {
                document.finish()?;
            }
            Out::Text(mut out) => out.flush()?,
        }
        Ok(())
    }
}

fn options(args: &args::Analyse) -> anyhow::Result<Options> {
    let zone = args.time_zone.as_deref();
    let mut options = Options {
        open: open_options(&args.overrides, zone)?,
        region: args.region.word().parse().context("--region")?,
        ..Options::default()
    };
    if let Some(columns) = &args.columns {
        options.open.mapping = Some(columns.parse().map_err(|e| refused(format!("{e}")))?);
    }
    if !(args.false_alarms_per_hour > 0.0 && args.false_alarms_per_hour.is_finite()) {
        return Err(refused(format!(
            "--false-alarms-per-hour {}: give a number above zero, like 1",
            args.false_alarms_per_hour
        )));
    }
    options.detect.false_alarms_per_hour = args.false_alarms_per_hour;
    Ok(options)
}

/// What a person says over a file's metadata, as the readers take it.
fn open_options(typed: &Overrides, zone: Option<&str>) -> anyhow::Result<OpenOptions> {
    if typed.format.is_some() && typed.rate.is_none() {
        return Err(refused(
            "--format says that the file has no header, so nothing states its sample rate: give \
             --rate, as in --rate 2.4MHz",
        ));
    }
    Ok(OpenOptions {
        format: typed.format.map(|format| match format {
            FormatArg::Cu8 => RawFormat::Cu8,
            FormatArg::Ci8 => RawFormat::Ci8,
            FormatArg::Ci16Le => RawFormat::Ci16Le,
            FormatArg::Cf32Le => RawFormat::Cf32Le,
        }),
        rate_hz: typed.rate,
        centre_hz: typed.centre,
        start: typed
            .start
            .as_deref()
            .map(|text| values::time(text, zone.unwrap_or(say::MACHINE_ZONE)))
            .transpose()?,
        time_zone: zone.map(str::to_owned),
        treat_as: typed.treat_as.map(|kind| match kind {
            AsArg::Iq => TreatAs::Iq,
            AsArg::Sound => TreatAs::Sound,
        }),
        ..OpenOptions::default()
    })
}
