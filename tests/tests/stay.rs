//! No part is above the lower end of its window for longer than its soak allows.
//!
//! Goal: a limit that cannot hold is refused with one that can; that one then holds on any plant the
//! spread allows, with every minute of the soak; and whatever else happens no part truly stays too
//! long, cooling included. Method: shipped bakes given a limit, rehearsed on plants half of which
//! stand at corners of the spread; what is judged is the plant's own temperature. `TRUESOAK_DRAWS`
//! sets how many plants.

use truesoak::files::bake::{DoorScript, FaultScript, Moment};
use truesoak::files::{Refusal, Setup};
use truesoak::rehearse::{Bench, Case};
use truesoak::report::result::{BakeResult, Verdict};
use truesoak::trial::plant;
use truesoak_core::bake::Step;
use truesoak_tests::{draws, setup};

/// Plants each is tried on.
const PLANTS: u64 = 2;

/// A shipped bake whose `step`, by index, has a limit.
fn limited(bake: &str, step: usize, limit_min: u32) -> Setup {
    let limit = format!("bake.step.{}.soak.no_longer_than=\"{limit_min} min\"", step + 1);
    setup(bake, &[&limit])
}

fn refusal(bake: &str, step: usize, limit_min: u32) -> Option<Refusal> {
    Bench::new(&limited(bake, step, limit_min)).err()
}

/// The limit a refusal names, min.
fn named_min(refusal: &Refusal) -> u32 {
    let text = refusal.to_string();
    let (_, rest) = text.split_once("at least ").unwrap_or_else(|| panic!("{text}"));
    rest.split_once(" min").and_then(|(number, _)| number.parse().ok()).expect("a number")
}

/// Every result on the plants, and the longest any part truly was above the lower end, s.
fn run(setup: &Setup, step: usize) -> (Vec<BakeResult>, f64) {
    let bench = Bench::new(setup).unwrap_or_else(|refusal| panic!("{refusal}"));
    let mut longest_s = 0.0_f64;
    let results = (0..draws(PLANTS)).map(|number| {
        let case = Case { truth: setup, draw: plant(setup, number), seed: number + 1 };
        let mut trace = bench.trace(&case, false);
        let ran = bench.bake(&case, &mut trace).unwrap_or_else(|refusal| panic!("{refusal}"));
        let result = bench.result(&case, &ran, &mut trace);
        let false_pass = result.verdict == Verdict::Pass && result.truth != Some(Verdict::Pass);
        assert!(!false_pass, "plant {number}: a false pass");
        let soaks = result.parts.iter().flat_map(|part| &part.soaks);
        let above_s = soaks.filter(|soak| soak.step == step + 1).map(|soak| soak.above_s);
        longest_s = above_s.fold(longest_s, f64::max);
        result
    });
    (results.collect(), longest_s)
}

/// Bakes, the soak's index and a limit that cannot hold, min: a load of two metals, a thick lump with
/// thin clips, parts all alike, a polymer in cells behind a fan.
const TOO_SHORT: [(&str, usize, u32); 4] = [
    ("gas-out-hubs.toml", 2, 90),
    ("gas-out-crown.toml", 2, 240),
    ("gas-out-chain-guards-300f.toml", 2, 90),
    ("low-cure-pedals.toml", 2, 200),
];

#[test]
fn a_limit_that_cannot_hold_is_refused_with_the_shortest_that_does() {
    for (bake, step, limit_min) in TOO_SHORT {
        let refused = refusal(bake, step, limit_min).unwrap_or_else(|| panic!("{bake} is taken"));
        let holds_min = named_min(&refused);
        assert!(refusal(bake, step, holds_min - 1).is_some(), "{bake}: {holds_min} min");
        let setup = limited(bake, step, holds_min);
        let (results, longest_s) = run(&setup, step);
        for (number, result) in results.iter().enumerate() {
            assert_eq!(result.verdict, Verdict::Pass, "{bake}, {number}: {}", result.reason);
        }
        println!(
            "{bake}: at least {holds_min} min; of {} plants every one passed, no part truly above \
             for longer than {:.1} min",
            results.len(),
            longest_s / 60.0
        );
        assert!(longest_s <= f64::from(60 * holds_min), "{bake}: {longest_s} s");
    }
}

/// Without the limit the clips of the same load are above for far longer.
#[test]
fn thin_parts_wait_for_thick_ones() {
    let free = limited("gas-out-crown.toml", 2, 1_000);
    let held = limited("gas-out-crown.toml", 2, 300);
    let ((_, free_s), (_, held_s)) = (run(&free, 2), run(&held, 2));
    println!("clips above: {:.0} min freely, {:.0} min held", free_s / 60.0, held_s / 60.0);
    assert!(free_s > 300.0 * 60.0, "{free_s} s");
    assert!(held_s < 300.0 * 60.0, "{held_s} s");
}

/// What nobody could know before takes minutes; a part still does not stay too long, the bake is
/// short instead.
#[test]
fn doors_and_lost_supplies_end_a_soak_short_rather_than_late() {
    let mut short = 0;
    for (bake, limit_min) in [("gas-out-hubs.toml", 150), ("gas-out-chain-guards-300f.toml", 120)] {
        let sound = limited(bake, 2, limit_min);
        // Both in the soak and before anything in it is hot.
        for at_s in [1_200.0, 9_000.0] {
            for lasts_s in [60.0, 2_400.0] {
                let at = Moment::SinceStep(2, at_s);
                let mut doored = sound.clone();
                let open_for_s = f64::min(lasts_s, 300.0);
                doored.bake.doors.push(DoorScript { at, open_for_s, loads: false, opening: 1.0 });
                let mut dark = sound.clone();
                let kind = "supply-lost".to_owned();
                dark.bake.faults = vec![FaultScript { at, kind, for_s: Some(lasts_s), by_k: None }];
                for changed in [doored, dark] {
                    let (results, longest_s) = run(&changed, 2);
                    let what = format!("{bake}: {lasts_s} s at {at_s} s");
                    assert!(longest_s <= f64::from(60 * limit_min), "{what}: {longest_s} s");
                    short += results.iter().filter(|r| r.verdict == Verdict::Short).count();
                    let no_trip = results.iter().all(|result| result.trips.is_empty());
                    assert!(no_trip, "{what}: a trip");
                }
            }
        }
    }
    assert!(short > 0, "nothing was ever short: the cases take no time");
    println!("{short} bakes short");
}

/// A limit nobody comes near to changes nothing, to the tick.
#[test]
fn a_limit_that_is_far_away_changes_nothing() {
    let far = limited("gas-out-hubs.toml", 2, 1_000);
    let mut none = far.clone();
    if let Some(Step::Soak(soak)) = none.bake.bake.steps.get_mut(2) {
        soak.no_longer_than_s = None;
    }
    let ends = |setup: &Setup| -> Vec<f64> {
        run(setup, 2).0.iter().map(|result| result.duration_s).collect()
    };
    assert_eq!(ends(&far), ends(&none));
}
