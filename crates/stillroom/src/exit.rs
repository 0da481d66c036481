//! The exit status: 0 done; 1 the answer is no; 2 bad use, bad input or refused; 3 could not
//! (disk, lock); 130 interrupted.

use crate::wrap::{printable, wrapped};
use std::io::ErrorKind;
use std::path::Path;
use std::process::ExitCode;

/// How a command that did not fail ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// Done; finding nothing is done, and so are warnings.
    Done,
    /// The question's answer is no: `verify` found a fault, `emissions --balanced` open rows.
    No,
}

/// Why a command failed, where the crates beneath have no error of their own for it.
#[derive(Debug, thiserror::Error)]
pub enum Failure {
    /// Bad use, bad input, or refused.
    #[error("{0}")]
    Refused(String),
    /// Disk or lock.
    #[error("{0}")]
    Could(String),
    /// Ctrl-C.
    #[error("interrupted; nothing is left half written")]
    Interrupted,
}

/// A refusal in words.
pub fn refused(text: impl Into<String>) -> anyhow::Error {
    Failure::Refused(text.into()).into()
}

/// What the disk would not do to a file, and what a person can.
pub fn disk(file: &Path, doing: &str, error: std::io::Error) -> anyhow::Error {
    capture::CaptureError::disk(file, doing, error).into()
}

/// Prints an error, with its causes, and gives the status.
pub fn status(ended: anyhow::Result<Outcome>) -> ExitCode {
    match ended {
        Ok(Outcome::Done) => ExitCode::SUCCESS,
        Ok(Outcome::No) => ExitCode::from(1),
        Err(error) if broken_pipe(&error) => ExitCode::SUCCESS,
        Err(error) => {
            anstream::eprint!("{}", wrapped(&format!("stillroom: {}", words(&error))));
            ExitCode::from(code(&error))
        }
    }
}

/// An error with its causes, each said once: many messages hold their cause's words already.
pub fn words(error: &anyhow::Error) -> String {
    let mut words = error.to_string();
    for cause in error.chain().skip(1) {
        let cause = cause.to_string();
        if !words.contains(cause.trim_end_matches('.')) {
            words.push_str(": ");
            words.push_str(&cause);
        }
    }
    printable(&words)
}

/// Whoever read our output went away: not a failure of ours.
fn broken_pipe(error: &anyhow::Error) -> bool {
    error.chain().any(|cause| {
        cause.downcast_ref::<std::io::Error>().is_some_and(|e| e.kind() == ErrorKind::BrokenPipe)
    })
}

fn code(error: &anyhow::Error) -> u8 {
    error.chain().find_map(code_of).unwrap_or(2)
}

/// What one cause says of the status; the outermost that says anything decides.
fn code_of(cause: &(dyn std::error::Error + 'static)) -> Option<u8> {
    if let Some(failure) = cause.downcast_ref::<Failure>() {
        return Some(match failure {
            Failure::Refused(_) => 2,
            Failure::Could(_) => 3,
            Failure::Interrupted => 130,
        });
    }
    if let Some(error) = cause.downcast_ref::<survey::SurveyError>() {
        return Some(error.exit_code());
    }
    if let Some(error) = cause.downcast_ref::<server::ServeError>() {
        return match error {
            server::ServeError::Survey(error) => Some(error.exit_code()),
            _ => Some(3),
        };
    }
    if let Some(error) = cause.downcast_ref::<analyse::AnalyseError>() {
        return Some(match error {
            analyse::AnalyseError::Cancelled => 130,
            error if error.is_disk() => 3,
            _ => 2,
        });
    }
    if let Some(error) = cause.downcast_ref::<capture::CaptureError>() {
        return Some(if error.is_disk() { 3 } else { 2 });
    }
    cause.is::<std::io::Error>().then_some(3)
}

#[cfg(test)]
mod tests {
    use super::*;
    use anyhow::Context;
    use std::io;

    #[test]
    fn the_outermost_cause_that_knows_decides_the_status() {
        let disk = || io::Error::new(ErrorKind::StorageFull, "no space left");
        assert_eq!(code(&refused("no such row")), 2);
        assert_eq!(code(&anyhow::Error::new(disk())), 3);
        assert_eq!(code(&anyhow::Error::new(disk()).context("could not write it")), 3);
        assert_eq!(code(&Failure::Interrupted.into()), 130);
        assert_eq!(code(&Failure::Could("locked".into()).into()), 3);
        let wrapped: anyhow::Result<()> =
            Err(survey::SurveyError::Cancelled).context("record.toml");
        assert_eq!(code(&wrapped.expect_err("an error")), 130);
    }

    #[test]
    fn a_cause_is_said_once() {
        let said = anyhow::anyhow!("no space left").context("could not write x: no space left.");
        assert_eq!(words(&said), "could not write x: no space left.");
        let unsaid = anyhow::anyhow!("no space left").context("could not write x");
        assert_eq!(words(&unsaid), "could not write x: no space left");
    }

    #[test]
    fn a_closed_pipe_is_nobodys_fault() {
        let closed = anyhow::Error::new(io::Error::from(ErrorKind::BrokenPipe)).context("printing");
        assert!(broken_pipe(&closed));
        assert!(!broken_pipe(&refused("x")));
    }
}
