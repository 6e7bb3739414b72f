//! The board's end of the link: requests in, replies out, never waiting for either.
//!
//! [`Link::tick`] takes what the port has, at most [`TAKEN_MAX`] bytes of it, and hands over what
//! the port takes. A frame's reply is made at once, so nothing is taken while there is no room for
//! one: the rest waits in the port, and what the port then loses is a damaged frame, which its
//! sender asks for again. Rows are let go rather than replies.
//!
//! Terms: the *desk* is whoever answers requests; *unsent* is what the port has not taken yet.
//! A call makes at most [`REPLIES_MAX`] replies. It never blocks, provided that the port answers
//! `read_ready` and `write_ready` truly. Refused is what `truesoak_core::wire::frame` refuses.

#[cfg(test)]
mod tests;

use embedded_io::{Read, ReadReady, Write, WriteReady};
use heapless::Deque;
use truesoak_core::wire::FRAME_BYTES_MAX;
use truesoak_core::wire::frame::{Decoder, Frame, Message, parse};
use truesoak_core::wire::messages::{LiveRow, Reply, Request};
use truesoak_core::wire::refusal::Refusal;

/// Most bytes taken from the port in one tick.
pub const TAKEN_MAX: usize = 1024;
/// Most replies in one tick: as many as there is room for.
pub const REPLIES_MAX: usize = 4;
/// Room for what the port has not taken yet.
const UNSENT_BYTES: usize = REPLIES_MAX * FRAME_BYTES_MAX;
/// Bytes read from the port at once: a packet of full-speed USB.
const INBOX_BYTES: usize = 64;

/// Whoever answers requests.
pub trait Desk {
    /// Does what is asked, or refuses it; within the time of a tick.
    fn answer<'a>(&'a mut self, request: &Request<'_>) -> Reply<'a>;
}

/// What went by the board; each stands at its greatest.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Counts {
    /// Frames that were not taken.
    pub rejected: u16,
    /// Rows the port had no room for.
    pub rows_let_go: u16,
    /// Errors of the port.
    pub port_errors: u16,
}

/// One port.
#[derive(Debug)]
pub struct Link<Port> {
    port: Port,
    decoder: Decoder,
    inbox: Deque<u8, INBOX_BYTES>,
    unsent: Deque<u8, UNSENT_BYTES>,
    counts: Counts,
    watched: bool,
}

impl<Port: Read + ReadReady + Write + WriteReady> Link<Port> {
    /// Takes a port, with nothing said on it.
    pub fn new(port: Port) -> Self {
        Self {
            port,
            decoder: Decoder::default(),
            inbox: Deque::new(),
            unsent: Deque::new(),
            counts: Counts::default(),
            watched: false,
        }
    }

    /// One tick.
    pub fn tick(&mut self, desk: &mut impl Desk) {
        self.send();
        let mut left = TAKEN_MAX;
        while left > 0 && has_room(&self.unsent, 1) {
            let Some(byte) = self.next(left) else { break };
            self.hear(byte, desk);
            left -= 1;
        }
        self.send();
    }

    /// A row of the running bake; goes out if somebody watches and there is room, a reply's left.
    pub fn row(&mut self, row: &LiveRow) {
        if !self.watched {
            return;
        }
        let frame = Frame::of(&Reply::Row(*row), 0);
        match frame {
            Ok(frame) if has_room(&self.unsent, 2) => put(&mut self.unsent, frame.bytes()),
            _ => count(&mut self.counts.rows_let_go),
        }
    }

    /// What went by the board so far.
    #[must_use]
    pub fn counts(&self) -> Counts {
        self.counts
    }

    /// Hands over what the port takes; also between ticks, where there is time.
    pub fn send(&mut self) {
        while !self.unsent.is_empty() {
            match self.port.write_ready() {
                Ok(true) => {}
                Ok(false) => return,
                Err(_) => return count(&mut self.counts.port_errors),
            }
            let (ahead, behind) = self.unsent.as_slices();
            let next = if ahead.is_empty() { behind } else { ahead };
            match self.port.write(next) {
                Ok(0) => return,
                Ok(sent) => {
                    for _ in 0..sent.min(next.len()) {
                        let _ = self.unsent.pop_front();
                    }
                }
                Err(_) => return count(&mut self.counts.port_errors),
            }
        }
    }

    /// The next byte that has come, with at most `left` more asked of the port.
    fn next(&mut self, left: usize) -> Option<u8> {
        if self.inbox.is_empty() {
            match self.port.read_ready() {
                Ok(true) => {}
                Ok(false) => return None,
                Err(_) => {
                    count(&mut self.counts.port_errors);
                    return None;
                }
            }
            let mut packet = [0; INBOX_BYTES];
            match self.port.read(packet.get_mut(..left.min(INBOX_BYTES))?) {
                Ok(len) => put(&mut self.inbox, packet.get(..len)?),
                Err(_) => count(&mut self.counts.port_errors),
            }
        }
        self.inbox.pop_front()
    }

    fn hear(&mut self, byte: u8, desk: &mut impl Desk) {
        let Self { decoder, unsent, counts, watched, .. } = self;
        match decoder.push(byte) {
            None => {}
            Some(Err(_)) => count(&mut counts.rejected),
            Some(Ok(content)) => match parse::<Request<'_>>(content) {
                Ok((Request::Watch(wanted), number)) => {
                    *watched = wanted;
                    post(unsent, &Reply::Done, number);
                }
                Ok((request, number)) => post(unsent, &desk.answer(&request), number),
                Err(reject) => {
                    count(&mut counts.rejected);
                    post(unsent, &Reply::Refused(Refusal::Frame(reject)), 0);
                }
            },
        }
    }
}

/// There is room for so many of the longest frames.
fn has_room(unsent: &Deque<u8, UNSENT_BYTES>, frames: usize) -> bool {
    UNSENT_BYTES - unsent.len() >= frames * FRAME_BYTES_MAX
}

/// Puts bytes behind the others; there is room for them.
fn put<const BYTES: usize>(queue: &mut Deque<u8, BYTES>, bytes: &[u8]) {
    for byte in bytes {
        let _ = queue.push_back(*byte);
    }
}

/// Puts a reply where [`has_room`] found room for it.
fn post<'a>(unsent: &mut Deque<u8, UNSENT_BYTES>, reply: &Reply<'a>, number: u8) {
    // A piece too long for a frame is the desk's mistake; its sender is told that there is none.
    let frame = frame_of(reply, number).or_else(|| frame_of(&PAST_THE_END, number));
    if let Some(frame) = frame {
        put(unsent, frame.bytes());
    }
}

const PAST_THE_END: Reply<'static> = Reply::Refused(Refusal::PastTheEnd);

fn frame_of<'a>(message: &impl Message<'a>, number: u8) -> Option<Frame> {
    Frame::of(message, number).ok()
}

fn count(counter: &mut u16) {
    *counter = counter.saturating_add(1);
}
