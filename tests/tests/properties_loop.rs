//! Properties of the air loop, whatever comes in: no kick, no poison.
//!
//! Goal: the duty is bumpless: from one second to the next it changes by what feed-forward, error
//! and integration changed by and by nothing else, over pauses, presets and readings that are no
//! numbers. Method: histories drawn by proptest; the sum of terms is formed here again.

use proptest::prelude::*;
use truesoak_core::regulate::Tuning;
use truesoak_core::regulate::loop_control::LoopControl;

/// f32 sums of a dozen terms of a few units.
const ROUNDING: f32 = 2e-5;

/// What happens in a second.
#[derive(Clone, Copy, Debug)]
enum Happens {
    /// A reading, a setpoint, a feed-forward; summed up or not.
    Second(f32, f32, f32, bool),
    /// The loop only follows the reading.
    Follows(f32),
    /// The integral is set.
    Preset(f32),
    /// A reading that is none.
    Nothing(f32),
}

fn happens() -> impl Strategy<Value = Happens> {
    let reading = -20.0_f32..260.0;
    prop_oneof![
        8 => (reading.clone(), 20.0_f32..220.0, 0.0_f32..1.0, any::<bool>())
            .prop_map(|(reading, setpoint, forward, sums)| {
                Happens::Second(reading, setpoint, forward, sums)
            }),
        2 => reading.prop_map(Happens::Follows),
        1 => (-1.0_f32..1.0).prop_map(Happens::Preset),
        1 => prop_oneof![Just(f32::NAN), Just(f32::INFINITY), Just(f32::NEG_INFINITY)]
            .prop_map(Happens::Nothing),
    ]
}

fn tuning() -> impl Strategy<Value = Tuning> {
    (0.001_f32..0.2, 20.0_f32..2000.0).prop_map(|(gain_per_k, integral_time_s)| Tuning {
        gain_per_k,
        integral_time_s,
        derivative_time_s: 0.0,
    })
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn duty_is_the_sum_of_its_terms_and_never_kicks(
        tuning in tuning(),
        history in prop::collection::vec(happens(), 1..200),
    ) {
        let mut control = LoopControl::new(tuning);
        for happens in history {
            let before = control.integral();
            match happens {
                Happens::Second(reading, setpoint, forward, sums) => {
                    let duty = control.second(reading, setpoint, forward, sums);
                    let error_k = setpoint - reading;
                    let summed = (control.integral() - before).abs();
                    let most = tuning.gain_per_k / tuning.integral_time_s * error_k.abs();
                    prop_assert!(summed <= most + ROUNDING, "{summed} in a second");
                    prop_assert!(sums || summed <= ROUNDING, "summed up though held");
                    let proportional = (tuning.gain_per_k * error_k).clamp(-4.0, 4.0);
                    let sum = forward + control.integral() + proportional;
                    prop_assert!((duty - sum.clamp(0.0, 1.0)).abs() <= ROUNDING, "{duty} {sum}");
                }
                Happens::Follows(reading) => {
                    control.follow(reading);
                    prop_assert!((control.integral() - before).abs() <= ROUNDING);
                }
                Happens::Preset(integral) => {
                    control.preset(integral);
                    let kept = integral.clamp(-0.5, 0.5);
                    prop_assert!((control.integral() - kept).abs() <= ROUNDING);
                }
                Happens::Nothing(reading) => {
                    let duty = control.second(reading, 150.0, 0.5, true);
                    prop_assert!(duty.abs() <= f32::EPSILON, "{duty} without a reading");
                    prop_assert!((control.integral() - before).abs() <= f32::EPSILON);
                }
            }
        }
    }

    #[test]
    fn a_saturated_loop_never_sums_up_further_into_its_end(
        tuning in tuning(),
        errors in prop::collection::vec(20.0_f32..200.0, 1..400),
    ) {
        let mut control = LoopControl::new(tuning);
        for error_k in errors {
            let before = control.integral();
            let duty = control.second(150.0 - error_k, 150.0, 0.99, true);
            if duty >= 1.0 && tuning.gain_per_k * error_k >= 0.02 + 0.5 {
                prop_assert!(control.integral() <= before + ROUNDING);
            }
        }
    }
}
