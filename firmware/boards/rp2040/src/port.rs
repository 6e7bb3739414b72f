//! A port between the program and an interrupt: two rings, one writer and one reader each.
//!
//! The program's end is [`Port`], embedded-io's traits that never wait; the interrupt's is
//! [`Wires`]. Whatever the program asks of its end, the port is served first, as the interrupt would:
//! what waits for room or for bytes goes on. A ring that is full makes USB wait, and loses on a
//! serial line; the link asks again for a damaged frame.

use core::fmt;
use core::sync::atomic::{AtomicBool, Ordering};
use embedded_io::{Error, ErrorKind, ErrorType, Read, ReadReady, Write, WriteReady};
use heapless::spsc::{Consumer, Producer, Queue};

/// Bytes from the computer, less one: what 115,200 baud bring in 88 ms, and four of the longest frames.
const HEARD_BYTES: usize = 1024 + 1;
/// Bytes to it, less one.
const SAID_BYTES: usize = 512 + 1;

/// A frame has ended on some port since [`take_heard`] was asked.
static HEARD: AtomicBool = AtomicBool::new(false);

/// Whether a frame has ended on some port since this was asked last.
pub fn take_heard() -> bool {
    let heard = HEARD.load(Ordering::Acquire);
    // One that ends just now is seen in the next tick.
    HEARD.store(false, Ordering::Release);
    heard
}

/// The memory of one port.
pub struct Rings {
    heard: Queue<u8, HEARD_BYTES>,
    said: Queue<u8, SAID_BYTES>,
}

impl Rings {
    /// Empty.
    pub const fn new() -> Self {
        Self { heard: Queue::new(), said: Queue::new() }
    }

    /// The program's end and the interrupt's, which `serve` moves bytes at.
    pub fn split(&'static mut self, serve: fn()) -> (Port, Wires) {
        let (hears, heard) = self.heard.split();
        let (said, says) = self.said.split();
        (Port { heard, said, serve }, Wires { hears, says })
    }
}

/// The interrupt's end.
pub struct Wires {
    /// Takes what has come in.
    pub hears: Producer<'static, u8>,
    /// Gives what is to go out.
    pub says: Consumer<'static, u8>,
}

impl Wires {
    /// Room for bytes that come in.
    pub fn room(&self) -> usize {
        self.hears.capacity() - self.hears.len()
    }

    /// Puts in bytes that came; what there is no room for is lost.
    pub fn hear(&mut self, bytes: &[u8]) {
        for byte in bytes {
            let _ = self.hears.enqueue(*byte);
        }
        if bytes.contains(&0) {
            HEARD.store(true, Ordering::Release);
        }
    }
}

/// The program's end.
pub struct Port {
    heard: Consumer<'static, u8>,
    said: Producer<'static, u8>,
    serve: fn(),
}

/// Nothing has come, or nothing more goes out: ask `read_ready` or `write_ready` first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NotReady;

impl fmt::Display for NotReady {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("the port is not ready")
    }
}

impl core::error::Error for NotReady {}

impl Error for NotReady {
    fn kind(&self) -> ErrorKind {
        ErrorKind::Other
    }
}

impl ErrorType for Port {
    type Error = NotReady;
}

impl ReadReady for Port {
    fn read_ready(&mut self) -> Result<bool, NotReady> {
        (self.serve)();
        Ok(self.heard.ready())
    }
}

impl Read for Port {
    fn read(&mut self, out: &mut [u8]) -> Result<usize, NotReady> {
        let mut read = 0;
        for (place, byte) in out.iter_mut().zip(core::iter::from_fn(|| self.heard.dequeue())) {
            *place = byte;
            read += 1;
        }
        (self.serve)();
        if read == 0 && !out.is_empty() { Err(NotReady) } else { Ok(read) }
    }
}

impl WriteReady for Port {
    fn write_ready(&mut self) -> Result<bool, NotReady> {
        (self.serve)();
        Ok(self.said.ready())
    }
}

impl Write for Port {
    fn write(&mut self, bytes: &[u8]) -> Result<usize, NotReady> {
        let written = bytes.iter().take_while(|byte| self.said.enqueue(**byte).is_ok()).count();
        (self.serve)();
        if written == 0 && !bytes.is_empty() { Err(NotReady) } else { Ok(written) }
    }

    /// Returns at once: the interrupt sends what is left.
    fn flush(&mut self) -> Result<(), NotReady> {
        (self.serve)();
        Ok(())
    }
}
