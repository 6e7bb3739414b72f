//! The oven board's shell around `truesoak-core`: read, tick, act.
//!
//! Generic over embedded-hal 1.0: a board names its types and fills [`Parts`], the [`shell`] does
//! the rest, and every decision is the core's. Here are the way out of a tick ([`Actuators`]), the
//! ways in ([`converter`], [`person`]), what outlives a supply ([`store`]) and the board's end of
//! the [`link`]. Nothing in here has driven a heater.
//!
//! The permit is a charge pump that must be toggled every tick: a processor that stops toggling,
//! for whatever reason, drops the contactor. The drive is set before the permit is toggled, and the
//! permit is toggled only when the drive reads back as commanded.
#![no_std]
#![forbid(unsafe_code)]

mod actuators;
pub mod board;
pub mod converter;
pub mod link;
pub mod person;
pub mod shell;
pub mod store;

pub use actuators::{ActError, Actuators, drop_outputs};
pub use board::{Chip, Clock, Hardware, Identity, Parts, Reset, Screen, SensorBus, Watchdog};
pub use shell::{Memory, Shell};
