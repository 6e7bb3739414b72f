//! NOR flash in memory, stricter than the chip: a word is written blank and once, an erase is
//! forbidden when the test says so, and the supply can go in any operation.
//!
//! A cut leaves what a real one can: of a write nothing, all, a prefix or any of its bits; of an
//! erase nothing, all, either end, zeros (erasing begins by programming), any bits or so few that
//! most of what stood there still holds.

#![allow(dead_code)] // each test file uses its own part

use embedded_storage::nor_flash::{ErrorType, NorFlash, NorFlashErrorKind, ReadNorFlash};
use rand_core::{RngCore, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;
use std::cell::RefCell;
use std::rc::Rc;

pub const SECTOR: usize = 4096;

/// What the chip is and has been through.
#[derive(Clone)]
pub struct Chip {
    pub bytes: Vec<u8>,
    /// Erases of each sector.
    pub erases: Vec<u32>,
    /// Writes and erases so far.
    pub operations: u64,
    /// An erase fails the test.
    pub erase_forbidden: bool,
    /// Bytes written from now on do not keep this bit.
    pub weak_bit: Option<u8>,
    cut_at: Option<u64>,
    dead: bool,
    dice: Xoshiro256PlusPlus,
}

/// A handle to the chip; the store holds one, the test another.
#[derive(Clone)]
pub struct Flash<const WRITE: usize = 4>(Rc<RefCell<Chip>>);

impl<const WRITE: usize> Flash<WRITE> {
    /// A blank chip.
    pub fn new(sectors: usize, seed: u64) -> Self {
        Self::of(Chip {
            bytes: vec![0xFF; sectors * SECTOR],
            erases: vec![0; sectors],
            operations: 0,
            erase_forbidden: false,
            weak_bit: None,
            cut_at: None,
            dead: false,
            dice: Xoshiro256PlusPlus::seed_from_u64(seed),
        })
    }

    pub fn of(chip: Chip) -> Self {
        Self(Rc::new(RefCell::new(chip)))
    }

    /// Looks at the chip, or changes it.
    pub fn chip<T>(&self, with: impl FnOnce(&mut Chip) -> T) -> T {
        with(&mut self.0.borrow_mut())
    }

    /// A chip of its own, with the same content and the dice at `seed`.
    pub fn fork(&self, seed: u64) -> Self {
        let mut chip = self.0.borrow().clone();
        chip.dice = Xoshiro256PlusPlus::seed_from_u64(seed);
        Self::of(chip)
    }

    /// The supply goes in the operation after `operations` more; `None`: it stays.
    pub fn cut_after(&self, operations: Option<u64>) {
        self.chip(|chip| {
            chip.cut_at = operations.map(|more| chip.operations + more);
            chip.dead = false;
        });
    }

    pub fn is_dead(&self) -> bool {
        self.chip(|chip| chip.dead)
    }

    pub fn erases(&self) -> u64 {
        self.chip(|chip| chip.erases.iter().map(|count| u64::from(*count)).sum())
    }
}

impl Chip {
    /// Counts an operation; true if the supply goes in it.
    fn goes(&mut self) -> Result<bool, NorFlashErrorKind> {
        if self.dead {
            return Err(NorFlashErrorKind::Other);
        }
        self.dead = self.cut_at == Some(self.operations);
        self.operations += 1;
        Ok(self.dead)
    }

    fn below(&mut self, bound: usize) -> usize {
        (self.dice.next_u64() % bound as u64) as usize
    }

    fn tear_write(&mut self, at: usize, bytes: &[u8]) {
        let kind = self.below(6);
        let prefix = self.below(bytes.len() + 1);
        for (i, byte) in bytes.iter().enumerate() {
            let noise = self.dice.next_u32() as u8;
            let written = match kind {
                0 => 0xFF,
                1 => *byte,
                2 | 3 if i < prefix => *byte,
                2 | 3 if i == prefix => byte | noise,
                2 | 3 => 0xFF,
                _ => byte | noise,
            };
            self.bytes[at + i] &= written;
        }
    }

    fn tear_erase(&mut self, at: usize) {
        let kind = self.below(12);
        let few = 1 << self.below(8);
        let prefix = self.below(SECTOR + 1);
        for i in 0..SECTOR {
            let [a, b, c, d, e, ..] = self.dice.next_u64().to_le_bytes();
            let old = self.bytes[at + i];
            self.bytes[at + i] = match kind {
                0 => old,
                1 => 0xFF,
                2 if i < prefix => 0xFF,
                3 if i < prefix => 0,
                4 if i >= prefix => 0xFF,
                5 => old | a,
                6 | 7 => a,
                8 => old | (a & b & c & d),
                9..=11 if e < few => old | a,
                _ => old,
            };
        }
    }
}

impl<const WRITE: usize> ErrorType for Flash<WRITE> {
    type Error = NorFlashErrorKind;
}

impl<const WRITE: usize> ReadNorFlash for Flash<WRITE> {
    const READ_SIZE: usize = 4;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), NorFlashErrorKind> {
        let chip = self.0.borrow();
        assert!(offset.is_multiple_of(4) && bytes.len().is_multiple_of(4), "read not aligned");
        if chip.dead {
            return Err(NorFlashErrorKind::Other);
        }
        bytes.copy_from_slice(&chip.bytes[offset as usize..][..bytes.len()]);
        Ok(())
    }

    fn capacity(&self) -> usize {
        self.0.borrow().bytes.len()
    }
}

impl<const WRITE: usize> NorFlash for Flash<WRITE> {
    const WRITE_SIZE: usize = WRITE;
    const ERASE_SIZE: usize = SECTOR;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), NorFlashErrorKind> {
        let mut chip = self.0.borrow_mut();
        assert!(!chip.erase_forbidden, "erased while a bake is open");
        assert_eq!((from as usize % SECTOR, (to - from) as usize), (0, SECTOR), "one sector");
        let cut = chip.goes()?;
        let at = from as usize;
        chip.erases[at / SECTOR] += 1;
        if cut {
            chip.tear_erase(at);
            return Err(NorFlashErrorKind::Other);
        }
        chip.bytes[at..at + SECTOR].fill(0xFF);
        Ok(())
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), NorFlashErrorKind> {
        let mut chip = self.0.borrow_mut();
        let at = offset as usize;
        assert!(at.is_multiple_of(WRITE) && bytes.len().is_multiple_of(WRITE), "write not aligned");
        assert!(at % SECTOR + bytes.len() <= SECTOR, "a write stays in its sector");
        assert!(
            chip.bytes[at..at + bytes.len()].iter().all(|byte| *byte == 0xFF),
            "written twice without an erase at {offset:#x}"
        );
        if chip.goes()? {
            chip.tear_write(at, bytes);
            return Err(NorFlashErrorKind::Other);
        }
        let weak = chip.weak_bit.take().unwrap_or(0);
        chip.bytes[at..at + bytes.len()].copy_from_slice(bytes);
        chip.bytes[at + bytes.len() / 2] ^= weak;
        Ok(())
    }
}
