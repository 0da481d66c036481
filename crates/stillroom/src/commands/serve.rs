//! `serve`: the page, for a browser on this machine.

use crate::exit::{Failure, Outcome, refused};
use crate::progress::interrupted;
use crate::{args, say};
use serde::Serialize;
use server::{Bound, Config, ServeError, Where};
use std::io::ErrorKind;
use std::path::PathBuf;
use std::process::{Command, Stdio};

/// The port where nobody says one, so that the page's address stays the same from day to day.
const PORT: u16 = 4780;

/// What `serve --json` prints once it answers.
#[derive(Serialize)]
struct Serving {
    schema: &'static str,
    address: String,
}

/// Serves until Ctrl-C.
pub fn run(args: &args::Serve) -> anyhow::Result<Outcome> {
    let surveys = match &args.dir {
        Some(dir) => Where::Survey(dir.clone()),
        None => Where::Folder(folder(args)?),
    };
    until_interrupted(surveys, args.port, args.open, args.json.json)
}

/// Serves, says where, opens that in a browser if asked, until Ctrl-C.
pub fn until_interrupted(
    surveys: Where,
    port: Option<u16>,
    open: bool,
    json: bool,
) -> anyhow::Result<Outcome> {
    let most_upload_bytes = Config::MOST_UPLOAD_BYTES;
    let patience = Config::PATIENCE;
    let at = |port| Config { surveys: surveys.clone(), port, most_upload_bytes, patience };
    let bound = match Bound::new(at(Some(port.unwrap_or(PORT)))) {
        Err(ServeError::Port { cause, .. })
            if port.is_none() && cause.kind() == ErrorKind::AddrInUse =>
        {
            Bound::new(at(None))
        }
        bound => bound,
    }?;
    let address = bound.address();
    if json {
        say::json(&Serving { schema: "stillroom.serving/1", address: address.clone() })?;
    } else {
        say::text(&format!("{address}\nCtrl-C ends it.\n"))?;
    }
    if open {
        open_in_browser(address);
    }
    bound.serve(interrupted)?;
    if interrupted() { Err(Failure::Interrupted.into()) } else { Ok(Outcome::Done) }
}

/// Asks the desktop for its browser. Where there is none nothing happens: the address is said.
fn open_in_browser(address: String) {
    let program = if cfg!(target_os = "macos") { "open" } else { "xdg-open" };
    std::thread::spawn(move || {
        let quiet = Stdio::null;
        let mut asked = Command::new(program);
        asked.arg(address).stdin(quiet()).stdout(quiet()).stderr(quiet());
        // How it ends concerns nobody.
        let _ = asked.status();
    });
}

fn folder(args: &args::Serve) -> anyhow::Result<PathBuf> {
    if let Some(folder) = &args.surveys {
        return Ok(folder.clone());
    }
    std::env::home_dir().map(|home| home.join("stillroom")).ok_or_else(|| {
        refused(
            "nobody says where the surveys are: name one survey, or their folder with --surveys",
        )
    })
}
