//! Sensors over the whole of their ranges, and what no sensor gives.
//!
//! Goal: there and back is the same temperature everywhere, a hotter junction always gives more, and
//! whatever lies outside or is no number gives nothing. Values from outside are compared in
//! `sensor_references`.

use truesoak_core::sensor::{Microvolts, Ohms, Platinum, Thermocouple};
use truesoak_core::units::Celsius;

/// What is not a temperature, an emf or a resistance anywhere.
const NONSENSE: [f32; 5] = [f32::NAN, f32::INFINITY, f32::NEG_INFINITY, f32::MAX, f32::MIN];

/// Every 1/16 K from end to end, both ends included.
fn across(lowest: f32, highest: f32) -> impl Iterator<Item = Celsius> {
    let steps = ((highest - lowest) * 16.0) as u32;
    (0..=steps).map(move |step| Celsius(lowest + step as f32 / 16.0))
}

#[test]
fn every_thermocouple_comes_back_over_its_whole_range_and_only_rises() {
    for couple in Thermocouple::ALL {
        let (lowest, highest) = couple.range();
        let (mut before, mut worst) = (f32::NEG_INFINITY, 0.0_f32);
        for junction in across(lowest.0, highest.0) {
            let emf = couple.emf(junction).expect("in range");
            let back = couple.temperature(emf).expect("an emf of this type");
            assert!(emf.0 > before, "{couple:?} falls at {junction:?}");
            before = emf.0;
            worst = worst.max((back - junction).0.abs());
        }
        println!("{couple:?}: {worst:.5} K there and back");
        assert!(worst < 0.02, "{couple:?}: {worst} K");
    }
}

/// Single precision is coarse at the upper ends; no emf may fall between two temperatures.
#[test]
fn every_emf_from_end_to_end_has_a_temperature_that_gives_it() {
    for couple in Thermocouple::ALL {
        let (lowest, highest) = couple.range();
        let [least, greatest] = [lowest, highest].map(|end| couple.emf(end).expect("an end").0);
        let mut worst_uv = 0.0_f32;
        for step in 0..=((greatest - least) * 16.0) as u32 {
            let emf = Microvolts(least + step as f32 / 16.0);
            let junction = couple.temperature(emf).expect("an emf of this type");
            let again = couple.emf(junction).expect("a temperature of this type");
            worst_uv = worst_uv.max((again - emf).0.abs());
        }
        println!("{couple:?}: {worst_uv:.3} µV there and back");
        assert!(worst_uv < 1.0, "{couple:?}: {worst_uv} µV");
    }
}

#[test]
fn every_resistance_comes_back_over_its_whole_range() {
    for platinum in Platinum::ALL {
        let mut worst = 0.0_f32;
        for sensor in across(-200.0, 850.0) {
            let resistance = platinum.resistance(sensor).expect("in range");
            let back = platinum.temperature(resistance).expect("a resistance of this sensor");
            worst = worst.max((back - sensor).0.abs());
        }
        println!("{platinum:?}: {worst:.5} K there and back");
        assert!(worst < 0.002, "{platinum:?}: {worst} K");
    }
}

#[test]
fn a_thermocouple_says_nothing_outside_its_range() {
    for couple in Thermocouple::ALL {
        let (lowest, highest) = couple.range();
        let [least, greatest] = [lowest, highest].map(|end| couple.emf(end).expect("an end").0);
        assert_eq!(couple.emf(Celsius(lowest.0 - 0.1)), None);
        assert_eq!(couple.emf(Celsius(highest.0 + 0.1)), None);
        assert_eq!(couple.temperature(Microvolts(least - 1.5)), None);
        assert_eq!(couple.temperature(Microvolts(greatest + 1.5)), None);
        let room = Celsius(25.0);
        assert_eq!(couple.hot_junction(Microvolts(greatest), room), None, "hotter than the range");
        for nonsense in NONSENSE {
            assert_eq!(couple.emf(Celsius(nonsense)), None);
            assert_eq!(couple.temperature(Microvolts(nonsense)), None);
            assert_eq!(couple.hot_junction(Microvolts(nonsense), room), None);
            assert_eq!(couple.hot_junction(Microvolts(0.0), Celsius(nonsense)), None);
            assert_eq!(couple.straightened(Celsius(nonsense), room, 40.0), None);
            assert_eq!(couple.straightened(Celsius(150.0), Celsius(nonsense), 40.0), None);
            assert_eq!(couple.straightened(Celsius(150.0), room, nonsense), None);
        }
        for slope in [0.0, -0.0, -40.0] {
            assert_eq!(couple.straightened(Celsius(150.0), room, slope), None, "{slope}");
        }
    }
}

#[test]
fn a_resistance_sensor_says_nothing_outside_its_range() {
    for platinum in Platinum::ALL {
        let ends = [-200.0, 850.0].map(|end| platinum.resistance(Celsius(end)).expect("an end").0);
        assert_eq!(platinum.resistance(Celsius(-200.1)), None);
        assert_eq!(platinum.resistance(Celsius(850.1)), None);
        assert_eq!(platinum.temperature(Ohms(0.999 * ends[0])), None);
        assert_eq!(platinum.temperature(Ohms(1.001 * ends[1])), None);
        assert_eq!(platinum.temperature(Ohms(0.0)), None, "leads shorted");
        assert_eq!(platinum.temperature(Ohms(-100.0)), None);
        for nonsense in NONSENSE {
            assert_eq!(platinum.resistance(Celsius(nonsense)), None);
            assert_eq!(platinum.temperature(Ohms(nonsense)), None);
        }
    }
}
