//! `truesoak new`: write a commented starting file.

use super::{Answer, Failure, Globals, failure_text, print};
use crate::report::units::Units;
use clap::ValueEnum;
use std::fs::OpenOptions;
use std::io::Write as _;
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
    let mut file = OpenOptions::new().write(true).create_new(true).open(path).map_err(|error| {
        let exists = error.kind() == std::io::ErrorKind::AlreadyExists;
        let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
        let next = match folder {
            _ if exists => "name another file, or move that one away".to_owned(),
            Some(folder) if !folder.is_dir() => {
                format!("make the folder {} first", folder.display())
            }
            _ => "name a file in a folder that can be written to".to_owned(),
        };
        let what = if exists { "is there already and is left as it is" } else { "cannot be made" };
        Failure::Input(failure_text(
            &format!("{} {what}", path.display()),
            &error.to_string(),
            "the name of a new file",
            &next,
        ))
    })?;
    file.write_all(text.as_bytes()).map_err(|error| {
        Failure::Write(format!("error: {} could not be written: {error}", path.display()))
    })?;
    if !globals.quiet {
        print(&format!("{} written; open it and put in your own values\n", path.display()))?;
    }
    Ok(Answer::Yes)
}
