//! The board's shell on mock pins, in closed loop with the plant, from the buttons alone.
//!
//! Goal: what the shell does of a bake is what the rehearsal did of it, and what its store gives back
//! is what it did. Method: the rehearsal's own world, its people and its faults; the board is seen
//! and touched through pins, registers and bytes only.

mod board_support;

use board_support::{Board, Fetched, bake, shipped};
use truesoak::rehearse::Trace;
use truesoak_board_mock::computer::Heard;
use truesoak_core::event::{Ending, Event};
use truesoak_core::io::{Answer, Question};
use truesoak_core::wire::messages::{Reply, Request};

/// What the store gives back is what was seen from outside, second by second and event by event.
fn agrees(fetched: &Fetched, trace: &Trace) {
    let events: Vec<String> = fetched.events().map(|event| event.to_string()).collect();
    let seen: Vec<&str> = trace
        .rows
        .iter()
        .filter(|row| !row.event.is_empty())
        .map(|row| row.event.as_str())
        .collect();
    assert_eq!(events, seen);
    let recounted = fetched.recount();
    let mut recounted = recounted.iter();
    for row in trace.rows.iter().filter(|row| row.event.is_empty()) {
        let (second, credit_s) = recounted.next().expect("as many seconds");
        assert_eq!((*second, *credit_s), (row.tick / 10, row.credit_s), "at {} s", row.t_s());
    }
    assert!(recounted.next().is_none(), "as many seconds");
}

#[test]
fn a_day_with_a_failed_check_goes_through_by_its_buttons_and_recounts_from_its_store() {
    let setup = shipped("whole-day.toml");
    let mut board = Board::new(&setup);
    let trace = bake(&mut board, &setup, None, 1);
    assert_eq!(trace.ending, Some(Ending::Finished));
    assert_eq!(board.unfed, 0, "every tick fed the watchdog");
    let fetched = board.fetch(1);
    assert_eq!(fetched.gaps, 0);
    assert_eq!(fetched.head.ended, Some((Ending::Finished, false)));
    let answered: Vec<Event> =
        fetched.events().filter(|event| matches!(event, Event::Answered(..))).collect();
    assert!(answered.contains(&Event::Answered(Question::Check, Answer::Fail)));
    assert!(answered.contains(&Event::Answered(Question::Check, Answer::Go)));
    agrees(&fetched, &trace);
    let Heard::Other(Reply::Status(status)) = board.ask(&Request::Status) else { panic!("status") };
    assert_eq!(status.ended, Some((Ending::Finished, false)));
}
