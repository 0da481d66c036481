//! How well emissions are found in real recordings: docs/scores/open.md.

use crate::recordings::{self, Row};
use crate::schemas::workspace;
use crate::statistics::{quantile, share, shown};
use analyse::{AnalyseOptions, BandwidthIs, EmissionRow, RecordingAnalysis, analyse};
use anyhow::{Context, bail};
use rayon::prelude::*;
use std::fmt::Write as _;
use std::path::Path;
use std::time::{Duration, Instant};

/// `score-open`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Only recordings whose id begins so; prints their rows and writes no document.
    #[arg(long, value_name = "ID")]
    only: Vec<String>,
    /// Print the scores and write no document.
    #[arg(long)]
    dry: bool,
}

/// One recording.
struct Scored {
    row: Row,
    took: Duration,
    /// Its analysis, or the words of the refusal.
    came: Result<RecordingAnalysis, String>,
}

/// One recording against what is known of it.
struct Judged {
    found: Option<usize>,
    /// Nearest row, where none was near enough.
    nearest: Option<usize>,
    extras: Vec<(usize, &'static str)>,
    truth: (f64, f64),
}

/// Analyses and compares.
pub fn run(args: &Args) -> anyhow::Result<()> {
    let Some(folder) = recordings::folder() else {
        bail!(
            "no recordings: set STILLROOM_RECORDINGS to the folder of the collection's index.csv"
        );
    };
    let wanted = |row: &Row| {
        let asked = args.only.iter().any(|id| row.id.starts_with(id.as_str()));
        args.only.is_empty() || asked
    };
    let rows: Vec<Row> = recordings::rows(&folder)?.into_iter().filter(wanted).collect();
    let scored: Vec<Scored> = rows.into_par_iter().map(|row| score(&folder, row)).collect();
    if !args.only.is_empty() {
        scored.iter().for_each(print_rows);
    }
    let document = document(&scored);
    if args.dry || !args.only.is_empty() {
        let summary = document.split("\n## Every recording").next().unwrap_or_default();
        println!("{summary}");
        return Ok(());
    }
    let file = workspace().join("docs/scores/open.md");
    std::fs::create_dir_all(workspace().join("docs/scores"))?;
    std::fs::write(&file, &document).context("docs/scores/open.md")?;
    println!("{}", document.split("\n## Every recording").next().unwrap_or_default());
    println!("{}", file.display());
    Ok(())
}

fn score(folder: &Path, row: Row) -> Scored {
    let began = Instant::now();
    let path = folder.join(&row.path);
    let options = AnalyseOptions { open: row.options(folder), ..AnalyseOptions::default() };
    let came = analyse(&path, &options, &analyse::Quiet);
    // A refusal names the recording as pages do, also where it speaks of the file beside it.
    let (name, stem) = (row.page_name(), path.with_extension(""));
    let said = |error: analyse::AnalyseError| {
        let whole = error.to_string().replace(&path.display().to_string(), &name);
        whole.replace(&stem.display().to_string(), &name)
    };
    Scored { row, took: began.elapsed(), came: came.map(|a| a.analysis).map_err(said) }
}

/// Centre of a row, as an offset from the recording's.
fn offset_hz(analysis: &RecordingAnalysis, row: &EmissionRow) -> f64 {
    row.emission.centre_hz - analysis.recording.centre_hz.unwrap_or(0.0)
}

/// How far from the truth a row's centre may lie: half the larger of the two bandwidths, or three
/// resolutions where the row states no more than the resolution.
fn tolerance_hz(row: &EmissionRow, truth_width_hz: f64) -> f64 {
    let width = row.emission.bandwidth_hz.unwrap_or(0.0);
    let resolutions = match row.emission.bandwidth_is {
        BandwidthIs::UpperBound => 3.0 * width,
        BandwidthIs::Measured => 0.0,
    };
    (0.5 * width.max(truth_width_hz)).max(resolutions)
}

/// `None` where there is nothing to compare with.
fn judge(scored: &Scored) -> Option<Judged> {
    let truth = scored.row.truth().filter(|_| !scored.row.repeats())?;
    let analysis = scored.came.as_ref().ok()?;
    let miss_hz = |i: &usize| (offset_hz(analysis, &analysis.emissions[*i]) - truth.0).abs();
    let all = 0..analysis.emissions.len();
    // Of several rows at the truth the one most alike in width is it; the others are extra.
    let unlike = |i: &usize| {
        let width = analysis.emissions[*i].emission.bandwidth_hz.unwrap_or(0.0);
        (miss_hz(i) / truth.1.max(1.0)).hypot((width.max(1.0) / truth.1.max(1.0)).ln().abs())
    };
    let found = all
        .clone()
        .filter(|i| miss_hz(i) <= tolerance_hz(&analysis.emissions[*i], truth.1))
        .min_by(|a, b| unlike(a).total_cmp(&unlike(b)));
    let nearest = all.clone().min_by(|a, b| miss_hz(a).total_cmp(&miss_hz(b)));
    let extras = all.filter(|i| Some(*i) != found);
    let extras = extras.map(|i| (i, reason(analysis, i, truth))).collect();
    Some(Judged { found, nearest, extras, truth })
}

/// What an extra row probably is, from where it lies.
fn reason(analysis: &RecordingAnalysis, index: usize, truth: (f64, f64)) -> &'static str {
    let row = &analysis.emissions[index];
    let at = offset_hz(analysis, row);
    let width = row.emission.bandwidth_hz.unwrap_or(0.0);
    let rate = analysis.recording.sample_rate_hz.unwrap_or(0.0);
    let touches = |centre: f64| (at - centre).abs() <= 0.5 * (width + truth.1);
    if touches(truth.0) {
        "part of the emitter's own band"
    } else if at.abs() <= 0.5 * width.max(1e-3 * rate) {
        "the receiver's own line at its centre"
    } else if touches(-truth.0) {
        "mirror image of the emitter"
    } else if (at - truth.0).abs() <= 1.5 * (width + truth.1) {
        "beside the emitter's band: its skirts"
    } else if at.abs() > 0.45 * rate {
        "at the edge of the receiver's band"
    } else {
        "elsewhere: another emitter, or none"
    }
}

fn print_rows(scored: &Scored) {
    let truth = scored.row.truth();
    println!(
        "{} ({}): truth {}",
        scored.row.id,
        scored.row.format,
        truth.map_or("unclear".to_owned(), |(c, w)| format!("{c:.0} Hz, {w:.0} Hz wide"))
    );
    match &scored.came {
        Err(words) => println!("  refused: {words}"),
        Ok(analysis) => {
            for row in &analysis.emissions {
                let e = &row.emission;
                println!(
                    "  {:>4} {:>12.0} Hz  {:>9} Hz {:?}  {:?} x{} on {:.3}  {:.3}..{:.3} s  {} dBFS  \
                     SNR {} dB",
                    row.id,
                    offset_hz(analysis, row),
                    shown(e.bandwidth_hz, 0),
                    e.bandwidth_is,
                    e.shape,
                    e.bursts.count,
                    e.bursts.on_fraction,
                    row.first_s,
                    row.last_s,
                    shown(e.level_dbfs.map(|l| l.0), 1),
                    shown(e.snr_db, 1),
                );
            }
            for warning in &analysis.warnings {
                println!("  warning {}: {}", warning.code, warning.text);
            }
        }
    }
}

/// The whole document.
fn document(scored: &[Scored]) -> String {
    let judged: Vec<(&Scored, Judged)> =
        scored.iter().filter_map(|s| Some((s, judge(s)?))).collect();
    let unread = scored.iter().filter(|s| s.row.truth().is_some() && !s.row.repeats());
    let counted = unread.count();
    let found = judged.iter().filter(|(_, j)| j.found.is_some()).count();
    let extras: usize = judged.iter().map(|(_, j)| j.extras.len()).sum();
    let mut out = String::from(HEAD);
    let _ = writeln!(out, "- found: {} (wanted: 90 %)", share(found, counted));
    let _ = writeln!(
        out,
        "- extra rows: {extras}, {:.2} a recording (wanted: at most 0.35)",
        extras as f64 / counted.max(1) as f64
    );
    let errors: Vec<_> = judged.iter().filter_map(|(s, j)| errors(s, j)).collect();
    let of = |pick: fn(&(f64, f64)) -> f64| errors.iter().map(pick).collect::<Vec<_>>();
    let (centres, ratios) = (of(|e| e.0), of(|e| e.1));
    let _ = writeln!(
        out,
        "- centre: off by {} of the emitter's width at the median, {} at the 90th percentile",
        shown(quantile(&centres, 0.5), 3),
        shown(quantile(&centres, 0.9), 3),
    );
    let _ = writeln!(
        out,
        "- width: {} of the index's at the median, {} to {} from the 10th to the 90th percentile",
        shown(quantile(&ratios, 0.5), 2),
        shown(quantile(&ratios, 0.1), 2),
        shown(quantile(&ratios, 0.9), 2),
    );
    let rows =
        |kind: &str| -> Vec<&Scored> { scored.iter().filter(|s| s.row.kind == kind).collect() };
    for (kind, what) in [
        ("iq", "recordings of samples"),
        ("sweep", "recordings of sweeps"),
        ("frames", "recordings of frames (there is no reader of them yet)"),
        ("sound", "recordings of sound (kept as evidence, no emission is looked for in them)"),
    ] {
        let of_kind = rows(kind);
        let read = of_kind.iter().filter(|s| s.came.is_ok()).count();
        let _ = writeln!(
            out,
            "- analysed: {} {what}, the others refused in words",
            share(read, of_kind.len())
        );
    }
    let seconds: f64 = scored.iter().map(|s| s.took.as_secs_f64()).sum();
    let _ = writeln!(out, "- time: {seconds:.1} s of one core or two, all together");
    for silent in rows("iq").iter().filter(|s| s.row.emitters == "0") {
        let n = silent.came.as_ref().map_or(0, |a| a.emissions.len());
        let _ = writeln!(out, "- {}: nothing radiates in it; {n} rows", silent.row.page_name());
    }
    misses(&mut out, scored, &judged);
    extra_rows(&mut out, &judged);
    every(&mut out, scored, &judged);
    out
}

const HEAD: &str = "# Real recordings\n\n\
    Written by `cargo run --release -p xtask -- score-open` from a collection of real recordings \
    that is no part of this project (`STILLROOM_RECORDINGS`); only names and numbers stand here.\n\n\
    Every file of the collection is in the last table. Counted are the IQ recordings with exactly one emitter whose centre and width those who gathered \
    them could measure (the 99 % power band of what rises above the floor). *Found*: one row whose \
    centre lies within half the larger of the two widths, or within three resolutions where the row \
    states an upper bound. Every other row of such a recording is *extra*, parts of the emitter too, \
    and so is what the index does not know of. Rows that repeat another's samples as SigMF are \
    analysed but not counted. Why a row is extra is told from where it lies.\n\n## Summary\n\n";

/// Centre error as a part of the truth's width, and the ratio of widths.
fn errors(scored: &Scored, judged: &Judged) -> Option<(f64, f64)> {
    let analysis = scored.came.as_ref().ok()?;
    let row = &analysis.emissions[judged.found?];
    let (centre, width) = judged.truth;
    let off = (offset_hz(analysis, row) - centre).abs() / width.max(1.0);
    Some((off, row.emission.bandwidth_hz? / width.max(1.0)))
}

fn misses(out: &mut String, scored: &[Scored], judged: &[(&Scored, Judged)]) {
    out.push_str("\n## Missed\n\n| recording | why |\n| --- | --- |\n");
    for one in scored.iter().filter(|s| s.row.truth().is_some() && !s.row.repeats()) {
        if let Err(words) = &one.came {
            let _ =
                writeln!(out, "| {} | refused: {} |", one.row.page_name(), words.replace('|', "/"));
        }
    }
    for (scored, judged) in judged.iter().filter(|(_, j)| j.found.is_none()) {
        let Ok(analysis) = &scored.came else { continue };
        let why = match judged.nearest.map(|i| &analysis.emissions[i]) {
            None => "nothing rises above the limit of what was listened to".to_owned(),
            Some(row) => format!(
                "{} (nearest row at {:.0} Hz, {} Hz wide; in the index {:.0} Hz, {:.0} Hz wide)",
                cause(analysis, row, judged.truth),
                offset_hz(analysis, row),
                shown(row.emission.bandwidth_hz, 0),
                judged.truth.0,
                judged.truth.1
            ),
        };
        let _ = writeln!(out, "| {} | {why} |", scored.row.page_name());
    }
}

/// Why the nearest row is not the emitter, the first cause that holds.
fn cause(analysis: &RecordingAnalysis, row: &EmissionRow, truth: (f64, f64)) -> String {
    let clipped = analysis.recording.clipped_fraction;
    let width = row.emission.bandwidth_hz.unwrap_or(0.0);
    let apart = (offset_hz(analysis, row) - truth.0).abs();
    if clipped >= CLIPPED {
        let clipped = 100.0 * clipped;
        format!(
            "{clipped:.0} % of the samples are clipped: emitter and products of the clipping run into one \
             another, and row and index part them differently"
        )
    } else if apart > 0.5 * (width + truth.1) {
        "nothing rises above the limit where the index has it".to_owned()
    } else if width > 2.0 * truth.1 {
        "the row takes in more than the emitter: something beside it was put to it".to_owned()
    } else {
        "only a part of the emitter's band is in the row".to_owned()
    }
}

/// Part of the samples at the rails from which products of the clipping stand beside an emitter
/// (our choice, no source).
const CLIPPED: f64 = 0.01;

fn extra_rows(out: &mut String, judged: &[(&Scored, Judged)]) {
    out.push_str(
        "\n## Extra\n\n| recording | emitter, Hz | its width | row, Hz | its width | SNR, dB | on | what it \
         may be |\n| --- | ---: | ---: | ---: | ---: | ---: | ---: | --- |\n",
    );
    for (scored, judged) in judged {
        let Ok(analysis) = &scored.came else { continue };
        for (index, why) in &judged.extras {
            let row = &analysis.emissions[*index];
            let _ = writeln!(
                out,
                "| {} | {:.0} | {:.0} | {:.0} | {} | {} | {:.3} | {why} |",
                scored.row.page_name(),
                judged.truth.0,
                judged.truth.1,
                offset_hz(analysis, row),
                shown(row.emission.bandwidth_hz, 0),
                shown(row.emission.snr_db, 0),
                row.emission.bursts.on_fraction,
            );
        }
    }
}

fn every(out: &mut String, scored: &[Scored], judged: &[(&Scored, Judged)]) {
    out.push_str(
        "\n## Every recording\n\n| recording | format | rows | found | extra | centre error, Hz | width, \
         of the index's | time, ms |\n| --- | --- | ---: | --- | ---: | ---: | ---: | ---: |\n",
    );
    for one in scored {
        let judged = judged.iter().find(|(s, _)| s.row.id == one.row.id).map(|(_, j)| j);
        let (rows, words) = match &one.came {
            Ok(analysis) => (analysis.emissions.len().to_string(), String::new()),
            Err(words) => ("–".to_owned(), format!(" refused: {}", words.replace('|', "/"))),
        };
        let error = judged.and_then(|j| errors(one, j).map(|e| (e.0 * j.truth.1.max(1.0), e.1)));
        let found = match judged {
            None => "–",
            Some(j) if j.found.is_some() => "yes",
            Some(_) => "no",
        };
        let _ = writeln!(
            out,
            "| {} | {}{words} | {rows} | {found} | {} | {} | {} | {:.0} |",
            one.row.page_name(),
            one.row.format.split(" (").next().unwrap_or_default(),
            judged.map_or("–".to_owned(), |j| j.extras.len().to_string()),
            shown(error.map(|e| e.0), 0),
            shown(error.map(|e| e.1), 2),
            one.took.as_secs_f64() * 1e3,
        );
    }
}
