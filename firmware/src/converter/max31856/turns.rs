//! Goal: the chip is set up, asked and read by the very bytes of its data sheet (sources: `tests`), a
//! fault is told in time, and nothing is called good that comes from a chip not set up as it was.

extern crate std;

use super::super::Newest;
use super::super::support::{Always, Failing, registers as answered, written};
use super::tests::OVEN;
use super::*;
use embedded_hal_mock::eh1::spi::{Mock, Transaction};
use std::vec::Vec;

/// Type K, 50 Hz, nothing converting: what a chip that stands answers for its first ten registers.
const STANDS: [u8; 10] = [0x11, 0x03, 0xff, 0x7f, 0xc0, 0x7f, 0xff, 0x80, 0x00, 0x00];
/// The same while it converts.
const CONVERTS: [u8; 10] = [0x51, 0x03, 0xff, 0x7f, 0xc0, 0x7f, 0xff, 0x80, 0x00, 0x00];
/// Values after reset, table of registers.
const RESET: [u8; 10] = [0x00, 0x03, 0xff, 0x7f, 0xc0, 0x7f, 0xff, 0x80, 0x00, 0x00];

/// Stands, and what it read.
const GOOD: [u8; 16] = [
    0x11, 0x03, 0xff, 0x7f, 0xc0, 0x7f, 0xff, 0x80, 0x00, 0x00, 0x19, 0x00, 0x09, 0x60, 0x00, 0x00,
];

fn sheet(set_up: [u8; 10], data: [u8; 6]) -> [u8; 16] {
    let mut all = [0; 16];
    all[..10].copy_from_slice(&set_up);
    all[10..].copy_from_slice(&data);
    all
}

/// What setting up for type K and 50 Hz writes: everything, one conversion in it.
fn set_up_written() -> Vec<Transaction<u8>> {
    written(&[0x80, 0x51, 0x03, 0xff, 0x7f, 0xc0, 0x7f, 0xff, 0x80, 0x00, 0x00])
}

/// One conversion more.
fn asked() -> Vec<Transaction<u8>> {
    written(&[0x80, 0x51])
}

/// Nothing converts any more, and this was read: another is asked for.
fn ended(data: [u8; 6]) -> Vec<Transaction<u8>> {
    [answered(&sheet(STANDS, data)), asked()].concat()
}

/// Still under way; what was read before stands in the registers.
fn under_way(data: [u8; 6]) -> Vec<Transaction<u8>> {
    answered(&sheet(CONVERTS, data))
}

/// After reset, asked twice, and set up.
fn lost() -> Vec<Transaction<u8>> {
    let reset = answered(&sheet(RESET, [0; 6]));
    [reset.clone(), reset, set_up_written()].concat()
}

fn chip(transfers: &[Vec<Transaction<u8>>]) -> Newest<Max31856<Mock<u8>>> {
    Newest::of(Max31856::new(Mock::new(&transfers.concat()), Thermocouple::K, MainsFilter::Hz50))
}

/// What each of the next ticks says, and how old it is.
fn seen<const N: usize>(chip: &mut Newest<Max31856<Mock<u8>>>) -> [(Transfer, u16); N] {
    [(); N].map(|()| {
        let sample = chip.read().sample;
        (sample.transfer, sample.age_ticks)
    })
}

fn transfers_of<const N: usize>(chip: &mut Newest<Max31856<Mock<u8>>>) -> [Transfer; N] {
    seen(chip).map(|(transfer, _)| transfer)
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
        for (filter, asking) in [(MainsFilter::Hz60, 0x50), (MainsFilter::Hz50, 0x51)] {
            let reset = answered(&sheet(RESET, [0; 6]));
            let set_up = [0x80, asking, code, 0xff, 0x7f, 0xc0, 0x7f, 0xff, 0x80, 0x00, 0x00];
            let all = [reset.clone(), reset, written(&set_up)];
            let mut chip = Newest::of(Max31856::new(Mock::new(&all.concat()), couple, filter));
            assert_eq!(chip.read().sample.transfer, Transfer::Impossible);
            chip.converter.release().done();
        }
    }
}

/// One conversion and its look for open wires: 170 ms at most (60 Hz), 200 ms (50 Hz).
#[test]
fn a_chip_just_powered_is_set_up_and_gives_its_first_reading_when_a_conversion_has_ended() {
    for ticks in [1, 2] {
        let waiting = core::iter::repeat_n(under_way([0; 6]), ticks);
        let all: Vec<_> = core::iter::once(lost()).chain(waiting).chain([ended(OVEN)]).collect();
        let mut chip = chip(&all);
        assert_eq!(chip.read().sample.transfer, Transfer::Impossible);
        for _ in 0..ticks {
            assert_eq!(chip.read().sample.transfer, Transfer::Silent);
        }
        let reading = chip.read();
        assert_eq!(reading.sample.value, Celsius(150.0));
        assert_eq!(reading.sample.age_ticks, 0);
        assert_eq!(reading.cold_junction, Some(Celsius(25.0)));
        chip.converter.release().done();
    }
}

/// What a conversion gave that nobody of this start asked for is as old as may be.
#[test]
fn a_chip_that_stands_after_the_board_was_reset_is_asked_anew_before_it_is_believed() {
    for found in [ended(OVEN), under_way(OVEN)] {
        let was_under_way = found == under_way(OVEN);
        let mut all = Vec::from([found]);
        all.extend(was_under_way.then(|| ended(OVEN)));
        all.extend([under_way(OVEN), ended(OVEN)]);
        let mut chip = chip(&all);
        for _ in 1..all.len() {
            assert_eq!(chip.read().sample.transfer, Transfer::Silent);
        }
        assert_eq!(seen(&mut chip), [(Transfer::Good, 0)]);
        chip.converter.release().done();
    }
}

#[test]
fn while_a_conversion_is_under_way_the_one_before_stands_and_grows_older() {
    let warmer = [0x19, 0x00, 0x09, 0x70, 0x00, 0x00];
    let mut chip = chip(&[
        [ended(OVEN), under_way(OVEN), ended(OVEN)].concat(),
        [under_way(OVEN), ended(warmer), under_way(warmer), under_way(warmer)].concat(),
        ended(OVEN),
    ]);
    assert_eq!(transfers_of(&mut chip), [Transfer::Silent; 2]);
    let read = [(); 6].map(|()| chip.read().sample);
    assert_eq!(read.map(|sample| sample.age_ticks), [0, 1, 0, 1, 2, 0]);
    let expected = [150.0, 150.0, 151.0, 151.0, 151.0, 150.0].map(Celsius);
    assert_eq!(read.map(|sample| sample.value), expected);
    chip.converter.release().done();
}

/// What the core makes a stale reading of.
#[test]
fn a_conversion_that_never_ends_is_told_by_its_age_and_nothing_more_is_asked() {
    let stuck = || under_way(OVEN);
    let waiting: Vec<_> = core::iter::repeat_with(stuck).take(60).flatten().collect();
    let mut chip = chip(&[ended(OVEN), under_way(OVEN), ended(OVEN), waiting]);
    assert_eq!(transfers_of(&mut chip), [Transfer::Silent; 2]);
    for age in 0..=60 {
        let sample = chip.read().sample;
        assert_eq!((sample.transfer, sample.age_ticks), (Transfer::Good, age));
        assert_eq!((sample.value, sample.is_stale()), (Celsius(150.0), age > 5));
    }
    chip.converter.release().done();
}

/// SR bit 1: conversions are suspended while an input is beyond the supply.
#[test]
fn a_flag_that_keeps_a_conversion_from_its_end_is_told_at_once_and_until_it_is_gone() {
    let short = [0x19, 0x00, 0x09, 0x60, 0x00, 0x02];
    let suspended: Vec<_> = core::iter::repeat_n(under_way(short), 5).flatten().collect();
    let mut chip = chip(&[ended(OVEN), under_way(OVEN), ended(OVEN), suspended, ended(OVEN)]);
    assert_eq!(transfers_of(&mut chip), [Transfer::Silent; 2]);
    assert_eq!(seen(&mut chip), [(Transfer::Good, 0)]);
    assert_eq!(transfers_of(&mut chip), [Transfer::Short; 5]);
    assert_eq!(seen(&mut chip), [(Transfer::Good, 0)]);
    chip.converter.release().done();
}

/// A conversion takes two ticks at 60 Hz, and at 50 Hz, where the chip is as slow as its data sheet
/// lets it be, three. The wires break just after the look for it in the first.
#[test]
fn a_wire_that_breaks_after_it_was_looked_for_makes_five_bad_ticks_within_a_second() {
    let open = [0x19, 0x00, 0x7f, 0xff, 0xe0, 0x01];
    for (takes, fifth) in [(2, 8), (3, 10)] {
        let tick = |tick| match (tick % takes, tick / takes) {
            (0, 0 | 1) => ended(OVEN),
            (0, _) => ended(open),
            _ => under_way(OVEN),
        };
        let all: Vec<_> = (0..=fifth).map(tick).collect();
        let mut chip = chip(&all);
        let transfers: Vec<_> = (0..=fifth).map(|_| chip.read().sample.transfer).collect();
        let bad: Vec<_> = (0..=fifth).filter(|at| transfers[*at] == Transfer::Open).collect();
        assert_eq!((bad.len(), bad.last()), (5, Some(&fifth)), "{takes} ticks a conversion");
        chip.converter.release().done();
    }
}

/// Two or three bad ticks; five in a row trip.
#[test]
fn a_chip_that_lost_its_supply_alone_is_set_up_again_and_costs_two_or_three_ticks() {
    let mut chip = chip(&[
        [ended(OVEN), under_way(OVEN), ended(OVEN), lost()].concat(),
        [under_way([0; 6]), under_way([0; 6]), ended(OVEN)].concat(),
    ]);
    assert_eq!(transfers_of(&mut chip), [Transfer::Silent; 2]);
    assert_eq!(
        transfers_of(&mut chip),
        [Transfer::Good, Transfer::Impossible, Transfer::Silent, Transfer::Silent, Transfer::Good]
    );
    chip.converter.release().done();
}

#[test]
fn a_single_disturbed_transfer_is_asked_for_again_and_sets_nothing_up() {
    let silent = answered(&[0xff; 16]);
    let other_type = answered(&sheet([0x11, 0x07, 0xff, 0x7f, 0xc0, 0x7f, 0xff, 0x80, 0, 0], OVEN));
    let mut chip = chip(&[
        [ended(OVEN), under_way(OVEN)].concat(),
        [silent, ended(OVEN), other_type, under_way(OVEN), ended(OVEN)].concat(),
    ]);
    assert_eq!(transfers_of(&mut chip), [Transfer::Silent; 2]);
    assert_eq!(seen(&mut chip), [(Transfer::Good, 0), (Transfer::Good, 1), (Transfer::Good, 0)]);
    chip.converter.release().done();
}

/// What ended while nobody listened may be as old as the silence.
#[test]
fn a_tick_without_an_answer_costs_that_tick_and_what_comes_after_it_is_asked_anew() {
    let silent = answered(&[0xff; 16]);
    let unheard = [silent.clone(), silent].concat();
    let mut chip = chip(&[
        [ended(OVEN), under_way(OVEN), ended(OVEN), unheard].concat(),
        [ended(OVEN), under_way(OVEN), ended(OVEN)].concat(),
    ]);
    assert_eq!(transfers_of(&mut chip), [Transfer::Silent; 2]);
    let good = |age| (Transfer::Good, age);
    assert_eq!(seen(&mut chip), [good(0), (Transfer::Silent, 0), good(2), good(3), good(0)]);
    chip.converter.release().done();
}

#[test]
fn every_bit_of_what_was_set_up_is_missed_when_it_flips() {
    // All but 1SHOT, which is the chip's to clear.
    for bit in (0..80).filter(|bit| *bit != 6) {
        let mut flipped = STANDS;
        flipped[bit / 8] ^= 1 << (bit % 8);
        let answer = answered(&sheet(flipped, OVEN));
        let mut chip = chip(&[answer.clone(), answer, set_up_written()]);
        assert_eq!(transfers_of(&mut chip), [Transfer::Impossible], "bit {bit}");
        chip.converter.release().done();
    }
}

#[test]
fn a_chip_that_does_not_take_what_is_written_never_gives_a_reading() {
    let stuck = || answered(&sheet(RESET, OVEN));
    let tick = [stuck(), stuck(), set_up_written()].concat();
    let mut chip = chip(&[tick.clone(), tick.clone(), tick]);
    assert_eq!(transfers_of(&mut chip), [Transfer::Impossible; 3]);
    chip.converter.release().done();
}

#[test]
fn a_conversion_that_gave_nothing_but_zeros_is_silence() {
    let mut chip = chip(&[ended([0; 6]), under_way([0; 6]), ended([0; 6])]);
    assert_eq!(transfers_of(&mut chip), [Transfer::Silent; 3]);
    chip.converter.release().done();
}

#[test]
fn a_bus_that_fails_and_a_wire_that_is_held_are_silence() {
    let mut failing = Newest::of(Max31856::new(Failing(&GOOD), Thermocouple::K, MainsFilter::Hz50));
    let mut held = [0x00, 0xff]
        .map(|level| Newest::of(Max31856::new(Always(level), Thermocouple::J, MainsFilter::Hz60)));
    for _ in 0..5 {
        assert_eq!(failing.read().sample.transfer, Transfer::Silent);
        assert_eq!(held.each_mut().map(|chip| chip.read().sample.transfer), [Transfer::Silent; 2]);
    }
}

#[test]
fn nothing_is_written_to_a_chip_that_does_not_answer() {
    let mut chip = chip(&[answered(&[0xff; 16]), answered(&[0x00; 16])]);
    assert_eq!(transfers_of(&mut chip), [Transfer::Silent]);
    chip.converter.release().done();
}
