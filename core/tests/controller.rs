//! The controller by hand: inputs made up tick by tick, no plant.
//!
//! Goal: what a person, the board and the computer do has the effect it should, and heat is
//! possible only when everything allows it.

use truesoak_core::Controller;
use truesoak_core::bake::{
    Bake, Check, Cool, CoolOn, Dip, Limits, LoadIn, OnFail, Purpose, Ramp, Soak, Step, Wait,
};
use truesoak_core::bounds::model::{
    Air, CELLS_MAX, Cabinet, Class, Element, Film, Model, Point, Sensor,
};
use truesoak_core::event::{Ending, Event};
use truesoak_core::guard::TripKind;
use truesoak_core::io::{Answer, Door, Health, Inputs, Outputs, Question, Sample, Transfer};
use truesoak_core::ledger::Ledger;
use truesoak_core::regulate::Tuning;
use truesoak_core::sequence::Mode;
use truesoak_core::tick::{Command, Refusal, Settings};
use truesoak_core::units::{Celsius, Kelvins, Span, Tick};

fn model() -> Model {
    let film = Film { constant: 1.0, quarter: 2.0, law: Span { low: 0.9, high: 1.1 } };
    let point = Point {
        area_m2: 0.05,
        capacity_j_per_k: 400.0,
        film,
        emissivity: 0.2,
        emissivity_cure: 0.2,
        element_m2: 0.0,
        cells: 1,
        conduction_w_per_k: [0.0; CELLS_MAX - 1],
        cell_share: [1.0, 0.0, 0.0, 0.0],
    };
    let class = Class {
        slow: point,
        fast: point,
        max: Celsius(190.0),
        starts_at: Celsius(20.0),
        gas_out: true,
    };
    Model {
        ambient: Celsius(20.0),
        sensor: Sensor {
            lag_s: Span { low: 9.0, high: 15.0 },
            wall_view: Span { low: 0.05, high: 0.15 },
            offset_k: 2.2,
            resolution_k: 0.25,
            noise_k: 0.1,
        },
        element: Element {
            power_w: 1500.0,
            power: Span { low: 0.85, high: 1.15 },
            capacity_j_per_k: 345.0,
            convection_w_per_k: 3.0,
            radiation_m2: 0.039,
            radiant_share: Span { low: 0.3, high: 0.5 },
        },
        cabinet: Cabinet {
            liner_m2: 0.94,
            liner_film: film,
            liner_j_per_k: 5000.0,
            insulation_j_per_k: 800.0,
            skin_j_per_k: 4000.0,
            capacity: Span { low: 0.8, high: 1.2 },
            insulation_w_per_k: [6.0, 3.0, 3.0, 6.0],
            losses: Span { low: 0.75, high: 1.25 },
            skin_w_per_k: 10.0,
            doorway_m2: 0.2,
        },
        air: Air {
            capacity_j_per_k: 72.0,
            leak_w_per_k: 0.5,
            stopped_fan: 1.0,
            airflow_proof: false,
            cold_spot_k: 4.0,
            hot_spot_k: 3.0,
        },
        exchange: Span { low: 0.65, high: 1.35 },
        rack: None,
        rack_starts_at: Celsius(20.0),
        classes: [class].into_iter().collect(),
    }
}

fn soak() -> Step {
    Step::Soak(Soak {
        purpose: Purpose::Cure,
        at_least: Celsius(130.0),
        at_most: Celsius(170.0),
        for_s: 600,
        dip: Dip::Pause,
        boost: Kelvins(0.0),
        give_up_after_s: None,
        no_longer_than_s: None,
    })
}

/// A bench with a board on it and a hand at every contact.
struct Hand {
    controller: Controller,
    inputs: Inputs,
    now: u32,
    last: Outputs,
    heard: Vec<Event>,
}

impl Hand {
    fn new(steps: &[Step], is_virtual: bool) -> Self {
        let bake = Bake {
            steps: steps.iter().copied().collect(),
            limits: Limits { air_max: Celsius(220.0), bake_max_s: 36_000, door_open_max_s: 60 },
        };
        let settings = Settings {
            tuning: Tuning { gain_per_k: 0.05, integral_time_s: 100.0, derivative_time_s: 0.0 },
            minimum_on_s: 1.0,
            minimum_off_s: 1.0,
            probe_class: None,
            sensor_budget: Kelvins(10.0),
            fan: false,
            is_virtual,
        };
        let air = Sample { value: Celsius(20.0), age_ticks: 0, frame: 0, transfer: Transfer::Good };
        Self {
            controller: Controller::new(bake, model(), settings),
            inputs: Inputs {
                air,
                air_b: None,
                part_probe: None,
                cold_junction: Some(Celsius(25.0)),
                door: Some(Door::Closed),
                go: false,
                stop: false,
                permit_feedback: None,
                mains_at_heater: None,
                airflow: None,
                independent_ticks: None,
                health: Health::default(),
            },
            now: 0,
            last: Outputs::default(),
            heard: Vec::new(),
        }
    }

    fn ticks(&mut self, count: u32) -> &mut Self {
        for _ in 0..count {
            self.inputs.air.frame += 1;
            self.last = self.controller.tick(Tick(self.now), &self.inputs);
            self.heard.extend_from_slice(self.controller.events());
            self.now += 1;
        }
        self
    }

    fn press_go(&mut self) -> &mut Self {
        self.inputs.go = true;
        self.ticks(22);
        self.inputs.go = false;
        self.ticks(2)
    }

    fn hold_stop(&mut self, ticks: u32) -> &mut Self {
        self.inputs.stop = true;
        self.ticks(ticks);
        self.inputs.stop = false;
        self.ticks(2)
    }

    fn heard(&self, event: Event) -> bool {
        self.heard.contains(&event)
    }
}

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

/// Anything at all, for a long time: no panic, no heat where there must be none, and credit no
/// faster than the clock.
#[test]
fn whatever_comes_in_heat_is_never_where_it_must_not_be() {
    let mut state = 0x1234_5678_9ABC_DEF0_u64;
    let mut random = move || {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        state
    };
    for round in 0..40 {
        let mut hand = Hand::new(&[soak()], round % 2 == 0);
        for _ in 0..3000 {
            let bits = random();
            hand.inputs.air.value = match bits % 11 {
                0 => Celsius(f32::NAN),
                1 => Celsius(f32::from_bits((bits >> 20) as u32)),
                2 => Celsius(-300.0),
                _ => Celsius(20.0 + (bits >> 8 & 0xFF) as f32 * 0.01),
            };
            hand.inputs.air.age_ticks = if bits & 0x300 == 0 { (bits >> 30) as u16 } else { 0 };
            hand.inputs.door = match bits >> 12 & 15 {
                0 => Some(Door::Open),
                1 => None,
                _ => Some(Door::Closed),
            };
            hand.inputs.go = bits >> 40 & 3 != 0;
            hand.inputs.stop = bits >> 44 & 63 == 0;
            hand.inputs.permit_feedback = (bits >> 50 & 1 == 0).then_some(bits >> 51 & 7 == 0);
            if bits >> 55 & 31 == 0 {
                hand.now = hand.now.wrapping_add((bits >> 60) as u32);
            }
            let _ = hand.controller.command(Tick(hand.now), Command::Start);
            hand.ticks(1);
            let heats = hand.last.heat.is_allowed();
            assert!(!(heats && hand.controller.trip().is_some()));
            assert!(!(heats && hand.inputs.door == Some(Door::Open)));
            assert!(!(heats && hand.inputs.stop));
            let credit_s = hand.controller.ledger().map_or(0, Ledger::credit_s);
            assert!(credit_s <= hand.now / 10 + 1);
        }
    }
}
