//! One emitter as one receiver hears it during one segment: its transmissions made at their own
//! rates, brought to the receiver's rate and place in the band, scaled, faded, added up.

use crate::audio::Stage;
use crate::draw;
use crate::resample::{Bank, Resampler, Rotator};
use crate::scene::Fading;
use crate::signals::{Order, Signal, Transmission, Wave};
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};
use units::{Band, Iq};

/// Filter banks made so far; which thread made one does not change it.
#[derive(Debug, Default)]
pub struct Banks(Mutex<BTreeMap<[u64; 4], Arc<Bank>>>);

impl Banks {
    fn get(&self, rate_in: f64, rate_out: f64, used: f64, stop: f64) -> Arc<Bank> {
        let used = used_share(used);
        let key = [rate_in, rate_out, used, stop].map(f64::to_bits);
        if let Some(bank) = self.0.lock().unwrap_or_else(PoisonError::into_inner).get(&key) {
            return bank.clone();
        }
        // Made outside the lock: another thread may make the same one, to the same bits.
        let bank = Arc::new(Bank::ending(rate_in, rate_out, used, stop));
        self.0.lock().unwrap_or_else(PoisonError::into_inner).entry(key).or_insert(bank).clone()
    }
}

/// A used share rounded up to a sixteenth: that keeps the number of banks small.
fn used_share(used: f64) -> f64 {
    ((used * 16.0).ceil() / 16.0).clamp(1.0 / 16.0, 0.4375)
}

/// Where a filter must have ended, as a share of its input's rate, for what is then rotated by
/// `offset_hz` to stay inside of the band; `None` where that leaves too little for a transition.
fn stop_share(rate: f64, window: &Window, offset_hz: f64, reach: f64) -> Option<f64> {
    let room = 0.5 * window.rate_hz - offset_hz.abs();
    let used = used_share(reach / rate);
    // Past this the bank's own stop band begins.
    let images = (window.rate_hz / rate).min(1.0) - used;
    let stop = (room / rate * 16.0).floor() / 16.0;
    if room >= reach && stop >= images {
        return Some(f64::INFINITY);
    }
    (stop > used).then_some(stop)
}

/// A segment as the renderer needs it.
#[derive(Debug, Clone, Copy)]
pub struct Window {
    /// Scene second of sample 0.
    pub start_s: f64,
    /// Samples per second.
    pub rate_hz: f64,
    /// Tuned frequency.
    pub centre_hz: f64,
    /// Length.
    pub samples: u64,
}

impl Window {
    /// Scene seconds, first and one past the last sample.
    pub fn span_s(&self) -> (f64, f64) {
        (self.start_s, self.start_s + self.samples as f64 / self.rate_hz)
    }
    /// The band that its samples show.
    pub fn band(&self) -> Band {
        Band::around(self.centre_hz, self.rate_hz)
    }
}

/// What is to be rendered.
#[derive(Debug, Clone)]
pub struct Heard<'a> {
    /// Signal.
    pub signal: &'a Signal,
    /// Key of the emitter.
    pub key: u64,
    /// Centre of the emitter, RF.
    pub centre_hz: f64,
    /// Amplitude at the converter of a wave of mean power 1.
    pub amplitude: f64,
    /// Fading of this emitter at this visit.
    pub fading: Option<FadingTrack>,
    /// Transmissions that touch the segment, in order of start.
    pub transmissions: Vec<Transmission>,
}

/// A wave with its start and end: silent after the end, edges shaped by a raised cosine.
struct Shaped {
    wave: Box<dyn Wave>,
    at: u64,
    end: u64,
    ramp: u64,
    rises: bool,
}

impl Shaped {
    fn fill(&mut self, out: &mut [Iq]) {
        let live = (self.end.saturating_sub(self.at)).min(out.len() as u64) as usize;
        let (on, off) = out.split_at_mut(live);
        self.wave.fill(on);
        off.fill(Iq::default());
        let shape = |k: u64| 0.5 - 0.5 * (std::f32::consts::PI * k as f32 / self.ramp as f32).cos();
        if self.rises && self.at < self.ramp {
            let n = (self.ramp - self.at).min(live as u64) as usize;
            on[..n].iter_mut().zip(self.at..).for_each(|(z, k)| *z *= shape(k));
        }
        let falls = self.end.saturating_sub(self.ramp);
        if self.at + live as u64 > falls {
            let first = falls.max(self.at);
            let tail = &mut on[(first - self.at) as usize..];
            tail.iter_mut().zip(first..).for_each(|(z, k)| *z *= shape(self.end - k));
        }
        self.at += live as u64;
    }
}

/// A stage that changes rate, after an optional rotation at its input rate.
struct Stage1 {
    bank: Arc<Bank>,
    resampler: Resampler,
}

/// One transmission on its way to the receiver's samples.
struct Stream {
    first_out: u64,
    end_out: u64,
    source: Shaped,
    /// Brings the wave up before it is rotated, where its own rate is too low for that.
    up: Option<Stage1>,
    /// Rotation before the last rate change (what falls out of the band is then removed).
    early: Option<Rotator>,
    last: Stage1,
    /// Rotation at the receiver's rate.
    late: Option<Rotator>,
}

impl Stream {
    fn open(
        heard: &Heard<'_>,
        tx: Transmission,
        window: &Window,
        stage: &Stage,
        banks: &Banks,
    ) -> Option<Stream> {
        let half = window.rate_hz / 2.0;
        let offset = heard.centre_hz + tx.offset_hz - window.centre_hz;
        let listened = Band { low_hz: -half - offset, high_hz: half - offset };
        // Filters need a little of what came before the first sample.
        const LEAD_S: f64 = 2e-3;
        let from_s = tx.start_s.max(window.start_s - LEAD_S);
        let order = Order { transmission: tx, from_s, emitter: heard.key, heard: listened, stage };
        let opened = heard.signal.open(&order);
        let (rate, offset) = (opened.rate_hz, offset + opened.offset_hz);
        let reach = opened.reach_hz;
        if offset.abs() - reach > half {
            return None;
        }
        let turns = draw::between(&mut draw::rng(heard.key, &[0xfa5e, tx.id]), 0.0, 1.0);
        let stop = stop_share(rate, window, offset, reach);
        let mut up = None;
        let (mut early, mut late) = (None, None);
        let mut step_rate = rate;
        let start_in = |first_out: u64, rate: f64| {
            (window.start_s + first_out as f64 / window.rate_hz - from_s) * rate
        };
        let last_bank = if let Some(stop) = stop {
            banks.get(rate, window.rate_hz, reach / rate, stop)
        } else {
            let need = 2.0 * (offset.abs() + reach) * 1.05;
            if rate < need {
                let bank = banks.get(rate, need, reach / rate, f64::INFINITY);
                step_rate = need;
                up = Some(bank);
            }
            banks.get(step_rate, window.rate_hz, 0.4375, f64::INFINITY)
        };
        let tail_out = (last_bank.taps() as f64 / last_bank.step()).ceil() + 2.0;
        let tail_out = tail_out
            + up.as_ref().map_or(0.0, |b| (b.taps() as f64 / rate * window.rate_hz).ceil());
        let out_of = |s: f64| (s - window.start_s) * window.rate_hz;
        let first_out = (out_of(from_s) - tail_out).floor().max(0.0) as u64;
        let end_out = ((out_of(tx.stop_s) + tail_out).ceil().max(0.0) as u64).min(window.samples);
        if first_out >= end_out {
            return None;
        }
        if stop.is_some() {
            late = Some(Rotator::new(offset, window.rate_hz, turns));
        } else {
            early = Some(Rotator::new(offset, step_rate, turns));
        }
        let first = start_in(first_out, step_rate);
        let last = Stage1 { resampler: Resampler::new(&last_bank, first), bank: last_bank };
        let up = up.map(|bank| {
            // The step stage starts reading at its input sample 0 = from_s (silence before).
            Stage1 { resampler: Resampler::new(&bank, 0.0), bank }
        });
        let length = (tx.stop_s - from_s) * rate;
        let source = Shaped {
            wave: opened.wave,
            at: 0,
            end: length.round().max(1.0) as u64,
            ramp: (heard.signal.ramp_s() * rate).round().min(length / 2.0) as u64,
            rises: from_s == tx.start_s,
        };
        Some(Stream { first_out, end_out, source, up, early, last, late })
    }
    /// Adds samples `first` to `first + out.len()` of the segment.
    fn add(&mut self, first: u64, out: &mut [Iq], scratch: &mut Vec<Iq>) {
        let a = self.first_out.max(first);
        let z = self.end_out.min(first + out.len() as u64);
        if a >= z {
            return;
        }
        scratch.clear();
        scratch.resize((z - a) as usize, Iq::default());
        let (source, up, early) = (&mut self.source, &mut self.up, &mut self.early);
        self.last.resampler.add(&self.last.bank, scratch, &mut |fresh| {
            match up {
                None => source.fill(fresh),
                Some(up) => {
                    fresh.fill(Iq::default());
                    up.resampler.add(&up.bank, fresh, &mut |b| source.fill(b));
                }
            }
            if let Some(early) = early {
                early.rotate(fresh);
            }
        });
        if let Some(late) = &mut self.late {
            late.rotate(scratch);
        }
        let out = &mut out[(a - first) as usize..(z - first) as usize];
        out.iter_mut().zip(scratch.iter()).for_each(|(o, s)| *o += s);
    }
}

/// Renders one emitter through one segment, block after block.
pub struct Renderer<'a> {
    heard: Heard<'a>,
    window: Window,
    stage: &'a Stage,
    banks: &'a Banks,
    next: usize,
    streams: Vec<Stream>,
    scratch: Vec<Iq>,
    made: u64,
}

impl<'a> Renderer<'a> {
    /// At the start of a segment.
    pub fn new(heard: Heard<'a>, window: Window, stage: &'a Stage, banks: &'a Banks) -> Self {
        let (streams, scratch) = (Vec::new(), Vec::new());
        Renderer { heard, window, stage, banks, next: 0, streams, scratch, made: 0 }
    }
    /// Writes the next samples (replaces what `out` held).
    pub fn fill(&mut self, out: &mut [Iq]) {
        out.fill(Iq::default());
        let end = self.made + out.len() as u64;
        // Streams start a little early: their filters ring before their first sample.
        let soon_s = self.window.start_s + (end + 4096) as f64 / self.window.rate_hz + 2e-3;
        while let Some(tx) = self.heard.transmissions.get(self.next) {
            if tx.start_s > soon_s {
                break;
            }
            let stream = Stream::open(&self.heard, *tx, &self.window, self.stage, self.banks);
            self.streams.extend(stream);
            self.next += 1;
        }
        for stream in &mut self.streams {
            stream.add(self.made, out, &mut self.scratch);
        }
        self.streams.retain(|s| s.end_out > end);
        self.scale(out);
        self.made = end;
    }
    fn scale(&self, out: &mut [Iq]) {
        let amplitude = self.heard.amplitude as f32;
        let Some(fading) = &self.heard.fading else {
            out.iter_mut().for_each(|z| *z *= amplitude);
            return;
        };
        let at = |n: u64| self.window.start_s + n as f64 / self.window.rate_hz;
        for (k, part) in out.chunks_mut(64).enumerate() {
            let n = self.made + 64 * k as u64;
            let a = fading.gain(at(n)) * amplitude;
            let slope = (fading.gain(at(n + 64)) * amplitude - a) / 64.0;
            part.iter_mut().enumerate().for_each(|(i, z)| *z *= a + slope * i as f32);
        }
    }
}

/// Block fading of one path: a complex gain at any moment, mean power 1.
#[derive(Debug, Clone, Copy)]
pub struct FadingTrack {
    key: u64,
    coherence_s: f64,
    steady: f64,
    scattered: f64,
}

impl FadingTrack {
    /// The track that `key` names.
    pub fn new(fading: &Fading, key: u64) -> FadingTrack {
        let (steady, scattered) = match fading.k_db {
            Some(k_db) => {
                let k = units::ratio_from_db(k_db);
                ((k / (k + 1.0)).sqrt(), (1.0 / (k + 1.0)).sqrt())
            }
            None => (0.0, 1.0),
        };
        FadingTrack { key, coherence_s: fading.coherence_s, steady, scattered }
    }
    /// Gain at a scene second.
    pub fn gain(&self, t_s: f64) -> Iq {
        let block = (t_s / self.coherence_s).floor();
        let x = t_s / self.coherence_s - block;
        let draw_at = |k: i64| {
            let mut rng = draw::rng(self.key, &[0xfade, k as u64]);
            (draw::normal(&mut rng), draw::normal(&mut rng))
        };
        let (a, b) = (draw_at(block as i64), draw_at(block as i64 + 1));
        // Two independent draws mixed in these shares keep mean power 1 at every moment.
        let norm = self.scattered / (2.0 * (x * x + (1.0 - x) * (1.0 - x))).sqrt();
        let mix = |a: f64, b: f64| norm * ((1.0 - x) * a + x * b);
        let turns = draw::between(&mut draw::rng(self.key, &[0xfadf]), 0.0, 1.0);
        let (s, c) = (std::f64::consts::TAU * turns).sin_cos();
        Iq::new((self.steady * c + mix(a.0, b.0)) as f32, (self.steady * s + mix(a.1, b.1)) as f32)
    }
    /// Mean power over spans, in scene seconds; 1 if there are none.
    pub fn mean_power(&self, spans: &[(f64, f64)]) -> f64 {
        let (mut sum, mut weight) = (0.0, 0.0);
        for (a, z) in spans {
            let n = ((8.0 * (z - a) / self.coherence_s).ceil() as usize).clamp(1, 4096);
            let step = (z - a) / n as f64;
            for k in 0..n {
                sum += step * f64::from(self.gain(a + (k as f64 + 0.5) * step).norm_sqr());
            }
            weight += z - a;
        }
        if weight > 0.0 { sum / weight } else { 1.0 }
    }
}
