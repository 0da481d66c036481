//! Swept spectra: detect in one pass. There are no samples to look at closer.

use crate::analyse::fill;
use crate::bursts::Keeper;
use crate::part::PartOfTraces;
use crate::{AnalyseError, AnalyseOptions, Analysed, Progress, RecordingAnalysis};
use capture::table::TraceFile;
use detect::{Detection, Hooks};
use units::Traces;

pub(crate) fn analyse(
    mut file: TraceFile,
    mut analysis: RecordingAnalysis,
    options: &AnalyseOptions,
    progress: &dyn Progress,
) -> Result<Analysed, AnalyseError> {
    let mut keeper = options.bursts.then(|| Keeper::beside(&options.bursts_near));
    let detection = match options.range_s {
        None => detect(&mut file, options, &mut keeper, progress)?,
        Some((from, until)) => {
            let info = &mut analysis.recording;
            info.start = info.start.map(|at| at.plus_seconds(from));
            info.duration_s = (until.min(info.duration_s) - from.max(0.0)).max(0.0);
            detect(
                &mut PartOfTraces::new(&mut file, (from, until)),
                options,
                &mut keeper,
                progress,
            )?
        }
    };
    let bursts = keeper.map(|keeper| keeper.finish(&detection.rows)).transpose()?;
    fill(&mut analysis, detection, &[], true, options);
    Ok(Analysed { analysis, events: Vec::new(), bursts })
}

fn detect(
    traces: &mut dyn Traces,
    options: &AnalyseOptions,
    keeper: &mut Option<Keeper>,
    progress: &dyn Progress,
) -> Result<Detection, AnalyseError> {
    Ok(detect::from_traces(
        traces,
        &detect::Options { full_scale: options.full_scale, ..detect::Options::default() },
        &mut Hooks {
            on_burst: &mut |burst| {
                if let Some(keeper) = keeper {
                    keeper.push(&burst);
                }
            },
            on_progress: &mut |fraction| {
                progress.step((fraction * 1000.0) as u64, 1000, "detecting");
                !progress.cancelled()
            },
            on_samples: None,
        },
    )?)
}
