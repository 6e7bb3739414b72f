//! Equivalent minutes of a cure against values worked apart.
//!
//! Values: ∫ exp(−E/R·(1/T − 1/T₀)) dt in closed form with the exponential integral E₁ (SciPy
//! `special.exp1`), checked there by adaptive quadrature; R = 8.314 462 618 J/(mol K) (CODATA 2018).

use truesoak::files::load::{Coating, CureSchedule};
use truesoak::rehearse::Kinetics;

const GAS_CONSTANT: f64 = 8.314_462_618;
const ZERO_K: f64 = 273.15;

/// From, to, K, in so long, s.
type Line = (f64, f64, f64);

fn kinetics(activation_j_per_mol: f64, reference_k: f64) -> Kinetics {
    Kinetics { activation_k: activation_j_per_mol / GAS_CONSTANT, reference_k }
}

/// Summed second by second, as a rehearsal does, over straight lines from K to K in s.
fn equivalent_s(kinetics: Kinetics, lines: &[Line]) -> f64 {
    let of_line = |(from_k, to_k, for_s): &Line| -> f64 {
        (0..*for_s as u32)
            .map(|second| from_k + (to_k - from_k) * (f64::from(second) + 0.5) / for_s)
            .map(|kelvin| kinetics.rate(kelvin - ZERO_K))
            .sum()
    };
    lines.iter().map(of_line).sum()
}

#[test]
fn holds_and_ramps_are_worth_what_they_are() {
    let cases: [(f64, f64, &[Line], f64); 7] = [
        (80e3, 422.15, &[(422.15, 422.15, 3_600.0)], 3_600.0),
        (80e3, 422.15, &[(417.15, 417.15, 3_600.0)], 2_739.410_108_577_435),
        (80e3, 422.15, &[(427.15, 427.15, 3_600.0)], 4_700.784_492_208_688),
        (
            80e3,
            422.15,
            &[(293.15, 422.15, 2_400.0), (422.15, 422.15, 1_200.0)],
            1_517.746_886_292_758_5,
        ),
        (80e3, 422.15, &[(293.15, 422.15, 900.0)], 119.155_082_359_784_42),
        (
            65e3,
            450.15,
            &[(293.15, 450.15, 1_800.0), (450.15, 450.15, 2_700.0), (450.15, 333.15, 1_200.0)],
            3_207.045_971_958_873_5,
        ),
        (95e3, 450.15, &[(477.15, 477.15, 1_200.0)], 5_046.060_314_638_505),
    ];
    let mut worst = 0.0_f64;
    for (activation, reference_k, lines, expected_s) in cases {
        let found_s = equivalent_s(kinetics(activation, reference_k), lines);
        worst = worst.max((found_s / expected_s - 1.0).abs());
    }
    println!("worst deviation {worst:.1e}");
    assert!(worst < 1e-5, "{worst}");
}

/// A part that lags by τ in air of 149 °C, an hour by the clock.
#[test]
fn an_hour_by_the_clock_is_worth_less_to_a_part_that_lags() {
    let kinetics = kinetics(80e3, 422.15);
    for (lag_s, expected_s) in
        [(191.0, 3_111.002_928_6), (763.0, 1_693.367_547_6), (1_590.0, 512.906_300_8)]
    {
        let at = |second: u32| 149.0 - 129.0 * (-(f64::from(second) + 0.5) / lag_s).exp();
        let found_s: f64 = (0..3600).map(|second| kinetics.rate(at(second))).sum();
        assert!((found_s / expected_s - 1.0).abs() < 1e-4, "{lag_s}: {found_s}");
    }
}

/// Two schedules that cure alike: each is worth the time of the first.
#[test]
fn two_schedules_of_a_data_sheet_give_the_energy_that_makes_them_alike() {
    let cures = vec![
        CureSchedule { at_c: 150.0, for_s: 3_600.0 },
        CureSchedule { at_c: 175.0, for_s: 1_200.0 },
    ];
    let kinetics = Kinetics::of(&Coating { cures }).expect("two schedules");
    assert!((1_200.0 * kinetics.rate(175.0) / 3_600.0 - 1.0).abs() < 1e-9);
    // R·ln 3 / (1/423.15 − 1/448.15), by hand: 69.3 kJ/mol.
    assert!((kinetics.activation_j_per_mol() - 69_287.0).abs() < 20.0, "{kinetics:?}");
}
