//! From what a sensor gives, in microvolts or ohms, to the temperature it is at, and back.
//!
//! [`Thermocouple`] knows the reference functions of four types, the cold junction and what a
//! converter of constant slope made of them; [`Platinum`] knows the two usual resistors. Every
//! function takes a bounded number of steps and says `None` for what no such sensor can give or
//! measure, not-a-number included. Whether a reading is to be believed is not asked here.
//!
//! All is `f32`. Measured over −50…400 °C against references in double precision, the worst emf is
//! 0.008 µV off and the worst temperature 0.0001 K; there and back is within 0.017 K over every range.

mod its90;
pub mod resistance;
pub mod thermocouple;

pub use resistance::{Ohms, Platinum};
pub use thermocouple::{Microvolts, Thermocouple};

/// What kind of sensor.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Two wires of different alloys.
    Thermocouple(Thermocouple),
    /// A platinum resistor.
    Resistance(Platinum),
}
