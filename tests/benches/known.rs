//! Where the lead of a plant that is known goes: `cargo bench -p truesoak-tests --bench known`. Prints;
//! judges nothing. `TRUESOAK_DRAWS` sets on how many plants.
//!
//! Every figure is a ratio to the oracle's lead, p50 over the plants, of the controller told the very
//! plant. *Shown* is the lead it takes, *truly* when every part truly was in; what lies between is what
//! the bounds allow for. Two of those allowances are taken away in turn, in ways no bake could be run:
//! the board's films are believed to be the very law, or everything that is loaded is as cold as a
//! person's word is allowed to be wrong by, for the oracle too.

mod support;

use support::{shown, told};
use truesoak::compile::{self, tuning::tune};
use truesoak::files::Setup;
use truesoak::plant::Draw;
use truesoak::rehearse::{Bench, Board, Case, Trace, World, model_of, run};
use truesoak_core::Controller;
use truesoak_core::bake::Step;
use truesoak_core::bounds::model::{Film, Model};
use truesoak_core::units::Span;
use truesoak_tests::{draws, setup};

const BAKES: [&str; 6] = [
    "gas-out-chain-guards-300f",
    "gas-out-hubs",
    "cure-hubs",
    "gas-out-crown",
    "low-cure-pedals",
    "whole-day",
];
/// How much colder than told parts may come in (`core/src/bounds`), K.
const COLDER_K: f64 = 5.0;

fn main() {
    let draws = draws(8);
    println!("lead by the oracle's, p50 and p95 of {draws} plants and the nominal one");
    println!(
        "{:26}{:>11}{:>11}{:>11}{:>11}{:>11}{:>18}",
        "", "shown", "very law", "as cold", "both", "truly", "law by fit"
    );
    for bake in BAKES {
        print_row(bake, draws);
    }
}

fn print_row(bake: &str, draws: u64) {
    let plain = setup(bake, &[]);
    let cold = colder(&plain);
    let plants = (1..=draws).map(|number| Draw::nth(&plain.oven, 80_000 + number));
    let [mut known, mut law, mut start, mut both, mut truly] = [const { Vec::new() }; 5];
    let mut spans = String::new();
    for draw in plants.chain([Draw::nominal(&plain.oven)]) {
        let believed = Setup { oven: told(&plain.oven, &draw), ..plain.clone() };
        let (best_s, best_cold_s) = (oracle_s(&plain, draw), oracle_s(&cold, draw));
        let as_is = |_: &mut Model| {};
        let took = lead(&believed, &plain, draw, as_is);
        known.push(took.0 / best_s);
        truly.push(took.1 / best_s);
        law.push(lead(&believed, &plain, draw, very_law).0 / best_s);
        start.push(lead(&believed, &cold, draw, as_is).0 / best_cold_s);
        both.push(lead(&believed, &cold, draw, very_law).0 / best_cold_s);
        if let Ok(model) = model_of(&believed) {
            let slow = model.classes.iter().map(|class| class.slow.film.law);
            let ends = slow.chain([model.cabinet.liner_film.law]);
            spans = ends.map(|law| format!(" {:.3}-{:.3}", law.low, law.high)).collect();
        }
    }
    let column = |values: &mut Vec<f64>| shown(values, 2);
    println!(
        "{bake:26}{:>11}{:>11}{:>11}{:>11}{:>11} {spans}",
        column(&mut known),
        column(&mut law),
        column(&mut start),
        column(&mut both),
        column(&mut truly),
    );
}

/// Everything that is loaded as much colder as it may be.
fn colder(setup: &Setup) -> Setup {
    let mut setup = setup.clone();
    let parts = setup.load.parts.iter_mut().map(|part| &mut part.starts_at_c);
    let rack = setup.load.rack.iter_mut().map(|rack| &mut rack.starts_at_c);
    parts.chain(rack).for_each(|starts_at_c| *starts_at_c -= COLDER_K);
    setup
}

/// Films that are their fit exactly.
fn very_law(model: &mut Model) {
    let exact = |film: &mut Film| film.law = Span::exactly(film.law.middle());
    for class in &mut model.classes {
        exact(&mut class.slow.film);
        exact(&mut class.fast.film);
    }
    if let Some(rack) = &mut model.rack {
        exact(&mut rack.film);
    }
    exact(&mut model.cabinet.liner_film);
}

fn oracle_s(truth: &Setup, draw: Draw) -> f64 {
    let bench = Bench::new(truth).unwrap_or_else(|refusal| panic!("{refusal}"));
    let oracle = bench.oracle(&Case { truth, draw, seed: 1 });
    let oracle = oracle.unwrap_or_else(|refusal| panic!("{refusal}"));
    oracle.soaks.first().and_then(|soak| soak.lead_s).unwrap_or(f64::INFINITY)
}

/// The first soak's lead, and when every part truly was in from where that counts, s.
fn lead(believed: &Setup, truth: &Setup, draw: Draw, change: impl Fn(&mut Model)) -> (f64, f64) {
    let Ok(mut model) = model_of(believed) else { return (f64::INFINITY, f64::INFINITY) };
    let settings = compile::settings(&believed.oven, tune(believed, &model).tuning);
    change(&mut model);
    let mut world = World::new(&believed.bake, &truth.oven, &truth.load, &draw, &believed.oven, 1);
    let mut board = Board::new(Controller::new(believed.bake.bake.clone(), model, settings));
    let mut trace = Trace::new(&believed.bake, &truth.load, false);
    run(&mut board, &mut world, false, &mut trace);
    let parts = trace.tally.parts(&truth.load, None);
    let firsts = || parts.iter().filter_map(|part| part.soaks.first());
    let lead_s = firsts().find_map(|soak| soak.lead_s).unwrap_or(f64::INFINITY);
    let reached_s = firsts().filter_map(|soak| soak.reached_s).fold(0.0, f64::max);
    let step = firsts().next().map(|soak| soak.step);
    let ended = trace.chronicle.steps.iter().find(|run| Some(run.index) == step);
    let asked_s = believed.bake.bake.steps.iter().find_map(|step| match step {
        Step::Soak(soak) => Some(f64::from(soak.for_s)),
        _ => None,
    });
    let ended_s = ended.and_then(|run| run.ended_s).unwrap_or(f64::INFINITY);
    (lead_s, reached_s - (ended_s - asked_s.unwrap_or(0.0) - lead_s))
}
