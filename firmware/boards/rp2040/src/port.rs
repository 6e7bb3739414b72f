//! A port between the program and an interrupt: a ring of bytes in each direction.
//!
//! The program's end is [`Port`], embedded-io's traits that never wait. After whatever it asks, the
//! port is served as its interrupt would: what waits for room or for bytes goes on. A ring that is
//! full makes USB wait, and loses on a serial line; the link asks again for a damaged frame.

use core::fmt;
use core::sync::atomic::{AtomicBool, Ordering};
use embedded_io::{Error, ErrorKind, ErrorType, Read, ReadReady, Write, WriteReady};

/// Bytes from the computer: what 115,200 baud bring in 88 ms, and four of the longest frames.
const HEARD_BYTES: usize = 1024;
/// Bytes to it.
const SAID_BYTES: usize = 512;

/// A frame has ended on some port since [`take_heard`] was asked.
static HEARD: AtomicBool = AtomicBool::new(false);

/// Whether a frame has ended on some port since this was asked last.
pub fn take_heard() -> bool {
    let heard = HEARD.load(Ordering::Acquire);
    // One that ends just now is seen in the next tick.
    HEARD.store(false, Ordering::Release);
    heard
}

/// Bytes that are taken in the order they were put.
pub struct Ring<const BYTES: usize> {
    bytes: [u8; BYTES],
    from: usize,
    len: usize,
}

impl<const BYTES: usize> Ring<BYTES> {
    const fn new() -> Self {
        Self { bytes: [0; BYTES], from: 0, len: 0 }
    }

    /// Bytes there is room for.
    pub fn room(&self) -> usize {
        BYTES - self.len
    }

    /// Puts as many as there is room for; how many.
    pub fn put(&mut self, bytes: &[u8]) -> usize {
        let mut put = 0;
        while put < bytes.len() && self.len < BYTES {
            let at = (self.from + self.len) % BYTES;
            let end = if at < self.from { self.from } else { BYTES };
            let free = self.bytes.get_mut(at..end).unwrap_or_default();
            let copied = copy(free, bytes.get(put..).unwrap_or_default());
            self.len += copied;
            put += copied;
        }
        put
    }

    /// The first that were put, as far as they lie behind one another.
    pub fn first(&self) -> &[u8] {
        self.bytes.get(self.from..BYTES.min(self.from + self.len)).unwrap_or_default()
    }

    /// Takes the first ones away.
    pub fn drop_first(&mut self, bytes: usize) {
        let dropped = bytes.min(self.len);
        self.from = (self.from + dropped) % BYTES;
        self.len -= dropped;
    }

    /// Takes as many as there are or `out` has room for; how many.
    fn take(&mut self, out: &mut [u8]) -> usize {
        let mut taken = 0;
        while taken < out.len() && self.len > 0 {
            let copied = copy(out.get_mut(taken..).unwrap_or_default(), self.first());
            self.drop_first(copied);
            taken += copied;
        }
        taken
    }
}

fn copy(to: &mut [u8], from: &[u8]) -> usize {
    let len = to.len().min(from.len());
    if let (Some(to), Some(from)) = (to.get_mut(..len), from.get(..len)) {
        to.copy_from_slice(from);
    }
    len
}

/// The memory of one port.
pub struct Rings {
    /// From the computer.
    pub heard: Ring<HEARD_BYTES>,
    /// To it.
    pub said: Ring<SAID_BYTES>,
}

impl Rings {
    /// Empty.
    pub const fn new() -> Self {
        Self { heard: Ring::new(), said: Ring::new() }
    }

    /// Puts in bytes that came; what there is no room for is lost.
    pub fn hear(&mut self, bytes: &[u8]) {
        self.heard.put(bytes);
        if bytes.contains(&0) {
            HEARD.store(true, Ordering::Release);
        }
    }
}

/// What is done with a port's rings.
pub type Act<'a> = dyn FnMut(&mut Rings) + 'a;

/// The program's end: has something done with the rings while no interrupt does, then the port served.
pub struct Port(pub fn(&mut Act<'_>));

impl Port {
    fn ask<T>(&self, mut question: impl FnMut(&mut Rings) -> T) -> Option<T> {
        let mut answer = None;
        (self.0)(&mut |rings| answer = Some(question(rings)));
        answer
    }
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
        self.ask(|rings| rings.heard.len > 0).ok_or(NotReady)
    }
}

impl Read for Port {
    fn read(&mut self, out: &mut [u8]) -> Result<usize, NotReady> {
        let read = self.ask(|rings| rings.heard.take(out));
        read.filter(|read| *read > 0 || out.is_empty()).ok_or(NotReady)
    }
}

impl WriteReady for Port {
    fn write_ready(&mut self) -> Result<bool, NotReady> {
        self.ask(|rings| rings.said.room() > 0).ok_or(NotReady)
    }
}

impl Write for Port {
    fn write(&mut self, bytes: &[u8]) -> Result<usize, NotReady> {
        let written = self.ask(|rings| rings.said.put(bytes));
        written.filter(|written| *written > 0 || bytes.is_empty()).ok_or(NotReady)
    }

    /// Returns at once: the interrupt sends what is left.
    fn flush(&mut self) -> Result<(), NotReady> {
        self.ask(|_| ()).ok_or(NotReady)
    }
}
