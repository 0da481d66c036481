//! The exit status: 0 done; 1 the answer is no; 2 bad use, bad input or refused; 3 could not
//! (disk, lock); 130 interrupted.

use std::io::ErrorKind;
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

/// Prints an error, with its causes, and gives the status.
pub fn status(ended: anyhow::Result<Outcome>) -> ExitCode {
    match ended {
        Ok(Outcome::Done) => ExitCode::SUCCESS,
        Ok(Outcome::No) => ExitCode::from(1),
        Err(error) if broken_pipe(&error) => ExitCode::SUCCESS,
        Err(error) => {
            anstream::eprintln!("stillroom: {error:#}");
            ExitCode::from(code(&error))
        }
    }
}

/// Whoever read our output went away: not a failure of ours.
fn broken_pipe(error: &anyhow::Error) -> bool {
    error.chain().any(|cause| {
        cause.downcast_ref::<std::io::Error>().is_some_and(|e| e.kind() == ErrorKind::BrokenPipe)
    })
}

fn code(error: &anyhow::Error) -> u8 {
    for cause in error.chain() {
        if let Some(failure) = cause.downcast_ref::<Failure>() {
            return match failure {
                Failure::Refused(_) => 2,
                Failure::Could(_) => 3,
                Failure::Interrupted => 130,
            };
        }
    }
    if error.chain().any(|cause| cause.is::<std::io::Error>()) { 3 } else { 2 }
}
