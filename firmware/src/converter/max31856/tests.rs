//! Goal: every register is read as the data sheet says, every flag is told, and nothing else is called
//! good.
//!
//! The tables are those of the MAX31856 data sheet, from memory: the bits are also what each row's
//! degrees are in two's complement, so a slip of memory would not fit its own row. Addresses, bits,
//! type codes and scales were compared with the package `adafruit-circuitpython-max31856` 0.12.7.

extern crate std;

use super::super::support::{digits, drawn, holds_together};
use super::*;

/// 25 °C at the chip, 150 °C at the wires' end, nothing wrong.
pub(super) const OVEN: [u8; 6] = [0x19, 0x00, 0x09, 0x60, 0x00, 0x00];

fn with_status(status: u8) -> Reading {
    let [a, b, c, d, e, _] = OVEN;
    decode([a, b, c, d, e, status], Thermocouple::K)
}

#[test]
fn the_linearized_temperatures_of_the_sheets_table_are_read_as_printed() {
    for (printed_c, row) in [
        (1600.0, "0110 0100 0000 0000 000"),
        (1000.0, "0011 1110 1000 0000 000"),
        (100.9375, "0000 0110 0100 1111 000"),
        (25.0, "0000 0001 1001 0000 000"),
        (0.0625, "0000 0000 0000 0001 000"),
        (0.0, "0000 0000 0000 0000 000"),
        (-0.0625, "1111 1111 1111 1111 000"),
        (-1.0, "1111 1111 1111 0000 000"),
        (-250.0, "1111 0000 0110 0000 000"),
    ] {
        let [_, high, middle, low] = (digits(row) << 5).to_be_bytes();
        let reading = decode([0x19, 0x00, high, middle, low | 0x1f, 0x00], Thermocouple::K);
        if (-150.0..=1372.0).contains(&printed_c) {
            assert_eq!(reading.sample.value, Celsius(printed_c), "{row}");
            assert_eq!(reading.sample.transfer, Transfer::Good);
        } else {
            assert_eq!(reading.sample.transfer, Transfer::Impossible, "no type K gives {row}");
        }
    }
}

#[test]
fn the_cold_junctions_of_the_sheets_table_are_read_as_printed() {
    for (printed_c, row) in [
        (127.0, "0111 1111 0000 00"),
        (125.0, "0111 1101 0000 00"),
        (25.0, "0001 1001 0000 00"),
        (0.5, "0000 0000 1000 00"),
        (0.015625, "0000 0000 0000 01"),
        (0.0, "0000 0000 0000 00"),
        (-0.5, "1111 1111 1000 00"),
        (-25.0, "1110 0111 0000 00"),
        (-55.0, "1100 1001 0000 00"),
    ] {
        let [_, _, high, low] = (digits(row) << 2).to_be_bytes();
        let reading = decode([high, low | 0x03, 0x09, 0x60, 0x00, 0x00], Thermocouple::K);
        let measured = printed_c <= 125.0;
        assert_eq!(reading.cold_junction, measured.then_some(Celsius(printed_c)), "{row}");
        assert_eq!(reading.sample.transfer == Transfer::Good, measured, "{row}");
    }
}

/// Register 0x0f, one bit each; none of them leaves a temperature.
#[test]
fn each_flag_of_the_status_register_is_told() {
    for (bit, expected) in [
        (0x01, Transfer::Open),
        (0x02, Transfer::Short),
        (0x04, Transfer::Impossible),
        (0x08, Transfer::Impossible),
        (0x10, Transfer::Impossible),
        (0x20, Transfer::Impossible),
        (0x40, Transfer::Impossible),
        (0x80, Transfer::Impossible),
    ] {
        let reading = with_status(bit);
        assert_eq!(reading.sample.transfer, expected, "{bit:02x}");
        assert!(reading.sample.value.0.is_nan());
        let told = expected != Transfer::Impossible;
        assert_eq!(reading.cold_junction.is_some(), told, "{bit:02x}");
    }
    assert_eq!(with_status(0).sample.transfer, Transfer::Good);
}

#[test]
fn of_all_combinations_of_flags_open_is_told_before_short_and_short_before_the_rest() {
    for status in 1..=u8::MAX {
        let expected = match status & 0x03 {
            0x00 => Transfer::Impossible,
            0x02 => Transfer::Short,
            _ => Transfer::Open,
        };
        assert_eq!(with_status(status).sample.transfer, expected, "{status:08b}");
    }
}

/// −55…125 °C, SR bit 7 for types J, K, N and T.
#[test]
fn of_every_cold_junction_only_those_the_chip_measures_are_possible() {
    for code in -(1_i32 << 13)..1 << 13 {
        let [_, _, high, low] = (code << 2).to_be_bytes();
        let reading = decode([high, low, 0x09, 0x60, 0x00, 0x00], Thermocouple::K);
        let measured = (-55 * 64..=125 * 64).contains(&code);
        assert_eq!(reading.sample.transfer == Transfer::Good, measured, "{code}/64 °C");
        assert_eq!(reading.cold_junction.is_some(), measured, "{code}/64 °C");
    }
}

#[test]
fn of_every_hot_end_only_those_of_the_type_are_possible() {
    for couple in Thermocouple::ALL {
        let (lowest, highest) = couple.range();
        for code in -(1_i32 << 18)..1 << 18 {
            let [_, high, middle, low] = (code << 5).to_be_bytes();
            let reading = decode([0x19, 0x00, high, middle, low, 0x00], couple);
            let expected = Celsius(code as f32 / 128.0);
            if (lowest..=highest).contains(&expected) {
                assert_eq!(reading.sample.value, expected);
            } else {
                assert_eq!(reading.sample.transfer, Transfer::Impossible, "{couple:?} {code}");
            }
        }
    }
}

#[test]
fn a_frame_is_all_bits_that_mean_something_and_no_others() {
    let quiet = decode([0x19, 0x00, 0x09, 0x60, 0x00, 0x00], Thermocouple::K);
    let noisy = decode([0x19, 0x03, 0x09, 0x60, 0x1f, 0x00], Thermocouple::K);
    assert_eq!(quiet, noisy);
    assert_eq!(quiet.sample.frame, 0x1900_0960_0000);
    for bit in (0..48).filter(|bit| !matches!(bit, 8..=12 | 32..=33)) {
        let [_, _, a, b, c, d, e, f] = (0x1900_0960_0000_u64 ^ 1 << bit).to_be_bytes();
        let changed = decode([a, b, c, d, e, f], Thermocouple::K);
        assert_ne!(changed.sample.frame, quiet.sample.frame, "bit {bit}");
    }
}

#[test]
fn nothing_panics_and_nothing_but_a_good_frame_has_a_temperature() {
    for bits in drawn().take(1_000_000) {
        let [_, _, a, b, c, d, e, f] = bits.to_be_bytes();
        // Every fourth without a flag, or none of them would ever be good.
        let status = if bits >> 62 == 0 { 0 } else { f };
        let reading = decode([a, b, c, d, e, status], Thermocouple::N);
        assert!(holds_together(&reading), "{bits:016x} {reading:?}");
        assert!(status == 0 || reading.sample.transfer != Transfer::Good);
    }
}
