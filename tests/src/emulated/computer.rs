//! The computer at the other end of the cable: requests into frames, frames into replies.

use truesoak_core::wire::PIECE_BYTES_MAX;
use truesoak_core::wire::frame::{Decoder, Frame, parse};
use truesoak_core::wire::messages::{Hello, PRODUCT, Piece, Reply, Request};
use truesoak_core::wire::upload::{DIGEST, Outline};

/// A reply, its bytes owned.
#[derive(Clone, Debug, PartialEq)]
pub enum Heard {
    /// A piece of something longer, and where it begins.
    Piece(u32, Vec<u8>),
    /// Any other.
    Other(Reply<'static>),
    /// A frame that is no reply.
    Damaged,
}

/// One end of the link.
#[derive(Debug, Default)]
pub struct Computer {
    decoder: Decoder,
    number: u8,
    heard: Vec<(u8, Heard)>,
}

impl Computer {
    /// A request's frame; its number.
    ///
    /// # Panics
    /// A request that no frame holds.
    pub fn frame(&mut self, request: &Request<'_>) -> (Vec<u8>, u8) {
        self.number = self.number.checked_add(1).unwrap_or(1);
        let frame = Frame::of(request, self.number).expect("every request fits a frame");
        (frame.bytes().to_vec(), self.number)
    }

    /// Takes bytes that came from the board.
    pub fn hear(&mut self, bytes: &[u8]) {
        for byte in bytes {
            let heard = match self.decoder.push(*byte) {
                None => continue,
                Some(Err(_)) => (0, Heard::Damaged),
                Some(Ok(content)) => match parse::<Reply<'_>>(content) {
                    Ok((reply, number)) => (number, owned(reply)),
                    Err(_) => (0, Heard::Damaged),
                },
            };
            self.heard.push(heard);
        }
    }

    /// The reply of that number, if it has come.
    pub fn reply(&mut self, number: u8) -> Option<Heard> {
        let at = self.heard.iter().position(|(of, _)| *of == number)?;
        Some(self.heard.remove(at).1)
    }

    /// Everything that has come and nobody took.
    pub fn take(&mut self) -> Vec<(u8, Heard)> {
        std::mem::take(&mut self.heard)
    }

    /// The cable was pulled: what had come in part is nothing.
    pub fn forget(&mut self) {
        self.decoder = Decoder::default();
        self.heard.clear();
    }
}

fn owned(reply: Reply<'_>) -> Heard {
    Heard::Other(match reply {
        Reply::Piece(piece) => return Heard::Piece(piece.offset, piece.bytes.to_vec()),
        Reply::Hello(hello) if hello.product == PRODUCT => {
            Reply::Hello(Hello { product: PRODUCT, ..hello })
        }
        Reply::Hello(_) => return Heard::Damaged,
        Reply::Status(status) => Reply::Status(status),
        Reply::Done => Reply::Done,
        Reply::AwaitsGo(left_s) => Reply::AwaitsGo(left_s),
        Reply::Refused(refusal) => Reply::Refused(refusal),
        Reply::Document(outline) => Reply::Document(outline),
        Reply::Settings(settings) => Reply::Settings(settings),
        Reply::Readiness(readiness) => Reply::Readiness(readiness),
        Reply::Bakes(bakes) => Reply::Bakes(bakes),
        Reply::Row(row) => Reply::Row(row),
    })
}

/// A document of these parts, as a computer sends it.
#[derive(Clone, Debug)]
pub struct Document {
    /// What it is announced as.
    pub outline: Outline,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

impl Document {
    /// The three files as written, and what was compiled from them.
    ///
    /// # Panics
    /// Files that no board has room for.
    #[must_use]
    pub fn of(texts: [&str; 3], compiled: &[u8]) -> Self {
        let [bake, oven, load] = texts.map(str::as_bytes);
        let bytes = [bake, oven, load, compiled].concat();
        let length = |part: &[u8]| u16::try_from(part.len()).expect("a part of 64 KiB at most");
        let outline = Outline {
            bake_bytes: length(bake),
            oven_bytes: length(oven),
            load_bytes: length(load),
            compiled_bytes: length(compiled),
            digest: DIGEST.checksum(&bytes),
            ..Outline::default()
        };
        Self { outline, bytes }
    }

    /// The requests that send it.
    #[must_use]
    pub fn requests(&self) -> Vec<Request<'_>> {
        let mut requests = vec![Request::Begin(self.outline)];
        for (index, bytes) in self.bytes.chunks(PIECE_BYTES_MAX).enumerate() {
            let offset = (index * PIECE_BYTES_MAX) as u32;
            requests.push(Request::Piece(Piece { offset, bytes }));
        }
        requests.push(Request::Commit);
        requests
    }
}
