//! The ledger and an analysis as text that can be read at a glance, as wide as the output.

use crate::wrap::{columns, counted, wrapped};
use analyse::{BurstRow, RecordingAnalysis};
use capture::one_line;
use ledger::{BandwidthIs, Emission, Shape};
use ledger::{Ledger, LedgerRow, State};
pub use ledger::{frequency, place};
use std::fmt::Write as _;

/// A width with a unit that suits it, `12.5 kHz`; `<` for an upper bound.
pub fn width(emission: &Emission) -> String {
    let Some(hz) = emission.bandwidth_hz else { return "?".into() };
    let bound = if emission.bandwidth_is == BandwidthIs::UpperBound { "<" } else { "" };
    if hz >= 1e6 {
        format!("{bound}{:.2} MHz", hz / 1e6)
    } else if hz >= 1e3 {
        format!("{bound}{:.1} kHz", hz / 1e3)
    } else {
        format!("{bound}{hz:.0} Hz")
    }
}

/// A time length with a unit that suits it.
pub fn length(s: f64) -> String {
    if s >= 3600.0 {
        format!("{:.1} h", s / 3600.0)
    } else if s >= 120.0 {
        format!("{:.1} min", s / 60.0)
    } else if s >= 1.0 {
        format!("{s:.1} s")
    } else if s >= 1e-3 {
        format!("{:.1} ms", s * 1e3)
    } else {
        format!("{:.0} us", s * 1e6)
    }
}

/// What is known of it, in few words: technology, modulation, shape.
pub fn known(emission: &Emission) -> String {
    let named = emission.technology.as_ref().map(|t| t.label.as_str()).filter(|l| *l != "unknown");
    let shape = match emission.shape {
        // A single look, or looks at no one knows when, cannot tell that it never stops.
        Shape::Continuous if emission.bursts.median_s.is_none() => "no times".to_owned(),
        Shape::Continuous if emission.bursts.median_s == Some(0.0) => "seen once".to_owned(),
        Shape::Continuous => "steady".to_owned(),
        Shape::Bursts => match emission.bursts.period_s {
            Some(period) => format!("every {}", length(period)),
            None if emission.bursts.count == 1 => "1 burst".to_owned(),
            None => format!("{} bursts", emission.bursts.count),
        },
        Shape::Hopping => "hopping".to_owned(),
        Shape::Sweeping => "sweeping".to_owned(),
    };
    match named.or(emission.modulation.as_ref().map(|m| m.label.as_str())) {
        Some(name) => format!("{name}, {shape}"),
        None => shape,
    }
}

/// At most so many characters, the last an ellipsis where some are left out.
pub fn clipped(text: &str, columns: usize) -> String {
    if text.chars().count() <= columns {
        return text.to_owned();
    }
    let mut short: String = text.chars().take(columns.saturating_sub(1)).collect();
    short.push('…');
    short
}

fn state(row: &LedgerRow) -> &'static str {
    if !row.decision.changed_since.is_empty() {
        return "changed";
    }
    match row.decision.state {
        State::Open => "open",
        State::Accounted => "accounted",
        State::Suspect => "suspect",
        State::Located => "located",
        State::HandedOver => "handed over",
        State::Unresolved => "unresolved",
    }
}

/// The position where it was loudest, by name, with the level there.
fn loudest(ledger: &Ledger, row: &LedgerRow, wide: usize) -> String {
    let Some(reception) = ledger::loudest(&row.receptions) else { return "–".into() };
    let name = reception
        .position
        .as_ref()
        .and_then(|id| ledger.positions.iter().find(|p| &p.id == id))
        .map_or("no antenna", |p| p.name.as_str());
    let level = match (reception.level_dbm, reception.level_dbfs, reception.strength) {
        (Some(l), _, _) => format!(" {:.0} dBm", l.0),
        (_, Some(l), _) => format!(" {:.0} dBFS", l.0),
        (_, _, Some(s)) => format!(" {}/{}", s.value, s.of),
        _ => String::new(),
    };
    format!("{}{level}", clipped(name, wide.saturating_sub(level.len())))
}

/// Loudest room over best reference; `>` where no reference heard it, so that it is at least as far
/// over what would have been heard there.
fn excess(row: &LedgerRow) -> String {
    match row.origin.excess_db {
        None => "–".into(),
        Some(db) if row.origin.excess_at_least => format!(">{db:.0}dB"),
        Some(db) => format!("{db:+.0}dB"),
    }
}

/// The ledger's rows by attention, and the balance.
pub fn ledger(ledger: &Ledger, first: Option<usize>) -> String {
    let mut out = String::new();
    // What it is and where it is loudest share what the other columns leave.
    let left = columns().saturating_sub(61);
    let what = (left * 18 / 39).min(30);
    let place = (left - left * 18 / 39).min(40);
    if ledger.emissions.is_empty() {
        return format!("no emission yet\n\n{}", balance(ledger));
    }
    let _ = writeln!(
        out,
        "{:>3} {:<4} {:>13} {:>9}  {:<what$} {:<place$} {:>6} {:>4}  decision",
        "#", "id", "frequency", "width", "known", "loudest at", "excess", "in"
    );
    let shown = first.unwrap_or(usize::MAX);
    for row in ledger.emissions.iter().take(shown) {
        let excess = excess(row);
        let inside = row.origin.p_inside.map_or("–".into(), |p| format!("{:.0}%", p * 100.0));
        let _ = writeln!(
            out,
            "{:>3} {:<4} {:>13} {:>9}  {:<what$} {:<place$} {:>6} {:>4}  {}",
            row.attention.rank,
            row.id,
            clipped(&self::place(&row.emission, row.label.as_deref()), 13),
            width(&row.emission),
            clipped(&known(&row.emission), what),
            loudest(ledger, row, place),
            excess,
            inside,
            state(row),
        );
        if let Some(reason) = row.attention.reasons.first() {
            let _ =
                writeln!(out, "         {}", clipped(&reason.text, columns().saturating_sub(9)));
        }
    }
    if ledger.emissions.len() > shown {
        let _ = writeln!(out, "    … and {} more", ledger.emissions.len() - shown);
    }
    out.push('\n');
    out.push_str(&balance(ledger));
    out
}

/// The balance in a line.
pub fn balance(ledger: &Ledger) -> String {
    let b = &ledger.balance;
    wrapped(&format!(
        "{}: {} open, {} accounted, {} suspect, {} located, {} handed over, {} unresolved; \
         {} changed since decided.",
        counted(ledger.emissions.len() as u64, "emission", "emissions"),
        b.open,
        b.accounted,
        b.suspect,
        b.located,
        b.handed_over,
        b.unresolved,
        b.changed
    ))
}

/// One recording's emissions.
pub fn analysis(found: &RecordingAnalysis) -> String {
    let r = &found.recording;
    let mut out = format!("{}: {}", one_line(&r.path), r.format);
    if let Some(rate) = r.sample_rate_hz {
        let _ = write!(out, ", {} samples a second", frequency(rate).replace("Hz", "").trim_end());
    }
    if let Some(centre) = r.centre_hz {
        let _ = write!(out, " at {}", frequency(centre));
    }
    let _ = writeln!(out, ", {}", length(r.duration_s));
    if found.emissions.is_empty() {
        out.push_str("no emission found above the limit of what was listened to\n");
    } else {
        let _ = writeln!(
            out,
            "{:<5} {:>14} {:>10} {:>10} {:>6}  {:>8} {:>8}  known",
            "id", "frequency", "width", "level", "SNR", "first", "last"
        );
    }
    for row in &found.emissions {
        let e = &row.emission;
        let level = match (e.level_dbm, e.level_dbfs, row.strength) {
            (Some(l), _, _) => format!("{:.1} dBm", l.0),
            (_, Some(l), _) => format!("{:.1} dBFS", l.0),
            (_, _, Some(s)) => format!("{}/{}", s.value, s.of),
            _ => "–".into(),
        };
        let _ = writeln!(
            out,
            "{:<5} {:>14} {:>10} {:>10} {:>6}  {:>8} {:>8}  {}",
            row.id,
            clipped(&place(e, row.label.as_deref()), 14),
            width(e),
            level,
            e.snr_db.map_or("–".into(), |s| format!("{s:.0} dB")),
            length(row.first_s),
            length(row.last_s),
            clipped(&known(e), 30),
        );
    }
    out
}

/// A list of bursts, one a line.
pub fn burst(row: &BurstRow) -> String {
    format!(
        "  {:<5} {:>14} {:>10}  from {:.6} s to {:.6} s\n",
        row.emission,
        frequency(row.centre_hz),
        row.snr_db.map_or("–".into(), |s| format!("{s:.0} dB")),
        row.start_s,
        row.stop_s,
    )
}
