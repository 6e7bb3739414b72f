//! Files read otherwise than a bake and what it names: an oven alone, and what a log carries.
//!
//! An oven alone is read as written: what was timed with a kitchen clock is not put into it, so
//! that whoever measures it anew starts from the file's own numbers. A log that is recounted carries
//! all three ([`read_kept`]); of one that is only followed any may be missing, and what its bake asks
//! of its oven is not judged again ([`read_carried`]).

use std::path::{Path, PathBuf};

use super::bake::BakeFile;
use super::load::Load;
use super::oven::Oven;
use super::problem::{FileKind, Finding, Problem, Refusal};
use super::reader::Ledger;
use super::source::{Places, SourceText};
use super::{Override, Setup, interpret, mistaken, open, overrides, read_all, read_oven};

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

/// Bake, oven and load as a log kept them.
#[derive(Clone, Copy, Debug)]
pub struct Kept<'a> {
    /// Text of the bake file.
    pub bake: &'a str,
    /// Text of the oven file.
    pub oven: &'a str,
    /// Text of the load file.
    pub load: &'a str,
}

/// Reads a bake, oven and load from texts that were kept; what the bake names is not opened.
///
/// # Errors
/// Every problem of the three texts and the overrides.
pub fn read_kept(kept: Kept<'_>, overrides: &[Override]) -> Result<Setup, Refusal> {
    let texts = [kept.bake, kept.oven, kept.load].map(Some);
    let shown = |file: FileKind| format!("the log's {}", file.word());
    let (places, problems) = placed(texts, overrides, shown);
    interpret(places, Path::new("bake.toml"), problems, false)
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
    let texts = [carried.bake, carried.oven, carried.load];
    let shown = |file: FileKind| format!("{shown}, its {}", file.word());
    let (places, mut problems) = placed(texts, &set, shown);
    if !problems.is_empty() {
        return Err(Refusal { problems });
    }
    let readable = texts.map(|text| text.is_some());
    let all = read_all(&places, Path::new("bake"), readable, true);
    problems.extend(all.findings.into_iter().map(|finding| places.resolve(finding)));
    if !problems.is_empty() {
        return Err(Refusal { problems });
    }
    Ok((readable[0].then_some(all.bake), readable[2].then_some(all.load)))
}

/// Texts that were kept, under the names they are shown by, with what was set put in.
fn placed(
    texts: [Option<&str>; 3],
    overrides: &[Override],
    shown: impl Fn(FileKind) -> String,
) -> (Places, Vec<Problem>) {
    let mut places = Places::new(overrides);
    let mut problems = Vec::new();
    for (file, text) in FileKind::ALL.into_iter().zip(texts) {
        let Some(text) = text.map(str::to_owned) else { continue };
        let path = PathBuf::from(format!("{}.toml", file.word()));
        problems.extend(places.add(file, SourceText { path, shown: shown(file), text }));
    }
    for bake_first in [true, false] {
        problems.extend(overrides::apply(&mut places, overrides, bake_first));
    }
    (places, problems)
}
