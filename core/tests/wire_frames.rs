//! Frames survive what a cable does, and nothing on it is taken for what it is not.
//!
//! Goal: every message comes back as it was sent; damage, floods and nonsense cost themselves and no
//! more. Method: drawn messages through encoder and decoder; the same stream cut, changed, doubled
//! and drowned in noise.

mod dice;

use dice::Dice;
use truesoak_core::bake::faults::Field;
use truesoak_core::command::{self, Command};
use truesoak_core::event::Ending;
use truesoak_core::guard::TripKind;
use truesoak_core::io::{Answer, Question};
use truesoak_core::record::Phase;
use truesoak_core::sensor::{Platinum, Thermocouple};
use truesoak_core::units::{Celsius, Reading};
use truesoak_core::wire::compiled::Fault;
use truesoak_core::wire::compiled::ranges::Place;
use truesoak_core::wire::frame::{Decoder, Frame, Message, Reject, parse};
use truesoak_core::wire::messages::{
    BAKES_MAX, Bakes, Capabilities, Hello, LiveRow, PRODUCT, Piece, Reply, Request, Said, Status,
    StoredBake,
};
use truesoak_core::wire::refusal::{BathFault, Obstacle, Refusal};
use truesoak_core::wire::row::Sixteenths;
use truesoak_core::wire::settings::{BoardSettings, Fitted, Fitting, SettingsFault};
use truesoak_core::wire::upload::{Outline, UploadFault};
use truesoak_core::wire::{FRAME_BYTES_MAX, PIECE_BYTES_MAX};

fn outline(dice: &mut Dice) -> Outline {
    Outline {
        bake_bytes: dice.u32() as u16,
        oven_bytes: dice.u32() as u16,
        load_bytes: dice.u32() as u16,
        job_bytes: dice.u32() as u16,
        note_bytes: dice.u32() as u16,
        compiled_bytes: dice.u32() as u16,
        digest: dice.u32(),
    }
}

fn fitted(dice: &mut Dice) -> Fitted {
    let sensor = if dice.flag() { Platinum::Pt100 } else { Platinum::Pt1000 };
    let (wires, reference_ohms) = (dice.u32() as u8, dice.u32() as u16);
    let junction = dice.one_of(&Thermocouple::ALL);
    let fittings = [
        Fitting::Max31855(junction),
        Fitting::Max31856(junction),
        Fitting::Max31865 { sensor, wires, reference_ohms },
    ];
    Fitted { fitting: dice.one_of(&fittings), correction_steps: dice.u32() as i16 }
}

fn settings(dice: &mut Dice) -> BoardSettings {
    BoardSettings {
        air: fitted(dice),
        air_b: dice.maybe(fitted),
        part_probe: dice.maybe(fitted),
        door_switch: dice.flag(),
        permit_feedback: dice.flag(),
        mains_at_heater: dice.flag(),
        airflow: dice.flag(),
        independent_clock: dice.flag(),
        mains_60_hz: dice.flag(),
        air_max_c: dice.u32() as u16,
    }
}

fn request<'a>(dice: &mut Dice, bytes: &'a [u8]) -> Request<'a> {
    let at_the_oven = dice.flag();
    match dice.below(19) {
        0 => Request::Hello { unix_s: dice.maybe(Dice::u32) },
        1 => Request::Status,
        2 => Request::Watch(dice.flag()),
        3 => Request::Begin(outline(dice)),
        4 => Request::Piece(Piece::of(dice.u32(), bytes)),
        5 => Request::Commit,
        6 => Request::Document,
        7 => Request::ReadBack { offset: dice.u32() },
        8 => Request::Settings,
        9 => Request::SetSettings(settings(dice)),
        10 => Request::Start { at_the_oven },
        11 => {
            Request::Answer { said: dice.one_of(&[Said::Pass, Said::Fail, Said::Go]), at_the_oven }
        }
        12 => Request::Stop,
        13 => Request::Acknowledge { at_the_oven },
        14 => Request::Bakes { after: dice.u32() },
        15 => Request::Fetch { bake: dice.u32(), offset: dice.u32() },
        16 => Request::MarkFetched { bake: dice.u32() },
        17 => Request::Bath { sensor: dice.u32() as u8, is: Reading(dice.u32() as i32) },
        _ => Request::Erase { bake: dice.maybe(Dice::u32), not_fetched: dice.flag() },
    }
}

fn celsius(dice: &mut Dice) -> Celsius {
    Celsius(dice.u32() as f32 / 8.0 - 300.0)
}

fn status(dice: &mut Dice) -> Status {
    const COMMANDS: [Command; 5] = [
        Command::Start,
        Command::Answer(Answer::Go),
        Command::Answer(Answer::Fail),
        Command::Stop,
        Command::Acknowledge,
    ];
    let tripped = Ending::Tripped(dice.one_of(&TripKind::ALL));
    Status {
        phase: dice.one_of(&Phase::ALL),
        step: dice.u32() as u8,
        second: dice.u32(),
        reading: dice.maybe(|dice| Reading(dice.u32() as i32)),
        setpoint: dice.maybe(|dice| Sixteenths::nearest(celsius(dice))),
        coldest: dice.maybe(celsius),
        hottest: dice.maybe(celsius),
        credit_s: dice.u32(),
        for_s: dice.u32(),
        on_ticks: dice.u32() as u8,
        permit: dice.flag(),
        door_open: dice.maybe(Dice::flag),
        asks: dice.maybe(|dice| dice.one_of(&[Question::LoadIn, Question::Tripped])),
        trip: dice.maybe(|dice| dice.one_of(&TripKind::ALL)),
        awaits_go: dice.maybe(|dice| (dice.one_of(&COMMANDS), dice.u32() as u8)),
        ended: dice.maybe(|dice| (dice.one_of(&[Ending::Finished, tripped]), dice.flag())),
        rejected: dice.u32() as u16,
    }
}

fn stored(dice: &mut Dice) -> StoredBake {
    StoredBake {
        number: dice.u32(),
        started_unix_s: dice.maybe(Dice::u32),
        seconds: dice.u32(),
        bytes: dice.u32(),
        finished: dice.flag(),
        fetched: dice.flag(),
    }
}

fn refusal(dice: &mut Dice) -> Refusal {
    dice.one_of(&[
        Refusal::Controller(command::Refusal::TripLatched),
        Refusal::Frame(Reject::TrailingBytes),
        Refusal::NotVirtual,
        Refusal::Settings(SettingsFault::AirMax),
        Refusal::Upload(UploadFault::Digest),
        Refusal::Document(Fault::Bake(Some(23), Field::NoLongerThan)),
        Refusal::Document(Fault::Value(Place::Step(23))),
        Refusal::StoreFailing,
        Refusal::NotReady(Obstacle::NoRoom),
        Refusal::Bath(BathFault::Differ),
    ])
}

fn reply<'a>(dice: &mut Dice, bytes: &'a [u8]) -> Reply<'a> {
    match dice.below(10) {
        0 => Reply::Hello(Hello {
            product: PRODUCT,
            firmware: [dice.u32() as u8, 1, 2],
            board: [dice.u32() as u8; 8],
            capabilities: Capabilities(dice.u32() as u16),
        }),
        1 => Reply::Status(status(dice)),
        2 => Reply::Done,
        3 => Reply::AwaitsGo(dice.u32() as u8),
        4 => Reply::Refused(refusal(dice)),
        5 => Reply::Document(outline(dice)),
        6 => Reply::Piece(Piece::of(dice.u32(), bytes)),
        7 => Reply::Settings(settings(dice)),
        8 => {
            let count = dice.below(BAKES_MAX as u64 + 1);
            let listed = (0..count).map(|_| stored(dice)).collect();
            Reply::Bakes(Bakes { listed, more: dice.flag() })
        }
        _ => Reply::Row(LiveRow {
            row: [dice.u32() as u8; 14],
            coldest: dice.maybe(celsius),
            hottest: dice.maybe(celsius),
            credit_s: dice.u32(),
        }),
    }
}

/// What a stream of bytes brings, said by `read`.
fn brought<T>(
    decoder: &mut Decoder,
    stream: &[u8],
    read: impl Fn(&mut [u8]) -> Result<T, Reject>,
) -> Vec<Result<T, Reject>> {
    stream.iter().filter_map(|byte| decoder.push(*byte).map(|end| end.and_then(&read))).collect()
}

/// Requests as text, which owns what it says.
fn told(content: &mut [u8]) -> Result<String, Reject> {
    parse::<Request<'_>>(content).map(|(request, number)| format!("{number} {request:?}"))
}

fn comes_back<'a, M: Message<'a>>(message: &M, number: u8) -> Vec<u8> {
    let frame = Frame::of(message, number).expect("every message fits");
    let bytes = frame.bytes();
    assert!(bytes.len() <= FRAME_BYTES_MAX);
    assert_eq!(bytes.iter().position(|byte| *byte == 0), Some(bytes.len() - 1));
    bytes.to_vec()
}

#[test]
fn every_message_comes_back_as_it_was_sent() {
    let mut dice = Dice(21);
    let mut decoder = Decoder::default();
    for _ in 0..100_000 {
        let len = dice.below(300) as usize;
        let bytes = dice.bytes(len);
        let number = dice.u32() as u8;
        let request = request(&mut dice, &bytes);
        let sent = comes_back(&request, number);
        let same = |content: &mut [u8]| Ok(parse(content)? == (request, number));
        assert_eq!(brought(&mut decoder, &sent, same), [Ok(true)], "{request:?}");

        let reply = reply(&mut dice, &bytes);
        let sent = comes_back(&reply, number);
        let same = |content: &mut [u8]| Ok(parse(content)? == (reply.clone(), number));
        assert_eq!(brought(&mut decoder, &sent, same), [Ok(true)], "{reply:?}");
    }
}

#[test]
fn the_longest_of_every_kind_fits_a_frame_and_a_longer_piece_is_cut_or_refused() {
    let most = StoredBake {
        number: u32::MAX,
        started_unix_s: Some(u32::MAX),
        seconds: u32::MAX,
        bytes: u32::MAX,
        finished: true,
        fetched: true,
    };
    let bakes = Bakes { listed: [most; BAKES_MAX].into_iter().collect(), more: true };
    comes_back(&Reply::Bakes(bakes), u8::MAX);
    let long = [0xa5; 400];
    let piece = Piece::of(u32::MAX, &long);
    assert_eq!(piece.bytes.len(), PIECE_BYTES_MAX);
    comes_back(&Reply::Piece(piece), u8::MAX);
    comes_back(&Request::Piece(piece), u8::MAX);
    let longer = Request::Piece(Piece { offset: 0, bytes: &long });
    assert!(Frame::of(&longer, 0).is_err());
}

#[test]
fn no_changed_bit_makes_another_message_of_one() {
    let mut dice = Dice(22);
    for _ in 0..300 {
        let bytes = dice.bytes(20);
        let sent = comes_back(&request(&mut dice, &bytes), 9);
        for bit in 0..8 * (sent.len() - 1) {
            let mut changed = sent.clone();
            changed[bit / 8] ^= 1 << (bit % 8);
            let heard = brought(&mut Decoder::default(), &changed, told);
            assert!(heard.iter().all(Result::is_err), "{heard:?}");
        }
    }
}

#[test]
fn after_a_torn_frame_and_a_zero_the_next_is_heard() {
    let mut dice = Dice(23);
    for _ in 0..300 {
        let bytes = dice.bytes(100);
        let sent = comes_back(&request(&mut dice, &bytes), 3);
        for torn in 0..sent.len() - 1 {
            let mut stream = sent[..torn].to_vec();
            stream.push(0);
            stream.extend(&sent);
            let heard = brought(&mut Decoder::default(), &stream, told);
            assert!(heard.last().is_some_and(Result::is_ok), "{torn} bytes of {sent:02x?}");
            assert!(heard.len() <= 2);
        }
    }
}

#[test]
fn what_is_too_long_is_told_once_and_ends_with_its_zero() {
    let good = comes_back(&Request::Status, 1);
    for byte in 1..=u8::MAX {
        for len in [256, 257, 511, 1000, 100_000] {
            let mut stream = vec![byte; len];
            stream.push(0);
            stream.extend(&good);
            let heard = brought(&mut Decoder::default(), &stream, told);
            assert_eq!(heard.len(), 2, "{byte} {len}");
            assert_eq!(heard[0], Err(Reject::TooLong));
            assert!(heard[1].is_ok());
        }
    }
    // One byte fewer is a frame, though a damaged one.
    let mut stream = vec![0x01; 255];
    stream.push(0);
    assert_eq!(brought(&mut Decoder::default(), &stream, told), [Err(Reject::BadCheck)]);
}

#[test]
fn noise_ends_in_refusals_at_most_one_a_zero_or_a_frame_too_long() {
    let mut dice = Dice(24);
    let mut decoder = Decoder::default();
    let (mut heard, mut ends) = (0, 0);
    let mut reasons = Vec::new();
    for round in 0..4000 {
        let mut noise = dice.bytes(1000);
        match round % 3 {
            0 => {
                // Without zeros: long ones.
                noise.iter_mut().for_each(|byte| *byte |= 1);
                noise.push(0);
            }
            // Small bytes: many short ones.
            1 => noise.iter_mut().for_each(|byte| *byte &= 3),
            _ => {}
        }
        ends += noise.iter().filter(|byte| **byte == 0).count() + noise.len() / FRAME_BYTES_MAX;
        let ended = brought(&mut decoder, &noise, told);
        heard += ended.len();
        for end in ended {
            // One of 65,536 may hold its check by chance; it is still no message of this version.
            let reason = end.expect_err("a message out of noise");
            if !reasons.contains(&reason) {
                reasons.push(reason);
            }
        }
    }
    assert!(heard <= ends, "{heard} of {ends}");
    for wanted in [Reject::BadStuffing, Reject::TooLong, Reject::TooShort, Reject::BadCheck] {
        assert!(reasons.contains(&wanted), "{reasons:?}");
    }
}

#[test]
fn any_content_at_all_is_a_message_or_refused_for_a_reason_its_sender_is_told() {
    let mut dice = Dice(25);
    let (mut requests, mut replies) = (0, 0);
    for _ in 0..1_000_000 {
        let len = 3 + dice.below(40) as usize;
        let mut content = dice.bytes(len);
        content[0] = 1;
        content[1] = dice.below(0x50) as u8;
        match parse::<Request<'_>>(&mut content.clone()) {
            Ok((request, number)) => {
                requests += 1;
                let frame = Frame::of(&request, number);
                assert!(frame.is_ok() || matches!(request, Request::Piece(_)));
            }
            Err(reject) => assert!(reject.arrived_whole(), "{reject:?}"),
        }
        match parse::<Reply<'_>>(&mut content) {
            Ok(_) => replies += 1,
            Err(reject) => assert!(reject.arrived_whole(), "{reject:?}"),
        }
    }
    assert!(requests > 500 && replies > 500, "{requests} {replies}");
}
