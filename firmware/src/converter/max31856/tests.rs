//! Goal: every register is written and read as the data sheet says, every flag is told, and nothing
//! is called good that comes from a chip not set up as it was.
//!
//! The tables are those of the MAX31856 data sheet, from memory: the bits are also what each row's
//! degrees are in two's complement, so a slip of memory would not fit its own row. Addresses, bits,
//! type codes and scales were compared with the package `adafruit-circuitpython-max31856` 0.12.7.

extern crate std;

use super::super::support::{
    Always, Failing, digits, drawn, holds_together, registers as answered, written,
};
use super::*;
use embedded_hal_mock::eh1::spi::{Mock, Transaction};
use std::vec::Vec;

/// 25 °C at the chip, 150 °C at the wires' end, nothing wrong.
const OVEN: [u8; 6] = [0x19, 0x00, 0x09, 0x60, 0x00, 0x00];
/// Type K, 50 Hz, converting by itself: what a chip that stands answers for its first ten
/// registers.
const STANDS: [u8; 10] = [0x91, 0x03, 0xff, 0x7f, 0xc0, 0x7f, 0xff, 0x80, 0x00, 0x00];
/// Values after reset, table of registers.
const RESET: [u8; 10] = [0x00, 0x03, 0xff, 0x7f, 0xc0, 0x7f, 0xff, 0x80, 0x00, 0x00];

/// Both.
const GOOD: [u8; 16] = [
    0x91, 0x03, 0xff, 0x7f, 0xc0, 0x7f, 0xff, 0x80, 0x00, 0x00, 0x19, 0x00, 0x09, 0x60, 0x00, 0x00,
];

fn sheet(set_up: [u8; 10], data: [u8; 6]) -> [u8; 16] {
    let mut all = [0; 16];
    all[..10].copy_from_slice(&set_up);
    all[10..].copy_from_slice(&data);
    all
}

/// What setting up for type K and 50 Hz writes: everything with CMODE off, then CR0 with it on.
fn set_up_written() -> Vec<Transaction<u8>> {
    let stopped = [0x80, 0x11, 0x03, 0xff, 0x7f, 0xc0, 0x7f, 0xff, 0x80, 0x00, 0x00];
    [written(&stopped), written(&[0x80, 0x91])].concat()
}

fn chip(transfers: &[Vec<Transaction<u8>>]) -> Max31856<Mock<u8>> {
    Max31856::new(Mock::new(&transfers.concat()), Thermocouple::K, MainsFilter::Hz50)
}

fn transfers_of<const N: usize>(chip: &mut Max31856<Mock<u8>>) -> [Transfer; N] {
    [(); N].map(|()| chip.read().sample.transfer)
}

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

/// CR1 bits 3–0, table of thermocouple types; CR0 bit 0, 50 Hz when set.
#[test]
fn each_type_and_filter_has_its_code_of_the_register_table() {
    for (couple, code) in [
        (Thermocouple::J, 0x02),
        (Thermocouple::K, 0x03),
        (Thermocouple::N, 0x04),
        (Thermocouple::T, 0x07),
    ] {
        for (filter, automatic) in [(MainsFilter::Hz60, 0x90), (MainsFilter::Hz50, 0x91)] {
            let reset = answered(&sheet(RESET, [0; 6]));
            let stopped =
                [0x80, automatic & 0x7f, code, 0xff, 0x7f, 0xc0, 0x7f, 0xff, 0x80, 0x00, 0x00];
            let all = [reset.clone(), reset, written(&stopped), written(&[0x80, automatic])];
            let mut chip = Max31856::new(Mock::new(&all.concat()), couple, filter);
            assert_eq!(chip.read().sample.transfer, Transfer::Impossible);
            chip.release().done();
        }
    }
}

/// First conversion, 185 ms at most and 15 ms for the wires: in the third tick.
#[test]
fn a_chip_just_powered_is_set_up_and_gives_its_first_reading_three_ticks_later() {
    let reset = answered(&sheet(RESET, [0; 6]));
    let empty = answered(&sheet(STANDS, [0; 6]));
    let full = answered(&sheet(STANDS, OVEN));
    let mut chip = chip(&[reset.clone(), reset, set_up_written(), empty.clone(), empty, full]);
    assert_eq!(transfers_of(&mut chip), [Transfer::Impossible, Transfer::Silent, Transfer::Silent]);
    let reading = chip.read();
    assert_eq!(reading.sample.value, Celsius(150.0));
    assert_eq!(reading.sample.age_ticks, 0);
    assert_eq!(reading.cold_junction, Some(Celsius(25.0)));
    chip.release().done();
}

#[test]
fn a_chip_that_stands_after_the_board_was_reset_is_read_at_once() {
    let mut chip = chip(&[answered(&sheet(STANDS, OVEN))]);
    assert_eq!(transfers_of(&mut chip), [Transfer::Good]);
    chip.release().done();
}

/// Three bad ticks; five in a row trip.
#[test]
fn a_chip_that_lost_its_supply_alone_is_set_up_again_and_costs_three_ticks() {
    let full = || answered(&sheet(STANDS, OVEN));
    let reset = || answered(&sheet(RESET, [0; 6]));
    let mut chip = chip(&[full(), reset(), reset(), set_up_written(), full(), full(), full()]);
    assert_eq!(
        transfers_of(&mut chip),
        [Transfer::Good, Transfer::Impossible, Transfer::Silent, Transfer::Silent, Transfer::Good]
    );
    chip.release().done();
}

#[test]
fn a_single_disturbed_transfer_is_asked_for_again_and_sets_nothing_up() {
    let full = answered(&sheet(STANDS, OVEN));
    let silent = answered(&[0xff; 16]);
    let other_type = answered(&sheet([0x91, 0x07, 0xff, 0x7f, 0xc0, 0x7f, 0xff, 0x80, 0, 0], OVEN));
    let mut chip = chip(&[silent, full.clone(), other_type, full]);
    assert_eq!(transfers_of(&mut chip), [Transfer::Good; 2]);
    chip.release().done();
}

#[test]
fn every_bit_of_what_was_set_up_is_missed_when_it_flips() {
    for bit in 0..80 {
        let mut flipped = STANDS;
        flipped[bit / 8] ^= 1 << (bit % 8);
        let answer = answered(&sheet(flipped, OVEN));
        let mut chip = chip(&[answer.clone(), answer, set_up_written()]);
        assert_eq!(transfers_of(&mut chip), [Transfer::Impossible], "bit {bit}");
        chip.release().done();
    }
}

#[test]
fn a_chip_that_does_not_take_what_is_written_never_gives_a_reading() {
    let stuck = || answered(&sheet(RESET, OVEN));
    let tick = [stuck(), stuck(), set_up_written()].concat();
    let mut chip = chip(&[tick.clone(), tick.clone(), tick]);
    assert_eq!(transfers_of(&mut chip), [Transfer::Impossible; 3]);
    chip.release().done();
}

#[test]
fn a_chip_that_stands_and_has_not_converted_is_silent() {
    let mut chip = chip(&[answered(&sheet(STANDS, [0; 6]))]);
    assert_eq!(transfers_of(&mut chip), [Transfer::Silent]);
    chip.release().done();
}

#[test]
fn a_bus_that_fails_and_a_wire_that_is_held_are_silence() {
    let mut failing = Max31856::new(Failing(&GOOD), Thermocouple::K, MainsFilter::Hz50);
    let mut held =
        [0x00, 0xff].map(|level| Max31856::new(Always(level), Thermocouple::J, MainsFilter::Hz60));
    for _ in 0..5 {
        assert_eq!(failing.read().sample.transfer, Transfer::Silent);
        assert_eq!(held.each_mut().map(|chip| chip.read().sample.transfer), [Transfer::Silent; 2]);
    }
}

#[test]
fn nothing_is_written_to_a_chip_that_does_not_answer() {
    let mut chip = chip(&[answered(&[0xff; 16]), answered(&[0x00; 16])]);
    assert_eq!(transfers_of(&mut chip), [Transfer::Silent]);
    chip.release().done();
}
