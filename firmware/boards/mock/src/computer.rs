//! The computer's end of the link, and the board's port between them.

use crate::World;
use crate::outside::Act;
use embedded_io::{ErrorKind, ErrorType, Read, ReadReady, Write, WriteReady};
use truesoak_core::wire::PIECE_BYTES_MAX;
use truesoak_core::wire::frame::{Decoder, Frame, parse};
use truesoak_core::wire::messages::{Piece, Reply, Request};
use truesoak_core::wire::upload::{DIGEST, Outline};

/// The board's port.
#[derive(Debug)]
pub struct Port(pub(crate) World);

impl ErrorType for Port {
    type Error = ErrorKind;
}

impl ReadReady for Port {
    fn read_ready(&mut self) -> Result<bool, ErrorKind> {
        Ok(self.0.look(|outside| !outside.to_board.is_empty()))
    }
}

impl Read for Port {
    fn read(&mut self, bytes: &mut [u8]) -> Result<usize, ErrorKind> {
        Ok(self.0.change(|outside| {
            let len = bytes.len().min(outside.to_board.len());
            for (place, byte) in bytes.iter_mut().zip(outside.to_board.drain(..len)) {
                *place = byte;
            }
            len
        }))
    }
}

impl WriteReady for Port {
    fn write_ready(&mut self) -> Result<bool, ErrorKind> {
        Ok(true)
    }
}

impl Write for Port {
    fn write(&mut self, bytes: &[u8]) -> Result<usize, ErrorKind> {
        self.0.change(|outside| {
            outside.from_board.extend(bytes);
            outside.note(Act::Says);
        });
        Ok(bytes.len())
    }

    fn flush(&mut self) -> Result<(), ErrorKind> {
        Ok(())
    }
}

/// A reply, its bytes owned.
#[derive(Clone, Debug, PartialEq)]
pub enum Heard {
    /// A piece of something longer.
    Piece(u32, Vec<u8>),
    /// Any other.
    Other(Reply<'static>),
}

/// A computer that asks.
#[derive(Debug)]
pub struct Computer {
    world: World,
    decoder: Decoder,
    number: u8,
}

impl Computer {
    /// At the board's port.
    #[must_use]
    pub fn new(world: &World) -> Self {
        Self { world: world.clone(), decoder: Decoder::default(), number: 0 }
    }

    /// Sends a request; its number.
    ///
    /// # Panics
    /// If the request does not fit a frame.
    pub fn send(&mut self, request: &Request<'_>) -> u8 {
        self.number = self.number.checked_add(1).unwrap_or(1);
        let frame = Frame::of(request, self.number).expect("a request fits");
        self.world.change(|outside| outside.to_board.extend(frame.bytes()));
        self.number
    }

    /// What came from the board, each with its number.
    ///
    /// # Panics
    /// If the board sends what is no reply.
    pub fn hear(&mut self) -> Vec<(u8, Heard)> {
        let bytes = self.world.change(|outside| std::mem::take(&mut outside.from_board));
        let mut heard = Vec::new();
        for byte in bytes {
            if let Some(content) = self.decoder.push(byte) {
                let content = content.expect("a whole frame");
                let (reply, number) = parse::<Reply<'_>>(content).expect("a reply");
                heard.push((number, owned(reply)));
            }
        }
        heard
    }

    /// Asks and waits for the reply, letting the board go on by `tick`.
    ///
    /// # Panics
    /// If none comes within 50 rounds.
    pub fn ask(&mut self, request: &Request<'_>, mut tick: impl FnMut()) -> Heard {
        let number = self.send(request);
        for _ in 0..50 {
            tick();
            if let Some((_, reply)) = self.hear().into_iter().find(|(of, _)| *of == number) {
                return reply;
            }
        }
        panic!("no reply to {request:?}");
    }

    /// Sends a whole document; the reply to what ended it.
    pub fn upload(&mut self, outline: Outline, bytes: &[u8], mut tick: impl FnMut()) -> Heard {
        let begun = self.ask(&Request::Begin(outline), &mut tick);
        if begun != Heard::Other(Reply::Done) {
            return begun;
        }
        for (index, piece) in bytes.chunks(PIECE_BYTES_MAX).enumerate() {
            let offset = (index * PIECE_BYTES_MAX) as u32;
            let taken = self.ask(&Request::Piece(Piece { offset, bytes: piece }), &mut tick);
            if taken != Heard::Other(Reply::Done) {
                return taken;
            }
        }
        self.ask(&Request::Commit, &mut tick)
    }

    /// Fetches all of a stored bake.
    ///
    /// # Panics
    /// If the pieces do not follow each other.
    pub fn fetch(&mut self, bake: u32, mut tick: impl FnMut()) -> Vec<u8> {
        let mut bytes: Vec<u8> = Vec::new();
        loop {
            let offset = bytes.len() as u32;
            match self.ask(&Request::Fetch { bake, offset }, &mut tick) {
                Heard::Piece(at, piece) => {
                    assert_eq!(at, offset, "a piece that follows");
                    bytes.extend(piece);
                }
                Heard::Other(_) => return bytes,
            }
        }
    }
}

/// A document of these parts, and its outline.
#[must_use]
pub fn document(bake: &str, oven: &str, load: &str, compiled: &[u8]) -> (Outline, Vec<u8>) {
    let mut bytes = Vec::new();
    for part in [bake.as_bytes(), oven.as_bytes(), load.as_bytes(), compiled] {
        bytes.extend(part);
    }
    let outline = Outline {
        bake_bytes: bake.len() as u16,
        oven_bytes: oven.len() as u16,
        load_bytes: load.len() as u16,
        compiled_bytes: compiled.len() as u16,
        digest: DIGEST.checksum(&bytes),
        ..Outline::default()
    };
    (outline, bytes)
}

fn owned(reply: Reply<'_>) -> Heard {
    match reply {
        Reply::Piece(piece) => Heard::Piece(piece.offset, piece.bytes.to_vec()),
        Reply::Hello(hello) => Heard::Other(Reply::Hello(truesoak_core::wire::messages::Hello {
            product: "truesoak",
            ..hello
        })),
        Reply::Status(status) => Heard::Other(Reply::Status(status)),
        Reply::Done => Heard::Other(Reply::Done),
        Reply::AwaitsGo(left_s) => Heard::Other(Reply::AwaitsGo(left_s)),
        Reply::Refused(refusal) => Heard::Other(Reply::Refused(refusal)),
        Reply::Document(outline) => Heard::Other(Reply::Document(outline)),
        Reply::Settings(settings) => Heard::Other(Reply::Settings(settings)),
        Reply::Bakes(bakes) => Heard::Other(Reply::Bakes(bakes)),
        Reply::Row(row) => Heard::Other(Reply::Row(row)),
        Reply::Readiness(readiness) => Heard::Other(Reply::Readiness(readiness)),
    }
}
