//! Files a command writes, opened before its work starts.
//!
//! A path that cannot be written is refused in the first second, not after the work. Opening empties
//! nothing: what stood there is kept until there is something to put in its place.

use super::{Failure, failure_text};
use crate::files::{FileKind, Setup};
use crate::report::plot::Picture;
use std::fs::{File, OpenOptions};
use std::io::Write as _;
use std::path::{Path, PathBuf};

/// One file to write.
#[derive(Debug)]
pub(super) struct Output {
    path: PathBuf,
    file: File,
    is_new: bool,
}

impl Output {
    /// Opens it, or says why it cannot be.
    ///
    /// # Errors
    /// A path that cannot be written, one of the files that are read, or one that is written twice.
    pub(super) fn open(path: &Path, read: &[&Path], opened: &[&Path]) -> Result<Self, Failure> {
        for (others, what) in [(read, "is read"), (opened, "is written already")] {
            if let Some(other) = others.iter().find(|other| is_same(path, other)) {
                return Err(Failure::Input(failure_text(
                    &format!("{} {what} by this command", path.display()),
                    &other.display().to_string(),
                    "a file of its own for each output",
                    "give it another name",
                )));
            }
        }
        let is_new = !path.exists();
        let mut options = OpenOptions::new();
        let opened = options.write(true).create(true).truncate(false).open(path);
        let file = opened.map_err(|error| refusal(path, &error))?;
        Ok(Self { path: path.to_owned(), file, is_new })
    }

    pub(super) fn path(&self) -> &Path {
        &self.path
    }

    /// Empties the file for what is written now.
    ///
    /// # Errors
    /// When the system does not let it.
    pub(super) fn emptied(&self) -> std::io::Result<&File> {
        // A pipe or a terminal has no length.
        if self.file.metadata()?.is_file() {
            self.file.set_len(0)?;
        }
        Ok(&self.file)
    }

    /// Puts these bytes in the file.
    ///
    /// # Errors
    /// When the system does not take them.
    pub(super) fn put(&self, bytes: &[u8]) -> std::io::Result<()> {
        self.emptied()?.write_all(bytes)
    }

    /// Takes back what was made for nothing.
    pub(super) fn take_back(&self) {
        if self.is_new {
            // A file that stays is empty and harms nobody.
            let _ = std::fs::remove_file(&self.path);
        }
    }
}

/// A file that was not there before: never overwrites.
#[derive(Debug)]
pub(super) struct NewFile {
    path: PathBuf,
    file: File,
}

impl NewFile {
    /// Makes it, or says why it cannot be made.
    ///
    /// # Errors
    /// A path where something is already, or where nothing can be written.
    pub(super) fn open(path: &Path) -> Result<Self, Failure> {
        let made = OpenOptions::new().write(true).create_new(true).open(path);
        let file = made.map_err(|error| {
            let exists = error.kind() == std::io::ErrorKind::AlreadyExists;
            let what =
                if exists { "is there already and is left as it is" } else { "cannot be made" };
            let next = if exists {
                "name another file, or move that one away".to_owned()
            } else {
                elsewhere(path)
            };
            Failure::Input(failure_text(
                &format!("{} {what}", path.display()),
                &error.to_string(),
                "the name of a new file",
                &next,
            ))
        })?;
        Ok(Self { path: path.to_owned(), file })
    }

    pub(super) fn path(&self) -> &Path {
        &self.path
    }

    /// Puts these bytes in it.
    ///
    /// # Errors
    /// When the system does not take them.
    pub(super) fn put(&self, bytes: &[u8]) -> Result<(), Failure> {
        let mut file = &self.file;
        file.write_all(bytes).map_err(|error| {
            let path = self.path.display();
            Failure::Write(format!("error: {path} could not be written: {error}"))
        })
    }

    /// Takes back what was made for nothing.
    pub(super) fn take_back(&self) {
        // A file that stays is empty and harms nobody.
        let _ = std::fs::remove_file(&self.path);
    }
}

/// Files opened before the work starts. What was there before stays until there is something to
/// put in its place.
pub(super) struct Outputs {
    pub(super) log: Option<Output>,
    pub(super) plots: Vec<(Output, Picture)>,
}

impl Outputs {
    /// Opens a log and pictures of a bake, or leaves nothing behind.
    ///
    /// # Errors
    /// The first that cannot be written.
    pub(super) fn open(
        log: Option<&Path>,
        plots: &[PathBuf],
        setup: Option<&Setup>,
    ) -> Result<Self, Failure> {
        let pictures = plots.iter().map(|path| Picture::of(path).map_err(Failure::Input));
        let pictures = pictures.collect::<Result<Vec<_>, _>>()?;
        let files = [FileKind::Bake, FileKind::Oven, FileKind::Load];
        let read = files.into_iter().filter_map(|file| setup?.places.source(file));
        let read: Vec<&Path> = read.map(|source| source.path.as_path()).collect();
        let written: Vec<&Path> = log.into_iter().collect();
        let log = log.map(|path| Output::open(path, &read, &[])).transpose()?;
        let opened = open_all(plots, &read, &written);
        let opened = opened.inspect_err(|_| log.iter().for_each(Output::take_back))?;
        Ok(Self { log, plots: opened.into_iter().zip(pictures).collect() })
    }

    /// Takes back what was opened for nothing.
    pub(super) fn take_back(&self) {
        self.log.iter().chain(self.plots.iter().map(|(plot, _)| plot)).for_each(Output::take_back);
    }
}

/// Opens several, or leaves nothing behind; `written` are open already.
///
/// # Errors
/// The first that cannot be written.
pub(super) fn open_all(
    paths: &[PathBuf],
    read: &[&Path],
    written: &[&Path],
) -> Result<Vec<Output>, Failure> {
    let mut opened: Vec<Output> = Vec::new();
    for path in paths {
        let others = written.iter().copied().chain(opened.iter().map(Output::path));
        let output = Output::open(path, read, &others.collect::<Vec<_>>());
        opened.push(output.inspect_err(|_| opened.iter().for_each(Output::take_back))?);
    }
    Ok(opened)
}

/// A write that failed once the work was done.
pub(super) fn failed(output: &Output, error: &dyn std::fmt::Display) -> Failure {
    Failure::Write(format!("error: {} could not be written: {error}", output.path().display()))
}

/// Both name one file.
pub(super) fn is_same(path: &Path, other: &Path) -> bool {
    match (path.canonicalize(), other.canonicalize()) {
        (Ok(path), Ok(other)) => path == other,
        _ => path == other,
    }
}

fn refusal(path: &Path, error: &std::io::Error) -> Failure {
    Failure::Input(failure_text(
        &format!("cannot write {}", path.display()),
        &error.to_string(),
        "a path that can be written",
        &elsewhere(path),
    ))
}

/// What to do about a path that cannot be written.
fn elsewhere(path: &Path) -> String {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() && !folder.is_dir() => {
            format!("make the folder {} first", folder.display())
        }
        _ => "name a file in a folder that can be written to".to_owned(),
    }
}
