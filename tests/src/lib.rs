//! Helpers shared by the tests that cross crates.

pub mod emulated;
