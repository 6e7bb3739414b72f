//! Heat that is missing, an answer of a wrong kind, and what is known after a lost supply: the rows
//! of seconds, shown what a model would say.
//!
//! Goal: each mend of what the fault campaign found, on a course drawn by hand. Method: the guard is
//! shown second by second what the nominal oven expects and what is read; nothing else moves.

mod seconds;
mod standing;

use seconds::{Says, Shown, full_power};
use standing::{OFF, ON};
use truesoak_core::door::DoorWatch;
use truesoak_core::guard::TripKind;
use truesoak_core::io::{Door, Heat};
use truesoak_core::units::{Celsius, Tick};

#[test]
fn full_power_that_goes_on_while_the_reading_falls_is_missing_heat_within_a_minute_of_eight_kelvins()
 {
    let mut shown = Shown::new(Some(Door::Closed));
    // A weak oven, 48 K above the liner as long as it is heated.
    assert_eq!(shown.trip(300, ON, |_| full_power(168.0)), None, "nothing is missing");
    let dies = |second: f32| full_power(120.0 + 48.0 * (-second / 150.0).exp());
    let (second, kind) = shown.trip(120, ON, dies).expect("a dead heater trips");
    assert_eq!(kind, TripKind::NoResponse);
    // 8 K are gone after 27 s.
    assert!(second <= 27 + 60, "{second} s");
}

#[test]
fn a_reading_that_falls_slowly_at_full_power_where_the_nominal_one_rises_as_slowly_is_missing_heat()
{
    let course = |second: f32, k_per_s: f32| Says {
        reading: 95.0 + k_per_s * second,
        nominal: 106.0 + 0.04 * second,
        liner: 100.0,
        lowest: 60.0,
    };
    let mut shown = Shown::new(Some(Door::Closed));
    let trip = shown.trip(240, ON, |second| course(second, -0.035));
    let (second, kind) = trip.expect("nothing heats it");
    assert_eq!(kind, TripKind::NoResponse);
    assert!(second <= 110, "{second} s");
    for k_per_s in [0.0, 0.027] {
        let mut shown = Shown::new(Some(Door::Closed));
        let trip = shown.trip(120, ON, |second| course(second, k_per_s));
        assert_eq!(trip, None, "{k_per_s} K/s");
    }
}

#[test]
fn a_heater_that_is_dead_as_the_door_shuts_is_missing_though_the_nominal_oven_has_little_left_to_rise()
 {
    // The liner makes good what it can and then cools; the nominal oven has 5 K of its way left by then,
    // ever more slowly.
    let dead = |second: f32| Says {
        reading: 113.1 - 1.3 * (-second / 12.0).exp() - 0.012 * (second - 50.0).max(0.0),
        nominal: 127.0 - 11.0 * (-second / 75.0).exp(),
        liner: 117.0,
        lowest: 105.0,
    };
    let mut shown = Shown::new(Some(Door::Closed));
    let _ = shown.trip(30, ON, |_| dead(0.0));
    let (second, kind) = shown.trip(300, ON, dead).expect("nothing heats it");
    assert_eq!(kind, TripKind::NoResponse);
    assert!(second <= 110, "{second} s");
}

#[test]
fn a_slow_oven_whose_reading_and_liner_rise_together_is_heated_though_the_nominal_one_is_far_ahead()
{
    // The reading keeps 10 K above a liner that follows it; the nominal oven makes good 30 K more.
    let behind = |second: f32, k_per_s: f32| Says {
        reading: 129.0 + k_per_s * second,
        liner: 119.0 + k_per_s * second,
        nominal: 127.0 + k_per_s * second + 30.0 * (1.0 - (-second / 60.0).exp()),
        lowest: 100.0,
    };
    let mut shown = Shown::new(Some(Door::Closed));
    let _ = shown.trip(200, ON, |_| behind(0.0, 0.0));
    assert_eq!(shown.trip(200, ON, |second| behind(second, 0.15)), None);
    let mut shown = Shown::new(Some(Door::Closed));
    let _ = shown.trip(200, ON, |_| behind(0.0, 0.0));
    let trip = shown.trip(200, ON, |second| behind(second, 0.01));
    assert_eq!(trip.map(|(_, kind)| kind), Some(TripKind::NoResponse));
}

#[test]
fn a_heater_that_is_let_off_and_comes_on_again_is_not_missing() {
    let mut shown = Shown::new(Some(Door::Closed));
    let _ = shown.trip(300, ON, |_| full_power(168.0));
    // The nominal oven falls and rises by two thirds more, and sooner, than this one.
    let falls = |second: f32, k: f32, s: f32| k * (1.0 - (-second / s).exp());
    let off = |second: f32| Says {
        nominal: 180.0 - falls(second, 55.0, 50.0),
        ..full_power(168.0 - falls(second, 44.0, 70.0))
    };
    assert_eq!(shown.trip(120, OFF, off), None);
    let on = |second: f32| Says {
        nominal: 130.0 + falls(second, 50.0, 50.0),
        ..full_power(131.0 + falls(second, 37.0, 70.0))
    };
    assert_eq!(shown.trip(300, ON, on), None);
}

#[test]
fn missing_heat_where_no_switch_tells_is_first_an_opening_and_trips_once_a_person_said_it_is_shut()
{
    let mut shown = Shown::new(None);
    let dead = |second: f32| Says {
        reading: 168.0 - 0.3 * second.min(150.0),
        nominal: 168.0,
        liner: 120.0,
        lowest: 160.0,
    };
    // Past the first heat, on which a fall is a wire that is reversed.
    assert_eq!(shown.trip(200, ON, |_| dead(0.0)), None);
    let mut suspected = None;
    for tick in 0..2_000 {
        let _ = shown.tick(dead(tick as f32 / 10.0), 0, ON);
        if shown.guard.rows().suspects_door() {
            suspected = Some(tick);
            break;
        }
    }
    let suspected = suspected.expect("heat is missing");
    assert_eq!(shown.guard.trip(), None);
    assert!(suspected <= 10 * 90, "{suspected} ticks: 2 K below the lowest after 34 s, and 55 s");
    let from = dead(suspected as f32 / 10.0);
    shown.door.suspect(Celsius(from.reading));
    let door = shown.tick(from, 0, ON);
    assert!(door.open, "heat is cut as for an open door");
    shown.door.told_shut();
    let trip = shown.trip(120, ON, |_| from);
    assert_eq!(trip.map(|(_, kind)| kind), Some(TripKind::NoResponse), "it was no door");
}

#[test]
fn a_frame_that_nobody_read_anew_is_stale_and_not_frozen() {
    let mut shown = Shown::new(Some(Door::Closed));
    let rises = |second: f32| Says { nominal: 150.0 + second, ..full_power(150.0) };
    shown.anew = false;
    for tick in 0..60_u16 {
        let _ = shown.tick(rises(f32::from(tick) / 10.0), tick, ON);
    }
    assert_eq!(shown.guard.trip().map(|trip| trip.kind), Some(TripKind::ReadingStale));
    // Read anew each tick and always the same, it is frozen.
    let mut shown = Shown::new(Some(Door::Closed));
    shown.anew = false;
    let trip = shown.trip(60, ON, rises);
    assert_eq!(trip.map(|(_, kind)| kind), Some(TripKind::ReadingFrozen));
}

/// First heat of an oven that is warmer than its room: the lowest oven of the spread cools first.
fn first_heat(second: f32, share: f32) -> Says {
    let rises = |lag_s: f32| 0.4 * (second - lag_s * (1.0 - (-second / lag_s).exp()));
    Says {
        reading: 36.5 + share * rises(15.0),
        nominal: 36.5 + rises(15.0),
        liner: 36.5,
        lowest: 30.0 + 0.5 * rises(30.0) - 4.0 * (1.0 - (-second / 20.0).exp()),
    }
}

#[test]
fn a_wire_of_a_wrong_type_is_told_by_its_pace_in_an_oven_that_was_warm() {
    let mut shown = Shown::new(Some(Door::Closed));
    let trip = shown.trip(120, ON, |second| first_heat(second, 0.2));
    let (second, kind) = trip.expect("it answers to heat, and far too little");
    assert_eq!(kind, TripKind::SensorTypeWrong);
    assert!(second <= 80, "{second} s");
    // The slowest oven of the spread rises two thirds as far.
    let mut shown = Shown::new(Some(Door::Closed));
    assert_eq!(shown.trip(120, ON, |second| first_heat(second, 0.66)), None);
}

#[test]
fn a_first_answer_that_was_given_in_the_end_is_not_asked_for_again() {
    let heats_from = |base: Says, second: f32, share: f32| {
        let rises_k = first_heat(second, 1.0).nominal - 36.5;
        Says {
            reading: base.reading + share * rises_k,
            nominal: base.nominal + rises_k,
            lowest: base.lowest + 0.2 * rises_k,
            ..base
        }
    };
    let cold = first_heat(0.0, 1.0);
    let mut shown = Shown::new(None);
    // Weak, for a door stands open; somebody shuts it and says so.
    let weak = |tick: u16| heats_from(cold, f32::from(tick) / 10.0, 0.2);
    let suspected = (0..1_200_u16).find(|tick| {
        let _ = shown.tick(weak(*tick), 0, ON);
        shown.guard.rows().suspects_door()
    });
    let shut = Says { nominal: 45.0, ..weak(suspected.expect("a weak answer")) };
    let opened = |shown: &mut Shown, says: Says, heat: Heat| {
        shown.door.suspect(Celsius(says.reading));
        assert_eq!(shown.trip(30, heat, |_| says), None);
        shown.door.told_shut();
    };
    opened(&mut shown, shut, Heat::Cut);
    assert_eq!(shown.trip(200, ON, |second| heats_from(shut, second, 1.0)), None);
    // Opened once more, before the drive has been off for anything else, it heats but slowly for a while.
    let reached = heats_from(shut, 200.0, 1.0);
    opened(&mut shown, reached, ON);
    let trip = shown.trip(80, ON, |second| heats_from(reached, second, 0.3));
    assert_ne!(trip.map(|(_, kind)| kind), Some(TripKind::SensorTypeWrong));
}

#[test]
fn an_answer_given_again_in_an_oven_hotter_than_any_model_is_no_wire_of_a_wrong_type() {
    let (mut shown, cold) = (Shown::new(None), first_heat(0.0, 1.0));
    let weak = |tick: u16| Says {
        nominal: cold.nominal + 0.04 * f32::from(tick),
        lowest: cold.lowest + 0.02 * f32::from(tick),
        ..first_heat(f32::from(tick) / 10.0, 0.2)
    };
    let suspected = (0..1_200_u16).find(|tick| {
        let _ = shown.tick(weak(*tick), 0, ON);
        shown.guard.rows().suspects_door()
    });
    let reached = weak(suspected.expect("a weak answer")).reading;
    shown.door.suspect(Celsius(reached));
    // The models cool behind a door that is not open; this oven does not.
    let cooled = |second: f32| Says {
        reading: reached + 0.3 * second,
        nominal: reached - 18.0 + 34.0 * (1.0 - (-second / 30.0).exp()),
        lowest: reached - 25.0 + 30.0 * (1.0 - (-second / 45.0).exp()),
        liner: reached,
    };
    let _ = shown.trip(30, Heat::Cut, |_| cooled(0.0));
    shown.door.told_shut();
    assert_eq!(shown.trip(100, ON, cooled), None);
}

#[test]
fn a_heater_that_dies_on_the_first_heat_is_no_wire_of_a_wrong_type() {
    let mut shown = Shown::new(Some(Door::Closed));
    let dies = |second: f32| {
        let left = 20.0 + 25.0 * (1.0 - (-(second - 20.0).max(0.0) / 25.0).exp());
        Says { reading: first_heat(second.min(left), 0.8).reading, ..first_heat(second, 1.0) }
    };
    let trip = shown.trip(300, ON, dies).expect("heat is missing");
    assert_eq!(trip.1, TripKind::NoResponse, "after {} s", trip.0);
}

#[test]
fn air_that_an_open_door_cools_turns_and_reversed_leads_do_not() {
    let falls = |second: f32| 9.0 * (1.0 - (-second / 12.0).exp());
    let course = |second: f32, turns: f32| Says {
        reading: 36.5 - falls(second) + turns * (second - 20.0).max(0.0),
        ..first_heat(second, 1.0)
    };
    let mut shown = Shown::new(None);
    assert_eq!(shown.trip(90, ON, |second| course(second, 0.12)), None, "that is missing heat");
    let mut shown = Shown::new(None);
    let trip = shown.trip(120, ON, |second| course(second, -0.12));
    assert_eq!(trip.map(|(_, kind)| kind), Some(TripKind::ThermocoupleReversed));
}

#[test]
fn a_bake_that_goes_on_has_had_its_first_answer() {
    let mut shown = Shown::new(Some(Door::Closed));
    shown.guard.bake_goes_on(Tick(shown.now));
    // What is still hot from before cools while the nominal oven begins at the lowest it can be.
    let course = |second: f32| Says { lowest: -40.0, ..first_heat(second, 0.2) };
    assert_eq!(shown.trip(120, ON, course), None);
}

#[test]
fn after_a_lost_supply_a_bound_over_its_limit_keeps_drive_and_permit_off_and_trips_once_heat_was_given()
 {
    let mut shown = Shown::new(Some(Door::Closed));
    shown.guard.bake_goes_on(Tick(shown.now));
    shown.upper_air = Celsius(215.0);
    let steady = |_: f32| Says { lowest: 60.0, ..full_power(160.0) };
    assert_eq!(shown.trip(600, Heat::Cut, steady), None);
    assert_eq!(shown.trip(600, OFF, steady), None);
    let rows = shown.guard.rows();
    assert!(rows.is_over() && rows.holds_permit_off(), "nothing heats meanwhile, welded or not");
    shown.upper_air = Celsius(190.0);
    assert_eq!(shown.trip(1, ON, steady), None);
    assert!(!shown.guard.rows().is_over() && !shown.guard.rows().holds_permit_off());
    shown.upper_air = Celsius(215.0);
    assert_eq!(shown.trip(1, ON, steady).map(|(_, kind)| kind), Some(TripKind::AirOverLimit));
}

#[test]
fn after_a_lost_supply_a_reading_over_the_limit_trips_all_the_same() {
    let mut shown = Shown::new(Some(Door::Closed));
    shown.guard.bake_goes_on(Tick(shown.now));
    shown.upper_air = Celsius(215.0);
    let hot = |_: f32| Says { lowest: 60.0, ..full_power(200.5) };
    assert!(shown.trip(10, OFF, hot).is_some());
}

#[test]
fn after_half_an_hour_over_its_limit_the_bound_trips() {
    let mut shown = Shown::new(Some(Door::Closed));
    shown.guard.bake_goes_on(Tick(shown.now));
    shown.upper_air = Celsius(215.0);
    let steady = |_: f32| Says { lowest: 60.0, ..full_power(160.0) };
    let (second, _) = shown.trip(2_000, OFF, steady).expect("it has to end");
    assert!((1_802..=1_804).contains(&second), "{second} s");
}

#[test]
fn what_an_opening_took_from_the_nominal_oven_alone_it_makes_good_alone() {
    let says = |reading: f32, nominal: f32| Says { reading, nominal, liner: 120.0, lowest: 60.0 };
    // A brisk oven has lost a kelvin by then and the nominal one twenty.
    let back = |second: f32| says(176.0, 176.0 - 20.0 * (-second / 30.0).exp());
    let mut shown = Shown::new(Some(Door::Closed));
    let _ = shown.trip(60, ON, |_| says(177.0, 177.0));
    shown.switch = Some(Door::Open);
    let _ = shown.trip(20, OFF, |_| says(176.0, 156.0));
    shown.switch = Some(Door::Closed);
    assert_eq!(shown.trip(60, ON, |_| back(0.0)), None);
    assert_eq!(shown.trip(200, ON, back), None);
    // Heat that is missing shows all the same.
    let falls = |second: f32| says(176.0 - 0.1 * second, back(second).nominal);
    let mut shown = Shown::new(Some(Door::Closed));
    let _ = shown.trip(60, ON, |_| says(177.0, 177.0));
    shown.switch = Some(Door::Open);
    let _ = shown.trip(20, OFF, |_| says(176.0, 156.0));
    shown.switch = Some(Door::Closed);
    let _ = shown.trip(60, ON, |_| back(0.0));
    let trip = shown.trip(200, ON, falls).map(|(_, kind)| kind);
    assert_eq!(trip, Some(TripKind::NoResponse));
}

#[test]
fn heat_that_is_missing_for_the_fourth_time_is_no_opening() {
    let mut shown = Shown::new(None);
    let _ = shown.trip(200, ON, |_| full_power(168.0));
    let dead = |second: f32| full_power(168.0 - 0.4 * second);
    for time in 1..=3 {
        let suspected = (0..2_000_u16).find(|tick| {
            let _ = shown.tick(dead(f32::from(*tick) / 10.0), 0, ON);
            shown.guard.rows().suspects_door()
        });
        assert_eq!(shown.guard.trip(), None, "time {time}");
        let low = dead(f32::from(suspected.expect("heat is missing")) / 10.0).reading;
        shown.door.suspect(Celsius(low));
        let back = |second: f32| full_power((low + second).min(168.0));
        let _ = shown.trip(100, Heat::Cut, back);
        // It is shut, and what a person said of it forgotten, by the time heat is missing again.
        shown.door = DoorWatch::new(Tick(shown.now));
        let _ = shown.trip(200, ON, |_| full_power(168.0));
    }
    assert_eq!(shown.trip(200, ON, dead).map(|(_, kind)| kind), Some(TripKind::NoResponse));
}

#[test]
fn a_wire_of_a_wrong_type_slows_down_as_the_oven_does() {
    // A light oven: the rise halves every minute, and what is read is a fifth of it all the way.
    let rises = |second: f32| 60.0 * (1.0 - (-second / 90.0).exp());
    let says = |second: f32, share: f32| Says {
        reading: 20.0 + share * rises(second),
        nominal: 20.0 + rises(second),
        liner: 20.0,
        lowest: 20.0 + 0.5 * rises(second),
    };
    let mut shown = Shown::new(Some(Door::Closed));
    let trip = shown.trip(120, ON, |second| says(second, 0.2));
    assert_eq!(trip.map(|(_, kind)| kind), Some(TripKind::SensorTypeWrong));
}

#[test]
fn what_a_fan_stirs_that_stood_still_is_no_door_for_a_minute() {
    let mut shown = Shown::new(Some(Door::Closed));
    shown.fan = true;
    let stirs_after = |shown: &mut Shown, seconds: u32, airflow: bool| {
        shown.inputs.airflow = Some(airflow);
        let _ = shown.trip(seconds, ON, |_| full_power(168.0));
        shown.guard.rows().stirs()
    };
    assert!(!stirs_after(&mut shown, 5, true));
    assert!(stirs_after(&mut shown, 2, false), "it stands");
    assert!(stirs_after(&mut shown, 58, true), "it mixes what stood");
    assert!(!stirs_after(&mut shown, 4, true));
    // Nobody knows whether it ran while the supply was lost.
    shown.guard.bake_goes_on(Tick(shown.now));
    assert!(stirs_after(&mut shown, 58, true));
}
