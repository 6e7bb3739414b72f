//! What a board asks of itself before heat is possible.
//!
//! Goal: nothing starts before the self-test is over, or while anything is wrong that it looks for,
//! and each is told under its own name. Method: a mock board with one thing wrong at a time.

mod bench;

use bench::{AIR, Bench, CHECKED, SETTINGS, commissioned, compiled, hand, ramp};
use truesoak_board_mock::computer::Heard;
use truesoak_board_mock::{Flash, Outside, World};
use truesoak_core::guard::TripKind;
use truesoak_core::sequence::Mode;
use truesoak_core::wire::messages::{Reply, Request};
use truesoak_core::wire::refusal::{Obstacle, Refusal};
use truesoak_core::wire::settings::BoardSettings;
use truesoak_firmware::{Identity, Reset};

const START: Request<'static> = Request::Start { at_the_oven: false };

fn refused(obstacle: Obstacle) -> Heard {
    Heard::Other(Reply::Refused(Refusal::NotReady(obstacle)))
}

#[test]
fn a_sound_board_with_a_bake_starts_by_go_alone_and_heats() {
    let mut bench = Bench::loaded(&[hand::soak()]);
    assert_eq!(bench.mode(), Mode::Idle);
    bench.press_go();
    assert_eq!(bench.mode(), Mode::Running);
    bench.ticks(20);
    assert!(bench.world.look(Outside::heats));
    assert_eq!(bench.unfed(), 0);
}

#[test]
fn nothing_starts_before_the_self_test_is_over() {
    let flash = Bench::loaded(&[hand::soak()]).flash;
    let mut bench = Bench::of(flash);
    bench.world.change(|outside| outside.go = false);
    assert_eq!(bench.ask(&START), refused(Obstacle::Testing));
    bench.ticks(30);
    assert_eq!(bench.ask(&START), Heard::Other(Reply::AwaitsGo(60)));
}

/// A board with its bake, switched on with something wrong.
fn with(wrong: impl FnOnce(&World), settings: BoardSettings, checked: [bool; 3]) -> Bench {
    let flash = Bench::of(commissioned(settings, checked)).load(&compiled(&[ramp(150.0)])).flash;
    let world = World::default();
    wrong(&world);
    let mut bench = Bench::with(world, flash, Identity::default());
    bench.ticks(210);
    bench
}

#[test]
fn each_thing_wrong_forbids_a_start_under_its_own_name() {
    type Wrong = fn(&World);
    let cases: [(Wrong, Obstacle); 6] = [
        (|world| world.change(|of| of.memory_holds = false), Obstacle::Memory),
        (|world| world.change(|of| of.image_holds = false), Obstacle::Memory),
        (|world| world.change(|of| of.go = true), Obstacle::Button),
        (|world| world.change(|of| of.stop = true), Obstacle::Button),
        (|world| world.change(|of| of.sensors[0].open = true), Obstacle::Sensor),
        (|world| world.change(|of| of.sensors[0].silent = Some(0xff)), Obstacle::Sensor),
    ];
    for (index, (wrong, obstacle)) in cases.into_iter().enumerate() {
        let mut bench = with(wrong, SETTINGS, CHECKED);
        assert_eq!(bench.ask(&START), refused(obstacle), "case {index}");
        bench.world.change(|outside| outside.go = false);
        bench.ticks(3).press_go().ticks(20);
        let started = bench.mode() == Mode::Running;
        // A GO that was let go since is no longer stuck.
        assert_eq!(started, index == 2, "case {index}");
        assert_eq!(bench.world.look(Outside::heats), index == 2, "case {index}");
    }
}

/// One pattern that did not hold is enough: the next may be luck.
#[test]
fn memory_that_did_not_hold_at_boot_forbids_a_start_when_it_holds_again() {
    let world = World::default();
    world.change(|outside| outside.memory_holds = false);
    let mut bench = Bench::with(world, commissioned(SETTINGS, CHECKED), Identity::default());
    bench.world.change(|outside| outside.memory_holds = true);
    bench.ticks(40);
    assert_eq!(bench.ask(&START), refused(Obstacle::Memory));
}

#[test]
fn a_store_that_does_not_open_or_does_not_take_the_write_of_boot_forbids_a_start() {
    // No store has room in so little.
    let mut bench = Bench::of(Flash::new(2, 3));
    bench.ticks(40);
    assert_eq!(bench.ask(&START), refused(Obstacle::Store));
    let flash = commissioned(SETTINGS, CHECKED);
    flash.cut_after(Some(0));
    let mut bench = Bench::of(flash);
    bench.ticks(40);
    assert_eq!(bench.ask(&START), refused(Obstacle::Store));
}

#[test]
fn stop_forbids_a_start_for_as_long_as_it_is_pressed() {
    let mut bench = Bench::loaded(&[hand::soak()]);
    bench.world.change(|outside| outside.stop = true);
    bench.ticks(3);
    assert_eq!(bench.ask(&START), refused(Obstacle::Button));
    bench.world.change(|outside| outside.stop = false);
    bench.ticks(3);
    assert_eq!(bench.ask(&START), Heard::Other(Reply::AwaitsGo(60)));
}

#[test]
fn nothing_starts_before_room_is_made_or_while_the_last_bake_is_written() {
    let flash = commissioned(SETTINGS, CHECKED);
    // What bakes and documents share, full of what must be erased first.
    flash.chip(|chip| chip.bytes[6 * 4096..].fill(0x00));
    let mut bench = Bench::of(flash);
    bench.ticks(30);
    bench.send(&compiled(&[hand::soak()]));
    assert_eq!(bench.ask(&START), refused(Obstacle::MakingRoom));
    bench.ticks(100);
    assert_eq!(bench.ask(&START), Heard::Other(Reply::AwaitsGo(60)));
    let mut bench = Bench::heating();
    bench.ticks(300);
    bench.world.change(|outside| outside.sensors[0].open = true);
    bench.trip_within(10).expect("a trip");
    bench.world.change(|outside| outside.sensors[0].open = false);
    // Its last minute takes the store five seconds.
    bench.ticks(10);
    assert_eq!(obstacle(&mut bench), Some(Obstacle::LastBake));
    bench.ticks(100);
    assert_eq!(obstacle(&mut bench), None);
}

/// What the board says forbids a start.
fn obstacle(bench: &mut Bench) -> Option<Obstacle> {
    match bench.ask(&Request::Readiness) {
        Heard::Other(Reply::Readiness(readiness)) => readiness.obstacle,
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_contactor_that_is_closed_at_boot_forbids_a_start_and_trips() {
    let weld = |world: &World| world.change(|outside| outside.contactor_welded = true);
    let mut bench = with(weld, SETTINGS, CHECKED);
    assert_eq!(bench.trip(), Some(TripKind::PermitWelded));
    assert_eq!(obstacle(&mut bench), Some(Obstacle::PermitClosed));
    bench.press_go().ticks(10);
    assert_ne!(bench.mode(), Mode::Running);
}

#[test]
fn pins_that_cannot_be_read_are_mains_at_the_heater_and_nothing_starts() {
    let mut bench = with(|world| world.change(|of| of.contacts_broken = true), SETTINGS, CHECKED);
    assert_eq!(bench.trip(), Some(TripKind::DriveWelded));
    bench.press_go().ticks(10);
    assert_ne!(bench.mode(), Mode::Running);
}

#[test]
fn a_clock_that_stands_still_forbids_a_start() {
    let mut bench = with(|_| (), SETTINGS, CHECKED);
    bench.restart(Reset::Supply);
    for _ in 0..30 {
        bench.world.change(|outside| outside.independent_ticks -= 1);
        bench.ticks(1);
    }
    assert_eq!(bench.ask(&START), refused(Obstacle::Clock));
}

#[test]
fn a_second_sensor_or_a_probe_that_does_not_answer_forbids_a_start_too() {
    for sensor in [1, 2] {
        let settings = BoardSettings { air_b: Some(AIR), part_probe: Some(AIR), ..SETTINGS };
        let open = |world: &World| world.change(|outside| outside.sensors[sensor].open = true);
        let mut bench = with(open, settings, CHECKED);
        assert_eq!(bench.ask(&START), refused(Obstacle::Sensor));
    }
}

/// What it read last stands in every tick, and is too old half a second later.
#[test]
fn a_sensor_whose_conversion_does_not_end_forbids_a_start_until_it_ends() {
    let mut bench = with(|_| (), SETTINGS, CHECKED);
    bench.world.change(|outside| outside.sensors[0].never_ends = true);
    bench.ticks(10);
    assert_eq!(bench.ask(&START), refused(Obstacle::Sensor));
    bench.world.change(|outside| outside.sensors[0].never_ends = false);
    bench.ticks(3);
    assert!(matches!(bench.ask(&START), Heard::Other(Reply::AwaitsGo(_))));
}

#[test]
fn a_sensor_that_was_not_in_both_baths_forbids_a_start() {
    let mut bench = with(|_| (), SETTINGS, [false; 3]);
    assert_eq!(bench.ask(&START), refused(Obstacle::TwoPoints));
}

#[test]
fn a_board_without_settings_or_bake_says_so_and_stays_cold() {
    let mut bare = Bench::of(Flash::new(bench::SECTORS, 3));
    bare.ticks(40);
    assert_eq!(bare.ask(&START), refused(Obstacle::Settings));
    let mut bench = Bench::new();
    bench.ticks(40);
    assert_eq!(bench.ask(&START), Heard::Other(Reply::Refused(Refusal::NoDocument)));
    bench.press_go().ticks(20);
    assert_eq!(bench.mode(), Mode::Idle);
}

#[test]
fn settings_that_no_longer_read_back_are_noticed_within_a_minute_and_forbid_a_start() {
    let mut bench = Bench::loaded(&[hand::soak()]);
    // The twin of the settings is sectors 4 and 5.
    bench.flash.chip(|chip| chip.bytes[4 * 4096..6 * 4096].fill(0x00));
    bench.ticks(600);
    assert_eq!(bench.ask(&START), refused(Obstacle::Settings));
}

#[test]
fn memory_that_stops_holding_in_a_bake_trips_within_a_minute() {
    let mut bench = Bench::heating();
    bench.world.change(|outside| outside.memory_holds = false);
    let (kind, _) = bench.trip_within(600).expect("a trip");
    assert_eq!(kind, TripKind::MemoryCorrupt);
}
