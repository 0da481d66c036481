//! What a scene must satisfy before anything is made of it. Errors name the key.

use crate::scene::{Chain, Emitter, Place, Scene, Schedule};
use crate::signals::{Signal, Sound};

/// A scene that cannot be simulated: the key that is wrong, and why.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{key}: {problem}")]
pub struct SceneError {
    /// Key in the scene, `emitters[3] 'gate remote'.signal.bit_rate`.
    pub key: String,
    /// What is wrong and what would be right.
    pub problem: String,
}

impl SceneError {
    pub(crate) fn new(key: impl Into<String>, problem: impl Into<String>) -> SceneError {
        SceneError { key: key.into(), problem: problem.into() }
    }
}

type Checked = Result<(), SceneError>;

/// Limits that keep a slip of the pen from filling a disk: samples and segments of one visit.
const MOST_SAMPLES: f64 = 2e10;
const MOST_SEGMENTS: f64 = 1e6;
/// On-times or packets of one emitter that a schedule may ask for in a second.
const MOST_A_SECOND: f64 = 1e4;

impl Scene {
    /// Checks every value and every name.
    ///
    /// # Errors
    /// The first value that cannot be, with its key.
    pub fn check(&self) -> Result<(), SceneError> {
        finite("shadowing_sigma_db", self.shadowing_sigma_db, 0.0, 30.0)?;
        if let Some(f) = &self.fading {
            over("fading.coherence_s", f.coherence_s, 1e-3)?;
            finite("fading.k_db", f.k_db.unwrap_or(0.0), -30.0, 60.0)?;
        }
        self.check_building()?;
        unique("positions", self.positions.iter().map(|p| &p.name))?;
        for (k, p) in self.positions.iter().enumerate() {
            self.check_place(&item("positions", k, &p.name, "place"), &p.place)?;
        }
        for (k, t) in self.talks.iter().enumerate() {
            let key = item("talks", k, &t.room, "");
            self.check_room(&format!("{key}room"), &t.room)?;
            in_order(&key, t.from, t.until)?;
        }
        unique("emitters", self.emitters.iter().map(|e| &e.name))?;
        for (k, e) in self.emitters.iter().enumerate() {
            self.check_emitter(k, e)?;
        }
        unique("chains", self.chains.iter().map(|c| &c.name))?;
        for (k, c) in self.chains.iter().enumerate() {
            check_chain(&|f| item("chains", k, &c.name, f), c)?;
        }
        unique("visits", self.visits.iter().map(|v| &v.name))?;
        for (k, v) in self.visits.iter().enumerate() {
            let key = |f: &str| item("visits", k, &v.name, f);
            over(&key("duration_s"), v.duration_s, 1e-6)?;
            self.check_position(&key("position"), &v.position)?;
            let Some(chain) = self.chains.iter().find(|c| c.name == v.chain) else {
                let chains = self.chains.iter().map(|c| &c.name);
                return Err(unnamed(&key("chain"), "chain", &v.chain, chains));
            };
            let step_s = chain.dwell_s.unwrap_or(v.duration_s) + chain.settle_s;
            let pass_s =
                (step_s * chain.centres_hz.len() as f64).max(chain.pass_every_s.unwrap_or(0.0));
            let passes = if chain.dwell_s.is_some() { (v.duration_s / pass_s).ceil() } else { 1.0 };
            let segments = passes * chain.centres_hz.len() as f64;
            let samples = segments * (step_s - chain.settle_s) * chain.sample_rate_hz;
            if segments > MOST_SEGMENTS || samples > MOST_SAMPLES {
                let text = format!(
                    "{segments} segments with {samples:.3e} samples are too many: make it shorter or the rate lower"
                );
                return Err(SceneError::new(key("duration_s"), text));
            }
        }
        self.check_detectors()
    }
    /// Names of the sounds that must be given to the simulation.
    pub fn given_sounds(&self) -> Vec<String> {
        self.emitters
            .iter()
            .filter_map(|e| match sound_of(&e.signal) {
                Some(Sound::Given(name)) => Some(name.clone()),
                _ => None,
            })
            .collect()
    }
    fn check_building(&self) -> Checked {
        unique("floors", self.floors.iter().map(|f| &f.name))?;
        for (k, f) in self.floors.iter().enumerate() {
            let key = |field: &str| item("floors", k, &f.name, field);
            finite(&key("level_m"), f.level_m, -100.0, 1000.0)?;
            over(&key("height_m"), f.height_m, 0.1)?;
            f.slab.iter().try_for_each(|m| material(&key("slab"), m))?;
            for (j, w) in f.walls.iter().enumerate() {
                material(&key(&format!("walls[{j}].material")), &w.material)?;
                let ends = [w.from_m, w.to_m].concat();
                ends.iter()
                    .try_for_each(|v| finite(&key(&format!("walls[{j}]")), *v, -1e6, 1e6))?;
                if w.from_m == w.to_m {
                    let text = "from_m and to_m are one point: give the wall's two ends";
                    return Err(SceneError::new(key(&format!("walls[{j}]")), text));
                }
            }
            for (j, room) in f.rooms.iter().enumerate() {
                for (edges, field) in [(room.x_m, "x_m"), (room.y_m, "y_m")] {
                    let key = key(&item("rooms", j, &room.name, field));
                    edges.iter().try_for_each(|v| finite(&key, *v, -1e6, 1e6))?;
                    if edges[0] >= edges[1] {
                        let text = format!(
                            "{} is not before {}: give the smaller edge first",
                            told(edges[0]),
                            told(edges[1])
                        );
                        return Err(SceneError::new(key, text));
                    }
                }
            }
        }
        unique("floors.rooms", self.floors.iter().flat_map(|f| &f.rooms).map(|r| &r.name))
    }
    fn check_place(&self, key: &str, p: &Place) -> Checked {
        if let Some(floor) = &p.floor
            && !self.floors.iter().any(|f| f.name == *floor)
        {
            return Err(unnamed(
                &format!("{key}.floor"),
                "floor",
                floor,
                self.floors.iter().map(|f| &f.name),
            ));
        }
        // Above its floor; above the ground there may also be a cellar or a mast.
        let lowest = if p.floor.is_some() { 0.0 } else { -100.0 };
        finite(&format!("{key}.height_m"), p.height_m.unwrap_or(lowest), lowest, 1e5)?;
        match (p.at_m, p.bearing_deg, p.distance_m) {
            (Some(at), None, None) => {
                at.iter().try_for_each(|v| finite(&format!("{key}.at_m"), *v, -1e7, 1e7))
            }
            (None, Some(b), Some(d)) => {
                finite(&format!("{key}.bearing_deg"), b, -360.0, 360.0)?;
                over(&format!("{key}.distance_m"), d, 1e-3)
            }
            _ => Err(SceneError::new(
                key,
                "say where: at_m = [x, y], or bearing_deg and distance_m together",
            )),
        }
    }
    fn check_room(&self, key: &str, room: &str) -> Checked {
        match self.floors.iter().flat_map(|f| &f.rooms).any(|r| r.name == room) {
            true => Ok(()),
            false => {
                let rooms = self.floors.iter().flat_map(|f| &f.rooms);
                Err(unnamed(key, "room", room, rooms.map(|r| &r.name)))
            }
        }
    }
    fn check_position(&self, key: &str, position: &str) -> Checked {
        match self.positions.iter().any(|p| p.name == position) {
            true => Ok(()),
            false => {
                Err(unnamed(key, "position", position, self.positions.iter().map(|p| &p.name)))
            }
        }
    }
    fn check_emitter(&self, k: usize, e: &Emitter) -> Checked {
        let key = |f: &str| item("emitters", k, &e.name, f);
        match (e.eirp_dbm, e.snr_db) {
            (Some(p), None) => {
                finite(&key("eirp_dbm"), p, -150.0, 100.0)?;
                self.check_place(&key("place"), &e.place)?;
            }
            (None, Some(s)) => finite(&key("snr_db"), s, -60.0, 120.0)?,
            _ => return Err(SceneError::new(key("eirp_dbm"), "give eirp_dbm or snr_db, not both")),
        }
        let own = !e.signal.channels_hz().is_empty();
        if !own {
            over(&key("centre_hz"), e.centre_hz, 1.0)?;
        }
        e.signal.check().map_err(|(f, t)| SceneError::new(key(&format!("signal.{f}")), t))?;
        if let Some(Sound::Room(room)) = sound_of(&e.signal) {
            self.check_room(&key("signal.sound.room"), room)?;
        }
        e.during.iter().try_for_each(|s| in_order(&key("during"), s.from, s.until))?;
        match &e.schedule {
            Schedule::Always => Ok(()),
            Schedule::Periodic { period_s, on_s, first_s, jitter_s } => {
                over(&key("schedule.period_s"), *period_s, 1.0 / MOST_A_SECOND)?;
                over(&key("schedule.on_s"), *on_s, 1e-9)?;
                finite(&key("schedule.first_s"), *first_s, 0.0, 1e8)?;
                finite(&key("schedule.jitter_s"), *jitter_s, 0.0, *period_s - *on_s)
            }
            Schedule::Random { mean_gap_s, on_s } => {
                over(&key("schedule.mean_gap_s"), *mean_gap_s, 1.0 / MOST_A_SECOND)?;
                over(&key("schedule.on_s"), on_s[0], 1e-9)?;
                finite(&key("schedule.on_s"), on_s[1], on_s[0], 1e8)
            }
            Schedule::StoreAndForward { room, period_s, first_s, compression, least_s } => {
                self.check_room(&key("schedule.room"), room)?;
                over(&key("schedule.period_s"), *period_s, 1.0)?;
                finite(&key("schedule.first_s"), *first_s, 0.0, 1e8)?;
                finite(&key("schedule.compression"), *compression, 1e-6, 1.0)?;
                finite(&key("schedule.least_s"), *least_s, 0.0, *period_s)
            }
            Schedule::Voice { room, attack_s, hang_s } => {
                self.check_room(&key("schedule.room"), room)?;
                finite(&key("schedule.attack_s"), *attack_s, 0.0, 60.0)?;
                finite(&key("schedule.hang_s"), *hang_s, 0.1, 3600.0)
            }
        }
    }
    fn check_detectors(&self) -> Checked {
        unique("detectors", self.detectors.iter().map(|d| &d.name))?;
        for (k, d) in self.detectors.iter().enumerate() {
            let key = |f: &str| item("detectors", k, &d.name, f);
            finite(&key("threshold_dbm"), d.threshold_dbm, -150.0, 50.0)?;
            over(&key("step_db"), d.step_db, 1e-3)?;
            finite(&key("steps"), f64::from(d.steps), 1.0, 1e4)?;
            over(&key("hold_s"), d.hold_s, 1e-3)?;
            over(&key("longest_s"), d.longest_s, 1.0)?;
            over(&key("clock_s"), d.clock_s, 1e-3)?;
            finite(&key("wander_db"), d.wander_db, 0.0, 20.0)?;
            for (j, b) in d.bands.iter().enumerate() {
                let band = key(&format!("bands[{j}]"));
                over(&format!("{band}.low_hz"), b.low_hz, 1.0)?;
                finite(&format!("{band}.high_hz"), b.high_hz, b.low_hz, 1e12)?;
            }
        }
        unique("walks", self.walks.iter().map(|w| &w.name))?;
        for (k, w) in self.walks.iter().enumerate() {
            let key = |f: &str| item("walks", k, &w.name, f);
            if !self.detectors.iter().any(|d| d.name == w.detector) {
                let detectors = self.detectors.iter().map(|d| &d.name);
                return Err(unnamed(&key("detector"), "detector", &w.detector, detectors));
            }
            finite(&key("carry_s"), w.carry_s, 0.0, 3600.0)?;
            let times: Vec<_> =
                w.stops.iter().map(|s| s.arrived).chain(std::iter::once(w.until)).collect();
            times.windows(2).try_for_each(|t| in_order(&key("stops"), t[0], t[1]))?;
            if w.stops.is_empty() {
                return Err(SceneError::new(key("stops"), "a walk needs at least one stop"));
            }
            for (j, s) in w.stops.iter().enumerate() {
                self.check_position(&key(&format!("stops[{j}].position")), &s.position)?;
            }
        }
        Ok(())
    }
}

fn check_chain(key: &dyn Fn(&str) -> String, c: &Chain) -> Checked {
    over(&key("sample_rate_hz"), c.sample_rate_hz, 1000.0)?;
    if c.centres_hz.is_empty() {
        return Err(SceneError::new(key("centres_hz"), "give at least one centre frequency"));
    }
    c.centres_hz.iter().try_for_each(|hz| finite(&key("centres_hz"), *hz, 0.0, 1e12))?;
    match c.dwell_s {
        Some(d) => over(&key("dwell_s"), d, 1e-6)?,
        None if c.centres_hz.len() > 1 => {
            return Err(SceneError::new(key("dwell_s"), "a stepped receiver needs its dwell time"));
        }
        None => {}
    }
    finite(&key("settle_s"), c.settle_s, 0.0, 3600.0)?;
    finite(&key("pass_every_s"), c.pass_every_s.unwrap_or(0.0), 0.0, 1e6)?;
    finite(&key("noise_figure_db"), c.noise_figure_db, 0.0, 60.0)?;
    finite(&key("gain_db"), c.gain_db, -100.0, 150.0)?;
    finite(&key("full_scale_dbm"), c.full_scale_dbm, -100.0, 60.0)?;
    finite(&key("antenna_gain_dbi"), c.antenna_gain_dbi, -60.0, 60.0)?;
    finite(&key("adc_bits"), f64::from(c.adc_bits), 4.0, 16.0)?;
    finite(&key("dc_dbfs"), c.dc_dbfs.unwrap_or(-50.0), -200.0, 0.0)?;
    finite(&key("imbalance.gain_db"), c.imbalance.gain_db, -6.0, 6.0)?;
    finite(&key("imbalance.phase_deg"), c.imbalance.phase_deg, -45.0, 45.0)?;
    // Under about half a step of noise a converter no longer adds noise, it distorts.
    let rail = (c.dbfs(c.noise(c.sample_rate_hz)).power() / 2.0).sqrt();
    if rail < 0.4 * 2f64.powi(1 - c.adc_bits as i32) {
        let text = "the noise is under half a step of the converter: give more gain or more bits";
        return Err(SceneError::new(key("gain_db"), text));
    }
    for (j, l) in c.lines.iter().enumerate() {
        finite(&key(&format!("lines[{j}].level_dbfs")), l.level_dbfs, -200.0, 0.0)?;
        if l.hz.is_some() == l.offset_hz.is_some() {
            let text = "give hz (fixed in RF) or offset_hz (fixed to the centre)";
            return Err(SceneError::new(key(&format!("lines[{j}]")), text));
        }
    }
    Ok(())
}

fn sound_of(signal: &Signal) -> Option<&Sound> {
    match signal {
        Signal::Am { sound, .. } | Signal::Fm { sound, .. } | Signal::VideoFm { sound, .. } => {
            Some(sound)
        }
        _ => None,
    }
}

fn item(list: &str, index: usize, name: &str, field: &str) -> String {
    format!("{list}[{index}] '{name}'.{field}")
}

/// A finite number within its limits.
pub(crate) fn finite(key: &str, value: f64, low: f64, high: f64) -> Checked {
    if value.is_finite() && (low..=high).contains(&value) {
        return Ok(());
    }
    let (value, low, high) = (told(value), told(low), told(high));
    Err(SceneError::new(key, format!("{value} cannot be: give a number from {low} to {high}")))
}

/// A number for a message, short also where it is absurd.
fn told(x: f64) -> String {
    let plain = x == 0.0 || (1e-4..1e9).contains(&x.abs());
    if plain { x.to_string() } else { format!("{x:e}") }
}

/// A name that nothing bears, and those that there are.
fn unnamed<'a>(
    key: &str,
    what: &str,
    name: &str,
    known: impl Iterator<Item = &'a String>,
) -> SceneError {
    let known: Vec<String> = known.map(|name| format!("'{name}'")).collect();
    let there = match known.as_slice() {
        [] => format!("the scene has none: describe the {what}"),
        known => format!("give one of {}", known.join(", ")),
    };
    SceneError::new(key, format!("no {what} is named '{name}': {there}"))
}

fn over(key: &str, value: f64, least: f64) -> Checked {
    finite(key, value, least, 1e12)
}

fn in_order(key: &str, from: units::Utc, until: units::Utc) -> Checked {
    if from < until {
        return Ok(());
    }
    Err(SceneError::new(key, format!("{from} is not before {until}: correct one of them")))
}

fn material(key: &str, name: &str) -> Checked {
    propagate::wall_loss_db(name, 1e9).map(drop).map_err(|e| SceneError::new(key, e.to_string()))
}

fn unique<'a>(key: &str, names: impl Iterator<Item = &'a String>) -> Checked {
    let mut seen = std::collections::BTreeSet::new();
    for name in names {
        if !seen.insert(name) {
            return Err(SceneError::new(
                key,
                format!("two are named '{name}': give each its own name"),
            ));
        }
    }
    Ok(())
}
