//! The shipped bakes against the oracle, which knows everything: `cargo bench -p truesoak-tests
//! --bench oracle`. Prints; judges nothing. `TRUESOAK_DRAWS` sets on how many plants.
//!
//! Every figure is a ratio, p50 and p95 over the plants: what the controller takes by what the
//! oracle takes on the same plant, or by the oracle on the slowest plant of the spread. *Known* is the
//! same controller told the very plant, *probe* one with a probe on the slowest part. Lead is what
//! the first soak takes beyond its minutes. Bakes that give up or have a fault are left out.

mod support;

use std::time::Instant;
use support::{shown, told};
use truesoak::files::Setup;
use truesoak::plant::Draw;
use truesoak::rehearse::{Bench, Case};
use truesoak_tests::{draws, setup};

/// Shipped bakes with soaks that end, and each one's slowest part, from 0.
const BAKES: [(&str, usize); 7] = [
    ("gas-out-chain-guards-300f", 0),
    ("door-mid-soak", 0),
    ("gas-out-hubs", 1),
    ("cure-hubs", 1),
    ("gas-out-crown", 0),
    ("low-cure-pedals", 0),
    ("whole-day", 0),
];

/// Values of a spread.
const VALUES: usize = 10;

fn main() {
    let draws = draws(20);
    println!("controller by oracle, p50 and p95 of {draws} plants and the nominal one");
    println!(
        "{:26}{:>13}{:>13}{:>13}{:>13}{:>13}{:>13}{:>8}{:>8}",
        "",
        "lead, known",
        "probe",
        "neither",
        "by slowest",
        "whole bake",
        "oracle, min",
        "passes",
        "ms"
    );
    for (bake, slowest) in BAKES {
        print_row(bake, slowest, draws);
    }
}

/// What one bake took.
#[derive(Clone, Copy)]
struct Took {
    whole_s: f64,
    lead_s: f64,
}

fn print_row(bake: &str, slowest: usize, draws: u64) {
    let plain = setup(bake, &[]);
    let mut probed = plain.clone();
    probed.load.parts[slowest].probe = true;
    let plants: Vec<Draw> = (1..=draws)
        .map(|number| Draw::nth(&plain.oven, 80_000 + number))
        .chain([Draw::nominal(&plain.oven)])
        .collect();
    let bench = Bench::new(&plain).unwrap_or_else(|refusal| panic!("{refusal}"));
    let began = Instant::now();
    let oracles: Vec<_> = plants.iter().map(|draw| oracle(&bench, &plain, *draw)).collect();
    let oracle_ms = 1e3 * began.elapsed().as_secs_f64() / plants.len() as f64;
    let passes = oracles.iter().filter(|took| took.lead_s.is_finite()).count();
    let drawn_s = oracles.iter().map(|took| took.lead_s).fold(0.0, f64::max);
    let slowest_s = slowest_lead_s(&bench, &plain).max(drawn_s);
    let (mut known, mut probe, mut own, mut by_slowest, mut whole) =
        (vec![], vec![], vec![], vec![], vec![]);
    for (draw, oracle) in plants.iter().zip(&oracles) {
        let told = Setup { oven: told(&plain.oven, draw), ..plain.clone() };
        known.push(controller(&told, &plain, *draw).lead_s / oracle.lead_s);
        probe.push(controller(&probed, &probed, *draw).lead_s / oracle.lead_s);
        let took = controller(&plain, &plain, *draw);
        own.push(took.lead_s / oracle.lead_s);
        by_slowest.push(took.lead_s / slowest_s);
        whole.push(took.whole_s / oracle.whole_s);
    }
    let mut lead_min: Vec<f64> = oracles.iter().map(|took| took.lead_s / 60.0).collect();
    println!(
        "{bake:26}{:>13}{:>13}{:>13}{:>13}{:>13}{:>13}{passes:>8}{oracle_ms:>8.0}",
        shown(&mut known, 2),
        shown(&mut probe, 2),
        shown(&mut own, 2),
        shown(&mut by_slowest, 2),
        shown(&mut whole, 2),
        shown(&mut lead_min, 1),
    );
}

fn oracle(bench: &Bench<'_>, truth: &Setup, draw: Draw) -> Took {
    let case = Case { truth, draw, seed: 1 };
    let oracle = bench.oracle(&case).unwrap_or_else(|refusal| panic!("{refusal}"));
    let lead_s = oracle.soaks.first().and_then(|soak| soak.lead_s).filter(|_| oracle.passes());
    Took { whole_s: oracle.duration_s, lead_s: lead_s.unwrap_or(f64::INFINITY) }
}

/// The oracle's lead on the slowest plant, which is looked for at the ends of one value of the spread
/// after the other, s.
fn slowest_lead_s(bench: &Bench<'_>, setup: &Setup) -> f64 {
    let mut shares = [0.5; VALUES];
    let mut longest_s = 0.0;
    for value in 0..VALUES {
        for end in [0.0, 1.0] {
            let mut tried = shares;
            tried[value] = end;
            let lead_s = oracle(bench, setup, Draw::at(&setup.oven, |index| tried[index])).lead_s;
            // One that does not pass is no measure.
            if lead_s.is_finite() && lead_s > longest_s {
                (longest_s, shares) = (lead_s, tried);
            }
        }
    }
    longest_s
}

/// A bake that does not pass takes for ever.
fn controller(believed: &Setup, truth: &Setup, draw: Draw) -> Took {
    let case = Case { truth, draw, seed: 1 };
    let forever = Took { whole_s: f64::INFINITY, lead_s: f64::INFINITY };
    // What a person would believe of some plants leaves no window to bake in.
    let Ok(bench) = Bench::new(believed) else { return forever };
    let mut trace = bench.trace(&case, false);
    let ran = bench.bake(&case, &mut trace).unwrap_or_else(|refusal| panic!("{refusal}"));
    let result = bench.result(&case, &ran, &mut trace);
    let soak = result.parts.first().and_then(|part| part.soaks.first());
    match soak.and_then(|soak| soak.lead_s).filter(|_| result.is_good()) {
        Some(lead_s) => Took { whole_s: result.duration_s, lead_s },
        None => forever,
    }
}
