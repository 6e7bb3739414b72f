//! A probe that is not where the load file says: no bound it narrows is ever on the wrong side.
//!
//! Goal: wherever the probe is and whenever it left its part, coldest and hottest of all and of
//! every class enclose the truth, and it is told. Method: rehearsals of shipped bakes with the
//! bounds held beside the plant's own temperatures each second, the probe fallen into the air at
//! many moments, off by a step, on another part of the load, or hung at the wall.
//! `TRUESOAK_DRAWS` sets how many plants each is tried on.

mod bounds_support;

use bounds_support::{Survey, Tamper};
use truesoak::files::Setup;
use truesoak::files::bake::{FaultScript, Moment};
use truesoak::plant::derive::Sections;
use truesoak::rehearse::Request;
use truesoak::report::result::Verdict;
use truesoak::trial::plant;
use truesoak_core::Controller;
use truesoak_core::bake::Step;
use truesoak_core::io::Inputs;
use truesoak_core::units::Celsius;
use truesoak_tests::{draws, quick, rehearsed, setup};

/// Plants each is tried on.
const PLANTS: u64 = 2;

/// Parts that a probe is tried on: bake and part, from 0.
const PROBED: [(&str, usize); 7] = [
    ("gas-out-hubs.toml", 0),
    ("gas-out-hubs.toml", 1),
    ("cure-hubs.toml", 1),
    ("gas-out-chain-guards-300f.toml", 0),
    ("gas-out-crown.toml", 0),
    ("low-cure-pedals.toml", 0),
    ("whole-day.toml", 0),
];

fn probed(bake: &str, part: usize) -> Setup {
    let mut setup = setup(bake, &[]);
    setup.load.parts[part].probe = true;
    for step in &mut setup.bake.bake.steps {
        if let Step::Soak(soak) = step {
            soak.give_up_after_s.get_or_insert(4 * 3600);
        }
    }
    setup
}

fn with_fault(mut setup: Setup, at_s: f64, by_k: Option<f64>) -> Setup {
    let is_soak = |step: &Step| matches!(step, Step::Soak(_));
    let soak = setup.bake.bake.steps.iter().position(is_soak).expect("a soak");
    let (at, kind) = (Moment::SinceStep(soak, at_s), "probe-disagrees".to_owned());
    setup.bake.faults = vec![FaultScript { at, kind, for_s: None, by_k }];
    setup
}

/// Plants from `first` on, nobody between sensors and board.
fn untouched(believed: &Setup, truth: &Setup, first: u64) -> Survey {
    let numbers = (first, first + draws(PLANTS));
    Survey::of(believed, truth, numbers, Sections::AsOnBoard, |_, _| {})
}

/// Adds what was wrong to `wrong` and prints the rest.
fn judge(name: &str, survey: &Survey, wrong: &mut Vec<String>) {
    let [coldest, _, class, ..] = survey.margins;
    println!(
        "{name}: coldest {:.2} K, class {:.2} K at {} s; believed on {}, ignored on {} of {}",
        coldest.least_k,
        class.least_k,
        class.at_s,
        survey.probes_believed,
        survey.probes_ignored.len(),
        survey.plants
    );
    wrong.extend(survey.violations().into_iter().map(|one| format!("{name}: {one}")));
}

#[test]
fn a_probe_that_fell_into_the_air_at_any_time() {
    let mut wrong = Vec::new();
    for (bake, part) in PROBED {
        for at_s in [1.0, 60.0, 300.0, 900.0, 1500.0, 2400.0, 3600.0, 5400.0, 9000.0] {
            let believed = with_fault(probed(bake, part), at_s, None);
            let first = at_s as u64 * 10;
            let survey = untouched(&believed, &believed, first);
            judge(&format!("{bake} part {part}, off at {at_s} s"), &survey, &mut wrong);
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn a_probe_off_by_a_step() {
    let mut wrong = Vec::new();
    for (bake, part) in PROBED {
        for (by_k, at_s) in [0.5, 1.0, 1.5, 2.0, 3.0, 5.0, -1.0, -5.0]
            .into_iter()
            .zip([3000.0, 5000.0].into_iter().cycle())
        {
            let believed = with_fault(probed(bake, part), at_s, Some(by_k));
            let first = (by_k * 10.0 + 100.0) as u64 * 10;
            let survey = untouched(&believed, &believed, first);
            judge(&format!("{bake} part {part}, {by_k} K at {at_s} s"), &survey, &mut wrong);
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn a_probe_on_another_part_of_the_load() {
    let mut wrong = Vec::new();
    for (bake, part) in PROBED {
        let believed = probed(bake, part);
        for other in (0..believed.load.parts.len()).filter(|other| *other != part) {
            let mut truth = believed.clone();
            truth.load.parts[part].probe = false;
            truth.load.parts[other].probe = true;
            let survey = untouched(&believed, &truth, 7);
            judge(&format!("{bake} part {part}, on {other}"), &survey, &mut wrong);
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Hung at the wall, which it sees a part of.
fn at_the_wall(controller: &Controller, inputs: &mut Inputs, share: f32) {
    let Some(ledger) = controller.ledger() else { return };
    let (wall, air) = (ledger.bounds().nominal_liner(), inputs.air.value);
    if let Some(probe) = &mut inputs.part_probe {
        probe.value = Celsius(air.0 + share * (wall.0 - air.0));
    }
}

#[test]
fn a_probe_that_hangs_near_a_wall() {
    let shares: [(&str, Tamper); 3] = [
        ("a third", |controller, inputs| at_the_wall(controller, inputs, 0.33)),
        ("two thirds", |controller, inputs| at_the_wall(controller, inputs, 0.67)),
        ("all", |controller, inputs| at_the_wall(controller, inputs, 1.0)),
    ];
    let mut wrong = Vec::new();
    for (bake, part) in PROBED {
        let believed = probed(bake, part);
        for (share, tamper) in shares {
            let survey =
                Survey::of(&believed, &believed, (0, draws(PLANTS)), Sections::AsOnBoard, tamper);
            judge(&format!("{bake} part {part}, {share} of the wall"), &survey, &mut wrong);
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn a_part_thicker_than_told_does_not_pass_before_its_probe_says_so() {
    let mut claimed = 0;
    for number in 0..3 * draws(PLANTS) {
        let believed = probed("gas-out-chain-guards-300f.toml", 0);
        let mut truth = believed.clone();
        let thicker =
            r#"load.part.1.shape={plate={thickness="4 mm",width="50 mm",height="420 mm"}}"#;
        truth.load.parts = setup("gas-out-chain-guards-300f.toml", &[thicker]).load.parts;
        truth.load.parts[0].probe = true;
        let request =
            Request { truth: &truth, exactly: Some(plant(&truth, number)), ..quick(&believed) };
        let result = rehearsed(&request).result;
        let passed = result.verdict == Verdict::Pass;
        assert!(!passed || result.truth == Some(Verdict::Pass), "plant {number}");
        claimed += u64::from(passed);
    }
    println!("{claimed} of {} passed, and truly", 3 * draws(PLANTS));
}
