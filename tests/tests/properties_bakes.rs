//! Properties of whole bakes, drawn at random with faults and people as they come.
//!
//! Goal: credit never exceeds the time that passed and falls only by rule; the coldest bound is
//! never above the hottest; every bake ends. Method: bakes of the fault campaign, on seeds that
//! proptest draws; what is judged is the log. `PROPTEST_CASES` sets how many, drawn anew each time;
//! without it they are few and always the same.

use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use truesoak::log::Row;
use truesoak::trial::{End, Played, play};
use truesoak_core::bake::{Bake, Dip, Step};

/// Seeds that no table of the campaign is made of.
const SEEDS: std::ops::Range<u64> = 10_000_000..20_000_000;
/// Bakes unless the environment says otherwise.
const CASES: u32 = 16;

fn config() -> ProptestConfig {
    let typed = std::env::var("PROPTEST_CASES").ok().and_then(|text| text.parse().ok());
    ProptestConfig {
        failure_persistence: None,
        cases: typed.unwrap_or(CASES),
        rng_seed: if typed.is_some() { RngSeed::Random } else { RngSeed::Fixed(1) },
        max_shrink_iters: 0,
        ..ProptestConfig::default()
    }
}

/// An event after which the credit may be less than before: by rule.
fn may_take_credit(event: &str) -> bool {
    let answers = ["answered anything-new fail", "answered power-returned fail"];
    event.starts_with("step ") || event.starts_with("supply returned ") || answers.contains(&event)
}

/// An event that doubts the load at once: the row after it counts the second before it, yet shows
/// bounds that the doubt has widened.
fn doubts(event: &str) -> bool {
    event == "asked anything-new" || event == "asked power-returned"
}

/// Leaving the window takes the credit of this step.
fn restarts(bake: &Bake, step: u8) -> bool {
    let at = usize::from(step).checked_sub(1).and_then(|index| bake.steps.get(index));
    matches!(at, Some(Step::Soak(soak)) if soak.dip == Dip::Restart)
}

/// The bounds lie in the window of this step.
fn is_in_window(bake: &Bake, row: &Row) -> bool {
    let at = usize::from(row.step).checked_sub(1).and_then(|index| bake.steps.get(index));
    let Some(Step::Soak(soak)) = at else { return false };
    match (row.coldest_c, row.hottest_c) {
        (Some(coldest_c), Some(hottest_c)) => {
            coldest_c >= f64::from(soak.at_least.0) && hottest_c <= f64::from(soak.at_most.0)
        }
        _ => false,
    }
}

fn holds(played: &Played) -> Result<(), TestCaseError> {
    let bake = &played.scene.believed.bake.bake;
    let (mut credit_s, mut may_fall) = (0, true);
    let (mut was_in_window, mut doubted) = (false, false);
    for row in &played.trace.rows {
        let at = format!("seed {} at {} s", played.found.seed, row.t_s());
        if !row.event.is_empty() {
            may_fall |= may_take_credit(&row.event);
            doubted |= doubts(&row.event);
            continue;
        }
        if let (Some(coldest_c), Some(hottest_c)) = (row.coldest_c, row.hottest_c) {
            prop_assert!(coldest_c <= hottest_c, "{at}: {coldest_c} above {hottest_c}");
        }
        prop_assert!(row.credit_s <= credit_s + 1, "{at}: {credit_s} s and then {}", row.credit_s);
        let in_window = is_in_window(bake, row);
        if row.credit_s > credit_s {
            let counts = in_window || doubted && was_in_window;
            prop_assert!(counts, "{at}: counted out of the window");
        }
        let dipped = restarts(bake, row.step) && !in_window && row.credit_s == 0;
        let fell = row.credit_s < credit_s;
        prop_assert!(!fell || may_fall || dipped, "{at}: {credit_s} s fell to {}", row.credit_s);
        (credit_s, may_fall) = (row.credit_s, false);
        (was_in_window, doubted) = (in_window, false);
    }
    prop_assert!(played.found.end != End::Nowhere, "seed {}: no end", played.found.seed);
    Ok(())
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn credit_never_runs_ahead_and_every_bake_ends(seed in SEEDS) {
        if let Some(played) = play(seed, true, &|_| {}) {
            holds(&played)?;
        }
    }
}
