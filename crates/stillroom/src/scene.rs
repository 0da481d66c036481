//! A described place, made into files: one SigMF recording for each visit, the logs of hand-held
//! detectors with their movements, and what is true of it all (`truth.json`). Everything is made
//! in a folder beside the wanted one and renamed when it is whole.

use crate::args::RegionArg;
use crate::exit::{Failure, disk, refused};
use crate::wrap;
use anyhow::Context;
use capture::write::{RowWriter, SigmfMeta, SigmfWriter, StagedFile};
use capture::{Number, NumberKind, OpenOptions, Recording, TreatAs};
use clap::ValueEnum;
use jiff::tz::TimeZone;
use simulate::{GivenSound, Piece, Scene, Simulation, VisitPlan, WalkLog};
use std::collections::BTreeMap;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};
use survey::Progress;
use units::Utc;

/// A scene file, read.
#[derive(Debug)]
pub struct SceneFile {
    /// The place.
    pub scene: Scene,
    /// The sounds that it names: WAV files, relative to the scene file.
    pub sounds: BTreeMap<String, GivenSound>,
}

/// What was written.
#[derive(Debug)]
pub struct Written {
    /// Recordings, in the scene's order: metadata file, and what it is a recording of.
    pub recordings: Vec<(PathBuf, VisitPlan)>,
    /// Logs of hand-held detectors, in the scene's order.
    pub logs: Vec<LogFiles>,
    /// What is true.
    pub truth: PathBuf,
}

/// The log of a hand-held detector, as its stick and its technician's notebook hold it.
#[derive(Debug)]
pub struct LogFiles {
    /// Its events.
    pub log: PathBuf,
    /// What the columns are, as `add --columns` takes it.
    pub columns: String,
    /// Where it was when.
    pub movements: PathBuf,
    /// What is in them.
    pub walk: WalkLog,
}

/// Reads a scene from TOML.
///
/// # Errors
/// If it cannot be read or is no scene: the message names the key and the line.
pub fn read(file: &Path) -> anyhow::Result<SceneFile> {
    let name = wrap::path(file);
    let text = std::fs::read_to_string(file).map_err(|e| match e.kind() {
        std::io::ErrorKind::InvalidData => refused(format!("{name}: this is no UTF-8 text")),
        _ => disk(file, "read it", e),
    })?;
    let scene = parse(&text).map_err(|e| refused(format!("{name}: {e:#}")))?;
    let folder = file.parent().unwrap_or(Path::new("."));
    let mut sounds = BTreeMap::new();
    for sound in scene.given_sounds() {
        let given = read_sound(&folder.join(&sound))?;
        sounds.insert(sound, given);
    }
    Ok(SceneFile { scene, sounds })
}

/// A scene from TOML text, checked.
///
/// # Errors
/// If it is no scene.
pub fn parse(text: &str) -> anyhow::Result<Scene> {
    let scene: Scene = toml::from_str(text).map_err(|e| refused(e.to_string()))?;
    scene.check().map_err(|e| refused(e.to_string()))?;
    if RegionArg::from_str(&scene.region, false).is_err() {
        let known: Vec<&str> = RegionArg::value_variants().iter().map(|r| r.word()).collect();
        let (region, known) = (&scene.region, known.join(", "));
        return Err(refused(format!("region: '{region}' is none that is known: give {known}")));
    }
    zone_of(&scene)?;
    Ok(scene)
}

fn zone_of(scene: &Scene) -> anyhow::Result<TimeZone> {
    let zone = &scene.time_zone;
    TimeZone::get(zone).map_err(|_| {
        refused(format!("time_zone: '{zone}' is not a time zone: write one like Europe/Vienna"))
    })
}

/// The first channel of a WAV file.
fn read_sound(file: &Path) -> anyhow::Result<GivenSound> {
    /// An hour of it at 48 kHz; longer ones are repeated sooner anyway.
    const MOST_FRAMES: u64 = 48_000 * 3600;
    let options = OpenOptions { treat_as: Some(TreatAs::Sound), ..OpenOptions::default() };
    let Recording::Sound(sound) = capture::open(file, &options)?.recording else {
        return Err(refused(format!("{}: expected a WAV file with sound", wrap::path(file))));
    };
    let frames = sound.len().min(MOST_FRAMES);
    let channels = usize::from(sound.channels().max(1));
    let mut all = vec![0.0; frames as usize * channels];
    sound.read(0, &mut all)?;
    let samples = all.into_iter().step_by(channels).collect();
    Ok(GivenSound { rate_hz: sound.sample_rate_hz(), samples })
}

/// Makes the recordings of a scene in `out`, a folder that is empty or not there yet.
///
/// # Errors
/// If the folder is in use, the scene cannot be simulated, the disk will not, or `progress` says
/// that it is cancelled; then nothing of it stays.
pub fn write(
    file: SceneFile,
    seed: u64,
    out: &Path,
    progress: &dyn Progress,
) -> anyhow::Result<Written> {
    if out.exists() && out.read_dir().map_or(true, |mut entries| entries.next().is_some()) {
        return Err(refused(format!(
            "{} is there and not an empty folder: name a new one",
            wrap::path(out)
        )));
    }
    let simulation = Simulation::with_sounds(&file.scene, seed, file.sounds)
        .map_err(|e| refused(e.to_string()))?;
    let parent = match out.parent() {
        Some(parent) if parent.as_os_str().is_empty() => Path::new("."),
        Some(parent) => parent,
        None => Path::new("/"),
    };
    std::fs::create_dir_all(parent).map_err(|e| disk(parent, "make the folder", e))?;
    let staging = tempfile::Builder::new()
        .prefix(".scene-")
        .suffix(".stillroom-tmp")
        .tempdir_in(parent)
        .map_err(|e| disk(parent, "make a folder in it", e))?;
    let recordings = write_visits(&simulation, staging.path(), progress)?;
    let logs = write_logs(&simulation, staging.path())?;
    let truth = write_truth(&simulation, staging.path())?;
    // From here on it is whole: the rename puts it in place at once.
    let staged = staging.keep();
    if let Err(error) = std::fs::rename(&staged, out) {
        // What is left is nobody's; that it cannot be removed adds nothing to why.
        let _ = std::fs::remove_dir_all(&staged);
        return Err(disk(out, "move it here", error));
    }
    let placed = |name: &Path| out.join(name.file_name().unwrap_or_default());
    Ok(Written {
        recordings: recordings.into_iter().map(|(path, plan)| (placed(&path), plan)).collect(),
        logs: logs
            .into_iter()
            .map(|l| LogFiles { log: placed(&l.log), movements: placed(&l.movements), ..l })
            .collect(),
        truth: placed(&truth),
    })
}

fn write_visits(
    simulation: &Simulation,
    folder: &Path,
    progress: &dyn Progress,
) -> anyhow::Result<Vec<(PathBuf, VisitPlan)>> {
    let samples_of = |plan: &VisitPlan| plan.segments.iter().map(|s| s.samples).sum::<u64>();
    let all: u64 = simulation.visits().iter().map(samples_of).sum();
    let mut done = 0;
    let mut written = Vec::new();
    for (index, plan) in simulation.visits().iter().enumerate() {
        let kind = if plan.adc_bits <= 8 { NumberKind::I8 } else { NumberKind::I16 };
        let mut meta = SigmfMeta::new(plan.sample_rate_hz, Number::little(kind));
        meta.description =
            Some(format!("simulated: {} at {}", simulation.scene().name, plan.position));
        meta.hardware = Some(plan.chain.clone());
        meta.recorder = Some(format!("stillroom simulate {}", env!("CARGO_PKG_VERSION")));
        let mut writer = SigmfWriter::create(folder, &plan.name, meta)?;
        let what = format!("simulating {}", plan.name);
        simulation.synthesise(index, &mut |piece| -> anyhow::Result<()> {
            match piece {
                Piece::Segment(segment) => {
                    writer.segment(Some(segment.centre_hz), Some(segment.start));
                }
                Piece::Samples(samples) => {
                    if progress.cancelled() {
                        return Err(Failure::Interrupted.into());
                    }
                    writer.push(samples)?;
                    done += samples.len() as u64;
                    progress.step(done, all, &what);
                }
            }
            Ok(())
        })?;
        written.push((writer.finish()?, plan.clone()));
    }
    Ok(written)
}

fn write_logs(simulation: &Simulation, folder: &Path) -> anyhow::Result<Vec<LogFiles>> {
    let zone = zone_of(simulation.scene())?;
    let walks = (0..).map_while(|index| simulation.detector_log(index));
    walks.map(|walk| write_log(walk, &zone, folder)).collect()
}

fn write_log(walk: WalkLog, zone: &TimeZone, folder: &Path) -> anyhow::Result<LogFiles> {
    // A detector shows the time of day of the place, as fine as its clock.
    let format = if walk.clock_s >= 60.0 { "%Y-%m-%d %H:%M" } else { "%Y-%m-%d %H:%M:%S" };
    let local = |at: Utc| -> anyhow::Result<String> {
        let at = jiff::Timestamp::from_nanosecond(i128::from(at.0))?;
        Ok(zone.to_datetime(at).strftime(format).to_string())
    };
    let log = folder.join(format!("{}.csv", walk.walk));
    let mut rows = RowWriter::create(&log, &["Time", "Band", "Strength", "Seconds"])?;
    for row in &walk.rows {
        let (low, high) = (row.low_hz / 1e6, row.high_hz / 1e6);
        let band = format!("{low}-{high} MHz ({})", row.band);
        let (strength, seconds) = (row.strength.to_string(), row.duration_s.to_string());
        rows.row(&[local(row.stamp)?, band, strength, seconds])?;
    }
    rows.finish()?;
    let movements = folder.join(format!("{}-movements.csv", walk.walk));
    let mut rows = RowWriter::create(&movements, &["Arrived", "Position"])?;
    for movement in &walk.movements {
        rows.row(&[movement.arrived.to_string(), movement.position.clone()])?;
    }
    rows.finish()?;
    let steps = walk.rows.first().map_or(1, |row| row.of);
    let columns =
        format!("time=Time:{format},band=Band,strength=Strength/{steps},duration=Seconds:s");
    Ok(LogFiles { log, columns, movements, walk })
}

fn write_truth(simulation: &Simulation, folder: &Path) -> anyhow::Result<PathBuf> {
    let path = folder.join("truth.json");
    let mut out = BufWriter::new(StagedFile::create(&path)?);
    serde_json::to_writer_pretty(&mut out, &simulation.truth())
        .map_err(std::io::Error::from)
        .context("could not write truth.json")?;
    writeln!(out)?;
    let staged = out.into_inner().map_err(|e| anyhow::Error::new(e.into_error()))?;
    staged.commit()?;
    Ok(path)
}
