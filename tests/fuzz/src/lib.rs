//! What anybody can send to the board, write into a file or leave in the flash, as bytes of any kind.
//!
//! A [`Target`] takes any bytes at all and must neither panic nor take long; each asserts what must
//! hold of everything it was given. `tests/smoke.rs` plays the corpus and some thousand changed
//! copies of it in every test run; `bash tests/fuzz/long` lets a coverage-guided run look for
//! inputs that go new ways, which takes hours.
//!
//! What a run found is kept as a named test beside the code that was mended, not here alone.

mod bytes;
mod json;
mod link;
mod log;
mod store;
mod text;
mod tick;

/// Something that takes bytes.
#[derive(Clone, Copy, Debug)]
pub struct Target {
    /// Its name, and its folder of the corpus.
    pub name: &'static str,
    /// Tries one input; panics where something does not hold.
    pub run: fn(&[u8]),
    /// Longest input worth a try, bytes.
    pub bytes_max: usize,
}

/// Every target.
pub const TARGETS: [Target; 6] = [
    Target { name: "link", run: link::run, bytes_max: 768 },
    Target { name: "store", run: store::run, bytes_max: 512 },
    Target { name: "text", run: text::run, bytes_max: 2048 },
    Target { name: "log", run: log::run, bytes_max: 2048 },
    Target { name: "json", run: json::run, bytes_max: 2048 },
    Target { name: "tick", run: tick::run, bytes_max: 384 },
];

/// A target by its name.
#[must_use]
pub fn target(name: &str) -> Option<Target> {
    TARGETS.into_iter().find(|target| target.name == name)
}
