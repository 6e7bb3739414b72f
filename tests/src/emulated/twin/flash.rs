//! The twin's flash: NOR, by the same pages and sectors, with the same digest of what was done to it.

use embedded_storage::nor_flash::{
    ErrorType, NorFlash, NorFlashErrorKind, ReadNorFlash, check_erase, check_read, check_write,
};
use std::cell::{Ref, RefCell};
use std::ops::Range;
use std::rc::Rc;

const FLASH_BYTES: usize = 2 * 1024 * 1024;
const PAGE_BYTES: usize = 256;
const SECTOR_BYTES: usize = 4096;

/// FNV-1a, 32 bits (draft-eastlake-fnv): offset basis and prime.
const BASIS: u32 = 0x811c_9dc5;
const PRIME: u32 = 0x0100_0193;

#[derive(Debug)]
struct Cells {
    bytes: Vec<u8>,
    digest: u32,
    /// What is no longer written there.
    stuck: Range<usize>,
}

/// A flash that its clones share.
#[derive(Clone, Debug)]
pub struct Flash(Rc<RefCell<Cells>>);

impl Default for Flash {
    fn default() -> Self {
        Self::holding(vec![0xff; FLASH_BYTES])
    }
}

impl Flash {
    /// A flash with these bytes, to which nothing was done yet.
    #[must_use]
    pub fn holding(bytes: Vec<u8>) -> Self {
        Self(Rc::new(RefCell::new(Cells { bytes, digest: BASIS, stuck: 0..0 })))
    }

    /// Its bytes.
    #[must_use]
    pub fn bytes(&self) -> Ref<'_, [u8]> {
        Ref::map(self.0.borrow(), |cells| cells.bytes.as_slice())
    }

    /// Digest of every operation so far.
    #[must_use]
    pub fn digest(&self) -> u32 {
        self.0.borrow().digest
    }

    /// A bit turns by itself.
    pub fn turn_bit(&self, offset: usize, bit: u8) {
        self.0.borrow_mut().bytes[offset] ^= 1 << bit;
    }

    /// Nothing is written there any more.
    pub fn stick(&self, stuck: Range<usize>) {
        self.0.borrow_mut().stuck = stuck;
    }

    /// From now on it holds this, and nothing was done to it.
    pub fn replace(&self, bytes: Vec<u8>) {
        *self.0.borrow_mut() = Cells { bytes, digest: BASIS, stuck: 0..0 };
    }
}

impl Cells {
    fn note(&mut self, offset: usize, operation: &[u8]) {
        let [a, b, c, _] = (offset as u32).to_le_bytes();
        for byte in [a, b, c].iter().chain(operation) {
            self.digest = (self.digest ^ u32::from(*byte)).wrapping_mul(PRIME);
        }
    }

    fn program(&mut self, offset: usize, bytes: &[u8]) {
        let in_page = offset % PAGE_BYTES;
        let mut operation = [0xff; 1 + PAGE_BYTES];
        operation[0] = 1;
        operation[1 + in_page..][..bytes.len()].copy_from_slice(bytes);
        self.note(offset - in_page, &operation);
        if self.stuck.contains(&offset) {
            return;
        }
        for (cell, byte) in self.bytes[offset..].iter_mut().zip(bytes) {
            *cell &= byte;
        }
    }
}

impl ErrorType for Flash {
    type Error = NorFlashErrorKind;
}

impl ReadNorFlash for Flash {
    const READ_SIZE: usize = 1;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), NorFlashErrorKind> {
        check_read(self, offset, bytes.len())?;
        bytes.copy_from_slice(&self.0.borrow().bytes[offset as usize..][..bytes.len()]);
        Ok(())
    }

    fn capacity(&self) -> usize {
        FLASH_BYTES
    }
}

impl NorFlash for Flash {
    const WRITE_SIZE: usize = 4;
    const ERASE_SIZE: usize = SECTOR_BYTES;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), NorFlashErrorKind> {
        check_erase(self, from, to)?;
        let mut cells = self.0.borrow_mut();
        for offset in (from as usize..to as usize).step_by(SECTOR_BYTES) {
            cells.note(offset, &[0]);
            if !cells.stuck.contains(&offset) {
                cells.bytes[offset..offset + SECTOR_BYTES].fill(0xff);
            }
        }
        Ok(())
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), NorFlashErrorKind> {
        check_write(self, offset, bytes.len())?;
        let mut cells = self.0.borrow_mut();
        let (mut at, mut left) = (offset as usize, bytes);
        while !left.is_empty() {
            let (now, later) = left.split_at(left.len().min(PAGE_BYTES - at % PAGE_BYTES));
            cells.program(at, now);
            (at, left) = (at + now.len(), later);
        }
        Ok(())
    }
}
