//! Numbers of any width behind one another, lowest bit first.

/// The bits of a row, and how far they have been put or taken.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Bits {
    bits: u128,
    at: u32,
}

impl Bits {
    /// Of a row's bytes, to take from.
    pub(super) fn of<const BYTES: usize>(bytes: &[u8; BYTES]) -> Self {
        let wide = bytes.iter().rev().fold(0, |bits: u128, byte| (bits << 8) | u128::from(*byte));
        Self { bits: wide, at: 0 }
    }

    /// The first bytes of what was put.
    pub(super) fn bytes<const BYTES: usize>(self) -> [u8; BYTES] {
        let mut bytes = [0; BYTES];
        for (byte, from) in bytes.iter_mut().zip(self.bits.to_le_bytes()) {
            *byte = from;
        }
        bytes
    }

    /// Puts a number; `None` if it is wider than `width`.
    pub(super) fn put(self, value: u32, width: u32) -> Option<Self> {
        if u64::from(value) >> width.min(63) != 0 {
            return None;
        }
        let bits = self.bits | u128::from(value).checked_shl(self.at)?;
        Some(Self { bits, at: self.at + width })
    }

    /// Puts yes or no.
    pub(super) fn put_flag(self, flag: bool) -> Option<Self> {
        self.put(u32::from(flag), 1)
    }

    /// Puts yes, no or neither; two bits.
    pub(super) fn put_known(self, known: Option<bool>) -> Option<Self> {
        self.put(known.map_or(0, |yes| 1 + u32::from(yes)), 2)
    }

    /// Takes a number.
    pub(super) fn take(&mut self, width: u32) -> u32 {
        let mask = (1_u64 << width.min(32)) - 1;
        let value = self.bits.checked_shr(self.at).unwrap_or(0) as u64 & mask;
        self.at = self.at.saturating_add(width);
        value as u32
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
