//! How well emissions are found in random scenes, whose truth the detection never sees:
//! docs/scores/scenes.md.

use crate::schemas::workspace;
use crate::statistics::{quantile, share, shown};
use analyse::{AnalyseOptions, EmissionRow, RecordingAnalysis, analyse};
use anyhow::{Context, anyhow};
use capture::write::{SigmfMeta, SigmfWriter};
use capture::{Number, NumberKind};
use simulate::{EmitterTruth, Heard, Piece, Simulation, Truth, random_scene};
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::ops::RangeInclusive;
use std::path::{Path, PathBuf};
use std::time::Instant;

/// Emitters at this SNR or more, in their own bandwidth, ought to be found.
const STRONG_DB: f64 = 10.0;

/// `score-scenes`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Seeds, from and to.
    #[arg(long, default_value = "1000-1019", value_parser = seeds)]
    seeds: RangeInclusive<u64>,
    /// Keep the recordings in this folder, and use those that are there.
    #[arg(long, value_name = "DIR")]
    keep: Option<PathBuf>,
    /// Print every row and emitter.
    #[arg(long)]
    rows: bool,
    /// Print the scores and write no document.
    #[arg(long)]
    dry: bool,
}

fn seeds(text: &str) -> Result<RangeInclusive<u64>, String> {
    let (from, to) = text.split_once('-').unwrap_or((text, text));
    let number = |part: &str| part.parse::<u64>().map_err(|e| format!("'{part}': {e}"));
    Ok(number(from)?..=number(to)?)
}

/// One scene, its truth, and what was made of it.
struct Scored {
    seed: u64,
    truth: Truth,
    analysis: RecordingAnalysis,
    /// By row: the emitter it belongs to, if any.
    owner: Vec<Option<usize>>,
    /// By emitter heard: the row that is it.
    matched: Vec<Option<usize>>,
    seconds: f64,
}

/// Makes, analyses, compares.
pub fn run(args: &Args) -> anyhow::Result<()> {
    let temporary = tempfile::tempdir()?;
    let folder = args.keep.as_deref().unwrap_or(temporary.path());
    std::fs::create_dir_all(folder)?;
    let mut scored = Vec::new();
    for seed in args.seeds.clone() {
        let one = score(folder, seed).with_context(|| format!("scene {seed}"))?;
        print(&one, args.rows);
        if args.keep.is_none() {
            // One scene's samples at a time are enough.
            let _ = std::fs::remove_file(folder.join(format!("scene-{seed}.sigmf-data")));
        }
        scored.push(one);
    }
    let document = document(&scored, &args.seeds);
    println!("{document}");
    if !args.dry {
        let file = workspace().join("docs/scores/scenes.md");
        std::fs::create_dir_all(workspace().join("docs/scores"))?;
        std::fs::write(&file, &document).context("docs/scores/scenes.md")?;
        println!("{}", file.display());
    }
    Ok(())
}

fn score(folder: &Path, seed: u64) -> anyhow::Result<Scored> {
    let simulation = Simulation::new(&random_scene(seed), seed)?;
    let truth = simulation.truth();
    let file = folder.join(format!("scene-{seed}.sigmf-meta"));
    if !file.is_file() {
        write(&simulation, folder, &format!("scene-{seed}"))?;
    }
    let began = Instant::now();
    let analysis = analyse(&file, &AnalyseOptions::default(), &analyse::Quiet)?.analysis;
    let seconds = began.elapsed().as_secs_f64();
    let heard = &truth.visits.first().ok_or_else(|| anyhow!("no visit"))?.emitters;
    let (owner, matched) = compare(&truth.emitters, heard, &analysis.emissions);
    Ok(Scored { seed, analysis, owner, matched, seconds, truth })
}

fn write(simulation: &Simulation, folder: &Path, name: &str) -> anyhow::Result<()> {
    let plan = simulation.visits().first().ok_or_else(|| anyhow!("no visit"))?;
    let kind = if plan.adc_bits <= 8 { NumberKind::I8 } else { NumberKind::I16 };
    let meta = SigmfMeta::new(plan.sample_rate_hz, Number::little(kind));
    let mut writer = SigmfWriter::create(folder, name, meta)?;
    simulation.synthesise(0, &mut |piece| -> anyhow::Result<()> {
        match piece {
            Piece::Segment(s) => writer.segment(Some(s.centre_hz), Some(s.start)),
            Piece::Samples(samples) => writer.push(samples)?,
        }
        Ok(())
    })?;
    writer.finish()?;
    Ok(())
}

/// The band that an emitter's rows may touch: its own, a quarter wider either way, and at least a
/// kilohertz either way for a carrier.
fn reach_hz(emitter: &EmitterTruth) -> f64 {
    (0.75 * emitter.bandwidth_hz).max(1000.0)
}

/// Whether a row may be the emitter: their bands overlap by half of the wider at least (for a
/// carrier: the row holds it and is no wider than 3 kHz), and the row's centre lies within half
/// the emitter's width. The width of AM and FM follows the sound of the moment: their row may be
/// narrower, but no wider than twice the emitter.
fn fits(emitter: &EmitterTruth, row: &EmissionRow) -> bool {
    let e = &row.emission;
    let width = e.bandwidth_hz.unwrap_or(0.0);
    let off = (e.centre_hz - emitter.centre_hz).abs();
    if emitter.bandwidth_hz < 1.0 {
        return width <= 3000.0 && off <= width.max(100.0);
    }
    if ["am", "fm"].contains(&emitter.kind.as_str()) {
        return width <= (2.0 * emitter.bandwidth_hz).max(3000.0)
            && off <= 0.25 * emitter.bandwidth_hz;
    }
    let (low, high) = (
        (emitter.centre_hz - 0.5 * emitter.bandwidth_hz).max(e.centre_hz - 0.5 * width),
        (emitter.centre_hz + 0.5 * emitter.bandwidth_hz).min(e.centre_hz + 0.5 * width),
    );
    // What is narrower than the detector's resolution shows as wide as that.
    let bound = e.bandwidth_is == analyse::BandwidthIs::UpperBound && width > emitter.bandwidth_hz;
    let wider = if bound { emitter.bandwidth_hz } else { width.max(emitter.bandwidth_hz) };
    off <= 0.5 * emitter.bandwidth_hz.max(if bound { width } else { 0.0 })
        && high - low >= 0.5 * wider
}

/// Which emitter each row belongs to, and which row each emitter heard became. One row is one
/// emitter's at most.
fn compare(
    emitters: &[EmitterTruth],
    heard: &[Heard],
    rows: &[EmissionRow],
) -> (Vec<Option<usize>>, Vec<Option<usize>>) {
    let mut owner: Vec<Option<usize>> = rows
        .iter()
        .map(|row| {
            let e = &row.emission;
            let half = 0.5 * e.bandwidth_hz.unwrap_or(0.0);
            let off = |k: usize| (e.centre_hz - emitters[heard[k].emitter].centre_hz).abs();
            let near = (0..heard.len())
                .filter(|k| off(*k) <= half + reach_hz(&emitters[heard[*k].emitter]));
            // The one that it lies deepest in, by its own reach.
            let depth = |k: &usize| off(*k) / reach_hz(&emitters[heard[*k].emitter]);
            near.min_by(|a, b| depth(a).total_cmp(&depth(b)))
        })
        .collect();
    let mut matched = vec![None; heard.len()];
    for (k, one) in heard.iter().enumerate() {
        let emitter = &emitters[one.emitter];
        let off = |i: usize| (rows[i].emission.centre_hz - emitter.centre_hz).abs();
        matched[k] = (0..rows.len())
            .filter(|i| fits(emitter, &rows[*i]) && owner[*i].is_none_or(|o| o == k))
            .min_by(|a, b| off(*a).total_cmp(&off(*b)));
        if let Some(i) = matched[k] {
            owner[i] = Some(k);
        }
    }
    (owner, matched)
}

impl Scored {
    fn heard(&self) -> &[Heard] {
        self.truth.visits.first().map_or(&[], |visit| &visit.emitters)
    }
    fn emitter(&self, k: usize) -> &EmitterTruth {
        &self.truth.emitters[self.heard()[k].emitter]
    }
    fn strong(&self) -> impl Iterator<Item = usize> + '_ {
        self.heard().iter().enumerate().filter(|(_, h)| h.snr_db >= STRONG_DB).map(|(k, _)| k)
    }
    /// Rows of no emitter.
    fn false_rows(&self) -> impl Iterator<Item = &EmissionRow> {
        let none = self.owner.iter().enumerate().filter(|(_, o)| o.is_none());
        none.map(|(i, _)| &self.analysis.emissions[i])
    }
    fn rows_of(&self, k: usize) -> usize {
        self.owner.iter().filter(|o| **o == Some(k)).count()
    }
}

fn line(row: &EmissionRow) -> String {
    let e = &row.emission;
    format!(
        "{:>4} {:.5} MHz {} Hz {:?} {:?} x{} on {:.3} {:.3}..{:.3} s {} dBFS SNR {} dB",
        row.id,
        e.centre_hz / 1e6,
        shown(e.bandwidth_hz, 0),
        e.bandwidth_is,
        e.shape,
        e.bursts.count,
        e.bursts.on_fraction,
        row.first_s,
        row.last_s,
        shown(e.level_dbfs.map(|l| l.0), 1),
        shown(e.snr_db, 1),
    )
}

/// Misses and extra rows of a scene; with `all`, every emitter and row.
fn print(scored: &Scored, all: bool) {
    let r = &scored.analysis.recording;
    println!(
        "scene {}: {} Hz, {} segments, {:.2} s, {} rows, {:.1} s",
        scored.seed,
        r.sample_rate_hz.unwrap_or(0.0),
        r.segments.len(),
        r.duration_s,
        scored.analysis.emissions.len(),
        scored.seconds,
    );
    for (k, heard) in scored.heard().iter().enumerate() {
        let emitter = scored.emitter(k);
        let missed = scored.matched[k].is_none() && heard.snr_db >= STRONG_DB;
        let rows = scored.rows_of(k);
        if !all && !missed && rows <= 1 {
            continue;
        }
        println!(
            "  {} '{}' {:.5} MHz {:.0} Hz SNR {:.1} dB {:.1} dBFS on {:.3} of {:.3} s in {} bursts, \
             {rows} rows",
            if missed { "MISSED" } else { "emitter" },
            heard.name,
            emitter.centre_hz / 1e6,
            emitter.bandwidth_hz,
            heard.snr_db,
            heard.level_dbfs,
            heard.on_s,
            heard.looked_s,
            heard.burst_count,
        );
        for (i, row) in scored.analysis.emissions.iter().enumerate() {
            if scored.owner[i] == Some(k) {
                let is = if scored.matched[k] == Some(i) { "is" } else { "part" };
                println!("      {is} {}", line(row));
            }
        }
    }
    for row in scored.false_rows() {
        let e = &row.emission;
        let segments = &r.segments;
        let near = segments
            .iter()
            .filter_map(|s| s.centre_hz)
            .min_by(|a, b| (e.centre_hz - a).abs().total_cmp(&(e.centre_hz - b).abs()));
        let offset = e.centre_hz - near.unwrap_or(0.0);
        println!("  FALSE {} ({offset:+.0} Hz from the nearest centre)", line(row));
    }
}

/// Errors of the rows that are emitters of one kind.
#[derive(Default)]
struct Kind {
    strong: usize,
    found: usize,
    rows: usize,
    of: usize,
    centre: Vec<f64>,
    width: Vec<f64>,
    level: Vec<f64>,
}

fn document(scored: &[Scored], seeds: &RangeInclusive<u64>) -> String {
    let mut all = Kind::default();
    let mut kinds: BTreeMap<String, Kind> = BTreeMap::new();
    for one in scored {
        for k in one.strong() {
            let name = one.emitter(k).kind.clone();
            add(&mut all, one, k);
            add(kinds.entry(name).or_default(), one, k);
        }
    }
    let false_rows: usize = scored.iter().map(|s| s.false_rows().count()).sum();
    let samples: u64 = scored.iter().map(|s| s.analysis.recording.samples).sum();
    let seconds: f64 = scored.iter().map(|s| s.seconds).sum();
    let mut out = String::from(HEAD);
    let _ = writeln!(out, "- scenes: seeds {} to {}", seeds.start(), seeds.end());
    let _ = writeln!(out, "- found: {} (wanted: 95 %)", share(all.found, all.strong));
    let _ = writeln!(
        out,
        "- false rows: {false_rows}, {:.2} a scene (wanted: at most 1)",
        false_rows as f64 / scored.len().max(1) as f64
    );
    let _ = writeln!(
        out,
        "- rows an emitter: {:.2} (wanted: 1)",
        all.rows as f64 / all.of.max(1) as f64
    );
    let _ = writeln!(
        out,
        "- speed: {:.1} million samples a second, hashing and a second look included",
        samples as f64 / 1e6 / seconds.max(1e-9)
    );
    out.push_str(
        "\n## By kind\n\nCentre: error as part of the emitter's width (of 1 kHz for a carrier), median and 90th \
         percentile. Width: row's over emitter's, 10th percentile, median, 90th. Level: row's less \
         emitter's, the same.\n\n| kind | found | rows an emitter | centre | width | level, dB |\n\
         | --- | --- | ---: | --- | --- | --- |\n",
    );
    for (name, kind) in kinds.iter().map(|(n, k)| (n.as_str(), k)).chain([("all", &all)]) {
        let three = |v: &[f64], digits| {
            let at = |p| shown(quantile(v, p), digits);
            format!("{} / {} / {}", at(0.1), at(0.5), at(0.9))
        };
        let centre = |p| shown(quantile(&kind.centre, p), 3);
        let _ = writeln!(
            out,
            "| {name} | {} | {} | {} / {} | {} | {} |",
            share(kind.found, kind.strong),
            shown((kind.of > 0).then(|| kind.rows as f64 / kind.of as f64), 2),
            centre(0.5),
            centre(0.9),
            three(&kind.width, 2),
            three(&kind.level, 1),
        );
    }
    missed(&mut out, scored);
    out
}

fn add(kind: &mut Kind, scored: &Scored, k: usize) {
    let (emitter, heard) = (scored.emitter(k), &scored.heard()[k]);
    kind.strong += 1;
    let rows = scored.rows_of(k);
    if rows > 0 {
        kind.rows += rows;
        kind.of += 1;
    }
    let Some(i) = scored.matched[k] else { return };
    kind.found += 1;
    let e = &scored.analysis.emissions[i].emission;
    let width = emitter.bandwidth_hz;
    kind.centre.push((e.centre_hz - emitter.centre_hz).abs() / width.max(1000.0));
    if let (Some(hz), true) = (e.bandwidth_hz, width >= 1.0) {
        kind.width.push(hz / width);
    }
    if let Some(level) = e.level_dbfs {
        kind.level.push(level.0 - heard.level_dbfs);
    }
}

const HEAD: &str = "# Random scenes\n\n\
    Written by `cargo run --release -p xtask -- score-scenes`. Each scene is one receiver (1 to 20 \
    million samples a second, 8, 12 or 16 bits, with its direct-current line and image), one \
    recording, and 5 to 12 emitters of mixed kinds side by side in frequency; `simulate` writes it as \
    SigMF and keeps its truth to itself until the rows are there.\n\n\
    Counted are emitters at 10 dB or more over the noise in their own 99 % bandwidth (a carrier: in \
    1 kHz) while on. *Found*: a row whose centre lies within half the emitter's width and whose band \
    shares at least half of the wider of the two (a carrier: a row that holds it, at most 3 kHz wide; \
    what is narrower than the resolution: a row that says so and holds it; AM and FM, whose width \
    follows the sound of the moment: centre within a quarter of the width, at most twice as wide). One row is one emitter's. \
    Rows that touch the emitter's band, widened by a quarter of it either way (at least 1 kHz), belong \
    to it and count in *rows an emitter*; rows of emitters too weak to count are neither right nor \
    wrong; every other row is *false*, the receiver's own line and images too.\n\n## Summary\n\n";

fn missed(out: &mut String, scored: &[Scored]) {
    out.push_str(
        "\n## Missed, and why\n\n| scene | emitter | MHz | width, Hz | SNR, dB | on, s | rows at it |\n\
         | --- | --- | ---: | ---: | ---: | ---: | --- |\n",
    );
    for one in scored {
        for k in one.strong().filter(|k| one.matched[*k].is_none()) {
            let (emitter, heard) = (one.emitter(k), &one.heard()[k]);
            let rows: Vec<String> = (0..one.owner.len())
                .filter(|i| one.owner[*i] == Some(k))
                .map(|i| {
                    let e = &one.analysis.emissions[i].emission;
                    let off = e.centre_hz - emitter.centre_hz;
                    format!("{off:+.0} Hz, {} Hz wide", shown(e.bandwidth_hz, 0))
                })
                .collect();
            let rows = if rows.is_empty() { "none".to_owned() } else { rows.join("; ") };
            let _ = writeln!(
                out,
                "| {} | {} | {:.4} | {:.0} | {:.1} | {:.3} | {rows} |",
                one.seed,
                heard.name,
                emitter.centre_hz / 1e6,
                emitter.bandwidth_hz,
                heard.snr_db,
                heard.on_s,
            );
        }
    }
    out.push_str(
        "\n## False rows\n\n| scene | MHz | from the centre, Hz | width, Hz | SNR, dB | on |\n\
         | --- | ---: | ---: | ---: | ---: | ---: |\n",
    );
    for one in scored {
        let centres: Vec<f64> =
            one.analysis.recording.segments.iter().filter_map(|s| s.centre_hz).collect();
        for row in one.false_rows() {
            let e = &row.emission;
            let nearest = centres
                .iter()
                .map(|c| e.centre_hz - c)
                .min_by(|a, b| a.abs().total_cmp(&b.abs()))
                .unwrap_or(0.0);
            let _ = writeln!(
                out,
                "| {} | {:.4} | {nearest:+.0} | {} | {} | {:.3} |",
                one.seed,
                e.centre_hz / 1e6,
                shown(e.bandwidth_hz, 0),
                shown(e.snr_db, 1),
                e.bursts.on_fraction,
            );
        }
    }
}
