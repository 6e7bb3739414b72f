//! What stands between a computer and a board: rules, lost links, damaged frames, strangers.
//!
//! Goal: nothing heats without GO; nothing that goes wrong on the way changes what arrives or ends
//! in a panic or a wait without end. Method: a virtual board behind ways that cut, damage and delay
//! what passes, and strangers that answer with other frames.

mod device_support;

use device_support::{
    Between, FAST, address, board, document, fetch, finished, open, send, start_at_once, until,
};
use rand_core::{RngCore as _, SeedableRng as _};
use rand_xoshiro::Xoshiro256PlusPlus;
use std::io::{BufReader, Read as _, Write as _};
use std::net::{Ipv4Addr, TcpListener, TcpStream};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;
use truesoak::link::{
    Address, Document, Flaw, LinkError, NoDocument, OpenFault, Patience, Recorder, Session,
    StoredReader, Taken, differences, fitted_as,
};
use truesoak::rehearse::Bench;
use truesoak::virtual_board::{Button, Options, VirtualBoard, Way};
use truesoak::watch::{FollowError, Follower};
use truesoak_core::command::{self, Command};
use truesoak_core::sensor::{Kind, Thermocouple};
use truesoak_core::wire::frame::{Decoder, Frame, parse};
use truesoak_core::wire::messages::{Capabilities, Hello, Reply, Request, Said};
use truesoak_core::wire::refusal::Refusal;
use truesoak_core::wire::settings::{BoardSettings, Fitted, Fitting};
use truesoak_core::wire::stored::ENTRY_BYTES;
use truesoak_tests::setup;

const GUARDS: &str = "gas-out-chain-guards-300f.toml";

fn command_refused(why: command::Refusal) -> LinkError {
    LinkError::Refused(Refusal::Controller(why))
}

#[test]
fn a_start_waits_for_go_at_the_oven_and_nothing_heats_before() {
    let setup = setup(GUARDS, &[]);
    let board = board(&setup, Way::Tcp, 1.0);
    let mut session = open(&board);
    send(&mut session, &document(&setup, ""));
    let start = Request::Start { at_the_oven: false };
    assert_eq!(session.once(|client, _| client.hand_in(&start)), Ok(Taken::AwaitsGo(60)));
    std::thread::sleep(Duration::from_millis(700));
    let status = session.once(|client, _| client.status()).expect("a status");
    assert!(matches!(status.awaits_go, Some((Command::Start, 30..=60))), "{:?}", status.awaits_go);
    assert_eq!((status.step, status.permit, status.on_ticks), (0, false, 0));
    board.press(Button::Go);
    let status = until(&mut session, |client| {
        let status = client.status()?;
        Ok((status.step > 0).then_some(status))
    });
    assert_eq!((status.step, status.awaits_go), (1, None));
}

#[test]
fn a_running_bake_refuses_what_would_touch_it_and_is_ended_by_stop_without_go() {
    let setup = setup(GUARDS, &[]);
    let board = board(&setup, Way::Tcp, 1.0);
    let mut session = open(&board);
    let document = document(&setup, "");
    send(&mut session, &document);
    start_at_once(&mut session);
    until(&mut session, |client| Ok((client.status()?.step > 0).then_some(())));
    let settings =
        session.once(|client, _| client.settings()).expect("an answer").expect("settings");
    for request in [
        Request::Begin(document.outline()),
        Request::Commit,
        Request::Erase { bake: None, not_fetched: true },
        Request::SetSettings(settings),
    ] {
        let done = session.once(|client, _| client.done(&request));
        assert_eq!(done, Err(command_refused(command::Refusal::BakeRuns)), "{request:?}");
    }
    let answer = Request::Answer { said: Said::Go, at_the_oven: true };
    let refused = session.once(|client, _| client.hand_in(&answer));
    assert_eq!(refused, Err(command_refused(command::Refusal::NothingAsked)));
    assert_eq!(session.once(|client, _| client.hand_in(&Request::Stop)), Ok(Taken::Done));
    let status = until(&mut session, |client| {
        let status = client.status()?;
        Ok((status.step == 0).then_some(status))
    });
    assert!(!status.permit);
    let bake = finished(&mut session);
    let mut reader = StoredReader::default();
    reader.take(&fetch(&mut session, &bake));
    let head = reader.head().expect("a head").expect("all of it");
    assert_eq!(head.document, document);
}

#[test]
fn a_board_without_a_bake_starts_nothing_and_says_why() {
    let board = board(&setup(GUARDS, &[]), Way::Tcp, FAST);
    let mut session = open(&board);
    let start = Request::Start { at_the_oven: true };
    let refused = session.once(|client, _| client.hand_in(&start)).expect_err("no bake");
    assert!(refused.to_string().contains("the board has no bake: send one"), "{refused}");
    assert_eq!(session.once(|client, _| client.outline()), Ok(None));
    assert_eq!(session.once(|client, _| client.bakes()), Ok(Vec::new()));
}

#[test]
fn a_connection_that_breaks_every_few_kilobytes_brings_the_same_bytes() {
    let setup = setup("give-up.toml", &[]);
    let board = board(&setup, Way::Tcp, FAST);
    let mut direct = open(&board);
    let document = document(&setup, "");
    let (passed, broken) = (AtomicUsize::new(0), std::sync::Arc::new(AtomicUsize::new(0)));
    let breaks = std::sync::Arc::clone(&broken);
    let between = Between::new(&board, move |bytes: &mut Vec<u8>| {
        let before = passed.fetch_add(bytes.len(), Ordering::Relaxed);
        let breaks_now = before / 20_000 != (before + bytes.len()) / 20_000;
        if breaks_now {
            // What is cut off in the middle of a frame never comes.
            bytes.truncate(bytes.len() / 2);
            breaks.fetch_add(1, Ordering::Relaxed);
        }
        !breaks_now
    });
    let mut session = Session::open(&between.address).expect("the board");
    send(&mut session, &document);
    start_at_once(&mut direct);
    let bake = finished(&mut direct);
    let bytes = fetch(&mut session, &bake);
    assert!(bytes == fetch(&mut direct, &bake), "the same bytes");
    assert!(broken.load(Ordering::Relaxed) >= 5, "{broken:?} breaks in {} bytes", bytes.len());
}

#[test]
fn who_follows_a_bake_through_a_breaking_connection_misses_nothing() {
    let setup = setup("give-up.toml", &[]);
    let board = board(&setup, Way::Tcp, FAST);
    let mut direct = open(&board);
    let passed = AtomicUsize::new(0);
    let between = Between::new(&board, move |bytes: &mut Vec<u8>| {
        let before = passed.fetch_add(bytes.len(), Ordering::Relaxed);
        before / 30_000 == (before + bytes.len()) / 30_000
    });
    send(&mut direct, &document(&setup, ""));
    start_at_once(&mut direct);
    let mut follower = Follower::new(Session::open(&between.address).expect("the board"), None);
    let (mut rows, mut losses) = (0, 0);
    loop {
        match follower.look() {
            Ok(news) => {
                rows += news.rows.len();
                if news.ended {
                    break;
                }
            }
            Err(FollowError::Link(LinkError::Lost(_))) => losses += 1,
            Err(error) => panic!("{error}"),
        }
    }
    assert_eq!(follower.flaws(), []);
    let bake = finished(&mut direct);
    assert_eq!(rows, recorded(&fetch(&mut direct, &bake)).0);
    assert!(losses >= 3, "it was lost {losses} times");
}

#[test]
fn damaged_bytes_are_asked_for_again_and_never_believed() {
    let setup = setup(GUARDS, &[]);
    let board = board(&setup, Way::Tcp, FAST);
    let random = Mutex::new(Xoshiro256PlusPlus::seed_from_u64(7));
    let between = Between::new(&board, move |bytes: &mut Vec<u8>| {
        let mut random = random.lock().expect("one at a time");
        for byte in bytes {
            if random.next_u64() % 3_000 == 0 {
                *byte ^= 1 << (random.next_u64() % 8);
            }
        }
        true
    });
    let mut session = Session::open(&between.address).expect("the board");
    for _ in 0..8 {
        send(&mut session, &document(&setup, "through noise"));
    }
    let status = session.once(|client, _| client.status()).expect("a status");
    assert!(status.rejected > 0, "some frames were damaged on their way to the board");
}

#[test]
fn garbage_before_a_frame_costs_nothing_but_a_count() {
    let board = board(&setup(GUARDS, &[]), Way::Tcp, FAST);
    let at = board.address().strip_prefix("tcp:").expect("tcp").to_owned();
    let mut random = Xoshiro256PlusPlus::seed_from_u64(3);
    let mut garbage = vec![0; 20_000];
    random.fill_bytes(&mut garbage);
    let mut stranger = TcpStream::connect(at).expect("the board");
    stranger.write_all(&garbage).expect("it is taken");
    let mut session = open(&board);
    until(&mut session, |client| Ok((client.status()?.rejected > 20).then_some(())));
}

#[test]
fn two_over_tcp_are_both_answered_and_a_serial_port_is_for_one() {
    let setup = setup(GUARDS, &[]);
    let over_tcp = board(&setup, Way::Tcp, FAST);
    let (mut one, mut other) = (open(&over_tcp), open(&over_tcp));
    for _ in 0..20 {
        assert!(one.once(|client, _| client.status()).is_ok());
        assert!(other.once(|client, _| client.settings()).is_ok());
    }
    if cfg!(unix) {
        let serial = board(&setup, Way::PseudoTerminal, FAST);
        let first = open(&serial);
        let Err(LinkError::Open { fault, .. }) = Session::open(&address(&serial)) else {
            panic!("two had it open")
        };
        assert_eq!(fault, OpenFault::Busy);
        drop(first);
        assert!(Session::open(&address(&serial)).is_ok(), "the next may");
    }
}

/// Answers every request with the same thing, under the request's own number.
fn stranger(answer: impl Fn(u8) -> Vec<u8> + Send + 'static) -> Address {
    let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).expect("a port");
    let address = format!("tcp:{}", listener.local_addr().expect("an address"));
    std::thread::spawn(move || {
        for stream in listener.incoming() {
            let Ok(stream) = stream else { return };
            let mut decoder = Decoder::default();
            for byte in BufReader::new(&stream).bytes() {
                let Ok(byte) = byte else { break };
                let Some(Ok(content)) = decoder.push(byte) else { continue };
                let Ok((_, number)) = parse::<Request<'_>>(content) else { continue };
                if (&stream).write_all(&answer(number)).is_err() {
                    break;
                }
            }
        }
    });
    address.parse().expect("an address")
}

fn said(reply: &Reply<'_>, number: u8) -> Vec<u8> {
    Frame::of(reply, number).expect("it fits").bytes().to_vec()
}

#[test]
fn another_version_and_something_that_is_no_board_are_told_apart_and_end_at_once() {
    fn opened(answer: impl Fn(u8) -> Vec<u8> + Send + 'static) -> Option<LinkError> {
        Session::open(&stranger(answer)).err()
    }
    // A status request of version 2, as DEVELOPERS.md has it, and version 1's refusal of one.
    let version_2 = vec![0x06, 0x02, 0x02, 0x07, 0x7b, 0x34, 0x00];
    assert_eq!(opened(move |_| version_2.clone()), Some(LinkError::OtherVersion));
    let refusal = Refusal::Frame(truesoak_core::wire::frame::Reject::UnknownVersion);
    assert_eq!(opened(move |_| said(&Reply::Refused(refusal), 0)), Some(LinkError::OtherVersion));
    let modem = Hello {
        product: "modem",
        firmware: [1, 0, 0],
        board: [0; 8],
        capabilities: Capabilities::default(),
    };
    let found = opened(move |number| said(&Reply::Hello(modem), number));
    assert_eq!(found, Some(LinkError::NotABoard("modem".to_owned())));
    assert!(matches!(opened(|_| b"AT OK\r\n".to_vec()), Some(LinkError::Lost(_))));
    let done = opened(|number| said(&Reply::Done, number));
    assert!(matches!(done, Some(LinkError::Unexpected(_))));
    let late = opened(|number| said(&Reply::Done, number.wrapping_add(100)));
    assert!(matches!(late, Some(LinkError::Lost(_))), "an answer to somebody else is none");
}

#[test]
fn a_board_that_is_gone_is_looked_for_as_long_as_it_may_take_and_no_longer() {
    let setup = setup(GUARDS, &[]);
    let board = board(&setup, Way::Tcp, FAST);
    let mut session = open(&board);
    drop(board);
    let mut losses = 0;
    let patience = Patience::For(Duration::from_millis(800));
    let gone = session.with(
        patience,
        |loss| losses += usize::from(loss.is_some()),
        |client, _| client.status(),
    );
    assert!(matches!(gone, Err(LinkError::Open { .. })), "{gone:?}");
    assert_eq!(losses, 1);
}

#[test]
fn texts_of_more_than_sixteen_kibibytes_are_refused_before_anything_is_sent() {
    let setup = setup(GUARDS, &[]);
    let bench = Bench::new(&setup).expect("a bake");
    let note = "x".repeat(16 * 1024);
    let refused = Document::of(&setup, &bench, "", &note);
    let Err(NoDocument::TooLarge(bytes)) = refused else { panic!("it was taken") };
    assert!(bytes > 16 * 1024);
    let least = bytes - note.len();
    assert!(Document::of(&setup, &bench, "", &note[least..]).is_ok(), "16 KiB and no more");
    assert!(Document::of(&setup, &bench, "", &note[least - 1..]).is_err());
}

#[test]
fn what_the_oven_file_claims_and_the_board_has_not_is_told() {
    let setup = setup(GUARDS, &[]);
    let (oven, load) = (&setup.oven, &setup.load);
    let fitted = fitted_as(oven, load);
    assert_eq!(differences(&fitted, oven, load), []);
    let mut other = fitted;
    other.air = Fitted { fitting: Fitting::Max31856(Thermocouple::J), correction_steps: 64 };
    other.door_switch = false;
    other.air_max_c += 20;
    let found = differences(&other, oven, load);
    let told: Vec<_> = found.iter().map(|of| (of.what, of.board.as_str(), of.is_grave)).collect();
    assert_eq!(
        told,
        [
            ("air sensor", "thermocouple J, corrected by +0.50 K", true),
            ("door switch", "none", true),
            ("air limit", &*format!("{} °C", other.air_max_c), false),
        ]
    );
    assert_eq!(found[0].file, "thermocouple K");
    let mut more = fitted;
    more.mains_at_heater = true;
    more.independent_clock = false;
    assert_eq!(
        differences(&more, oven, load),
        [],
        "what the board has beyond the file harms nothing"
    );
    assert!(matches!(oven.sensor.kind, Kind::Thermocouple(Thermocouple::K)));
}

#[test]
fn settings_are_taken_while_commissioning_and_else_refused() {
    let setup = setup(GUARDS, &[]);
    for commissioning in [false, true] {
        let options = Options { commissioning, ..Options::of(&setup) };
        let board = VirtualBoard::start(options, Way::Tcp).expect("a port");
        let mut session = open(&board);
        let fitted = session.once(|client, _| client.settings()).expect("settings");
        let settings = BoardSettings { air_max_c: 150, ..fitted.expect("it has some") };
        let set = session.once(|client, _| client.done(&Request::SetSettings(settings)));
        let refused = Err(LinkError::Refused(Refusal::NotCommissioning));
        assert_eq!(set, if commissioning { Ok(()) } else { refused });
        let now = session.once(|client, _| client.settings()).expect("settings");
        assert_eq!(now == Some(settings), commissioning);
        let sent = session.once(|client, _| client.upload(&document(&setup, ""), |_| {}));
        let above = Err(LinkError::Refused(Refusal::AboveOven));
        assert_eq!(sent, if commissioning { above } else { Ok(()) });
    }
}

/// A short bake's bytes, for what may be wrong with them.
fn stored() -> Vec<u8> {
    let setup = setup("give-up.toml", &[]);
    let board = board(&setup, Way::Tcp, FAST);
    let mut session = open(&board);
    send(&mut session, &document(&setup, ""));
    start_at_once(&mut session);
    let bake = finished(&mut session);
    fetch(&mut session, &bake)
}

/// Rows' seconds, coldest bounds known, and flaws.
fn recorded(bytes: &[u8]) -> (usize, usize, Vec<Flaw>) {
    let mut reader = StoredReader::default();
    reader.take(bytes);
    let head = reader.head().expect("a head").expect("all of it");
    let mut recorder = Recorder::new(&head);
    let (mut rows, mut known) = (0, 0);
    while let Some(entry) = reader.entry() {
        recorder.entry(entry, |row| {
            rows += 1;
            known += usize::from(row.coldest_c.is_some());
        });
    }
    (rows, known, recorder.flaws().to_vec())
}

#[test]
fn a_second_that_is_missing_comes_twice_or_is_torn_is_told_and_nothing_is_counted_past_it() {
    let whole = stored();
    let (rows, known, flaws) = recorded(&whole);
    assert_eq!(flaws, []);
    let entries = whole.len() - rows * ENTRY_BYTES;
    // Far into the bake, where parts are inside.
    let at = entries + 9_000 * ENTRY_BYTES;
    let cut = |from: usize, to: usize| [&whole[..from], &whole[to..]].concat();
    let (fewer, less, flaws) = recorded(&cut(at, at + 3 * ENTRY_BYTES));
    assert_eq!(fewer, rows - 3);
    assert!(matches!(flaws[..], [Flaw::Missing { missing_s: 3, .. }]), "{flaws:?}");
    assert!(less < known - 3, "bounds are not told past it");
    let twice = [&whole[..at + ENTRY_BYTES], &whole[at..]].concat();
    assert!(matches!(recorded(&twice).2[..], [Flaw::Backwards { .. }]));
    let mut torn = whole.clone();
    torn[at] = 0xe0;
    let flaws = recorded(&torn).2;
    assert!(
        matches!(flaws[..], [Flaw::Torn { .. }, Flaw::Missing { missing_s: 1, .. }]),
        "{flaws:?}"
    );
    let mut strange = whole.clone();
    strange[at] = 0x77;
    assert!(matches!(recorded(&strange).2[..], [Flaw::NoEntry { .. }, ..]));
}

#[test]
fn a_head_or_document_that_was_changed_is_no_bake() {
    let whole = stored();
    for at in [0, 20, 63, 64, 1_000] {
        let mut changed = whole.clone();
        changed[at] ^= 0x10;
        let mut reader = StoredReader::default();
        reader.take(&changed);
        assert!(reader.head().is_err(), "byte {at}");
    }
    let mut reader = StoredReader::default();
    reader.take(&whole[..63]);
    assert_eq!(reader.head(), Ok(None));
}
