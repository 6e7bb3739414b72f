//! A bare thermal network: nodes, links, radiation, doorways, heaters and sensors from a file, with
//! no oven and no controller around them.
//!
//! It serves to check the integration against anything else that can solve the same equations. A
//! description that is not a network is refused with everything wrong in it ([`check`]).

pub mod check;
pub mod file;
mod network;

pub use check::Fault;
pub use file::BareNetwork;
pub use network::{Bare, build};

/// The room, where a name of a node may stand.
pub const AMBIENT: &str = "ambient";
/// Most nodes.
pub const NODES_MAX: usize = 10_000;
/// Most rows of a log.
pub const ROWS_MAX: f64 = 1e7;
