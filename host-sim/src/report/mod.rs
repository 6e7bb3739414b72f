//! What happened, in words, numbers and pictures.
//!
//! [`result`] is the JSON of a rehearsal or a recount, [`words`] the same for a person.

pub mod result;
