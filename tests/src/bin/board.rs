//! Runs the emulated board's scenarios and prints a table.
//!
//! `board --image FILE.elf` runs the short ones, `--all` every one; `--only WORDS` those whose name has
//! the words in it. Exit 1 if one failed. DEVELOPERS.md, "The emulated board", says what they show.

use clap::Parser;
use std::path::PathBuf;
use std::process::ExitCode;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};
use truesoak_tests::emulated::process::Mode;
use truesoak_tests::emulated::scenario::{Context, Outcome, Scenario, all};

/// Runs the image that is flashed on an emulated board, in closed loop with the plant.
#[derive(Debug, Parser)]
struct Arguments {
    /// The sealed image.
    #[arg(long, default_value = "firmware/boards/rp2040/target/truesoak.elf")]
    image: PathBuf,
    /// Every scenario, not only the short ones.
    #[arg(long)]
    all: bool,
    /// Only scenarios whose name has this in it.
    #[arg(long)]
    only: Option<String>,
    /// Seed of noise and of what is drawn.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// How the processor is emulated where a scenario does not say: exact, fast or float.
    #[arg(long, default_value = "float")]
    mode: String,
    /// Scenarios at a time.
    #[arg(long, default_value_t = 2)]
    jobs: usize,
    /// Minutes after which a board that is not done is ended: 10, or with --all 90.
    #[arg(long)]
    minutes: Option<f64>,
    /// Print the names and run nothing.
    #[arg(long)]
    list: bool,
}

fn main() -> ExitCode {
    let arguments = Arguments::parse();
    let mode = match arguments.mode.as_str() {
        "exact" => Mode::Exact,
        "fast" => Mode::Fast,
        "float" => Mode::Float,
        other => {
            eprintln!("error: no mode \"{other}\": exact, fast or float");
            return ExitCode::from(2);
        }
    };
    let only = arguments.only.as_deref();
    let wanted: Vec<Scenario> = all()
        .into_iter()
        .filter(|scenario| only.is_some() || arguments.all || scenario.is_short)
        .filter(|scenario| only.is_none_or(|words| scenario.name.contains(words)))
        .collect();
    if arguments.list {
        wanted.iter().for_each(|scenario| println!("{}", scenario.name));
        return ExitCode::SUCCESS;
    }
    if !arguments.image.is_file() {
        eprintln!("error: no image at {}", arguments.image.display());
        eprintln!("next: build it by firmware/boards/rp2040/build");
        return ExitCode::from(2);
    }
    let minutes = arguments.minutes.unwrap_or(if arguments.all { 90.0 } else { 10.0 });
    let wall_max = Duration::from_secs_f64(60.0 * minutes.clamp(0.1, 1e4));
    let context = Context { elf: arguments.image, mode, seed: arguments.seed, wall_max };
    // What a scenario says of its end is in the table; a backtrace would stand in it.
    std::panic::set_hook(Box::new(|_| ()));
    println!("{:<58} {:>11} {:>8}  result", "scenario", "simulated", "wall");
    let begun = Instant::now();
    let outcomes = run(&wanted, &context, arguments.jobs.max(1));
    sum_up(&outcomes, &context, begun.elapsed())
}

/// What failed, how to repeat it, and the whole.
fn sum_up(outcomes: &[Outcome], context: &Context, wall: Duration) -> ExitCode {
    let failed: Vec<&Outcome> = outcomes.iter().filter(|of| of.result.is_err()).collect();
    for outcome in &failed {
        let Err(words) = &outcome.result else { continue };
        println!("\n{}: {words}", outcome.name);
        println!("again: board --only {:?} --seed {}", outcome.name, context.seed);
    }
    let simulated_s: f64 = outcomes.iter().flat_map(|of| &of.result).map(|of| of.simulated_s).sum();
    println!(
        "\n{} of {} scenarios passed: {:.1} h simulated in {:.1} min",
        outcomes.len() - failed.len(),
        outcomes.len(),
        simulated_s / 3600.0,
        wall.as_secs_f64() / 60.0
    );
    if failed.is_empty() { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

/// Runs them, so many at a time, and tells each as it ends.
fn run(wanted: &[Scenario], context: &Context, jobs: usize) -> Vec<Outcome> {
    let (next, outcomes) = (AtomicUsize::new(0), Mutex::new(Vec::new()));
    std::thread::scope(|scope| {
        for _ in 0..jobs {
            scope.spawn(|| {
                while let Some(scenario) = wanted.get(next.fetch_add(1, Ordering::Relaxed)) {
                    let outcome = scenario.outcome(context);
                    tell(&outcome);
                    if let Ok(mut outcomes) = outcomes.lock() {
                        outcomes.push(outcome);
                    }
                }
            });
        }
    });
    outcomes.into_inner().unwrap_or_default()
}

fn tell(outcome: &Outcome) {
    let wall_s = outcome.wall.as_secs_f64();
    match &outcome.result {
        Ok(seen) => println!(
            "{:<58} {:>9.0} s {wall_s:>6.1} s  {}",
            outcome.name, seen.simulated_s, seen.words
        ),
        Err(words) => {
            let first = words.lines().next().unwrap_or_default();
            println!("{:<58} {:>11} {wall_s:>6.1} s  FAILED: {first}", outcome.name, "");
        }
    }
}
