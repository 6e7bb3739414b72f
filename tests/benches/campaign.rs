//! What bakes come to on many plants: `cargo bench -p truesoak-tests --bench campaign`. Prints;
//! judges nothing.
//!
//! Four tables: every shipped bake on fresh draws of its spread, and bakes made at random, each on two
//! draws, that take the time they need, whose parts stand 3 to 15 K more than their windows, and that
//! are given up after four hours of a soak. `TRUESOAK_DRAWS`, `TRUESOAK_BAKES`, `TRUESOAK_TIGHT` and
//! `TRUESOAK_GIVEN_UP` set how many, `TRUESOAK_FIRST` where counting begins, `TRUESOAK_THREADS` on how
//! many cores. Half the plants are corners of their spread.
//!
//! What did not pass is tried by the oracle too: of the draws whose oracle passes, those that passed
//! and those that could have are all there are. Four hours are nobody's choice for these ovens, and an
//! oracle, being sooner, may pass where a bake was told to give up: of the last table that is no
//! measure of the controller, of the others it is.

#[path = "../tests/bounds_support/enclosed.rs"]
mod enclosed;
#[path = "../tests/bounds_support/patient.rs"]
mod patient;

use enclosed::margins;
use patient::{patient, tight};
use std::collections::BTreeMap;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use truesoak::files::Setup;
use truesoak::rehearse::{Bench, Case};
use truesoak::report::result::Verdict;
use truesoak::trial::{BASES, plant, random_bake};
use truesoak_tests::setup;

/// Draws every random bake is tried on.
const DRAWS_OF_RANDOM: u64 = 2;

/// What came of some plants.
#[derive(Default)]
struct Outcome {
    plants: u64,
    refused: u64,
    passed: u64,
    short: u64,
    other: BTreeMap<String, u64>,
    trips: BTreeMap<String, Vec<u64>>,
    false_passes: Vec<u64>,
    overheated: Vec<u64>,
    outside: Vec<u64>,
    least_k: Option<(f64, f64)>,
    /// Passed by the oracle alone.
    could: Vec<u64>,
}

impl Outcome {
    /// One bake on one plant.
    fn of(bench: &Bench<'_>, setup: &Setup, number: u64) -> Self {
        let case = Case { truth: setup, draw: plant(setup, number), seed: number + 1 };
        let mut trace = bench.trace(&case, true);
        let Ok(ran) = bench.bake(&case, &mut trace) else {
            return Self { refused: 1, ..Self::default() };
        };
        let (cold_k, hot_k) = margins(&trace);
        let result = bench.result(&case, &ran, &mut trace);
        let mut outcome = Self { plants: 1, ..Self::default() };
        outcome.least_k = Some((cold_k, hot_k));
        match result.verdict {
            Verdict::Pass => outcome.passed = 1,
            Verdict::Short => outcome.short = 1,
            other => *outcome.other.entry(format!("{other:?}")).or_default() += 1,
        }
        for trip in &result.trips {
            outcome.trips.entry(trip.kind.clone()).or_default().push(number);
        }
        let truth = result.truth;
        if result.verdict == Verdict::Pass && truth != Some(Verdict::Pass) {
            outcome.false_passes.push(number);
        }
        if truth == Some(Verdict::Overheated) {
            outcome.overheated.push(number);
        }
        if cold_k < 0.0 || hot_k < 0.0 {
            outcome.outside.push(number);
        }
        if result.verdict != Verdict::Pass
            && bench.oracle(&case).is_ok_and(|oracle| oracle.passes())
        {
            outcome.could.push(number);
        }
        outcome
    }

    fn add(&mut self, one: Self) {
        self.plants += one.plants;
        self.refused += one.refused;
        self.passed += one.passed;
        self.short += one.short;
        for (word, count) in one.other {
            *self.other.entry(word).or_default() += count;
        }
        for (kind, numbers) in one.trips {
            self.trips.entry(kind).or_default().extend(numbers);
        }
        self.false_passes.extend(one.false_passes);
        self.overheated.extend(one.overheated);
        self.outside.extend(one.outside);
        self.could.extend(one.could);
        self.least_k = match (self.least_k, one.least_k) {
            (Some((cold, hot)), Some((c, h))) => Some((cold.min(c), hot.min(h))),
            (mine, theirs) => mine.or(theirs),
        };
    }

    fn print(&self, name: &str) {
        let (cold_k, hot_k) = self.least_k.unwrap_or((f64::NAN, f64::NAN));
        println!(
            "{name:32}{:>7}{:>7}{:>7}{:>8}{:>10}{:>9}{cold_k:>9.2}{hot_k:>8.2}",
            self.plants,
            self.passed,
            self.short,
            self.false_passes.len(),
            self.overheated.len(),
            self.outside.len(),
        );
        let rest = [
            ("ended otherwise", format!("{:?}", self.other), self.other.is_empty()),
            ("tripped", format!("{:?}", self.trips), self.trips.is_empty()),
            ("false passes", format!("{:?}", self.false_passes), self.false_passes.is_empty()),
            ("overheated", format!("{:?}", self.overheated), self.overheated.is_empty()),
            ("outside the bounds", format!("{:?}", self.outside), self.outside.is_empty()),
        ];
        for (what, which, _) in rest.iter().filter(|(_, _, empty)| !empty) {
            println!("    {what}: {which}");
        }
        let can_pass = self.passed as usize + self.could.len();
        println!(
            "    of {can_pass} that can pass {:.2} % did",
            100.0 * self.passed as f64 / can_pass as f64
        );
        if !self.could.is_empty() {
            println!("    could have passed: {:?}", self.could);
        }
        if self.refused > 0 {
            println!("    {} bakes refused on the desk", self.refused);
        }
    }
}

/// Everything of `range`, on as many cores as are asked for.
fn gather(range: std::ops::Range<u64>, one: impl Fn(u64) -> Outcome + Sync) -> Outcome {
    let (next, total) = (AtomicU64::new(range.start), Mutex::new(Outcome::default()));
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    let threads = variable("TRUESOAK_THREADS", cores as u64);
    std::thread::scope(|scope| {
        for _ in 0..threads {
            scope.spawn(|| {
                loop {
                    let number = next.fetch_add(1, Ordering::Relaxed);
                    if number >= range.end {
                        break;
                    }
                    let outcome = one(number);
                    total.lock().expect("no panic").add(outcome);
                }
            });
        }
    });
    total.into_inner().expect("no panic")
}

/// A random bake on its plants.
fn on_random(number: u64, setup: &Setup) -> Outcome {
    let Ok(bench) = Bench::new(setup) else {
        return Outcome { refused: 1, ..Outcome::default() };
    };
    let mut both = Outcome::default();
    for draw in 0..DRAWS_OF_RANDOM {
        both.add(Outcome::of(&bench, setup, DRAWS_OF_RANDOM * number + draw));
    }
    both
}

fn variable(name: &str, usual: u64) -> u64 {
    std::env::var(name).ok().and_then(|text| text.parse().ok()).unwrap_or(usual)
}

fn main() {
    let first = variable("TRUESOAK_FIRST", 1_000_000);
    let (draws, bakes) = (variable("TRUESOAK_DRAWS", 40), variable("TRUESOAK_BAKES", 100));
    let (narrow, given_up) = (variable("TRUESOAK_TIGHT", 20), variable("TRUESOAK_GIVEN_UP", 20));
    println!(
        "numbers from {first}: {draws} of each shipped bake, {bakes} bakes made at random, \
         {narrow} with parts that stand little more, {given_up} given up"
    );
    println!(
        "{:32}{:>7}{:>7}{:>7}{:>8}{:>10}{:>9}{:>9}{:>8}",
        "bake", "plants", "pass", "short", "f.pass", "overheat", "outside", "cold K", "hot K"
    );
    let mut all = Outcome::default();
    for bake in BASES {
        let setup = setup(bake, &[]);
        let bench = Bench::new(&setup).unwrap_or_else(|refusal| panic!("{refusal}"));
        let outcome = gather(first..first + draws, |number| Outcome::of(&bench, &setup, number));
        outcome.print(bake);
        all.add(outcome);
    }
    all.print("all shipped");
    let random = gather(first..first + bakes, |number| on_random(number, &patient(number)));
    random.print("made at random");
    let narrow = gather(first..first + narrow, |number| on_random(number, &tight(number)));
    narrow.print("made at random, little to spare");
    let hasty = gather(first..first + given_up, |number| on_random(number, &random_bake(number)));
    hasty.print("made at random, given up");
}
