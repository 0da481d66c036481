//! `demo`: the demonstration survey. An invented place is simulated, and its recordings go through
//! the same calls as any others: new, describe --apply, add, note. Nothing is scripted: what the
//! ledger shows was found in the samples and in the log.

use crate::exit::{Outcome, refused};
use crate::progress::Bar;
use crate::scene::{LogFiles, SceneFile, Written};
use crate::{args, record, say, scene, table};
use anyhow::Context;
use ledger::Role;
use simulate::{Scene, Simulation, VisitPlan};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use survey::{AddOptions, NewSurvey, Note, Overrides, Survey};
use units::Band;

/// The invented place.
const SCENE: &str = include_str!("../../../../scenes/demo.toml");
/// What its technician wrote down beforehand: brief, authority, known devices.
const RECORD: &str = include_str!("../../../../scenes/demo-record.toml");
/// Drawn once; any other makes another night at the same place.
const SEED: u64 = 1;
/// Who works in the invented survey.
const BY: &str = "demonstration";
const RECORDINGS: &str = "recordings";
const SURVEY: &str = "survey";

/// Makes the recordings, then the survey, then prints its ledger.
pub fn run(args: &args::Demo) -> anyhow::Result<Outcome> {
    let folder = folder(args.out.as_deref())?;
    let place = scene::parse(SCENE)?;
    let bar = Bar::new();
    let file = SceneFile { scene: place.clone(), sounds: BTreeMap::new() };
    let written = scene::write(file, SEED, &folder.join(RECORDINGS), &bar)?;
    let dir = folder.join(SURVEY);
    let survey = Survey::create(&dir, &new(&place))?;
    let simulation = Simulation::new(&place, SEED).map_err(|e| refused(e.to_string()))?;
    survey.apply(&record::of(&simulation, RECORD)?, BY)?;
    bring_in(&survey, &place, &written, &bar)?;
    let outcome = survey.ledger(&bar)?;
    drop(bar);
    if args.json.json {
        say::json(&outcome.ledger)?;
        return Ok(Outcome::Done);
    }
    say::text(&format!(
        "{}\nThe survey: {}\nIts recordings, with what is true of them: {}\n",
        table::ledger(&outcome.ledger, None),
        dir.display(),
        folder.join(RECORDINGS).display(),
    ))?;
    Ok(Outcome::Done)
}

fn new(place: &Scene) -> NewSurvey {
    NewSurvey {
        name: Some(place.name.clone()),
        region: Some(place.region.clone()),
        time_zone: Some(place.time_zone.clone()),
        by: Some(BY.to_owned()),
    }
}

/// The folder to work in. The default one is made anew; a folder that somebody named is not.
fn folder(named: Option<&Path>) -> anyhow::Result<PathBuf> {
    if let Some(folder) = named {
        if folder.exists() && folder.read_dir().map_or(true, |mut e| e.next().is_some()) {
            return Err(refused(format!(
                "{} is there and not an empty folder: name a new one",
                folder.display()
            )));
        }
        return Ok(folder.to_owned());
    }
    let folder = std::env::temp_dir().join("stillroom-demo");
    if folder.exists() {
        // Only what an earlier demo made is taken away.
        let ours = |path: PathBuf| {
            path.file_name().is_some_and(|name| name == RECORDINGS || name == SURVEY)
        };
        let entries =
            folder.read_dir().with_context(|| format!("could not list {}", folder.display()))?;
        if !entries.filter_map(Result::ok).all(|entry| ours(entry.path())) {
            return Err(refused(format!(
                "{} holds other files too: name another folder with --out",
                folder.display()
            )));
        }
        std::fs::remove_dir_all(&folder)
            .with_context(|| format!("could not make {} anew", folder.display()))?;
    }
    Ok(folder)
}

/// Movements and what was done in the rooms, then every recording and every log.
fn bring_in(survey: &Survey, place: &Scene, written: &Written, bar: &Bar) -> anyhow::Result<()> {
    for log in &written.logs {
        for movement in &log.walk.movements {
            let (at, when) = (movement.position.clone(), Some(movement.arrived));
            let chain = Some(log.walk.detector.clone());
            survey.note(&Note::Arrived { at, when, chain }, BY)?;
        }
    }
    for talk in &place.talks {
        let text = format!("people speak in {}", talk.room);
        let (from, until) = (Some(talk.from), Some(talk.until));
        survey.note(&Note::Remark { text, at: None, from, until }, BY)?;
    }
    for (file, plan) in &written.recordings {
        let options = of_recording(place, plan);
        survey.add(std::slice::from_ref(file), &AddOptions { later: true, ..options }, BY, bar)?;
    }
    for log in &written.logs {
        let options = of_log(log);
        survey.add(
            std::slice::from_ref(&log.log),
            &AddOptions { later: true, ..options },
            BY,
            bar,
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
