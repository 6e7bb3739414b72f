//! What a board takes from a computer in each of its states, and what it shows of itself.

mod hand;

use hand::{Hand, soak};
use truesoak_core::bake::{Check, OnFail, Step};
use truesoak_core::event::{Ending, Event};
use truesoak_core::guard::TripKind;
use truesoak_core::io::{Answer, Question, Transfer};
use truesoak_core::record::Phase;
use truesoak_core::sensor::Thermocouple;
use truesoak_core::tick::{Command, Refusal as Refused};
use truesoak_core::units::{Reading, Tick};
use truesoak_core::wire::admit::{Standing, admit, hand_on};
use truesoak_core::wire::messages::{Piece, Reply, Request, Said, Status};
use truesoak_core::wire::refusal::Refusal;
use truesoak_core::wire::settings::{BoardSettings, Fitted, Fitting, SettingsFault};
use truesoak_core::wire::upload::Outline;

const AT_REST: Standing = Standing { baking: false, commissioning: false, is_virtual: false };
const BAKING: Standing = Standing { baking: true, ..AT_REST };

fn settings() -> BoardSettings {
    let air = Fitted { fitting: Fitting::Max31855(Thermocouple::K), correction_steps: 0 };
    BoardSettings {
        air,
        air_b: None,
        part_probe: None,
        door_switch: true,
        permit_feedback: true,
        mains_at_heater: false,
        airflow: false,
        independent_clock: true,
        mains_60_hz: false,
        air_max_c: 230,
    }
}

/// One of every request.
fn requests() -> [Request<'static>; 19] {
    [
        Request::Hello { unix_s: None },
        Request::Status,
        Request::Watch(true),
        Request::Begin(Outline::default()),
        Request::Piece(Piece { offset: 0, bytes: b"" }),
        Request::Commit,
        Request::Document,
        Request::ReadBack { offset: 0 },
        Request::Settings,
        Request::SetSettings(settings()),
        Request::Start { at_the_oven: false },
        Request::Answer { said: Said::Go, at_the_oven: false },
        Request::Stop,
        Request::Acknowledge { at_the_oven: false },
        Request::Bakes { after: 0 },
        Request::Fetch { bake: 1, offset: 0 },
        Request::MarkFetched { bake: 1 },
        Request::Erase { bake: None, not_fetched: true },
        Request::Bath { sensor: 0, is: Reading(0) },
    ]
}

#[test]
fn while_a_bake_runs_documents_erasures_and_settings_are_refused_and_nothing_else() {
    for request in requests() {
        let refused = admit(&request, Standing { commissioning: true, ..BAKING });
        let touches = matches!(
            request,
            Request::Begin(_)
                | Request::Piece(_)
                | Request::Commit
                | Request::Erase { .. }
                | Request::SetSettings(_)
                | Request::Bath { .. }
        );
        let wanted = if touches { Err(Refusal::Controller(Refused::BakeRuns)) } else { Ok(()) };
        assert_eq!(refused, wanted, "{request:?}");
        let at_rest = admit(&request, Standing { commissioning: true, ..AT_REST });
        assert_eq!(at_rest, Ok(()), "{request:?}");
    }
}

#[test]
fn settings_change_only_while_commissioning_and_only_to_what_fits_a_board() {
    let commissioning = Standing { commissioning: true, ..AT_REST };
    let set = |change: fn(&mut BoardSettings), standing| {
        let mut changed = settings();
        change(&mut changed);
        admit(&Request::SetSettings(changed), standing)
    };
    assert_eq!(set(|_| (), AT_REST), Err(Refusal::NotCommissioning));
    assert_eq!(set(|_| (), commissioning), Ok(()));
    let air_max = Err(Refusal::Settings(SettingsFault::AirMax));
    assert_eq!(set(|of| of.air_max_c = 601, commissioning), air_max);
    let corrected = Err(Refusal::Settings(SettingsFault::Correction));
    assert_eq!(set(|of| of.air.correction_steps = i16::MIN, commissioning), corrected);
    let fitting = Err(Refusal::Settings(SettingsFault::Fitting));
    let five_wires = |of: &mut BoardSettings| {
        let sensor = truesoak_core::sensor::Platinum::Pt100;
        let fitting = Fitting::Max31865 { sensor, wires: 5, reference_ohms: 430 };
        of.air_b = Some(Fitted { fitting, correction_steps: 0 });
    };
    assert_eq!(set(five_wires, commissioning), fitting);
}

#[test]
fn a_computer_stands_for_go_on_a_virtual_board_only() {
    for request in [
        Request::Start { at_the_oven: true },
        Request::Answer { said: Said::Pass, at_the_oven: true },
        Request::Acknowledge { at_the_oven: true },
    ] {
        assert_eq!(admit(&request, AT_REST), Err(Refusal::NotVirtual));
        assert_eq!(admit(&request, Standing { is_virtual: true, ..AT_REST }), Ok(()));
    }
}

/// A check and what follows, on a board with an oven.
fn bench() -> Hand {
    let check = Check { on_fail: OnFail::Stop, tries: 1, parts_stay: true };
    let mut hand = Hand::new(&[Step::Check(check), soak()], false);
    hand.ticks(10);
    hand
}

fn ask(hand: &mut Hand, request: &Request<'_>) -> Option<Reply<'static>> {
    hand_on(request, &mut hand.controller, Tick(hand.now), AT_REST)
}

fn status(hand: &Hand) -> Status {
    Status::of(&hand.controller, Tick(hand.now), hand.controller.record(), Some(false), 2)
}

#[test]
fn a_start_waits_for_go_is_shown_and_lapses_after_a_minute() {
    let mut hand = bench();
    let start = Request::Start { at_the_oven: false };
    assert_eq!(ask(&mut hand, &start), Some(Reply::AwaitsGo(60)));
    assert_eq!(status(&hand).awaits_go, Some((Command::Start, 60)));
    hand.ticks(599);
    assert_eq!(status(&hand).awaits_go, Some((Command::Start, 1)));
    hand.ticks(2);
    assert_eq!(status(&hand).awaits_go, None);
    assert!(!hand.heard(Event::Started), "a computer alone has started a bake");
    let _ = ask(&mut hand, &start);
    hand.press_go();
    assert!(hand.heard(Event::Started));
}

#[test]
fn an_answer_from_the_computer_counts_only_for_the_question_it_was_given_to() {
    let mut hand = bench();
    hand.press_go();
    assert_eq!(status(&hand).asks, Some(Question::Check));
    let fail = Request::Answer { said: Said::Fail, at_the_oven: false };
    assert_eq!(ask(&mut hand, &fail), Some(Reply::AwaitsGo(60)));
    hand.press_go();
    assert!(hand.heard(Event::Answered(Question::Check, Answer::Fail)));
    assert_eq!(status(&hand).ended, Some((Ending::CheckFailed, false)));
    assert_eq!(ask(&mut hand, &fail), Some(Reply::Refused(Refused::NothingAsked.into())));
}

#[test]
fn a_stop_needs_nobody_and_what_asks_nothing_of_the_controller_is_not_handed_on() {
    let mut hand = bench();
    assert_eq!(ask(&mut hand, &Request::Stop), Some(Reply::Refused(Refused::NoBake.into())));
    hand.press_go();
    assert_eq!(ask(&mut hand, &Request::Stop), Some(Reply::Done));
    hand.ticks(1);
    assert_eq!(status(&hand).ended, Some((Ending::Stopped, false)));
    for request in requests() {
        let handed_on = hand_on(&request, &mut hand.controller, Tick(hand.now), AT_REST);
        assert_eq!(handed_on.is_some(), request.command().is_some(), "{request:?}");
    }
}

#[test]
fn a_status_is_what_the_controller_does() {
    let mut hand = bench();
    let idle = status(&hand);
    assert_eq!((idle.phase, idle.step, idle.ended, idle.rejected), (Phase::Idle, 0, None, 2));
    hand.press_go().press_go().ticks(200);
    while hand.controller.record().is_none() {
        hand.ticks(1);
    }
    let soaking = status(&hand);
    assert_eq!((soaking.phase, soaking.step, soaking.for_s), (Phase::Approach, 2, 600));
    assert_eq!(soaking.reading, hand.controller.record().unwrap().reading);
    assert!(soaking.permit && soaking.setpoint.is_some() && soaking.coldest < soaking.hottest);
    hand.inputs.air.transfer = Transfer::Open;
    hand.ticks(10);
    let tripped = status(&hand);
    assert_eq!((tripped.phase, tripped.trip), (Phase::Tripped, Some(TripKind::ThermocoupleOpen)));
    assert_eq!((tripped.permit, tripped.asks), (false, Some(Question::Tripped)));
}
