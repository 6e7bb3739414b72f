//! The emulated board: the image that is flashed, run instruction by instruction beside the plant.
//!
//! * [`process`]: the emulator as a child process (`tests/emulator`, Node).
//! * [`board`]: what its pins, buses and flash are seen to do in a stretch of time.
//! * [`frames`]: temperatures as the bytes of a converter.

pub mod board;
pub mod frames;
pub mod process;
