//! Seeded chance for the tests of the wire.

#![allow(dead_code)] // not every test uses all of it

/// Marsaglia's xorshift with 64 bits.
pub struct Dice(pub u64);

impl Dice {
    pub fn roll(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0
    }

    pub fn below(&mut self, end: u64) -> u64 {
        self.roll() % end
    }

    pub fn flag(&mut self) -> bool {
        self.roll() >> 40 & 1 == 1
    }

    pub fn one_of<T: Copy>(&mut self, all: &[T]) -> T {
        all[self.below(all.len() as u64) as usize]
    }

    pub fn maybe<T>(&mut self, some: impl FnOnce(&mut Self) -> T) -> Option<T> {
        self.flag().then(|| some(self))
    }

    /// Any width of number, its ends often.
    pub fn u32(&mut self) -> u32 {
        match self.below(8) {
            0 => 0,
            1 => u32::MAX,
            _ => (self.roll() >> 32) as u32 >> self.below(32),
        }
    }

    pub fn bytes(&mut self, len: usize) -> Vec<u8> {
        (0..len).map(|_| (self.roll() >> 32) as u8).collect()
    }
}
