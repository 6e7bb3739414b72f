//! Goal: every register is written and read as the data sheet says, every fault is told in time, and
//! nothing is called good that comes from a chip not set up as it was.
//!
//! Registers, codes and faults are those of the MAX31865 data sheet, from memory, compared with the
//! packages `max31865` 0.1.1 and `embedded-devices` 0.10.3 (thresholds inclusive, the cycle's bits
//! and its 0.51 ms) and `adafruit-circuitpython-max31865` 2.2.27. Resistances: IEC 60751.

extern crate std;

use super::super::support::{
    Always, Failing, drawn, holds_together, registers as answered, written,
};
use super::*;
use core::iter::repeat_n;
use embedded_hal::spi::{ErrorKind, ErrorType, Operation};
use embedded_hal_mock::eh1::spi::{Mock, Transaction};
use std::string::ToString;
use std::vec::Vec;

/// A Pt100 at 400 Ω, as the data sheet's table has it.
fn scale() -> Scale {
    Scale::new(Platinum::Pt100, Ohms(400.0)).expect("fits")
}

/// Thresholds of that: 280.98 Ω (500 °C) and 80.31 Ω (−50 °C) by 400 Ω (IEC 60751), rounded down.
const THRESHOLD_BYTES: [u8; 4] = [0xb3, 0xd2, 0x33, 0x64];
/// 150 °C: 157.33 Ω.
const OVEN: u16 = 0x64b0;

/// What a chip answers that stands; configuration, ratio and status given.
fn sheet(configuration: u8, ratio: u16, status: u8) -> Vec<Transaction<u8>> {
    let [high, low] = ratio.to_be_bytes();
    let [a, b, c, d] = THRESHOLD_BYTES;
    answered(&[configuration, high, low, a, b, c, d, status])
}

/// Four wires, 60 Hz. In turn: bias, clear; thresholds.
fn set_up_written() -> Vec<Transaction<u8>> {
    [written(&[0x80, 0x82]), written(&[0x83, 0xb3, 0xd2, 0x33, 0x64])].concat()
}

/// Table of fault detection control bits: 100x 010x, after the faults were cleared.
fn cycle_written() -> Vec<Transaction<u8>> {
    [written(&[0x80, 0x82]), written(&[0x80, 0x84])].concat()
}

/// Bias, automatic, clear.
fn convert_written() -> Vec<Transaction<u8>> {
    written(&[0x80, 0xc2])
}

/// A chip after reset: thresholds at their ends.
fn reset() -> Vec<Transaction<u8>> {
    answered(&[0x00, 0x00, 0x00, 0xff, 0xff, 0x00, 0x00, 0x00])
}

fn chip(transfers: &[Vec<Transaction<u8>>]) -> Max31865<Mock<u8>> {
    Max31865::new(Mock::new(&transfers.concat()), scale(), Wires::Four, MainsFilter::Hz60)
}

fn seen<const N: usize>(chip: &mut Max31865<Mock<u8>>) -> [(Transfer, u16); N] {
    [(); N].map(|()| {
        let sample = chip.read().sample;
        (sample.transfer, sample.age_ticks)
    })
}

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

/// Configuration register: bit 4 three wires, bit 0 50 Hz.
#[test]
fn wires_and_filter_are_written_as_the_configuration_register_has_them() {
    for (wires, filter, first) in [
        (Wires::Two, MainsFilter::Hz60, 0x82),
        (Wires::Three, MainsFilter::Hz60, 0x92),
        (Wires::Four, MainsFilter::Hz60, 0x82),
        (Wires::Two, MainsFilter::Hz50, 0x83),
        (Wires::Three, MainsFilter::Hz50, 0x93),
        (Wires::Four, MainsFilter::Hz50, 0x83),
    ] {
        let thresholds = written(&[0x83, 0xb3, 0xd2, 0x33, 0x64]);
        let all = [reset(), reset(), written(&[0x80, first]), thresholds].concat();
        let mut chip = Max31865::new(Mock::new(&all), scale(), wires, filter);
        assert_eq!(chip.read().sample.transfer, Transfer::Impossible);
        chip.release().done();
    }
}

#[test]
fn a_chip_just_powered_is_set_up_checked_and_gives_its_first_reading_three_ticks_later() {
    let mut chip = chip(&[
        [reset(), reset(), set_up_written()].concat(),
        [sheet(0x80, 0, 0), cycle_written()].concat(),
        [sheet(0x80, 0, 0), convert_written()].concat(),
        sheet(0xc0, OVEN, 0),
    ]);
    let [first, biased, checking, _] = [(); 4].map(|()| chip.read()).map(|reading| {
        assert_eq!(reading.cold_junction, None);
        reading.sample.transfer
    });
    assert_eq!(
        [first, biased, checking],
        [Transfer::Impossible, Transfer::Silent, Transfer::Silent]
    );
    chip.release().done();
}

/// One round of four ticks: three conversions, the cycle's end.
fn round(ratio: u16, found: u8) -> Vec<Transaction<u8>> {
    let plain = || sheet(0xc0, ratio, 0);
    [plain(), plain(), plain(), cycle_written(), sheet(0x80, ratio, found), convert_written()]
        .concat()
}

#[test]
fn every_fourth_tick_looks_for_faults_and_gives_the_reading_before_it() {
    let mut chip = chip(&[round(OVEN, 0), round(OVEN, 0)]);
    let good = |age| (Transfer::Good, age);
    let expected = [0, 0, 0, 1, 0, 0, 0, 1].map(good);
    assert_eq!(seen(&mut chip), expected);
    chip.release().done();
}

/// Open FORCE−: conversions alone show nothing. The fault comes right after the cycle begun in the third
/// tick; the fifth bad one is the twelfth, 0.9 s later.
#[test]
fn what_only_the_cycle_finds_makes_five_bad_ticks_within_a_second() {
    for (status, fault) in
        [(0x20, Transfer::Open), (0x10, Transfer::Short), (0x08, Transfer::Short)]
    {
        let mut chip = chip(&[round(OVEN, 0), round(OVEN, status), round(OVEN, status)]);
        let transfers = seen::<12>(&mut chip).map(|(transfer, _)| transfer);
        let good = repeat_n(Transfer::Good, 7);
        let expected: Vec<_> = good.chain(repeat_n(fault, 5)).collect();
        assert_eq!(transfers.as_slice(), expected, "{status:02x}");
        chip.release().done();
    }
}

#[test]
fn what_the_cycle_found_stands_until_a_cycle_finds_it_gone() {
    let clean = [sheet(0xc0, OVEN, 0), sheet(0xc0, OVEN, 0)].concat();
    let mut chip = chip(&[round(OVEN, 0x20), round(OVEN, 0x20), round(OVEN, 0), clean]);
    let transfers = seen::<14>(&mut chip).map(|(transfer, _)| transfer);
    let expected: Vec<_> = repeat_n(Transfer::Good, 3)
        .chain(repeat_n(Transfer::Open, 9))
        .chain(repeat_n(Transfer::Good, 2))
        .collect();
    assert_eq!(transfers.as_slice(), expected);
    chip.release().done();
}

/// An open sensor is at full scale, a shorted one at zero; the flag stays until it is cleared.
#[test]
fn a_fault_of_one_conversion_is_cleared_and_told_again_only_if_it_lasts() {
    let open = || [sheet(0xc0, 0xffff, 0x80), convert_written()].concat();
    let shorted = [sheet(0xc0, 0x0001, 0x40), convert_written()].concat();
    let last_open = [sheet(0xc0, 0xffff, 0x80), cycle_written()].concat();
    let checked = [sheet(0x80, 0xffff, 0x00), convert_written()].concat();
    let mut chip = chip(&[
        [shorted, sheet(0xc0, OVEN, 0)].concat(),
        [sheet(0xc0, OVEN, 0), cycle_written()].concat(),
        [sheet(0x80, OVEN, 0), convert_written()].concat(),
        [open(), open(), last_open, checked, open()].concat(),
    ]);
    assert_eq!(
        seen(&mut chip),
        [
            (Transfer::Short, 0),
            (Transfer::Good, 0),
            (Transfer::Good, 0),
            (Transfer::Good, 1),
            (Transfer::Open, 0),
            (Transfer::Open, 0),
            (Transfer::Open, 0),
            (Transfer::Open, 1),
            (Transfer::Open, 0),
        ]
    );
    chip.release().done();
}

/// Three bad ticks; five in a row trip.
#[test]
fn a_chip_that_lost_its_supply_alone_is_set_up_again_and_costs_three_ticks() {
    let mut chip = chip(&[
        sheet(0xc0, OVEN, 0),
        [reset_but_ratio(), reset_but_ratio(), set_up_written()].concat(),
        [sheet(0x80, 0, 0), cycle_written()].concat(),
        [sheet(0x80, 0, 0), convert_written()].concat(),
        sheet(0xc0, OVEN, 0),
    ]);
    let transfers = seen::<5>(&mut chip).map(|(transfer, _)| transfer);
    assert_eq!(
        transfers,
        [Transfer::Good, Transfer::Impossible, Transfer::Silent, Transfer::Silent, Transfer::Good]
    );
    chip.release().done();
}

/// Reset, with the last ratio still there.
fn reset_but_ratio() -> Vec<Transaction<u8>> {
    let [high, low] = OVEN.to_be_bytes();
    answered(&[0x00, high, low, 0xff, 0xff, 0x00, 0x00, 0x00])
}

#[test]
fn a_single_disturbed_transfer_is_asked_for_again_and_sets_nothing_up() {
    let silent = answered(&[0x00; 8]);
    let other_wires = sheet(0xd0, OVEN, 0);
    let full = sheet(0xc0, OVEN, 0);
    let mut chip = chip(&[silent, full.clone(), other_wires, full]);
    assert_eq!(seen(&mut chip), [(Transfer::Good, 0); 2]);
    chip.release().done();
}

#[test]
fn every_bit_of_what_was_set_up_is_missed_when_it_flips_but_two_that_mean_nothing() {
    let [high, low] = OVEN.to_be_bytes();
    let [a, b, c, d] = THRESHOLD_BYTES;
    for bit in (0..8).chain(24..56) {
        let mut flipped = [0xc0, high, low, a, b, c, d, 0];
        flipped[bit / 8] ^= 1 << (bit % 8);
        let means_nothing = bit == 32 || bit == 48;
        let mut transfers = Vec::from([answered(&flipped)]);
        if !means_nothing {
            transfers.extend([answered(&flipped), set_up_written()]);
        }
        let mut chip = chip(&transfers);
        let expected = if means_nothing { Transfer::Good } else { Transfer::Impossible };
        assert_eq!(chip.read().sample.transfer, expected, "bit {bit}");
        chip.release().done();
    }
}

/// A chip that stands, on a bus that will not carry the start of a cycle.
struct NoCycle {
    configuration: u8,
}

impl ErrorType for NoCycle {
    type Error = ErrorKind;
}

impl SpiDevice for NoCycle {
    fn transaction(&mut self, operations: &mut [Operation<'_, u8>]) -> Result<(), ErrorKind> {
        for operation in operations {
            match operation {
                Operation::Write([0x80, 0x84]) => return Err(ErrorKind::Other),
                Operation::Write([0x80, first]) => self.configuration = *first & !0x02,
                Operation::Read(bytes) => bytes.copy_from_slice(&[
                    self.configuration,
                    0x64,
                    0xb0,
                    0xb3,
                    0xd2,
                    0x33,
                    0x64,
                    0,
                ]),
                _ => {}
            }
        }
        Ok(())
    }
}

#[test]
fn a_cycle_that_could_not_be_begun_has_not_found_nothing() {
    let bus = NoCycle { configuration: 0xc0 };
    let mut chip = Max31865::new(bus, scale(), Wires::Four, MainsFilter::Hz60);
    let transfers = [(); 20].map(|()| chip.read().sample.transfer);
    let (before, after) = transfers.split_at(3);
    assert_eq!(before, [Transfer::Good; 3]);
    assert!(after.iter().all(|transfer| *transfer != Transfer::Good), "{after:?}");
}

/// Configuration bits 3–2 still set, a tick later.
#[test]
fn a_cycle_that_does_not_end_is_no_chip_that_stands() {
    let running = sheet(0x84, OVEN, 0);
    let mut chip = chip(&[
        [sheet(0xc0, OVEN, 0), sheet(0xc0, OVEN, 0), sheet(0xc0, OVEN, 0)].concat(),
        cycle_written(),
        [running.clone(), running, set_up_written()].concat(),
    ]);
    let transfers = seen::<4>(&mut chip).map(|(transfer, _)| transfer);
    assert_eq!(transfers[3], Transfer::Impossible);
    chip.release().done();
}

#[test]
fn a_bus_that_fails_and_a_wire_that_is_held_are_silence() {
    let good = Failing(&[0xc1, 0x64, 0xb0, 0xb3, 0xd2, 0x33, 0x64, 0x00]);
    let mut failing = Max31865::new(good, scale(), Wires::Two, MainsFilter::Hz50);
    let mut held = [0x00, 0xff]
        .map(|level| Max31865::new(Always(level), scale(), Wires::Two, MainsFilter::Hz50));
    for _ in 0..5 {
        assert_eq!(failing.read().sample.transfer, Transfer::Silent);
        assert_eq!(held.each_mut().map(|chip| chip.read().sample.transfer), [Transfer::Silent; 2]);
    }
}

#[test]
fn nothing_is_written_to_a_chip_that_does_not_answer() {
    let mut chip = chip(&[answered(&[0xff; 8]), answered(&[0x00; 8])]);
    assert_eq!(seen(&mut chip), [(Transfer::Silent, 0)]);
    chip.release().done();
}
