//! Requests to a board and its replies, over an open port.
//!
//! Each request has a number and waits for the reply with the same. What may be asked twice is asked
//! again when its reply does not come; a command is not, for the board may have done it. Frames that
//! were damaged, rows nobody asked for here and late replies are passed over. A longer thing is
//! pulled with several requests under way, since a board answers once a tick.

use super::fault::LinkError;
use super::port::Port;
use std::collections::{BTreeMap, VecDeque};
use std::io::{ErrorKind, Read as _, Write as _};
use std::ops::Range;
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};
use truesoak_core::wire::frame::{Decoder, Frame, Reject, parse};
use truesoak_core::wire::messages::{Capabilities, PRODUCT, Piece, Reply, Request};
use truesoak_core::wire::refusal::Refusal;
use truesoak_core::wire::{PIECE_BYTES_MAX, VERSION};

/// A reply is waited for so long …
const REPLY: Duration = Duration::from_secs(1);
/// … so many times, where the request may be sent again.
const TRIES: u32 = 4;
/// Requests of one transfer under way; a board has room for as many replies.
const UNDER_WAY: usize = 4;
/// Reads of what an earlier program left behind: a few kilobytes.
const DRAINS: usize = 8;
/// Bytes asked of a port at once.
const READ_BYTES: usize = 1024;

/// Who a board says it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Greeting {
    /// Version of its program: major, minor, patch.
    pub firmware: [u8; 3],
    /// Its own number.
    pub board: [u8; 8],
    /// What it can do.
    pub capabilities: Capabilities,
}

impl Greeting {
    /// No oven hangs on it.
    #[must_use]
    pub fn is_virtual(&self) -> bool {
        self.capabilities.has(Capabilities::VIRTUAL)
    }

    /// Its number as a person reads it: 16 hex digits.
    #[must_use]
    pub fn board_name(&self) -> String {
        self.board.iter().map(|byte| format!("{byte:02x}")).collect()
    }

    /// Version of its program as a person reads it.
    #[must_use]
    pub fn firmware_name(&self) -> String {
        self.firmware.map(|part| part.to_string()).join(".")
    }
}

/// An open port with a board behind it.
pub struct Client {
    port: Box<dyn Port>,
    decoder: Decoder,
    came: VecDeque<u8>,
    number: u8,
}

/// Where a program begins to count its requests: not where the last one did, whose answers may come
/// late.
fn any_number() -> u8 {
    let now = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
    (now.subsec_micros() % u32::from(u8::MAX)) as u8
}

impl Client {
    /// Greets whoever is behind a port, and tells it the time.
    ///
    /// # Errors
    /// Silence, something else than a board, another version.
    pub fn greet(port: Box<dyn Port>, unix_s: Option<u32>) -> Result<(Self, Greeting), LinkError> {
        let mut client =
            Self { port, decoder: Decoder::default(), came: VecDeque::new(), number: any_number() };
        // What an earlier program was sent and did not read is no answer to this one.
        client.drain()?;
        // Ends whatever the board may have heard in part.
        client.write(&[0])?;
        let greeting = client.ask(&Request::Hello { unix_s }, |reply| match reply {
            Reply::Hello(hello) if hello.product != PRODUCT => {
                Some(Err(LinkError::NotABoard(hello.product.to_owned())))
            }
            Reply::Hello(hello) => Some(Ok(Greeting {
                firmware: hello.firmware,
                board: hello.board,
                capabilities: hello.capabilities,
            })),
            _ => None,
        })??;
        Ok((client, greeting))
    }

    /// Asks what may be asked again, and hands the reply to `read`, which gives `None` for one of
    /// another kind.
    ///
    /// # Errors
    /// A refusal, silence, another kind of reply.
    pub fn ask<T>(
        &mut self,
        request: &Request<'_>,
        mut read: impl FnMut(&Reply<'_>) -> Option<T>,
    ) -> Result<T, LinkError> {
        for _ in 0..TRIES {
            if let Some(answer) = self.exchange(request, &mut read)? {
                return Ok(answer);
            }
        }
        Err(silent())
    }

    /// Asks once: what the board would do a second time is not sent a second time.
    ///
    /// # Errors
    /// As [`Client::ask`]; after silence nobody knows whether it was done.
    pub fn command<T>(
        &mut self,
        request: &Request<'_>,
        mut read: impl FnMut(&Reply<'_>) -> Option<T>,
    ) -> Result<T, LinkError> {
        self.exchange(request, &mut read)?.ok_or_else(silent)
    }

    /// A request that is only to be done.
    ///
    /// # Errors
    /// As [`Client::ask`].
    pub fn done(&mut self, request: &Request<'_>) -> Result<(), LinkError> {
        self.ask(request, |reply| matches!(reply, Reply::Done).then_some(()))
    }

    /// Pulls bytes `range` of something longer and hands them on in order; gives where it stopped,
    /// which is before the end if the board has no more.
    ///
    /// # Errors
    /// A refusal other than that nothing is stored there, silence.
    pub fn pull(
        &mut self,
        range: Range<u32>,
        ask: impl Fn(u32) -> Request<'static>,
        mut take: impl FnMut(&[u8]),
    ) -> Result<u32, LinkError> {
        let mut pull = Pull { at: range.start, end: range.end, ..Pull::default() };
        let mut silences = 0;
        while pull.at < pull.end && !crate::interrupt::asked() {
            while let Some(offset) = pull.next() {
                let number = self.send(&ask(offset))?;
                pull.under_way.push((number, offset));
            }
            let until = Instant::now() + REPLY;
            let heard = self.receive(until, |number, reply| pull.hear(number, reply, &mut take))?;
            match heard {
                Some(refused) => refused?,
                None => {
                    pull.under_way.clear();
                    silences += 1;
                    if silences == TRIES {
                        return Err(silent());
                    }
                    continue;
                }
            }
            silences = 0;
        }
        if crate::interrupt::asked() { Err(LinkError::Interrupted) } else { Ok(pull.at) }
    }

    fn exchange<T>(
        &mut self,
        request: &Request<'_>,
        read: &mut impl FnMut(&Reply<'_>) -> Option<T>,
    ) -> Result<Option<T>, LinkError> {
        let wanted = self.send(request)?;
        let until = Instant::now() + REPLY;
        let answer = self.receive(until, |number, reply| {
            if number != wanted {
                return None;
            }
            Some(match reply {
                Reply::Refused(refusal) => Err(LinkError::Refused(*refusal)),
                reply => read(reply).ok_or_else(|| LinkError::Unexpected(kind_of(reply))),
            })
        })?;
        answer.transpose()
    }

    fn send(&mut self, request: &Request<'_>) -> Result<u8, LinkError> {
        // 0 is for what nobody asked for.
        self.number = self.number.checked_add(1).unwrap_or(1);
        let frame = Frame::of(request, self.number);
        let frame = frame.map_err(|_| LinkError::Unexpected("a request too long".to_owned()))?;
        self.write(frame.bytes())?;
        Ok(self.number)
    }

    fn write(&mut self, bytes: &[u8]) -> Result<(), LinkError> {
        self.port.write_all(bytes)?;
        self.port.flush()?;
        Ok(())
    }

    /// Listens until `hear` gives something, or the time is over.
    fn receive<T>(
        &mut self,
        until: Instant,
        mut hear: impl FnMut(u8, &Reply<'_>) -> Option<T>,
    ) -> Result<Option<T>, LinkError> {
        loop {
            while let Some(byte) = self.came.pop_front() {
                let Some(Ok(content)) = self.decoder.push(byte) else { continue };
                let version = content.first().copied();
                match parse::<Reply<'_>>(content) {
                    Ok((Reply::Refused(Refusal::Frame(Reject::UnknownVersion)), 0)) => {
                        return Err(LinkError::OtherVersion);
                    }
                    Ok((reply, number)) => {
                        if let Some(heard) = hear(number, &reply) {
                            return Ok(Some(heard));
                        }
                    }
                    Err(Reject::UnknownVersion) if version != Some(VERSION) => {
                        return Err(LinkError::OtherVersion);
                    }
                    Err(_) => {}
                }
            }
            if Instant::now() >= until {
                return Ok(None);
            }
            self.read()?;
        }
    }

    /// Throws away what is there already; a board that says something all the time is heard after.
    fn drain(&mut self) -> Result<(), LinkError> {
        for _ in 0..DRAINS {
            let before = self.came.len();
            self.read()?;
            if self.came.len() == before {
                break;
            }
        }
        self.came.clear();
        Ok(())
    }

    fn read(&mut self) -> Result<(), LinkError> {
        let mut bytes = [0; READ_BYTES];
        match self.port.read(&mut bytes) {
            Ok(0) => Err(LinkError::Lost("the connection was closed".to_owned())),
            Ok(len) => {
                self.came.extend(bytes.iter().take(len));
                Ok(())
            }
            Err(error) if passes(error.kind()) => Ok(()),
            Err(error) => Err(error.into()),
        }
    }
}

/// Nothing came in this moment.
fn passes(kind: ErrorKind) -> bool {
    matches!(kind, ErrorKind::TimedOut | ErrorKind::WouldBlock | ErrorKind::Interrupted)
}

fn silent() -> LinkError {
    LinkError::Lost("nothing came back".to_owned())
}

/// The word of a reply, for a message.
fn kind_of(reply: &Reply<'_>) -> String {
    let shown = format!("{reply:?}");
    shown.split(|sign: char| !sign.is_alphanumeric()).next().unwrap_or_default().to_owned()
}

/// A transfer under way.
#[derive(Default)]
struct Pull {
    /// Everything before has been handed on.
    at: u32,
    end: u32,
    /// Number and offset of requests without a reply.
    under_way: Vec<(u8, u32)>,
    /// Pieces that came before their turn.
    early: BTreeMap<u32, Vec<u8>>,
}

impl Pull {
    /// The next offset to ask for, while there is room for another request.
    fn next(&self) -> Option<u32> {
        if self.under_way.len() >= UNDER_WAY {
            return None;
        }
        let piece = PIECE_BYTES_MAX as u32;
        let mut offset = self.at;
        for _ in 0..UNDER_WAY {
            let asked = self.under_way.iter().any(|(_, known)| *known == offset);
            if offset < self.end && !asked && !self.early.contains_key(&offset) {
                return Some(offset);
            }
            offset = offset.saturating_add(piece);
        }
        None
    }

    /// Takes a reply to one of its requests.
    fn hear(
        &mut self,
        number: u8,
        reply: &Reply<'_>,
        take: &mut impl FnMut(&[u8]),
    ) -> Option<Result<(), LinkError>> {
        let place = self.under_way.iter().position(|(known, _)| *known == number)?;
        let (_, asked) = self.under_way.swap_remove(place);
        Some(match reply {
            Reply::Piece(Piece { bytes: [], .. }) | Reply::Refused(Refusal::PastTheEnd) => {
                self.end = self.end.min(asked.max(self.at));
                Ok(())
            }
            Reply::Piece(piece) if piece.offset == asked => {
                self.early.insert(asked, piece.bytes.to_vec());
                self.hand_on(take);
                Ok(())
            }
            Reply::Refused(refusal) => Err(LinkError::Refused(*refusal)),
            other => Err(LinkError::Unexpected(kind_of(other))),
        })
    }

    fn hand_on(&mut self, take: &mut impl FnMut(&[u8])) {
        while let Some((offset, bytes)) = self.early.pop_first() {
            if offset > self.at {
                self.early.insert(offset, bytes);
                return;
            }
            let known = (self.at - offset) as usize;
            let left = (self.end - self.at) as usize;
            let fresh = bytes.get(known..).unwrap_or(&[]);
            let fresh = fresh.get(..left).unwrap_or(fresh);
            take(fresh);
            self.at += fresh.len() as u32;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A board that gives so many bytes at most, in whatever order its replies come.
    fn pulled(end: u32, has: u32, at_most: u32, backwards: bool) -> (u32, Vec<u8>, u32) {
        let mut pull = Pull { at: 3, end, ..Pull::default() };
        let mut bytes = Vec::new();
        let mut number = 0_u8;
        let mut replies = 0;
        while pull.at < pull.end {
            while let Some(offset) = pull.next() {
                number = number.wrapping_add(1);
                pull.under_way.push((number, offset));
            }
            let place = if backwards { pull.under_way.len() - 1 } else { 0 };
            let (number, offset) = pull.under_way[place];
            let piece: Vec<u8> = (offset..has.min(offset + at_most)).map(|at| at as u8).collect();
            let reply = Reply::Piece(Piece { offset, bytes: &piece });
            pull.hear(number, &reply, &mut |fresh| bytes.extend_from_slice(fresh))
                .unwrap()
                .unwrap();
            replies += 1;
            assert!(replies < 10_000, "it does not end");
        }
        (pull.at, bytes, replies)
    }

    #[test]
    fn a_transfer_is_whole_and_in_order_whatever_the_pieces_are() {
        for at_most in [224, 223, 100, 17, 1] {
            for backwards in [false, true] {
                let (at, bytes, _) = pulled(2_000, 5_000, at_most, backwards);
                let expected: Vec<u8> = (3..2_000).map(|at| at as u8).collect();
                assert_eq!((at, bytes), (2_000, expected), "{at_most} {backwards}");
            }
        }
    }

    #[test]
    fn a_transfer_ends_where_the_board_has_no_more() {
        let (at, bytes, _) = pulled(u32::MAX, 1_000, 224, false);
        assert_eq!((at, bytes.len()), (1_000, 997));
    }

    #[test]
    fn whole_pieces_are_asked_for_once() {
        let (_, _, replies) = pulled(3 + 10 * 224, 5_000, 224, true);
        assert_eq!(replies, 10);
    }
}
