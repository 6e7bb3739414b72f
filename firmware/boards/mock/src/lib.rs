//! A board on the desk: the smallest there is, and the second example of one.
//!
//! What a real board reads from pins and buses a test sets in [`Outside`], and what it drives a test
//! reads there. Everything goes through the same traits as on a chip: contacts are levels, sensors
//! are the registers of a MAX31856, the store is NOR flash that loses its supply when told to, the
//! computer is bytes.
//!
//! To build another board, do for its chip what [`MockBoard`], [`parts`] and the few types they
//! name do here.

pub mod computer;
#[path = "../../../tests/flash/mod.rs"]
#[allow(missing_docs)] // the store's own tests speak of it
pub mod flash;
pub mod outside;
mod pins;
mod spi;

pub use computer::Computer;
pub use flash::Flash;
pub use outside::{Outside, World};

use pins::{Contact, ContactPin, OutputKind, Pad, SwitchedPin};
use spi::ConverterBus;
use truesoak_firmware::store::Region;
use truesoak_firmware::{Chip, Clock, Hardware, Identity, Parts, Reset, Screen, Watchdog};

/// Sectors of the store on a flash of 2 MiB, as on the board.
pub const SECTORS: u16 = 384;

/// The mock board's types.
#[derive(Debug)]
pub enum MockBoard {}

impl Hardware for MockBoard {
    type Pad = Pad;
    type Output = SwitchedPin;
    type Input = ContactPin;
    type Bus = ConverterBus;
    type Flash = Flash;
    type Port = computer::Port;
    type Clock = World;
    type Watchdog = World;
    type Chip = World;
    type Screen = World;
}

/// A mock board in this world, with this flash.
#[must_use]
pub fn parts(world: &World, flash: &Flash, identity: Identity) -> Parts<MockBoard> {
    let output = |kind| SwitchedPin { world: world.clone(), kind };
    let contact = |contact| ContactPin { world: world.clone(), contact };
    let sectors = flash.chip(|chip| chip.erases.len());
    Parts {
        drive: Pad { world: world.clone(), is_drive: true },
        permit: Pad { world: world.clone(), is_drive: false },
        fan: output(OutputKind::Fan),
        lamp: output(OutputKind::Lamp),
        beeper: output(OutputKind::Beeper),
        go: contact(Contact::Go),
        stop: contact(Contact::Stop),
        door: contact(Contact::Door),
        permit_read: contact(Contact::Permit),
        mains_proof: contact(Contact::Mains),
        airflow: contact(Contact::Airflow),
        converters: [0, 1, 2].map(|sensor| ConverterBus::new(world.clone(), sensor)),
        flash: flash.clone(),
        region: Region { start: 0, sectors: sectors.min(usize::from(u16::MAX)) as u16 },
        port: computer::Port(world.clone()),
        clock: world.clone(),
        watchdog: world.clone(),
        chip: world.clone(),
        screen: world.clone(),
        identity,
    }
}

impl Clock for World {
    fn ticks(&self) -> u32 {
        self.look(|outside| outside.ticks)
    }

    fn independent_ticks(&mut self) -> u32 {
        self.look(|outside| outside.independent_ticks)
    }
}

impl Screen for World {
    fn show(&mut self, line: u8, text: &str) {
        self.change(|outside| text.clone_into(&mut outside.screen[usize::from(line)]));
    }
}

impl Watchdog for World {
    fn feed(&mut self) {
        self.change(|outside| {
            outside.fed_at = outside.ticks;
            outside.note(outside::Act::Feeds);
        });
    }
}

impl Chip for World {
    fn reset(&self) -> Reset {
        self.look(|outside| outside.reset)
    }

    fn image_holds(&mut self) -> bool {
        self.look(|outside| outside.image_holds)
    }

    fn memory_holds(&mut self) -> bool {
        self.look(|outside| outside.memory_holds)
    }
}
