//! `stillroom`: the program. Only start-up and the exit status live here.

use std::process::ExitCode;

fn main() -> ExitCode {
    stillroom::run(std::env::args_os())
}
