//! The person at the oven: two buttons in, a lamp and a beeper out.
//!
//! What a press means and what is asked is the core's; here contacts become pressed or not, and
//! what is asked becomes light and sound. Nothing here leads to heat or keeps it from being cut.

pub mod button;
pub mod pattern;
pub mod signal;

pub use button::Buttons;
pub use pattern::{Level, Pattern, level};
pub use signal::{Announcer, Signal, Situation};
