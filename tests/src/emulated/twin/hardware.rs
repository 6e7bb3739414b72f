//! What of the twin is not the mock board's: buses that replay, and a clock that counts what the
//! board counted.

use super::{Clocks, Flash, Shared};
use embedded_hal::spi::{ErrorKind, ErrorType, Mode, Operation, SpiDevice};
use truesoak_board_mock::{MockBoard, World};
use truesoak_firmware::Hardware;
use truesoak_firmware::board::{Clock, EdgeCount, NoScreen, SensorBus};

/// The twin's types.
#[derive(Debug)]
pub enum Twinned {}

impl Hardware for Twinned {
    type Pad = <MockBoard as Hardware>::Pad;
    type Output = <MockBoard as Hardware>::Output;
    type Input = <MockBoard as Hardware>::Input;
    type Bus = ReplayBus;
    type Flash = Flash;
    type Port = <MockBoard as Hardware>::Port;
    type Clock = Clocks;
    type Watchdog = World;
    type Chip = World;
    type Screen = NoScreen;
}

/// A converter's bus: what the board was answered, if the same was asked.
#[derive(Debug)]
pub struct ReplayBus {
    pub(super) replayed: Shared,
    pub(super) converter: usize,
}

impl ErrorType for ReplayBus {
    type Error = ErrorKind;
}

impl SpiDevice for ReplayBus {
    fn transaction(&mut self, operations: &mut [Operation<'_, u8>]) -> Result<(), ErrorKind> {
        let mut replayed = self.replayed.borrow_mut();
        let converter = self.converter;
        let Some(kept) = replayed.transactions[converter].pop_front() else {
            let words = format!("converter {converter}: the desk asks, the board did not");
            replayed.differs.push(words);
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
                        replayed.differs.push(words);
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

/// Ticks the board listens to the independent clock before it counts by it.
const LISTENING_TICKS: u32 = 10;

impl Clock for Clocks {
    fn ticks(&self) -> u32 {
        self.world.ticks()
    }

    fn independent_ticks(&mut self) -> u32 {
        let now = self.ticks();
        let edges = self.replayed.borrow().edges;
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
