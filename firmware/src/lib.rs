//! The oven board's shell: read, tick, act. Filled by the board's own work; see the crate README.
#![no_std]
#![forbid(unsafe_code)]
