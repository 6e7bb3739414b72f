//! An oven without a door switch: the door is known from the air alone.
//!
//! Goal: nobody waits for ever on a door that has long been shut. Found by the fault campaign: an
//! oven that cooled behind an open door never warms enough to tell that it was shut, and GO at the
//! next load_in did nothing; an opening was taken for a dead heater, its end for a welded drive. And
//! what is really dead or welded is off in its time all the same.

use truesoak::files::Setup;
use truesoak::files::bake::{DoorScript, FaultScript, Moment};
use truesoak::log::Row;
use truesoak::rehearse::{Rehearsal, Request};
use truesoak::report::result::Verdict;
use truesoak_tests::{quick, rehearsed, setup};

/// Step that soaks, from 0.
const SOAK: usize = 2;

fn unseen(bake: &str) -> Setup {
    setup(bake, &["oven.door.switch=false"])
}

fn run(setup: &Setup, draw: Option<u64>) -> Rehearsal {
    rehearsed(&Request { draw, ..quick(setup) })
}

fn with_fault(kind: &str) -> Setup {
    let mut setup = unseen("gas-out-hubs");
    let at = Moment::SinceStep(SOAK, 40.0 * 60.0);
    setup.bake.faults = vec![FaultScript { at, kind: kind.to_owned(), for_s: None, by_k: None }];
    setup
}

#[test]
fn issue_8_go_ends_a_load_in_though_a_door_that_nobody_sees_was_open_while_it_cooled() {
    let mut setup = unseen("whole-day");
    setup.bake.answers.clear();
    for door in setup.bake.doors.iter_mut().filter(|door| !door.loads) {
        // Until long after the oven is cold.
        door.open_for_s = 5.0 * 3600.0;
    }
    let result = run(&setup, None).result;
    assert_eq!(result.verdict, Verdict::Pass, "{}", result.reason);
}

#[test]
fn issue_8_no_opening_that_nobody_sees_trips_wide_or_ajar_short_or_long() {
    for (step, minutes) in [(1, 1.0), (SOAK, 10.0), (SOAK, 50.0)] {
        for opening in [0.15, 0.4, 1.0] {
            for open_for_s in [20.0, 150.0, 900.0] {
                let mut setup = unseen("gas-out-hubs");
                let at = Moment::SinceStep(step, minutes * 60.0);
                let loads = step == 1;
                setup.bake.doors.retain(|door| !(loads && door.loads));
                setup.bake.doors.push(DoorScript { at, open_for_s, loads, opening });
                for draw in [None, Some(1), Some(2)] {
                    let trips = run(&setup, draw).result.trips;
                    let case = format!("step {step}, {minutes} min, {opening}, {open_for_s} s");
                    assert!(trips.is_empty(), "{case}, draw {draw:?}: {:?}", trips[0].kind);
                }
            }
        }
    }
}

#[test]
fn issue_8_a_heater_that_dies_is_off_in_time_and_named_once_a_person_says_the_door_is_shut() {
    for draw in [None, Some(1), Some(2), Some(3)] {
        let rehearsal = run(&with_fault("heater-dead"), draw);
        let trip = &rehearsal.result.trips[0];
        assert_eq!(trip.kind, "no-response", "draw {draw:?}");
        let dies_s = trip.at_s.expect("scripted");
        let rows = &rehearsal.trace.rows;
        let off = rows.iter().find(|row| row.t_s() > dies_s && !row.permit).expect("heat is cut");
        // As long as a soak with a switch takes to trip: the loop has to ask for more first.
        let took_s = off.t_s() - dies_s;
        assert!(took_s <= 240.0, "draw {draw:?}: off after {took_s} s");
        let said = |words: &str| rows.iter().find(|row| row.event == words).map(Row::t_s);
        let asked_s = said("asked door-left-open").expect("somebody is asked first");
        let answered_s = said("answered door-left-open go").expect("somebody answers");
        assert!(dies_s < asked_s && answered_s < trip.detected_s);
        let named_s = trip.detected_s - answered_s;
        assert!(named_s <= 240.0, "draw {draw:?}: named after {named_s} s");
    }
}

#[test]
fn issue_8_a_welded_drive_trips_in_its_time_where_no_switch_tells() {
    for draw in [None, Some(1), Some(2), Some(3)] {
        let rehearsal = run(&with_fault("drive-welded"), draw);
        let trip = &rehearsal.result.trips[0];
        assert_eq!(trip.kind, "drive-welded", "draw {draw:?}");
        let at_s = trip.at_s.expect("scripted");
        // From the last second in which the loop called for heat half of the time.
        let rows = rehearsal.trace.rows.iter();
        let called = rows.filter(|row| row.t_s() > at_s && row.on_ticks >= 5);
        let let_go_s = called.map(Row::t_s).fold(at_s, f64::max);
        let took_s = trip.detected_s - let_go_s;
        assert!(took_s <= 40.0, "draw {draw:?}: {took_s} s");
    }
}
