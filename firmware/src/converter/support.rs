//! What the converters' tests share: expected transfers, buses that fail, drawn bits.

extern crate std;

use super::Reading;
use core::convert::Infallible;
use embedded_hal::spi::{ErrorKind, ErrorType, Operation, SpiDevice};
use embedded_hal_mock::eh1::spi::Transaction;
use std::vec::Vec;
use truesoak_core::io::Transfer;
use truesoak_core::units::Celsius;

/// A bus that brings a good answer and says of every transfer that it failed.
pub struct Failing(pub &'static [u8]);

impl ErrorType for Failing {
    type Error = ErrorKind;
}

impl SpiDevice for Failing {
    fn transaction(&mut self, operations: &mut [Operation<'_, u8>]) -> Result<(), ErrorKind> {
        for operation in operations {
            if let Operation::Read(bytes) = operation {
                bytes.copy_from_slice(self.0);
            }
        }
        Err(ErrorKind::Overrun)
    }
}

/// A bus that answers every read with the same bytes and takes every write.
pub struct Always(pub u8);

impl ErrorType for Always {
    type Error = Infallible;
}

impl SpiDevice for Always {
    fn transaction(&mut self, operations: &mut [Operation<'_, u8>]) -> Result<(), Infallible> {
        for operation in operations {
            if let Operation::Read(bytes) = operation {
                bytes.fill(self.0);
            }
        }
        Ok(())
    }
}

/// Chip selected, these bytes written, chip let go.
pub fn written(bytes: &[u8]) -> Vec<Transaction<u8>> {
    [
        Transaction::transaction_start(),
        Transaction::write_vec(bytes.to_vec()),
        Transaction::transaction_end(),
    ]
    .into()
}

/// Chip selected, address 0 written, these registers answered, chip let go.
pub fn registers(answer: &[u8]) -> Vec<Transaction<u8>> {
    [
        Transaction::transaction_start(),
        Transaction::write_vec([0x00].into()),
        Transaction::read_vec(answer.to_vec()),
        Transaction::transaction_end(),
    ]
    .into()
}

/// A row of a data sheet's table, as printed: digits in groups.
pub fn digits(row: &str) -> u32 {
    row.chars().filter_map(|digit| digit.to_digit(2)).fold(0, |bits, digit| bits << 1 | digit)
}

/// Drawn bits, the same in every run (xorshift, Marsaglia 2003).
pub fn drawn() -> impl Iterator<Item = u64> {
    core::iter::successors(Some(0x2545_f491_4f6c_dd1d_u64), |state| {
        let mut next = *state;
        next ^= next << 13;
        next ^= next >> 7;
        next ^= next << 17;
        Some(next)
    })
}

/// What holds of every reading, whatever the bytes were.
pub fn holds_together(reading: &Reading) -> bool {
    let good = reading.sample.transfer == Transfer::Good;
    let cold_is_physical = reading.cold_junction.is_none_or(Celsius::is_physical);
    good == reading.sample.value.is_physical() && cold_is_physical
}
