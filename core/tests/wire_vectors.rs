//! Every message has the bytes that DEVELOPERS.md says, "The link".
//!
//! Goal: what is written there is what is sent. Method: the vectors are read from the page; they
//! were made by `tests/snapshots/link-vectors.py`, which shares nothing with this code. Each message
//! here must give its bytes, and its bytes the message.

use truesoak_core::bake::STEPS_MAX;
use truesoak_core::bounds::{Hottest, Trust};
use truesoak_core::command::{self, Command};
use truesoak_core::event::{Ending, Event};
use truesoak_core::guard::TripKind;
use truesoak_core::io::{Answer, Door, Heat, Question, Transfer};
use truesoak_core::record::{Checkpoint, Phase};
use truesoak_core::sensor::{Platinum, Thermocouple};
use truesoak_core::units::{Celsius, Reading};
use truesoak_core::wire::checkpoint;
use truesoak_core::wire::compiled::Fault;
use truesoak_core::wire::compiled::ranges::Place;
use truesoak_core::wire::frame::{Decoder, Frame, Message, Reject, parse};
use truesoak_core::wire::messages::{
    Bakes, Capabilities, CheckState, Hello, LiveRow, PRODUCT, Piece, Readiness, Reply, Request,
    Said, SensorState, Status, StoredBake,
};
use truesoak_core::wire::refusal::{BathFault, Obstacle, Refusal};
use truesoak_core::wire::row::{Row, SecondRow, Sixteenths};
use truesoak_core::wire::settings::{BoardSettings, Fitted, Fitting};
use truesoak_core::wire::tick_row::{Seen, TickRow};
use truesoak_core::wire::upload::Outline;

const PAGE: &str = include_str!("../../DEVELOPERS.md");

/// The vectors of one block of the page, by name, in order.
fn vectors(block: usize) -> Vec<(&'static str, Vec<u8>)> {
    let section = PAGE.split("\n## The link\n").nth(1).expect("the section");
    let section = section.split("\n## ").next().expect("its end");
    let text = section.split("```text\n").skip(2).nth(block).expect("the block");
    let mut vectors: Vec<(&str, Vec<u8>)> = Vec::new();
    for line in text.split("```").next().expect("its end").lines() {
        if let Some(bytes) = line.strip_prefix("    ") {
            let bytes = bytes.split(' ').map(|byte| u8::from_str_radix(byte, 16).expect("hex"));
            vectors.last_mut().expect("a name before bytes").1.extend(bytes);
        } else {
            vectors.push((line.split(':').next().expect("a name"), Vec::new()));
        }
    }
    vectors
}

const OUTLINE: Outline = Outline {
    bake_bytes: 1200,
    oven_bytes: 2400,
    load_bytes: 900,
    job_bytes: 12,
    note_bytes: 0,
    compiled_bytes: 1100,
    digest: 0xcbf4_3926,
};

const SETTINGS: BoardSettings = BoardSettings {
    air: Fitted { fitting: Fitting::Max31856(Thermocouple::K), correction_steps: -64 },
    air_b: None,
    part_probe: Some(Fitted {
        fitting: Fitting::Max31865 { sensor: Platinum::Pt100, wires: 3, reference_ohms: 430 },
        correction_steps: 0,
    }),
    door_switch: true,
    permit_feedback: true,
    mains_at_heater: false,
    airflow: false,
    independent_clock: true,
    mains_60_hz: false,
    air_max_c: 230,
};

fn requests() -> [(&'static str, Request<'static>, u8); 20] {
    [
        ("hello", Request::Hello { unix_s: Some(1_760_000_000) }, 1),
        ("status", Request::Status, 2),
        ("watch", Request::Watch(true), 3),
        ("begin", Request::Begin(OUTLINE), 4),
        ("piece", Request::Piece(Piece { offset: 224, bytes: b"name" }), 5),
        ("commit", Request::Commit, 6),
        ("document", Request::Document, 7),
        ("read-back", Request::ReadBack { offset: 4512 }, 8),
        ("settings", Request::Settings, 9),
        ("set-settings", Request::SetSettings(SETTINGS), 10),
        ("start", Request::Start { at_the_oven: false }, 11),
        ("answer", Request::Answer { said: Said::Fail, at_the_oven: false }, 12),
        ("stop", Request::Stop, 13),
        ("acknowledge", Request::Acknowledge { at_the_oven: true }, 14),
        ("bakes", Request::Bakes { after: 0 }, 15),
        ("fetch", Request::Fetch { bake: 2, offset: 65_536 }, 16),
        ("mark-fetched", Request::MarkFetched { bake: 2 }, 17),
        ("erase", Request::Erase { bake: None, not_fetched: true }, 18),
        ("bath", Request::Bath { sensor: 1, is: Reading(12_608) }, 19),
        ("readiness", Request::Readiness, 20),
    ]
}

const STATUS: Status = Status {
    phase: Phase::Soak,
    step: 3,
    second: 4210,
    reading: Some(Reading(19_071)),
    setpoint: None,
    coldest: Some(Celsius(149.5)),
    hottest: Some(Celsius(158.25)),
    credit_s: 2460,
    for_s: 3600,
    on_ticks: 7,
    permit: true,
    door_open: Some(false),
    asks: Some(Question::AnythingNew),
    trip: None,
    awaits_go: Some((Command::Answer(Answer::Go), 42)),
    ended: None,
    rejected: 3,
};

const TRIPPED: Status = Status {
    phase: Phase::Tripped,
    step: 3,
    second: 4300,
    reading: None,
    setpoint: None,
    coldest: None,
    hottest: None,
    credit_s: 0,
    for_s: 0,
    on_ticks: 0,
    permit: false,
    door_open: None,
    asks: Some(Question::Tripped),
    trip: Some(TripKind::DriveWelded),
    awaits_go: None,
    ended: Some((Ending::Tripped(TripKind::DriveWelded), false)),
    rejected: 0,
};

const READINESS: Readiness = Readiness {
    obstacle: Some(Obstacle::TwoPoints),
    sensors: [
        Some(SensorState { reading: Some(Reading(64)), check: CheckState::Ice }),
        None,
        Some(SensorState { reading: Some(Reading(2688)), check: CheckState::Checked }),
    ],
};

fn bakes() -> Bakes {
    let whole = StoredBake {
        number: 1,
        started_unix_s: Some(1_760_000_000),
        seconds: 10_800,
        bytes: 151_800,
        finished: true,
        fetched: true,
    };
    let cut_off = StoredBake {
        number: 2,
        started_unix_s: None,
        seconds: 60,
        bytes: 900,
        finished: false,
        fetched: false,
    };
    Bakes { listed: [whole, cut_off].into_iter().collect(), more: true }
}

fn replies() -> [(&'static str, Reply<'static>, u8); 16] {
    let hello = Hello {
        product: PRODUCT,
        firmware: [0, 1, 0],
        board: [0x00, 0x11, 0x22, 0x33, 0x44, 0x55, 0x66, 0x77],
        capabilities: Capabilities::VIRTUAL,
    };
    let setpoint = Some(Sixteenths::nearest(Celsius(150.25)));
    let part_2 = Refusal::Document(Fault::Value(Place::Class(1)));
    let row = LiveRow {
        row: core::array::from_fn(|index| 0xa0 + index as u8),
        coldest: Some(Celsius(149.5)),
        hottest: None,
        credit_s: 2460,
    };
    [
        ("hello-reply", Reply::Hello(hello), 1),
        ("status-reply", Reply::Status(Status { setpoint, ..STATUS }), 2),
        ("status-reply-tripped", Reply::Status(TRIPPED), 2),
        ("done", Reply::Done, 6),
        ("awaits-go", Reply::AwaitsGo(60), 11),
        ("refused", Reply::Refused(Refusal::Controller(command::Refusal::BakeRuns)), 4),
        ("refused-document", Reply::Refused(part_2), 6),
        ("refused-frame", Reply::Refused(Refusal::Frame(Reject::UnknownMessage)), 0),
        ("refused-start", Reply::Refused(Refusal::NotReady(Obstacle::Sensor)), 11),
        ("refused-bath", Reply::Refused(Refusal::Bath(BathFault::Unsteady)), 19),
        ("document-reply", Reply::Document(OUTLINE), 7),
        ("piece-reply", Reply::Piece(Piece { offset: 65_536, bytes: &[0; 3] }), 16),
        ("settings-reply", Reply::Settings(SETTINGS), 9),
        ("bakes-reply", Reply::Bakes(bakes()), 15),
        ("row", Reply::Row(row), 0),
        ("readiness-reply", Reply::Readiness(READINESS), 20),
    ]
}

/// What the last byte of a frame's bytes brings.
fn received<T>(
    bytes: &[u8],
    read: impl FnOnce(&mut [u8]) -> Result<T, Reject>,
) -> Result<T, Reject> {
    let mut decoder = Decoder::default();
    let (last, before) = bytes.split_last().expect("bytes");
    for byte in before {
        assert!(decoder.push(*byte).is_none(), "something ended before the frame did");
    }
    decoder.push(*last).expect("the frame ends here").and_then(read)
}

/// The message gives these bytes.
fn holds<'a, M>(name: &str, message: &M, number: u8, bytes: &[u8])
where
    M: Message<'a> + PartialEq + core::fmt::Debug,
{
    let frame = Frame::of(message, number).expect("it fits");
    assert_eq!(frame.bytes(), bytes, "{name}");
}

#[test]
fn every_message_has_exactly_the_bytes_of_the_page() {
    let vectors = vectors(0);
    let (requests, replies) = (requests(), replies());
    let names = requests.iter().map(|of| of.0).chain(replies.iter().map(|of| of.0));
    assert!(names.eq(vectors.iter().map(|of| of.0)), "the page lists other messages");
    let (ask, answer) = vectors.split_at(requests.len());
    for ((name, message, number), (_, bytes)) in requests.iter().zip(ask) {
        holds(name, message, *number, bytes);
        received(bytes, |content| {
            assert_eq!(parse::<Request<'_>>(content), Ok((*message, *number)), "{name}");
            Ok(())
        })
        .unwrap();
    }
    for ((name, message, number), (_, bytes)) in replies.iter().zip(answer) {
        holds(name, message, *number, bytes);
        received(bytes, |content| {
            assert_eq!(parse::<Reply<'_>>(content), Ok((message.clone(), *number)), "{name}");
            Ok(())
        })
        .unwrap();
    }
}

#[test]
fn the_page_has_a_vector_for_every_id_there_is() {
    let mut ids: Vec<u8> = Vec::new();
    for (_, bytes) in vectors(0) {
        received(&bytes, |content| {
            ids.push(content[1]);
            Ok(())
        })
        .unwrap();
    }
    ids.dedup();
    let all = |first: u8, count: u8| first..first + count;
    let requests = all(Request::FIRST_ID, Request::COUNT);
    assert!(requests.chain(all(Reply::FIRST_ID, Reply::COUNT)).eq(ids));
}

fn rows() -> [(&'static str, Row); 4] {
    let second = SecondRow {
        second: 4210,
        reading: Some(Reading(19_071)),
        reading_b: None,
        part_probe: Some(Reading(-64)),
        setpoint: Some(Sixteenths::nearest(Celsius(150.25))),
        on_ticks: 7,
        permit: true,
        door_open: false,
        projected: true,
        widened: false,
        airflow: Some(true),
        step: 3,
        phase: Phase::Soak,
    };
    let answered = Event::Answered(Question::AnythingNew, Answer::Go);
    let supply = Event::SupplyReturned {
        coldest: Reading(1920),
        hottest: Reading(23_000),
        parts: Reading(19_500),
        element: Reading(60_000),
        credit_s: 899,
    };
    let tick = TickRow {
        tick: 16_383,
        air: Seen { reading: Some(Reading(19_071)), transfer: Transfer::Good },
        air_age: 2,
        air_b: Some(Seen { reading: None, transfer: Transfer::Open }),
        part_probe: None,
        cold_junction_quarters: Some(124),
        door: Some(Door::Closed),
        go: true,
        stop: false,
        permit_feedback: Some(true),
        mains_at_heater: None,
        airflow: None,
        heat: Heat::Allowed { drive: true },
        asks: Some(Question::AnythingNew),
        tripped: false,
    };
    [
        ("second", Row::Second(second)),
        ("event", Row::of_event(42_105, answered)),
        ("supply-returned", Row::of_event(42_105, supply)),
        ("tick", Row::Tick(tick)),
    ]
}

fn kept() -> Checkpoint {
    let mut kept = Checkpoint {
        second: 4210,
        step: 2,
        credit_s: 2460,
        in_step_s: 3000,
        stayed_s: 0,
        loaded: true,
        rounds: [0; STEPS_MAX],
        short: [false; STEPS_MAX],
        heat_ticks: 42_000,
        coldest: Celsius(149.5),
        hottest: Hottest { oven: Celsius(171.25), parts: Celsius(158.25), element: Celsius(402.0) },
        outside_model: false,
        probe: Trust::Believed,
        trip: None,
    };
    kept.rounds[4] = 1;
    kept.short[2] = true;
    kept
}

#[test]
fn every_row_and_a_checkpoint_have_exactly_the_bytes_of_the_page() {
    let vectors = vectors(2);
    let (checkpoint, of_rows) = vectors.split_last().expect("vectors");
    assert_eq!(of_rows.len(), rows().len());
    for ((name, row), (written, bytes)) in rows().iter().zip(of_rows) {
        assert_eq!(name, written);
        assert_eq!(row.encode().expect("it has a place").as_slice(), bytes, "{name}");
    }
    let bytes = checkpoint::encode(&kept()).expect("it has room");
    assert_eq!((checkpoint.0, checkpoint.1.as_slice()), ("checkpoint", bytes.as_slice()));
}

#[test]
fn every_frame_of_the_reject_table_is_refused_for_its_reason() {
    let reason = |name: &str| match name {
        "bad-stuffing" => Reject::BadStuffing,
        "too-short" => Reject::TooShort,
        "bad-check" => Reject::BadCheck,
        "unknown-version" => Reject::UnknownVersion,
        "unknown-message" => Reject::UnknownMessage,
        "bad-body" => Reject::BadBody,
        "trailing-bytes" => Reject::TrailingBytes,
        other => panic!("{other}"),
    };
    let mut seen: Vec<Reject> = Vec::new();
    for (name, bytes) in vectors(1) {
        let refused = received(&bytes, |content| parse::<Request<'_>>(content).map(|_| ()));
        assert_eq!(refused, Err(reason(name)), "{name}");
        seen.push(reason(name));
    }
    // The one that is too long to be printed.
    let long = received(&[0x01; 256], |_| Ok(()));
    assert_eq!(long, Err(Reject::TooLong));
    seen.push(Reject::TooLong);
    assert!(Reject::ALL.iter().all(|reject| seen.contains(reject)));
}
