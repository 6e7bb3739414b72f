//! How long parts may be above the lower end of a window: inputs made up by hand, no plant.
//!
//! Goal: the stay is counted from leg to leg of one run of a soak and starts anew with the next, it
//! is foreseen to its end, it outlives a lost supply with the time that took, and a soak whose parts
//! may stay no longer ends short.

mod hand;

use hand::{Hand, model, soak};
use truesoak_core::bake::{Bake, Check, Cool, CoolOn, LoadIn, OnFail, Ramp, Soak, Step};
use truesoak_core::bounds::model::CLASSES_MAX;
use truesoak_core::bounds::{Bounds, Hottest, Present};
use truesoak_core::event::{Ending, Event};
use truesoak_core::record::CHECKPOINT_S;
use truesoak_core::sequence::Mode;
use truesoak_core::stay::{Leg, Stay, belongs};
use truesoak_core::units::{Celsius, Reading};

const RAMP: Step = Step::Ramp(Ramp { to: Celsius(120.0), rate_k_per_min: None });
const LOAD_IN: Step = Step::LoadIn(LoadIn { at: Some(Celsius(120.0)) });
const COOL: Step = Step::Cool(Cool { to: Celsius(45.0), on: CoolOn::Air });
const CHECK: Step =
    Step::Check(Check { on_fail: OnFail::RepeatFrom(0), tries: 2, parts_stay: true });

fn limited(limit_s: u32) -> Step {
    let Step::Soak(soak) = soak() else { unreachable!("the bench's step is a soak") };
    Step::Soak(Soak { no_longer_than_s: Some(limit_s), ..soak })
}

fn bake(steps: &[Step]) -> Bake {
    Bake { steps: steps.iter().copied().collect(), limits: hand::LIMITS }
}

/// Parts and oven at one temperature.
fn bounds_at(celsius: f32) -> Bounds {
    let model = model();
    let at = Celsius(celsius);
    let reading = Reading::from_celsius(at).expect("a reading");
    Bounds::start(&model, reading, Present::everything(&model), at)
}

/// Seconds of a stay with parts at a temperature.
fn stays(stay: &mut Stay, celsius: f32, seconds: u32) {
    let (model, bounds) = (model(), bounds_at(celsius));
    (0..seconds).for_each(|_| {
        stay.foresee(&model, &bounds);
        stay.second(&bounds);
    });
}

#[test]
fn ramps_and_load_ins_lead_to_the_next_soak_and_the_rest_follows_the_last() {
    let soak = limited(900);
    let steps = [RAMP, LOAD_IN, soak, COOL, CHECK, RAMP, soak, COOL, RAMP];
    let (before, during, after) = (Leg::Before, Leg::During, Leg::After);
    let wanted = [
        (2, before),
        (2, before),
        (2, during),
        (2, after),
        (2, after),
        (6, before),
        (6, during),
        (6, after),
        (6, after),
    ];
    let bake = bake(&steps);
    for (step, wanted) in (0..).zip(wanted) {
        assert_eq!(belongs(&bake, step), Some(wanted), "step {step}");
    }
    assert_eq!(belongs(&bake, 9), None);
}

#[test]
fn a_stay_goes_on_through_its_soak_and_starts_anew_with_the_next_try() {
    let bake = bake(&[RAMP, limited(900), COOL, CHECK]);
    let mut stay = Stay::default();
    for (step, seconds, wanted_s) in [(0, 10, 10), (1, 20, 30), (2, 5, 35), (3, 5, 40)] {
        stay.begin_step(&bake, step);
        stays(&mut stay, 150.0, seconds);
        stays(&mut stay, 120.0, 7);
        assert_eq!(stay.longest_s(), wanted_s, "step {step}");
    }
    stay.begin_step(&bake, 0);
    assert_eq!(stay.longest_s(), 0);
}

#[test]
fn what_is_not_known_to_be_below_is_above_and_without_a_limit_nothing_is_counted() {
    let mut stay = Stay::default();
    stay.begin_step(&bake(&[limited(900)]), 0);
    // A kelvin's start apart and the step's allowance: the bound is above, the part is not.
    stays(&mut stay, 129.5, 3);
    assert_eq!(stay.longest_s(), 3);
    let mut free = Stay::default();
    free.begin_step(&bake(&[soak()]), 0);
    stays(&mut free, 150.0, 3);
    assert_eq!((free.longest_s(), free.left_s(&model()), free.is_used_up()), (0, None, None));
}

#[test]
fn a_stay_is_used_up_when_what_it_takes_to_cool_comes_to_the_limit() {
    let model = model();
    let bake = bake(&[limited(7_200), COOL]);
    let mut stay = Stay::default();
    stay.begin_step(&bake, 0);
    assert!(stay.left_s(&model).is_some_and(|left_s| left_s < 0.0), "not known yet: nothing left");
    stays(&mut stay, 150.0, 2);
    let left_s = stay.left_s(&model).expect("a limit");
    // Two seconds are through, and one is under way.
    let cooling_s = 7_200.0 - left_s - 3.0;
    assert!((1_000.0..4_000.0).contains(&cooling_s), "{cooling_s} s from 150 to 130 °C");
    stays(&mut stay, 150.0, left_s as u32);
    assert_eq!(stay.is_used_up(), None);
    stays(&mut stay, 150.0, 2);
    assert_eq!(stay.is_used_up(), Some(0));
    // Heat has ended in time: from now on only what is spent counts.
    stay.begin_step(&bake, 1);
    assert_eq!(stay.is_used_up(), None);
    stays(&mut stay, 150.0, cooling_s as u32 + 2);
    assert_eq!(stay.is_used_up(), Some(0));
}

#[test]
fn an_hour_without_supply_costs_what_it_takes_to_cool() {
    let model = model();
    for (celsius, is_hot) in [(150.0, true), (100.0, false)] {
        let mut stay = Stay::default();
        stay.begin_step(&bake(&[limited(3_600)]), 0);
        stay.restore(100);
        let mut bounds = bounds_at(celsius);
        bounds.restart(&model, Celsius(15.0), Hottest::all(Celsius(celsius)));
        let cooling_s = bounds.cooling_s(&model, 0, Celsius(130.0));
        (0..CLASSES_MAX).for_each(|class| stay.was_away(&model, &bounds, class));
        assert_eq!(cooling_s > 0.0, is_hot);
        let wanted_s = if is_hot { 100 + CHECKPOINT_S + cooling_s as u32 } else { 100 };
        assert_eq!(stay.longest_s(), wanted_s);
        stay.second(&bounds);
        let wanted_s = wanted_s + u32::from(is_hot);
        assert_eq!(stay.longest_s(), wanted_s);
    }
}

/// A window round a room, so that parts are above its lower end at once and never cool below.
fn at_room(limit_s: Option<u32>) -> Step {
    let Step::Soak(soak) = soak() else { unreachable!("the bench's step is a soak") };
    Step::Soak(Soak {
        at_least: Celsius(-30.0),
        at_most: Celsius(60.0),
        no_longer_than_s: limit_s,
        ..soak
    })
}

#[test]
fn a_soak_whose_parts_may_stay_no_longer_ends_short_and_the_bake_goes_on() {
    let mut hand = Hand::new(&[at_room(Some(40)), at_room(None)], false);
    hand.ticks(2).press_go().ticks(380);
    assert!(!hand.controller.is_short());
    hand.ticks(40);
    assert!(hand.heard(Event::NoLonger(0)) && hand.heard(Event::StepBegan(1)));
    assert!(hand.controller.is_short());
    assert_eq!(hand.controller.mode(), Mode::Running);
}

#[test]
fn parts_that_take_too_long_to_cool_make_a_soak_short_that_had_its_minutes() {
    let cool = Step::Cool(Cool { to: Celsius(-20.0), on: CoolOn::Air });
    let mut hand = Hand::new(&[at_room(Some(620)), cool], false);
    hand.ticks(2).press_go().ticks(6_100);
    assert!(hand.heard(Event::StepBegan(1)), "the soak had its minutes");
    assert!(!hand.controller.is_short());
    hand.ticks(400);
    assert_eq!(hand.heard.iter().filter(|event| **event == Event::NoLonger(0)).count(), 1);
    assert!(hand.controller.is_short());
    assert!(!hand.heard(Event::Ended(Ending::Finished)), "it goes on cooling");
}

#[test]
fn what_was_spent_outlives_a_lost_supply() {
    let steps = [at_room(Some(3_600))];
    let mut hand = Hand::new(&steps, false);
    hand.ticks(2).press_go().ticks(300);
    let kept = hand.controller.checkpoint().expect("a bake runs");
    assert!((28..=31).contains(&kept.stayed_s), "{} s", kept.stayed_s);
    let mut again = Hand::new(&steps, false);
    again.controller.resume(kept);
    again.ticks(50).press_go().ticks(5);
    // In a window round the room parts never cool below: all there is was spent.
    assert!(again.heard(Event::NoLonger(0)) && again.controller.is_short());
}
