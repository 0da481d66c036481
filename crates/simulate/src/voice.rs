//! Speech-like sound: glottal pulses (Rosenberg 1971) through three formant resonators in cascade
//! (Klatt 1980), vowels of Peterson and Barney 1952 (table II, men; from memory), syllables and
//! pauses at the pace of talk (common practice, no source).
//!
//! The plan of syllables is drawn for every 8 s of scene time on its own, so that any moment can
//! be rendered without what came before: the same room sounds the same to every transmitter.

use crate::draw;
use rand::RngExt;

/// Samples per second of all sound.
pub const RATE_HZ: f64 = 16_000.0;
const BLOCK_S: f64 = 8.0;
/// First three formants, Hz.
const VOWELS: [[f64; 3]; 10] = [
    [270.0, 2290.0, 3010.0],
    [390.0, 1990.0, 2550.0],
    [530.0, 1840.0, 2480.0],
    [660.0, 1720.0, 2410.0],
    [730.0, 1090.0, 2440.0],
    [570.0, 840.0, 2410.0],
    [440.0, 1020.0, 2240.0],
    [300.0, 870.0, 2240.0],
    [640.0, 1190.0, 2390.0],
    [490.0, 1350.0, 1690.0],
];

#[derive(Debug, Clone, Copy)]
struct Syllable {
    start: i64,
    len: usize,
    pitch_hz: [f64; 2],
    vowel: [f64; 3],
    loudness: f32,
    hiss: bool,
    key: u64,
}

/// Somebody who talks, always or inside given spans of scene time.
#[derive(Debug, Clone)]
pub struct Speaker {
    key: u64,
    /// Spans in scene seconds, in order; `None`: always.
    spans: Option<Vec<(f64, f64)>>,
    block: Option<(i64, Vec<Syllable>)>,
    /// The syllable rendered last.
    last: Option<(i64, Vec<f32>)>,
}

impl Speaker {
    /// A speaker whose words follow from `key`.
    pub fn new(key: u64, spans: Option<Vec<(f64, f64)>>) -> Speaker {
        Speaker { key, spans, block: None, last: None }
    }
    /// Fills `out` with sound from sample `first` on (16 kHz, sample 0 at scene second 0).
    /// Peaks stay within ±1; the mean square while speaking is about 0.04.
    pub fn render(&mut self, first: i64, out: &mut [f32]) {
        out.fill(0.0);
        let end = first + out.len() as i64;
        let per_block = (BLOCK_S * RATE_HZ) as i64;
        for b in first.div_euclid(per_block)..=(end - 1).div_euclid(per_block) {
            if self.block.as_ref().is_none_or(|(k, _)| *k != b) {
                self.block = Some((b, self.plan(b)));
            }
            let syllables = self.block.as_ref().map(|(_, s)| s.clone()).unwrap_or_default();
            for s in syllables {
                let (s0, s1) = (s.start, s.start + s.len as i64);
                if s1 <= first || s0 >= end {
                    continue;
                }
                if self.last.as_ref().is_none_or(|(k, _)| *k != s0) {
                    self.last = Some((s0, sound_of(&s)));
                }
                let Some((_, sound)) = &self.last else { continue };
                let (a, z) = (s0.max(first), s1.min(end));
                out[(a - first) as usize..(z - first) as usize]
                    .copy_from_slice(&sound[(a - s0) as usize..(z - s0) as usize]);
            }
        }
    }
    /// When there is sound between two moments: syllables, joined over gaps up to `join_s`.
    pub fn active(&self, from_s: f64, until_s: f64, join_s: f64) -> Vec<(f64, f64)> {
        let mut spans: Vec<(f64, f64)> = Vec::new();
        let blocks = |a: f64, z: f64| {
            (a / BLOCK_S).floor() as i64 - 1..=(z / BLOCK_S).floor() as i64 // one early, for joins
        };
        // Only where somebody may talk: a silent night costs nothing.
        let windows: Vec<(f64, f64)> = match &self.spans {
            None => vec![(from_s, until_s)],
            Some(s) => s
                .iter()
                .map(|(a, z)| (a.max(from_s - join_s), z.min(until_s)))
                .filter(|(a, z)| a < z)
                .collect(),
        };
        for (a, z) in windows {
            for s in blocks(a, z).flat_map(|b| self.plan(b)) {
                let (start, stop) = seconds(&s);
                if stop < from_s - join_s || start > until_s {
                    continue;
                }
                match spans.last_mut() {
                    Some(last) if start - last.1 <= join_s => last.1 = last.1.max(stop),
                    _ => spans.push((start, stop)),
                }
            }
        }
        spans.retain(|(a, z)| *z > from_s && *a < until_s);
        spans
    }
    /// The syllables of one block of 8 s.
    fn plan(&self, block: i64) -> Vec<Syllable> {
        let start_s = block as f64 * BLOCK_S;
        if let Some(spans) = &self.spans
            && !spans.iter().any(|(a, z)| *a < start_s + BLOCK_S && *z > start_s)
        {
            return Vec::new();
        }
        let mut rng = draw::rng(self.key, &[0x7a11, block as u64]);
        let mut voice = draw::rng(self.key, &[0x7a12]);
        let pitch = draw::between(&mut voice, 95.0, 210.0);
        let mut plan = Vec::new();
        let mut t = draw::between(&mut rng, 0.05, 0.6);
        'block: loop {
            let sentence_end = t + draw::between(&mut rng, 1.2, 3.5);
            let begin = t;
            while t < sentence_end {
                let len_s = draw::between(&mut rng, 0.11, 0.28);
                if t + len_s > BLOCK_S - 0.05 {
                    break 'block;
                }
                // Pitch falls over a sentence.
                let fall = 1.12 - 0.25 * (t - begin) / (sentence_end - begin);
                let bend = draw::between(&mut rng, 0.93, 1.07);
                plan.push(Syllable {
                    start: ((start_s + t) * RATE_HZ).round() as i64,
                    len: (len_s * RATE_HZ) as usize,
                    pitch_hz: [pitch * fall, pitch * fall * bend],
                    vowel: VOWELS[draw::choice(&mut rng, VOWELS.len())],
                    loudness: draw::between(&mut rng, 0.45, 1.0) as f32,
                    hiss: draw::between(&mut rng, 0.0, 1.0) < 0.4,
                    key: rng.random(),
                });
                t += len_s + draw::between(&mut rng, 0.005, 0.05);
            }
            t += draw::between(&mut rng, 0.25, 1.1);
        }
        if let Some(spans) = &self.spans {
            plan.retain(|s| {
                let (start, stop) = seconds(s);
                spans.iter().any(|(a, z)| *a <= start && stop <= *z)
            });
        }
        plan
    }
}

fn seconds(s: &Syllable) -> (f64, f64) {
    (s.start as f64 / RATE_HZ, (s.start + s.len as i64) as f64 / RATE_HZ)
}

/// A second-order resonator (Klatt 1980).
struct Resonator {
    a: f64,
    b: f64,
    c: f64,
    y: [f64; 2],
}

impl Resonator {
    fn new(hz: f64, width_hz: f64) -> Resonator {
        let r = (-std::f64::consts::PI * width_hz / RATE_HZ).exp();
        let c = -r * r;
        let b = 2.0 * r * (std::f64::consts::TAU * hz / RATE_HZ).cos();
        Resonator { a: 1.0 - b - c, b, c, y: [0.0; 2] }
    }
    fn push(&mut self, x: f64) -> f64 {
        let y = self.a * x + self.b * self.y[0] + self.c * self.y[1];
        self.y = [y, self.y[0]];
        y
    }
}

/// Flow through the glottis over one period (Rosenberg's polynomial pulse).
fn glottal_flow(phase: f64) -> f64 {
    const OPEN: f64 = 0.4;
    const CLOSE: f64 = 0.16;
    if phase < OPEN {
        let p = phase / OPEN;
        p * p * (3.0 - 2.0 * p)
    } else if phase < OPEN + CLOSE {
        1.0 - ((phase - OPEN) / CLOSE).powi(2)
    } else {
        0.0
    }
}

fn sound_of(s: &Syllable) -> Vec<f32> {
    let mut rng = draw::rng(s.key, &[]);
    let [f1, f2, f3] = s.vowel;
    let mut formants =
        [Resonator::new(f1, 60.0), Resonator::new(f2, 90.0), Resonator::new(f3, 150.0)];
    let hiss_len = if s.hiss { (0.07 * RATE_HZ) as usize } else { 0 };
    let (mut phase, mut before, mut noise_before) = (0.0f64, 0.0, 0.0);
    let n = s.len as f64;
    let mut out: Vec<f32> = (0..s.len)
        .map(|k| {
            let x = k as f64 / n;
            phase = (phase + (s.pitch_hz[0] * (1.0 - x) + s.pitch_hz[1] * x) / RATE_HZ).fract();
            let flow = glottal_flow(phase);
            let white = draw::between(&mut rng, -1.0, 1.0);
            let excitation = if k < hiss_len { 0.0 } else { (flow - before) * 8.0 + 0.01 * white };
            before = flow;
            // Breath: differentiated noise, strongest at high frequencies.
            let hiss = if k < hiss_len { 0.35 * (white - noise_before) } else { 0.0 };
            noise_before = white;
            let voiced = formants.iter_mut().fold(excitation, |x, f| f.push(x));
            let envelope = (x / 0.12).min(1.0).min((1.0 - x) / 0.3).max(0.0);
            ((voiced + hiss) * envelope) as f32
        })
        .collect();
    let peak = out.iter().fold(1e-6f32, |m, x| m.max(x.abs()));
    out.iter_mut().for_each(|x| *x *= s.loudness / peak);
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn any_part_sounds_the_same_however_it_is_asked_for() {
        let mut whole = vec![0f32; 40_000];
        Speaker::new(7, None).render(100_000, &mut whole);
        let mut parts = vec![0f32; 40_000];
        let mut s = Speaker::new(7, None);
        for (k, part) in parts.chunks_mut(333).enumerate() {
            s.render(100_000 + 333 * k as i64, part);
        }
        assert_eq!(whole, parts);
        assert!(whole.iter().any(|x| x.abs() > 0.3));
    }

    #[test]
    fn talk_keeps_to_its_spans_and_pauses_between_sentences() {
        let spans = vec![(100.0, 160.0)];
        let s = Speaker::new(3, Some(spans));
        let active = s.active(0.0, 1000.0, 0.2);
        assert!(active.len() > 5 && active[0].0 >= 100.0);
        assert!(active.iter().all(|(a, z)| a < z && *z <= 160.0));
        let spoken: f64 = active.iter().map(|(a, z)| z - a).sum();
        assert!((0.5..0.95).contains(&(spoken / 60.0)), "{spoken}");
        assert!(s.active(0.0, 90.0, 0.2).is_empty());
        let mut quiet = vec![1f32; 16_000];
        s.clone().render(50 * 16_000, &mut quiet);
        assert!(quiet.iter().all(|x| *x == 0.0));
    }

    #[test]
    fn the_spectrum_falls_like_speech() {
        // Most power under 1 kHz, syllables at 3 to 6 a second (common practice, no source).
        let mut x = vec![0f32; 160_000];
        Speaker::new(11, None).render(0, &mut x);
        let total: f64 = x.iter().map(|v| f64::from(v * v)).sum();
        let mut low = 0.0;
        let (mut y1, k) = (0.0, (-std::f64::consts::TAU * 1000.0 / RATE_HZ).exp());
        for v in &x {
            y1 = k * y1 + (1.0 - k) * f64::from(*v);
            low += y1 * y1;
        }
        assert!(low / total > 0.4, "{}", low / total);
        let rms = (total / x.len() as f64).sqrt();
        assert!((0.05..0.5).contains(&rms), "{rms}");
    }
}
