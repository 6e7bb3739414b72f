//! The oven controller itself: what runs on the chip and, unchanged, in every rehearsal.
//!
//! One way through, every tick (100 ms), in one function ([`tick::Controller::tick`]):
//! inputs → readings judged → bounds → guard → sequence → regulate → guard clamps → outputs.
//!
//! Nothing here owns a clock, allocates, panics or does I/O. Time is an argument. Default, error,
//! not-a-number and silence all mean off.
#![no_std]
#![forbid(unsafe_code)]

#[cfg(all(feature = "mutants", target_os = "none"))]
compile_error!("a guard whose rows can be muted is for tests on the desk, never for a board");

pub mod bake;
pub mod bounds;
pub mod command;
pub mod door;
pub mod event;
pub mod guard;
pub mod io;
pub mod judge;
pub mod ledger;
pub mod pending;
pub mod persist;
pub mod person;
pub mod recent;
pub mod record;
pub mod regulate;
pub mod root;
pub mod sensor;
pub mod sequence;
pub mod stay;
pub mod tick;
pub mod two_points;
pub mod units;
pub mod wire;

pub use tick::Controller;
