//! What a survey cannot say, in words, each from what was or was not done in it: the same sentences for
//! the page and the report.

mod equipment;
mod rooms;

use crate::covered::Covered;
use crate::describe::Record;
use ledger::{CaptureInfo, Ledger};
use units::Reason;

/// What the sentences are of.
struct Known<'a> {
    ledger: &'a Ledger,
    record: &'a Record,
    covered: &'a [Covered],
    warnings: &'a [Reason],
}

impl<'a> Known<'a> {
    /// The measurements that count.
    fn counting(&self) -> impl Iterator<Item = &'a CaptureInfo> {
        self.ledger.captures.iter().filter(|capture| capture.set_aside.is_none())
    }
}

/// Every limit that applies, one sentence or two each. `warnings`: what is to be distrusted of the
/// ledger.
pub fn cannot_say(
    ledger: &Ledger,
    record: &Record,
    covered: &[Covered],
    warnings: &[Reason],
) -> Vec<String> {
    let of = &Known { ledger, record, covered, warnings };
    let mut limits = vec![rooms::silence(of)];
    limits.extend(rooms::not_heard(of));
    limits.extend(rooms::turns(of));
    limits.extend(rooms::conditions(of));
    limits.extend(equipment::bands(of));
    limits.push(
        "A device that only stores what it hears, or sends later, or sends by wire or light, radiates \
         nothing that these measurements could receive."
            .into(),
    );
    limits.extend(equipment::couplings(of));
    limits.extend(equipment::comparisons(of));
    limits.push(chance(of));
    limits.extend(equipment::left_out(of));
    limits
}

fn chance(of: &Known<'_>) -> String {
    let feared = of.record.brief.as_ref().map(|brief| &brief.feared[..]).unwrap_or_default();
    if feared.is_empty() {
        return "What kinds of transmitter are feared is not recorded, and no chance of detection \
                was calculated."
            .into();
    }
    format!("No chance of detection was calculated for what is feared: {}.", feared.join("; "))
}
