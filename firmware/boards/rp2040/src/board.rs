//! The chip set up: clocks, pins, ports, counters; outputs off before anything else.

use crate::drive::ReadBack;
use crate::flash::Flash;
use crate::independent_clock::IndependentClock;
use crate::pins::{
    Airflow, Beeper, Cs0, Cs1, Cs2, Door, Fan, Go, Lamp, MainsProof, PermitPin, PermitRead, Pins,
    Stop,
};
use crate::port::Port;
use crate::spi::Bus;
use crate::tick::Ticks;
use crate::watchdog::Watchdog;
use crate::{uart, usb};
use cortex_m::singleton;
use rp2040_hal::clocks::{Clock, init_clocks_and_plls};
use rp2040_hal::gpio::{PullDown, bank0::Gpio6};
use rp2040_hal::pac::Peripherals;
use rp2040_hal::pwm::Slices;
use rp2040_hal::{Sio, Timer};

/// The crystal on every such board, Hz.
const CRYSTAL_HZ: u32 = 12_000_000;
/// Bytes of a board's number.
const NUMBER_BYTES: usize = 8;

/// Contacts and proofs, as they are wired.
pub struct Contacts {
    /// Low: pressed.
    pub go: Go,
    /// High: pressed.
    pub stop: Stop,
    /// Low: shut.
    pub door: Door,
    /// High: the contactor is closed.
    pub permit_read: PermitRead,
    /// Low: mains at the heater.
    pub mains_proof: MainsProof,
    /// Low: air moves.
    pub airflow: Airflow,
}

/// Everything on the board that the firmware is given.
pub struct Board {
    /// The heater's relay.
    pub drive: ReadBack<Gpio6, PullDown>,
    /// The charge pump.
    pub permit: PermitPin,
    /// The fan's relay.
    pub fan: Fan,
    /// The lamp.
    pub lamp: Lamp,
    /// The beeper.
    pub beeper: Beeper,
    /// What is read.
    pub contacts: Contacts,
    /// The converters' bus.
    pub bus: &'static Bus,
    /// The converters' selects: air sensor, second air sensor, part probe.
    pub selects: (Cs0, Cs1, Cs2),
    /// Serial port over USB.
    pub usb: Port,
    /// Serial port.
    pub uart: Port,
    /// The flash.
    pub flash: Flash,
    /// The board's number: its flash chip's.
    pub number: [u8; NUMBER_BYTES],
    /// What is counted beside the processor's own clock.
    pub independent_clock: IndependentClock,
    /// Time.
    pub ticks: Ticks,
    /// The watchdog, running.
    pub watchdog: Watchdog,
}

impl Board {
    /// Sets the chip up; `None` if it was set up before or its crystal does not swing.
    pub fn new() -> Option<Self> {
        let mut chip = Peripherals::take()?;
        let sio = Sio::new(chip.SIO);
        let pins = Pins::new(chip.IO_BANK0, chip.PADS_BANK0, sio.gpio_bank0, &mut chip.RESETS);
        let permit: PermitPin = pins.permit.reconfigure();
        let drive = ReadBack::new(pins.drive.reconfigure());

        let mut watchdog = rp2040_hal::Watchdog::new(chip.WATCHDOG);
        let clocks = init_clocks_and_plls(
            CRYSTAL_HZ,
            chip.XOSC,
            chip.CLOCKS,
            chip.PLL_SYS,
            chip.PLL_USB,
            &mut chip.RESETS,
            &mut watchdog,
        )
        .ok()?;
        let watchdog = Watchdog::start(watchdog);
        let timer = Timer::new(chip.TIMER, &mut chip.RESETS, &clocks);
        let peripheral_clock = clocks.peripheral_clock.freq();

        // SAFETY: the one place that makes it, and the chip is taken once.
        let mut flash = unsafe { Flash::new() };
        let number = flash.unique();
        let wires = (pins.mosi.reconfigure(), pins.miso.reconfigure(), pins.sck.reconfigure());
        let bus = Bus::new(chip.SPI0, wires, &mut chip.RESETS, peripheral_clock);
        let uart_pins = (pins.uart_tx.reconfigure(), pins.uart_rx.reconfigure());
        let slices = Slices::new(chip.PWM, &mut chip.RESETS);
        Some(Self {
            drive,
            permit,
            fan: pins.fan.reconfigure(),
            lamp: pins.lamp.reconfigure(),
            beeper: pins.beeper.reconfigure(),
            contacts: Contacts {
                go: pins.go.reconfigure(),
                stop: pins.stop.reconfigure(),
                door: pins.door.reconfigure(),
                permit_read: pins.permit_read.reconfigure(),
                mains_proof: pins.mains_proof.reconfigure(),
                airflow: pins.airflow.reconfigure(),
            },
            bus: singleton!(: Bus = bus)?,
            selects: (pins.cs0.reconfigure(), pins.cs1.reconfigure(), pins.cs2.reconfigure()),
            usb: usb::start(
                (chip.USBCTRL_REGS, chip.USBCTRL_DPRAM),
                clocks.usb_clock,
                &mut chip.RESETS,
                in_hex(number)?,
            )?,
            uart: uart::start(chip.UART0, uart_pins, &mut chip.RESETS, peripheral_clock)?,
            flash,
            number,
            independent_clock: IndependentClock::new(slices.pwm2, pins.clock.reconfigure()),
            ticks: Ticks::start(timer)?,
            watchdog,
        })
    }
}

/// A board's number as its USB port tells it. `None` the second time.
fn in_hex(number: [u8; NUMBER_BYTES]) -> Option<&'static str> {
    const DIGITS: &[u8; 16] = b"0123456789abcdef";
    let text: &'static mut [u8; 2 * NUMBER_BYTES] =
        singleton!(: [u8; 2 * NUMBER_BYTES] = [0; 2 * NUMBER_BYTES])?;
    for (pair, byte) in text.chunks_exact_mut(2).zip(number) {
        for (place, digit) in pair.iter_mut().zip([byte >> 4, byte & 0x0f]) {
            *place = DIGITS[usize::from(digit)];
        }
    }
    core::str::from_utf8(text).ok()
}
