//! The JSON Schemas of the machine contracts under docs/schemas and the description of the HTTP API,
//! from the wire types and the routes.

use anyhow::{Context, bail};
use std::path::PathBuf;

/// `schemas`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Compare with what is committed, and change nothing.
    #[arg(long)]
    check: bool,
}

/// The folder of this workspace.
pub fn workspace() -> PathBuf {
    PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/.."))
}

/// Writes or compares.
pub fn run(args: &Args) -> anyhow::Result<()> {
    let folder = workspace().join("docs");
    let mut differ = Vec::new();
    for (name, text) in all()? {
        let file = folder.join(&name);
        if args.check {
            if std::fs::read_to_string(&file).unwrap_or_default() != text {
                differ.push(name);
            }
        } else {
            std::fs::create_dir_all(folder.join("schemas")).context("docs/schemas")?;
            std::fs::write(&file, text).with_context(|| file.display().to_string())?;
            println!("{}", file.display());
        }
    }
    if !differ.is_empty() {
        bail!("{} differ: run `cargo run --release -p xtask -- schemas`", differ.join(", "));
    }
    Ok(())
}

fn all() -> anyhow::Result<[(String, String); 3]> {
    Ok([
        ("schemas/stillroom.analysis.1.json".into(), text::<analyse::Analysis>()?),
        ("schemas/stillroom.ledger.1.json".into(), text::<ledger::Ledger>()?),
        ("openapi.json".into(), serde_json::to_string_pretty(&server::openapi())? + "\n"),
    ])
}

/// Of what is written: a field that may be null is there all the same.
fn text<T: schemars::JsonSchema>() -> anyhow::Result<String> {
    let settings = schemars::generate::SchemaSettings::draft2020_12().for_serialize();
    let schema = settings.into_generator().into_root_schema_for::<T>();
    Ok(serde_json::to_string_pretty(&schema)? + "\n")
}
