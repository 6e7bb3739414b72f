//! Thousands of random slips in everything that is shipped, metric and imperial.
//!
//! Goal: whatever is written, the answer is a clear refusal or a bake that can be compiled; never a
//! panic. Method: the shipped bakes with their ovens and loads and the starting files of `new`,
//! one file spoilt at a time, read, compiled and checked as `simulate` does. The seed is fixed: a
//! failure prints the file and is found again.

use rand_core::{RngCore, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use tempfile::TempDir;
use truesoak::compile::{check, tuning::tune};
use truesoak::files::{self, FileKind};
use truesoak::rehearse::model_of;

/// Slips tried in all.
const SLIPS: usize = 5000;
/// Pieces that upset readers, or numbers that upset models.
const ODD: &[&str] = &[
    "-",
    "1e308",
    "\"",
    "[",
    "]",
    "{",
    "}",
    "°",
    "0",
    "nan",
    "\u{0}",
    "=",
    ".",
    ",",
    "9999999999",
    "\n",
    "½",
    "1e-30",
    "#",
    "\\",
    "inf",
    "-1",
    "\u{feff}",
    "\r",
];

/// A bake with the texts of its three files.
struct Trio {
    bake: PathBuf,
    files: Vec<(PathBuf, Vec<u8>)>,
}

/// Copies what is shipped into a folder, and the starting files beside it.
fn copies(folder: &Path) -> Vec<Trio> {
    let shipped = Path::new(env!("CARGO_MANIFEST_DIR")).join("../profiles");
    for kind in ["bakes", "ovens", "loads"] {
        copy_folder(&shipped.join(kind), &folder.join(kind), |_| true);
    }
    let starters = Path::new(env!("CARGO_MANIFEST_DIR")).join("../host-sim/src/command/new");
    copy_folder(&starters, &folder.join("new"), |name| !name.contains("-f."));
    copy_folder(&starters, &folder.join("new-f"), |name| name.contains("-f."));
    let bakes = std::fs::read_dir(folder.join("bakes")).unwrap();
    let mut bakes: Vec<PathBuf> = bakes.map(|entry| entry.unwrap().path()).collect();
    bakes.sort();
    bakes.extend(["new", "new-f"].map(|kind| folder.join(kind).join("bake.toml")));
    bakes.into_iter().map(trio).collect()
}

fn copy_folder(from: &Path, to: &Path, wanted: impl Fn(&str) -> bool) {
    std::fs::create_dir_all(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        if wanted(&name) {
            std::fs::copy(from.join(&name), to.join(name.replace("-f.", "."))).unwrap();
        }
    }
}

fn trio(bake: PathBuf) -> Trio {
    let setup =
        files::read(&bake, &[]).unwrap_or_else(|text| panic!("{}:\n{text}", bake.display()));
    let files = FileKind::ALL.map(|kind| {
        let path = setup.places.source(kind).unwrap().path.clone();
        let bytes = std::fs::read(&path).unwrap();
        (path, bytes)
    });
    Trio { bake, files: files.to_vec() }
}

/// As `simulate` reads, compiles and checks; the refusal, if any.
fn judge(bake: &Path) -> Option<String> {
    let setup = match files::read(bake, &[]) {
        Ok(setup) => setup,
        Err(refusal) => return Some(refusal.to_string()),
    };
    let model = match model_of(&setup) {
        Ok(model) => model,
        Err(refusal) => return Some(refusal.to_string()),
    };
    let findings = check::findings(&setup, &model, &tune(&setup, &model));
    (!findings.is_empty()).then(|| setup.refuse(findings).to_string())
}

/// One to three slips: a byte changed, an end lost, a piece put in or cut out, a number swapped.
fn spoil(bytes: &mut Vec<u8>, random: &mut impl RngCore) {
    let mut below = |end: usize| random.next_u64() as usize % end.max(1);
    for _ in 0..=below(3) {
        let at = below(bytes.len());
        let odd = ODD[below(ODD.len())].bytes();
        match below(12) {
            0 => bytes.truncate(at.max(1)),
            1..=2 => bytes[at] = below(256) as u8,
            3..=4 => drop(bytes.splice(at..at, odd)),
            5..=6 => drop(bytes.drain(at..(at + 1 + below(12)).min(bytes.len()))),
            _ => {
                // The next number from here on.
                let digit = |byte: &u8| byte.is_ascii_digit();
                let Some(start) = bytes[at..].iter().position(digit).map(|n| at + n) else {
                    continue;
                };
                let length = bytes[start..].iter().take_while(|byte| digit(byte)).count();
                drop(bytes.splice(start..start + length, odd));
            }
        }
        if bytes.is_empty() {
            bytes.push(b'\n');
        }
    }
}

#[test]
fn random_slips_in_anything_shipped_never_panic_and_are_told_clearly() {
    let folder = TempDir::new().unwrap();
    let trios = copies(folder.path());
    let mut random = Xoshiro256PlusPlus::seed_from_u64(20_261_125);
    let (mut good, mut bad) = (0, 0);
    for slip in 0..SLIPS {
        let trio = &trios[slip % trios.len()];
        let (path, sound) = &trio.files[random.next_u64() as usize % 3];
        let mut bytes = sound.clone();
        spoil(&mut bytes, &mut random);
        std::fs::write(path, &bytes).unwrap();
        let answer = catch_unwind(AssertUnwindSafe(|| judge(&trio.bake)));
        std::fs::write(path, sound).unwrap();
        let shown = || format!("{}:\n{}", path.display(), String::from_utf8_lossy(&bytes));
        match answer {
            Ok(None) => good += 1,
            Ok(Some(text)) => {
                bad += 1;
                let clear =
                    ["error: ", "expected: ", "next: "].iter().all(|word| text.contains(word));
                assert!(clear, "{text}\n{}", shown());
                assert!(!text.contains("NaN"), "{text}\n{}", shown());
            }
            Err(_) => panic!("slip {slip} panics: {}", shown()),
        }
    }
    println!("{good} still good, {bad} refused");
    assert!(good > SLIPS / 50 && bad > SLIPS / 4, "{good} good, {bad} bad");
}
