//! The faults that need an oven to be seen, through the board's pins and buses.
//!
//! Goal: every trip the rehearsal shows of the controller, the board shows too, from the levels and
//! bytes alone, under the same kind. Method: the rehearsal's faults, in its plant; what they do to
//! readings and contacts reaches the shell as registers and levels. Not here: `part-over-limit`, which
//! thin parts show on the emulated board (`tests/src/emulated/scenario/faults/table.rs`).

mod board_support;

use board_support::{Board, bake};
use truesoak::files::Setup;
use truesoak::files::bake::{FaultScript, Moment};
use truesoak_core::event::{Ending, Event};
use truesoak_core::guard::TripKind;
use truesoak_tests::setup;

const BAKE: &str = "gas-out-hubs.toml";
const FAN: &str = "whole-day.toml";

/// With the bake's start; twenty minutes into the soak.
const COLD: Moment = Moment::SinceStart(0.0);
const LATE: Moment = Moment::SinceStep(2, 1200.0);

fn with_fault(bake: &str, set: &[&str], kind: &str, at: Moment, by_k: Option<f64>) -> Setup {
    let mut setup = setup(bake, set);
    setup.bake.faults = vec![FaultScript { at, kind: kind.to_owned(), for_s: None, by_k }];
    setup
}

/// The trip a board ends in, told by its store too, with the black box.
fn trip(setup: &Setup) -> TripKind {
    let mut board = Board::new(setup);
    let trace = bake(&mut board, setup, None, 1);
    let Some(Ending::Tripped(kind)) = trace.chronicle.ending else {
        panic!("{:?}: {:?}", setup.bake.faults, trace.chronicle.ending)
    };
    (0..100).for_each(|_| board.idle());
    let fetched = board.fetch(1);
    assert_eq!(fetched.head.ended.map(|(ending, _)| ending), Some(Ending::Tripped(kind)));
    assert!(fetched.events().any(|event| event == Event::Tripped(kind)));
    let ticks =
        fetched.rows.iter().filter(|row| matches!(row, truesoak_core::wire::row::Row::Tick(_)));
    // A minute of them, or all since the board was switched on.
    let ticks = ticks.count();
    assert!((440..=600).contains(&ticks), "{ticks}");
    kind
}

/// A bake, a fault in it, what the oven is fitted with besides, when, its size, what it must be called.
type Case<'a> = (&'a str, &'a str, &'a [&'a str], Moment, Option<f64>, TripKind);

#[test]
fn what_the_oven_shows_of_a_fault_trips_the_board_under_its_own_kind() {
    let second = ["oven.sensor_b.lag=\"12 s\""];
    let proof = ["oven.permit.mains_proof=true"];
    let none: [&str; 0] = [];
    let cases: [Case<'_>; 16] = [
        (BAKE, "thermocouple-open", &none, LATE, None, TripKind::ThermocoupleOpen),
        (BAKE, "thermocouple-short", &none, LATE, None, TripKind::ThermocoupleShort),
        (BAKE, "converter-silent", &none, LATE, None, TripKind::ConverterSilent),
        (BAKE, "thermocouple-reversed", &none, COLD, None, TripKind::ThermocoupleReversed),
        (BAKE, "sensor-type-wrong", &none, COLD, None, TripKind::SensorTypeWrong),
        (BAKE, "reading-stale", &none, LATE, None, TripKind::ReadingStale),
        (BAKE, "reading-frozen", &none, COLD, None, TripKind::ReadingFrozen),
        (BAKE, "reading-jump", &none, LATE, Some(25.0), TripKind::ReadingJump),
        (BAKE, "reading-jump", &none, LATE, Some(-60.0), TripKind::ReadingJump),
        (BAKE, "heater-dead", &none, COLD, None, TripKind::NoResponse),
        (BAKE, "sensor-moved", &second, LATE, Some(-20.0), TripKind::SensorMoved),
        (BAKE, "drive-welded", &none, LATE, None, TripKind::DriveWelded),
        (BAKE, "drive-welded", &proof, LATE, None, TripKind::DriveWelded),
        (BAKE, "door-switch-stuck", &none, LATE, None, TripKind::DoorSwitchStuck),
        (BAKE, "enclosure-hot", &none, LATE, None, TripKind::EnclosureHot),
        (FAN, "fan-stopped", &none, LATE, None, TripKind::FanStopped),
    ];
    for (name, word, set, at, by_k, kind) in cases {
        assert_eq!(trip(&with_fault(name, set, word, at, by_k)), kind, "{word} at {at:?}");
    }
}

#[test]
fn what_the_board_shows_of_itself_trips_it_too() {
    for (word, kind) in [
        ("clock-wrong", TripKind::ClockWrong),
        ("memory-corrupt", TripKind::MemoryCorrupt),
        ("permit-welded", TripKind::PermitWelded),
    ] {
        assert_eq!(trip(&with_fault(BAKE, &[], word, LATE, None)), kind, "{word}");
    }
}

#[test]
fn a_processor_that_hangs_comes_back_off_and_asking_and_the_third_time_trips() {
    let mut setup = with_fault(BAKE, &[], "processor-hung", Moment::SinceStep(2, 300.0), None);
    let mut board = Board::new(&setup);
    let trace = bake(&mut board, &setup, None, 1);
    assert_eq!(trace.chronicle.ending, Some(Ending::Finished));
    let at =
        |seconds| FaultScript { at: Moment::SinceStep(2, seconds), ..setup.bake.faults[0].clone() };
    setup.bake.faults = vec![at(300.0), at(1500.0), at(2700.0)];
    let mut board = Board::new(&setup);
    let trace = bake(&mut board, &setup, None, 1);
    assert_eq!(trace.chronicle.ending, Some(Ending::Tripped(TripKind::ProcessorHung)));
}
