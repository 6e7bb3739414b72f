//! The last thing a program that failed still does: permit, then drive, off; then the watchdog.
//!
//! A panic, a fault of the processor and an interrupt nobody asked for end here. Nothing is said and
//! nothing is kept: whatever the program believed may be wrong. The watchdog bites within a second,
//! and the board starts again off and asks why.

use core::panic::PanicInfo;
use cortex_m_rt::{ExceptionFrame, exception};
use rp2040_hal::pac::SIO;

/// GPIO28, the permit.
const PERMIT: u32 = 1 << 28;
/// GPIO6, the drive.
const DRIVE: u32 = 1 << 6;

/// Both outputs low, and nothing more for ever.
fn outputs_off() -> ! {
    cortex_m::interrupt::disable();
    // SAFETY: the block is at this address on every RP2040. Nothing else runs any more (interrupts
    // are off, the second core was never started), so no owner of these registers is raced.
    let sio = unsafe { &*SIO::ptr() };
    for pin in [PERMIT, DRIVE] {
        // SAFETY: the register takes any value: each bit set clears that output.
        sio.gpio_out_clr().write(|w| unsafe { w.bits(pin) });
    }
    loop {
        cortex_m::asm::nop();
    }
}

#[panic_handler]
fn panic(_: &PanicInfo<'_>) -> ! {
    outputs_off()
}

// SAFETY: it returns to nothing and touches no memory of the program that failed.
#[exception]
unsafe fn HardFault(_: &ExceptionFrame) -> ! {
    outputs_off()
}

// SAFETY: as above.
#[exception]
unsafe fn DefaultHandler(_: i16) -> ! {
    outputs_off()
}
