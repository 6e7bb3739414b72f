//! A fit says what a log cannot tell, why, and which test would tell it; and refuses a log that
//! says nothing.

mod fit_support;

use fit_support::{PLATES, STEP_TEST, course, fitted, logged, of, oven};
use truesoak::fit::{Estimate, Quantity, Standing, fit};
use truesoak::log::{Log, Reading, Row};
use truesoak::plant::Draw;

fn why(estimate: &Estimate) -> (&str, &str) {
    match &estimate.standing {
        Standing::NotTold { why, next } => (why, next),
        Standing::Told => panic!("{estimate:?} is told"),
    }
}

fn nominal(text: Option<&str>, schedule: &[(f64, f64)]) -> Log {
    logged(&oven(), text, &Draw::nominal(&oven()), schedule)
}

fn refused(log: &Log) -> String {
    course(log).map(|course| course.name).expect_err("it says something").to_string()
}

#[test]
fn air_alone_never_tells_part_exchange_nor_power_however_good_the_log() {
    let without = PLATES.replace("probe = true", "");
    for text in [None, Some(without.as_str())] {
        let fitted = fitted(&[nominal(text, &STEP_TEST)]);
        let (_, next) = why(of(&fitted, Quantity::PartExchange));
        assert!(next.contains("probe"), "{next}");
        let (told, next) = why(of(&fitted, Quantity::HeaterPower));
        assert!(told.contains("against each other"), "{told}");
        assert!(next.contains("volts and amps"), "{next}");
    }
}

#[test]
fn without_a_stretch_without_heat_losses_are_not_told_from_power() {
    let held = [(8.0, 1.0), (3.0, 0.0), (40.0, 0.3), (3.0, 0.0), (20.0, 0.2)];
    let fitted = fitted(&[nominal(Some(PLATES), &held)]);
    for quantity in [Quantity::Losses, Quantity::HeaterPower] {
        let (told, next) = why(of(&fitted, quantity));
        assert!(told.contains("without heat"), "{told}");
        assert!(!next.is_empty());
    }
}

#[test]
fn a_probe_that_does_not_rise_with_its_part_tells_nothing_of_it() {
    let mut log = nominal(Some(PLATES), &STEP_TEST);
    for row in &mut log.rows {
        row.part_probe = row.part_probe.map(|_| Reading(20 * 128));
    }
    let fitted = fitted(&[log]);
    assert_eq!(fitted.probe.count, 0);
    assert!(why(of(&fitted, Quantity::PartExchange)).0.contains("no part probe rises"));
}

#[test]
fn what_the_file_knows_exactly_is_left_alone() {
    let mut known = oven();
    known.spread.heater_power = 0.0;
    let log = nominal(None, &STEP_TEST);
    let fitted = fit(&known, &[course(&log).unwrap()]).unwrap();
    assert!(why(of(&fitted, Quantity::HeaterPower)).0.contains("exactly"));
    // With power known, an empty oven tells its walls.
    assert!(of(&fitted, Quantity::WallHeatCapacity).is_told(), "{fitted:?}");
}

#[test]
fn a_log_that_says_nothing_is_refused_with_the_test_to_make() {
    let constant = nominal(None, &[(60.0, 0.2)]);
    assert!(refused(&constant).contains("duty never changes"), "{}", refused(&constant));
    let still = nominal(None, &[(30.0, 0.0), (1.0, 0.1), (30.0, 0.0)]);
    assert!(refused(&still).contains("moves by"), "{}", refused(&still));
    let short = nominal(None, &[(8.0, 1.0), (6.0, 0.0)]);
    assert!(refused(&short).contains("covers 14 min"), "{}", refused(&short));
    for log in [constant, still, short] {
        assert!(refused(&log).contains("next: make a step test"), "{}", refused(&log));
    }
}

#[test]
fn a_log_no_oven_of_this_kind_follows_is_refused() {
    let mut log = nominal(None, &STEP_TEST);
    for row in &mut log.rows {
        // Cools while it is heated: the probe of another oven.
        row.air = row.air.map(|air| Reading(180 * 128 - air.0));
    }
    let unfit = fit(&oven(), &[course(&log).unwrap()]).expect_err("nothing follows that");
    assert!(unfit.to_string().contains("no oven of this kind follows"), "{unfit}");
}

#[test]
fn a_log_is_used_up_to_its_gap_or_trip_and_that_is_said() {
    let whole = nominal(None, &STEP_TEST);
    let mut gap = whole.clone();
    gap.rows.retain(|row| !(36_000..40_000).contains(&row.tick));
    let mut trip = whole.clone();
    let at = trip.rows.iter().position(|row| row.tick >= 36_000).unwrap();
    let event = Row { event: "trip no-response".to_owned(), ..trip.rows[at].clone() };
    trip.rows.insert(at, event);
    // What comes after is wrong: none of it may be used.
    for log in [&mut gap, &mut trip] {
        for row in log.rows.iter_mut().filter(|row| row.tick >= 36_000) {
            row.air = Some(Reading(0));
        }
        let course = course(log).unwrap();
        assert!(
            course.notes.iter().any(|note| note.contains("after 60 min")),
            "{:?}",
            course.notes
        );
        let fitted = fit(&oven(), &[course]).unwrap();
        assert!(fitted.air.rms_k < 0.05, "{:?}", fitted.air);
    }
}
