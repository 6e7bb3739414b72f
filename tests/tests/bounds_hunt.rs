//! Somebody who looks for a plant that is colder or hotter than the controller says.
//!
//! Goal: no plant of the spread, however chosen, lies outside the bounds of any shipped bake.
//! Method: an evolution strategy of one parent and one child in the unit cube of everything the
//! spread leaves open, after a start at corners; what it makes least is the margin of one bound. It
//! knows nothing of the model. `TRUESOAK_EVALUATIONS` sets the bakes spent on each bound.

#[path = "bounds_support/enclosed.rs"]
mod enclosed;

use enclosed::margins;
use rand_core::{RngCore, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;
use truesoak::files::Setup;
use truesoak::plant::Draw;
use truesoak::rehearse::Request;
use truesoak_tests::{quick, rehearsed, setup};

/// Values the spread leaves open.
const OPEN: usize = 14;
/// Those of them that are neither the other sensors' own errors nor what the parts see of the room.
const PLANT: usize = 10;
/// Share of the evaluations spent on corners before the search.
const CORNERS: f64 = 0.3;
/// Share of the children that jump to the far end of a value.
const JUMPS: f64 = 0.4;
/// Most a value of the other children moves by.
const STEP: f64 = 0.4;

const BAKES: [&str; 7] = [
    "gas-out-hubs.toml",
    "cure-hubs.toml",
    "gas-out-chain-guards-300f.toml",
    "door-mid-soak.toml",
    "gas-out-crown.toml",
    "low-cure-pedals.toml",
    "whole-day.toml",
];

type Shares = [f64; OPEN];

/// The bound that is hunted.
#[derive(Clone, Copy, Debug)]
enum Bound {
    Coldest,
    Hottest,
}

struct Dice(Xoshiro256PlusPlus);

impl Dice {
    /// Uniform, 0..1.
    fn share(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn corner(&mut self) -> Shares {
        core::array::from_fn(|_| self.share().round())
    }

    /// A child of a plant: one to three values moved or turned to their far end.
    fn child(&mut self, parent: &Shares) -> Shares {
        let mut child = *parent;
        for _ in 0..1 + (3.0 * self.share()) as usize {
            let value = &mut child[(OPEN as f64 * self.share()) as usize];
            *value = if self.share() < JUMPS {
                f64::from(*value < 0.5)
            } else {
                (*value + STEP * (2.0 * self.share() - 1.0)).clamp(0.0, 1.0)
            };
        }
        child
    }
}

/// Margin of one bound on one plant, K.
fn margin_k(setup: &Setup, shares: &Shares, bound: Bound) -> f64 {
    let mut sensors = shares[PLANT..].iter().copied();
    let draw = Draw::at(&setup.oven, |index| shares[index])
        .with_others(&setup.oven, || sensors.next().unwrap_or(0.5));
    let rehearsal = rehearsed(&Request { exactly: Some(draw), ..quick(setup) });
    assert!(rehearsal.result.trips.is_empty(), "{:?} on {shares:?}", rehearsal.result.trips);
    let (cold, hot) = margins(&rehearsal.trace);
    match bound {
        Bound::Coldest => cold,
        Bound::Hottest => hot,
    }
}

/// The least margin found, K, and where.
fn hunt(setup: &Setup, bound: Bound, evaluations: usize) -> (f64, Shares) {
    let mut dice = Dice(Xoshiro256PlusPlus::seed_from_u64(0x6875_6E74));
    let corners = ((CORNERS * evaluations as f64) as usize).max(1);
    let mut best = (f64::INFINITY, [0.5; OPEN]);
    for evaluation in 0..evaluations {
        let shares = if evaluation < corners { dice.corner() } else { dice.child(&best.1) };
        let found_k = margin_k(setup, &shares, bound);
        if found_k <= best.0 {
            best = (found_k, shares);
        }
    }
    best
}

fn evaluations() -> usize {
    let typed = std::env::var("TRUESOAK_EVALUATIONS").ok();
    typed.and_then(|text| text.parse().ok()).unwrap_or(16)
}

#[test]
fn nobody_who_looks_for_it_finds_a_plant_outside_the_bounds() {
    let evaluations = evaluations();
    std::thread::scope(|scope| {
        for bound in [Bound::Coldest, Bound::Hottest] {
            scope.spawn(move || {
                for bake in BAKES {
                    let setup = setup(bake, &[]);
                    let (least_k, at) = hunt(&setup, bound, evaluations);
                    println!("{bake:32} {bound:?}: {least_k:.3} K after {evaluations} bakes");
                    assert!(least_k >= 0.0, "{bake}, {bound:?}: {least_k} K at {at:?}");
                }
            });
        }
    });
}
