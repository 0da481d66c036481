//! Event logs: their rows, and which event belongs to which.

use crate::analyse::{fill, id_of};
use crate::bursts::BurstList;
use crate::{AnalyseOptions, Analysed, BurstRow, RecordingAnalysis, round};
use capture::table::EventLog;
use detect::Listening;
use units::{Event, Utc};

pub(crate) fn analyse(
    log: EventLog,
    mut analysis: RecordingAnalysis,
    options: &AnalyseOptions,
) -> Analysed {
    let said = &options.listening;
    let listening = Listening {
        from: said.from,
        until: said.until,
        bands: (!said.bands.is_empty()).then(|| said.bands.clone()),
    };
    let (detection, rows) = detect::from_events(&log.events, &listening);
    let info = &mut analysis.recording;
    // Times count from when it began to listen, where that is known.
    let stop = said.until.or(info.start.map(|at| at.plus_seconds(info.duration_s)));
    info.start = said.from.or(info.start);
    if let (Some(start), Some(stop)) = (info.start, stop) {
        info.duration_s = stop.seconds_since(start).max(0.0);
    }
    let start = info.start;
    fill(&mut analysis, detection, &[], true, options);
    for (event, row) in log.events.iter().zip(&rows).filter(|(event, _)| event.band.is_none()) {
        if let Some(row) = row.and_then(|row| analysis.emissions.get_mut(row as usize)) {
            row.label = row.label.take().or(event.label.clone());
        }
    }
    let bursts = options.bursts.then(|| {
        let listed = log.events.iter().zip(&rows);
        BurstList::listed(listed.filter_map(|(e, row)| burst(e, (*row)?, start?)).collect())
    });
    let events = log.events.into_iter().zip(rows).collect();
    Analysed { analysis, events, bursts }
}

fn burst(event: &Event, row: u32, start: Utc) -> Option<BurstRow> {
    let start_s = event.start.middle().seconds_since(start);
    Some(BurstRow {
        emission: id_of(row as usize),
        start_s: round::seconds(start_s),
        stop_s: round::seconds(start_s + event.duration_s.unwrap_or(0.0)),
        centre_hz: round::hertz(event.band?.centre_hz()),
        bandwidth_hz: None,
        snr_db: None,
    })
}
