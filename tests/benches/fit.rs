//! How often a fit's interval holds the truth: prints a table, judges nothing.
//!
//! The logs are those of `tests/snapshots/fit-logs.py`, ovens integrated by SciPy that differ from the
//! project's plant on purpose; their folder stands in `TRUESOAK_FIT_LOGS`.

use serde_json::Value;
use std::path::PathBuf;
use truesoak::files::read_oven_alone;
use truesoak::fit::{Course, Estimate, Quantity, fit};
use truesoak::log;
use truesoak_tests::path;

/// One quantity over all cases.
#[derive(Default)]
struct Tally {
    told: usize,
    told_held: usize,
    all: usize,
    all_held: usize,
    halves: Vec<f64>,
    errors: Vec<f64>,
    scaled: Vec<f64>,
}

impl Tally {
    fn add(&mut self, estimate: &Estimate, truth: f64) {
        let (low, high) = estimate.interval;
        let held = (low..=high).contains(&truth);
        self.all += 1;
        self.all_held += usize::from(held);
        let scale = if estimate.quantity == Quantity::WallView { 1.0 } else { truth };
        let error = (estimate.value - truth) / scale;
        if estimate.is_told() {
            self.told += 1;
            self.told_held += usize::from(held);
            self.halves.push(estimate.half());
            self.errors.push(error);
            self.scaled.push(error / estimate.standard_error);
        }
    }
}

fn main() {
    let Some(folder) = std::env::var_os("TRUESOAK_FIT_LOGS").map(PathBuf::from) else {
        println!("set TRUESOAK_FIT_LOGS to a folder that tests/snapshots/fit-logs.py wrote");
        return;
    };
    let text = std::fs::read_to_string(folder.join("truths.json")).expect("the folder has truths");
    let truths: Vec<Value> = serde_json::from_str(&text).expect("truths are JSON");
    let profile = path("profiles/ovens/cabinet-60l.toml");
    let oven = read_oven_alone(&profile).expect("the shipped oven reads").oven;
    let limit = std::env::var("TRUESOAK_DRAWS").ok().and_then(|text| text.parse().ok());
    let mut tallies: Vec<Tally> = Quantity::ALL.iter().map(|_| Tally::default()).collect();
    let (mut fitted_count, mut cases) = (0, 0);
    for truth in truths.iter().take(limit.unwrap_or(usize::MAX)) {
        cases += 1;
        let name = truth["log"].as_str().expect("a name");
        let logged = log::read(&folder.join(name)).expect("a log");
        let course = Course::of(&logged, name, &oven).expect("a log that says something");
        let fitted = match fit(&oven, &[course]) {
            Ok(fitted) => fitted,
            Err(unfit) => {
                println!("{name}: {unfit}");
                continue;
            }
        };
        fitted_count += 1;
        for (estimate, tally) in fitted.estimates.iter().zip(&mut tallies) {
            let true_value = truth[estimate.quantity.key()].as_f64().expect("a truth");
            tally.add(estimate, true_value);
            let (low, high) = estimate.interval;
            if estimate.is_told() && !(low..=high).contains(&true_value) {
                println!(
                    "{name}: {} {low:.3} to {high:.3}, truly {true_value:.3}",
                    estimate.quantity.key()
                );
            }
        }
        if std::env::var_os("TRUESOAK_LOUD").is_some() {
            println!("{name}: air {:?}, probe {:?}", fitted.air, fitted.probe);
        }
    }
    println!("{fitted_count} of {cases} logs fitted");
    println!("quantity            told  held     all  held   median half  rms error  rms/se");
    for (quantity, tally) in Quantity::ALL.iter().zip(&mut tallies) {
        tally.halves.sort_by(f64::total_cmp);
        let median = tally.halves.get(tally.halves.len() / 2).copied().unwrap_or(f64::NAN);
        let rms = |of: &[f64]| (of.iter().map(|e| e * e).sum::<f64>() / of.len() as f64).sqrt();
        println!(
            "{:18} {:5} {:4.1}%  {:5} {:4.1}%  {median:10.4}  {:9.4}  {:6.2}",
            quantity.key(),
            tally.told,
            100.0 * tally.told_held as f64 / tally.told.max(1) as f64,
            tally.all,
            100.0 * tally.all_held as f64 / tally.all.max(1) as f64,
            rms(&tally.errors),
            rms(&tally.scaled),
        );
    }
    let sum = |of: fn(&Tally) -> usize| tallies.iter().map(of).sum::<usize>();
    println!(
        "all: told {} of {}, {:.1} % of the told intervals hold the truth",
        sum(|t| t.told),
        sum(|t| t.all),
        100.0 * sum(|t| t.told_held) as f64 / sum(|t| t.told).max(1) as f64
    );
}
