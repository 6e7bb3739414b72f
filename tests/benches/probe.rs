//! What a probe on the slowest part saves on the shipped bakes: `cargo bench -p truesoak-tests
//! --bench probe`. Prints; judges nothing. `TRUESOAK_DRAWS` sets on how many plants.
//!
//! Lead is what the first soak takes beyond its minutes. Beside it stands the same controller that
//! is told the very plant, spots excepted: what could be had at best.

mod support;

use support::{shown, told};
use truesoak::files::Setup;
use truesoak::plant::Draw;
use truesoak::rehearse::Request;
use truesoak::report::result::Verdict;
use truesoak_tests::{draws, quick, rehearsed, setup};

/// Shipped bakes with soaks that end, and each one's slowest part, from 0.
const BAKES: [(&str, usize); 6] = [
    ("gas-out-chain-guards-300f", 0),
    ("gas-out-hubs", 1),
    ("cure-hubs", 1),
    ("gas-out-crown", 0),
    ("low-cure-pedals", 0),
    ("whole-day", 0),
];

fn main() {
    let draws = draws(40);
    println!("lead of the first soak, min: p50 and p95 of {draws} plants");
    println!(
        "{:28}{:>16}{:>16}{:>16}{:>22}{:>9}",
        "bake", "no probe", "probe", "plant known", "probe / known", "believed"
    );
    for (bake, slowest) in BAKES {
        print_row(bake, slowest, draws);
    }
}

fn print_row(bake: &str, slowest: usize, draws: u64) {
    let plain = setup(bake, &[]);
    let mut probed = plain.clone();
    probed.load.parts[slowest].probe = true;
    let (mut without, mut with, mut known, mut ratio) = (vec![], vec![], vec![], vec![]);
    let mut believed = 0;
    for number in 1..=draws {
        let draw = Draw::nth(&plain.oven, 70_000 + number);
        let told = Setup { oven: told(&plain.oven, &draw), ..plain.clone() };
        let (plain_s, _) = lead_s(&plain, &plain, draw);
        let (probed_s, rests_on_it) = lead_s(&probed, &probed, draw);
        let (known_s, _) = lead_s(&told, &plain, draw);
        believed += u32::from(rests_on_it);
        without.push(plain_s / 60.0);
        with.push(probed_s / 60.0);
        known.push(known_s / 60.0);
        ratio.push(probed_s / known_s);
    }
    println!(
        "{bake:28}{:>16}{:>16}{:>16}{:>22}{believed:>9}",
        shown(&mut without, 1),
        shown(&mut with, 1),
        shown(&mut known, 1),
        shown(&mut ratio, 2)
    );
}

/// Lead, and whether the claim rests on the probe. A soak that did not pass takes for ever.
fn lead_s(believed: &Setup, truth: &Setup, draw: Draw) -> (f64, bool) {
    let request = Request { truth, exactly: Some(draw), ..quick(believed) };
    let result = rehearsed(&request).result;
    let soak = result.parts.first().and_then(|part| part.soaks.first());
    let passed = result.verdict == Verdict::Pass && result.truth == Some(Verdict::Pass);
    let lead_s = soak.filter(|_| passed).and_then(|soak| soak.lead_s).unwrap_or(f64::INFINITY);
    let rests_on_probe = serde_json::to_value(result.basis).is_ok_and(|word| word == "part-probe");
    (lead_s, rests_on_probe)
}
