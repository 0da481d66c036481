//! What joining compares of a row: one look at an emission by one capture.

use crate::atom::Atom;
use crate::contract::{CaptureKind, Role};
use crate::input::Input;
use detect::{BandwidthIs, Shape};
use units::Band;

/// One row of a capture, all its places together; or one reading.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Look {
    /// Its atoms, indices in canonical order.
    pub(crate) atoms: Vec<usize>,
    /// Index of its capture; `None` for a reading.
    pub(crate) capture: Option<usize>,
    /// What was recorded.
    pub(crate) kind: CaptureKind,
    /// Why.
    pub(crate) role: Role,
    /// Name of the chain.
    pub(crate) chain: String,
    /// Whether it knows no more of frequency than a band's name.
    pub(crate) coarse: bool,
    /// Lower and upper edge.
    pub(crate) band: Band,
    /// Centre.
    pub(crate) centre_hz: f64,
    /// Standard uncertainty of the centre, reference left out.
    pub(crate) u_centre_hz: f64,
    /// Standard uncertainty of the reference.
    pub(crate) u_reference_ppm: f64,
    /// Width of the row, 0 if bare.
    pub(crate) width_hz: f64,
    /// Occupied bandwidth; of one hop for a hopper.
    pub(crate) bandwidth_hz: Option<f64>,
    /// Measured, or a bound.
    pub(crate) bandwidth_is: BandwidthIs,
    /// Standard uncertainty of the logarithm of the bandwidth.
    pub(crate) u_ln_width: f64,
    /// Occupied bandwidth of one hop, 0 if unknown.
    pub(crate) width_of_hop_hz: f64,
    /// Whether the edge of what was listened to cuts it off below.
    pub(crate) cut_low: bool,
    /// And above.
    pub(crate) cut_high: bool,
    /// Behaviour.
    pub(crate) shape: Shape,
    /// Channels of a hopper.
    pub(crate) channels_hz: Vec<f64>,
    /// Number of bursts.
    pub(crate) bursts: u64,
    /// Median length of a burst.
    pub(crate) median_s: Option<f64>,
    /// Period of the starts, with its standard uncertainty.
    pub(crate) period_s: Option<(f64, f64)>,
    /// On-time over time looked.
    pub(crate) on_fraction: f64,
    /// Seconds in which its capture looked there.
    pub(crate) looked_s: f64,
    /// Identity.
    pub(crate) identity: Option<String>,
}

/// The looks that a list of atoms makes up: atoms of one row lie side by side.
pub(crate) fn looks(input: &Input, atoms: &[Atom]) -> Vec<Look> {
    let mut looks: Vec<Look> = Vec::new();
    for (i, atom) in atoms.iter().enumerate() {
        match looks.last_mut() {
            Some(look) if atoms[look.atoms[0]].of == atom.of => look.atoms.push(i),
            _ => looks.push(look_of(input, atom, i)),
        }
    }
    looks
}

fn look_of(input: &Input, atom: &Atom, index: usize) -> Look {
    let mut look = Look {
        atoms: vec![index],
        capture: None,
        kind: CaptureKind::Readings,
        role: atom.role(input),
        chain: atom.chain(input).name.clone(),
        coarse: atom.coarse,
        band: atom.band,
        centre_hz: atom.centre_hz,
        u_centre_hz: atom.u_centre_hz,
        u_reference_ppm: atom.u_reference_ppm,
        width_hz: atom.band.width_hz(),
        bandwidth_hz: None,
        bandwidth_is: BandwidthIs::UpperBound,
        u_ln_width: 0.0,
        width_of_hop_hz: 0.0,
        cut_low: false,
        cut_high: false,
        shape: Shape::Bursts,
        channels_hz: Vec::new(),
        bursts: 1,
        median_s: None,
        period_s: None,
        on_fraction: 0.0,
        looked_s: 0.0,
        identity: atom.identity.clone(),
    };
    let (Some(row), crate::atom::Of::Row { capture, .. }) = (atom.row(input), atom.of) else {
        return look;
    };
    let (capture, index) = (&input.captures[capture], capture);
    let emission = &row.emission;
    look.capture = Some(index);
    look.kind = capture.kind;
    look.bandwidth_hz = emission.bandwidth_hz.filter(|hz| *hz > 0.0);
    look.bandwidth_is = emission.bandwidth_is;
    look.u_ln_width = match (emission.u.bandwidth_hz, look.bandwidth_hz) {
        (Some(u), Some(hz)) => (u / hz).min(2.0),
        _ => 0.0,
    };
    look.shape = emission.shape;
    look.channels_hz = emission.channels_hz.clone().unwrap_or_default();
    look.width_of_hop_hz = look.bandwidth_hz.unwrap_or(0.0);
    look.bursts = emission.bursts.count;
    look.median_s = emission.bursts.median_s;
    look.on_fraction = emission.bursts.on_fraction;
    // A period without an uncertainty is taken as good to 2 % (common practice, no source).
    look.period_s = emission.bursts.period_s.filter(|t| *t > 0.0).map(|t| {
        let u = emission.u.period_s.filter(|u| u.is_finite() && *u > 0.0).unwrap_or(0.02 * t);
        (t, u.max(1e-4 * t))
    });
    let near = Band::around(atom.centre_hz, 0.0);
    look.looked_s = capture
        .listened
        .iter()
        .filter(|l| l.low_hz <= near.low_hz && near.high_hz <= l.high_hz)
        .map(|l| l.looked_s)
        .sum();
    if look.looked_s <= 0.0 {
        let span = capture.start.zip(capture.stop).map(|(from, to)| to.seconds_since(from));
        look.looked_s = span.unwrap_or(row.last_s - row.first_s).max(row.last_s - row.first_s);
    }
    if !look.coarse && !look.channels_hz.is_empty() {
        return look;
    }
    if let Some(heard) = continuous_band(capture, atom.centre_hz) {
        // Closer to the edge than a fiftieth of its width: cut off, as far as anyone can tell.
        let near_hz = 0.02 * look.width_hz;
        look.cut_low = !look.coarse && look.band.low_hz - heard.low_hz <= near_hz;
        look.cut_high = !look.coarse && heard.high_hz - look.band.high_hz <= near_hz;
    }
    look
}

/// What a capture listened to without a gap about a frequency.
fn continuous_band(capture: &crate::Capture, hz: f64) -> Option<Band> {
    let mut bands: Vec<Band> =
        capture.listened.iter().map(|l| Band::new(l.low_hz, l.high_hz)).collect();
    bands.sort_by(|a, b| a.low_hz.total_cmp(&b.low_hz));
    let mut whole: Option<Band> = None;
    for band in bands {
        match whole {
            Some(last) if band.low_hz <= last.high_hz + 1.0 => {
                whole = Some(Band::new(last.low_hz, last.high_hz.max(band.high_hz)));
            }
            Some(last) if last.contains(hz) => break,
            _ => whole = Some(band),
        }
    }
    whole.filter(|w| w.contains(hz))
}
