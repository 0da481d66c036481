//! `score-surveys`: described places become surveys, and their ledgers are compared with what is
//! true of the places. The truth is the simulation's; of Stillroom only the printed ledger is read.

use anyhow::{Context, anyhow};
use clap::Parser;
use ledger::{CaptureKind, Ledger, LedgerRow};
use rand::RngExt;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use simulate::scene::{Role, Schedule};
use simulate::{Scene, Simulation, Truth};
use std::fmt::Write as _;
use std::path::PathBuf;
use std::time::Instant;
use stillroom::simulated::{self, Wanted};
use units::Zone;

/// An emitter counts as one to be found from this signal-to-noise ratio in its own bandwidth on.
const HEARD_DB: f64 = 10.0;

/// What to score.
#[derive(Debug, Parser)]
pub struct Args {
    /// First seed.
    #[arg(long, default_value_t = 1)]
    from_seed: u64,
    /// Surveys of each scene of samples.
    #[arg(long, default_value_t = 5)]
    seeds: u64,
    /// Surveys of event logs alone, each with another period.
    #[arg(long, default_value_t = 40)]
    logs: u64,
    /// Only this scene: stepped, logs or demo.
    #[arg(long)]
    only: Option<String>,
    /// Where the table goes.
    #[arg(long, default_value = "docs/scores/surveys.md")]
    out: PathBuf,
    /// Print every row of every ledger.
    #[arg(long)]
    rows: bool,
    /// Keep the surveys here; those that are here already are not made again, only judged.
    #[arg(long)]
    keep: Option<PathBuf>,
}

/// One survey against its truth.
#[derive(Debug, Default)]
struct Score {
    scene: &'static str,
    seed: u64,
    seconds: f64,
    expected: usize,
    missed: Vec<String>,
    doubled: Vec<String>,
    extra: Vec<String>,
    /// Planted emitters with the rank of their best row.
    planted: Vec<(String, Option<u32>)>,
    /// `p_inside` of every expected emitter that stands inside or outside.
    inside: Vec<(String, Zone, Option<f64>)>,
    /// Rows known from samples that also hold events of a log.
    linked: usize,
    /// Period found, its uncertainty and the true one.
    period: Option<(Option<f64>, Option<f64>, f64)>,
}

/// Runs, prints and writes the table.
///
/// # Errors
/// If a scene cannot be simulated, a survey not be made, or the table not be written.
pub fn run(args: &Args) -> anyhow::Result<()> {
    let wanted = |name: &str| args.only.as_deref().is_none_or(|only| only == name);
    let mut scores = Vec::new();
    for (name, more) in [("stepped", None), ("demo", Some("scenes/demo-record.toml"))] {
        for seed in args.from_seed..args.from_seed + args.seeds {
            if wanted(name) {
                let more = more.map(read).transpose()?.unwrap_or_default();
                scores.push(one(name, seed, &more, args)?);
            }
        }
    }
    for seed in args.from_seed..args.from_seed + args.logs {
        if wanted("logs") {
            scores.push(one("logs", seed, "", args)?);
        }
    }
    let text = table(&scores);
    print!("{text}");
    if args.only.is_none() {
        if let Some(folder) = args.out.parent() {
            std::fs::create_dir_all(folder)?;
        }
        std::fs::write(&args.out, &text)
            .with_context(|| format!("could not write {}", args.out.display()))?;
    }
    Ok(())
}

fn read(file: &str) -> anyhow::Result<String> {
    std::fs::read_to_string(file)
        .with_context(|| format!("could not read {file}: run this from the workspace's root"))
}

fn one(name: &'static str, seed: u64, more: &str, args: &Args) -> anyhow::Result<Score> {
    let mut scene = stillroom::scene::parse(&read(&format!("scenes/{name}.toml"))?)?;
    let period_s = (name == "logs").then(|| another_period(&mut scene, seed)).flatten();
    let folder = tempfile::tempdir()?;
    let began = Instant::now();
    let wanted = Wanted { scene: &scene, seed, more_record: more, by: "score" };
    let kept = args.keep.as_ref().map(|keep| keep.join(format!("{name}-{seed}")));
    let dir = kept.clone().unwrap_or_else(|| folder.path().join("survey"));
    let survey = match kept.is_some() && dir.exists() {
        true => survey::Survey::open(&dir)?,
        false => {
            simulated::survey(&wanted, &folder.path().join("recordings"), &dir, &survey::Quiet)?
        }
    };
    let ledger = survey.ledger(&survey::Quiet)?.ledger;
    let seconds = began.elapsed().as_secs_f64();
    if args.rows {
        println!("{}", stillroom::table::ledger(&ledger, None));
    }
    let simulation = Simulation::new(&scene, seed).map_err(|e| anyhow!("{e}"))?;
    let mut score = compare(&simulation, &simulation.truth(), &ledger);
    score.period = period_s.map(|true_s| {
        let row = tracker(&simulation.truth(), &ledger);
        let of = |f: fn(&LedgerRow) -> Option<f64>| row.and_then(f);
        (of(|r| r.emission.bursts.period_s), of(|r| r.emission.u.period_s), true_s)
    });
    (score.scene, score.seed, score.seconds) = (name, seed, seconds);
    println!(
        "{name} {seed}: {} of {} found, {} doubled, {} extra, planted {:?}, {seconds:.1} s",
        score.expected - score.missed.len(),
        score.expected,
        score.doubled.len(),
        score.extra.len(),
        score.planted.iter().map(|(_, rank)| rank.unwrap_or(0)).collect::<Vec<_>>(),
    );
    Ok(score)
}

/// Gives the planted periodic emitter a period of its own for each seed, so that nothing can be
/// right about one period only.
fn another_period(scene: &mut Scene, seed: u64) -> Option<f64> {
    let mut draw = ChaCha8Rng::seed_from_u64(seed);
    let planted = scene.emitters.iter_mut().find(|e| e.planted && is_periodic(&e.schedule))?;
    let Schedule::Periodic { period_s, first_s, jitter_s, .. } = &mut planted.schedule else {
        return None;
    };
    *period_s = draw.random_range(120.0..300.0);
    *first_s = draw.random_range(0.0..*period_s);
    *jitter_s = draw.random_range(0.0..3.0);
    Some(*period_s)
}

fn is_periodic(schedule: &Schedule) -> bool {
    matches!(schedule, Schedule::Periodic { .. })
}

/// The best ranked row of a log in which the planted transmitter of the mobile network can be.
fn tracker<'a>(truth: &Truth, ledger: &'a Ledger) -> Option<&'a LedgerRow> {
    let planted = truth.emitters.iter().find(|e| e.planted && e.kind == "gsm")?;
    best_log_row(ledger, planted.centre_hz)
}

fn best_log_row(ledger: &Ledger, centre_hz: f64) -> Option<&LedgerRow> {
    ledger
        .emissions
        .iter()
        .filter(|r| coarse(r) && (r.emission.low_hz..=r.emission.high_hz).contains(&centre_hz))
        .min_by_key(|r| r.attention.rank)
}

/// Known from event logs alone.
fn coarse(row: &LedgerRow) -> bool {
    row.emission.bandwidth_hz.is_none()
}

fn compare(simulation: &Simulation, truth: &Truth, ledger: &Ledger) -> Score {
    let mut score = Score::default();
    let mut rows_of: Vec<Vec<&LedgerRow>> = vec![Vec::new(); truth.emitters.len()];
    for row in &ledger.emissions {
        if row.receiver_line.is_some() {
            continue;
        }
        let named = || format!("{} {:.4} MHz", row.id, row.emission.centre_hz / 1e6);
        if coarse(row) {
            let any = truth.emitters.iter().any(|e| {
                let inside = |hz: &f64| (row.emission.low_hz..=row.emission.high_hz).contains(hz);
                inside(&e.centre_hz) || e.channels_hz.iter().any(inside)
            });
            if !any {
                score.extra.push(named());
            }
            continue;
        }
        match emitter_of(truth, row) {
            Some(k) => rows_of[k].push(row),
            None => score.extra.push(named()),
        }
    }
    for (k, emitter) in truth.emitters.iter().enumerate() {
        // What only a check heard is the technician's own and is looked for by nobody.
        let visits = truth.visits.iter().filter(|v| v.role != Role::Check);
        let heard = visits.flat_map(|v| &v.emitters).any(|h| {
            h.emitter == k && h.snr_db >= HEARD_DB && h.on_s > 0.0 && h.share_in_band >= 0.5
        });
        let rows = &rows_of[k];
        let logged = best_log_row(ledger, emitter.centre_hz);
        if heard {
            score.expected += 1;
            match rows.len() {
                0 => score.missed.push(emitter.name.clone()),
                1 => {}
                n => score.doubled.push(format!("{} ({n} rows)", emitter.name)),
            }
        }
        let best = rows.iter().copied().min_by_key(|r| r.attention.rank);
        let best = if heard { best } else { best.or(logged) };
        if emitter.planted {
            score.planted.push((emitter.name.clone(), best.map(|r| r.attention.rank)));
        }
        let judged = heard || (simulation.visits().is_empty() && emitter.planted);
        if let Some(zone @ (Zone::Inside | Zone::Outside)) = emitter.zone
            && judged
        {
            let p = best.and_then(|r| r.origin.p_inside);
            score.inside.push((emitter.name.clone(), zone, p));
        }
    }
    score.linked = ledger.emissions.iter().filter(|r| !coarse(r) && from_log(ledger, r)).count();
    score
}

fn from_log(ledger: &Ledger, row: &LedgerRow) -> bool {
    row.receptions.iter().any(|reception| {
        let is = |c: &&ledger::CaptureInfo| c.id == reception.capture;
        let capture = ledger.captures.iter().find(is);
        reception.heard && capture.is_some_and(|c| c.kind == CaptureKind::EventLog)
    })
}

/// The emitter in whose band a row's centre lies; the narrowest where several do.
fn emitter_of(truth: &Truth, row: &LedgerRow) -> Option<usize> {
    let centre_hz = row.emission.centre_hz;
    // 5 ppm of a receiver's reference, and the resolution that a bare carrier is bounded by.
    let slack_hz = 5e-6 * centre_hz.abs() + 1e3;
    let span = |e: &simulate::EmitterTruth| {
        let all = e.channels_hz.iter().copied().chain([e.centre_hz]);
        let (low, high) = all.fold((f64::MAX, f64::MIN), |(l, h), hz| (l.min(hz), h.max(hz)));
        (low - e.bandwidth_hz / 2.0 - slack_hz, high + e.bandwidth_hz / 2.0 + slack_hz)
    };
    let mut inside: Vec<(f64, usize)> = Vec::new();
    for (k, emitter) in truth.emitters.iter().enumerate() {
        let (low, high) = span(emitter);
        if (low..=high).contains(&centre_hz) {
            inside.push((high - low, k));
        }
    }
    inside.sort_by(|a, b| a.0.total_cmp(&b.0));
    inside.first().map(|(_, k)| *k)
}

fn share(of: usize, all: usize) -> String {
    if all == 0 { "–".into() } else { format!("{of} of {all}") }
}

fn table(scores: &[Score]) -> String {
    let mut out = String::from(
        "# Surveys of described places\n\n\
         Made by `cargo run --release -p xtask -- score-surveys`. Each place in scenes/ is simulated \
         with several seeds, surveyed through the same calls as any other, and its printed ledger \
         compared with what is true of the place. Expected: an emitter that some visit received at \
         10 dB or more in its own bandwidth. Logs: the tracker's period is another for each seed.\n\n\
         | scene | seeds | expected, found | with one row | extra rows a survey | planted in the first five | \
         inside: p over 0.8 | outside: p under 0.35 | seconds a survey |\n\
         | --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: |\n",
    );
    for scene in ["stepped", "demo", "logs"] {
        let of: Vec<&Score> = scores.iter().filter(|s| s.scene == scene).collect();
        if of.is_empty() {
            continue;
        }
        let sum = |f: fn(&Score) -> usize| of.iter().map(|s| f(s)).sum::<usize>();
        let expected = sum(|s| s.expected);
        let planted = of.iter().flat_map(|s| &s.planted);
        let first = planted.clone().filter(|(_, rank)| rank.is_some_and(|r| r <= 5)).count();
        let zone = |zone: Zone, good: fn(f64) -> bool| {
            let all = of.iter().flat_map(|s| &s.inside).filter(move |(_, z, _)| *z == zone);
            let right = all.clone().filter(|(_, _, p)| p.is_some_and(good)).count();
            share(right, all.count())
        };
        let _ = writeln!(
            out,
            "| {scene} | {} | {} | {} | {:.2} | {} | {} | {} | {:.1} |",
            of.len(),
            share(expected - sum(|s| s.missed.len()), expected),
            share(expected - sum(|s| s.missed.len() + s.doubled.len()), expected),
            sum(|s| s.extra.len()) as f64 / of.len() as f64,
            share(first, planted.count()),
            zone(Zone::Inside, |p| p > 0.8),
            zone(Zone::Outside, |p| p < 0.35),
            of.iter().map(|s| s.seconds).sum::<f64>() / of.len() as f64,
        );
    }
    periods(&mut out, scores);
    out.push_str("\n## What fell short\n\n");
    let before = out.len();
    for s in scores {
        shortfalls(&mut out, s);
    }
    if out.len() == before {
        out.push_str("Nothing.\n");
    }
    out
}

/// The tracker's period over the surveys of logs.
fn periods(out: &mut String, scores: &[Score]) {
    let all: Vec<_> = scores.iter().filter_map(|s| s.period).collect();
    if all.is_empty() {
        return;
    }
    let found: Vec<(f64, f64, f64)> =
        all.iter().filter_map(|(p, u, t)| Some(((*p)?, (*u)?, *t))).collect();
    let mut errors: Vec<f64> = found.iter().map(|(p, _, t)| (p - t).abs() / t).collect();
    errors.sort_by(f64::total_cmp);
    let median =
        errors.get(errors.len() / 2).map_or("–".into(), |e| format!("{:.2} %", e * 100.0));
    // A normal distribution has 90 % within 1.645 standard deviations.
    let within = found.iter().filter(|(p, u, t)| (p - t).abs() <= 1.645 * u).count();
    let leads = |s: &&Score| s.planted.iter().all(|(_, rank)| rank.is_some_and(|r| r <= 2));
    let logs = scores.iter().filter(|s| s.scene == "logs");
    let voices: Vec<f64> = (logs.clone().flat_map(|s| &s.inside))
        .filter(|(name, ..)| name.starts_with("voice"))
        .filter_map(|(.., p)| *p)
        .collect();
    let _ = writeln!(
        out,
        "\nLogs: a period for {}; its median error {median}; inside its stated 90 % interval {}; \
         both planted lead the ledger in {}; the voice transmitter inside with p over 0.9 in {}.",
        share(found.len(), all.len()),
        share(within, found.len()),
        share(logs.clone().filter(leads).count(), logs.count()),
        share(voices.iter().filter(|p| **p > 0.9).count(), voices.len()),
    );
    let linked: Vec<usize> =
        scores.iter().filter(|s| s.scene == "demo").map(|s| s.linked).collect();
    if !linked.is_empty() {
        let _ = writeln!(
            out,
            "\nDemo, samples and a log together: rows known from samples that a log's events joined: \
             {linked:?}; none of them may be missing or doubled above."
        );
    }
}

fn shortfalls(out: &mut String, s: &Score) {
    let mut say = |what: &str, names: &[String]| {
        if !names.is_empty() {
            let _ = writeln!(out, "- {} {}: {what} {}", s.scene, s.seed, names.join(", "));
        }
    };
    say("missed", &s.missed);
    say("not one row:", &s.doubled);
    say("extra:", &s.extra);
    let late: Vec<String> = s
        .planted
        .iter()
        .filter(|(_, rank)| rank.is_none_or(|r| r > 5))
        .map(|(name, rank)| match rank {
            Some(rank) => format!("{name} (rank {rank})"),
            None => format!("{name} (no row)"),
        })
        .collect();
    say("planted, not in the first five:", &late);
    let wrong: Vec<String> = s
        .inside
        .iter()
        .filter(|(_, zone, p)| match (zone, p) {
            (Zone::Inside, Some(p)) => *p <= 0.8,
            (_, Some(p)) => *p >= 0.35,
            (_, None) => true,
        })
        .map(|(name, zone, p)| match p {
            Some(p) => format!("{name} ({zone:?}, p_inside {p:.2})"),
            None => format!("{name} ({zone:?}, no p_inside)"),
        })
        .collect();
    say("inside or outside:", &wrong);
}
