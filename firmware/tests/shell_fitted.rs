//! What the settings say is fitted is read at its pin, and nothing else; what is shown is at its pins.
//!
//! Goal: no optional contact, sensor or clock is looked at unless commissioning said it is there, and
//! each that is there counts. Method: a mock board whose every optional input shows the worst, with
//! none of them fitted and with one.

mod bench;

use bench::{AIR, Bench, CHECKED, SETTINGS, commissioned, compiled, hand};
use truesoak_board_mock::Outside;
use truesoak_board_mock::outside::Act;
use truesoak_core::Controller;
use truesoak_core::guard::TripKind;
use truesoak_core::wire::messages::Request;
use truesoak_core::wire::settings::BoardSettings;
use truesoak_firmware::person::signal::TripClass;
use truesoak_firmware::person::{Level, Signal, level};

/// An air sensor and nothing else.
const BARE: BoardSettings = BoardSettings {
    door_switch: false,
    permit_feedback: false,
    mains_at_heater: false,
    airflow: false,
    independent_clock: false,
    ..SETTINGS
};

/// Everything optional shows the worst it can.
fn at_its_worst(outside: &mut Outside) {
    outside.door_open = true;
    outside.contactor_shows = Some(true);
    outside.mains_shows = Some(true);
    outside.air_moves = false;
    outside.sensors[1].open = true;
    outside.sensors[2].open = true;
}

/// A board like this with a bake for an oven with a fan, a second sensor if one is fitted; ready.
fn loaded(settings: BoardSettings) -> Bench {
    let mut sent = compiled(&[hand::soak()]);
    sent.settings.fan = true;
    sent.model.air.airflow_proof = settings.airflow;
    sent.model.sensor_b = settings.air_b.map(|_| sent.model.sensor);
    Bench::of(commissioned(settings, CHECKED)).load(&sent)
}

#[test]
fn what_is_not_fitted_is_not_read() {
    let mut bench = loaded(BARE);
    bench.world.change(at_its_worst);
    bench.press_go().ticks(10);
    let edges = bench.world.look(|outside| outside.permit_edges);
    // Air that nothing heats is missing heat after 65 s.
    for tick in 0..640 {
        // A clock that stands still.
        bench.world.change(|outside| outside.independent_ticks -= 1);
        bench.ticks(1);
        assert_eq!(bench.trip(), None, "tick {tick}");
    }
    assert_eq!(bench.world.look(|outside| outside.permit_edges) - edges, 640, "heat is allowed");
}

/// What is fitted besides, how it goes wrong in a bake that heats, how that is called, within ticks.
type Case = (BoardSettings, fn(&mut Outside), TripKind, u32);

#[test]
fn each_that_is_fitted_is_read() {
    let cases: [Case; 5] = [
        (
            BoardSettings { permit_feedback: true, ..BARE },
            |of| (of.stop, of.contactor_shows) = (true, Some(true)),
            TripKind::PermitWelded,
            60,
        ),
        (
            BoardSettings { mains_at_heater: true, ..BARE },
            |of| (of.stop, of.mains_shows) = (true, Some(true)),
            TripKind::DriveWelded,
            60,
        ),
        (
            BoardSettings { airflow: true, ..BARE },
            |of| of.air_moves = false,
            TripKind::FanStopped,
            620,
        ),
        (
            BoardSettings { independent_clock: true, ..BARE },
            |of| of.independent_ticks -= 1,
            TripKind::ClockWrong,
            110,
        ),
        (
            BoardSettings { air_b: Some(AIR), ..BARE },
            |of| of.sensors[1].open = true,
            TripKind::ThermocoupleOpen,
            10,
        ),
    ];
    for (settings, wrong, kind, within) in cases {
        let mut bench = loaded(settings);
        bench.world.change(|outside| outside.air_moves = true);
        bench.press_go().ticks(60);
        assert_eq!(bench.trip(), None, "{kind}: before");
        let found = (0..within).find_map(|_| {
            bench.world.change(wrong);
            bench.ticks(1).trip()
        });
        assert_eq!(found, Some(kind));
    }
}

#[test]
fn a_door_switch_cuts_heat_where_one_is_fitted() {
    let mut bench = loaded(BoardSettings { door_switch: true, ..BARE });
    bench.press_go().ticks(10);
    bench.world.change(|outside| outside.door_open = true);
    bench.ticks(3);
    let edges = bench.world.look(|outside| outside.permit_edges);
    bench.ticks(20);
    assert_eq!(bench.world.look(|outside| outside.permit_edges), edges);
}

/// CR0, bit 0: set at 50 Hz (data sheet, from memory).
#[test]
fn a_converter_filters_the_mains_that_the_settings_say() {
    for (mains_60_hz, bit) in [(false, 1), (true, 0)] {
        let mut bench = loaded(BoardSettings { mains_60_hz, ..BARE });
        bench.ticks(20);
        assert_eq!(bench.world.look(|outside| outside.sensors[0].written[0] & 1), bit);
    }
}

/// A processor that hangs anywhere in a tick has not toggled the permit in it, nor fed the watchdog.
#[test]
fn a_tick_reads_then_drives_then_tells_then_toggles_and_feeds_last() {
    let mut bench = loaded(SETTINGS);
    bench.ask(&Request::Watch(true));
    bench.press_go().ticks(30);
    let mut told = 0_u32;
    for tick in 0..40 {
        bench.world.change(|outside| outside.acts = Some(Vec::new()));
        bench.ticks(1);
        let acts = bench.world.change(|outside| outside.acts.take());
        let mut acts = acts.expect("they were kept");
        acts.dedup();
        let quiet = [Act::Asks, Act::Drives, Act::Toggles, Act::Feeds];
        let telling = [Act::Asks, Act::Drives, Act::Says, Act::Toggles, Act::Feeds];
        assert!(acts == quiet || acts == telling, "tick {tick}: {acts:?}");
        told += u32::from(acts == telling);
    }
    assert!(told >= 4, "{told}");
}

fn shown(bench: &Bench) -> Level {
    bench.world.look(|outside| Level { lamp: outside.lamp, beeper: outside.beeper })
}

#[test]
fn lamp_beeper_and_fan_are_at_their_pins_what_the_table_says() {
    let mut bench = loaded(SETTINGS);
    bench.restart(truesoak_firmware::Reset::Supply);
    for tick in 0..10 {
        bench.ticks(1);
        assert_eq!(shown(&bench), level(Signal::Starting.pattern(), tick), "tick {tick}");
    }
    bench.ticks(100);
    assert_eq!(shown(&bench), Level { lamp: false, beeper: false });
    assert!(!bench.world.look(|outside| outside.fan));
    bench.press_go().ticks(10);
    assert_eq!(shown(&bench), Level { lamp: true, beeper: false });
    assert!(bench.world.look(|outside| outside.fan));
    bench.world.change(|outside| outside.sensors[0].open = true);
    bench.trip_within(10).expect("a trip");
    let pattern = Signal::Trip(TripClass::Sensor).pattern();
    for tick in 1..130 {
        bench.ticks(1);
        assert_eq!(shown(&bench), level(pattern, tick), "tick {tick}");
    }
}

#[test]
fn the_display_has_what_is_waited_for_the_air_the_parts_and_what_was_counted() {
    let mut bench = loaded(SETTINGS);
    let lines = |bench: &Bench| bench.world.look(|outside| outside.screen.clone());
    assert_eq!(lines(&bench), ["idle", "air 20.0 C", "", ""]);
    bench.press_go().ticks(40);
    let ledger = bench.shell.controller().and_then(Controller::ledger).expect("a bake");
    let (coldest, hottest) = (ledger.coldest().expect("one"), ledger.hottest().expect("one"));
    assert!(coldest < hottest);
    let parts = format!("{:.1}..{:.1} C", coldest.0, hottest.0);
    assert_eq!(lines(&bench), ["running", "air 20.0 C", parts.as_str(), "0 of 10 min"]);
    bench.world.change(|outside| outside.sensors[0].open = true);
    bench.ticks(20);
    assert_eq!(lines(&bench)[..2], ["thermocouple-ope", "air ?"]);
}
