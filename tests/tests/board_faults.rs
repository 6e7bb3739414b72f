//! Every trip there is, reached through the board's pins, buses and clocks.
//!
//! Goal: every trip the rehearsal shows of the controller, the board shows too, from the levels and
//! bytes alone, under the same kind. Method: the rehearsal's faults, in its plant; what they do to
//! readings and contacts reaches the shell as registers and levels. A kind without a case here does not
//! compile ([`cases`]). Faults that need no oven are also in `firmware/tests/shell_faults.rs`, with times.

mod board_support;

use board_support::{Board, bake};
use truesoak::files::Setup;
use truesoak::files::bake::{AnswerScript, FaultScript, Moment, Say};
use truesoak_core::event::{Ending, Event};
use truesoak_core::guard::TripKind;
use truesoak_tests::{path, read};

const BAKE: &str = "profiles/bakes/gas-out-hubs.toml";
const FAN: &str = "profiles/bakes/whole-day.toml";
/// Short, with limits that a test may set low.
const QUICK: &str = "tests/emulator/quick/bake.toml";

/// With the bake's start; twenty minutes into the soak; early in it.
const COLD: Moment = Moment::SinceStart(0.0);
const LATE: Moment = Moment::SinceStep(2, 1200.0);
const EARLY: Moment = Moment::SinceStep(2, 90.0);

const SECOND_SENSOR: &[&str] = &["oven.sensor_b.lag=\"12 s\""];
const MAINS_PROOF: &[&str] = &["oven.permit.mains_proof=true"];
/// The air may become hardly hotter than the soak's window, which is long enough for the fault.
const LOW_AIR: &[&str] =
    &["bake.limits.air_max=\"100 °C\"", "bake.step.\"dry\".soak.for=\"15 min\""];
/// Thin parts that stand no more than their window, and a sensor that sees a welded drive after them.
const THIN_PARTS: &[&str] = &[
    "bake.step.\"dry\".soak.for=\"15 min\"",
    "oven.permit.mains_proof=false",
    "oven.sensor.lag=\"25 s\"",
    "load.part.1.shape={ bar = { diameter = \"2 mm\", length = \"300 mm\" } }",
    "bake.step.\"dry\".soak.at_most=\"90 °C\"",
    "bake.limits.part_max=\"90 °C\"",
];

/// A fault in a bake.
#[derive(Clone, Copy)]
struct Case {
    bake: &'static str,
    set: &'static [&'static str],
    fault: &'static str,
    at: Moment,
    by_k: Option<f64>,
    /// So often, a quarter of an hour apart.
    times: u32,
}

impl Case {
    const fn of(fault: &'static str, at: Moment) -> Self {
        Self { bake: BAKE, set: &[], fault, at, by_k: None, times: 1 }
    }

    const fn by(self, by_k: f64) -> Self {
        Self { by_k: Some(by_k), ..self }
    }

    const fn with(self, set: &'static [&'static str]) -> Self {
        Self { set, ..self }
    }

    const fn in_bake(self, bake: &'static str) -> Self {
        Self { bake, ..self }
    }

    const fn thrice(self) -> Self {
        Self { times: 3, ..self }
    }

    fn setup(self) -> Setup {
        let mut setup = read(&path(self.bake), self.set);
        let again = |nth: u32| match self.at {
            Moment::SinceStep(step, after_s) => {
                Moment::SinceStep(step, after_s + 900.0 * f64::from(nth))
            }
            once => once,
        };
        let fault =
            |at| FaultScript { at, kind: self.fault.to_owned(), for_s: None, by_k: self.by_k };
        setup.bake.faults = (0..self.times).map(|nth| fault(again(nth))).collect();
        if self.bake == QUICK {
            // Nobody opens the door but to load, and the check is passed.
            setup.bake.doors.truncate(1);
            let answer = |say| AnswerScript { say, after_s: None };
            setup.bake.answers = vec![answer(Say::Go), answer(Say::Pass)];
        }
        setup
    }
}

/// What brings a board to each kind of trip.
fn cases(kind: TripKind) -> Vec<Case> {
    match kind {
        TripKind::ThermocoupleOpen => vec![Case::of("thermocouple-open", LATE)],
        TripKind::ThermocoupleShort => vec![Case::of("thermocouple-short", LATE)],
        TripKind::ConverterSilent => vec![Case::of("converter-silent", LATE)],
        TripKind::ThermocoupleReversed => vec![Case::of("thermocouple-reversed", COLD)],
        TripKind::SensorTypeWrong => vec![Case::of("sensor-type-wrong", COLD)],
        TripKind::ReadingStale => vec![Case::of("reading-stale", LATE)],
        TripKind::ReadingFrozen => vec![Case::of("reading-frozen", COLD)],
        TripKind::ReadingJump => {
            [25.0, -60.0].map(|by_k| Case::of("reading-jump", LATE).by(by_k)).to_vec()
        }
        TripKind::NoResponse => vec![Case::of("heater-dead", COLD)],
        TripKind::SensorMoved => {
            vec![Case::of("sensor-moved", LATE).by(-20.0).with(SECOND_SENSOR)]
        }
        TripKind::DriveWelded => {
            [&[], MAINS_PROOF].map(|set| Case::of("drive-welded", LATE).with(set)).to_vec()
        }
        TripKind::PermitWelded => vec![Case::of("permit-welded", LATE)],
        TripKind::AirOverLimit => {
            vec![Case::of("sensor-moved", EARLY).by(40.0).with(LOW_AIR).in_bake(QUICK)]
        }
        TripKind::PartOverLimit => {
            vec![Case::of("drive-welded", EARLY).with(THIN_PARTS).in_bake(QUICK)]
        }
        TripKind::DoorSwitchStuck => vec![Case::of("door-switch-stuck", LATE)],
        TripKind::FanStopped => vec![Case::of("fan-stopped", LATE).in_bake(FAN)],
        TripKind::EnclosureHot => vec![Case::of("enclosure-hot", LATE)],
        TripKind::TickOverrun => vec![Case::of("tick-overrun", LATE).thrice()],
        TripKind::ProcessorHung => vec![Case::of("processor-hung", LATE).thrice()],
        TripKind::ClockWrong => vec![Case::of("clock-wrong", LATE)],
        TripKind::MemoryCorrupt => vec![Case::of("memory-corrupt", LATE)],
    }
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
    // A minute of them, or all since the board was switched on; a hung one has just started again.
    let ticks = ticks.count();
    let least = if kind == TripKind::ProcessorHung { 1 } else { 440 };
    assert!((least..=600).contains(&ticks), "{kind}: {ticks}");
    kind
}

#[test]
fn every_kind_of_trip_is_reached_from_a_pin_a_bus_or_a_clock() {
    for kind in TripKind::ALL {
        let cases = cases(kind);
        assert!(!cases.is_empty(), "{kind}");
        for case in cases {
            assert_eq!(trip(&case.setup()), kind, "{} at {:?}", case.fault, case.at);
        }
    }
}

#[test]
fn a_processor_that_hangs_once_comes_back_off_and_asking_and_the_bake_ends_well() {
    let setup = Case::of("processor-hung", Moment::SinceStep(2, 300.0)).setup();
    let mut board = Board::new(&setup);
    let trace = bake(&mut board, &setup, None, 1);
    assert_eq!(trace.chronicle.ending, Some(Ending::Finished));
}
