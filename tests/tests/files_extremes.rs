//! Numbers no oven should have: refused before the bake with the number that would do, instead of
//! ending it with a trip that names a fault nobody has.
//!
//! Goal: on the far side of every limit a clear refusal, on the near side a bake that runs through
//! on draws of the spread. Method: the three starting files, one value driven past its limit and
//! back to just inside it. `TRUESOAK_DRAWS` sets on how many draws each near side is tried.

mod files_support;

use files_support::Desk;
use truesoak::files::Override;
use truesoak::rehearse::{Request, rehearse};
use truesoak_tests::{draws, quick};

fn overrides(typed: &str) -> Vec<Override> {
    typed.split(';').map(Override::set).collect()
}

/// Values the files are refused with, and words of the refusal.
fn refused(typed: &str, words: &[&str]) {
    let text = Desk::new().judge_with(&overrides(typed)).expect_err(typed);
    for word in words.iter().chain(&["error: ", "expected: ", "next: "]) {
        assert!(text.contains(word), "{typed}: \"{word}\" is missing in:\n{text}");
    }
}

/// Values the bake runs through with: no trip on any draw.
fn runs(typed: &str) {
    let setup =
        Desk::new().read(&overrides(typed)).unwrap_or_else(|text| panic!("{typed}:\n{text}"));
    for draw in 1..=draws(3) {
        let request = Request { draw: Some(draw), seed: draw, ..quick(&setup) };
        let rehearsal = rehearse(&request).unwrap_or_else(|refusal| panic!("{typed}:\n{refusal}"));
        let result = rehearsal.result;
        assert!(result.trips.is_empty(), "{typed}, draw {draw}: {:?}", result.trips);
        assert!(result.is_good(), "{typed}, draw {draw}: {}", result.reason);
    }
}

#[test]
fn an_element_with_too_little_in_it_is_refused_with_what_it_must_hold() {
    refused(r#"oven.heater.mass="100 g""#, &["shortest pulse", "J/K or more", "minimum_on"]);
    runs(r#"oven.heater.mass="140 g""#);
}

#[test]
fn an_element_too_sluggish_is_refused_with_what_it_may_hold() {
    refused(r#"oven.heater.mass="20 kg""#, &["to give its heat", "J/K or less"]);
    refused(r#"oven.heater.area="50 cm2""#, &["to give its heat", "larger area"]);
    refused(r#"oven.heater.area="1 cm2""#, &["1500 W on each cm2", "at most 50 W"]);
    runs(r#"oven.heater.mass="1.2 kg""#);
    runs(r#"oven.heater.area="120 cm2""#);
}

#[test]
fn a_heater_far_too_strong_or_too_weak_is_refused_with_the_power_that_would_do() {
    refused(r#"oven.heater.power="100 kW""#, &["times what holds 150 °C", "at most 7"]);
    refused(r#"oven.heater.power="1 W""#, &["heater cannot reach", "balance"]);
    refused(r#"oven.heater.power="0.5 W""#, &["from 1 W to 200 kW"]);
    refused(r#"oven.heater.power="1 MW""#, &["oven.heater.power"]);
    runs(r#"oven.heater.power="6 kW""#);
}

#[test]
fn a_sensor_too_noisy_coarse_or_slow_for_its_air_limit_is_refused_with_the_limit_that_would_do() {
    for typed in [
        r#"oven.sensor.noise="2 K""#,
        r#"oven.sensor.noise="1 K";oven.sensor.resolution="1 K""#,
        r#"oven.sensor.resolution="2 °C""#,
        r#"oven.sensor.lag="5 min""#,
    ] {
        refused(typed, &["look", "hotter than it is", "air_max of at least", "air_max"]);
    }
    refused(r#"oven.sensor.lag="10 min""#, &["oven.sensor.lag", "from 0.1 s to 5 min"]);
    runs(r#"oven.sensor.noise="0.28 K""#);
    runs(r#"oven.sensor.resolution="0.4 K""#);
    runs(r#"oven.sensor.noise="1 K";bake.limits.air_max="225 °C""#);
}

#[test]
fn an_oven_too_hot_for_its_air_limit_at_the_start_is_refused_with_where_it_may_start() {
    refused(r#"bake.oven_starts_at="300 °C""#, &["the oven starts at 300 °C", "at most 173 °C"]);
    refused(r#"bake.oven_starts_at="190 °C""#, &["the oven starts at 190 °C", "let it cool first"]);
    runs(r#"bake.oven_starts_at="173 °C""#);
}

#[test]
fn an_air_limit_that_keeps_the_air_from_the_window_is_refused_with_one_that_would_do() {
    let close = r#"bake.step."cure".soak.at_most="182 °C";bake.step."cure".soak.at_least="154 °C""#;
    refused(
        &format!(r#"{close};bake.limits.air_max="190 °C""#),
        &["keeps the air from getting there", "air_max of at least 192 °C"],
    );
    runs(&format!(r#"{close};bake.limits.air_max="192 °C""#));
    refused(
        r#"bake.step.1.ramp.to="190 °C""#,
        &["keeps the air from getting there", "air_max of at least 2"],
    );
    runs(r#"bake.limits.air_max="180 °C""#);
}

#[test]
fn a_drive_that_cannot_pulse_finely_is_refused() {
    refused(r#"oven.drive.minimum_on="10 s""#, &["from 0.1 s to 2.5 s"]);
    refused(r#"oven.drive.minimum_off="60 s""#, &["from 0.1 s to 5 s"]);
    runs(r#"oven.drive.minimum_on="2.5 s";oven.drive.minimum_off="5 s""#);
}

#[test]
fn a_heater_that_only_shines_is_refused() {
    refused("oven.heater.radiant_share=1.0", &["radiant_share", "0.7"]);
    runs("oven.heater.radiant_share=0.7");
}

#[test]
fn a_liner_lighter_than_its_element_is_refused_with_what_it_must_hold() {
    let words = ["the liner holds", "at least 1138 J/K"];
    refused(r#"oven.liner.heat_capacity="1 kJ/K""#, &words);
    refused("oven.calibration.wall_heat_capacity=0.2", &words);
    runs(r#"oven.liner.heat_capacity="2 kJ/K""#);
}

#[test]
fn a_part_thinner_than_foil_is_refused_with_the_area_it_can_have() {
    refused(
        r#"load.part.1.shape={lump={mass="1 mg",area="1 m2"}}"#,
        &["thinner than foil", "at most 0.74 cm2"],
    );
}

/// Values no file can hold, put in behind the readers: whatever else lets such a plant through, the
/// rehearsal ends at once and says so.
#[test]
fn a_plant_that_cannot_be_followed_ends_in_a_refusal_and_not_in_a_result() {
    type Spoil = fn(&mut truesoak::files::Setup);
    let spoils: [Spoil; 3] = [
        |truth| truth.oven.heater.power_w = f64::NAN,
        |truth| truth.oven.heater.power_w = 1e12,
        |truth| truth.load.parts[0].mass_kg = f64::NAN,
    ];
    for (number, spoil) in spoils.into_iter().enumerate() {
        let believed = Desk::new().read(&[]).unwrap();
        let mut truth = believed.clone();
        spoil(&mut truth);
        for quick in [true, false] {
            let began = std::time::Instant::now();
            let request = Request { truth: &truth, quick, ..truesoak_tests::quick(&believed) };
            let text = rehearse(&request).expect_err(&number.to_string()).to_string();
            assert!(text.contains("cannot be followed"), "{number}:\n{text}");
            assert!(began.elapsed().as_secs() < 20, "{number}: {:?}", began.elapsed());
        }
    }
}
