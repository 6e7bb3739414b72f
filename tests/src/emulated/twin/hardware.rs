//! The twin's parts: each a view of what is outside of it.

use super::{Clocks, Flash, Outside, Shared};
use embedded_hal::digital::{ErrorType as PinErrorType, InputPin, OutputPin};
use embedded_hal::spi::{ErrorKind, ErrorType as BusErrorType, Mode, Operation, SpiDevice};
use embedded_io::{ErrorType as PortErrorType, Read, ReadReady, Write, WriteReady};
use std::convert::Infallible;
use truesoak_firmware::board::{Chip, Clock, EdgeCount, NoScreen, SensorBus, Watchdog};
use truesoak_firmware::{Hardware, Reset};

/// The twin's types.
#[derive(Debug)]
pub enum Twinned {}

impl Hardware for Twinned {
    type Pad = Pad;
    type Output = Output;
    type Input = Input;
    type Bus = ReplayBus;
    type Flash = Flash;
    type Port = Port;
    type Clock = Clocks;
    type Watchdog = Fed;
    type Chip = ChipFinds;
    type Screen = NoScreen;
}

/// Drive or permit.
#[derive(Debug)]
pub struct Pad {
    pub(super) outside: Shared,
    pub(super) is_drive: bool,
}

impl Pad {
    fn set(&self, high: bool) {
        let mut outside = self.outside.borrow_mut();
        if self.is_drive {
            outside.drive = high;
        } else {
            outside.permit_edges += u32::from(outside.permit != high);
            outside.permit = high;
        }
    }
}

impl PinErrorType for Pad {
    type Error = Infallible;
}

impl OutputPin for Pad {
    fn set_low(&mut self) -> Result<(), Infallible> {
        self.set(false);
        Ok(())
    }

    fn set_high(&mut self) -> Result<(), Infallible> {
        self.set(true);
        Ok(())
    }
}

impl InputPin for Pad {
    fn is_high(&mut self) -> Result<bool, Infallible> {
        let outside = self.outside.borrow();
        Ok(if self.is_drive { outside.drive } else { outside.permit })
    }

    fn is_low(&mut self) -> Result<bool, Infallible> {
        self.is_high().map(|high| !high)
    }
}

#[derive(Clone, Copy, Debug)]
pub(super) enum OutputKind {
    Fan,
    Lamp,
    Beeper,
}

/// Fan, lamp or beeper.
#[derive(Debug)]
pub struct Output {
    pub(super) outside: Shared,
    pub(super) kind: OutputKind,
}

impl Output {
    fn set(&self, high: bool) {
        let mut outside = self.outside.borrow_mut();
        match self.kind {
            OutputKind::Fan => outside.fan = high,
            OutputKind::Lamp => outside.lamp = high,
            OutputKind::Beeper => outside.beeper = high,
        }
    }
}

impl PinErrorType for Output {
    type Error = Infallible;
}

impl OutputPin for Output {
    fn set_low(&mut self) -> Result<(), Infallible> {
        self.set(false);
        Ok(())
    }

    fn set_high(&mut self) -> Result<(), Infallible> {
        self.set(true);
        Ok(())
    }
}

#[derive(Clone, Copy, Debug)]
pub(super) enum InputKind {
    Go,
    Stop,
    Door,
    Permit,
    Mains,
    Airflow,
}

/// A contact: low while it is closed.
#[derive(Debug)]
pub struct Input {
    pub(super) outside: Shared,
    pub(super) kind: InputKind,
}

fn is_high(kind: InputKind, outside: &Outside) -> bool {
    let contacts = &outside.contacts;
    match kind {
        InputKind::Go => !contacts.go,
        InputKind::Stop => contacts.stop,
        InputKind::Door => contacts.door_open,
        InputKind::Permit => outside.contactor,
        InputKind::Mains => !contacts.mains,
        InputKind::Airflow => !contacts.airflow,
    }
}

impl PinErrorType for Input {
    type Error = Infallible;
}

impl InputPin for Input {
    fn is_high(&mut self) -> Result<bool, Infallible> {
        Ok(is_high(self.kind, &self.outside.borrow()))
    }

    fn is_low(&mut self) -> Result<bool, Infallible> {
        self.is_high().map(|high| !high)
    }
}

/// A converter's bus: what the board was answered, if the same was asked.
#[derive(Debug)]
pub struct ReplayBus {
    pub(super) outside: Shared,
    pub(super) converter: usize,
}

impl BusErrorType for ReplayBus {
    type Error = ErrorKind;
}

impl SpiDevice for ReplayBus {
    fn transaction(&mut self, operations: &mut [Operation<'_, u8>]) -> Result<(), ErrorKind> {
        let mut outside = self.outside.borrow_mut();
        let converter = self.converter;
        let Some(kept) = outside.transactions[converter].pop_front() else {
            let words = format!("converter {converter}: the desk asks, the board did not");
            outside.differs.push(words);
            return Err(ErrorKind::Other);
        };
        let mut at = 0;
        for operation in operations {
            match operation {
                Operation::Write(bytes) => {
                    if kept.sent.get(at..at + bytes.len()) != Some(&**bytes) {
                        let words = format!(
                            "converter {converter}: desk sends {bytes:02x?}, board {:02x?}",
                            kept.sent
                        );
                        outside.differs.push(words);
                    }
                    at += bytes.len();
                }
                Operation::Read(bytes) => {
                    let answered = kept.answered.get(at..at + bytes.len());
                    bytes.copy_from_slice(answered.ok_or(ErrorKind::Other)?);
                    at += bytes.len();
                }
                Operation::Transfer(..) | Operation::TransferInPlace(_) => {
                    return Err(ErrorKind::Other);
                }
                Operation::DelayNs(_) => {}
            }
        }
        Ok(())
    }
}

impl SensorBus for ReplayBus {
    fn set_mode(&mut self, _: Mode) {}
}

/// The link's port.
#[derive(Debug)]
pub struct Port(pub(super) Shared);

impl PortErrorType for Port {
    type Error = embedded_io::ErrorKind;
}

impl ReadReady for Port {
    fn read_ready(&mut self) -> Result<bool, Self::Error> {
        Ok(!self.0.borrow().to_board.is_empty())
    }
}

impl Read for Port {
    fn read(&mut self, bytes: &mut [u8]) -> Result<usize, Self::Error> {
        let mut outside = self.0.borrow_mut();
        let len = bytes.len().min(outside.to_board.len());
        for (place, byte) in bytes.iter_mut().zip(outside.to_board.drain(..len)) {
            *place = byte;
        }
        Ok(len)
    }
}

impl WriteReady for Port {
    fn write_ready(&mut self) -> Result<bool, Self::Error> {
        Ok(true)
    }
}

impl Write for Port {
    fn write(&mut self, bytes: &[u8]) -> Result<usize, Self::Error> {
        self.0.borrow_mut().from_board.extend(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> Result<(), Self::Error> {
        Ok(())
    }
}

/// Ticks the board listens to the independent clock before it counts by it.
const LISTENING_TICKS: u32 = 10;

impl Clock for Clocks {
    fn ticks(&self) -> u32 {
        self.outside.borrow().ticks
    }

    fn independent_ticks(&mut self) -> u32 {
        let now = self.ticks();
        let edges = self.outside.borrow().edges;
        if let Some((from, count)) = &mut self.counting {
            return from.wrapping_add(count.take(edges));
        }
        if now >= LISTENING_TICKS {
            let seen = u32::from(edges.wrapping_sub(self.first));
            let rate = match seen * LISTENING_TICKS / now {
                0..55 => 50,
                55..1_400 => 60,
                _ => 32_768,
            };
            self.counting = Some((now, EdgeCount::new(rate, edges)));
        }
        now
    }
}

/// Nobody's watchdog.
#[derive(Debug)]
pub struct Fed;

impl Watchdog for Fed {
    fn feed(&mut self) {}
}

/// What the chip is to find of itself.
#[derive(Debug)]
pub struct ChipFinds(pub(super) Shared);

impl Chip for ChipFinds {
    fn reset(&self) -> Reset {
        if self.0.borrow().reset { Reset::Watchdog } else { Reset::Supply }
    }

    fn image_holds(&mut self) -> bool {
        self.0.borrow().holds[1]
    }

    fn memory_holds(&mut self) -> bool {
        self.0.borrow().holds[0]
    }
}
