//! The texts the files came from: reading them safely, and turning key paths into lines.
//!
//! Refuses what is not a text a person wrote: a missing file, a folder, more than 1 MiB, UTF-16,
//! anything else that is not UTF-8. A byte-order mark and CRLF are fine. Reads at most 1 MiB.

use std::fs::File;
use std::io::Read as _;
use std::path::{Component, Path, PathBuf};

use super::overrides::Override;
use super::problem::{FileKind, Finding, KeyPath, PROBLEMS_KEPT, Place, Problem};
use super::tree::{self, Origin, SyntaxError, Table};

/// Largest file read, bytes.
pub const FILE_BYTES_MAX: u64 = 1 << 20;

/// One file as written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SourceText {
    /// Where it was read from.
    pub path: PathBuf,
    /// The path as shown to a person.
    pub shown: String,
    /// Its text, as written.
    pub text: String,
}

impl SourceText {
    /// A stretch of the text as a place.
    pub(super) fn place(&self, start: usize, end: usize) -> Place {
        let start = floor_char(&self.text, start);
        let end = floor_char(&self.text, end).max(start);
        let line_start = self.text[..start].rfind('\n').map_or(0, |at| at + 1);
        let line_end = self.text[start..].find('\n').map_or(self.text.len(), |at| start + at);
        let mark = if line_start == 0 && self.text.starts_with('\u{feff}') { 3 } else { 0 };
        let line_start = (line_start + mark).min(start.max(mark)).min(line_end);
        let start = start.max(line_start);
        Place::Line {
            path: self.shown.clone(),
            line: self.text[..start].matches('\n').count() + 1,
            column: self.text[line_start..start].chars().count() + 1,
            text: self.text[line_start..line_end].trim_end_matches('\r').to_owned(),
            width: self.text[start..end.min(line_end).max(start)].chars().count().max(1),
        }
    }
}

/// The last character boundary at or before a byte.
fn floor_char(text: &str, at: usize) -> usize {
    let mut at = at.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

/// A path without `.` and `..` where that does not need the disk; `/` on every system.
pub(super) fn show(path: &Path) -> String {
    let mut parts: Vec<String> = Vec::new();
    for component in path.components() {
        match component {
            Component::CurDir => {}
            Component::ParentDir
                if parts.last().is_some_and(|last| last != ".." && !last.is_empty()) =>
            {
                let _ = parts.pop();
            }
            Component::RootDir => parts.push(String::new()),
            other => parts.push(other.as_os_str().to_string_lossy().into_owned()),
        }
    }
    let joined = parts.join("/");
    let shown: String = joined.chars().map(|c| if c.is_control() { '?' } else { c }).collect();
    if shown.is_empty() { ".".to_owned() } else { shown }
}

/// Why a file cannot be read.
pub(super) struct Unreadable {
    /// What is wrong, the file's name left out.
    pub(super) what: String,
    /// What was expected.
    pub(super) expected: &'static str,
    /// What to do next.
    pub(super) next: String,
}

/// Reads a file's text.
pub(super) fn load(path: &Path) -> Result<SourceText, Unreadable> {
    let refuse = |what: &str, expected, next: &str| Unreadable {
        what: what.to_owned(),
        expected,
        next: next.to_owned(),
    };
    let expected = "a TOML file";
    let details = match std::fs::metadata(path) {
        Ok(details) => details,
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
            return Err(refuse("is not there", expected, &similar_file(path)));
        }
        Err(error) => {
            let what = format!("cannot be read: {error}");
            return Err(refuse(&what, expected, "check the path and its permissions"));
        }
    };
    if details.is_dir() {
        return Err(refuse("is a folder", expected, "name a file inside it"));
    }
    if !details.is_file() {
        return Err(refuse("is not an ordinary file", expected, "save it as a file and name that"));
    }
    let mut bytes = Vec::new();
    let read = File::open(path).and_then(|f| f.take(FILE_BYTES_MAX + 1).read_to_end(&mut bytes));
    if let Err(error) = read {
        let what = format!("cannot be read: {error}");
        return Err(refuse(&what, expected, "check the path and its permissions"));
    }
    if bytes.len() as u64 > FILE_BYTES_MAX {
        let next = "check that it is the file meant; a bake, oven or load is a few kilobytes";
        return Err(refuse("is larger than 1 MiB", "at most 1 MiB", next));
    }
    let text = decode(bytes)?;
    Ok(SourceText { path: path.to_owned(), shown: show(path), text })
}

fn decode(bytes: Vec<u8>) -> Result<String, Unreadable> {
    let expected = "a text in UTF-8";
    let next = "save it again as UTF-8 in the editor";
    let zeros = bytes.iter().filter(|b| **b == 0).count();
    if bytes.starts_with(&[0xff, 0xfe])
        || bytes.starts_with(&[0xfe, 0xff])
        || zeros * 4 > bytes.len()
    {
        let what = "is in UTF-16, or no text at all".to_owned();
        return Err(Unreadable { what, expected, next: next.to_owned() });
    }
    String::from_utf8(bytes).map_err(|error| {
        let good = error.utf8_error().valid_up_to();
        let line = error.as_bytes()[..good].iter().filter(|b| **b == b'\n').count() + 1;
        let what = format!("is not UTF-8: a byte in line {line} belongs to no character");
        Unreadable { what, expected, next: next.to_owned() }
    })
}

/// Names the file in the same folder that may have been meant.
fn similar_file(path: &Path) -> String {
    let name = path.file_name().map(|name| name.to_string_lossy().into_owned());
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    let folder = folder.unwrap_or_else(|| Path::new("."));
    if !folder.is_dir() {
        return format!("check the path: there is no folder {}", show(folder));
    }
    let names: Vec<String> = std::fs::read_dir(folder)
        .map(|entries| {
            entries
                .flatten()
                .take(1000)
                .map(|e| e.file_name().to_string_lossy().into_owned())
                .collect()
        })
        .unwrap_or_default();
    let near = name.as_deref().and_then(|name| {
        super::problem::nearest(
            name,
            names.iter().map(String::as_str).filter(|n| n.ends_with(".toml")),
        )
    });
    match near {
        Some(near) => format!("did you mean {}?", show(&folder.join(near))),
        None => "check the path; it is taken from the folder of the file that names it".to_owned(),
    }
}

/// The three texts and their trees: turns findings into problems with lines.
#[derive(Clone, Debug, Default)]
pub struct Places {
    files: [Option<(SourceText, Table)>; 3],
    /// Not TOML in places: what was saved of it would only be misread.
    torn: [bool; 3],
    overrides: Vec<Override>,
}

fn slot(file: FileKind) -> usize {
    match file {
        FileKind::Bake => 0,
        FileKind::Oven => 1,
        FileKind::Load => 2,
    }
}

impl Places {
    pub(super) fn new(overrides: &[Override]) -> Self {
        Self { overrides: overrides.to_vec(), ..Self::default() }
    }

    /// Takes a text in; gives its syntax errors as problems.
    pub(super) fn add(&mut self, file: FileKind, source: SourceText) -> Vec<Problem> {
        let mark = if source.text.starts_with('\u{feff}') { '\u{feff}'.len_utf8() } else { 0 };
        let (table, errors) = tree::parse(&source.text[mark..], mark);
        let mut lines = Vec::new();
        let mut problems = Vec::new();
        for error in errors.into_iter().take(PROBLEMS_KEPT) {
            let place = source.place(error.span.start, error.span.end);
            // One slip often upsets the parser several times: the first of a line tells it.
            if let Place::Line { line, .. } = place
                && !lines.contains(&line)
            {
                lines.push(line);
                problems.push(super::syntax::explain(&error, &source.text, &place));
            }
        }
        if let Some(entry) = self.files.get_mut(slot(file)) {
            *entry = Some((source, table));
        }
        if let Some(torn) = self.torn.get_mut(slot(file)) {
            *torn = !problems.is_empty();
        }
        problems
    }

    /// The text of a file.
    #[must_use]
    pub fn source(&self, file: FileKind) -> Option<&SourceText> {
        self.files.get(slot(file)).and_then(Option::as_ref).map(|(source, _)| source)
    }

    /// It is there, and TOML throughout.
    pub(super) fn is_sound(&self, file: FileKind) -> bool {
        self.tree(file).is_some() && self.torn.get(slot(file)) == Some(&false)
    }

    pub(super) fn tree(&self, file: FileKind) -> Option<&Table> {
        self.files.get(slot(file)).and_then(Option::as_ref).map(|(_, table)| table)
    }

    pub(super) fn tree_mut(&mut self, file: FileKind) -> Option<&mut Table> {
        self.files.get_mut(slot(file)).and_then(Option::as_mut).map(|(_, table)| table)
    }

    /// The place of a key path, or of its nearest parent.
    #[must_use]
    pub fn place(&self, path: &KeyPath) -> Place {
        let Some((source, table)) = self.files.get(slot(path.file)).and_then(Option::as_ref) else {
            return Place::File(format!("the {} file", path.file.word()));
        };
        match tree::locate(table, path) {
            Some(Origin::Text(span)) => source.place(span.start, span.end),
            Some(Origin::Typed(number)) => self.typed(*number),
            None => Place::File(source.shown.clone()),
        }
    }

    pub(super) fn typed(&self, number: usize) -> Place {
        let text = self.overrides.get(number).map(ToString::to_string).unwrap_or_default();
        Place::Typed(text)
    }

    /// The quantity a value was written as, if it is a text.
    #[must_use]
    pub fn written(&self, path: &KeyPath) -> Option<String> {
        tree::text_at(self.tree(path.file)?, path).map(str::to_owned)
    }

    /// A finding with its lines.
    #[must_use]
    pub fn resolve(&self, finding: Finding) -> Problem {
        let mut places: Vec<Place> = finding.at.iter().map(|path| self.place(path)).collect();
        // Two keys nobody wrote stand at the same place: their file.
        places.dedup();
        Problem { what: finding.what, places, expected: finding.expected, next: finding.next }
    }
}

/// Used by [`super::syntax`] to look at what stands at an error.
pub(super) fn around<'t>(error: &SyntaxError, text: &'t str) -> &'t str {
    let start = floor_char(text, error.span.start);
    let line_start = text[..start].rfind('\n').map_or(0, |at| at + 1);
    let line_end = text[start..].find('\n').map_or(text.len(), |at| start + at);
    &text[line_start..line_end]
}
