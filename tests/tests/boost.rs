//! Boost drives the air above the window, never a part.
//!
//! Goal: with boost in every soak no part is truly hotter than `at_most` at any time, the coast
//! after the soak included, and no bake that passes without boost fails with it. Method: every kind
//! of shipped load on plants half of which stand at corners of the spread. `TRUESOAK_DRAWS` sets how
//! many plants each is tried on.

use truesoak::files::Setup;
use truesoak::rehearse::{Bench, Case};
use truesoak::report::result::Verdict;
use truesoak::trial::plant;
use truesoak_core::bake::Step;
use truesoak_core::units::Kelvins;
use truesoak_tests::{draws, setup};

/// Plants each is tried on.
const PLANTS: u64 = 2;
const BAKES: [&str; 6] = [
    "gas-out-hubs.toml",
    "cure-hubs.toml",
    "gas-out-chain-guards-300f.toml",
    "gas-out-crown.toml",
    "low-cure-pedals.toml",
    "whole-day.toml",
];

/// A shipped bake with as much boost in each of its soaks; the upper end they share, °C.
fn boosted(bake: &str, boost_k: f32) -> (Setup, f64) {
    let mut setup = setup(bake, &[]);
    let mut at_most_c = f64::INFINITY;
    for step in &mut setup.bake.bake.steps {
        if let Step::Soak(soak) = step {
            soak.boost = Kelvins(boost_k);
            at_most_c = at_most_c.min(f64::from(soak.at_most.0));
        }
    }
    (setup, at_most_c)
}

/// Least distance of any part from `at_most`, K, and the mean duration, s.
fn margin(bake: &str, boost_k: f32) -> (f64, f64) {
    let (setup, at_most_c) = boosted(bake, boost_k);
    let bench = Bench::new(&setup).unwrap_or_else(|refusal| panic!("{refusal}"));
    let (mut least_k, mut sum_s) = (f64::INFINITY, 0.0);
    for number in 0..draws(PLANTS) {
        let case = Case { truth: &setup, draw: plant(&setup, number), seed: number + 1 };
        let mut trace = bench.trace(&case, false);
        let ran = bench.bake(&case, &mut trace).unwrap_or_else(|refusal| panic!("{refusal}"));
        let result = bench.result(&case, &ran, &mut trace);
        let at = format!("{bake}, boost {boost_k} K, plant {number}");
        assert_eq!(result.verdict, Verdict::Pass, "{at}: {}", result.reason);
        assert_eq!(result.truth, Some(Verdict::Pass), "{at}");
        for peak_c in result.parts.iter().filter_map(|part| part.peak_c) {
            assert!(peak_c <= at_most_c, "{at}: {peak_c} °C");
            least_k = least_k.min(at_most_c - peak_c);
        }
        sum_s += result.duration_s;
    }
    (least_k, sum_s / draws(PLANTS) as f64)
}

#[test]
fn boost_leads_no_part_out_of_its_window_above() {
    for bake in BAKES {
        let (_, without_s) = margin(bake, 0.0);
        for boost_k in [5.0, 15.0] {
            let (least_k, with_s) = margin(bake, boost_k);
            println!(
                "{bake}, boost {boost_k} K: {} plants, no part nearer to at_most than {least_k:.2} K, \
                 {:.1} min saved on average",
                draws(PLANTS),
                (without_s - with_s) / 60.0
            );
        }
    }
}
