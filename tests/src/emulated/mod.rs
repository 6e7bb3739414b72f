//! The emulated board: the image that is flashed, run instruction by instruction beside the plant.
//!
//! * [`process`]: the emulator as a child process (`tests/emulator`, Node).
//! * [`board`]: what its pins, buses and flash are seen to do in a stretch of time.
//! * [`computer`]: the other end of its cable.
//! * [`frames`]: temperatures as the bytes of a converter.
//! * [`twin`]: the same shell on the desk, given the same bytes and levels.
//! * [`pair`]: both, tick by tick, to the first difference.
//! * [`oven`]: both in the rehearsal's oven.
//! * [`scenario`]: what is tried on it.

pub mod board;
pub mod computer;
pub mod frames;
pub mod oven;
pub mod pair;
pub mod process;
pub mod scenario;
pub mod twin;
