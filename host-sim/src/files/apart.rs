//! One file read without the other two: an oven's, and what a log carries of a bake and its load.
//!
//! An oven alone is read as written: what was timed with a kitchen clock is not put into it, so
//! that whoever measures it anew starts from the file's own numbers. A log's bake and load are read
//! as they were believed; what the bake asks of its oven was judged before it was logged.

use std::path::{Path, PathBuf};

use super::bake::BakeFile;
use super::load::Load;
use super::oven::Oven;
use super::problem::{FileKind, Finding, Refusal};
use super::reader::Ledger;
use super::source::{Places, SourceText};
use super::{Override, mistaken, open, overrides, read_all, read_oven};

/// An oven's file and what it says.
#[derive(Clone, Debug)]
pub struct OvenFile {
    /// The oven; `[observed]` is read and not put into it.
    pub oven: Oven,
    /// The file as written.
    pub source: SourceText,
    places: Places,
}

impl OvenFile {
    /// A refusal for findings made after reading.
    #[must_use]
    pub fn refuse(&self, findings: Vec<Finding>) -> Refusal {
        let problems = findings.into_iter().map(|finding| self.places.resolve(finding)).collect();
        Refusal { problems }
    }
}

/// Reads an oven alone.
///
/// # Errors
/// Every problem of the file.
pub fn read_oven_alone(path: &Path) -> Result<OvenFile, Refusal> {
    let mut places = Places::new(&[]);
    let mut problems = Vec::new();
    open(&mut places, FileKind::Oven, path, None, &mut problems);
    if problems.is_empty() {
        problems.extend(mistaken(&places, FileKind::Oven));
    }
    let (Some(tree), Some(source), true) =
        (places.tree(FileKind::Oven), places.source(FileKind::Oven), problems.is_empty())
    else {
        return Err(Refusal { problems });
    };
    let ledger = Ledger::default();
    let oven = read_oven::read(tree, &ledger);
    let (findings, _) = ledger.take();
    let source = source.clone();
    problems.extend(findings.into_iter().map(|finding| places.resolve(finding)));
    if problems.is_empty() {
        Ok(OvenFile { oven, source, places })
    } else {
        Err(Refusal { problems })
    }
}

/// What a log carries.
#[derive(Clone, Copy, Debug, Default)]
pub struct Carried<'a> {
    /// The bake as written.
    pub bake: Option<&'a str>,
    /// The oven as written.
    pub oven: Option<&'a str>,
    /// The load as written.
    pub load: Option<&'a str>,
    /// `--set` of its command line.
    pub set: &'a [String],
}

/// Bake and load of a log; none where it does not carry them.
///
/// # Errors
/// Every problem of the texts that are there; `shown` is the log's name.
pub fn read_carried(
    carried: &Carried<'_>,
    shown: &str,
) -> Result<(Option<BakeFile>, Option<Load>), Refusal> {
    let set: Vec<Override> = carried.set.iter().map(|typed| Override::set(typed)).collect();
    let mut places = Places::new(&set);
    let mut problems = Vec::new();
    let texts = [carried.bake, carried.oven, carried.load];
    for (file, text) in FileKind::ALL.into_iter().zip(texts) {
        if let Some(text) = text {
            let shown = format!("{shown}, its {}", file.word());
            let path = PathBuf::from(&shown);
            problems.extend(places.add(file, SourceText { path, shown, text: text.to_owned() }));
        }
    }
    problems.extend(overrides::apply(&mut places, &set, true));
    problems.extend(overrides::apply(&mut places, &set, false));
    if !problems.is_empty() {
        return Err(Refusal { problems });
    }
    let readable = texts.map(|text| text.is_some());
    let all = read_all(&places, Path::new("bake"), readable, true);
    if !all.findings.is_empty() {
        let problems = all.findings.into_iter().map(|finding| places.resolve(finding)).collect();
        return Err(Refusal { problems });
    }
    Ok((readable[0].then_some(all.bake), readable[2].then_some(all.load)))
}
