//! Numbers of any width behind one another, lowest bit first.
//!
//! Bit by bit and in one place: a processor of 32 bits has a hundred steps for a row, and shifts of
//! anything wider would be most of the program that packs it.

/// Room for the bits of a row.
const BYTES: usize = 16;

/// The bits of a row, and how far they have been put or taken.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Bits {
    bytes: [u8; BYTES],
    at: u32,
    /// A number was wider than its place, or there was none.
    does_not_fit: bool,
}

impl Bits {
    /// Of a row's bytes, to take from.
    pub(super) fn of(row: &[u8]) -> Self {
        let mut bits = Self::default();
        bits.bytes.iter_mut().zip(row).for_each(|(byte, from)| *byte = *from);
        bits
    }

    /// The first bytes of what was put; `None` if any of it did not fit.
    pub(super) fn bytes<const N: usize>(&self) -> Option<[u8; N]> {
        let has_room = !self.does_not_fit && self.at as usize <= 8 * N;
        self.bytes.first_chunk().filter(|_| has_room).copied()
    }

    /// Puts a number.
    #[inline(never)]
    pub(super) fn put(&mut self, value: u32, width: u32) -> &mut Self {
        self.does_not_fit |= value.checked_shr(width).is_some_and(|beyond| beyond != 0);
        for bit in 0..width {
            let one = value.checked_shr(bit).is_some_and(|from| from & 1 == 1);
            match self.bytes.get_mut((self.at / 8) as usize) {
                Some(byte) => *byte |= u8::from(one) << (self.at % 8),
                None => self.does_not_fit = true,
            }
            self.at = self.at.saturating_add(1);
        }
        self
    }

    /// Puts a number that may not exist; then the row does not.
    pub(super) fn put_code(&mut self, code: Option<u32>, width: u32) -> &mut Self {
        self.does_not_fit |= code.is_none();
        self.put(code.unwrap_or(0), width)
    }

    /// Puts yes or no.
    pub(super) fn put_flag(&mut self, flag: bool) -> &mut Self {
        self.put(u32::from(flag), 1)
    }

    /// Puts yes, no or neither; two bits.
    pub(super) fn put_known(&mut self, known: Option<bool>) -> &mut Self {
        self.put(known.map_or(0, |yes| 1 + u32::from(yes)), 2)
    }

    /// Takes a number; what is beyond the row is 0.
    #[inline(never)]
    pub(super) fn take(&mut self, width: u32) -> u32 {
        let mut value = 0;
        for bit in 0..width.min(u32::BITS) {
            let byte = self.bytes.get((self.at / 8) as usize).copied().unwrap_or(0);
            value |= u32::from(byte >> (self.at % 8) & 1) << bit;
            self.at = self.at.saturating_add(1);
        }
        value
    }

    /// Takes yes or no.
    pub(super) fn take_flag(&mut self) -> bool {
        self.take(1) == 1
    }

    /// Takes yes, no or neither; `None` for what is none of them.
    pub(super) fn take_known(&mut self) -> Option<Option<bool>> {
        match self.take(2) {
            0 => Some(None),
            1 => Some(Some(false)),
            2 => Some(Some(true)),
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_come_back_and_lie_lowest_bit_first() {
        let mut bits = Bits::default();
        bits.put(0b101, 3).put(u32::MAX, 32).put_flag(true).put(0, 0).put_known(Some(false));
        assert_eq!(bits.bytes(), Some([0xfd, 0xff, 0xff, 0xff, 0x1f]));
        let mut bits = Bits::of(&bits.bytes::<16>().unwrap());
        assert_eq!((bits.take(3), bits.take(32), bits.take_flag()), (0b101, u32::MAX, true));
        assert_eq!((bits.take_known(), bits.take(32)), (Some(Some(false)), 0));
    }

    #[test]
    fn what_is_wider_than_its_place_or_past_the_row_has_no_bytes() {
        assert_eq!(Bits::default().put(8, 3).put(0, 3).bytes::<16>(), None);
        assert_eq!(Bits::default().put_code(None, 3).bytes::<16>(), None);
        let mut full = Bits::default();
        for _ in 0..4 {
            full.put(1, 32);
        }
        assert!(full.bytes::<16>().is_some());
        assert_eq!(full.bytes::<15>(), None);
        assert_eq!(full.put_flag(false).bytes::<16>(), None);
    }
}
