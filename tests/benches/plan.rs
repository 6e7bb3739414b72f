//! What a plan costs. Prints; judges nothing.
//!
//! `cargo bench -p truesoak-tests --bench plan`: the plan of a thousand draws on the bake that the
//! speed of a rehearsal is told for, once, on as many threads as the machine has; then its shares,
//! each on one thread.

use std::path::Path;
use std::sync::Mutex;
use std::time::{Duration, Instant};
use truesoak::files::Setup;
use truesoak::plan::{Plan, Progress, Wanted, plan};
use truesoak::report::units::Units;
use truesoak_tests::{path, read};

const RUNS: usize = 1000;
/// Draws on which the shares are told.
const SAMPLE: usize = 100;

/// When each stage began.
#[derive(Default)]
struct Stages(Mutex<Vec<(String, Instant)>>);

impl Progress for Stages {
    fn begin(&self, what: &str, _count: usize) {
        self.0.lock().expect("no other panic").push((what.to_owned(), Instant::now()));
    }
    fn step(&self) {}
}

impl Stages {
    /// How long each stage took, the last until now.
    fn took(self) -> Vec<(String, Duration)> {
        let begun = self.0.into_inner().expect("no other panic");
        let ends = begun.iter().skip(1).map(|(_, at)| *at).chain([Instant::now()]);
        let took = |((what, from), to): ((String, Instant), Instant)| (what, to - from);
        let ends: Vec<Instant> = ends.collect();
        begun.into_iter().zip(ends).map(took).collect()
    }
}

fn planned(path: &Path, setup: &Setup, runs: usize, threads: usize) -> (Plan, Stages, Duration) {
    let wanted = Wanted {
        path,
        set: &[],
        setup,
        runs,
        seed: 1,
        threads,
        keeps_courses: false,
        units: Units::Celsius,
    };
    let (stages, from) = (Stages::default(), Instant::now());
    let plan = plan(&wanted, &stages).unwrap_or_else(|refusal| panic!("{refusal}"));
    (plan, stages, from.elapsed())
}

fn main() {
    let path = path("tests/benches/mixed-batch/bake.toml");
    let setup = read(&path, &[]);
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    let (plan, stages, whole) = planned(&path, &setup, RUNS, threads);
    println!("plan of {RUNS} draws on {threads} threads: {:.1} s", whole.as_secs_f64());
    for (what, took) in stages.took() {
        println!("  {what}: {:.1} s", took.as_secs_f64());
    }
    println!("  {} of {} pass, {} changes", plan.passes(), plan.drawn.len(), plan.advice.len());
    let (_, stages, _) = planned(&path, &setup, SAMPLE, 1);
    for (what, took) in stages.took() {
        println!("one thread, {SAMPLE} draws, {what}: {:.2} s", took.as_secs_f64());
    }
}
