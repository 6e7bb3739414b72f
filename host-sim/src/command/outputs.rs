//! Files a command writes, opened before its work starts.
//!
//! A path that cannot be written is refused in the first second, not after the work. Opening empties
//! nothing: what stood there is kept until there is something to put in its place.

use super::{Failure, failure_text};
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

fn is_same(path: &Path, other: &Path) -> bool {
    match (path.canonicalize(), other.canonicalize()) {
        (Ok(path), Ok(other)) => path == other,
        _ => path == other,
    }
}

fn refusal(path: &Path, error: &std::io::Error) -> Failure {
    let next = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() && !folder.is_dir() => {
            format!("make the folder {} first", folder.display())
        }
        _ => "name a file in a folder that can be written to".to_owned(),
    };
    Failure::Input(failure_text(
        &format!("cannot write {}", path.display()),
        &error.to_string(),
        "a path that can be written",
        &next,
    ))
}
