//! The computer's end of the wire: a board found, opened, asked, and its bakes read back.
//!
//! ```text
//! address → port → client → session        where it is, its bytes, its replies, and back again when lost
//!                           document       what a bake is made from, both ways
//!                           stored → log   a bake's bytes as the board kept them, and the log they are
//! ```
//!
//! Nothing is written to a port whose USB product is not the board's, unless a person names it. A
//! request that may be asked twice is, when its reply is lost; one that does something is not. What
//! a board says is read by `truesoak_core::wire`, which refuses what it does not know.

mod address;
mod client;
mod document;
mod fault;
mod port;
mod requests;
mod session;
mod settings;
mod stored;

pub use address::{Address, BadAddress};
pub use client::{Client, Greeting};
pub use document::{Document, NoDocument};
pub use fault::{LinkError, OpenFault};
pub use port::{Listed, Port, boards_of, list};
pub use requests::Taken;
pub use session::{Patience, Session};
pub use settings::{
    Difference, SENSOR_NAMES, Wiring, claimed, commissioned, converter, correction_k, differences,
    fitted, fitted_as,
};
pub use stored::{Flaw, Head, NoHead, Recorder, StoredReader};
