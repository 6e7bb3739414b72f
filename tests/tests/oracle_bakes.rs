//! The oracle on whole bakes: it keeps every limit, passes what can pass, and is sooner than the
//! controller.
//!
//! Method: shipped bakes on the nominal plant and on draws. That its heat is the best there is is
//! shown on small ovens (`oracle_optimum`); here it is whole ovens, doors, checks, boosts and thick
//! parts.

use truesoak::files::Setup;
use truesoak::plant::Draw;
use truesoak::rehearse::{Bench, Case, Oracle};
use truesoak::report::result::{BakeResult, Verdict};
use truesoak_tests::setup;

const BAKES: [&str; 7] = [
    "gas-out-hubs",
    "cure-hubs",
    "low-cure-pedals",
    "whole-day",
    "door-mid-soak",
    "gas-out-chain-guards-300f",
    "gas-out-crown",
];

fn oracle(setup: &Setup, draw: Draw) -> Oracle {
    let bench = Bench::new(setup).unwrap_or_else(|refusal| panic!("{refusal}"));
    let case = Case { truth: setup, draw, seed: 1 };
    bench.oracle(&case).unwrap_or_else(|refusal| panic!("{refusal}"))
}

/// Oracle and controller on one plant: it passes, and sooner.
fn sooner(name: &str, setup: &Setup, draw: Draw) -> (Oracle, BakeResult) {
    let bench = Bench::new(setup).unwrap_or_else(|refusal| panic!("{refusal}"));
    let case = Case { truth: setup, draw, seed: 1 };
    let oracle = bench.oracle(&case).expect("a plant that can be followed");
    assert!(oracle.passes(), "{name}: {oracle:?}");
    let mut trace = bench.trace(&case, false);
    let ran = bench.bake(&case, &mut trace).expect("a plant that can be followed");
    let result = bench.result(&case, &ran, &mut trace);
    assert!(oracle.duration_s < result.duration_s, "{name}: {oracle:?}");
    (oracle, result)
}

#[test]
fn it_passes_every_shipped_bake_sooner_than_the_controller() {
    for name in BAKES {
        let setup = setup(name, &[]);
        for draw in
            [Draw::nominal(&setup.oven), Draw::nth(&setup.oven, 1), Draw::nth(&setup.oven, 2)]
        {
            let (oracle, result) = sooner(name, &setup, draw);
            // A part may be left out of a soak; leads are those of whichever was in.
            for soak in &oracle.soaks {
                let mut all = result.parts.iter().flat_map(|part| &part.soaks);
                let its = all.find(|other| (other.step, other.round) == (soak.step, soak.round));
                let lead_s = its.and_then(|its| its.lead_s).expect("the controller's lead");
                assert!(soak.lead_s.expect("a lead") < lead_s, "{name}: {soak:?} of {lead_s}");
            }
        }
    }
}

/// Limits a little longer than the shortest the controller can hold, min (DEVELOPERS, "A limit on the
/// stay").
const LIMITS: [(&str, &str, u32); 4] = [
    ("gas-out-hubs", "gas-out", 150),
    ("gas-out-crown", "gas-out", 272),
    ("gas-out-chain-guards-300f", "gas-out", 122),
    ("low-cure-pedals", "low cure", 260),
];

#[test]
fn it_holds_every_limit_the_controller_holds_and_is_sooner() {
    for (name, step, limit_min) in LIMITS {
        let set = format!("bake.step.\"{step}\".soak.no_longer_than={limit_min} min");
        let setup = setup(name, &[&set]);
        for draw in [Draw::nominal(&setup.oven), Draw::nth(&setup.oven, 1)] {
            let _ = sooner(name, &setup, draw);
        }
    }
}

#[test]
fn more_room_above_makes_it_no_slower_and_a_lower_roof_no_faster() {
    let bake = "gas-out-hubs";
    let lead_s = |set: &[&str]| {
        let setup = setup(bake, set);
        oracle(&setup, Draw::nominal(&setup.oven)).lead_s().expect("a lead")
    };
    let plain_s = lead_s(&[]);
    let boosted_s = lead_s(&["bake.step.\"gas-out\".soak.boost=\"10 °C\""]);
    let wider_s = lead_s(&["bake.step.\"gas-out\".soak.at_most=\"185 °C\""]);
    let narrower_s = lead_s(&["bake.step.\"gas-out\".soak.at_most=\"174 °C\""]);
    assert!(boosted_s < plain_s - 60.0, "{boosted_s} of {plain_s}");
    assert!(wider_s < plain_s - 60.0, "{wider_s} of {plain_s}");
    assert!(narrower_s > plain_s + 60.0, "{narrower_s} of {plain_s}");
}

#[test]
fn what_gives_up_gives_up_knowing_everything_too() {
    let setup = setup("give-up", &[]);
    let oracle = oracle(&setup, Draw::nominal(&setup.oven));
    assert!(oracle.finished && !oracle.passes());
    assert_eq!(oracle.verdict(), Verdict::Short);
}
