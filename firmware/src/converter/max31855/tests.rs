//! Goal: every frame the chip can send is read as its data sheet says, every other is told as none.
//!
//! The tables are those of the MAX31855 data sheet, from memory: the bits are also what each row's
//! degrees are in two's complement, so a slip of memory would not fit its own row. Positions of the
//! flags, the scales and the slope of type K were compared with the package
//! `adafruit-circuitpython-max31855` 3.3.0.

extern crate std;

use super::super::Newest;
use super::super::support::{Always, Failing, digits, drawn, holds_together};
use super::*;
use embedded_hal_mock::eh1::spi::{Mock, Transaction};
use std::vec::Vec;

/// A frame of its parts, independent of the code under test.
fn frame(hot: u32, cold: u32, flags: u32) -> u32 {
    hot << 18 | cold << 4 | flags
}

/// 25 °C at the chip.
const ROOM: u32 = 0x190;
/// 150 °C by the chip.
const HOT: u32 = 600;

/// Table 1, nominal sensitivities, µV/K.
fn slope(couple: Thermocouple) -> f32 {
    match couple {
        Thermocouple::K => 41.276,
        Thermocouple::J => 57.953,
        Thermocouple::T => 52.18,
        Thermocouple::N => 36.256,
    }
}

fn transfer_of(frame: u32) -> Transfer {
    decode(frame, Thermocouple::K).sample.transfer
}

#[test]
fn the_hot_ends_of_table_4_are_read_as_printed() {
    for (printed_c, row) in [
        (1600.0, "0110 0100 0000 00"),
        (1000.0, "0011 1110 1000 00"),
        (100.75, "0000 0110 0100 11"),
        (25.0, "0000 0001 1001 00"),
        (0.0, "0000 0000 0000 00"),
        (-0.25, "1111 1111 1111 11"),
        (-1.0, "1111 1111 1111 00"),
        (-250.0, "1111 0000 0110 00"),
    ] {
        let read = hot_by_chip(frame(digits(row), 0xfff, 0xf));
        assert_eq!(read, Celsius(printed_c), "{row}");
    }
}

#[test]
fn the_cold_junctions_of_table_5_are_read_as_printed() {
    for (printed_c, row) in [
        (127.0, "0111 1111 0000"),
        (100.5625, "0110 0100 1001"),
        (25.0, "0001 1001 0000"),
        (0.0, "0000 0000 0000"),
        (-0.0625, "1111 1111 1111"),
        (-1.0, "1111 1111 0000"),
        (-20.0, "1110 1100 0000"),
        (-55.0, "1100 1001 0000"),
    ] {
        let read = cold_junction(frame(0x3fff, digits(row), 0xf));
        assert_eq!(read, Celsius(printed_c), "{row}");
    }
}

/// Table 2, the memory map: bit 16 with bit 0, 1 or 2.
#[test]
fn each_flag_of_the_memory_map_is_told_with_its_cold_junction() {
    for (flags, expected) in [
        (0x1_0001, Transfer::Open),
        (0x1_0002, Transfer::Short),
        (0x1_0004, Transfer::Short),
        (0x1_0006, Transfer::Short),
        (0x1_0007, Transfer::Open),
    ] {
        let reading = decode(frame(HOT, ROOM, flags), Thermocouple::K);
        assert_eq!(reading.sample.transfer, expected, "{flags:x}");
        assert_eq!(reading.cold_junction, Some(Celsius(25.0)));
        assert_eq!(reading.sample.frame, u64::from(frame(HOT, ROOM, flags)));
        assert!(reading.sample.value.0.is_nan());
    }
}

#[test]
fn of_all_combinations_of_flags_only_a_fault_with_a_cause_and_none_without_are_possible() {
    for low in 0..16 {
        for high in 0..4 {
            let (causes, reserved) = (low & 0b0111, low & 0b1000 != 0 || high & 0b10 != 0);
            let fault = high & 1 != 0;
            let expected = match (reserved, fault, causes) {
                (false, false, 0) => Transfer::Good,
                (false, true, 0b010 | 0b100 | 0b110) => Transfer::Short,
                (false, true, 0b001 | 0b011 | 0b101 | 0b111) => Transfer::Open,
                _ => Transfer::Impossible,
            };
            let flags = high << 16 | low;
            assert_eq!(transfer_of(frame(HOT, ROOM, flags)), expected, "{flags:x}");
        }
    }
}

#[test]
fn all_zeros_and_all_ones_are_silence() {
    assert_eq!(transfer_of(0), Transfer::Silent);
    assert_eq!(transfer_of(u32::MAX), Transfer::Silent);
    // One step of either sensor is an answer.
    assert_eq!(transfer_of(1 << 18), Transfer::Good);
    assert_eq!(transfer_of(1 << 4), Transfer::Good);
}

/// Operating temperature −40…125 °C, data sheet.
#[test]
fn of_every_cold_junction_only_those_the_chip_works_at_are_possible() {
    for code in 0..1_u32 << 12 {
        let signed = if code < 2048 { code as i32 } else { code as i32 - 4096 };
        let expected = if (-40 * 16..=125 * 16).contains(&signed) {
            Transfer::Good
        } else {
            Transfer::Impossible
        };
        let reading = decode(frame(HOT, code, 0), Thermocouple::K);
        assert_eq!(reading.sample.transfer, expected, "{signed}/16 °C");
        assert_eq!(reading.cold_junction.is_some(), expected == Transfer::Good);
    }
}

/// Every hot end, at several cold ones, for every type: what is called good gives the emf the chip
/// measured, and more of it is always hotter.
#[test]
fn every_hot_end_gives_back_the_emf_it_was_made_of() {
    for couple in Thermocouple::ALL {
        for cold in [-40, 0, 25, 60, 125] {
            let cold_c = Celsius(cold as f32);
            let (mut before, mut good) = (f32::NEG_INFINITY, 0);
            for code in -(1 << 13)..1 << 13 {
                let sent = frame(code as u32 & 0x3fff, (cold * 16) as u32 & 0xfff, 0);
                let reading = decode(sent, couple);
                assert!(holds_together(&reading), "{reading:?}");
                if reading.sample.transfer != Transfer::Good {
                    continue;
                }
                let hot = reading.sample.value;
                assert!(hot.0 > before, "{couple:?} {code}: {hot:?}");
                before = hot.0;
                good += 1;
                let made = (code as f32 / 4.0 - cold_c.0) * slope(couple);
                let emf =
                    couple.emf(hot).expect("in range") - couple.emf(cold_c).expect("in range");
                assert!((emf.0 - made).abs() < 2.0, "{couple:?} {code}: {emf:?}, made {made}");
            }
            // A quarter kelvin a code, over −150 °C to each type's end, and no further.
            let (lowest, highest) = couple.range();
            let expected = 4.0 * (highest - lowest).0;
            assert!((0.8..1.4).contains(&(good as f32 / expected)), "{couple:?}: {good}");
        }
    }
}

/// Emf of 25, 40, 150 and 250 °C in µV: NIST Monograph 175, rows of `sensor-tables.csv` (package
/// `thermocouples_reference` 0.20). What the chip rounds is 0.125 K of its own and 0.03 K cold.
#[test]
fn an_oven_at_a_known_temperature_is_read_within_what_the_chip_rounds() {
    let at = |couple| match couple {
        Thermocouple::K => [1000.2424, 1611.7918, 6138.3439, 10153.3688],
        Thermocouple::J => [1277.2884, 2058.8473, 8009.9049, 13555.1922],
        Thermocouple::T => [991.9773, 1611.7928, 6704.0865, 12013.4103],
        Thermocouple::N => [658.6458, 1064.5321, 4301.8442, 7596.9572],
    };
    for couple in Thermocouple::ALL {
        let [room, warm, oven, hot]: [f64; 4] = at(couple);
        let slope = f64::from(slope(couple));
        for (cold_c, cold_uv) in [(25, room), (40, warm)] {
            for (true_c, hot_uv) in [(150.0, oven), (250.0, hot)] {
                let by_chip = (hot_uv - cold_uv) / slope + f64::from(cold_c);
                let code = (by_chip * 4.0).round() as u32;
                let reading = decode(frame(code, cold_c as u32 * 16, 0), couple);
                let off = (reading.sample.value.0 - true_c).abs();
                assert!(off < 0.16, "{couple:?} {true_c} °C from {cold_c} °C: {off} K off");
                assert_eq!(reading.cold_junction, Some(Celsius(cold_c as f32)));
            }
        }
    }
}

#[test]
fn no_frame_panics_and_nothing_but_a_good_one_has_a_temperature() {
    let singles = (0..32).flat_map(|bit| [1 << bit, !(1 << bit), frame(HOT, ROOM, 0) ^ 1 << bit]);
    for sent in singles.chain(drawn().take(1_000_000).map(|bits| bits as u32)) {
        for couple in Thermocouple::ALL {
            let reading = decode(sent, couple);
            assert!(holds_together(&reading), "{sent:08x} {reading:?}");
            assert_eq!(reading.sample.frame, u64::from(sent));
            let clean = sent & (RESERVED | FAULT | OPEN | SHORT) == 0;
            assert!(clean || reading.sample.transfer != Transfer::Good, "{sent:08x}");
        }
    }
}

/// One transfer of four bytes each.
fn bus(frames: &[u32]) -> Mock<u8> {
    let transfers: Vec<_> = frames
        .iter()
        .flat_map(|frame| {
            [
                Transaction::transaction_start(),
                Transaction::read_vec(frame.to_be_bytes().into()),
                Transaction::transaction_end(),
            ]
        })
        .collect();
    Mock::new(&transfers)
}

/// Conversion time, 100 ms at most: a chip selected in every tick might never end one.
#[test]
fn the_chip_is_asked_in_every_other_tick_and_its_answer_stands_for_the_next() {
    let open = frame(HOT, ROOM, 0x1_0001);
    let mut chip = Newest::of(Max31855::new(bus(&[frame(HOT, ROOM, 0), open]), Thermocouple::K));
    let seen = [(); 4].map(|()| chip.read().sample);
    assert_eq!(seen.map(|sample| sample.age_ticks), [0, 1, 0, 1]);
    assert_eq!(
        seen.map(|sample| sample.transfer),
        [Transfer::Good, Transfer::Good, Transfer::Open, Transfer::Open]
    );
    assert_eq!(seen[0].value, seen[1].value);
    assert_eq!(seen[2].frame, u64::from(open));
    chip.converter.release().done();
}

#[test]
fn a_bus_that_fails_and_a_wire_that_is_held_are_silence() {
    let mut failing =
        Newest::of(Max31855::new(Failing(&[0x09, 0x60, 0x19, 0x00]), Thermocouple::J));
    let mut held =
        [0x00, 0xff].map(|level| Newest::of(Max31855::new(Always(level), Thermocouple::J)));
    for _ in 0..5 {
        assert_eq!(failing.read().sample.transfer, Transfer::Silent);
        assert_eq!(held.each_mut().map(|chip| chip.read().sample.transfer), [Transfer::Silent; 2]);
    }
}
