//! Every fault that a pin, a bus or the clock can show without an oven behind it, in a bake that
//! heats.
//!
//! Goal: each reaches the controller through the shell and is latched under its own kind in its
//! time; the drive is off in that tick. Method: a mock board; the faults that need an oven to be
//! seen are in `tests/tests/board_faults.rs`.

mod bench;

use bench::{AIR, Bench, CHECKED, SETTINGS, commissioned, compiled, hand};
use truesoak_board_mock::outside::Outside;
use truesoak_core::event::{Ending, Event};
use truesoak_core::guard::TripKind;
use truesoak_core::sequence::Mode;
use truesoak_core::wire::settings::BoardSettings;
use truesoak_firmware::Reset;

/// A fault, what it must be called, and within how many ticks.
type Case = (fn(&mut Outside), TripKind, u32);

#[test]
fn a_fault_at_a_pin_or_a_bus_trips_under_its_own_kind_in_its_time() {
    let cases: [Case; 8] = [
        (|of| of.sensors[0].open = true, TripKind::ThermocoupleOpen, 10),
        (|of| of.sensors[0].short = true, TripKind::ThermocoupleShort, 10),
        (|of| of.sensors[0].silent = Some(0x00), TripKind::ConverterSilent, 10),
        (|of| of.sensors[0].silent = Some(0xff), TripKind::ConverterSilent, 10),
        (|of| of.sensors[0].celsius = 400.0, TripKind::ReadingJump, 20),
        (|of| of.sensors[0].never_ends = true, TripKind::ReadingStale, 50),
        (|of| of.contactor_shows = Some(true), TripKind::PermitWelded, 60),
        (|of| of.contacts_broken = true, TripKind::DriveWelded, 40),
    ];
    for (index, (fault, kind, within)) in cases.into_iter().enumerate() {
        let mut bench = Bench::heating();
        bench.world.change(fault);
        if kind == TripKind::PermitWelded {
            // It shows once the contactor should open.
            bench.world.change(|outside| outside.door_open = true);
        }
        let found = bench.trip_within(within);
        assert_eq!(found.map(|(kind, _)| kind), Some(kind), "case {index}");
        bench.ticks(10);
        assert!(!bench.world.look(|outside| outside.drive), "case {index}");
        assert!(
            bench
                .world
                .look(|outside| outside.last_edge)
                .is_some_and(|edge| { bench.world.look(|outside| outside.ticks) - edge >= 10 })
        );
    }
}

#[test]
fn mains_at_a_heater_that_is_off_is_a_welded_drive() {
    let mut bench = Bench::heating();
    bench.hold_stop(5).ticks(20);
    bench.world.change(|outside| outside.mains_shows = Some(true));
    assert_eq!(bench.trip_within(10).map(|(kind, _)| kind), Some(TripKind::DriveWelded));
}

#[test]
fn a_hot_enclosure_trips_within_five_seconds() {
    let mut bench = Bench::heating();
    let mut found = None;
    for _ in 0..60 {
        // After the bench's own junction, before the board's tick: 70 degrees.
        bench.world.change(|outside| outside.junction_offset = 45.0);
        bench.ticks(1);
        found = found.or(bench.trip());
    }
    assert_eq!(found, Some(TripKind::EnclosureHot));
}

#[test]
fn an_independent_clock_that_runs_off_trips_within_ten_seconds_or_so() {
    let mut bench = Bench::heating();
    let mut found = None;
    for tick in 0..210 {
        if tick % 20 == 0 {
            bench.world.change(|outside| outside.independent_ticks += 1);
        }
        bench.ticks(1);
        found = found.or(bench.trip());
    }
    assert_eq!(found, Some(TripKind::ClockWrong));
}

#[test]
fn ticks_that_come_late_trip_the_third_time() {
    let mut bench = Bench::heating();
    for late in 0..3 {
        assert_eq!(bench.trip(), None, "{late}");
        bench.world.change(|outside| {
            outside.ticks += 3;
            outside.independent_ticks += 3;
        });
        bench.ticks(1);
    }
    assert_eq!(bench.trip(), Some(TripKind::TickOverrun));
}

#[test]
fn a_board_that_the_watchdog_resets_three_times_in_a_bake_trips_and_says_why() {
    let mut bench = Bench::heating();
    bench.ticks(120);
    for reset in 1..=3 {
        bench.restart(Reset::Watchdog).ticks(40);
        let wanted = (reset == 3).then_some(TripKind::ProcessorHung);
        assert_eq!(bench.trip(), wanted, "reset {reset}");
        assert!(!bench.world.look(Outside::heats), "off and asking");
    }
    bench.ticks(120);
    bench.press_go().ticks(10);
    assert_eq!(bench.trip(), None, "acknowledged");
    bench.press_go().ticks(30);
    assert_eq!(bench.mode(), Mode::Running);
    assert_eq!(bench.trip(), None, "the next bake begins without resets");
}

#[test]
fn a_supply_that_comes_and_goes_is_no_reset_of_the_watchdog() {
    let mut bench = Bench::heating();
    bench.ticks(120);
    for _ in 0..5 {
        bench.restart(Reset::Supply).ticks(40);
        assert_eq!((bench.trip(), bench.mode()), (None, Mode::Running));
    }
}

#[test]
fn a_drive_that_does_not_follow_its_pin_lets_the_permit_fall_and_the_watchdog_bite() {
    for stuck in [false, true] {
        let mut bench = Bench::heating();
        bench.world.change(|outside| {
            outside.drive_stuck = Some(stuck);
            outside.drive = stuck;
        });
        let edges = bench.world.look(|outside| outside.permit_edges);
        if stuck {
            // Off is what it does not follow.
            bench.world.change(|outside| outside.door_open = true);
        }
        bench.ticks(8);
        assert_eq!(bench.world.look(|outside| outside.permit_edges), edges);
        assert!(bench.unfed() >= 8);
    }
}

#[test]
fn a_permit_that_does_not_follow_its_pin_cuts_the_drive_and_the_watchdog_bites() {
    let mut bench = Bench::heating();
    let level = bench.world.look(|outside| outside.permit);
    bench.world.change(|outside| outside.permit_stuck = Some(level));
    bench.ticks(10);
    assert!(!bench.world.look(|outside| outside.drive));
    assert!(bench.unfed() >= 8);
}

#[test]
fn a_clock_that_stands_still_feeds_no_watchdog() {
    let mut bench = Bench::heating();
    let fed = bench.unfed();
    for _ in 0..5 {
        bench.world.change(|outside| outside.ticks -= 1);
        bench.world.change(|outside| outside.fed_at = 0);
        bench.ticks(1);
    }
    assert!(bench.unfed() > fed + 5);
}

#[test]
fn a_second_sensor_that_is_open_or_stale_trips_and_a_probe_does_not() {
    let settings = BoardSettings { air_b: Some(AIR), part_probe: Some(AIR), ..SETTINGS };
    let open = |of: &mut Outside, sensor: usize| of.sensors[sensor].open = true;
    let stale = |of: &mut Outside, sensor: usize| of.sensors[sensor].never_ends = true;
    type Harm = fn(&mut Outside, usize);
    let cases: [(Harm, usize, Option<TripKind>); 4] = [
        (open, 1, Some(TripKind::ThermocoupleOpen)),
        (stale, 1, Some(TripKind::ReadingStale)),
        (open, 2, None),
        (stale, 2, None),
    ];
    for (harm, sensor, kind) in cases {
        let mut sent = compiled(&[hand::soak()]);
        sent.model.sensor_b = Some(sent.model.sensor);
        let mut bench = Bench::of(commissioned(settings, CHECKED)).load(&sent);
        bench.press_go().ticks(30);
        bench.world.change(|outside| harm(outside, sensor));
        let found = bench.trip_within(60).map(|(kind, _)| kind);
        assert_eq!(found, kind, "sensor {sensor}");
    }
}

#[test]
fn a_trip_is_told_to_the_store_at_once_and_its_last_minute_is_written() {
    let mut bench = Bench::heating();
    bench.ticks(300);
    bench.world.change(|outside| outside.sensors[0].open = true);
    bench.trip_within(10).expect("a trip");
    bench.ticks(60);
    let ended = Event::Ended(Ending::Tripped(TripKind::ThermocoupleOpen));
    assert!(bench.heard.contains(&ended));
    let bytes = bench.fetch(1);
    let head = truesoak_core::wire::stored::Head::decode(bytes.first_chunk().unwrap()).unwrap();
    assert_eq!(head.ended, Some((Ending::Tripped(TripKind::ThermocoupleOpen), false)));
    let entries = &bytes[head.entries_offset() as usize..];
    let ticks = entries.chunks_exact(17).filter(|entry| entry[0] & 0xe0 == 0x40).count();
    // All there was since the board was switched on, a minute of it at most.
    assert!((440..=600).contains(&ticks), "{ticks}");
}

#[test]
fn a_latched_trip_is_latched_after_the_supply_and_goes_when_it_is_acknowledged() {
    let mut bench = Bench::heating();
    bench.world.change(|outside| outside.sensors[0].open = true);
    bench.trip_within(10).expect("a trip");
    for ticks in [0, 3, 200] {
        bench.ticks(ticks).restart(Reset::Supply).ticks(40);
        assert_eq!(bench.trip(), Some(TripKind::ThermocoupleOpen));
        assert_eq!(bench.mode(), Mode::Idle);
    }
    bench.press_go().ticks(5);
    assert_eq!(bench.trip(), Some(TripKind::ThermocoupleOpen), "its cause is there");
    bench.world.change(|outside| outside.sensors[0].open = false);
    bench.ticks(20).press_go().ticks(5);
    assert_eq!(bench.trip(), None);
    bench.restart(Reset::Supply).ticks(40);
    assert_eq!(bench.trip(), None, "and stays so");
}
