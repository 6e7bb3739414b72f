//! What happened, in words, numbers and pictures.
//!
//! [`result`] is the JSON of a rehearsal or a recount, [`words`] the same for a person, with
//! [`faults`] for what went wrong and [`units`] for how numbers are shown.

pub mod faults;
pub mod result;
pub mod units;
