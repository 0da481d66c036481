//! A described place becomes a survey: its recordings are simulated, and go through the same calls
//! as any others: new, describe --apply, note, add. Nothing is scripted.

use crate::exit::refused;
use crate::record;
use crate::scene::{self, LogFiles, SceneFile, Written};
use ledger::Role;
use simulate::{Scene, Simulation, VisitPlan};
use std::collections::BTreeMap;
use std::path::Path;
use survey::{AddOptions, NewSurvey, Note, Overrides, Progress, Survey};
use units::Band;

/// Which survey is wanted.
#[derive(Debug, Clone, Copy)]
pub struct Wanted<'a> {
    /// The place.
    pub scene: &'a Scene,
    /// Seed of its simulation.
    pub seed: u64,
    /// What the technician wrote down beforehand (brief, authority, known devices), as TOML.
    pub more_record: &'a str,
    /// Who works in it.
    pub by: &'a str,
}

/// Writes the recordings of a scene to `recordings` and makes a survey of them in `dir`; what they
/// show is still to be derived.
///
/// # Errors
/// If either folder is in use, the scene cannot be simulated, or the disk will not.
pub fn survey(
    wanted: &Wanted<'_>,
    recordings: &Path,
    dir: &Path,
    progress: &dyn Progress,
) -> anyhow::Result<Survey> {
    let place = wanted.scene;
    let simulation = Simulation::new(place, wanted.seed).map_err(|e| refused(e.to_string()))?;
    let file = SceneFile { scene: place.clone(), sounds: BTreeMap::new() };
    let written = scene::write(file, wanted.seed, recordings, progress)?;
    let new = NewSurvey {
        name: Some(place.name.clone()),
        region: Some(place.region.clone()),
        time_zone: Some(place.time_zone.clone()),
        by: Some(wanted.by.to_owned()),
    };
    let survey = Survey::create(dir, &new)?;
    survey.apply(&record::of(&simulation, wanted.more_record)?, wanted.by)?;
    bring_in(&survey, place, &written, wanted.by, progress)?;
    Ok(survey)
}

/// Movements and what was done in the rooms, then every recording and every log.
fn bring_in(
    survey: &Survey,
    place: &Scene,
    written: &Written,
    by: &str,
    progress: &dyn Progress,
) -> anyhow::Result<()> {
    for log in &written.logs {
        for movement in &log.walk.movements {
            let (at, when) = (movement.position.clone(), Some(movement.arrived));
            let chain = Some(log.walk.detector.clone());
            survey.note(&Note::Arrived { at, when, chain }, by)?;
        }
    }
    for talk in &place.talks {
        let text = format!("people speak in {}", talk.room);
        let (from, until) = (Some(talk.from), Some(talk.until));
        survey.note(&Note::Remark { text, at: None, from, until }, by)?;
    }
    for (file, plan) in &written.recordings {
        let options = of_recording(place, plan);
        survey.add(
            std::slice::from_ref(file),
            &AddOptions { later: true, ..options },
            by,
            progress,
        )?;
    }
    for log in &written.logs {
        let options = of_log(log);
        survey.add(
            std::slice::from_ref(&log.log),
            &AddOptions { later: true, ..options },
            by,
            progress,
        )?;
    }
    Ok(())
}

fn of_recording(place: &Scene, plan: &VisitPlan) -> AddOptions {
    let role = role(plan.role);
    let chain = place.chains.iter().find(|c| c.name == plan.chain);
    AddOptions {
        at: (role != Role::NoAntenna).then(|| plan.position.clone()),
        chain: Some(record::chain_name(&plan.chain).to_owned()),
        gain_db: chain.map(|c| c.gain_db),
        condition: plan.condition.clone(),
        ..AddOptions::new(role)
    }
}

fn of_log(log: &LogFiles) -> AddOptions {
    let walk = &log.walk;
    let bands = walk.bands.iter().map(|b| Band { low_hz: b.low_hz, high_hz: b.high_hz });
    AddOptions {
        chain: Some(walk.detector.clone()),
        from: Some(walk.from),
        until: Some(walk.until),
        bands: bands.collect(),
        overrides: Overrides { columns: Some(log.columns.clone()), ..Overrides::default() },
        ..AddOptions::new(Role::Walk)
    }
}

fn role(role: simulate::scene::Role) -> Role {
    use simulate::scene::Role as Simulated;
    match role {
        Simulated::Reference => Role::Reference,
        Simulated::Room => Role::Room,
        Simulated::Walk => Role::Walk,
        Simulated::Check => Role::Check,
        Simulated::NoAntenna => Role::NoAntenna,
    }
}
