//! The board's shell on mock pins, in closed loop with the plant, from the buttons alone.
//!
//! Goal: what the shell does of a bake is what the rehearsal did of it, and what its store gives back
//! is what it did. Method: the rehearsal's own world, its people and its faults; the board is seen
//! and touched through pins, registers and bytes only.

mod board_support;

use board_support::{Board, bake};
use rand_core::{RngCore, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;
use truesoak::files::bake::{FaultScript, Moment};
use truesoak_board_mock::computer::Heard;
use truesoak_core::event::{Ending, Event};
use truesoak_core::io::{Answer, Question};
use truesoak_core::wire::messages::{Reply, Request};
use truesoak_tests::setup;

#[test]
fn a_day_with_a_failed_check_goes_through_by_its_buttons_and_recounts_from_its_store() {
    let setup = setup("whole-day.toml", &[]);
    let mut board = Board::new(&setup);
    let trace = bake(&mut board, &setup, None, 1);
    assert_eq!(trace.chronicle.ending, Some(Ending::Finished));
    assert_eq!(board.unfed, 0, "every tick fed the watchdog");
    let fetched = board.fetch(1);
    assert_eq!(fetched.head.ended, Some((Ending::Finished, false)));
    let answered: Vec<Event> =
        fetched.events().filter(|event| matches!(event, Event::Answered(..))).collect();
    assert!(answered.contains(&Event::Answered(Question::Check, Answer::Fail)));
    assert!(answered.contains(&Event::Answered(Question::Check, Answer::Go)));
    fetched.agrees(&trace).expect("the same");
    let Heard::Other(Reply::Status(status)) = board.ask(&Request::Status) else { panic!("status") };
    assert_eq!(status.ended, Some((Ending::Finished, false)));
}

/// A bake of three hours whose supply is lost at a tick, in an operation of the flash.
fn cut(at: u32, operation: u64) {
    let mut setup = setup("gas-out-chain-guards-300f.toml", &[]);
    // Its cooling takes four hours more and shows nothing new.
    setup.bake.bake.steps.pop();
    // The supply is gone from the tick after the one it went in.
    let lost = FaultScript {
        at: Moment::SinceStart(f64::from(at + 1) / 10.0),
        kind: "supply-lost".to_owned(),
        for_s: Some(60.0),
        by_k: None,
    };
    setup.bake.faults = vec![lost];
    let mut board = Board::new(&setup);
    board.cut = Some((at, operation));
    let trace = bake(&mut board, &setup, None, 1);
    let told = format!("cut at tick {at}, operation {operation}");
    assert_eq!(trace.chronicle.ending, Some(Ending::Finished), "{told}");
    (0..100).for_each(|_| board.idle());
    let fetched = board.fetch(1);
    assert_eq!(fetched.head.ended, Some((Ending::Finished, false)), "{told}");
    assert!(fetched.gaps <= 4, "{told}: {} gaps", fetched.gaps);
    // From the supply's return on the store has every second, and they recount.
    let returned = trace.rows.iter().position(|row| row.event.starts_with("supply returned"));
    let seen = trace.rows[returned.expect("it returned")..].iter();
    let seen: Vec<_> = seen.filter(|row| row.event.is_empty()).collect();
    let recounted = fetched.recount().expect("rows");
    let recounted = &recounted[recounted.len() - seen.len()..];
    for (again, row) in recounted.iter().zip(seen) {
        assert_eq!(again.credit_s, row.credit_s, "{told}, second {} of the bake", again.second);
    }
}

#[test]
fn a_supply_that_goes_at_any_tick_and_in_any_write_brings_the_bake_back_to_its_end() {
    let mut dice = Xoshiro256PlusPlus::seed_from_u64(50);
    for _ in 0..50 {
        // Past the first second, before the end of the soak.
        let at = 15 + dice.next_u32() % 70_000;
        cut(at, u64::from(dice.next_u32() % 4));
    }
}

#[test]
fn noise_on_the_link_slips_no_tick_of_a_bake_and_changes_nothing_of_it() {
    let setup = setup("gas-out-chain-guards-300f.toml", &[]);
    let mut calm = Board::new(&setup);
    let quiet = bake(&mut calm, &setup, None, 1);
    let mut loud = Board::new(&setup);
    loud.flood = (0..2048_u32).map(|index| (index * 167 % 251) as u8).collect();
    let noisy = bake(&mut loud, &setup, None, 1);
    assert_eq!(loud.unfed, 0);
    assert_eq!(noisy.rows, quiet.rows);
}

#[test]
fn commissioning_runs_the_step_test_and_then_the_hold_in_an_empty_oven() {
    let setup = setup("gas-out-chain-guards-300f.toml", &[]);
    let mut board = Board::new(&setup);
    board.commission();
    let step = bake(&mut board, &setup, Some(3), 1);
    assert_eq!(step.chronicle.ending, Some(Ending::Finished));
    let hottest_c = step.air_c.iter().copied().fold(0.0, f64::max);
    assert!((57.0..70.0).contains(&hottest_c), "{hottest_c}");
    // As hard as it can until it is nearly there.
    let full = step.rows.iter().take_while(|row| row.event.is_empty() || row.tick == 0);
    let full = full.filter(|row| row.event.is_empty() && row.on_ticks == 10).count();
    assert!(full >= 30, "{full} s");
    // Its end is shown for a minute; then the hold is next.
    (0..1000).for_each(|_| board.idle());
    board.take_what_is_loaded();
    let hold = bake(&mut board, &setup, Some(3), 1);
    assert_eq!(hold.chronicle.ending, Some(Ending::Finished));
    let limit_c = f64::from(setup.bake.bake.limits.air_max.0);
    let seconds = hold.rows.iter().filter(|row| row.event.is_empty());
    let held = seconds.filter(|row| {
        row.air.is_some_and(|air| {
            let air_c = f64::from(air.to_celsius().0);
            (limit_c - 23.0..=limit_c - 18.0).contains(&air_c)
        })
    });
    assert!(held.count() > 115 * 60, "nearly two hours of it");
    let fetched = board.fetch(2);
    assert_eq!(fetched.head.built_in, Some(truesoak_core::wire::built_in::BuiltIn::Hold));
    fetched.agrees(&hold).expect("the same");
}
