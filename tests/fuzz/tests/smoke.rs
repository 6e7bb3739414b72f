//! Every target over its corpus, and over changed copies of it.
//!
//! Goal: what a long run once reached is tried in every test run, and something new beside it.
//! Method: each file of the corpus as it is, then pieces of it changed, cut, doubled and spliced from a
//! fixed seed. A failure prints the input as a Rust array, to be kept as a test by name.

use rand_core::{RngCore, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use truesoak_fuzz::{TARGETS, Target, target};

/// Fewest files of a corpus worth the name.
const FILES_MIN: usize = 10;

fn corpus(name: &str) -> Vec<Vec<u8>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("corpus").join(name);
    let files = std::fs::read_dir(&folder).unwrap_or_else(|error| panic!("{folder:?}: {error}"));
    let mut files: Vec<_> = files.map(|file| file.unwrap().path()).collect();
    files.sort();
    files.into_iter().map(|file| std::fs::read(file).unwrap()).collect()
}

/// Some bytes changed, put in, cut out or taken from another input.
fn changed(inputs: &[Vec<u8>], dice: &mut impl RngCore) -> Vec<u8> {
    let mut below = |end: usize| (dice.next_u64() >> 8) as usize % end.max(1);
    let mut bytes = inputs[below(inputs.len())].clone();
    for _ in 0..=below(4) {
        let at = below(bytes.len());
        let end = (at + below(9)).min(bytes.len());
        match below(6) {
            0 => drop(bytes.drain(at..end)),
            1 => drop(bytes.splice(at..at, [[0, 1, 0x7f, 0xff][below(4)]])),
            2 => {
                let other = &inputs[below(inputs.len())];
                let from = below(other.len());
                let to = (from + below(64)).min(other.len());
                bytes.splice(at..end, other[from..to].iter().copied());
            }
            3 if at < bytes.len() => bytes[at] ^= 1 << below(8),
            _ if at < bytes.len() => bytes[at] = below(256) as u8,
            _ => bytes.push(below(256) as u8),
        }
    }
    bytes
}

fn tried(target: Target, input: &[u8], what: &str) {
    let sound = catch_unwind(AssertUnwindSafe(|| (target.run)(input))).is_ok();
    assert!(sound, "{} fails on {what}: {input:?}", target.name);
}

fn smoke(name: &str, more: usize) {
    let target = target(name).unwrap();
    let inputs = corpus(name);
    assert!(inputs.len() >= FILES_MIN, "{} files", inputs.len());
    for input in &inputs {
        tried(target, input, "its corpus");
    }
    let mut dice = Xoshiro256PlusPlus::seed_from_u64(20_261_128);
    for number in 0..more {
        let input = changed(&inputs, &mut dice);
        tried(target, &input[..input.len().min(target.bytes_max)], &format!("input {number}"));
    }
}

#[test]
fn nothing_on_the_wire_upsets_who_reads_it() {
    smoke("link", 20_000);
}

#[test]
fn nothing_in_the_flash_upsets_the_store() {
    smoke("store", 8_000);
}

#[test]
fn no_text_upsets_the_readers_of_bake_oven_and_load() {
    smoke("text", 6_000);
}

#[test]
fn no_table_upsets_the_readers_of_logs_and_readings() {
    smoke("log", 10_000);
}

#[test]
fn no_json_upsets_its_readers() {
    smoke("json", 10_000);
}

#[test]
fn nothing_that_comes_in_makes_the_controller_panic_or_heat_where_it_must_not() {
    smoke("tick", 15_000);
}

#[test]
fn every_target_has_a_corpus_and_every_corpus_a_target() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("corpus");
    let folders = std::fs::read_dir(folder).unwrap();
    let mut folders: Vec<_> =
        folders.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    folders.sort();
    let mut names: Vec<_> = TARGETS.iter().map(|target| target.name.to_owned()).collect();
    names.sort();
    assert_eq!(folders, names);
}
