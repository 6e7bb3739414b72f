//! A desk that keeps what it was asked, on a port that takes and gives as little as it likes.

extern crate std;

use super::*;
use embedded_io::{ErrorKind, ErrorType};
use std::collections::VecDeque;
use std::string::String;
use std::vec::Vec;
use std::{format, vec};
use truesoak_core::wire::frame::Reject;
use truesoak_core::wire::messages::Piece;
use truesoak_core::wire::row::ROW_BYTES;

/// A port: what comes, what went, and how much it takes in a tick.
#[derive(Default)]
struct Port {
    coming: VecDeque<u8>,
    gone: Vec<u8>,
    takes: usize,
    gives_at_once: usize,
    taken_from: usize,
    broken: bool,
}

impl ErrorType for &mut Port {
    type Error = ErrorKind;
}

impl ReadReady for &mut Port {
    fn read_ready(&mut self) -> Result<bool, ErrorKind> {
        if self.broken { Err(ErrorKind::Other) } else { Ok(!self.coming.is_empty()) }
    }
}

impl Read for &mut Port {
    fn read(&mut self, bytes: &mut [u8]) -> Result<usize, ErrorKind> {
        assert!(!self.coming.is_empty(), "this would block");
        let len = bytes.len().min(self.coming.len()).min(self.gives_at_once);
        for (place, byte) in bytes.iter_mut().zip(self.coming.drain(..len)) {
            *place = byte;
        }
        self.taken_from += len;
        Ok(len)
    }
}

impl WriteReady for &mut Port {
    fn write_ready(&mut self) -> Result<bool, ErrorKind> {
        if self.broken { Err(ErrorKind::Other) } else { Ok(self.takes > 0) }
    }
}

impl Write for &mut Port {
    fn write(&mut self, bytes: &[u8]) -> Result<usize, ErrorKind> {
        assert!(self.takes > 0, "this would block");
        let len = bytes.len().min(self.takes).min(7);
        self.takes -= len;
        self.gone.extend(&bytes[..len]);
        Ok(len)
    }

    fn flush(&mut self) -> Result<(), ErrorKind> {
        panic!("nobody may wait for this");
    }
}

/// Gives long pieces, and keeps what it was asked.
#[derive(Default)]
struct Keeper {
    asked: Vec<String>,
}

impl Desk for Keeper {
    fn answer<'a>(&'a mut self, request: &Request<'_>) -> Reply<'a> {
        self.asked.push(format!("{request:?}"));
        match request {
            Request::Fetch { offset, .. } => Reply::Piece(Piece::of(*offset, &[0x5a; 224])),
            Request::ReadBack { .. } => Reply::Piece(Piece { offset: 0, bytes: &[1; 400] }),
            _ => Reply::Done,
        }
    }
}

fn port() -> Port {
    Port { takes: usize::MAX, gives_at_once: 64, ..Port::default() }
}

fn frame(request: &Request<'_>, number: u8) -> Vec<u8> {
    Frame::of(request, number).unwrap().bytes().to_vec()
}

/// Numbers of the replies that went, and what they say.
fn replies(gone: &[u8]) -> Vec<(u8, String)> {
    let mut decoder = Decoder::default();
    let mut replies = vec![];
    for byte in gone {
        if let Some(content) = decoder.push(*byte) {
            let (reply, number) = parse::<Reply<'_>>(content.unwrap()).unwrap();
            replies.push((number, format!("{reply:?}")));
        }
    }
    replies
}

#[test]
fn a_request_is_answered_in_the_tick_in_which_it_ends() {
    let mut port = port();
    let mut desk = Keeper::default();
    port.coming.extend(frame(&Request::Commit, 7));
    let mut link = Link::new(&mut port);
    link.tick(&mut desk);
    assert_eq!(link.counts(), Counts::default());
    assert_eq!(desk.asked, ["Commit"]);
    assert_eq!(replies(&port.gone), [(7, "Done".into())]);
}

#[test]
fn a_request_in_single_bytes_over_many_ticks_is_answered_once() {
    let mut port = port();
    let mut desk = Keeper::default();
    let mut link = Link::new(&mut port);
    for byte in frame(&Request::MarkFetched { bake: 3 }, 9) {
        assert!(desk.asked.is_empty());
        link.port.coming.push_back(byte);
        link.tick(&mut desk);
        link.tick(&mut desk);
    }
    assert_eq!(desk.asked, ["MarkFetched { bake: 3 }"]);
    assert_eq!(replies(&port.gone), [(9, "Done".into())]);
}

#[test]
fn no_more_than_a_kibibyte_is_taken_a_tick_whatever_comes() {
    let mut port = port();
    port.coming.extend([0x11; 10_000]);
    let mut desk = Keeper::default();
    let mut taken = 0;
    let mut link = Link::new(&mut port);
    for _ in 0..9 {
        link.tick(&mut desk);
        assert_eq!(link.port.taken_from - taken, TAKEN_MAX);
        taken = link.port.taken_from;
    }
    link.tick(&mut desk);
    assert_eq!(link.port.taken_from, 10_000);
    // One frame, without an end, told once.
    assert_eq!(link.counts().rejected, 1);
}

#[test]
fn a_flood_of_requests_waits_in_the_port_until_its_replies_are_gone() {
    let mut port = Port { takes: 0, ..port() };
    let mut desk = Keeper::default();
    let many = 30;
    for number in 1..=many {
        port.coming.extend(frame(&Request::Fetch { bake: 1, offset: 0 }, number));
    }
    let mut link = Link::new(&mut port);
    for _ in 0..5 {
        link.tick(&mut desk);
    }
    // Four at most, and none of what came is lost.
    assert_eq!(desk.asked.len(), REPLIES_MAX);
    for _ in 0..40 {
        link.port.takes = 300;
        let before = desk.asked.len();
        link.tick(&mut desk);
        assert!(desk.asked.len() - before <= REPLIES_MAX);
    }
    assert_eq!(desk.asked.len(), usize::from(many));
    let numbers: Vec<u8> = replies(&port.gone).into_iter().map(|reply| reply.0).collect();
    assert!(numbers.into_iter().eq(1..=many));
}

#[test]
fn what_is_not_known_is_refused_and_what_is_damaged_is_counted() {
    let mut port = port();
    let mut desk = Keeper::default();
    let mut damaged = frame(&Request::Status, 5);
    damaged[2] ^= 0x40;
    port.coming.extend(damaged);
    // A reply of the board itself, as an echo would bring it.
    port.coming.extend(Frame::of(&Reply::Done, 5).unwrap().bytes());
    port.coming.extend(frame(&Request::Status, 6));
    let mut link = Link::new(&mut port);
    link.tick(&mut desk);
    assert_eq!(link.counts().rejected, 2);
    let refused = format!("{:?}", Reply::Refused(Refusal::Frame(Reject::UnknownMessage)));
    assert_eq!(replies(&port.gone), [(0, refused), (6, "Done".into())]);
    assert_eq!(desk.asked, ["Status"]);
}

const ROW: LiveRow = LiveRow { row: [7; ROW_BYTES], coldest: None, hottest: None, credit_s: 1 };

#[test]
fn rows_go_to_who_watches_and_leave_room_for_a_reply() {
    let mut port = port();
    let mut desk = Keeper::default();
    let mut link = Link::new(&mut port);
    link.row(&ROW);
    link.port.coming.extend(frame(&Request::Watch(true), 2));
    link.tick(&mut desk);
    link.row(&ROW);
    link.tick(&mut desk);
    assert_eq!(replies(&link.port.gone).len(), 2);

    // Nobody reads any more.
    link.port.takes = 0;
    for _ in 0..200 {
        link.row(&ROW);
        link.tick(&mut desk);
    }
    assert!(link.counts().rows_let_go > 150);
    link.port.coming.extend(frame(&Request::Stop, 3));
    link.tick(&mut desk);
    assert_eq!(desk.asked, ["Stop"], "a stop is heard all the same");

    link.port.takes = usize::MAX;
    link.port.coming.extend(frame(&Request::Watch(false), 4));
    link.tick(&mut desk);
    link.row(&ROW);
    link.tick(&mut desk);
    assert_eq!(replies(&port.gone).last().unwrap().0, 4);
}

#[test]
fn a_piece_too_long_for_a_frame_is_refused_not_sent_in_part() {
    let mut port = port();
    let mut desk = Keeper::default();
    port.coming.extend(frame(&Request::ReadBack { offset: 0 }, 1));
    Link::new(&mut port).tick(&mut desk);
    let refused = format!("{:?}", Reply::Refused(Refusal::PastTheEnd));
    assert_eq!(replies(&port.gone), [(1, refused)]);
}

#[test]
fn a_broken_port_is_counted_and_keeps_nobody() {
    let mut port = Port { broken: true, ..port() };
    let mut desk = Keeper::default();
    let mut link = Link::new(&mut port);
    for _ in 0..100_000 {
        link.tick(&mut desk);
    }
    assert_eq!(link.counts().port_errors, u16::MAX);
    link.port.broken = false;
    link.port.coming.extend(frame(&Request::Status, 1));
    link.tick(&mut desk);
    assert_eq!(desk.asked, ["Status"]);
}

#[test]
fn noise_for_an_hour_asks_nothing_of_the_desk() {
    let mut port = port();
    let mut desk = Keeper::default();
    let mut link = Link::new(&mut port);
    let mut state = 41_u64;
    for _ in 0..3600 {
        for _ in 0..1024 {
            // Marsaglia's xorshift.
            state ^= state << 13;
            state ^= state >> 7;
            state ^= state << 17;
            link.port.coming.push_back((state >> 32) as u8);
        }
        link.tick(&mut desk);
    }
    assert!(desk.asked.is_empty(), "{:?}", desk.asked);
    assert!(link.counts().rejected > 10_000);
}

#[test]
fn a_link_takes_little_of_the_memory_there_is() {
    let bytes = size_of::<Link<()>>();
    std::println!("a link takes {bytes} bytes");
    assert!(bytes <= 1536);
}
