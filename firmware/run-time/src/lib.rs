//! What a small processor cannot do itself, and compiled code calls for by name: arithmetic of
//! single-precision numbers, division, and bytes that are copied or filled.
//!
//! The compiler brings routines of its own for all of it, for every processor and width at once: too slow
//! here, or too large. Those of this crate do the same, and are held to what this machine does on any desk.
#![no_std]
#![deny(unsafe_code)]

pub mod division;
pub mod float;
pub mod memory;
#[cfg(target_arch = "arm")]
mod names;
