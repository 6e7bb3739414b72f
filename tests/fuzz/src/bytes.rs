//! An input taken apart from its front; past its end come zeros, so every input means something.

/// What is left of an input.
pub(crate) struct Bytes<'a>(&'a [u8]);

impl<'a> Bytes<'a> {
    pub(crate) fn of(input: &'a [u8]) -> Self {
        Self(input)
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    pub(crate) fn byte(&mut self) -> u8 {
        self.array::<1>()[0]
    }

    /// From 0 to below `end`, at most 256.
    pub(crate) fn below(&mut self, end: usize) -> usize {
        usize::from(self.byte()) % end
    }

    pub(crate) fn flag(&mut self) -> bool {
        self.byte() % 2 == 1
    }

    pub(crate) fn u16(&mut self) -> u16 {
        u16::from_le_bytes(self.array())
    }

    pub(crate) fn u32(&mut self) -> u32 {
        u32::from_le_bytes(self.array())
    }

    /// Any bits at all.
    pub(crate) fn f32(&mut self) -> f32 {
        f32::from_le_bytes(self.array())
    }

    pub(crate) fn array<const N: usize>(&mut self) -> [u8; N] {
        let mut bytes = [0; N];
        let taken = self.take(N);
        bytes[..taken.len()].copy_from_slice(taken);
        bytes
    }

    /// At most so many.
    pub(crate) fn take(&mut self, count: usize) -> &'a [u8] {
        let (taken, rest) = self.0.split_at(count.min(self.0.len()));
        self.0 = rest;
        taken
    }

    /// All there is.
    pub(crate) fn rest(&mut self) -> &'a [u8] {
        self.take(usize::MAX)
    }
}

/// True of one input in so many, a power of two up to 256, told by the input alone: for what is too
/// dear to be held of every one.
pub(crate) fn one_in(many: usize, input: &[u8]) -> bool {
    assert!(many.is_power_of_two() && many <= 256, "the shares are even");
    usize::from(input.iter().copied().fold(0, u8::wrapping_add)) % many == 0
}
