//! A serial port over USB, served by its interrupt alone.

use crate::port::{Act, Port, Rings};
use core::cell::RefCell;
use cortex_m::singleton;
use critical_section::Mutex;
use rp2040_hal::clocks::UsbClock;
use rp2040_hal::pac::{self, RESETS, USBCTRL_DPRAM, USBCTRL_REGS, interrupt};
use rp2040_hal::usb::UsbBus;
use truesoak_core::wire::messages::PRODUCT;
use usb_device::bus::UsbBusAllocator;
use usb_device::device::{
    StringDescriptors, UsbDevice, UsbDeviceBuilder, UsbDeviceState, UsbVidPid,
};
use usbd_serial::{CdcAcmClass, USB_CLASS_CDC};

/// A number that serial ports may share whose maker has none of his own; told apart by their
/// names (from memory).
const VENDOR_PRODUCT: UsbVidPid = UsbVidPid(0x16c0, 0x27dd);
/// Longest packet of full-speed USB.
const PACKET_BYTES: usize = 64;

static USB: Mutex<RefCell<Option<&'static mut Usb>>> = Mutex::new(RefCell::new(None));

struct Usb {
    device: UsbDevice<'static, UsbBus>,
    serial: CdcAcmClass<'static, UsbBus>,
    rings: Rings,
    /// The packet before was a full one, so the computer waits for more: a shorter one, or an empty
    /// one, ends that.
    was_full: bool,
}

/// Starts the port; at most once. `None` if it was started before.
pub fn start(
    registers: (USBCTRL_REGS, USBCTRL_DPRAM),
    clock: UsbClock,
    resets: &mut RESETS,
    board: &'static str,
) -> Option<Port> {
    let (registers, memory) = registers;
    let bus = UsbBus::new(registers, memory, clock, true, resets);
    let allocator: &'static UsbBusAllocator<UsbBus> =
        singleton!(: UsbBusAllocator<UsbBus> = UsbBusAllocator::new(bus))?;
    let serial = CdcAcmClass::new(allocator, PACKET_BYTES as u16);
    let names =
        StringDescriptors::default().manufacturer(PRODUCT).product(PRODUCT).serial_number(board);
    let device = UsbDeviceBuilder::new(allocator, VENDOR_PRODUCT)
        .strings(&[names])
        .ok()?
        // Some hosts take the first descriptor in one packet or not at all.
        .max_packet_size_0(PACKET_BYTES as u8)
        .ok()?
        .device_class(USB_CLASS_CDC)
        .build();
    let usb = singleton!(: Usb = Usb { device, serial, rings: Rings::new(), was_full: false })?;
    critical_section::with(|token| USB.replace(token, Some(usb)));
    serve();
    Some(Port(with_rings))
}

impl Usb {
    fn serve(&mut self) {
        self.device.poll(&mut [&mut self.serial]);
        if self.device.state() == UsbDeviceState::Configured {
            self.hear();
            self.say();
        } else {
            self.forget();
        }
        self.ask();
    }

    /// A packet that there is no room for would interrupt without end: nobody asks then, and the
    /// program, which serves the port each time it reads, goes on from there.
    fn ask(&self) {
        if self.rings.heard.room() < PACKET_BYTES {
            pac::NVIC::mask(pac::Interrupt::USBCTRL_IRQ);
        } else {
            // SAFETY: its handler shares only what is in the mutex, which is held here.
            unsafe { pac::NVIC::unmask(pac::Interrupt::USBCTRL_IRQ) };
        }
    }

    /// Takes packets while there is room for a whole one; else the computer waits.
    fn hear(&mut self) {
        let mut packet = [0; PACKET_BYTES];
        while self.rings.heard.room() >= PACKET_BYTES {
            let Ok(length) = self.serial.read_packet(&mut packet) else { return };
            self.rings.hear(packet.get(..length).unwrap_or_default());
        }
    }

    /// Hands over packets while the port takes them.
    fn say(&mut self) {
        loop {
            let first = self.rings.said.first();
            let packet = first.get(..PACKET_BYTES).unwrap_or(first);
            let is_nothing = packet.is_empty() && !self.was_full;
            if is_nothing || self.serial.write_packet(packet).is_err() {
                return;
            }
            let sent = packet.len();
            self.was_full = sent == PACKET_BYTES;
            self.rings.said.drop_first(sent);
        }
    }

    /// Nobody is there: what was meant for the one who was is not kept for the next.
    fn forget(&mut self) {
        self.was_full = false;
        self.rings.said.drop_first(usize::MAX);
    }
}

#[interrupt]
fn USBCTRL_IRQ() {
    serve();
}

/// Moves what can be moved.
fn serve() {
    with_rings(&mut |_| ());
}

fn with_rings(act: &mut Act<'_>) {
    critical_section::with(|token| {
        if let Some(usb) = USB.borrow_ref_mut(token).as_mut() {
            act(&mut usb.rings);
            usb.serve();
        }
    });
}
