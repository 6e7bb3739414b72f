//! The controller by hand: inputs made up tick by tick, no plant.
//!
//! Goal: what a person, the board and the computer do has the effect it should, and heat is
//! possible only when everything allows it.

mod hand;

use hand::{Hand, soak};
use truesoak_core::bake::{Check, Cool, CoolOn, LoadIn, OnFail, Ramp, Step, Wait};
use truesoak_core::event::{Ending, Event};
use truesoak_core::guard::TripKind;
use truesoak_core::io::{Answer, Door, Inputs, Question, Transfer};
use truesoak_core::sequence::Mode;
use truesoak_core::tick::{Command, Refusal};
use truesoak_core::units::{Celsius, Tick};

#[test]
fn go_held_two_seconds_starts_the_bake_and_heat_flows() {
    let mut hand = Hand::new(&[soak()], false);
    hand.ticks(5);
    assert!(!hand.last.heat.is_allowed());
    hand.press_go().ticks(30);
    assert_eq!(hand.controller.mode(), Mode::Running);
    assert!(hand.last.heat.drives());
}

#[test]
fn a_store_that_fails_is_told_once_and_again_once_it_was_good() {
    let mut hand = Hand::new(&[soak()], false);
    hand.ticks(5).press_go();
    let told =
        |hand: &Hand| hand.heard.iter().filter(|event| **event == Event::StoreFailing).count();
    for times in 1..=2 {
        hand.inputs.health.store = false;
        hand.ticks(100);
        assert_eq!(told(&hand), times);
        hand.inputs.health.store = true;
        hand.ticks(20);
    }
}

#[test]
fn a_button_closed_since_boot_starts_nothing_until_released() {
    for stop in [false, true] {
        let mut hand = Hand::new(&[soak()], false);
        (hand.inputs.go, hand.inputs.stop) = (!stop, stop);
        hand.ticks(400);
        assert_eq!(hand.controller.mode(), Mode::Idle);
        (hand.inputs.go, hand.inputs.stop) = (false, false);
        hand.ticks(2).press_go();
        assert_eq!(hand.controller.mode(), Mode::Running);
    }
}

#[test]
fn what_is_not_in_order_forbids_the_start_and_latches_nothing() {
    let spoil: [fn(&mut Inputs); 5] = [
        |inputs| inputs.air.transfer = Transfer::Open,
        |inputs| inputs.air.value = Celsius(f32::NAN),
        |inputs| inputs.door = Some(Door::Open),
        |inputs| inputs.health.settings = false,
        |inputs| inputs.health.store = false,
    ];
    for spoil in spoil {
        let mut hand = Hand::new(&[soak()], false);
        spoil(&mut hand.inputs);
        hand.ticks(100).press_go().ticks(20);
        assert_eq!(hand.controller.mode(), Mode::Idle);
        assert_eq!(hand.controller.trip(), None);
    }
}

#[test]
fn stop_cuts_in_its_own_tick_and_ends_the_bake_when_released() {
    let mut hand = Hand::new(&[soak()], false);
    hand.ticks(2).press_go().ticks(30);
    assert!(hand.last.heat.drives());
    hand.inputs.stop = true;
    hand.ticks(1);
    assert!(!hand.last.heat.is_allowed());
    hand.inputs.stop = false;
    hand.ticks(1);
    assert_eq!(hand.controller.mode(), Mode::Done(Ending::Stopped));
}

#[test]
fn an_open_door_cuts_in_its_own_tick() {
    let mut hand = Hand::new(&[soak()], false);
    hand.ticks(2).press_go().ticks(30);
    hand.inputs.door = Some(Door::Open);
    hand.ticks(1);
    assert!(!hand.last.heat.is_allowed());
}

#[test]
fn a_door_left_open_asks_and_waits_for_go_with_the_door_shut() {
    let mut hand = Hand::new(&[soak()], false);
    hand.ticks(2).press_go().ticks(30);
    hand.inputs.door = Some(Door::Open);
    hand.ticks(605);
    assert_eq!(hand.last.asks, Some(Question::DoorLeftOpen));
    hand.press_go();
    assert_eq!(hand.last.asks, Some(Question::DoorLeftOpen), "the door is still open");
    hand.inputs.door = Some(Door::Closed);
    hand.ticks(50);
    assert!(!hand.last.heat.is_allowed());
    hand.press_go();
    assert!(hand.heard(Event::Answered(Question::DoorLeftOpen, Answer::Go)));
}

#[test]
fn a_latched_trip_survives_go_while_its_cause_stands() {
    let mut hand = Hand::new(&[soak()], false);
    hand.ticks(2).press_go().ticks(30);
    hand.inputs.cold_junction = Some(Celsius(80.0));
    hand.ticks(60);
    assert_eq!(hand.controller.trip().map(|trip| trip.kind), Some(TripKind::EnclosureHot));
    assert_eq!(hand.last.asks, Some(Question::Tripped));
    hand.press_go();
    assert!(hand.controller.trip().is_some());
    hand.inputs.cold_junction = Some(Celsius(30.0));
    hand.ticks(10);
    assert!(hand.controller.trip().is_some(), "only a person acknowledges");
    hand.press_go();
    assert!(hand.controller.trip().is_none());
    assert_eq!(hand.controller.mode(), Mode::Idle);
}

#[test]
fn a_welded_contactor_and_mains_at_a_cut_heater_trip_in_any_phase() {
    let mut hand = Hand::new(&[soak()], false);
    hand.inputs.permit_feedback = Some(true);
    hand.ticks(16);
    assert_eq!(hand.controller.trip().map(|trip| trip.kind), Some(TripKind::PermitWelded));
    let mut hand = Hand::new(&[soak()], false);
    hand.inputs.mains_at_heater = Some(true);
    hand.ticks(5);
    assert_eq!(hand.controller.trip().map(|trip| trip.kind), Some(TripKind::DriveWelded));
}

#[test]
fn three_late_ticks_in_a_bake_trip() {
    let mut hand = Hand::new(&[soak()], false);
    hand.ticks(2).press_go().ticks(10);
    for _ in 0..3 {
        hand.now += 3;
        hand.ticks(20);
    }
    assert_eq!(hand.controller.trip().map(|trip| trip.kind), Some(TripKind::TickOverrun));
}

#[test]
fn a_request_from_the_computer_waits_a_minute_for_go_at_the_oven() {
    let mut hand = Hand::new(&[soak()], false);
    hand.ticks(2);
    assert_eq!(hand.controller.command(Tick(2), Command::Stop), Err(Refusal::NoBake));
    assert_eq!(hand.controller.command(Tick(2), Command::Acknowledge), Err(Refusal::NoTrip));
    hand.controller.command(Tick(2), Command::Start).unwrap();
    hand.ticks(100);
    assert_eq!(hand.controller.mode(), Mode::Idle);
    hand.press_go();
    assert_eq!(hand.controller.mode(), Mode::Running);
    assert_eq!(hand.controller.command(Tick(300), Command::Start), Err(Refusal::BakeRuns));
    hand.controller.command(Tick(hand.now), Command::Stop).unwrap();
    hand.ticks(2);
    assert_eq!(hand.controller.mode(), Mode::Done(Ending::Stopped));
    let mut desk = Hand::new(&[soak()], true);
    desk.ticks(2);
    desk.controller.command(Tick(2), Command::Start).unwrap();
    desk.ticks(2);
    assert_eq!(desk.controller.mode(), Mode::Running);
}

fn day() -> Vec<Step> {
    vec![
        Step::Ramp(Ramp { to: Celsius(20.5), rate_k_per_min: None }),
        Step::LoadIn(LoadIn { at: None }),
        Step::Check(Check { on_fail: OnFail::RepeatFrom(0), tries: 2, parts_stay: false }),
        Step::Wait(Wait { for_s: 30, parts_stay: false }),
        Step::Cool(Cool { to: Celsius(30.0), on: CoolOn::Air }),
    ]
}

#[test]
fn a_check_passes_by_go_fails_by_stop_held_and_its_rounds_are_counted() {
    let mut hand = Hand::new(&day(), false);
    hand.ticks(2).press_go().ticks(20);
    assert_eq!(hand.last.asks, Some(Question::LoadIn));
    hand.press_go();
    assert_eq!(hand.last.asks, Some(Question::Check));
    assert!(hand.heard(Event::PartsOut) || hand.heard(Event::LoadClosed));
    hand.hold_stop(51).ticks(20);
    assert_eq!(hand.last.asks, Some(Question::LoadIn), "back to the first step and on again");
    hand.press_go().hold_stop(51);
    assert_eq!(hand.controller.mode(), Mode::Done(Ending::CheckFailed), "two rounds, no more");
}

#[test]
fn a_wait_takes_its_time_from_go_and_nothing_shortens_it() {
    let mut hand = Hand::new(&day(), false);
    hand.ticks(2).press_go().ticks(20).press_go().press_go();
    assert_eq!(hand.last.asks, Some(Question::Wait));
    hand.ticks(1000);
    assert_eq!(hand.last.asks, Some(Question::Wait));
    hand.press_go().ticks(200).press_go();
    assert_eq!(hand.controller.mode(), Mode::Running);
    hand.ticks(100);
    assert_eq!(hand.controller.mode(), Mode::Done(Ending::Finished));
}

#[test]
fn a_cool_that_the_room_holds_off_ends_after_a_day() {
    let cool = Step::Cool(Cool { to: Celsius(19.0), on: CoolOn::Air });
    let mut hand = Hand::new(&[cool], false);
    hand.ticks(2).press_go().ticks(10 * 86_390);
    assert_eq!(hand.controller.mode(), Mode::Running);
    assert!(!hand.last.heat.is_allowed());
    hand.ticks(200);
    assert_eq!(hand.controller.mode(), Mode::Done(Ending::Finished));
}
