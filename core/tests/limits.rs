//! The rows a rehearsal of an honest oven never provokes: limits passed, and air that answers as no
//! oven of the spread does.
//!
//! Goal: each is seen under its own kind and in its time, and not before. Method: the guard is shown
//! what a model would say; where the whole controller matters, it is read what its own nominal oven
//! would show, or more.

mod hand;

use hand::{Hand, LIMITS, model, soak};
mod standing;

use standing::{OFF, ON, STANDING};
use truesoak_core::bake::{Limits, LoadIn, Ramp, Soak, Step};
use truesoak_core::door::{DoorSecond, DoorWatch};
use truesoak_core::event::Event;
use truesoak_core::guard::{Expectation, Guard, TripKind, View};
use truesoak_core::io::{Door, Heat, Inputs, Question};
use truesoak_core::judge::{Judge, Judged, Reach};
use truesoak_core::ledger::Ledger;
use truesoak_core::units::{Celsius, Kelvins, Tick};

const AIR_MAX: Celsius = Celsius(200.0);
const SOUND: Expectation = Expectation {
    upper_air: Celsius(160.0),
    liner: Celsius(130.0),
    reading_lowest: Celsius(120.0),
    reading_highest: Celsius(180.0),
    reading_nominal: Celsius(150.0),
    reading: Some(Celsius(150.0)),
    part_over_limit: false,
    probe_disagrees: false,
};

/// A guard that is shown the same again and again.
struct Shown {
    guard: Guard,
    door: DoorWatch,
    air: Judged,
    air_b: Option<Judged>,
    inputs: Inputs,
    now: u32,
}

impl Shown {
    fn new() -> Self {
        let inputs = Hand::new(&[soak()], false).inputs;
        let reach = Reach {
            lag_s: 9.0,
            noise_k: 0.1,
            resolution_k: 0.25,
            ambient: Celsius(20.0),
            air_max: AIR_MAX,
        };
        let air = Judge::new(reach).tick(&inputs.air, false);
        let door = DoorWatch::new(Tick(0));
        // Long after the last door.
        Self { guard: Guard::default(), door, air, air_b: None, inputs, now: 10_000 }
    }

    /// The tick of the first trip within `ticks`, and its kind.
    fn trip(&mut self, says: Expectation, heat: Heat, ticks: u32) -> Option<(u32, TripKind)> {
        let on_ticks = if heat.drives() { 10 } else { 0 };
        for tick in 1..=ticks {
            self.now += 1;
            let view = View {
                now: Tick(self.now),
                inputs: &self.inputs,
                air: &self.air,
                air_b: self.air_b.as_ref(),
                door: &self.door.tick(Tick(self.now), self.inputs.door),
                commanded: heat,
                fan: false,
                baking: true,
                second_on_ticks: self.now.is_multiple_of(10).then_some(on_ticks),
                expectation: Some(&says),
                air_max: AIR_MAX,
                standing: &STANDING,
            };
            let _ = self.guard.tick(&view);
            if let Some(trip) = self.guard.trip() {
                return Some((tick, trip.kind));
            }
        }
        None
    }
}

#[test]
fn air_at_its_limit_trips_in_its_second_tick_and_nothing_below_it_does() {
    for upper in [200.0, 260.0, f32::NAN, f32::INFINITY] {
        let says = Expectation { upper_air: Celsius(upper), ..SOUND };
        let trip = Shown::new().trip(says, ON, 10);
        assert_eq!(trip, Some((2, TripKind::AirOverLimit)), "{upper}");
    }
    let says = Expectation { upper_air: Celsius(199.9), ..SOUND };
    assert_eq!(Shown::new().trip(says, ON, 300), None);
}

#[test]
fn air_over_its_limit_with_the_drive_off_for_five_seconds_is_a_welded_drive() {
    let over = Expectation { upper_air: Celsius(201.0), ..SOUND };
    let mut shown = Shown::new();
    assert_eq!(shown.trip(SOUND, OFF, 40), None);
    assert_eq!(shown.trip(over, OFF, 10), Some((2, TripKind::AirOverLimit)));
    let mut shown = Shown::new();
    assert_eq!(shown.trip(SOUND, OFF, 60), None);
    assert_eq!(shown.trip(over, OFF, 20), None, "the noise of two seconds");
    assert_eq!(shown.trip(SOUND, OFF, 1), None);
    assert_eq!(shown.trip(over, OFF, 30), Some((30, TripKind::DriveWelded)));
    let mut shown = Shown::new();
    shown.air.latest = Some(Celsius(200.0));
    assert_eq!(shown.trip(SOUND, OFF, 60), None);
    assert_eq!(shown.trip(over, OFF, 10), Some((2, TripKind::DriveWelded)), "read, not bounded");
}

#[test]
fn air_that_one_of_two_sensors_sees_over_its_limit_alone_is_no_welded_drive() {
    let over = Expectation { upper_air: Celsius(201.0), ..SOUND };
    let named = |rises_b_k_per_s: f32| {
        let mut shown = Shown::new();
        shown.air.steady_slope_k_per_s = 2.0;
        shown.air_b = Some(Judged { steady_slope_k_per_s: rises_b_k_per_s, ..shown.air });
        assert_eq!(shown.trip(SOUND, OFF, 60), None, "34 s until they have parted");
        shown.trip(over, OFF, 30).map(|(_, kind)| kind)
    };
    assert_eq!(named(0.0), Some(TripKind::SensorMoved));
    assert_eq!(named(0.4), Some(TripKind::DriveWelded));
}

#[test]
fn on_the_way_back_from_a_door_air_over_its_limit_has_thirty_seconds_while_nothing_heats() {
    let over = Expectation { upper_air: Celsius(201.0), ..SOUND };
    for (heat, ticks, kind) in [(OFF, 300, TripKind::DriveWelded), (ON, 2, TripKind::AirOverLimit)]
    {
        let mut shown = Shown::new();
        shown.inputs.door = Some(Door::Open);
        assert_eq!(shown.trip(SOUND, Heat::Cut, 100), None);
        shown.inputs.door = Some(Door::Closed);
        assert_eq!(shown.trip(SOUND, ON, 100), None);
        assert_eq!(shown.trip(over, heat, 400), Some((ticks, kind)));
    }
}

#[test]
fn where_no_switch_tells_of_a_door_air_over_its_limit_has_longer_while_nothing_rises() {
    let over = Expectation { upper_air: Celsius(201.0), ..SOUND };
    for (rises_k_per_s, ticks) in [(0.2, 900), (0.0, 3000), (-0.3, 3000)] {
        let mut shown = Shown::new();
        shown.inputs.door = None;
        shown.air.steady_slope_k_per_s = rises_k_per_s;
        assert_eq!(shown.trip(SOUND, OFF, 60), None);
        let trip = shown.trip(over, OFF, 4000);
        assert_eq!(trip, Some((ticks, TripKind::DriveWelded)), "{rises_k_per_s} K/s");
    }
}

#[test]
fn air_at_its_limit_as_a_door_shuts_that_no_switch_tells_of_is_not_named_a_weld() {
    let over = Expectation { upper_air: Celsius(210.0), ..SOUND };
    for (shut_ticks, kind) in [(100, TripKind::AirOverLimit), (600, TripKind::DriveWelded)] {
        let mut shown = Shown::new();
        shown.inputs.door = None;
        shown.door.suspect(Celsius(100.0));
        assert_eq!(shown.trip(SOUND, Heat::Cut, 10), None);
        // The air rises again: somebody has shut it.
        let rises = Celsius(110.0);
        let second =
            DoorSecond { reading: rises, lowest: rises, nominal: rises, slope_b_k_per_s: None };
        shown.door.second(Tick(shown.now), &second);
        assert_eq!(shown.trip(SOUND, OFF, shut_ticks), None);
        shown.air.latest = Some(Celsius(201.0));
        assert_eq!(shown.trip(over, OFF, 310).map(|(_, kind)| kind), Some(kind), "{shut_ticks}");
    }
}

#[test]
fn a_part_at_what_it_stands_trips_at_once() {
    let says = Expectation { part_over_limit: true, ..SOUND };
    assert_eq!(Shown::new().trip(says, OFF, 10), Some((1, TripKind::PartOverLimit)));
}

#[test]
fn after_a_lost_supply_a_part_that_may_be_any_keeps_everything_off_for_half_an_hour_and_then_trips()
{
    let mut shown = Shown::new();
    shown.guard.bake_goes_on(Tick(shown.now));
    assert_eq!(shown.trip(SOUND, ON, 600), None, "heat has been given");
    assert!(!shown.guard.rows().holds_permit_off());
    let says = Expectation { part_over_limit: true, ..SOUND };
    assert_eq!(shown.trip(says, OFF, 10), None);
    assert!(shown.guard.rows().is_over() && shown.guard.rows().holds_permit_off());
    assert_eq!(shown.trip(says, Heat::Cut, 18_000), Some((17_391, TripKind::PartOverLimit)));
}

#[test]
fn air_outside_the_spread_for_two_minutes_is_told_and_no_trip() {
    for reading in [181.5, 118.5] {
        let says = Expectation { reading: Some(Celsius(reading)), ..SOUND };
        let mut shown = Shown::new();
        assert_eq!(shown.trip(says, OFF, 1199), None);
        assert!(!shown.guard.rows().outside_model(), "{reading}");
        assert_eq!(shown.trip(says, OFF, 1), None);
        assert!(shown.guard.rows().outside_model(), "{reading}");
        assert_eq!(shown.trip(SOUND, Heat::Cut, 600), None);
        assert!(shown.guard.rows().outside_model(), "for the rest of the bake");
    }
}

/// Air limits that are not in the way.
const FAR_OFF: Limits = Limits { air_max: Celsius(600.0), ..LIMITS };

/// Reads the controller what `shows` makes of its bounds; true once it has heard `until`.
fn reads(hand: &mut Hand, ticks: u32, until: Event, shows: impl Fn(&Ledger) -> Celsius) -> bool {
    for _ in 0..ticks {
        if let Some(ledger) = hand.controller.ledger() {
            // No faster than its sensor could.
            let (now, goal) = (hand.inputs.air.value, shows(ledger));
            hand.inputs.air.value = Celsius(now.0 + (goal - now).0.clamp(-0.3, 0.3));
        }
        hand.ticks(1);
        if hand.heard(until) {
            return true;
        }
    }
    false
}

#[test]
fn nothing_counts_any_more_once_the_air_has_left_the_spread() {
    let Step::Soak(room) = soak() else { unreachable!("the bench's step is a soak") };
    let wide = Soak { at_least: Celsius(-40.0), at_most: Celsius(140.0), ..room };
    let mut hand = Hand::with(&[Step::Soak(wide)], FAR_OFF, false);
    hand.ticks(2).press_go();
    let highest = |ledger: &Ledger| ledger.bounds().reading_highest(&model());
    let quick = |ledger: &Ledger| highest(ledger) - Kelvins(1.0);
    assert!(!reads(&mut hand, 2_500, Event::OutsideModel, quick), "a quick oven is inside");
    let credit_s = |hand: &Hand| hand.controller.ledger().map_or(0, Ledger::credit_s);
    assert!(credit_s(&hand) > 40, "{} s, {:?}", credit_s(&hand), hand.tripped());
    // Hotter than any oven of the spread, and not so hot that the drive seems welded.
    let above = |ledger: &Ledger| highest(ledger) + Kelvins(1.5);
    assert!(reads(&mut hand, 2_500, Event::OutsideModel, above), "{:?}", hand.tripped());
    assert_eq!(hand.tripped(), None);
    let had_s = credit_s(&hand);
    hand.ticks(100);
    assert_eq!(credit_s(&hand), had_s, "nothing counts for the rest of the bake");
    let kept = hand.controller.checkpoint().expect("there is something to keep");
    let mut hand = Hand::with(&[Step::Soak(wide)], FAR_OFF, false);
    hand.controller.resume(kept);
    hand.ticks(50).press_go().ticks(300);
    assert!(hand.last.heat.is_allowed(), "it goes on");
    assert_eq!(credit_s(&hand), had_s, "nor after a lost supply");
}

/// A bench on its way to air above what its parts stand: a window would be aimed for below that.
fn too_hot_for_parts() -> Hand {
    let hot = Ramp { to: Celsius(340.0), rate_k_per_min: None };
    let mut hand = Hand::with(&[Step::Ramp(hot), soak()], FAR_OFF, false);
    hand.ticks(2).press_go();
    hand
}

#[test]
fn heat_ends_while_what_parts_rise_by_yet_is_below_what_they_stand() {
    let mut hand = too_hot_for_parts();
    let highest = |ledger: &Ledger| ledger.bounds().reading_highest(&model());
    let mut hottest = Celsius(0.0);
    for _ in 0..6_000 {
        let tripped = Event::Tripped(TripKind::PartOverLimit);
        assert!(!reads(&mut hand, 10, tripped, highest), "{hottest:?}");
        hottest = hottest.max(hand.controller.ledger().and_then(Ledger::hottest).unwrap());
    }
    assert!(hottest > Celsius(180.0) && hottest < Celsius(189.0), "{hottest:?}");
}

#[test]
fn parts_that_could_be_hotter_than_they_stand_end_the_bake() {
    // Hung warm into air above what they stand, which heat that is off keeps nobody from.
    let mut warm = model();
    warm.classes[0].starts_at = Celsius(188.0);
    let (hot, at) = (Celsius(260.0), Some(Celsius(250.0)));
    let steps =
        [Step::Ramp(Ramp { to: hot, rate_k_per_min: None }), Step::LoadIn(LoadIn { at }), soak()];
    let mut hand = Hand::of(warm, &steps, FAR_OFF, false);
    hand.ticks(2).press_go();
    let nominal = |ledger: &Ledger| ledger.bounds().nominal_reading();
    let asked = Event::Asked(Question::LoadIn);
    assert!(reads(&mut hand, 60_000, asked, nominal), "{:?}", hand.tripped());
    let tripped = Event::Tripped(TripKind::PartOverLimit);
    hand.inputs.door = Some(Door::Open);
    assert!(!reads(&mut hand, 50, tripped, nominal), "they stand what they come in with");
    hand.inputs.door = Some(Door::Closed);
    assert!(reads(&mut hand, 1_200, tripped, nominal), "{:?}", hand.tripped());
    let ledger = hand.controller.ledger().unwrap();
    // What is shown is a second old: judged is what it will have risen to by now.
    let (shown, now) = (ledger.hottest().unwrap(), ledger.bounds().hottest_ahead(0).unwrap());
    assert!(shown < now && now >= Celsius(190.0) && now <= Celsius(191.0), "{shown:?} {now:?}");
    assert!(!hand.last.heat.is_allowed());
}
