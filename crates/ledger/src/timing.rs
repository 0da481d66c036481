//! What the timing tells: reports at a steady period, or a carrier that never stops.

use crate::origin::rounded;
use crate::signs::{Look, Sign};
use detect::{BandwidthIs, Shape};
use units::Reason;

/// So many bursts make a period worth telling.
const REPORTS: u64 = 4;
/// Shorter periods are frames of a protocol, seconds.
const REPORTER_S: f64 = 5.0;

pub(crate) fn reporter(look: &Look<'_>) -> Option<Sign> {
    let bursts = &look.row.emission.bursts;
    let period_s = bursts.period_s.filter(|p| *p >= REPORTER_S && bursts.count >= REPORTS)?;
    let u_s = look.row.emission.u.period_s;
    let plus_minus = u_s.map_or(String::new(), |u| format!(" (u {} s)", significant(u)));
    let digits = usize::from(u_s.is_some_and(|u| u < 0.5));
    let text = format!("reports every {period_s:.digits$} s{plus_minus}, {} times", bursts.count);
    let mut reason = Reason::new("reports", text)
        .with("period_s", rounded(period_s, 1e3))
        .with("count", bursts.count as f64);
    if let Some(u) = u_s {
        reason = reason.with("u_period_s", rounded(u, 1e3));
    }
    Some(Sign { weight: 2.0, reason })
}

/// Two significant digits, at most three decimals.
pub(crate) fn significant(x: f64) -> String {
    match x {
        x if x >= 9.5 => format!("{x:.0}"),
        x if x >= 0.95 => format!("{x:.1}"),
        x if x >= 0.095 => format!("{x:.2}"),
        x => format!("{x:.3}"),
    }
}

/// Looked at for less, 'never stops' means nothing, seconds.
const NEVER_S: f64 = 1.0;

pub(crate) fn never_stops(look: &Look<'_>) -> Option<Sign> {
    let emission = &look.row.emission;
    let heard = look.row.receptions.iter().filter(|r| r.heard);
    let looked_s: f64 = heard.map(|r| r.looked_s).sum();
    let steady = matches!(emission.shape, Shape::Continuous | Shape::Sweeping)
        && emission.bursts.on_fraction >= 0.97;
    if !steady || looked_s < NEVER_S {
        return None;
    }
    let carrier = emission.modulation.as_ref().is_some_and(|m| m.label == "cw")
        || (emission.bandwidth_is == BandwidthIs::UpperBound && !look.coarse);
    let what = if carrier { "a carrier that never stops" } else { "never stops" };
    let text = format!("{what} ({} s looked at)", significant(looked_s));
    let reason = Reason::new("never_stops", text).with("looked_s", rounded(looked_s, 1e3));
    Some(Sign { weight: 0.6, reason })
}
