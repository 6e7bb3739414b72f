//! The chip set up and handed over: outputs off before anything else, then clocks, watchdog, ports.

use crate::chip::{Chip, SCRATCH_WORDS, why_reset};
use crate::clock::Clocks;
use crate::flash::Flash;
use crate::floor::Floor;
use crate::independent_clock::IndependentClock;
use crate::pad::Pad;
use crate::pins::Pins;
use crate::spi::{self, Bus};
use crate::tick::Ticks;
use crate::watchdog::Watchdog;
use crate::{image, uart, usb};
use cortex_m::singleton;
use heapless::String;
use rp2040_hal::clocks::{Clock, ClockSource, ClocksManager};
use rp2040_hal::fugit::RateExtU32;
use rp2040_hal::gpio::{
    DynPinId, FunctionNull, FunctionSioInput, FunctionSioOutput, Pin, PullDown, PullUp,
};
use rp2040_hal::pac::{CLOCKS, PLL_SYS, PLL_USB, Peripherals, RESETS, XOSC};
use rp2040_hal::pll::common_configs::{PLL_SYS_125MHZ, PLL_USB_48MHZ};
use rp2040_hal::pll::setup_pll_blocking;
use rp2040_hal::pwm::Slices;
use rp2040_hal::xosc::setup_xosc_blocking;
use rp2040_hal::{Sio, Timer};
use truesoak_firmware::board::{Hardware, Identity, Parts};

/// What is shown on.
#[cfg(feature = "display")]
type Screen = truesoak_firmware::display::Display<crate::two_wire::TwoWire>;
#[cfg(not(feature = "display"))]
use truesoak_firmware::board::NoScreen as Screen;

/// The crystal on every such board, Hz. With it the chip runs at 125 MHz.
const CRYSTAL_HZ: u32 = 12_000_000;
/// Bytes of a board's number.
const NUMBER_BYTES: usize = 8;

/// A pin as the chip's reset leaves it.
type Unused = Pin<DynPinId, FunctionNull, PullDown>;

/// This board's types.
pub enum Rp2040 {}

impl Hardware for Rp2040 {
    type Pad = Pad;
    type Output = Pin<DynPinId, FunctionSioOutput, PullDown>;
    type Input = Pin<DynPinId, FunctionSioInput, PullUp>;
    type Bus = spi::Chip;
    type Flash = Flash;
    type Port = Floor;
    type Clock = Clocks;
    type Watchdog = Watchdog;
    type Chip = Chip;
    type Screen = Screen;
}

/// Sets the chip up. `None` if it was set up before, or its crystal does not swing.
#[inline(never)]
pub fn start() -> Option<(Parts<Rp2040>, Ticks)> {
    let mut peripherals = Peripherals::take()?;
    let resets = &mut peripherals.RESETS;
    let sio = Sio::new(peripherals.SIO);
    let pins = Pins::new(peripherals.IO_BANK0, peripherals.PADS_BANK0, sio.gpio_bank0, resets);
    // Low already: the registers are, and each is enabled as it is set.
    let permit = Pad::new(output(pins.permit.into_dyn_pin())?);
    let drive = Pad::new(output(pins.drive.into_dyn_pin())?);

    let reset = why_reset(&peripherals.WATCHDOG);
    let mut watchdog = rp2040_hal::Watchdog::new(peripherals.WATCHDOG);
    let loops = (peripherals.PLL_SYS, peripherals.PLL_USB);
    let clocks = start_clocks(peripherals.CLOCKS, peripherals.XOSC, loops, resets)?;
    watchdog.enable_tick_generation((CRYSTAL_HZ / 1_000_000) as u8);
    let watchdog = Watchdog::start(watchdog);
    let timer = Timer::new(peripherals.TIMER, resets, &clocks);
    let peripheral_clock = clocks.peripheral_clock.freq();

    // SAFETY: the one place that makes it, and the peripherals are taken once.
    let mut flash = unsafe { Flash::new() };
    let number = flash.unique();

    let wires = (pins.mosi.reconfigure(), pins.miso.reconfigure(), pins.sck.reconfigure());
    let bus = Bus::new(peripherals.SPI0, wires, resets, peripheral_clock);
    let bus: &'static Bus = singleton!(: Bus = bus)?;
    let usb_parts = (peripherals.USBCTRL_REGS, peripherals.USBCTRL_DPRAM);
    let usb = usb::start(usb_parts, clocks.usb_clock, resets, in_hex(number)?)?;
    let uart_pins = (pins.uart_tx.reconfigure(), pins.uart_rx.reconfigure());
    let uart = uart::start(peripherals.UART0, uart_pins, resets, peripheral_clock)?;

    #[cfg(feature = "display")]
    let screen = {
        let wires = (pins.sda.reconfigure(), pins.scl.reconfigure());
        let wires = crate::two_wire::TwoWire::new(
            peripherals.I2C0,
            wires,
            resets,
            clocks.system_clock.freq(),
        );
        Screen::new(wires)
    };
    #[cfg(not(feature = "display"))]
    let screen = Screen;

    let slices = Slices::new(peripherals.PWM, resets);
    let independent = IndependentClock::new(slices.pwm2, pins.clock.reconfigure());
    let ticks = Ticks::start(timer)?;
    let scratch = singleton!(: [u32; SCRATCH_WORDS] = [0; SCRATCH_WORDS])?;
    let parts = Parts {
        drive,
        permit,
        fan: output(pins.fan.into_dyn_pin())?,
        lamp: output(pins.lamp.into_dyn_pin())?,
        beeper: output(pins.beeper.into_dyn_pin())?,
        go: contact(pins.go.into_dyn_pin())?,
        stop: contact(pins.stop.into_dyn_pin())?,
        door: contact(pins.door.into_dyn_pin())?,
        permit_read: contact(pins.permit_read.into_dyn_pin())?,
        mains_proof: contact(pins.mains_proof.into_dyn_pin())?,
        airflow: contact(pins.airflow.into_dyn_pin())?,
        converters: [
            converter(bus, pins.cs0.into_dyn_pin())?,
            converter(bus, pins.cs1.into_dyn_pin())?,
            converter(bus, pins.cs2.into_dyn_pin())?,
        ],
        flash,
        region: image::store(),
        port: Floor::new(usb, uart, timer),
        clock: Clocks::new(ticks, independent),
        watchdog,
        chip: Chip::new(reset, scratch),
        screen,
        identity: Identity { number, is_virtual: false, has_display: cfg!(feature = "display") },
    };
    Some((parts, ticks))
}

/// A contact's pin.
#[inline(never)]
fn contact(pin: Unused) -> Option<Pin<DynPinId, FunctionSioInput, PullUp>> {
    pin.try_into_function().ok().map(Pin::into_pull_type)
}

/// An output's pin, low.
#[inline(never)]
fn output(pin: Unused) -> Option<Pin<DynPinId, FunctionSioOutput, PullDown>> {
    pin.try_into_function().ok().map(Pin::into_pull_type)
}

/// A converter's bus, its select high.
#[inline(never)]
fn converter(bus: &'static Bus, pin: Unused) -> Option<spi::Chip> {
    let select = pin.try_into_function().ok().map(Pin::into_pull_type)?;
    Some(spi::Chip::new(bus, select))
}

/// A board's number as its USB port tells it. `None` the second time.
fn in_hex(number: [u8; NUMBER_BYTES]) -> Option<&'static str> {
    let text = singleton!(: String<{ 2 * NUMBER_BYTES }> = String::new())?;
    for byte in number {
        for digit in [byte >> 4, byte & 0x0f] {
            // There is room for two digits a byte.
            let _ = text.push(char::from_digit(digit.into(), 16)?);
        }
    }
    Some(text)
}

/// The clocks that somebody here uses: no converter of the chip's own, no calendar.
fn start_clocks(
    clocks: CLOCKS,
    crystal: XOSC,
    (system, usb): (PLL_SYS, PLL_USB),
    resets: &mut RESETS,
) -> Option<ClocksManager> {
    let crystal = setup_xosc_blocking(crystal, CRYSTAL_HZ.Hz()).ok()?;
    let mut clocks = ClocksManager::new(clocks);
    let fed = crystal.operating_frequency();
    let system = setup_pll_blocking(system, fed, PLL_SYS_125MHZ, &mut clocks, resets).ok()?;
    let usb = setup_pll_blocking(usb, fed, PLL_USB_48MHZ, &mut clocks, resets).ok()?;
    clocks.reference_clock.configure_clock(&crystal, crystal.get_freq()).ok()?;
    clocks.system_clock.configure_clock(&system, system.get_freq()).ok()?;
    clocks.usb_clock.configure_clock(&usb, usb.get_freq()).ok()?;
    let hertz = clocks.system_clock.freq();
    clocks.peripheral_clock.configure_clock(&clocks.system_clock, hertz).ok()?;
    Some(clocks)
}
