//! Files a person writes: bake, oven and load, read whole with every problem of all three at once.
//!
//! [`read`] opens the bake, follows it to its oven and load, puts overrides in, and gives either a
//! [`Setup`] in SI units or a [`Refusal`] with every problem found. Checks that need more than the
//! files (the model of the oven) come later and point at keys through [`Setup::refuse`].

pub mod bake;
mod check;
pub mod load;
pub mod oven;
mod overrides;
mod problem;
pub mod quantity;
mod read_bake;
mod read_controls;
mod read_load;
mod read_oven;
mod read_script;
mod read_shape;
mod reader;
mod source;
mod syntax;
mod tree;

pub use overrides::{Override, Reach};
pub use problem::{FileKind, Finding, KeyPath, Place, Problem, Refusal};
pub use reader::DefaultUsed;
pub use source::{Places, SourceText};

use bake::BakeFile;
use load::Load;
use oven::Oven;
use reader::Ledger;
use std::path::{Path, PathBuf};
use tree::Value;
use truesoak_core::bake::Step;

/// A bake with its oven and load.
#[derive(Clone, Debug)]
pub struct Setup {
    /// Bake.
    pub bake: BakeFile,
    /// Oven.
    pub oven: Oven,
    /// Load.
    pub load: Load,
    /// Defaults used, for `--explain`.
    pub defaults: Vec<DefaultUsed>,
    /// The texts, for places.
    pub places: Places,
}

impl Setup {
    /// A refusal for findings made after reading.
    #[must_use]
    pub fn refuse(&self, findings: Vec<Finding>) -> Refusal {
        let problems = findings.into_iter().map(|finding| self.places.resolve(finding)).collect();
        Refusal { problems }
    }
}

/// Reads a bake and what it names.
///
/// # Errors
/// Every problem of the three files and the overrides.
pub fn read(path: &Path, overrides: &[Override]) -> Result<Setup, Refusal> {
    let mut places = Places::new(overrides);
    let mut problems = Vec::new();
    open(&mut places, FileKind::Bake, path, None, &mut problems);
    if places.tree(FileKind::Bake).is_none() {
        return Err(Refusal { problems });
    }
    problems.extend(overrides::apply(&mut places, overrides, true));
    let folder = path.parent().map_or_else(PathBuf::new, Path::to_path_buf);
    for file in [FileKind::Oven, FileKind::Load] {
        let at = KeyPath::root(FileKind::Bake).key(file.word());
        match named(&places, file) {
            Ok(name) => {
                let named = folder.join(&name);
                open(&mut places, file, &named, Some(at), &mut problems);
            }
            Err(finding) => problems.push(places.resolve(*finding)),
        }
    }
    problems.extend(overrides::apply(&mut places, overrides, false));
    problems.extend(mistaken(&places));
    if !problems.is_empty() {
        return Err(Refusal { problems: with_readable_findings(&places, path, problems) });
    }
    interpret(places, path)
}

/// The oven or load a bake names.
fn named(places: &Places, file: FileKind) -> Result<PathBuf, Box<Finding>> {
    let at = KeyPath::root(FileKind::Bake).key(file.word());
    let example = format!("{} = \"../{}s/name.toml\"", file.word(), file.word());
    let node = places.tree(FileKind::Bake).and_then(|tree| tree.get(file.word()));
    match node.map(|node| &node.value) {
        Some(Value::Text(text)) if !text.trim().is_empty() => Ok(PathBuf::from(text)),
        Some(_) => Err(Box::new(Finding::new(
            at,
            format!("{} does not name a file", file.word()),
            "a path in quotation marks, from this file's folder",
            format!("write {example}"),
        ))),
        None => Err(Box::new(Finding::new(
            at,
            format!("the bake names no {}", file.word()),
            "a path in quotation marks, from this file's folder",
            format!("add {example}"),
        ))),
    }
}

/// Opens a file and keeps its text, or says why it cannot be used.
fn open(
    places: &mut Places,
    file: FileKind,
    path: &Path,
    named_at: Option<KeyPath>,
    problems: &mut Vec<Problem>,
) {
    match source::load(path) {
        Ok(text) => problems.extend(places.add(file, text)),
        Err(wrong) => {
            let shown = source::show(path);
            let mut at = vec![Place::File(shown.clone())];
            at.extend(named_at.map(|path| places.place(&path)));
            problems.push(Problem {
                what: format!("{shown} {}", wrong.what),
                places: at,
                expected: wrong.expected.to_owned(),
                next: wrong.next,
            });
        }
    }
}

/// Keys that tell what a file is meant to be.
const TELLING: [(FileKind, &[&str]); 3] = [
    (FileKind::Bake, &["step", "oven", "load"]),
    (FileKind::Oven, &["cavity", "heater", "insulation", "sensor"]),
    (FileKind::Load, &["part", "rack", "coating"]),
];

/// Files that stand in for another kind: an oven that is the bake itself, a load that is an oven.
fn mistaken(places: &Places) -> Vec<Problem> {
    let mut problems = Vec::new();
    for (file, own) in TELLING {
        let Some(tree) = places.tree(file) else { continue };
        let has = |keys: &[&str]| keys.iter().any(|key| tree.get(key).is_some());
        let other = TELLING.iter().find(|(kind, keys)| *kind != file && has(keys));
        if let (Some((kind, _)), false) = (other, has(own)) {
            let shown = places.source(file).map_or("the file", |source| source.shown.as_str());
            let article = |kind: FileKind| if kind == FileKind::Oven { "an" } else { "a" };
            problems.push(Problem {
                what: format!(
                    "{shown} is {} {}, not {} {}",
                    article(*kind),
                    kind.word(),
                    article(file),
                    file.word()
                ),
                places: vec![Place::File(shown.to_owned())],
                expected: format!("a file with {}", own.join(", ")),
                next: match file {
                    FileKind::Bake => "name a bake".to_owned(),
                    _ => format!("name another file at {} = in the bake", file.word()),
                },
            });
        }
    }
    problems
}

/// What can still be read is read, so that its problems are told too.
fn with_readable_findings(
    places: &Places,
    path: &Path,
    mut problems: Vec<Problem>,
) -> Vec<Problem> {
    // A file that is not TOML, or is another kind of file, would only be misread.
    let whole = FileKind::ALL.iter().all(|file| places.tree(*file).is_some());
    if whole && problems.iter().all(is_typed) {
        let (_, findings, _) = read_all(places, path);
        problems.extend(findings.into_iter().map(|finding| places.resolve(finding)));
    }
    problems
}

fn is_typed(problem: &Problem) -> bool {
    problem.places.iter().any(|place| matches!(place, Place::Typed(_)))
}

type ReadAll = (Option<(BakeFile, Oven, Load)>, Vec<Finding>, Vec<DefaultUsed>);

fn read_all(places: &Places, path: &Path) -> ReadAll {
    let trees = |file| places.tree(file);
    let (Some(bake), Some(oven), Some(load)) =
        (trees(FileKind::Bake), trees(FileKind::Oven), trees(FileKind::Load))
    else {
        return (None, Vec::new(), Vec::new());
    };
    let ledger = <Ledger as Default>::default();
    let oven = read_oven::read(oven, &ledger);
    let load = read_load::read(load, &ledger, &stem(places, FileKind::Load), oven.ambient_c);
    let stem_of_bake =
        path.file_stem().map_or_else(String::new, |stem| stem.to_string_lossy().into_owned());
    let mut bake = read_bake::read(bake, &ledger, &stem_of_bake, &oven);
    bake.scale = scale(places, &bake);
    check::all(&bake, &oven, &load, &ledger);
    let (findings, defaults) = ledger.take();
    (Some((bake, oven, load)), findings, defaults)
}

fn stem(places: &Places, file: FileKind) -> String {
    let path = places.source(file).map(|source| Path::new(&source.shown));
    let stem = path.and_then(Path::file_stem);
    stem.map_or_else(String::new, |stem| stem.to_string_lossy().into_owned())
}

/// The scale the first soak is written in.
fn scale(places: &Places, bake: &BakeFile) -> quantity::Scale {
    let soak = bake.bake.steps.iter().position(|step| matches!(step, Step::Soak(_)));
    let written =
        soak.and_then(|index| places.written(&KeyPath::step(index).key("soak").key("at_least")));
    written.as_deref().and_then(quantity::scale_of).unwrap_or(quantity::Scale::Celsius)
}

fn interpret(places: Places, path: &Path) -> Result<Setup, Refusal> {
    let (all, findings, defaults) = read_all(&places, path);
    let problems: Vec<_> = findings.into_iter().map(|finding| places.resolve(finding)).collect();
    match all {
        Some((bake, mut oven, load)) if problems.is_empty() => {
            match crate::plant::observed::apply(&mut oven) {
                Ok(()) => Ok(Setup { bake, oven, load, defaults, places }),
                Err(finding) => Err(Refusal::of(places.resolve(finding))),
            }
        }
        _ => Err(Refusal { problems }),
    }
}
