//! The account of a simulation: its [`Truth`].

use crate::simulation::{
    Received, Simulation, VisitPlan, occupied_rf, snr_width_hz, touching, window,
};
use crate::site;
use crate::truth::{Burst, EmitterTruth, Heard, Listened, Truth, VisitTruth};
use units::{Band, Db, db_from_ratio};

/// Bursts kept of one emitter and visit.
const BURSTS_KEPT: usize = 5000;

impl Simulation {
    /// Everything that is true of this simulation.
    pub fn truth(&self) -> Truth {
        let visits = (0..self.visits().len()).filter_map(|k| self.visit_truth(k)).collect();
        Truth {
            scene: self.scene.name.clone(),
            seed: self.seed,
            region: self.scene.region.clone(),
            emitters: (0..self.scene.emitters.len()).map(|k| self.emitter_truth(k)).collect(),
            visits,
        }
    }
    fn emitter_truth(&self, index: usize) -> EmitterTruth {
        let (e, p) = (&self.scene.emitters[index], &self.prepared[index]);
        let channels = e.signal.channels_hz();
        let bands: Vec<Band> = match channels.as_slice() {
            [] => vec![occupied_rf(e, p, 0.0)],
            several => several.iter().map(|c| occupied_rf(e, p, c - e.centre_hz)).collect(),
        };
        let low = bands.iter().map(|b| b.low_hz).fold(f64::INFINITY, f64::min);
        let high = bands.iter().map(|b| b.high_hz).fold(f64::NEG_INFINITY, f64::max);
        let at = site::point(&self.scene, &e.place);
        EmitterTruth {
            name: e.name.clone(),
            planted: e.planted,
            kind: e.signal.name().to_owned(),
            centre_hz: 0.5 * (low + high),
            bandwidth_hz: p.occupied.band.width_hz(),
            channels_hz: channels,
            zone: p.zone,
            room: p.room.clone(),
            position_m: p.zone.map(|_| [at.x_m, at.y_m, at.z_m]),
            eirp_dbm: e.eirp_dbm.map(|d| d + db_from_ratio(p.occupied.mean_power)),
        }
    }
    fn visit_truth(&self, index: usize) -> Option<VisitTruth> {
        let (plan, hearing) = (self.visits().get(index)?, self.hearing(index)?);
        let chain = hearing.chain;
        let emitters = hearing
            .received
            .iter()
            .enumerate()
            .filter_map(|(k, r)| {
                self.heard_truth(k, r, plan, chain.dbm(units::Dbfs(0.0)).0, |w| chain.noise_dbfs(w))
            })
            .collect();
        let mut listened: Vec<Listened> = Vec::new();
        for s in &plan.segments {
            let band = window(plan, s).band();
            let looked_s = s.samples as f64 / plan.sample_rate_hz;
            match listened.iter_mut().find(|l| l.band == band) {
                Some(l) => l.looked_s += looked_s,
                None => listened.push(Listened { band, looked_s }),
            }
        }
        let last = plan.segments.last();
        let end = last.map_or(0.0, |s| s.start_s + s.samples as f64 / plan.sample_rate_hz);
        Some(VisitTruth {
            name: plan.name.clone(),
            position: plan.position.clone(),
            zone: plan.zone,
            role: plan.role,
            start: plan.start,
            duration_s: end - plan.segments.first().map_or(end, |s| s.start_s),
            listened,
            noise_dbfs_per_hz: chain.noise_dbfs(1.0).0,
            dbm_from_dbfs_db: chain.dbm(units::Dbfs(0.0)).0,
            emitters,
        })
    }
    fn heard_truth(
        &self,
        index: usize,
        r: &Received<'_>,
        plan: &VisitPlan,
        dbm_from_dbfs: f64,
        noise: impl Fn(f64) -> units::Dbfs,
    ) -> Option<Heard> {
        let first_s = plan.segments.first()?.start_s;
        let (mut bursts, mut count, mut looked_s) = (Vec::new(), 0u64, 0.0);
        let mut spans: Vec<(f64, f64)> = Vec::new();
        let mut share: f64 = 0.0;
        let channels = r.emitter.signal.channels_hz();
        let offsets: Vec<f64> = match channels.as_slice() {
            [] => vec![0.0],
            several => several.iter().map(|c| c - r.emitter.centre_hz).collect(),
        };
        for segment in &plan.segments {
            let w = window(plan, segment);
            let inside = |offset: f64| {
                let band = occupied_rf(r.emitter, r.prepared, offset);
                let shared = band.overlap(&w.band()).map_or(-1.0, |o| o.width_hz());
                if band.width_hz() > 0.0 { shared / band.width_hz() } else { 1.0 + shared }
            };
            // Tuned to it: at least a twentieth of it lies in the band.
            let best = offsets.iter().map(|o| inside(*o)).fold(-1.0, f64::max);
            if best < 0.05 {
                continue;
            }
            share = share.max(best.min(1.0));
            let span = w.span_s();
            looked_s += span.1 - span.0;
            for (k, on) in touching(&r.on, span) {
                let signal = &r.emitter.signal;
                for t in signal.transmissions(*on, k as u64, span, r.prepared.key) {
                    let (a, z) = (t.start_s.max(span.0), t.stop_s.min(span.1));
                    if a >= z || inside(t.offset_hz) < 0.05 {
                        continue;
                    }
                    spans.push((a, z));
                    count += 1;
                    if bursts.len() < BURSTS_KEPT {
                        bursts.push(Burst {
                            start_s: a - first_s,
                            stop_s: z - first_s,
                            centre_hz: r.emitter.centre_hz + t.offset_hz,
                            cut: a > t.start_s || z < t.stop_s,
                        });
                    }
                }
            }
        }
        if looked_s == 0.0 {
            return None;
        }
        let faded = r.fading.map_or(1.0, |f| f.mean_power(&spans));
        let level = r.level + Db::from_ratio(faded);
        Some(Heard {
            emitter: index,
            name: r.emitter.name.clone(),
            level_dbm: level.0 + dbm_from_dbfs,
            level_dbfs: level.0,
            snr_db: (level - noise(snr_width_hz(&r.prepared.occupied))).0,
            share_in_band: share,
            looked_s,
            on_s: spans.iter().map(|(a, z)| z - a).sum(),
            burst_count: count,
            bursts,
        })
    }
}
