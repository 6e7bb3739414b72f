//! The shell: ten times a second read → tick → act → store and report; sleep in between is the
//! board's.
//!
//! [`Shell::boot`] tests the board before heat is possible and takes up a bake that the supply
//! interrupted; [`Shell::tick`] is one tick; [`Shell::serve`] answers the computer between two.
//! Neither ever blocks or fails: what does not work is left off, forbids heat, and is told.
//!
//! The watchdog is fed only when the tick ran, its inputs were fresh and its outputs read back
//! right; the permit is toggled as the tick's last act.

mod black_box;
mod boot;
mod commission;
mod contacts;
mod desk;
mod document;
mod log;
mod log_book;
mod panel;
mod rest;
mod room;
mod self_test;
mod sensors;
mod station;

pub use truesoak_core::wire::commissioned::Commissioned;

use crate::board::{Hardware, Parts, Watchdog};
use crate::link::Link;
use black_box::BlackBox;
use station::Station;
use truesoak_core::Controller;
use truesoak_core::units::Tick;
use truesoak_core::wire::compiled::COMPILED_BYTES_MAX;

/// The large part of a shell's state, in a place of the board's own: a `static`, as a rule.
pub struct Memory {
    controller: Option<Controller>,
    black_box: BlackBox,
    /// The compiled part of a document that comes or is loaded.
    compiled: [u8; COMPILED_BYTES_MAX],
}

impl Memory {
    /// Nothing yet. A constant, so that a `static` can be made of it.
    #[must_use]
    pub const fn new() -> Self {
        Self { controller: None, black_box: BlackBox::new(), compiled: [0; COMPILED_BYTES_MAX] }
    }
}

impl Default for Memory {
    fn default() -> Self {
        Self::new()
    }
}

impl core::fmt::Debug for Memory {
    fn fmt(&self, formatter: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        formatter
            .debug_struct("Memory")
            .field("controller", &self.controller)
            .finish_non_exhaustive()
    }
}

/// A board's shell.
pub struct Shell<'a, H: Hardware> {
    link: Link<H::Port>,
    station: Station<'a, H>,
    watchdog: H::Watchdog,
    last_tick: Option<Tick>,
    serves_left: u8,
}

/// Rounds of the link between two ticks: as many replies as a tick's, twice over.
const SERVES: u8 = 2;

impl<'a, H: Hardware> Shell<'a, H> {
    /// Starts a board: drive and permit low, self-test begun, store opened, an interrupted bake
    /// taken up. Returns in every case, at most a second or two after it was called (the store is
    /// read once); the watchdog is fed meanwhile, for no heat is possible.
    pub fn boot(parts: Parts<H>, memory: &'a mut Memory) -> Self {
        let (station, port, watchdog) = Station::boot(parts, memory);
        Self { link: Link::new(port), station, watchdog, last_tick: None, serves_left: SERVES }
    }

    /// One tick; call it when the clock has counted one.
    pub fn tick(&mut self) {
        let now = self.station.now();
        let last = self.last_tick.replace(now);
        if last.is_none() {
            // What is shown or waited for after a start begins here, however long the boot took.
            self.station.booted = now;
        }
        let time_goes_on = last != Some(now);
        let acted = self.station.tick(now);
        self.station.rejected = self.link.counts().rejected;
        self.station.report(now, |row| self.link.row(row));
        self.link.tick(&mut self.station);
        self.serves_left = SERVES;
        let held = acted.and_then(|outputs| self.station.hold(&outputs));
        if held.is_ok() && time_goes_on {
            self.watchdog.feed();
        }
    }

    /// Takes requests and gives replies between two ticks, so that a computer need not wait for the
    /// next. Call it when the port has something, up to 20 ms before the next tick; bounded, and
    /// nothing once this tick's share is used up.
    pub fn serve(&mut self) {
        if let Some(left) = self.serves_left.checked_sub(1) {
            self.serves_left = left;
            self.link.tick(&mut self.station);
        }
    }

    /// The controller, as it stands after the last tick.
    #[must_use]
    pub fn controller(&self) -> Option<&Controller> {
        self.station.controller()
    }
}

impl<H: Hardware> core::fmt::Debug for Shell<'_, H> {
    fn fmt(&self, formatter: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        formatter.debug_struct("Shell").field("last_tick", &self.last_tick).finish_non_exhaustive()
    }
}
