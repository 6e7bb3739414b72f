//! What counts, and what outlives a lost supply: inputs made up tick by tick, no plant.
//!
//! Goal: nothing counts while it is not known what is inside; credit is kept over a lost supply
//! only where leaving the window would keep it; a latched trip is kept whatever happens. The window
//! lies around a cold oven, so that credit flows without heat.

mod hand;

use hand::{Hand, LIMITS, soak};
use truesoak_core::bake::{Check, Dip, Limits, OnFail, Soak, Step};
use truesoak_core::event::{Ending, Event};
use truesoak_core::guard::TripKind;
use truesoak_core::io::{Answer, Door, Question, Transfer};
use truesoak_core::ledger::Ledger;
use truesoak_core::sequence::Mode;
use truesoak_core::tick::{Command, Refusal};
use truesoak_core::units::{Celsius, Tick};

fn changed(change: impl FnOnce(&mut Soak)) -> Step {
    let Step::Soak(mut soak) = soak() else { unreachable!("the bench's step is a soak") };
    change(&mut soak);
    Step::Soak(soak)
}

/// A soak whose window is the room.
fn at_room(dip: Dip) -> Step {
    changed(|soak| {
        (soak.at_least, soak.at_most, soak.dip) = (Celsius(-30.0), Celsius(60.0), dip);
    })
}

fn credit_s(hand: &Hand) -> u32 {
    hand.controller.ledger().map_or(0, Ledger::credit_s)
}

/// A hand at the board restarted from what the last one kept.
fn restarted(before: &Hand, step: Step) -> Hand {
    let mut hand = Hand::new(&[step], false);
    hand.controller.resume(before.controller.checkpoint().expect("there is something to keep"));
    hand
}

fn soaked_for(seconds: u32, dip: Dip) -> Hand {
    let mut hand = Hand::new(&[at_room(dip)], false);
    hand.ticks(2).press_go().ticks(10 * seconds);
    assert!(credit_s(&hand).abs_diff(seconds) <= 3, "{}", credit_s(&hand));
    hand
}

#[test]
fn a_lost_supply_comes_back_off_and_asking_and_go_goes_on_with_the_credit() {
    for (dip, kept) in [(Dip::Pause, true), (Dip::Restart, false)] {
        let before = soaked_for(60, dip);
        let had_s = credit_s(&before);
        let mut hand = restarted(&before, at_room(dip));
        hand.ticks(300);
        assert_eq!(hand.last.asks, Some(Question::PowerReturned));
        assert_eq!(hand.controller.mode(), Mode::Running);
        assert!(!hand.last.heat.is_allowed());
        assert_eq!(credit_s(&hand), if kept { had_s } else { 0 }, "nothing counts until answered");
        hand.press_go().ticks(100);
        assert!(hand.heard(Event::Answered(Question::PowerReturned, Answer::Go)));
        assert!(hand.last.heat.is_allowed());
        assert!(credit_s(&hand) > if kept { had_s } else { 0 });
    }
}

#[test]
fn something_new_inside_after_a_lost_supply_takes_all_credit() {
    let mut hand = restarted(&soaked_for(60, Dip::Pause), at_room(Dip::Pause));
    hand.ticks(50).hold_stop(51);
    assert!(hand.heard(Event::Answered(Question::PowerReturned, Answer::Fail)));
    assert_eq!(hand.controller.mode(), Mode::Running);
    assert!(credit_s(&hand) <= 1);
}

#[test]
fn a_sensor_that_never_tells_after_a_lost_supply_ends_the_bake_by_its_own_name() {
    let before = soaked_for(60, Dip::Pause);
    let mut hand = restarted(&before, at_room(Dip::Pause));
    hand.inputs.air.transfer = Transfer::Silent;
    hand.ticks(30);
    assert_eq!(hand.controller.mode(), Mode::Idle, "it may still answer");
    hand.ticks(40);
    assert_eq!(hand.controller.mode(), Mode::Done(Ending::Tripped(TripKind::ConverterSilent)));
    let kept = hand.controller.checkpoint().expect("the trip");
    assert_eq!(kept.credit_s, credit_s(&before), "what was counted is not lost");
}

/// Found by `tests/fuzz`: a start in the second before the lost bake went on began another one first.
#[test]
fn nothing_starts_another_bake_before_the_lost_one_goes_on() {
    let before = soaked_for(60, Dip::Pause);
    for silent in 0..40 {
        let mut hand = restarted(&before, at_room(Dip::Pause));
        hand.inputs.air.transfer = Transfer::Silent;
        hand.ticks(2);
        hand.inputs.go = true;
        hand.ticks(silent);
        hand.inputs.air.transfer = Transfer::Good;
        let asked = hand.controller.command(Tick(hand.now), Command::Start);
        assert_eq!(asked, Err(Refusal::BakeRuns), "{silent} ticks");
        hand.ticks(30);
        hand.inputs.go = false;
        hand.ticks(30);
        assert!(!hand.heard(Event::Started), "{silent} ticks: {:?}", hand.heard);
        assert!(hand.heard(Event::Asked(Question::PowerReturned)), "{silent} ticks");
    }
}

#[test]
fn stop_ends_a_bake_that_came_back_from_a_lost_supply() {
    let mut hand = restarted(&soaked_for(10, Dip::Pause), at_room(Dip::Pause));
    hand.ticks(50).hold_stop(5);
    assert_eq!(hand.controller.mode(), Mode::Done(Ending::Stopped));
}

#[test]
fn a_latched_trip_outlives_any_number_of_lost_supplies() {
    let mut in_bake = soaked_for(10, Dip::Pause);
    in_bake.inputs.cold_junction = Some(Celsius(80.0));
    in_bake.ticks(60);
    let mut at_rest = Hand::new(&[soak()], false);
    at_rest.inputs.cold_junction = Some(Celsius(80.0));
    at_rest.ticks(60);
    for tripped in [in_bake, at_rest] {
        let mut hand = restarted(&tripped, soak());
        for _ in 0..3 {
            hand.ticks(30);
            assert_eq!(hand.tripped(), Some(TripKind::EnclosureHot));
            assert_eq!(hand.last.asks, Some(Question::Tripped));
            hand = restarted(&hand, soak());
        }
        hand.ticks(30).press_go();
        assert_eq!(hand.tripped(), None);
        assert_eq!(hand.controller.mode(), Mode::Idle);
        assert_eq!(hand.controller.checkpoint(), None);
    }
}

/// Opened for longer than ninety seconds in the soak, and shut again.
fn opened_long() -> Hand {
    let limits = Limits { door_open_max_s: 600, ..LIMITS };
    let mut hand = Hand::with(&[at_room(Dip::Pause)], limits, false);
    hand.ticks(2).press_go().ticks(300);
    hand.inputs.door = Some(Door::Open);
    hand.ticks(950);
    hand.inputs.door = Some(Door::Closed);
    hand.ticks(5);
    hand
}

#[test]
fn a_long_opening_asks_and_nothing_counts_until_it_is_answered() {
    let mut hand = opened_long();
    assert_eq!(hand.last.asks, Some(Question::AnythingNew));
    // The second before the question is through when the next one ends.
    let had_s = credit_s(hand.ticks(10));
    hand.ticks(600);
    assert_eq!(credit_s(&hand), had_s);
    assert!(hand.last.heat.is_allowed(), "heat goes on");
    hand.press_go().ticks(50);
    assert!((had_s + 4..=had_s + 6).contains(&credit_s(&hand)));
}

#[test]
fn something_new_behind_the_door_takes_all_credit_and_the_cold_bounds_go_on() {
    let mut hand = opened_long();
    hand.press_go();
    let warm = hand.controller.ledger().and_then(Ledger::coldest).unwrap();
    let mut hand = opened_long();
    hand.hold_stop(51);
    let cold = hand.controller.ledger().and_then(Ledger::coldest).unwrap();
    assert_eq!(hand.last.asks, None);
    assert_eq!(hand.controller.mode(), Mode::Running);
    assert!(credit_s(&hand) <= 1);
    assert!(cold < warm, "{cold:?} is not below {warm:?}");
}

#[test]
fn a_short_opening_asks_nothing() {
    let limits = Limits { door_open_max_s: 600, ..LIMITS };
    let mut hand = Hand::with(&[at_room(Dip::Pause)], limits, false);
    hand.ticks(2).press_go().ticks(30);
    hand.inputs.door = Some(Door::Open);
    hand.ticks(890);
    hand.inputs.door = Some(Door::Closed);
    hand.ticks(10);
    assert_eq!(hand.last.asks, None);
}

#[test]
fn a_soak_that_gives_up_ends_short_and_the_bake_goes_on() {
    let mut hand =
        Hand::new(&[changed(|soak| soak.give_up_after_s = Some(30)), at_room(Dip::Pause)], false);
    hand.ticks(2).press_go().ticks(290);
    assert!(!hand.controller.is_short());
    hand.ticks(20);
    assert!(hand.heard(Event::GaveUp(0)) && hand.heard(Event::StepBegan(1)));
    assert!(hand.controller.is_short());
    assert_eq!(hand.controller.mode(), Mode::Running);
}

#[test]
fn a_soak_gives_up_no_later_for_any_number_of_lost_supplies() {
    let step = changed(|soak| soak.give_up_after_s = Some(30));
    let mut hand = Hand::new(&[step], false);
    hand.ticks(2).press_go().ticks(120);
    for _ in 0..2 {
        hand = restarted(&hand, step);
        hand.ticks(30).press_go().ticks(60);
        assert!(!hand.heard(Event::GaveUp(0)));
    }
    hand.ticks(60);
    assert!(hand.heard(Event::GaveUp(0)) && hand.controller.is_short());
}

#[test]
fn heat_allowed_for_the_whole_of_bake_max_ends_the_bake_unfinished() {
    let limits = Limits { bake_max_s: 20, ..LIMITS };
    let mut hand = Hand::with(&[soak()], limits, false);
    hand.ticks(2).press_go().ticks(190);
    assert_eq!(hand.controller.mode(), Mode::Running);
    hand.ticks(20);
    assert_eq!(hand.controller.mode(), Mode::Done(Ending::TooLong));
    assert!(!hand.last.heat.is_allowed());
}

#[test]
fn a_request_is_forgotten_after_a_minute_and_go_then_says_what_go_says() {
    let check = Step::Check(Check { on_fail: OnFail::Stop, tries: 1, parts_stay: false });
    for (waited, ending) in [(550, Ending::CheckFailed), (610, Ending::Finished)] {
        let mut hand = Hand::new(&[check], false);
        hand.ticks(2).press_go();
        hand.controller.command(Tick(hand.now), Command::Answer(Answer::Fail)).unwrap();
        hand.ticks(waited).press_go();
        assert_eq!(hand.controller.mode(), Mode::Done(ending));
    }
}

#[test]
fn a_probe_that_is_ignored_takes_the_credit_with_it_that_it_may_have_made() {
    let before = soaked_for(60, Dip::Pause);
    let mut ledger = before.controller.ledger().expect("a bake runs").clone();
    let (model, bake) = (before.controller.model(), before.controller.bake());
    ledger.note(model, bake, Event::DoorOpened);
    assert!(ledger.credit_s() > 0 && ledger.class_credit_s(0) > 0);
    ledger.note(model, bake, Event::ProbeIgnored);
    assert_eq!((ledger.credit_s(), ledger.class_credit_s(0)), (0, 0));
}

#[test]
fn a_checkpoint_is_due_with_every_step_that_begins_and_every_ten_seconds() {
    let mut hand = Hand::new(&[at_room(Dip::Pause), at_room(Dip::Pause)], false);
    hand.ticks(2).press_go();
    let mut due = Vec::new();
    for _ in 0..600 {
        hand.ticks(1);
        if hand.controller.checkpoint_is_due() {
            due.push(hand.now);
        }
    }
    let gaps = due.iter().zip(due.iter().skip(1)).map(|(one, next)| next - one);
    assert!(gaps.clone().all(|gap| gap <= 100), "{due:?}");
    assert!(due.len() <= 7, "{due:?}");
    let from = hand.controller.checkpoint().expect("a bake runs").step;
    let mut began = None;
    for _ in 0..100_000 {
        hand.ticks(1);
        let step = hand.controller.checkpoint().map(|kept| kept.step);
        if step != Some(from) {
            began = Some(hand.controller.checkpoint_is_due());
            break;
        }
    }
    assert_eq!(began, Some(true), "the next step has begun, and is kept");
}
