//! Goal: the chip is set up, checked and read by the very bytes of its data sheet (sources:
//! `tests`), a fault is told in time, and nothing is called good that comes from a chip not set up
//! as it was.

extern crate std;

use super::super::Newest;
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

/// Bias, one conversion.
fn convert_written() -> Vec<Transaction<u8>> {
    written(&[0x80, 0xa0])
}

/// A chip after reset: thresholds at their ends.
fn reset() -> Vec<Transaction<u8>> {
    answered(&[0x00, 0x00, 0x00, 0xff, 0xff, 0x00, 0x00, 0x00])
}

fn chip(transfers: &[Vec<Transaction<u8>>]) -> Newest<Max31865<Mock<u8>>> {
    Newest::of(Max31865::new(
        Mock::new(&transfers.concat()),
        scale(),
        Wires::Four,
        MainsFilter::Hz60,
    ))
}

fn seen<const N: usize>(chip: &mut Newest<Max31865<Mock<u8>>>) -> [(Transfer, u16); N] {
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
        let mut chip = Newest::of(Max31865::new(Mock::new(&all), scale(), wires, filter));
        assert_eq!(chip.read().sample.transfer, Transfer::Impossible);
        chip.converter.release().done();
    }
}

/// Set up, biased, checked: the next tick has a conversion.
fn begun() -> Vec<Transaction<u8>> {
    let biased = [sheet(0x80, 0, 0), cycle_written()].concat();
    [reset(), reset(), set_up_written(), biased, checked(0, 0)].concat()
}

/// A cycle has ended and found this; a conversion is asked for.
fn checked(ratio: u16, found: u8) -> Vec<Transaction<u8>> {
    [sheet(0x80, ratio, found), convert_written()].concat()
}

/// A conversion has ended and found this; a cycle is asked for.
fn converted(ratio: u16, status: u8) -> Vec<Transaction<u8>> {
    [sheet(0x80, ratio, status), cycle_written()].concat()
}

/// What the three ticks of [`begun`] say.
fn begin(chip: &mut Newest<Max31865<Mock<u8>>>) {
    let transfers = seen::<3>(chip).map(|(transfer, _)| transfer);
    assert_eq!(transfers, [Transfer::Impossible, Transfer::Silent, Transfer::Silent]);
}

const fn good(age: u16) -> (Transfer, u16) {
    (Transfer::Good, age)
}

#[test]
fn a_chip_just_powered_is_set_up_checked_and_gives_its_first_reading_three_ticks_later() {
    let mut chip = chip(&[begun(), converted(OVEN, 0)]);
    begin(&mut chip);
    let reading = chip.read();
    assert_eq!((reading.sample.transfer, reading.cold_junction), (Transfer::Good, None));
    chip.converter.release().done();
}

/// What a conversion gave that nobody of this start asked for is as old as may be.
#[test]
fn a_chip_that_stands_after_the_board_was_reset_is_checked_and_asked_before_it_is_believed() {
    let biased = [sheet(0x80, OVEN, 0), cycle_written()].concat();
    let mut chip = chip(&[sheet(0xa0, OVEN, 0), biased, checked(OVEN, 0), converted(OVEN, 0)]);
    let transfers = seen::<4>(&mut chip).map(|(transfer, _)| transfer);
    assert_eq!(transfers[..3], [Transfer::Silent; 3]);
    assert_eq!(transfers[3], Transfer::Good);
    chip.converter.release().done();
}

#[test]
fn every_other_tick_looks_for_faults_and_gives_the_reading_before_it() {
    let round = || [converted(OVEN, 0), checked(OVEN, 0)].concat();
    let mut chip = chip(&[begun(), round(), round()]);
    begin(&mut chip);
    assert_eq!(seen(&mut chip), [0, 1, 0, 1].map(good));
    chip.converter.release().done();
}

/// Configuration bit 5 still set.
#[test]
fn a_conversion_that_never_ends_is_told_by_its_age_and_nothing_more_is_asked() {
    let waiting: Vec<_> = repeat_n(sheet(0xa0, OVEN, 0), 60).flatten().collect();
    let mut chip = chip(&[begun(), converted(OVEN, 0), checked(OVEN, 0), waiting]);
    begin(&mut chip);
    for age in 0..=61 {
        let sample = chip.read().sample;
        assert_eq!((sample.transfer, sample.age_ticks), good(age));
        assert_eq!(sample.is_stale(), age > 5);
    }
    chip.converter.release().done();
}

/// Status bit 2: conversions are suspended while an input is beyond the supply.
#[test]
fn a_fault_that_keeps_a_conversion_from_its_end_is_told_at_once_and_until_it_is_gone() {
    let suspended: Vec<_> = repeat_n(sheet(0xa0, OVEN, 0x04), 5).flatten().collect();
    let gone = [converted(OVEN, 0x04), checked(OVEN, 0), converted(OVEN, 0)].concat();
    let mut chip = chip(&[begun(), converted(OVEN, 0), checked(OVEN, 0), suspended, gone]);
    begin(&mut chip);
    assert_eq!(seen(&mut chip), [good(0), good(1)]);
    let transfers = seen::<7>(&mut chip).map(|(transfer, _)| transfer);
    // The flag stands until it is cleared, behind the conversion that ended at last.
    assert_eq!(transfers, [Transfer::Short; 7]);
    assert_eq!(seen(&mut chip), [good(0)]);
    chip.converter.release().done();
}

/// Open FORCE−: conversions alone show nothing. The fault comes right after the cycle begun in the
/// first tick; the fifth bad one is the eighth, 0.7 s later.
#[test]
fn what_only_the_cycle_finds_makes_five_bad_ticks_within_a_second() {
    for (status, fault) in
        [(0x20, Transfer::Open), (0x10, Transfer::Short), (0x08, Transfer::Short)]
    {
        let found = || [checked(OVEN, status), converted(OVEN, status)].concat();
        let clean = [converted(OVEN, 0), checked(OVEN, 0), converted(OVEN, 0)].concat();
        let mut chip = chip(&[begun(), clean, found(), found(), checked(OVEN, status)]);
        begin(&mut chip);
        let transfers = seen::<8>(&mut chip).map(|(transfer, _)| transfer);
        let expected: Vec<_> = repeat_n(Transfer::Good, 3).chain(repeat_n(fault, 5)).collect();
        assert_eq!(transfers.as_slice(), expected, "{status:02x}");
        chip.converter.release().done();
    }
}

#[test]
fn what_the_cycle_found_stands_until_a_cycle_finds_it_gone() {
    let found = [checked(OVEN, 0x20), converted(OVEN, 0x20)].concat();
    let gone = [checked(OVEN, 0), converted(OVEN, 0)].concat();
    let mut chip = chip(&[begun(), converted(OVEN, 0), found, gone]);
    begin(&mut chip);
    let open = |age| (Transfer::Open, age);
    assert_eq!(seen(&mut chip), [good(0), open(0), open(0), open(1), good(0)]);
    chip.converter.release().done();
}

/// An open sensor is at full scale, a shorted one at zero; the flag stays until it is cleared.
#[test]
fn a_fault_of_one_conversion_is_cleared_and_told_again_only_if_it_lasts() {
    let mut chip = chip(&[
        [begun(), converted(0x0001, 0x40), checked(0x0001, 0)].concat(),
        [converted(OVEN, 0), checked(OVEN, 0)].concat(),
        [converted(0xffff, 0x80), checked(0xffff, 0), converted(0xffff, 0x80)].concat(),
    ]);
    begin(&mut chip);
    let (short, open) = (|age| (Transfer::Short, age), |age| (Transfer::Open, age));
    let expected = [short(0), short(1), good(0), good(1), open(0), open(1), open(0)];
    assert_eq!(seen(&mut chip), expected);
    chip.converter.release().done();
}

/// Three bad ticks; five in a row trip.
#[test]
fn a_chip_that_lost_its_supply_alone_is_set_up_again_and_costs_three_ticks() {
    let lost = [reset_but_ratio(), reset_but_ratio(), set_up_written()].concat();
    let biased = [sheet(0x80, 0, 0), cycle_written()].concat();
    let mut chip = chip(&[
        [begun(), converted(OVEN, 0)].concat(),
        [lost, biased, checked(0, 0), converted(OVEN, 0)].concat(),
    ]);
    begin(&mut chip);
    let transfers = seen::<5>(&mut chip).map(|(transfer, _)| transfer);
    assert_eq!(
        transfers,
        [Transfer::Good, Transfer::Impossible, Transfer::Silent, Transfer::Silent, Transfer::Good]
    );
    chip.converter.release().done();
}

/// Reset, with the last ratio still there.
fn reset_but_ratio() -> Vec<Transaction<u8>> {
    let [high, low] = OVEN.to_be_bytes();
    answered(&[0x00, high, low, 0xff, 0xff, 0x00, 0x00, 0x00])
}

#[test]
fn a_single_disturbed_transfer_is_asked_for_again_and_sets_nothing_up() {
    let silent = answered(&[0x00; 8]);
    let other_wires = sheet(0x90, OVEN, 0);
    let mut chip = chip(&[begun(), silent, converted(OVEN, 0), other_wires, checked(OVEN, 0)]);
    begin(&mut chip);
    assert_eq!(seen(&mut chip), [good(0), good(1)]);
    chip.converter.release().done();
}

/// What ended while nobody listened may be as old as the silence.
#[test]
fn a_tick_without_an_answer_costs_that_tick_and_what_comes_after_it_is_asked_anew() {
    let unheard = [answered(&[0x00; 8]), answered(&[0xff; 8])].concat();
    let anew = [converted(OVEN, 0), checked(OVEN, 0), converted(OVEN, 0)].concat();
    let mut chip = chip(&[begun(), converted(OVEN, 0), unheard, anew]);
    begin(&mut chip);
    assert_eq!(seen(&mut chip), [good(0), (Transfer::Silent, 0), good(2), good(3), good(0)]);
    chip.converter.release().done();
}

#[test]
fn every_bit_of_what_was_set_up_is_missed_when_it_flips_but_two_that_mean_nothing() {
    let [high, low] = OVEN.to_be_bytes();
    let [a, b, c, d] = THRESHOLD_BYTES;
    // Bit 5 of the configuration is 1SHOT, which is the chip's to clear.
    for bit in (0..8).chain(24..56).filter(|bit| *bit != 5) {
        let mut flipped = [0x80, high, low, a, b, c, d, 0];
        flipped[bit / 8] ^= 1 << (bit % 8);
        let means_nothing = bit == 32 || bit == 48;
        let mut transfers = begun();
        transfers.extend(answered(&flipped));
        if means_nothing {
            transfers.extend(cycle_written());
        } else {
            transfers.extend([answered(&flipped), set_up_written()].concat());
        }
        let mut chip = chip(&[transfers]);
        begin(&mut chip);
        let expected = if means_nothing { Transfer::Good } else { Transfer::Impossible };
        assert_eq!(chip.read().sample.transfer, expected, "bit {bit}");
        chip.converter.release().done();
    }
}

/// A chip that stands, on a bus that carries no start of a cycle but the first.
struct OneCycle {
    cycles: u32,
}

impl ErrorType for OneCycle {
    type Error = ErrorKind;
}

impl SpiDevice for OneCycle {
    fn transaction(&mut self, operations: &mut [Operation<'_, u8>]) -> Result<(), ErrorKind> {
        for operation in operations {
            match operation {
                Operation::Write([0x80, 0x84]) => {
                    self.cycles += 1;
                    if self.cycles > 1 {
                        return Err(ErrorKind::Other);
                    }
                }
                Operation::Read(bytes) => {
                    bytes.copy_from_slice(&[0x80, 0x64, 0xb0, 0xb3, 0xd2, 0x33, 0x64, 0]);
                }
                _ => {}
            }
        }
        Ok(())
    }
}

#[test]
fn a_cycle_that_could_not_be_begun_has_not_found_nothing() {
    let bus = OneCycle { cycles: 0 };
    let mut chip = Newest::of(Max31865::new(bus, scale(), Wires::Four, MainsFilter::Hz60));
    let samples = [(); 20].map(|()| chip.read().sample);
    let (before, after) = samples.split_at(2);
    assert!(before.iter().all(|sample| sample.transfer == Transfer::Silent));
    // The one conversion after the one cycle, and nothing fresh any more.
    for (age, sample) in (0..).zip(after) {
        assert_eq!((sample.transfer, sample.age_ticks), good(age));
    }
}

/// Configuration bits 3–2 still set, a tick later.
#[test]
fn a_cycle_that_does_not_end_is_no_chip_that_stands() {
    let running = sheet(0x84, OVEN, 0);
    let stuck = [running.clone(), running, set_up_written()].concat();
    let mut chip = chip(&[begun(), converted(OVEN, 0), stuck]);
    begin(&mut chip);
    let transfers = seen::<2>(&mut chip).map(|(transfer, _)| transfer);
    assert_eq!(transfers, [Transfer::Good, Transfer::Impossible]);
    chip.converter.release().done();
}

#[test]
fn a_bus_that_fails_and_a_wire_that_is_held_are_silence() {
    let good = Failing(&[0x81, 0x64, 0xb0, 0xb3, 0xd2, 0x33, 0x64, 0x00]);
    let mut failing = Newest::of(Max31865::new(good, scale(), Wires::Two, MainsFilter::Hz50));
    let mut held = [0x00, 0xff].map(|level| {
        Newest::of(Max31865::new(Always(level), scale(), Wires::Two, MainsFilter::Hz50))
    });
    for _ in 0..5 {
        assert_eq!(failing.read().sample.transfer, Transfer::Silent);
        assert_eq!(held.each_mut().map(|chip| chip.read().sample.transfer), [Transfer::Silent; 2]);
    }
}

#[test]
fn nothing_is_written_to_a_chip_that_does_not_answer() {
    let mut chip = chip(&[answered(&[0xff; 8]), answered(&[0x00; 8])]);
    assert_eq!(seen(&mut chip), [(Transfer::Silent, 0)]);
    chip.converter.release().done();
}
