//! How fast and in how little memory recordings are analysed: docs/scores/bench.md.
//!
//! Each case is analysed in a process of its own, so that its peak memory is its own, and stands
//! beside what the same machine does with the same samples in the same run when it only copies
//! them, reads them, or makes one windowed transform of each.

use crate::bench_signals::{self, Signal};
use crate::schemas::workspace;
use anyhow::{Context, bail, ensure};
use capture::{OpenOptions, RawFormat, Recording};
use detect::Hooks;
use spectrum::Resolution;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Instant;
use units::{Iq, ReadError, Samples};

/// `bench`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Size of the recording of noise, gigabytes.
    #[arg(long, default_value_t = 4.0)]
    gigabytes: f64,
    /// Length of the busy band, minutes.
    #[arg(long, default_value_t = 10.0)]
    minutes: f64,
    /// Folder for the recordings, which are removed afterwards.
    #[arg(long, value_name = "DIR")]
    folder: Option<PathBuf>,
    /// Print the table and write no document.
    #[arg(long)]
    dry: bool,
    /// One task on one file, in this process.
    #[arg(long, hide = true, value_names = ["TASK", "FILE", "RATE"], num_args = 3)]
    child: Option<Vec<String>>,
}

/// Targets of the project: bytes of resident memory at most, Msps at least (two cores).
const MOST_BYTES: f64 = 400e6;
const LEAST_MSPS: f64 = 20.0;

/// What a task says of itself when it is done.
#[derive(Debug, serde::Serialize, serde::Deserialize)]
struct Measured {
    seconds: f64,
    processor_s: f64,
    peak_bytes: f64,
    rows: usize,
    bursts: u64,
}

/// What is done with a recording.
const TASKS: [(&str, &str); 5] = [
    ("copy", "copy of its bytes, one core"),
    ("read", "reading (file to complex samples), one core"),
    ("transform", "bare: one windowed transform (4096, Hann) of each sample"),
    ("detect", "`detect::from_samples`"),
    ("analyse", "`analyse`, with hash, bursts and overview"),
];

/// Makes the recordings, runs every task on them, writes the table.
pub fn run(args: &Args) -> anyhow::Result<()> {
    if let Some([task, file, rate]) = args.child.as_deref() {
        return child(task, Path::new(file), rate.parse()?);
    }
    let scratch = match &args.folder {
        Some(folder) => tempfile::tempdir_in(folder)?,
        None => tempfile::tempdir()?,
    };
    let cases = [
        (Signal::Noise, 20e6, (args.gigabytes * 1e9 / 4.0) as u64),
        (Signal::Busy, 2.4e6, (args.minutes * 60.0 * 2.4e6) as u64),
    ];
    let mut table = String::new();
    for (signal, rate_hz, samples) in cases {
        let file = scratch.path().join("recording.ci16");
        bench_signals::write(&file, signal, rate_hz, samples)?;
        writeln!(
            table,
            "\n## {}\n\n{:.0} million samples at {:.1} Msps, 16-bit complex, {:.2} GB, {:.0} s.\n\n\
             | task | time | processor | Msps | times real time | peak memory | rows | bursts |\n\
             | --- | --: | --: | --: | --: | --: | --: | --: |",
            signal.title(),
            samples as f64 / 1e6,
            rate_hz / 1e6,
            samples as f64 * 4.0 / 1e9,
            samples as f64 / rate_hz
        )?;
        for (task, what) in TASKS {
            let measured = in_child(task, &file, rate_hz)?;
            let line = line(what, samples, rate_hz, &measured);
            print!("{}: {line}", signal.title());
            table.push_str(&line);
        }
        std::fs::remove_file(&file)?;
    }
    let document = format!("{}{table}", head()?);
    if args.dry {
        return Ok(());
    }
    let path = workspace().join("docs/scores/bench.md");
    std::fs::create_dir_all(workspace().join("docs/scores"))?;
    std::fs::write(&path, document).context("docs/scores/bench.md")?;
    println!("{}", path.display());
    Ok(())
}

fn line(what: &str, samples: u64, rate_hz: f64, m: &Measured) -> String {
    let msps = samples as f64 / m.seconds / 1e6;
    format!(
        "| {what} | {:.1} s | {:.1} s | {msps:.1} | {:.1} | {:.0} MB | {} | {} |\n",
        m.seconds,
        m.processor_s,
        msps * 1e6 / rate_hz,
        m.peak_bytes / 1e6,
        m.rows,
        m.bursts
    )
}

fn head() -> anyhow::Result<String> {
    let cpu = std::fs::read_to_string("/proc/cpuinfo").unwrap_or_default();
    let model = cpu.lines().find_map(|l| l.strip_prefix("model name")?.split(": ").nth(1));
    let load = std::fs::read_to_string("/proc/loadavg").unwrap_or_default();
    Ok(format!(
        "# Speed and memory\n\n\
         Written by `cargo run --release -p xtask -- bench`: {} threads, {}, load average {} at \
         the end. Targets: peak memory under {:.0} MB, {LEAST_MSPS:.0} Msps or more on two cores. \
         Each task ran in a process of its own, on the same file in the same run; peak memory is \
         the process's largest resident set.\n",
        rayon::current_num_threads(),
        model.unwrap_or("unknown processor"),
        load.split_whitespace().next().unwrap_or("unknown"),
        MOST_BYTES / 1e6
    ))
}

fn in_child(task: &str, file: &Path, rate_hz: f64) -> anyhow::Result<Measured> {
    let out = Command::new(std::env::current_exe()?)
        .args(["bench", "--child", task])
        .arg(file)
        .arg(rate_hz.to_string())
        .output()?;
    ensure!(out.status.success(), "{task}: {}", String::from_utf8_lossy(&out.stderr));
    Ok(serde_json::from_slice(&out.stdout)?)
}

fn child(task: &str, file: &Path, rate_hz: f64) -> anyhow::Result<()> {
    let began = Instant::now();
    let (rows, bursts) = match task {
        "copy" => copy(file)?,
        "read" => read(&*samples(file, rate_hz)?)?,
        "transform" => transform(&*samples(file, rate_hz)?)?,
        "detect" => detect(&*samples(file, rate_hz)?)?,
        "analyse" => analyse(file, rate_hz)?,
        _ => bail!("no task '{task}'"),
    };
    let measured = Measured {
        seconds: began.elapsed().as_secs_f64(),
        processor_s: processor_s().unwrap_or(f64::NAN),
        peak_bytes: peak_bytes().unwrap_or(f64::NAN),
        rows,
        bursts,
    };
    println!("{}", serde_json::to_string(&measured)?);
    Ok(())
}

/// Largest resident set of this process so far (Linux: VmHWM).
fn peak_bytes() -> Option<f64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find_map(|l| l.strip_prefix("VmHWM:"))?;
    Some(line.split_whitespace().next()?.parse::<f64>().ok()? * 1024.0)
}

/// Seconds that the threads of this process have run (Linux: ticks of 10 ms).
fn processor_s() -> Option<f64> {
    let stat = std::fs::read_to_string("/proc/self/stat").ok()?;
    let mut ticks = stat.rsplit(')').next()?.split_whitespace().skip(11);
    let mut next = || ticks.next()?.parse::<f64>().ok();
    Some((next()? + next()?) / 100.0)
}

fn options(rate_hz: f64) -> OpenOptions {
    OpenOptions {
        format: Some(RawFormat::Ci16Le),
        rate_hz: Some(rate_hz),
        centre_hz: Some(434e6),
        ..OpenOptions::default()
    }
}

fn samples(file: &Path, rate_hz: f64) -> anyhow::Result<Box<dyn Samples>> {
    match capture::open(file, &options(rate_hz))?.recording {
        Recording::Iq(iq) => Ok(Box::new(iq)),
        _ => bail!("not samples"),
    }
}

/// From memory to memory, in pieces of 16 MB: the size of the file, without a disk.
fn copy(file: &Path) -> anyhow::Result<(usize, u64)> {
    let bytes = std::fs::metadata(file)?.len();
    let from = vec![1u8; 16 << 20];
    let mut to = vec![0u8; 16 << 20];
    for _ in 0..bytes.div_ceil(from.len() as u64) {
        std::hint::black_box(&mut to).copy_from_slice(std::hint::black_box(&from));
    }
    Ok((0, 0))
}

fn read(samples: &dyn Samples) -> anyhow::Result<(usize, u64)> {
    let mut block = vec![Iq::default(); 1 << 18];
    let mut first = 0;
    while first < samples.len() {
        let n = (samples.len() - first).min(block.len() as u64) as usize;
        samples.read(first, &mut block[..n])?;
        first += n as u64;
    }
    Ok((0, 0))
}

fn transform(samples: &dyn Samples) -> anyhow::Result<(usize, u64)> {
    let whole = Resolution::new(4096, 4096, dsp::Window::Hann);
    for segment in samples.segments() {
        spectrum::stream::<ReadError>(samples, segment, &[whole], &mut |block| {
            std::hint::black_box(block.rows(0).power);
            Ok(())
        })?;
    }
    Ok((0, 0))
}

fn detect(samples: &dyn Samples) -> anyhow::Result<(usize, u64)> {
    let mut bursts = 0;
    let mut hooks =
        Hooks { on_burst: &mut |_| bursts += 1, on_progress: &mut |_| true, on_samples: None };
    let detection = detect::from_samples(samples, &detect::Options::default(), &mut hooks)?;
    Ok((detection.found.len(), bursts))
}

fn analyse(file: &Path, rate_hz: f64) -> anyhow::Result<(usize, u64)> {
    let scratch = tempfile::tempdir()?;
    let options = analyse::AnalyseOptions {
        open: options(rate_hz),
        bursts: true,
        overview: Some(scratch.path().join("overview")),
        ..analyse::AnalyseOptions::default()
    };
    let analysed = analyse::analyse(file, &options, &analyse::Quiet)?;
    let rows = &analysed.analysis.emissions;
    Ok((rows.len(), rows.iter().map(|r| r.emission.bursts.count).sum()))
}
