//! Arrivals of a whole walk out of a table, as `simulate` writes them: when, and at which position.

use crate::SurveyError;
use crate::note::Note;
use crate::survey::Survey;

impl Survey {
    /// Notes every arrival of a CSV table with the columns Arrived and Position, all or none. Gives
    /// their ids. `name` is what messages call the table.
    ///
    /// # Errors
    /// If it is no such table, or a row of it says too little or cannot be true; named by its line.
    pub fn note_movements(
        &self,
        table: &[u8],
        name: &str,
        chain: Option<&str>,
        by: &str,
    ) -> Result<Vec<String>, SurveyError> {
        let arrivals = self.arrivals(table, name, chain)?;
        self.write(by, |pen| {
            let note = |(line, arrival): &(u64, Note)| {
                self.note_one(pen, arrival, None).map_err(|e| in_line(name, *line, e))
            };
            arrivals.iter().map(note).collect()
        })
    }

    /// Each with its line.
    fn arrivals(
        &self,
        table: &[u8],
        name: &str,
        chain: Option<&str>,
    ) -> Result<Vec<(u64, Note)>, SurveyError> {
        let mut rows = csv::ReaderBuilder::new().trim(csv::Trim::All).from_reader(table);
        let wrong = |e: csv::Error| {
            SurveyError::refused(format!("{name}: this is no table ({e})"), "Save it as CSV.")
        };
        let header = rows.headers().map_err(wrong)?.clone();
        let column = |wanted: &str| {
            // A program that writes for spreadsheets begins with a byte order mark.
            let is = |name: &str| name.trim_start_matches('\u{feff}').eq_ignore_ascii_case(wanted);
            header.iter().position(is).ok_or_else(|| {
                SurveyError::refused(
                    format!("{name}: no column is named {wanted}"),
                    "Name two columns Arrived and Position in its first line.",
                )
            })
        };
        let (arrived, position) = (column("Arrived")?, column("Position")?);
        let mut arrivals = Vec::new();
        for row in rows.records() {
            let row = row.map_err(wrong)?;
            let line = row.position().map_or(0, csv::Position::line);
            let field = |index: usize, what: &str| {
                row.get(index).filter(|text| !text.is_empty()).ok_or_else(|| {
                    let missing = format!("{name}, line {line}: {what} is missing");
                    SurveyError::refused(missing, "Correct the line.")
                })
            };
            let when = self
                .time(field(arrived, "the time (Arrived)")?)
                .map_err(|e| in_line(name, line, e))?;
            let at = field(position, "the position (Position)")?.to_owned();
            let chain = chain.map(str::to_owned);
            arrivals.push((line, Note::Arrived { at, when: Some(when), chain }));
        }
        if arrivals.is_empty() {
            return Err(SurveyError::refused(
                format!("{name}: it holds no row below its header"),
                "Give a line for each arrival.",
            ));
        }
        Ok(arrivals)
    }
}

fn in_line(name: &str, line: u64, error: SurveyError) -> SurveyError {
    match error {
        SurveyError::Refused { what, remedy } => {
            SurveyError::Refused { what: format!("{name}, line {line}: {what}"), remedy }
        }
        other => other,
    }
}
