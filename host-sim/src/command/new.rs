//! `truesoak new`: write a commented starting file.

use super::outputs::NewFile;
use super::{Answer, Failure, Globals, print};
use crate::report::units::Units;
use clap::ValueEnum;
use std::path::PathBuf;

/// What to write and where.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// What the file is for.
    kind: Kind,
    /// Where to write it.
    file: PathBuf,
}

/// Kinds of files.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Kind {
    /// An oven.
    Oven,
    /// A load.
    Load,
    /// A bake.
    Bake,
}

/// Writes it.
pub(super) fn run(arguments: &Arguments, globals: &Globals) -> Result<Answer, Failure> {
    let imperial = globals.units == Some(Units::Fahrenheit);
    let text = match (arguments.kind, imperial) {
        (Kind::Oven, false) => include_str!("new/oven.toml"),
        (Kind::Oven, true) => include_str!("new/oven-f.toml"),
        (Kind::Load, false) => include_str!("new/load.toml"),
        (Kind::Load, true) => include_str!("new/load-f.toml"),
        (Kind::Bake, false) => include_str!("new/bake.toml"),
        (Kind::Bake, true) => include_str!("new/bake-f.toml"),
    };
    let path = &arguments.file;
    NewFile::open(path)?.put(text.as_bytes())?;
    if !globals.quiet {
        print(&format!("{} written; open it and put in your own values\n", path.display()))?;
    }
    Ok(Answer::Yes)
}
