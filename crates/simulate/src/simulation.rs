//! A scene made ready: what each visit records, sample by sample, and what is true of it.

use crate::audio::{GivenSound, Stage};
use crate::check::SceneError;
use crate::draw;
use crate::occupied::{Occupied, occupied};
use crate::receiver::{FrontEnd, add_noise};
use crate::render::{Banks, FadingTrack, Heard, Renderer, Window};
use crate::scene::{Chain, Emitter, NamedPlace, Role, Scene, Visit};
use crate::schedule::{on_times, within};
use crate::signals::{Signal, Sound, Transmission};
use crate::site;
use rayon::prelude::*;
use std::collections::BTreeMap;
use units::{Band, Db, Dbfs, Dbm, Iq, Utc, Zone};

/// A scene with its seed, checked and prepared.
pub struct Simulation {
    pub(crate) scene: Scene,
    pub(crate) seed: u64,
    pub(crate) stage: Stage,
    pub(crate) prepared: Vec<Prepared>,
    plans: Vec<VisitPlan>,
    banks: Banks,
}

/// What does not change from visit to visit of one emitter.
pub(crate) struct Prepared {
    pub key: u64,
    pub occupied: Occupied,
    pub zone: Option<Zone>,
    pub room: Option<String>,
    /// `during`, in scene seconds; `None`: always.
    pub during: Option<Vec<(f64, f64)>>,
}

/// What one visit records.
#[derive(Debug, Clone, PartialEq)]
pub struct VisitPlan {
    /// Its name.
    pub name: String,
    /// Its chain's name.
    pub chain: String,
    /// Position.
    pub position: String,
    /// Zone of the position.
    pub zone: Zone,
    /// Room of the position.
    pub room: Option<String>,
    /// Why.
    pub role: Role,
    /// Condition.
    pub condition: Option<String>,
    /// First sample.
    pub start: Utc,
    /// Samples per second.
    pub sample_rate_hz: f64,
    /// Bits per rail; samples are whole steps of 2^(1 − bits).
    pub adc_bits: u32,
    /// Segments in order.
    pub segments: Vec<SegmentPlan>,
}

/// One segment of a visit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SegmentPlan {
    /// First sample.
    pub start: Utc,
    /// First sample, scene seconds.
    pub start_s: f64,
    /// Tuned frequency.
    pub centre_hz: f64,
    /// Number of samples.
    pub samples: u64,
}

/// What [`Simulation::synthesise`] hands out, in order.
#[derive(Debug, Clone, Copy)]
pub enum Piece<'a> {
    /// A segment begins.
    Segment(&'a SegmentPlan),
    /// Its next samples.
    Samples(&'a [Iq]),
}

/// Samples made at a time; a multiple of the noise chunk.
const BLOCK: usize = 65_536;
/// Samples of short segments made side by side at most.
const BATCH: u64 = 1 << 20;

impl Simulation {
    /// Checks and prepares a scene.
    ///
    /// # Errors
    /// Whatever [`Scene::check`] finds.
    pub fn new(scene: &Scene, seed: u64) -> Result<Simulation, SceneError> {
        Simulation::with_sounds(scene, seed, BTreeMap::new())
    }
    /// The same, with the sounds that `given` names in the scene ask for.
    ///
    /// # Errors
    /// Whatever [`Scene::check`] finds, and a sound that is missing.
    pub fn with_sounds(
        scene: &Scene,
        seed: u64,
        given: BTreeMap<String, GivenSound>,
    ) -> Result<Simulation, SceneError> {
        scene.check()?;
        for name in scene.given_sounds() {
            if !given.contains_key(&name) {
                return Err(SceneError::new(
                    "emitters",
                    format!("needs the sound '{name}', which was not given"),
                ));
            }
        }
        let seconds = |t: Utc| t.seconds_since(scene.start);
        let mut talks: BTreeMap<String, Vec<(f64, f64)>> = BTreeMap::new();
        for talk in &scene.talks {
            let span = (seconds(talk.from), seconds(talk.until));
            talks.entry(talk.room.clone()).or_default().push(span);
        }
        talks.values_mut().for_each(|t| t.sort_by(|a, b| a.0.total_cmp(&b.0)));
        let stage = Stage::new(seed, talks, given);
        let prepared = scene.emitters.par_iter().map(|e| prepare(scene, seed, e, &stage)).collect();
        let plans = scene.visits.iter().map(|v| plan(scene, v)).collect();
        let scene = scene.clone();
        Ok(Simulation { scene, seed, stage, prepared, plans, banks: Banks::default() })
    }
    /// The scene.
    pub fn scene(&self) -> &Scene {
        &self.scene
    }
    /// What each visit records, in the scene's order.
    pub fn visits(&self) -> &[VisitPlan] {
        &self.plans
    }
    /// Zone of a position and the room that holds it; `None` if the scene has no such position.
    pub fn zone_of(&self, position: &str) -> Option<(Zone, Option<String>)> {
        let at = self.scene.positions.iter().find(|p| p.name == position)?;
        Some(site::zone(&self.scene, &at.place))
    }
    /// Makes the samples of one visit and hands them out in order. The same bits at any number
    /// of threads. A visit that does not exist has no samples.
    ///
    /// # Errors
    /// The first error of `sink`, which ends it.
    pub fn synthesise<E>(
        &self,
        visit: usize,
        sink: &mut dyn FnMut(Piece<'_>) -> Result<(), E>,
    ) -> Result<(), E> {
        let (Some(plan), Some(hearing)) = (self.plans.get(visit), self.hearing(visit)) else {
            return Ok(());
        };
        let mut rest = &plan.segments[..];
        while let Some(first) = rest.first() {
            // Short dwells side by side, a long one in blocks.
            let mut total = 0;
            let fitting = rest.iter().take_while(|s| {
                total += s.samples;
                total <= BATCH
            });
            let n = fitting.count().max(1);
            if n == 1 && first.samples > BATCH {
                self.segment(&hearing, visit, plan.segments.len() - rest.len(), sink)?;
            } else {
                let index = plan.segments.len() - rest.len();
                let made: Vec<Vec<Iq>> = (index..index + n)
                    .into_par_iter()
                    .map(|k| {
                        let mut samples = Vec::with_capacity(plan.segments[k].samples as usize);
                        let keep = &mut |piece: Piece<'_>| -> Result<(), std::convert::Infallible> {
                            if let Piece::Samples(x) = piece {
                                samples.extend_from_slice(x);
                            }
                            Ok(())
                        };
                        match self.segment(&hearing, visit, k, keep) {
                            Ok(()) => samples,
                        }
                    })
                    .collect();
                for (segment, samples) in rest.iter().zip(&made) {
                    sink(Piece::Segment(segment))?;
                    sink(Piece::Samples(samples))?;
                }
            }
            rest = &rest[n..];
        }
        Ok(())
    }
    fn segment<E>(
        &self,
        hearing: &Hearing<'_>,
        visit: usize,
        index: usize,
        sink: &mut dyn FnMut(Piece<'_>) -> Result<(), E>,
    ) -> Result<(), E> {
        let plan = &self.plans[visit];
        let segment = &plan.segments[index];
        let window = window(plan, segment);
        let key = draw::key(self.seed, &[0x5e6, draw::name(&plan.name), index as u64]);
        let mut front = FrontEnd::new(hearing.chain, &window, draw::key(hearing.key, &[0xf0]));
        let mut renderers: Vec<Renderer<'_>> = hearing
            .received
            .iter()
            .filter_map(|r| self.heard(r, &window))
            .map(|h| Renderer::new(h, window, &self.stage, &self.banks))
            .collect();
        let mut buffers = vec![Vec::new(); renderers.len()];
        sink(Piece::Segment(segment))?;
        let mut out = Vec::new();
        let mut first = 0;
        while first < segment.samples {
            let n = (segment.samples - first).min(BLOCK as u64) as usize;
            renderers.par_iter_mut().zip(&mut buffers).for_each(|(r, b)| {
                b.resize(n, Iq::default());
                r.fill(b);
            });
            out.clear();
            out.resize(n, Iq::default());
            add_noise(hearing.chain, key, first, &mut out);
            for b in &buffers {
                out.iter_mut().zip(b).for_each(|(o, x)| *o += x);
            }
            front.run(&mut out);
            sink(Piece::Samples(&out))?;
            first += n as u64;
        }
        Ok(())
    }
    /// One received emitter as the renderer takes it; `None` if it is out of band or silent.
    fn heard<'a>(&'a self, r: &Received<'a>, window: &Window) -> Option<Heard<'a>> {
        let span = window.span_s();
        let lead = (span.0 - 2e-3, span.1 + 2e-3);
        let reach = r.emitter.signal.reach_hz();
        let band = window.band();
        let near = |hz: f64| hz + reach > band.low_hz && hz - reach < band.high_hz;
        let mut transmissions: Vec<Transmission> = touching(&r.on, lead)
            .flat_map(|(k, on)| r.emitter.signal.transmissions(*on, k as u64, lead, r.prepared.key))
            .filter(|t| near(r.emitter.centre_hz + t.offset_hz))
            .collect();
        transmissions.sort_by(|a, b| a.start_s.total_cmp(&b.start_s));
        (!transmissions.is_empty()).then(|| Heard {
            signal: &r.emitter.signal,
            key: r.prepared.key,
            centre_hz: r.emitter.centre_hz,
            amplitude: (r.level.power() / r.prepared.occupied.mean_power).sqrt(),
            fading: r.fading,
            transmissions,
        })
    }
    /// What is common to all segments of a visit.
    pub(crate) fn hearing(&self, visit: usize) -> Option<Hearing<'_>> {
        let v = self.scene.visits.get(visit)?;
        let plan = self.plans.get(visit)?;
        let chain = self.scene.chains.iter().find(|c| c.name == v.chain)?;
        let place = self.scene.positions.iter().find(|p| p.name == v.position)?;
        let key = draw::key(self.seed, &[0xbe9, draw::name(&v.name)]);
        let window = visit_span(plan);
        let received =
            self.scene.emitters.iter().zip(&self.prepared).filter(|_| v.role != Role::NoAntenna);
        let received = received
            .map(|(emitter, prepared)| {
                let level = chain.dbfs(self.level(emitter, prepared, chain, place));
                let fading_key = draw::key(prepared.key, &[0xfad, draw::name(&v.name)]);
                let fading = self.scene.fading.map(|f| FadingTrack::new(&f, fading_key));
                let on = self.on(emitter, prepared, window);
                Received { emitter, prepared, level, fading, on }
            })
            .collect();
        Some(Hearing { chain, key, received })
    }
    /// On-times of an emitter in a stretch of the scene.
    pub(crate) fn on(&self, e: &Emitter, p: &Prepared, window: (f64, f64)) -> Vec<(f64, f64)> {
        // Whole on-times, so that a start before the window stays where it is.
        let spans = on_times(&e.schedule, window, p.key, &self.stage);
        match &p.during {
            None => spans,
            Some(during) => within(&spans, during)
                .into_iter()
                .filter(|(a, z)| *z > window.0 && *a < window.1)
                .collect(),
        }
    }
    /// Mean level while on at the antenna connector, before fading.
    fn level(&self, e: &Emitter, p: &Prepared, chain: &Chain, at: &NamedPlace) -> Dbm {
        if let Some(snr_db) = e.snr_db {
            let width = snr_width_hz(&p.occupied);
            return chain.dbm(chain.noise_dbfs(width) + Db(snr_db));
        }
        let radiated = Dbm(e.eirp_dbm.unwrap_or(f64::NEG_INFINITY)) + mean_gain(&p.occupied);
        let loss =
            site::path_loss(&self.scene, &e.place, &at.place, e.signal.middle_hz(e.centre_hz));
        let shadow = site::shadowing(&self.scene, self.seed, &e.name, &at.name);
        radiated + Db(chain.antenna_gain_dbi) - loss - shadow
    }
    /// Level of an emitter with an antenna of the given gain at a position, before fading, dBm;
    /// `None` where its place is unknown.
    pub(crate) fn level_at(&self, emitter: usize, gain_dbi: f64, position: &str) -> Option<Dbm> {
        let e = self.scene.emitters.get(emitter)?;
        let at = self.scene.positions.iter().find(|p| p.name == position)?;
        let radiated = Dbm(e.eirp_dbm?) + mean_gain(&self.prepared[emitter].occupied);
        let loss =
            site::path_loss(&self.scene, &e.place, &at.place, e.signal.middle_hz(e.centre_hz));
        let shadow = site::shadowing(&self.scene, self.seed, &e.name, &at.name);
        Some(radiated + Db(gain_dbi) - loss - shadow)
    }
}

/// All that one visit receives.
pub(crate) struct Hearing<'a> {
    pub chain: &'a Chain,
    key: u64,
    pub received: Vec<Received<'a>>,
}

/// One emitter at one visit.
pub(crate) struct Received<'a> {
    pub emitter: &'a Emitter,
    pub prepared: &'a Prepared,
    /// Mean level while on at the converter, before fading.
    pub level: Dbfs,
    pub fading: Option<FadingTrack>,
    /// On-times, scene seconds.
    pub on: Vec<(f64, f64)>,
}

/// Mean power while on over nominal power.
fn mean_gain(o: &Occupied) -> Db {
    Db::from_ratio(o.mean_power)
}

/// Bandwidth that an SNR is stated in: the 99 % bandwidth, for a carrier 1 kHz.
pub(crate) fn snr_width_hz(o: &Occupied) -> f64 {
    if o.band.width_hz() > 0.0 { o.band.width_hz() } else { 1000.0 }
}

/// On-times that touch a window, with their index.
pub(crate) fn touching(
    on: &[(f64, f64)],
    window: (f64, f64),
) -> impl Iterator<Item = (usize, &(f64, f64))> {
    let first = on.partition_point(|s| s.1 <= window.0);
    on.iter().enumerate().skip(first).take_while(move |(_, s)| s.0 < window.1)
}

/// The renderer's view of a segment.
pub(crate) fn window(plan: &VisitPlan, segment: &SegmentPlan) -> Window {
    Window {
        start_s: segment.start_s,
        rate_hz: plan.sample_rate_hz,
        centre_hz: segment.centre_hz,
        samples: segment.samples,
    }
}

/// Scene seconds of a visit, a little wider than its samples.
pub(crate) fn visit_span(plan: &VisitPlan) -> (f64, f64) {
    let (Some(first), Some(last)) = (plan.segments.first(), plan.segments.last()) else {
        return (0.0, 0.0);
    };
    (first.start_s - 0.01, last.start_s + last.samples as f64 / plan.sample_rate_hz + 0.01)
}

fn prepare(scene: &Scene, seed: u64, e: &Emitter, stage: &Stage) -> Prepared {
    let key = draw::key(seed, &[0xe3, draw::name(&e.name)]);
    // The width of a transmitter of a room's sound is its width while somebody speaks.
    let signal = spoken(&e.signal);
    let on = match &e.schedule {
        crate::scene::Schedule::Periodic { on_s, .. } => (0.0, *on_s),
        crate::scene::Schedule::Random { on_s, .. } => (0.0, on_s[1]),
        _ => (0.0, 20.0),
    };
    let occupied = occupied(&signal, key, stage, on);
    let placed = e.eirp_dbm.is_some();
    let (zone, room) = site::zone(scene, &e.place);
    let seconds = |t: Utc| t.seconds_since(scene.start);
    let mut during: Vec<_> = e.during.iter().map(|s| (seconds(s.from), seconds(s.until))).collect();
    during.sort_by(|a, b| a.0.total_cmp(&b.0));
    Prepared {
        key,
        occupied,
        zone: placed.then_some(zone),
        room: room.filter(|_| placed),
        during: (!during.is_empty()).then_some(during),
    }
}

fn spoken(signal: &Signal) -> Signal {
    let mut signal = signal.clone();
    if let Signal::Am { sound, .. } | Signal::Fm { sound, .. } | Signal::VideoFm { sound, .. } =
        &mut signal
        && matches!(sound, Sound::Room(_))
    {
        *sound = Sound::Programme;
    }
    signal
}

fn plan(scene: &Scene, visit: &Visit) -> VisitPlan {
    let chain = scene.chains.iter().find(|c| c.name == visit.chain);
    let place = scene.positions.iter().find(|p| p.name == visit.position);
    let (zone, room) = place.map_or((Zone::Outside, None), |p| site::zone(scene, &p.place));
    let segments = chain.map_or_else(Vec::new, |chain| segments(scene, visit, chain));
    VisitPlan {
        name: visit.name.clone(),
        chain: visit.chain.clone(),
        position: visit.position.clone(),
        zone,
        room,
        role: visit.role,
        condition: visit.condition.clone(),
        start: visit.start,
        sample_rate_hz: chain.map_or(1.0, |c| c.sample_rate_hz),
        adc_bits: chain.map_or(8, |c| c.adc_bits),
        segments,
    }
}

fn segments(scene: &Scene, visit: &Visit, chain: &Chain) -> Vec<SegmentPlan> {
    let start_s = visit.start.seconds_since(scene.start);
    let dwell_s = chain.dwell_s.unwrap_or(visit.duration_s);
    let samples = (dwell_s * chain.sample_rate_hz).round() as u64;
    let step_s = dwell_s + chain.settle_s;
    let pass_s = chain.pass_every_s.unwrap_or(0.0).max(step_s * chain.centres_hz.len() as f64);
    // One that does not step makes one pass, however long it is.
    let passes = match chain.dwell_s {
        Some(_) => (visit.duration_s / pass_s).ceil().max(1.0) as u64,
        None => 1,
    };
    let mut segments = Vec::new();
    for pass in 0..passes {
        for (k, centre_hz) in chain.centres_hz.iter().enumerate() {
            let at = pass as f64 * pass_s + k as f64 * step_s;
            segments.push(SegmentPlan {
                start: visit.start.plus_seconds(at),
                start_s: start_s + at,
                centre_hz: *centre_hz,
                samples,
            });
        }
    }
    segments
}

/// The band of an emitter's channel, RF.
pub(crate) fn occupied_rf(e: &Emitter, p: &Prepared, offset_hz: f64) -> Band {
    let at = e.centre_hz + offset_hz;
    Band { low_hz: at + p.occupied.band.low_hz, high_hz: at + p.occupied.band.high_hz }
}
