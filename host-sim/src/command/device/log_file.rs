//! A file for a log that is never an oven's record already.

use crate::command::outputs::Output;
use crate::command::{Failure, failure_text};
use crate::log::{FIRST_LINE, Header, Source};
use std::fs::File;
use std::io::{BufRead as _, BufReader, Read as _};
use std::path::Path;

/// A first line is no longer: three files of 16 KiB, each sign of them escaped.
const FIRST_LINE_MAX: u64 = 256 * 1024;

/// Opens it. What is there and is no rehearsal's or virtual board's log stays as it is.
///
/// # Errors
/// Another file or an oven's log there; a path that cannot be written.
pub(super) fn open(path: &Path) -> Result<Output, Failure> {
    if let Some(what) = worth_keeping(path) {
        return Err(Failure::Input(failure_text(
            &format!("{} is {what}", path.display()),
            &path.display().to_string(),
            "a new file, or the log of a rehearsal or of a virtual board",
            "give the log another name",
        )));
    }
    Output::open(path, &[], &[])
}

/// What is there that must not be written over.
fn worth_keeping(path: &Path) -> Option<&'static str> {
    let file = File::open(path).ok()?;
    let details = file.metadata().ok()?;
    if !details.is_file() || details.len() == 0 {
        return None;
    }
    let mut line = String::new();
    let read = BufReader::new(file.take(FIRST_LINE_MAX)).read_line(&mut line);
    let header = read.ok().and_then(|_| line.strip_prefix(FIRST_LINE));
    match header.and_then(|json| serde_json::from_str::<Header>(json).ok()) {
        Some(Header { source: Source::Rehearsal | Source::Virtual, .. }) => None,
        Some(_) => Some("the log of an oven, and is never written over"),
        None => Some("a file of another kind"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::log::Writer;
    use tempfile::TempDir;

    fn log_of(source: Source) -> Vec<u8> {
        Writer::new(Vec::new(), &Header::of(source), &[]).unwrap().finish().unwrap()
    }

    #[test]
    fn the_log_of_an_oven_and_any_other_file_are_kept_and_those_of_the_desk_are_not() {
        let folder = TempDir::new().unwrap();
        let path = folder.path().join("f.csv");
        for (bytes, kept) in [
            (log_of(Source::Oven), true),
            (log_of(Source::Other), true),
            (b"name = \"a bake\"\n".to_vec(), true),
            (b"# truesoak.log/1 {torn".to_vec(), true),
            (log_of(Source::Virtual), false),
            (log_of(Source::Rehearsal), false),
            (Vec::new(), false),
        ] {
            std::fs::write(&path, &bytes).unwrap();
            assert_eq!(open(&path).is_err(), kept);
            assert_eq!(std::fs::read(&path).unwrap(), bytes, "opening changes nothing");
        }
        std::fs::remove_file(&path).unwrap();
        assert!(open(&path).is_ok());
        assert!(open(&folder.path().join("no/f.csv")).is_err());
    }
}
