//! The board's sensor functions against published and independently worked values.
//!
//! Goal: emf within 1 µV and temperature within 0.02 K of the reference functions, both ways, over
//! −50…400 °C, although the board computes in `f32`. Method: every whole degree by reference
//! packages, and check values with the cold junction elsewhere; the worst deviation of each is
//! printed (`--nocapture`) and held to what was seen, with a little room.

mod sensor_support;

use sensor_support::{points, whole_degrees};
use truesoak_core::sensor::{Microvolts, Ohms, Platinum, Thermocouple};
use truesoak_core::units::Celsius;

/// Promised: the last digit of the printed tables.
const EMF_UV: f64 = 1.0;
/// Held: what single precision costs.
const EMF_SEEN_UV: f64 = 0.02;
/// Promised for every temperature from an emf.
const TEMP_K: f64 = 0.02;
/// Held: what single precision costs.
const TEMP_SEEN_K: f64 = 0.001;
/// Held for a Pt100: a step of `f32` at 250 Ω is 0.000015 Ω.
const OHM_SEEN: f64 = 4e-5;

fn emf_uv(couple: Thermocouple, temp_c: f64) -> f64 {
    f64::from(couple.emf(Celsius(temp_c as f32)).expect("in range").0)
}

fn temp_c(couple: Thermocouple, emf_uv: f64) -> f64 {
    f64::from(couple.temperature(Microvolts(emf_uv as f32)).expect("in range").0)
}

fn ohms(temp_c: f64) -> f64 {
    f64::from(Platinum::Pt100.resistance(Celsius(temp_c as f32)).expect("in range").0)
}

fn pt100_c(ohms: f64) -> f64 {
    f64::from(Platinum::Pt100.temperature(Ohms(ohms as f32)).expect("in range").0)
}

/// The greatest of some distances.
fn worst(pairs: impl Iterator<Item = (f64, f64)>) -> f64 {
    pairs.map(|(found, expected)| (found - expected).abs()).fold(0.0, f64::max)
}

#[test]
fn every_whole_degree_of_every_thermocouple_agrees_with_reference_packages_both_ways() {
    let rows = whole_degrees();
    for (column, couple) in Thermocouple::ALL.into_iter().enumerate() {
        let pairs = rows.iter().map(|row| (row.temp_c, row.emf_uv[column]));
        let forward = worst(pairs.clone().map(|(temp, emf)| (emf_uv(couple, temp), emf)));
        let inverse = worst(pairs.map(|(temp, emf)| (temp_c(couple, emf), temp)));
        println!("{couple:?}: emf {forward:.4} µV, temperature {inverse:.6} K");
        assert!(forward < EMF_SEEN_UV && EMF_SEEN_UV < EMF_UV, "{couple:?}: {forward} µV");
        assert!(inverse < TEMP_SEEN_K && TEMP_SEEN_K < TEMP_K, "{couple:?}: {inverse} K");
    }
}

/// Slopes by a backward difference of second order: at 0 °C the functions have a bend, and the check
/// values the slope from below.
#[test]
fn emfs_slopes_and_temperatures_agree_at_check_points() {
    for (temp, emfs_mv, slopes) in points::EMF {
        for (column, couple) in Thermocouple::ALL.into_iter().enumerate() {
            let emf = 1000.0 * emfs_mv[column];
            let [at, below, lower] = [0.0, 2.0, 4.0].map(|k| emf_uv(couple, temp - k));
            let slope = (3.0 * at - 4.0 * below + lower) / 4.0;
            assert!((at - emf).abs() < EMF_SEEN_UV, "{couple:?} {temp} °C");
            assert!((slope - slopes[column]).abs() < 0.03, "{couple:?} {temp} °C: {slope}");
            assert!((temp_c(couple, emf) - temp).abs() < TEMP_SEEN_K, "{couple:?} {temp} °C");
        }
    }
    for (emfs_mv, temps, _) in points::TEMPERATURE {
        for (column, couple) in Thermocouple::ALL.into_iter().enumerate() {
            let found = temp_c(couple, 1000.0 * emfs_mv[column]);
            assert!((found - temps[column]).abs() < TEMP_SEEN_K, "{couple:?} {found} °C");
        }
    }
}

/// Tables of IEC 60584-1 and IEC 60751 as printed, from memory.
#[test]
fn printed_tables_agree_to_half_their_last_digit() {
    for (temp, emfs_mv) in points::PRINTED_EMF {
        for (column, couple) in Thermocouple::ALL.into_iter().enumerate() {
            let apart = emf_uv(couple, temp) - 1000.0 * emfs_mv[column];
            assert!(apart.abs() <= 0.5 + EMF_SEEN_UV, "{couple:?} {temp} °C: {apart} µV");
        }
    }
    for (temp, printed) in points::PRINTED_PT100 {
        assert!((ohms(temp) - printed).abs() <= 0.005 + OHM_SEEN, "{temp} °C");
    }
}

/// NIST Monograph 175 claims 0.06 K and less for its inverse polynomials: they and this function
/// have to agree that far, and do not agree farther.
#[test]
fn published_inverse_polynomials_are_as_far_off_as_they_say() {
    let pairs = |column: usize, couple| {
        let of_emf = points::EMF.iter().zip(points::PUBLISHED_INVERSE_C);
        let first = of_emf.map(move |(row, published)| (row.1[column], published[column]));
        let second = points::TEMPERATURE.iter().map(move |row| (row.0[column], row.2[column]));
        first.chain(second).map(move |(mv, published)| (temp_c(couple, 1000.0 * mv), published))
    };
    for (column, couple) in Thermocouple::ALL.into_iter().enumerate() {
        let apart = worst(pairs(column, couple));
        println!("{couple:?}: published inverse {apart:.4} K off");
        assert!(apart < 0.06 && apart > TEMP_SEEN_K, "{couple:?}: {apart} K");
    }
}

#[test]
fn a_cold_junction_elsewhere_is_made_up_for_in_emf() {
    for (hot, cold, measured_mv, adding_k) in points::COLD_JUNCTION {
        for (column, couple) in Thermocouple::ALL.into_iter().enumerate() {
            let measured = Microvolts(1000.0 * measured_mv[column] as f32);
            let found = couple.hot_junction(measured, Celsius(cold as f32)).expect("in range");
            let apart = f64::from(found.0) - hot;
            assert!(apart.abs() < TEMP_SEEN_K, "{couple:?} {hot} °C from {cold} °C: {apart} K");

            let added = temp_c(couple, 1000.0 * measured_mv[column]) + cold - hot;
            assert!((added - adding_k[column]).abs() < TEMP_SEEN_K, "adding temperatures: {added}");
        }
    }
}

#[test]
fn an_error_of_the_cold_junction_passes_on_in_the_ratio_of_the_slopes() {
    for (column, couple) in Thermocouple::ALL.into_iter().enumerate() {
        let emf = |temp| couple.emf(Celsius(temp)).expect("in range");
        let measured = emf(150.0) - emf(25.0);
        let hot = |cold| couple.hot_junction(measured, Celsius(cold)).expect("in range").0;
        let gain = f64::from(hot(26.0) - hot(24.0)) / 2.0;
        assert!((gain - points::COLD_JUNCTION_GAIN[column]).abs() < 0.001, "{couple:?}: {gain}");
    }
}

/// Slopes of a common converter family in µV/K, from memory: 41.276 for K, 57.953 for J, 52.18 for T
/// and 36.256 for N. Whatever they are, the true temperature has to come back.
#[test]
fn what_a_converter_of_constant_slope_made_of_it_is_undone() {
    for (hot, cold, measured_mv, _) in points::COLD_JUNCTION {
        for (column, couple) in Thermocouple::ALL.into_iter().enumerate() {
            let slope = [41.276, 57.953, 52.18, 36.256][column];
            let reading = Celsius((cold + 1000.0 * measured_mv[column] / slope) as f32);
            let found = couple.straightened(reading, Celsius(cold as f32), slope as f32);
            let apart = f64::from(found.expect("in range").0) - hot;
            assert!(apart.abs() < TEMP_SEEN_K, "{couple:?} {hot} °C from {cold} °C: {apart} K");
        }
    }
}

#[test]
fn every_whole_degree_of_a_pt100_and_a_pt1000_agrees_with_a_reference_package_both_ways() {
    let rows = whole_degrees();
    let forward = worst(rows.iter().map(|row| (ohms(row.temp_c), row.pt100_ohm)));
    let inverse = worst(rows.iter().map(|row| (pt100_c(row.pt100_ohm), row.temp_c)));
    println!("Pt100: {forward:.6} Ω, {inverse:.6} K");
    assert!(forward < OHM_SEEN && inverse < TEMP_SEEN_K, "{forward} Ω, {inverse} K");

    let thousand = |row: &sensor_support::Row| {
        let resistance = Platinum::Pt1000.resistance(Celsius(row.temp_c as f32))?;
        let back = Platinum::Pt1000.temperature(Ohms((10.0 * row.pt100_ohm) as f32))?;
        Some((f64::from(resistance.0), f64::from(back.0)))
    };
    let both: Vec<_> = rows.iter().map(|row| thousand(row).expect("in range")).collect();
    let forward = worst(both.iter().zip(&rows).map(|(pair, row)| (pair.0, 10.0 * row.pt100_ohm)));
    let inverse = worst(both.iter().zip(&rows).map(|(pair, row)| (pair.1, row.temp_c)));
    println!("Pt1000: {forward:.6} Ω, {inverse:.6} K");
    assert!(forward < 10.0 * OHM_SEEN && inverse < TEMP_SEEN_K, "{forward} Ω, {inverse} K");
}

#[test]
fn a_pt100_agrees_at_check_points_and_its_leads_read_high() {
    for (temp, resistance, slope) in points::PT100 {
        let found = (ohms(temp + 2.0) - ohms(temp - 2.0)) / 4.0;
        assert!((ohms(temp) - resistance).abs() < OHM_SEEN, "{temp} °C");
        assert!((found - slope).abs() < 1e-4, "{temp} °C: {found} Ω/K");
        assert!((pt100_c(resistance) - temp).abs() < TEMP_SEEN_K, "{temp} °C");
    }
    for (resistance, temp) in points::PT100_TEMPERATURE {
        assert!((pt100_c(resistance) - temp).abs() < TEMP_SEEN_K, "{resistance} Ω");
    }
    // Half an ohm of leads at 150 °C, by the same equation in double precision: 1.339 K.
    let high = pt100_c(ohms(150.0) + 0.5) - 150.0;
    assert!((high - 1.339).abs() < TEMP_SEEN_K, "{high} K");
}

/// What is promised over −50…400 °C holds to the ends of the ranges: thermocouples by
/// `thermocouples_reference` 0.20 and `thermocouple-its90` 1.0.2, resistance by `ptcal` 0.1.4.
#[test]
fn the_ends_of_the_ranges_agree_with_reference_packages_both_ways() {
    for (couple, ends) in Thermocouple::ALL.into_iter().zip(points::ENDS) {
        let forward = worst(ends.iter().map(|end| (emf_uv(couple, end.0), end.1)));
        let inverse = worst(ends.iter().map(|end| (temp_c(couple, end.1), end.0)));
        println!("{couple:?}: at its ends {forward:.3} µV, {inverse:.5} K");
        assert!(forward < EMF_UV && inverse < TEMP_K, "{couple:?}: {forward} µV, {inverse} K");
    }
    for (temp, resistance) in points::PT100_FAR {
        assert!((ohms(temp) - resistance).abs() < OHM_SEEN, "{temp} °C: {} Ω", ohms(temp));
        assert!((pt100_c(resistance) - temp).abs() < TEMP_SEEN_K, "{resistance} Ω");
    }
}
