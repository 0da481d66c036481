//! What a person sees when deciding, and what came since that they did not see.

use crate::contract::{LedgerRow, Reception};
use crate::input::{Chain, Input, SeenAt, SeenFacts};
use units::{Reason, Strength};

/// How much stronger is news, dB (design: 6 dB).
const STRONGER_DB: f64 = 6.0;
/// The same on an ordinal scale, as a part of it: a hand-held's scale spans some 40 dB (common
/// practice, no source).
const STRONGER_STEPS: f64 = 0.15;
/// How far outside the hours seen is 'other hours', seconds (common practice, no source).
const OTHER_HOURS_S: f64 = 3600.0;

/// The facts of a row as it stands.
pub(crate) fn facts(input: &Input, row: &LedgerRow) -> SeenFacts {
    let mut heard_at: Vec<SeenAt> = Vec::new();
    for reception in row.receptions.iter().filter(|reception| reception.heard) {
        let (chain, level_db) = level(input, reception);
        let known =
            heard_at.iter_mut().find(|at| at.position == reception.position && at.chain == chain);
        match known {
            Some(at) => {
                at.level_db = louder(at.level_db, level_db);
                at.strength = stronger(at.strength, reception.strength);
            }
            None => heard_at.push(SeenAt {
                position: reception.position.clone(),
                chain,
                level_db,
                strength: reception.strength,
            }),
        }
    }
    SeenFacts {
        heard_at,
        hours: row.first.zip(row.last),
        shape: Some(shape_word(row)),
        technology: row.emission.technology.as_ref().map(|technology| technology.label.clone()),
    }
}

fn shape_word(row: &LedgerRow) -> String {
    use detect::Shape::{Bursts, Continuous, Hopping, Sweeping};
    match row.emission.shape {
        Continuous => "continuous",
        Bursts => "bursts",
        Hopping => "hopping",
        Sweeping => "sweeping",
    }
    .to_owned()
}

/// What a reception's level compares with, in one word, and the level in the unit it names.
fn level(input: &Input, reception: &Reception) -> (String, Option<f64>) {
    let capture = input.captures.iter().find(|capture| capture.id == reception.capture);
    let reading = input.readings.iter().find(|reading| reading.id == reception.capture);
    let chain: Option<&Chain> = capture.map(|c| &c.chain).or(reading.map(|r| &r.chain));
    let name = chain.map_or("", |chain| &chain.name);
    let setting = chain.and_then(|chain| chain.setting.as_deref()).unwrap_or("");
    let (unit, level) = match (reception.level_dbm, reception.level_dbfs) {
        (Some(dbm), _) => ("dBm", Some(dbm.0)),
        (None, Some(dbfs)) => ("dBFS", Some(dbfs.0)),
        (None, None) => ("steps", None),
    };
    (format!("{name}/{setting}/{unit}"), level)
}

fn louder(a: Option<f64>, b: Option<f64>) -> Option<f64> {
    match (a, b) {
        (Some(a), Some(b)) => Some(a.max(b)),
        (a, b) => a.or(b),
    }
}

fn part(strength: Strength) -> f64 {
    if strength.of > 0.0 { strength.value / strength.of } else { 0.0 }
}

fn stronger(a: Option<Strength>, b: Option<Strength>) -> Option<Strength> {
    match (a, b) {
        (Some(a), Some(b)) if part(b) > part(a) => Some(b),
        (a, b) => a.or(b),
    }
}

/// What the facts now hold beyond what was seen by any of the decisions that stand (equal ones, of
/// rows that became one, saw a part each).
pub(crate) fn since(input: &Input, seen: &[&SeenFacts], now: &SeenFacts) -> Vec<Reason> {
    let mut reasons = Vec::new();
    let before: Vec<&SeenAt> = seen.iter().flat_map(|facts| &facts.heard_at).collect();
    for at in &now.heard_at {
        let here: Vec<&&SeenAt> = before.iter().filter(|b| b.position == at.position).collect();
        let name = place_name(input, at.position.as_deref());
        if here.is_empty() {
            let text = format!("Heard at {name} since, where it had not been heard.");
            let new = Reason::new("new_position", text).with("position", name.as_str());
            if !reasons.contains(&new) {
                reasons.push(new);
            }
            continue;
        }
        let same = here.iter().filter(|b| b.chain == at.chain);
        let level = same.clone().fold(None, |most, b| louder(most, b.level_db));
        if let (Some(then), Some(now)) = (level, at.level_db)
            && now - then >= STRONGER_DB
        {
            let text = format!("{:.0} dB stronger at {name} than when it was decided.", now - then);
            reasons.push(
                Reason::new("stronger", text)
                    .with("position", name.as_str())
                    .with("by_db", now - then),
            );
        }
        let steps = same.fold(None, |most, b| stronger(most, b.strength));
        if let (Some(then), Some(now)) = (steps, at.strength)
            && part(now) - part(then) >= STRONGER_STEPS
        {
            let text = format!(
                "{} of {} at {name}, {} of {} when it was decided.",
                now.value, now.of, then.value, then.of
            );
            reasons.push(
                Reason::new("stronger", text)
                    .with("position", name.as_str())
                    .with("steps", now.value)
                    .with("steps_then", then.value),
            );
        }
    }
    let hours =
        seen.iter().filter_map(|facts| facts.hours).reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)));
    if let (Some((from, until)), Some((first, last))) = (hours, now.hours) {
        let early = from.seconds_since(first) > OTHER_HOURS_S;
        let late = last.seconds_since(until) > OTHER_HOURS_S;
        if early || late {
            let text = format!(
                "Heard from {first} to {last}; when it was decided, from {from} to {until}."
            );
            reasons.push(
                Reason::new("other_hours", text)
                    .with("first", first.to_string())
                    .with("last", last.to_string()),
            );
        }
    }
    let another = |of: fn(&SeenFacts) -> &Option<String>| {
        let now = of(now).as_ref()?;
        // What was not known then is news too, but for facts of an act that stored none.
        (!seen.iter().any(|facts| of(facts).as_ref() == Some(now))).then_some(now)
    };
    if let Some(shape) = another(|facts| &facts.shape) {
        let text = format!("Its shape is {shape} now.");
        reasons.push(Reason::new("another_shape", text).with("shape", shape.as_str()));
    }
    if let Some(technology) = another(|facts| &facts.technology).filter(|t| *t != "unknown") {
        let text = format!("Its technology is {technology} now.");
        let reason = Reason::new("another_technology", text);
        reasons.push(reason.with("technology", technology.as_str()));
    }
    reasons
}

fn place_name(input: &Input, id: Option<&str>) -> String {
    let position = input.positions.iter().find(|position| Some(&*position.id) == id);
    match (position, id) {
        (Some(position), _) => position.name.clone(),
        (None, Some(id)) => id.to_owned(),
        (None, None) => "no position (no antenna, or nobody said where)".to_owned(),
    }
}
