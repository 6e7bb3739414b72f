//! The oven and its load as a thermal network, and its integration.
//!
//! [`mod@derive`] turns what a person wrote (sizes, masses, materials) into areas, capacities, films
//! and exchange areas; both this plant and the board's tables are made from those. The laws stand
//! in [`air`], [`convection`], [`radiation`] and [`doorway`], each with its source.

pub mod air;
mod build;
pub mod convection;
pub mod derive;
pub mod doorway;
mod draw;
pub mod fit;
pub mod network;
pub mod observed;
pub mod open_loop;
mod outline;
pub mod radiation;
#[cfg(test)]
mod sample;
pub mod simulation;
pub mod sparse;
pub mod step;

pub use build::{Plant, SOAKED, Shown};
pub use draw::Draw;

/// 0 °C in kelvins (definition of the Celsius scale).
pub const ZERO_CELSIUS_K: f64 = 273.15;
/// Standard gravity, m/s² (3rd CGPM, 1901).
pub const GRAVITY_M_PER_S2: f64 = 9.806_65;
