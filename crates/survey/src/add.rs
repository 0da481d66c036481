//! Bringing captures in. A capture is acknowledged once its evidence files are fsynced under their
//! hashes and its row is committed; until then nothing of it stands.

mod listened;
mod options;

pub(crate) use listened::against_rows;
pub use options::{AddOptions, Added};

use crate::derive::Look;
use crate::evidence::Staged;
use crate::jobs::failed_reason;
use crate::parts::{has_place, nowhere};
use crate::pen::Pen;
use crate::survey::{Survey, head_of};
use crate::things::{Capture, Overrides, listening, zone_of};
use crate::{Progress, SurveyError, places, record};
use capture::one_line;
use ledger::{CaptureKind, FileInfo};
use std::path::{Path, PathBuf};
use units::Reason;

impl Survey {
    /// Brings recordings in and, unless they are for later, derives from them. All are looked at
    /// before the first is stored; then each is stored by itself, told to `progress` as it is
    /// acknowledged. If one fails, the files that are not brought in are told so too.
    ///
    /// # Errors
    /// If a file cannot be read, is of no kind that is read or says too little, the same recording
    /// is there at another position, or the disk will not. What was acknowledged before stays.
    pub fn add(
        &self,
        files: &[PathBuf],
        options: &AddOptions,
        by: &str,
        progress: &dyn Progress,
    ) -> Result<Vec<Added>, SurveyError> {
        // Asked before anything is copied; what else cannot be true is refused with the row.
        listening(options.from, options.until)?;
        let mut looks: Vec<(Look, Overrides)> = Vec::new();
        for named in self.deriver.recordings(files)? {
            let own = options.columns.iter().find(|(file, _)| *file == named.path);
            let said = options.overrides.clone();
            let overrides = Overrides {
                inner: named.inner.or(said.inner),
                columns: own.map(|(_, columns)| columns.clone()).or(said.columns),
                ..said
            };
            let mut look = self.look_at(&named.path, &overrides).inspect_err(|_| {
                if files.len() > 1 {
                    tell_left_out(files.iter().map(PathBuf::as_path), progress);
                }
            })?;
            look.warnings.extend(named.warnings);
            looks.push((look, overrides));
        }
        let mut added = Vec::new();
        for (i, (look, overrides)) in looks.iter().enumerate() {
            let options = AddOptions { overrides: overrides.clone(), ..options.clone() };
            let one = self.store(look, &options, by, progress).inspect_err(|_| {
                let rest =
                    looks.get(i..).unwrap_or_default().iter().map(|(look, _)| data_file(look));
                tell_left_out(rest, progress);
            })?;
            let what = format!(
                "{} {} {}",
                if one.already { "already there:" } else { "stored:" },
                one.capture,
                one.file.display()
            );
            progress.step(i as u64 + 1, looks.len() as u64, &what);
            added.push(one);
        }
        if !options.later {
            self.finish_pending(progress)?;
            let jobs = self.jobs()?;
            for one in &mut added {
                let failed =
                    jobs.iter().filter(|job| job.state == "failed" && job.input == one.capture);
                one.warnings
                    .extend(failed.map(|job| failed_reason(&job.input, job.message.as_deref())));
            }
        }
        Ok(added)
    }

    /// Looks at a file and refuses what a survey cannot use.
    pub(crate) fn look_at(&self, file: &Path, overrides: &Overrides) -> Result<Look, SurveyError> {
        let mut overrides = overrides.clone();
        if overrides.time_zone.is_none() {
            overrides.time_zone = Some(self.head()?.time_zone);
        }
        let look = self.deriver.look(file, &overrides)?;
        if look.centre_unknown {
            return Err(SurveyError::refused(
                format!(
                    "{}: nobody states the centre frequency of these samples, so their emissions \
                     could not be compared with anything",
                    file.display()
                ),
                "Give it with --centre, like --centre 433.92MHz.",
            ));
        }
        if look.files.is_empty() {
            return Err(SurveyError::internal(format!("{}: no evidence file", file.display())));
        }
        Ok(look)
    }

    fn store(
        &self,
        look: &Look,
        options: &AddOptions,
        by: &str,
        progress: &dyn Progress,
    ) -> Result<Added, SurveyError> {
        let staging = self.folder.stage()?;
        let mut staged: Vec<Staged> = Vec::new();
        for file in &look.files {
            let size = std::fs::metadata(file).map(|m| m.len()).unwrap_or(0);
            let what = format!("copying {}", file.display());
            let keep_going = |bytes: u64| {
                progress.step(bytes, size.max(bytes), &what);
                !progress.cancelled()
            };
            staged.push(self.folder.bring_in(file, &staging, &keep_going)?);
        }
        self.write(by, |pen| self.commit(pen, look, &staged, options))
    }

    /// Keeps the evidence and writes the row, or refuses, and then nothing of it is kept.
    fn commit(
        &self,
        pen: &Pen<'_>,
        look: &Look,
        staged: &[Staged],
        options: &AddOptions,
    ) -> Result<Added, SurveyError> {
        let file = data_file(look).to_owned();
        let recording = staged.first().map(|f| f.sha256.clone()).unwrap_or_default();
        let mut warnings = look.warnings.clone();
        let position = options
            .at
            .as_deref()
            .map(|name| places::position(pen, name, options.zone, zone_of(options.role)))
            .transpose()?;
        let same: Vec<Capture> = record::all::<Capture>(pen.db)?
            .into_iter()
            .filter(|c| c.recording == recording && c.overrides.inner == options.overrides.inner)
            .collect();
        if let Some(there) = same.iter().find(|capture| capture.position == position) {
            // Evidence that was damaged or lost since is whole again.
            for again in staged.iter().filter(|s| there.files.iter().any(|f| f.sha256 == s.sha256))
            {
                self.folder.keep(again)?;
            }
            return Ok(already(there, file, options));
        }
        if let Some(there) = same.first()
            && !options.again
        {
            let known: Vec<units::Position> = record::all(pen.db)?;
            let place = known.iter().find(|p| Some(&p.id) == there.position.as_ref());
            return Err(SurveyError::refused(
                format!(
                    "{}: the same recording is {} already, at {}",
                    file.display(),
                    there.id,
                    place.map_or("no one position", |p| p.name.as_str())
                ),
                "If it was put there by mistake, use `amend`; if it counts for both, add it with --again.",
            ));
        }
        let places = places::named(pen, &look.places, zone_of(options.role))?;
        let chain = places::chain(pen, options.chain.as_deref(), &mut warnings)?;
        let condition =
            options.condition.as_deref().map(|name| places::condition(pen, name)).transpose()?;
        let mut overrides = options.overrides.clone();
        if overrides.time_zone.is_none() {
            overrides.time_zone = Some(head_of(pen.db)?.time_zone);
        }
        let capture = Capture {
            id: record::next_id(pen.db, "capture", "C")?,
            kind: look.kind,
            role: options.role,
            position,
            places,
            chain,
            gain_db: options.gain_db,
            setting: options.setting.clone(),
            condition,
            from: options.from,
            until: options.until,
            bands: options.bands.clone(),
            clock_s: 0.0,
            set_aside: None,
            overrides,
            recording,
            files: staged
                .iter()
                .map(|f| FileInfo {
                    name: f.name.clone(),
                    sha256: f.sha256.clone(),
                    bytes: f.bytes,
                })
                .collect(),
            format: look.format.clone(),
            start: look.start,
            duration_s: look.duration_s,
            warnings: warnings.clone(),
        };
        if !has_place(pen.db, &capture)? {
            return Err(nowhere(&file.display().to_string()));
        }
        if !capture.is_derived_from() {
            warnings.push(Reason::new(
                "kept_only",
                "It is kept as evidence, and nothing is looked for in it: sound holds no emission.",
            ));
        }
        warnings.extend(against_rows(pen.db, &file.display().to_string(), &look.rows, &capture)?);
        log_warnings(&capture, &mut warnings);
        let capture = Capture { warnings: warnings.clone(), ..capture };
        for file in staged {
            self.folder.keep(file)?;
        }
        pen.append("add", &[record::put(pen.db, &capture)?])?;
        crate::jobs::announce(pen.db, self)?;
        Ok(Added { capture: capture.id, file, already: false, warnings })
    }
}

/// Files told of at once as not brought in.
const TOLD: usize = 20;

/// Tells `progress` which files are not brought in when one of them fails.
fn tell_left_out<'a>(files: impl ExactSizeIterator<Item = &'a Path>, progress: &dyn Progress) {
    let n = files.len() as u64;
    let mut names: Vec<String> =
        files.take(TOLD).map(|file| one_line(&file.to_string_lossy())).collect();
    if n > TOLD as u64 {
        names.push(format!("and {} more", n - TOLD as u64));
    }
    progress.step(0, n, &format!("not brought in: {}", names.join(", ")));
}

/// What is assumed of a log where it is not stated.
fn log_warnings(capture: &Capture, warnings: &mut Vec<Reason>) {
    if capture.kind != CaptureKind::EventLog {
        return;
    }
    if capture.from.is_none() || capture.until.is_none() {
        warnings.push(Reason::new(
            "listening_assumed",
            "Nobody says from when to when the detector listened: its first to its last event is \
             assumed. State it with --from and --until.",
        ));
    }
    if capture.bands.is_empty() {
        warnings.push(Reason::new(
            "bands_unstated",
            "Nobody says which bands the detector listened to, so that it heard nothing in one \
             counts for nothing. State them with --bands.",
        ));
    }
}

fn already(there: &Capture, file: PathBuf, said: &AddOptions) -> Added {
    let mut warnings = Vec::from_iter(options::said_otherwise(there, said));
    if let Some(reason) = &there.set_aside {
        warnings.push(
            Reason::new(
                "already_set_aside",
                format!(
                    "This recording is {} already, set aside ({reason}): `amend {} --restore` lets \
                     it count again.",
                    there.id, there.id
                ),
            )
            .with("capture", there.id.as_str()),
        );
    }
    Added { capture: there.id.clone(), file, already: true, warnings }
}

fn data_file(look: &Look) -> &Path {
    look.files.first().map_or(Path::new(""), PathBuf::as_path)
}
