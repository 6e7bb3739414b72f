//! What is tried on the emulated board, each by its name.
//!
//! A scenario is a function of a seed and nothing else, so a name and a seed repeat it. It ends with
//! a sentence of what was seen, or with what went wrong.

mod buttons;
mod decisions;
mod faults;
mod figures;
mod link;
mod modes;
mod port;
mod power;
mod rows;

use super::board::Made;
use super::process::Mode;
use crate::bake_path;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};
use truesoak::files::{self, Override, Setup};

/// What every scenario is given.
#[derive(Clone, Debug)]
pub struct Context {
    /// The sealed image.
    pub elf: PathBuf,
    /// Where a scenario does not say otherwise.
    pub mode: Mode,
    /// Of noise and of what is drawn.
    pub seed: u64,
    /// A board that takes longer here than this is ended, and the scenario has failed.
    pub wall_max: Duration,
}

/// A board's own time in which everything short must be over, s: a bake of the quick oven takes half
/// of it.
const SIMULATED_S_MAX: f64 = 3600.0;

/// What was seen.
#[derive(Clone, Debug, Default)]
pub struct Seen {
    /// Time of boards, s.
    pub simulated_s: f64,
    /// In a sentence.
    pub words: String,
}

/// A scenario.
#[derive(Clone, Copy, Debug)]
pub struct Scenario {
    /// Its name.
    pub name: &'static str,
    /// Meant to end within minutes; nothing holds it to that.
    pub is_short: bool,
    /// What it does.
    pub run: fn(&Context) -> Result<Seen, String>,
}

/// What came of one.
#[derive(Clone, Debug)]
pub struct Outcome {
    /// Which.
    pub name: &'static str,
    /// What was seen, or what went wrong.
    pub result: Result<Seen, String>,
    /// How long it took here.
    pub wall: Duration,
}

/// Every scenario, in the order they are told.
#[must_use]
pub fn all() -> Vec<Scenario> {
    [
        modes::SCENARIOS,
        figures::SCENARIOS,
        decisions::SCENARIOS,
        buttons::SCENARIOS,
        faults::SCENARIOS,
        rows::SCENARIOS,
        link::SCENARIOS,
        port::SCENARIOS,
        power::SCENARIOS,
    ]
    .concat()
}

impl Scenario {
    /// Runs it; a panic is a failure like any other.
    #[must_use]
    pub fn outcome(&self, context: &Context) -> Outcome {
        let begun = Instant::now();
        let result = catch_unwind(AssertUnwindSafe(|| (self.run)(context)));
        let result = result.unwrap_or_else(|panic| {
            let text = panic.downcast_ref::<String>().cloned();
            Err(text
                .or_else(|| panic.downcast_ref::<&str>().map(ToString::to_string))
                .unwrap_or_default())
        });
        Outcome { name: self.name, result, wall: begun.elapsed() }
    }
}

impl Context {
    /// A board with this image, its converters still to be said.
    #[must_use]
    pub fn made(&self, mode: Mode) -> Made {
        Made {
            elf: self.elf.clone(),
            mode,
            chips: [None; 3],
            seed: self.seed as u32,
            wall_max: self.wall_max,
            simulated_s_max: SIMULATED_S_MAX,
        }
    }
}

/// A bake that comes with the project, by its file's name.
///
/// # Errors
/// The refusal of its reader.
pub fn shipped(name: &str, set: &[&str]) -> Result<Setup, String> {
    read(&bake_path(name), set)
}

/// The short bake that has every kind of step.
///
/// # Errors
/// The refusal of its reader.
pub fn quick(set: &[&str]) -> Result<Setup, String> {
    short("bake.toml", set)
}

/// A short bake by its file's name.
///
/// # Errors
/// The refusal of its reader.
pub fn short(name: &str, set: &[&str]) -> Result<Setup, String> {
    read(&crate::path("tests/emulator/quick").join(name), set)
}

fn read(path: &Path, set: &[&str]) -> Result<Setup, String> {
    let set: Vec<Override> = set.iter().map(|typed| Override::set(typed)).collect();
    files::read(path, &set).map_err(|refusal| refusal.to_string())
}

/// An error with what it was about.
fn told<T>(result: std::io::Result<T>) -> Result<T, String> {
    result.map_err(|error| error.to_string())
}

/// Fails with a sentence unless it holds.
fn hold(condition: bool, words: impl FnOnce() -> String) -> Result<(), String> {
    if condition { Ok(()) } else { Err(words()) }
}
