//! Shipped bakes with values changed; the plants the spread allows are the campaign's.

use std::path::Path;
use truesoak::files::{self, Override, Setup};
pub use truesoak::trial::plant;

/// Reads a shipped bake with values changed.
pub fn setup(bake: &str, set: &[&str]) -> Setup {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../profiles/bakes").join(bake);
    let set: Vec<Override> = set.iter().map(|typed| Override::set(typed)).collect();
    files::read(&path, &set).unwrap_or_else(|refusal| panic!("{bake}:\n{refusal}"))
}
