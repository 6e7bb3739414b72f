//! Bakes on a virtual board, from sending to the log that was fetched.
//!
//! Goal: a bake on the desk is its rehearsal, second by second, and what the board kept of it gives
//! the same credit and the same bounds. Method: the board is sent a shipped bake, started, and
//! followed to its end over its own frames; its log is held against the rehearsal's.

mod device_support;

use device_support::{FAST, board, document, fetch, finished, open, send, start_at_once, until};
use truesoak::files::Setup;
use truesoak::files::bake::{FaultScript, Moment};
use truesoak::link::{Head, LinkError, Recorder, Session, StoredReader, Taken};
use truesoak::log::{Row, Source};
use truesoak::virtual_board::Way;
use truesoak::watch::{Follower, News};
use truesoak_core::command;
use truesoak_core::event::Ending;
use truesoak_core::wire::messages::Request;
use truesoak_core::wire::refusal::Refusal;
use truesoak_tests::{quick, rehearsed, setup};

/// Bakes it on the board to its end; the head and the rows of its log.
fn baked(setup: &Setup, way: Way) -> (Head, Vec<Row>, Vec<u8>) {
    let board = board(setup, way, FAST);
    let mut session = open(&board);
    send(&mut session, &document(setup, "chain guards"));
    start_at_once(&mut session);
    let bake = finished(&mut session);
    let bytes = fetch(&mut session, &bake);
    let (head, rows) = read(&bytes);
    (head, rows, bytes)
}

fn read(bytes: &[u8]) -> (Head, Vec<Row>) {
    let mut reader = StoredReader::default();
    reader.take(bytes);
    let head = reader.head().expect("a head").expect("all of it");
    let mut recorder = Recorder::new(&head);
    let mut rows = Vec::new();
    while let Some(entry) = reader.entry() {
        recorder.entry(entry, |row| rows.push(row.clone()));
    }
    assert_eq!(recorder.flaws(), [], "nothing is missing");
    assert!(recorder.has_ended());
    (head, rows)
}

/// The setpoint is kept to 1/16 K; everything else to the last bit.
fn same(kept: &Row, rehearsed: &Row) -> bool {
    let near = match (kept.setpoint_c, rehearsed.setpoint_c) {
        (Some(kept), Some(meant)) => (kept - meant).abs() <= 1.0 / 32.0 + 1e-5,
        (kept, meant) => kept == meant,
    };
    near && *kept == Row { setpoint_c: kept.setpoint_c, ..rehearsed.clone() }
}

#[track_caller]
fn is_its_rehearsal(kept: &[Row], rehearsed: &[Row]) {
    for (kept, rehearsed) in kept.iter().zip(rehearsed) {
        assert!(same(kept, rehearsed), "kept     {kept:?}\nrehearsed {rehearsed:?}");
    }
    assert_eq!(kept.len(), rehearsed.len());
}

#[test]
fn a_bake_on_the_desk_is_its_rehearsal_over_tcp_and_a_pseudo_terminal() {
    let setup = setup("gas-out-chain-guards-300f.toml", &[]);
    let rehearsed = rehearsed(&quick(&setup)).trace.rows;
    let ways: &[Way] = if cfg!(unix) { &[Way::Tcp, Way::PseudoTerminal] } else { &[Way::Tcp] };
    for way in ways {
        let (head, kept, _) = baked(&setup, *way);
        is_its_rehearsal(&kept, &rehearsed);
        assert_eq!(head.told.ended, Some((Ending::Finished, false)));
        assert!(kept.iter().any(|row| row.credit_s == 3_600));
        let header = head.header(Source::Virtual, "7669727400000000");
        assert_eq!(header.job.as_deref(), Some("chain guards"));
        assert_eq!(header.note.as_deref(), Some("a remark"));
        assert!(header.started_at.is_some_and(|at| at.ends_with('Z')));
    }
}

#[test]
fn a_trip_is_kept_with_the_last_minute_before_it() {
    let setup = setup("scripted-fault.toml", &[]);
    let (head, kept, bytes) = baked(&setup, Way::Tcp);
    is_its_rehearsal(&kept, &rehearsed(&quick(&setup)).trace.rows);
    assert!(matches!(head.told.ended, Some((Ending::Tripped(_), _))), "{:?}", head.told.ended);
    let mut reader = StoredReader::default();
    reader.take(&bytes);
    let head = reader.head().expect("a head").expect("all of it");
    let mut recorder = Recorder::new(&head);
    while let Some(entry) = reader.entry() {
        recorder.entry(entry, |_| {});
    }
    assert_eq!(recorder.black_box().len(), 600);
    assert!(recorder.black_box().iter().any(|tick| tick.tripped));
}

#[test]
fn a_latched_trip_takes_no_start_and_no_bake_until_it_is_acknowledged() {
    let setup = setup("scripted-fault.toml", &[]);
    let board = board(&setup, Way::Tcp, FAST);
    let mut session = open(&board);
    let document = document(&setup, "");
    send(&mut session, &document);
    start_at_once(&mut session);
    let _ = finished(&mut session);
    let latched = Err(LinkError::Refused(Refusal::Controller(command::Refusal::TripLatched)));
    let start = Request::Start { at_the_oven: true };
    assert_eq!(session.once(|client, _| client.hand_in(&start)), latched);
    let sent = session.once(|client, _| client.upload(&document, |_| {}));
    assert_eq!(sent.map(|()| Taken::Done), latched);
    until(&mut session, |client| {
        client.hand_in(&Request::Acknowledge { at_the_oven: true })?;
        std::thread::sleep(std::time::Duration::from_secs(3));
        Ok(client.status()?.trip.is_none().then_some(()))
    });
    assert_eq!(session.once(|client, _| client.upload(&document, |_| {})), Ok(()));
}

#[test]
fn a_lost_supply_silences_the_board_and_is_no_hole_in_the_log() {
    let mut setup = setup("gas-out-chain-guards-300f.toml", &[]);
    setup.bake.faults = vec![FaultScript {
        at: Moment::SinceStep(2, 300.0),
        kind: "supply-lost".to_owned(),
        for_s: Some(60.0),
        by_k: None,
    }];
    let (_, kept, _) = baked(&setup, Way::Tcp);
    is_its_rehearsal(&kept, &rehearsed(&quick(&setup)).trace.rows);
    assert!(kept.iter().any(|row| row.event.starts_with("supply returned")));
}

/// Follows the board to the end of its bake.
fn followed(session: Session, mut between: impl FnMut(usize)) -> (Vec<Row>, News) {
    let mut follower = Follower::new(session, None);
    let mut rows = Vec::new();
    for look in 0.. {
        let news = follower.look().expect("the board");
        rows.extend(news.rows.clone());
        if news.ended {
            assert_eq!(follower.flaws(), []);
            return (rows, news);
        }
        between(look);
    }
    unreachable!("looks are endless")
}

#[test]
fn who_follows_a_bake_has_every_row_of_it_however_seldom_the_board_is_looked_at() {
    let setup = setup("gas-out-chain-guards-300f.toml", &[]);
    let rehearsed = rehearsed(&quick(&setup)).trace.rows;
    let board = board(&setup, Way::Tcp, FAST);
    let mut session = open(&board);
    send(&mut session, &document(&setup, ""));
    start_at_once(&mut session);
    let (rows, news) = followed(session, |look| {
        std::thread::sleep(std::time::Duration::from_millis(20 * (look as u64 % 7)));
    });
    is_its_rehearsal(&rows, &rehearsed);
    assert_eq!(news.status.and_then(|status| status.ended), Some((Ending::Finished, false)));
}

#[test]
fn a_second_bake_is_the_same_as_the_first_and_both_are_kept_until_they_are_erased() {
    let setup = setup("give-up.toml", &[]);
    let board = board(&setup, Way::Tcp, FAST);
    let mut session = open(&board);
    send(&mut session, &document(&setup, ""));
    for count in 1..=2 {
        start_at_once(&mut session);
        until(&mut session, |client| {
            let ended = client.bakes()?.iter().filter(|bake| bake.finished).count();
            Ok((ended == count).then_some(()))
        });
    }
    let bakes = session.once(|client, _| client.bakes()).expect("the list");
    let logs: Vec<Vec<Row>> = bakes.iter().map(|bake| read(&fetch(&mut session, bake)).1).collect();
    is_its_rehearsal(&logs[0], &rehearsed(&quick(&setup)).trace.rows);
    is_its_rehearsal(&logs[1], &logs[0]);
    let mut ask = |request| session.once(|client, _| client.done(&request));
    assert!(ask(Request::Erase { bake: Some(1), not_fetched: false }).is_err());
    assert_eq!(ask(Request::MarkFetched { bake: 1 }), Ok(()));
    assert_eq!(ask(Request::Erase { bake: None, not_fetched: false }), Ok(()));
    let left = session.once(|client, _| client.bakes()).expect("the list");
    assert_eq!(left.iter().map(|bake| bake.number).collect::<Vec<_>>(), [2]);
}
