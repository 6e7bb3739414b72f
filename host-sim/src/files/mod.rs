//! Files a person writes: bake, oven and load, read whole with every problem of all three at once.
//!
//! [`read`] opens the bake, follows it to its oven and load, puts overrides in, and gives either a
//! [`Setup`] in SI units or a [`Refusal`] with every problem found; a file that is not TOML, not
//! there or of another kind does not hide what is wrong with the others. Checks that need more than
//! the files (the model of the oven) come later and point at keys through [`Setup::refuse`].
//! Nothing is written and nothing but the three files is opened; each is at most 1 MiB.

mod apart;
pub mod bake;
mod check;
mod check_faults;
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

pub use apart::{Carried, Kept, OvenFile, read_carried, read_kept, read_oven_alone};
pub use overrides::{Override, Reach};
pub use problem::{FileKind, Finding, KeyPath, Place, Problem, Refusal, failure_text, nearest};
pub use read_controls::sensor_kind;
pub use reader::DefaultUsed;
pub use source::{Places, SourceText};

use bake::BakeFile;
use load::Load;
use oven::Oven;
use quantity::shorten;
use reader::Ledger;
use std::path::Path;
use tree::{Table, Value};
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

    /// What bake, oven and load say against each other, for a setup that was changed since it was
    /// read; places are those of the text it was read from.
    #[must_use]
    pub fn contradictions(&self) -> Vec<Finding> {
        let (bake, oven, load, places) = (&self.bake, &self.oven, &self.load, &self.places);
        check::Files { bake, oven, load, places, whole: true }.findings()
    }
}

/// Reads a bake and what it names.
///
/// With a `--plant` among the overrides the files are read as they truly are: what the bake asks of
/// oven and load is then not judged, since it was asked of what is believed.
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
    for file in [FileKind::Oven, FileKind::Load] {
        let at = KeyPath::root(FileKind::Bake).key(file.word());
        match named(&places, file) {
            Ok(name) => open_named(&mut places, file, path, &name, &mut problems),
            Err((what, next)) => {
                let expected = "a path in quotation marks, from this file's folder";
                problems.push(places.resolve(Finding::new(at, what, expected, next)));
            }
        }
    }
    problems.extend(overrides::apply(&mut places, overrides, false));
    let truth = overrides.iter().any(|one| one.reach == Reach::Truth);
    interpret(places, path, problems, truth)
}

/// Opens the oven or load that a bake names.
fn open_named(
    places: &mut Places,
    file: FileKind,
    bake: &Path,
    name: &str,
    problems: &mut Vec<Problem>,
) {
    let at = KeyPath::root(FileKind::Bake).key(file.word());
    let path = bake.parent().unwrap_or_else(|| Path::new("")).join(name);
    let same = match (path.canonicalize(), bake.canonicalize()) {
        (Ok(one), Ok(other)) => one == other,
        _ => false,
    };
    if same {
        let what = format!("the {} is the bake itself", file.word());
        let expected = format!("the path of {} file", file.with_article());
        let next = format!("name the {} there, such as \"../{0}s/name.toml\"", file.word());
        problems.push(places.resolve(Finding::new(at, what, expected, next)));
    } else {
        open(places, file, &path, Some(at), problems);
    }
}

/// The oven or load a bake names; else what is wrong with that and what to do.
fn named(places: &Places, file: FileKind) -> Result<String, (String, String)> {
    let word = file.word();
    let example = format!("{word} = \"../{word}s/name.toml\"");
    let node = places.tree(FileKind::Bake).and_then(|tree| tree.get(word));
    match node.map(|node| &node.value) {
        Some(Value::Text(text)) if text.contains('\\') => {
            let next = format!("write {word} = \"{}\"", shorten(&text.replace('\\', "/")));
            Err((format!("{word} has a \\ in its path"), next))
        }
        Some(Value::Text(text)) if text.chars().any(char::is_control) => {
            Err((format!("{word} has a control character in its path"), format!("write {example}")))
        }
        Some(Value::Text(text)) if !text.trim().is_empty() => Ok(text.trim().to_owned()),
        Some(_) => Err((format!("{word} does not name a file"), format!("write {example}"))),
        None => Err((format!("the bake names no {word}"), format!("add {example}"))),
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

/// A file that stands in for another kind: a load that is an oven.
fn mistaken(places: &Places, file: FileKind) -> Option<Problem> {
    let tree = places.tree(file)?;
    let has = |keys: &[&str]| keys.iter().any(|key| tree.get(key).is_some());
    let (_, own) = TELLING.iter().find(|(kind, _)| *kind == file)?;
    let (other, _) = TELLING.iter().find(|(kind, keys)| *kind != file && has(keys))?;
    if has(own) {
        return None;
    }
    let shown = places.source(file).map_or("the file", |source| source.shown.as_str());
    let mut at = vec![Place::File(shown.to_owned())];
    let next = if file == FileKind::Bake {
        format!("name the bake that uses this {}", other.word())
    } else {
        at.insert(0, places.place(&KeyPath::root(FileKind::Bake).key(file.word())));
        format!("name another file at {} = in the bake", file.word())
    };
    Some(Problem {
        what: format!("{shown} is {}, not {}", other.with_article(), file.with_article()),
        places: at,
        expected: format!("a file with {}", own.join(", ")),
        next,
    })
}

/// What was read of the files, and what was found on the way, file by file.
struct ReadAll {
    bake: BakeFile,
    oven: Oven,
    load: Load,
    findings: Vec<Finding>,
    defaults: Vec<DefaultUsed>,
}

/// Reads every file that is `readable`. The others read as nothing, and nothing is said of what
/// that lacks: they have been complained of already.
fn read_all(places: &Places, path: &Path, readable: [bool; 3], truth: bool) -> ReadAll {
    let empty = Table::default();
    let ledgers = [(); 3].map(|()| Ledger::default());
    let silent = Ledger::default();
    let [bake_reads, oven_reads, load_reads] = readable;
    let tree = |file, reads: bool| places.tree(file).filter(|_| reads).unwrap_or(&empty);
    let ledger = |number: usize, reads: bool| if reads { &ledgers[number] } else { &silent };
    let mut oven = read_oven::read(tree(FileKind::Oven, oven_reads), ledger(1, oven_reads));
    if !oven_reads {
        // Its defaults must not be held against the bake.
        (oven.ambient_c, oven.air_max_c) = (f64::NAN, f64::NAN);
        (oven.sensor.lag_s, oven.spread.cold_spot_k) = (f64::NAN, f64::NAN);
    }
    let load = read_load::read(
        tree(FileKind::Load, load_reads),
        ledger(2, load_reads),
        &stem(places, FileKind::Load),
        oven.ambient_c,
    );
    let name =
        path.file_stem().map_or_else(String::new, |stem| stem.to_string_lossy().into_owned());
    let bake_tree = tree(FileKind::Bake, bake_reads);
    let mut bake = read_bake::read(bake_tree, ledger(0, bake_reads), &name, &oven);
    bake.scale = scale(places, &bake);
    let whole = readable == [true; 3] && !ledgers.iter().any(Ledger::has_findings);
    let (mut findings, mut defaults) = (Vec::new(), Vec::new());
    for ledger in ledgers {
        let (found, used) = ledger.take();
        findings.extend(found);
        defaults.extend(used);
    }
    if !truth {
        let files = check::Files { bake: &bake, oven: &oven, load: &load, places, whole };
        findings.extend(files.findings());
    }
    ReadAll { bake, oven, load, findings, defaults }
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

fn interpret(
    places: Places,
    path: &Path,
    mut problems: Vec<Problem>,
    truth: bool,
) -> Result<Setup, Refusal> {
    let readable = FileKind::ALL.map(|file| {
        let mistaken = mistaken(&places, file).filter(|_| places.is_sound(file));
        let reads = places.is_sound(file) && mistaken.is_none();
        problems.extend(mistaken);
        reads
    });
    let all = read_all(&places, path, readable, truth);
    problems.extend(all.findings.into_iter().map(|finding| places.resolve(finding)));
    if !problems.is_empty() {
        return Err(Refusal { problems });
    }
    let ReadAll { bake, mut oven, mut load, defaults, .. } = all;
    // From here on what the bake allows is what a part stands.
    let part_max_c = bake.part_max_c.unwrap_or(f64::INFINITY);
    load.parts.iter_mut().for_each(|part| part.max_c = part.max_c.min(part_max_c));
    match crate::plant::observed::apply(&mut oven) {
        Ok(()) => Ok(Setup { bake, oven, load, defaults, places }),
        Err(finding) => Err(Refusal::of(places.resolve(finding))),
    }
}
