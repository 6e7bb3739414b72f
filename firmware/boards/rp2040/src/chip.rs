//! What the chip knows of itself: why it started, whether its program and its memory hold.

use crate::image;
use rp2040_hal::pac::WATCHDOG;
use truesoak_firmware::board::{self, Reset, pattern_holds};

/// Words of memory that are tried; four patterns take less than 0.2 ms.
pub const SCRATCH_WORDS: usize = 64;

/// The chip.
pub struct Chip {
    reset: Reset,
    scratch: &'static mut [u32; SCRATCH_WORDS],
}

impl Chip {
    /// With a piece of memory that nobody else uses.
    pub fn new(reset: Reset, scratch: &'static mut [u32; SCRATCH_WORDS]) -> Self {
        Self { reset, scratch }
    }
}

/// Why the chip started; asked before the watchdog is started again.
pub fn why_reset(watchdog: &WATCHDOG) -> Reset {
    let reason = watchdog.reason().read();
    if reason.timer().bit_is_set() || reason.force().bit_is_set() {
        Reset::Watchdog
    } else {
        Reset::Supply
    }
}

impl board::Chip for Chip {
    fn reset(&self) -> Reset {
        self.reset
    }

    fn image_holds(&mut self) -> bool {
        image::is_whole()
    }

    fn memory_holds(&mut self) -> bool {
        pattern_holds(self.scratch)
    }
}
