//! Goal: the chip is set up, checked and read by the very bytes of its data sheet (sources:
//! `tests`), a fault is told in time, and nothing is called good that comes from a chip not set up
//! as it was.

extern crate std;

use super::super::support::{Always, Failing, registers as answered, written};
use super::tests::{OVEN, scale};
use super::*;
use core::iter::repeat_n;
use embedded_hal::spi::{ErrorKind, ErrorType, Operation};
use embedded_hal_mock::eh1::spi::{Mock, Transaction};
use std::vec::Vec;

/// Thresholds of a Pt100 at 400 Ω: 280.98 Ω at 500 °C and 80.306 Ω at −50 °C (IEC 60751), rounded
/// down.
const THRESHOLD_BYTES: [u8; 4] = [0xb3, 0xd2, 0x33, 0x64];

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

/// Open FORCE−: conversions alone show nothing. The fault comes right after the cycle begun in the
/// third tick; the fifth bad one is the twelfth, 0.9 s later.
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
