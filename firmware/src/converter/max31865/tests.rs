//! Goal: every code and every fault is read as the data sheet says, and nothing else is called
//! good.
//!
//! Registers, codes and faults are those of the MAX31865 data sheet, from memory, compared with the
//! packages `max31865` 0.1.1 and `embedded-devices` 0.10.3 (thresholds inclusive, the cycle's bits
//! and its 0.51 ms) and `adafruit-circuitpython-max31865` 2.2.27. Resistances: IEC 60751.

extern crate std;

use super::super::support::{drawn, holds_together};
use super::*;
use std::string::ToString;

/// A Pt100 at 400 Ω, as the data sheet's table has it.
pub(super) fn scale() -> Scale {
    Scale::new(Platinum::Pt100, Ohms(400.0)).expect("fits")
}

/// 150 °C: 157.33 Ω.
pub(super) const OVEN: u16 = 0x64b0;

/// Codes of a Pt100 at 400 Ω in the data sheet's table; each is what its ohms give.
#[test]
fn the_codes_of_the_sheets_table_are_read_as_its_temperatures() {
    for (printed_c, ohms, ratio) in [
        (-200.0, 18.52, 0x0bda),
        (-100.0, 60.26, 0x2690),
        (-50.0, 80.31, 0x3366),
        (-25.0, 90.19, 0x39b8),
        (0.0, 100.00, 0x4000),
        (25.0, 109.73, 0x463a),
        (50.0, 119.40, 0x4c6a),
        (75.0, 128.99, 0x528e),
        (100.0, 138.51, 0x58a6),
        (125.0, 147.95, 0x5eb0),
        (150.0, 157.33, 0x64b0),
        (200.0, 175.86, 0x708c),
        (300.0, 212.05, 0x87b6),
        (400.0, 247.09, 0x9e24),
        (550.0, 297.49, 0xbe64),
    ] {
        assert_eq!((ohms / 400.0 * 32768.0_f64).round() as u16, ratio >> 1, "{ohms} Ω");
        let reading = scale().decode(ratio, 0);
        if (-50.0..500.0).contains(&printed_c) {
            // Half a code is 0.016 K, half a printed digit 0.014 K.
            let off = (reading.sample.value - Celsius(printed_c)).0;
            assert!(off.abs() < 0.03, "{printed_c} °C: {off} K off");
            assert_eq!(reading.cold_junction, None);
        } else {
            assert_eq!(reading.sample.transfer, Transfer::Impossible, "{ohms} Ω without a flag");
        }
    }
}

#[test]
fn a_pt1000_at_ten_times_the_reference_has_the_same_codes() {
    let thousand = Scale::new(Platinum::Pt1000, Ohms(4000.0)).expect("fits");
    for ratio in (0..=u16::MAX).step_by(7) {
        let [small, large] = [scale(), thousand].map(|scale| scale.decode(ratio, 0).sample);
        assert_eq!(small.transfer, large.transfer, "{ratio:04x}");
        if small.transfer == Transfer::Good {
            assert!((small.value - large.value).0.abs() < 0.001, "{ratio:04x}");
        }
    }
}

/// Register 0x07, one bit each.
#[test]
fn each_fault_of_the_status_register_is_told() {
    for (bit, expected, what) in [
        (0x80, Transfer::Open, "above the high threshold"),
        (0x40, Transfer::Short, "below the low threshold"),
        (0x20, Transfer::Open, "REFIN- high: no current although FORCE- is closed"),
        (0x10, Transfer::Short, "REFIN- low although FORCE- is open"),
        (0x08, Transfer::Short, "RTDIN- low although FORCE- is open"),
        (0x04, Transfer::Short, "over or under voltage"),
    ] {
        let reading = scale().decode(OVEN | 1, bit);
        assert_eq!(reading.sample.transfer, expected, "{what}");
        assert!(reading.sample.value.0.is_nan());
        assert_eq!(reading.sample.frame, u64::from(OVEN | 1) << 8 | u64::from(bit));
    }
}

#[test]
fn of_all_combinations_of_faults_open_is_told_before_short_and_two_bits_mean_nothing() {
    for status in 0..=u8::MAX {
        let expected = match (status & 0xa0, status & 0x5c) {
            (0, 0) => Transfer::Good,
            (0, _) => Transfer::Short,
            _ => Transfer::Open,
        };
        assert_eq!(scale().decode(OVEN, status).sample.transfer, expected, "{status:08b}");
    }
    assert_eq!(scale().decode(OVEN, 0x03), scale().decode(OVEN, 0x00));
}

#[test]
fn every_ratio_between_the_thresholds_is_hotter_than_the_one_before_and_no_other_is_good() {
    let mut before = f32::NEG_INFINITY;
    for code in 0..1_u16 << 15 {
        let reading = scale().decode(code << 1, 0);
        assert!(holds_together(&reading), "{reading:?}");
        // 0x19b2 and 0x59e9 with the threshold registers' bit 0 taken off.
        let inside = (0x3364 >> 1) < code && code < (0xb3d2 >> 1);
        assert_eq!(reading.sample.transfer == Transfer::Good, inside, "{code}");
        if inside {
            assert!(reading.sample.value.0 > before, "{code}");
            before = reading.sample.value.0;
        }
        // Bit 0 says there is a fault, the status that there is none.
        let marked = scale().decode(code << 1 | 1, 0);
        assert_eq!(marked.sample.transfer, Transfer::Impossible);
    }
}

#[test]
fn nothing_panics_and_nothing_but_a_good_frame_has_a_temperature() {
    for bits in drawn().take(1_000_000) {
        let status = if bits >> 62 == 0 { 0 } else { bits as u8 };
        let reading = scale().decode((bits >> 16) as u16, status);
        assert!(holds_together(&reading), "{bits:016x} {reading:?}");
    }
}

#[test]
fn a_reference_that_does_not_fit_the_sensor_is_refused() {
    for (sensor, ohms, fits) in [
        (Platinum::Pt100, 400.0, true),
        (Platinum::Pt100, 430.0, true),
        (Platinum::Pt100, 1000.0, true),
        (Platinum::Pt1000, 4000.0, true),
        (Platinum::Pt1000, 4300.0, true),
        // Those of the other sensor.
        (Platinum::Pt100, 4300.0, false),
        (Platinum::Pt1000, 430.0, false),
        // 280.98 Ω at 500 °C.
        (Platinum::Pt100, 280.0, false),
        (Platinum::Pt100, 0.0, false),
        (Platinum::Pt100, -430.0, false),
        (Platinum::Pt100, f32::NAN, false),
        (Platinum::Pt100, f32::INFINITY, false),
    ] {
        let made = Scale::new(sensor, Ohms(ohms));
        assert_eq!(made.is_ok(), fits, "{sensor:?} {ohms} Ω");
    }
    let refused = Scale::new(Platinum::Pt1000, Ohms(430.0)).expect_err("another sensor's");
    assert_eq!(refused.to_string(), "a Pt1000 is not measured by 430 ohms");
}
