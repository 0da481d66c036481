//! Mapping.
use capture::OpenOptions;
use std::path::Path;
/// Interim.
pub fn ask(
    _file: &Path,
    _options: &OpenOptions,
    _answered: &mut Vec<(String, String)>,
) -> anyhow::Result<Option<String>> {
    Ok(None)
}
