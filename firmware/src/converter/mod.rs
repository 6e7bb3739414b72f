//! Sensor converters: from the bytes on the wire to what the core judges.
//!
//! | chip | sensor | linear by | open and short seen by | SPI mode |
//! |---|---|---|---|---|
//! | [`Max31855`] | thermocouple, type in its name | the core (ITS-90) | three flags | 0 |
//! | [`Max31856`] | thermocouple, any type | the chip | two flags | 1 or 3 |
//! | [`Max31865`] | platinum resistor | the core (IEC 60751) | thresholds, fault cycle | 1 or 3 |
//!
//! Each file is a pure `decode` and a shell around it that takes turns on an [`SpiDevice`]. All
//! stand up to 5 MHz. What is said of a data sheet here is from memory; the tests name what it was
//! compared with. [`Newest::read`] is called once a tick (100 ms): never more often, because the
//! chips need that time to convert. It never waits, and moves at most 45 bytes.
//!
//! No chip is done in every tick; until one is, what it said last stands, older by a tick each time
//! ([`Newest`]), unless it tells of a fault. The two that have registers are asked for one conversion
//! at a time and say themselves whether it has ended (bit 1SHOT reads 0 again), so that one which
//! never ends is told by its age: `reading-stale`. A MAX31855 converts whenever it is not selected and has no such bit: one
//! that has stopped gives the same frame again, which is `reading-frozen`.
//!
//! A reading is `Good` only if the frame is one the chip can send, no flag is set, and every
//! register that was written reads back as written **in the same transfer**: a chip that lost its
//! supply alone is back at its reset values and would otherwise go on with another type, filter or
//! mode. It is then set up again at once and says nothing good until it was read back and has
//! converted (two or three further ticks; five bad ones in a row trip). A first answer that does not
//! fit is asked for once more, so that a single disturbed transfer sets nothing up.
//!
//! Not seen here: wires shorted to each other, wires of another type than was told, a reference
//! resistor of another value, wires swapped. The core sees the first as a fall; commissioning's
//! two-point check is there for the others.

pub mod max31855;
pub mod max31856;
pub mod max31865;

pub use max31855::Max31855;
pub use max31856::Max31856;
pub use max31865::Max31865;

use embedded_hal::spi::{Operation, SpiDevice};
use truesoak_core::io::{Sample, Transfer};
use truesoak_core::units::Celsius;

/// A sensor behind a converter.
pub trait Converter {
    /// Takes what has been converted since into `newest`, where something has; once a tick. Bounded in
    /// time, and an answer in every case: an error of the bus is a [`Transfer::Silent`].
    ///
    /// # Errors
    /// Why nothing is known of this tick: silent, or impossible.
    fn look(&mut self, newest: &mut Reading) -> Result<(), Transfer>;
}

/// A converter and the newest reading of it.
#[derive(Debug)]
pub struct Newest<C> {
    /// The converter.
    pub converter: C,
    reading: Reading,
}

impl<C: Converter> Newest<C> {
    /// Nothing has been read yet.
    pub fn of(converter: C) -> Self {
        Self { converter, reading: Reading::none(Transfer::Silent) }
    }

    /// What a tick says; once a tick.
    pub fn read(&mut self) -> Reading {
        self.reading.sample.age_ticks = self.reading.sample.age_ticks.saturating_add(1);
        match self.converter.look(&mut self.reading) {
            Ok(()) => self.reading,
            Err(transfer) => Reading::none(transfer),
        }
    }
}

/// What a converter gives in one tick.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// For the core to judge; not a number unless its transfer is good.
    pub sample: Sample,
    /// Temperature of the converter itself, where it measures one and its frame is to be believed.
    pub cold_junction: Option<Celsius>,
}

impl Reading {
    fn good(value: Celsius, frame: u64, cold_junction: Option<Celsius>) -> Self {
        let sample = Sample { value, age_ticks: 0, frame, transfer: Transfer::Good };
        Self { sample, cold_junction }
    }

    fn bad(transfer: Transfer, frame: u64, cold_junction: Option<Celsius>) -> Self {
        let sample = Sample { value: Celsius(f32::NAN), age_ticks: 0, frame, transfer };
        Self { sample, cold_junction }
    }

    /// Without a frame.
    fn none(transfer: Transfer) -> Self {
        Self::bad(transfer, 0, None)
    }
}

/// The mains frequency that a converter's filter keeps out of its readings.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MainsFilter {
    /// 50 Hz and its multiples.
    Hz50,
    /// 60 Hz and its multiples.
    Hz60,
}

impl MainsFilter {
    /// Bit 0 of the first register of both chips that have registers.
    fn bit(self) -> u8 {
        match self {
            Self::Hz50 => 0x01,
            Self::Hz60 => 0x00,
        }
    }
}

/// Bit that makes an address one to write to, in both chips that have registers.
const WRITE: u8 = 0x80;
/// How often registers are asked for in one tick before an answer that does not fit is believed.
const TRIES: u32 = 2;

/// Nobody drives the wire, or a short holds it.
fn nobody_answers(bytes: &[u8]) -> bool {
    bytes.iter().all(|byte| *byte == 0x00) || bytes.iter().all(|byte| *byte == 0xff)
}

/// All registers from address 0, as they are if `stands` finds in them what was written; else
/// silent, or impossible where somebody answers. At most [`TRIES`] transfers.
fn read_registers<const N: usize>(
    spi: &mut impl SpiDevice,
    stands: impl Fn(&[u8; N]) -> bool,
) -> Result<[u8; N], Transfer> {
    let mut refused = Transfer::Silent;
    for _ in 0..TRIES {
        let mut registers = [0; N];
        let done = spi.transaction(&mut [Operation::Write(&[0]), Operation::Read(&mut registers)]);
        if done.is_err() || nobody_answers(&registers) {
            refused = Transfer::Silent;
        } else if stands(&registers) {
            return Ok(registers);
        } else {
            refused = Transfer::Impossible;
        }
    }
    Err(refused)
}

#[cfg(test)]
mod support;
