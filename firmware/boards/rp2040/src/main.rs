//! truesoak on an RP2040.
//!
//! What is here is the chip: clocks, pins, flash, ports, watchdog, and a tick ten times a second. Every
//! decision is the firmware's and the core's. Which pin is what stands in `firmware/wiring.md`.
#![no_std]
#![no_main]

mod board;
mod chip;
mod clock;
mod flash;
mod floor;
mod image;
mod independent_clock;
mod outputs_off;
mod pad;
mod pins;
mod port;
mod spi;
mod tick;
#[cfg(feature = "display")]
mod two_wire;
mod uart;
mod usb;
mod watchdog;

#[cfg(feature = "defmt")]
use defmt_rtt as _;

use board::Rp2040;
use cortex_m::singleton;
use tick::Ticks;
use truesoak_firmware::board::Parts;
use truesoak_firmware::shell::{Memory, Shell};
// Linked for its symbols: compiled code calls for arithmetic by name.
use truesoak_run_time as _;

/// The second stage of the start, which lets the processor run from flash: commands that every
/// flash chip knows.
// SAFETY: the boot ROM looks for it in this section, and the linker script keeps the section first.
#[unsafe(link_section = ".boot2")]
#[used]
static BOOT2: [u8; 256] = rp2040_boot2::BOOT_LOADER_GENERIC_03H;

type Rp2040Shell = Shell<'static, Rp2040>;

/// Everything begun that there is; `None` if it was before.
#[inline(never)]
fn start() -> Option<(&'static mut Rp2040Shell, Ticks)> {
    let (parts, ticks) = board::start()?;
    Some((boot(parts, memory()?)?, ticks))
}

// Each of these builds what is large on the stack before it is moved to its place; in functions of their
// own, so that the stack is free again and the ticks have all of it.

#[inline(never)]
fn memory() -> Option<&'static mut Memory> {
    singleton!(: Memory = Memory::new())
}

#[inline(never)]
fn boot(parts: Parts<Rp2040>, memory: &'static mut Memory) -> Option<&'static mut Rp2040Shell> {
    // Not in the macro, which holds interrupts off meanwhile: this takes a second or two.
    let shell = Shell::boot(parts, memory);
    singleton!(: Rp2040Shell = shell)
}

#[rp2040_hal::entry]
fn main() -> ! {
    let Some((shell, ticks)) = start() else { panic!() };
    loop {
        ticks.sleep(|| {
            if port::take_heard() {
                shell.serve();
            }
        });
        shell.tick();
    }
}
