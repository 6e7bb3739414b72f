//! What goes wrong on the board and in its sensors: inputs made up tick by tick, no plant.
//!
//! Goal: each fault is latched under its own kind in its time and heats nothing from then on, what
//! is no fault latches nothing, and a trip stays while its cause is there to be seen.

mod hand;

use hand::{Hand, soak};
use truesoak_core::bake::{Ramp, Step};
use truesoak_core::guard::TripKind;
use truesoak_core::io::{Inputs, Transfer};
use truesoak_core::sequence::Mode;
use truesoak_core::units::Celsius;

fn heating() -> Hand {
    let mut hand = Hand::new(&[soak()], false);
    hand.ticks(2).press_go().ticks(30);
    assert!(hand.last.heat.drives());
    hand
}

/// Ticks until a trip, and its kind; heat ends with it.
fn trip_within(hand: &mut Hand, ticks: u32) -> Option<(TripKind, u32)> {
    for tick in 1..=ticks {
        hand.ticks(1);
        if let Some(kind) = hand.tripped() {
            assert!(!hand.last.heat.is_allowed());
            return Some((kind, tick));
        }
    }
    None
}

#[test]
fn every_bad_transfer_trips_under_its_own_kind_within_a_second() {
    let cases = [
        (Transfer::Open, TripKind::ThermocoupleOpen),
        (Transfer::Short, TripKind::ThermocoupleShort),
        (Transfer::Silent, TripKind::ConverterSilent),
        (Transfer::Impossible, TripKind::ConverterSilent),
    ];
    for (transfer, kind) in cases {
        let mut hand = heating();
        hand.inputs.air.transfer = transfer;
        let (found, ticks) = trip_within(&mut hand, 10).expect("a trip within a second");
        assert_eq!(found, kind);
        assert!(ticks >= 2, "one bad transfer is not a fault");
    }
}

#[test]
fn what_is_not_a_temperature_trips_as_a_silent_converter() {
    for value in [f32::NAN, f32::INFINITY, f32::NEG_INFINITY, -300.0] {
        let mut hand = heating();
        hand.inputs.air.value = Celsius(value);
        let found = trip_within(&mut hand, 10).map(|(kind, _)| kind);
        assert_eq!(found, Some(TripKind::ConverterSilent), "{value}");
    }
}

#[test]
fn a_bad_transfer_now_and_then_trips_nothing_and_every_other_one_does() {
    for (every, trips) in [(10, false), (4, false), (2, true)] {
        let mut hand = heating();
        for tick in 0..300 {
            hand.inputs.air.transfer =
                if tick % every == 0 { Transfer::Open } else { Transfer::Good };
            hand.ticks(1);
        }
        let expected = trips.then_some(TripKind::ThermocoupleOpen);
        assert_eq!(hand.tripped(), expected, "one in {every}");
    }
}

#[test]
fn a_stale_reading_switches_the_drive_off_first_and_then_trips() {
    let mut hand = heating();
    let mut driven = 0;
    for age in 1..=50 {
        hand.inputs.air.age_ticks = age;
        hand.ticks(1);
        driven += u32::from(hand.last.heat.drives());
    }
    assert_eq!(hand.tripped(), Some(TripKind::ReadingStale));
    assert!(driven < 15, "{driven} ticks of heat without a fresh reading");
}

#[test]
fn a_clock_off_by_more_than_two_in_a_hundred_trips_and_one_in_a_hundred_does_not() {
    for (percent, trips) in [(-5_i32, true), (-1, false), (0, false), (1, false), (5, true)] {
        let mut hand = heating();
        for _ in 0..205 {
            let own = i32::try_from(hand.now).unwrap();
            hand.inputs.independent_ticks = u32::try_from(own * (100 + percent) / 100).ok();
            hand.ticks(1);
        }
        assert_eq!(hand.tripped(), trips.then_some(TripKind::ClockWrong), "{percent} %");
    }
}

#[test]
fn the_third_reset_by_the_watchdog_in_a_bake_trips() {
    let mut hand = heating();
    hand.inputs.health.watchdog_resets = 2;
    hand.ticks(100);
    assert_eq!(hand.tripped(), None);
    hand.inputs.health.watchdog_resets = 3;
    hand.ticks(1);
    assert_eq!(hand.tripped(), Some(TripKind::ProcessorHung));
}

#[test]
fn two_late_ticks_trip_nothing() {
    let mut hand = heating();
    for _ in 0..2 {
        hand.now += 3;
        hand.ticks(50);
    }
    assert_eq!(hand.tripped(), None);
}

#[test]
fn a_gap_the_watchdog_should_have_ended_or_a_time_that_stands_still_trips_at_once() {
    for (gap, kind) in [(9, None), (10, Some(TripKind::TickOverrun))] {
        let mut hand = heating();
        hand.now += gap;
        hand.ticks(1);
        assert_eq!(hand.tripped(), kind, "{gap} ticks missed");
    }
    let mut hand = heating();
    hand.now -= 1;
    hand.ticks(1);
    assert_eq!(hand.tripped(), Some(TripKind::TickOverrun));
}

/// The heat of a gap is in the seconds the bounds take, and so in the log.
#[test]
fn what_was_on_in_late_ticks_is_in_the_second() {
    let mut hand = heating();
    let (mut logged, mut on, mut second) = (0, 0, 0);
    for tick in 0..400_u32 {
        // Two gaps, each over the end of a second.
        let passed = if tick == 133 || tick == 257 { 9 } else { 1 };
        on += if hand.last.heat.drives() { passed } else { 0 };
        hand.now += passed - 1;
        hand.ticks(1);
        if let Some(record) = hand.controller.record() {
            logged += u32::from(record.on_ticks);
            assert!(record.second == second + 1 || second == 0, "no second is left out");
            second = record.second;
        }
    }
    assert_eq!(hand.tripped(), None);
    assert!(on > 300, "{on}: the heater was on");
    assert!(on.abs_diff(logged) < 10, "{logged} of {on} ticks logged");
}

/// A pulse of the drive hides a weld, and does no harm; what is counted is the time after it.
#[test]
fn mains_at_a_heater_that_is_off_trips_within_half_a_second_of_the_pulse() {
    let ramp = Step::Ramp(Ramp { to: Celsius(24.0), rate_k_per_min: None });
    let mut hand = Hand::new(&[ramp], false);
    hand.inputs.mains_at_heater = Some(false);
    hand.ticks(2).press_go();
    let (mut off_ticks, mut welded) = (0, false);
    for tick in 0..3_000 {
        // In a pulse, which hides it.
        welded |= tick >= 1_000 && hand.last.heat.drives();
        off_ticks = if hand.last.heat.drives() { 0 } else { off_ticks + 1 };
        hand.inputs.mains_at_heater = Some(welded || hand.last.heat.drives());
        hand.ticks(1);
        if hand.tripped().is_some() {
            assert!(welded && off_ticks <= 5, "{off_ticks} ticks after the pulse");
            break;
        }
    }
    assert_eq!(hand.tripped(), Some(TripKind::DriveWelded));
}

#[test]
fn memory_that_fails_in_a_bake_trips_in_its_tick() {
    let mut hand = heating();
    hand.inputs.health.memory = false;
    assert_eq!(trip_within(&mut hand, 1), Some((TripKind::MemoryCorrupt, 1)));
}

#[test]
fn a_trip_is_not_acknowledged_while_its_cause_is_there_to_be_seen() {
    type Spoil = fn(&mut Inputs, bool);
    let causes: [(TripKind, Spoil); 5] = [
        (TripKind::ThermocoupleOpen, |inputs, bad| {
            inputs.air.transfer = if bad { Transfer::Open } else { Transfer::Good };
        }),
        (TripKind::ConverterSilent, |inputs, bad| {
            inputs.air.value = Celsius(if bad { f32::NAN } else { 20.0 });
        }),
        (TripKind::ReadingStale, |inputs, bad| inputs.air.age_ticks = if bad { 90 } else { 0 }),
        (TripKind::MemoryCorrupt, |inputs, bad| inputs.health.memory = !bad),
        (TripKind::ClockWrong, |inputs, bad| {
            inputs.independent_ticks = bad.then(|| inputs.independent_ticks.unwrap_or(0) + 2);
        }),
    ];
    for (kind, spoil) in causes {
        let mut hand = heating();
        for _ in 0..250 {
            spoil(&mut hand.inputs, true);
            hand.ticks(1);
        }
        assert_eq!(hand.tripped(), Some(kind));
        hand.inputs.go = true;
        for _ in 0..30 {
            spoil(&mut hand.inputs, true);
            hand.ticks(1);
        }
        hand.inputs.go = false;
        assert_eq!(hand.tripped(), Some(kind), "the cause stands");
        spoil(&mut hand.inputs, false);
        hand.ticks(110).press_go();
        assert_eq!(hand.tripped(), None, "{kind}: the cause is gone");
    }
}

#[test]
fn a_sensor_whose_reading_jumped_is_believed_again_at_rest() {
    let mut hand = heating();
    hand.inputs.air.value = Celsius(60.0);
    let (kind, _) = trip_within(&mut hand, 25).expect("a jump trips");
    assert_eq!(kind, TripKind::ReadingJump);
    // Mended, and the oven meanwhile elsewhere than where it was.
    hand.inputs.air.value = Celsius(35.0);
    hand.ticks(300).press_go();
    assert_eq!(hand.tripped(), None);
    hand.ticks(5).press_go();
    assert_eq!(hand.controller.mode(), Mode::Running);
}

#[test]
fn no_kind_of_board_trouble_at_rest_latches_a_trip() {
    let troubles: [fn(&mut Inputs); 5] = [
        |inputs| inputs.air.transfer = Transfer::Short,
        |inputs| inputs.air.age_ticks = 200,
        |inputs| inputs.air.value = Celsius(90.0),
        |inputs| inputs.health.memory = false,
        |inputs| inputs.health.watchdog_resets = 9,
    ];
    for trouble in troubles {
        let mut hand = Hand::new(&[soak()], false);
        hand.ticks(10);
        trouble(&mut hand.inputs);
        hand.ticks(600);
        assert_eq!(hand.tripped(), None);
        assert!(!hand.last.heat.is_allowed());
    }
}
