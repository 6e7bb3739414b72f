//! Two ports as one: whoever was heard last has the floor.
//!
//! A reply goes to the port its request came from. The other port is heard once the one with the
//! floor has said nothing for [`SILENCE_US`]; till then its bytes wait in its ring. One computer at a
//! time is what the link is for.

use crate::port::{NotReady, Port};
use embedded_io::{ErrorType, Read, ReadReady, Write, WriteReady};
use rp2040_hal::Timer;

/// Longer than a tick and its replies take, shorter than a person notices.
const SILENCE_US: u64 = 300_000;

/// Both ports.
pub struct Floor {
    has_it: Port,
    waits: Port,
    timer: Timer,
    heard_us: u64,
    /// The floor has passed on; what was begun before is no frame any more.
    passed: bool,
}

impl Floor {
    /// The first port has the floor.
    pub fn new(first: Port, second: Port, timer: Timer) -> Self {
        Self { has_it: first, waits: second, timer, heard_us: 0, passed: false }
    }

    fn now_us(&self) -> u64 {
        self.timer.get_counter().ticks()
    }
}

impl ErrorType for Floor {
    type Error = NotReady;
}

impl ReadReady for Floor {
    fn read_ready(&mut self) -> Result<bool, NotReady> {
        if self.has_it.read_ready()? {
            return Ok(true);
        }
        let silent = self.now_us().saturating_sub(self.heard_us) >= SILENCE_US;
        if silent && self.waits.read_ready()? {
            core::mem::swap(&mut self.has_it, &mut self.waits);
            self.passed = true;
            return Ok(true);
        }
        Ok(false)
    }
}

impl Read for Floor {
    fn read(&mut self, out: &mut [u8]) -> Result<usize, NotReady> {
        self.heard_us = self.now_us();
        match out.first_mut() {
            Some(end) if core::mem::take(&mut self.passed) => {
                // A zero ends whatever frame the other had begun.
                *end = 0;
                Ok(1)
            }
            _ => self.has_it.read(out),
        }
    }
}

impl WriteReady for Floor {
    fn write_ready(&mut self) -> Result<bool, NotReady> {
        self.has_it.write_ready()
    }
}

impl Write for Floor {
    fn write(&mut self, bytes: &[u8]) -> Result<usize, NotReady> {
        self.has_it.write(bytes)
    }

    fn flush(&mut self) -> Result<(), NotReady> {
        self.has_it.flush()
    }
}
