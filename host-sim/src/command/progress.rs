//! How far a command is, on a terminal's stderr, and how many threads it works on.

use super::Globals;
use crate::plan::Progress;
use indicatif::{ProgressBar, ProgressStyle};
use std::io::IsTerminal as _;
use std::time::Duration;

/// Threads a command may work on.
pub(super) fn threads() -> usize {
    std::thread::available_parallelism().map_or(1, usize::from)
}

/// The bar on a terminal's stderr.
pub(super) struct Bar(ProgressBar);

impl Bar {
    pub(super) fn new(globals: &Globals) -> Self {
        if globals.quiet || !std::io::stderr().is_terminal() {
            return Self(ProgressBar::hidden());
        }
        Self(ProgressBar::new(0))
    }

    /// For work of which nobody knows how much is left: once it takes more than a second.
    pub(super) fn spinner(globals: &Globals, what: &str) -> Self {
        let bar = Self::new(globals);
        bar.start(what, 0, "{msg} {elapsed}");
        bar.0.enable_steady_tick(Duration::from_secs(1));
        bar
    }

    /// So many bytes are to go or come.
    pub(super) fn bytes(&self, what: &'static str, count: usize) {
        self.start(what, count, "{msg} {bar:30} {pos} of {len} bytes");
    }

    /// So many of them have.
    pub(super) fn at(&self, done: usize) {
        self.0.set_position(done as u64);
    }

    /// A line on stderr, above the bar where there is one.
    pub(super) fn tell(&self, line: &str) {
        self.0.suspend(|| eprintln!("{line}"));
    }

    pub(super) fn finish(&self) {
        self.0.finish_and_clear();
    }

    fn start(&self, what: &str, count: usize, shown: &str) {
        if let Ok(style) = ProgressStyle::with_template(shown) {
            self.0.set_style(style);
        }
        self.0.reset();
        self.0.set_length(count as u64);
        self.0.set_message(what.to_owned());
    }
}

impl Progress for Bar {
    fn begin(&self, what: &str, count: usize) {
        self.start(what, count, "rehearsing {msg} {bar:30} {pos} of {len}, {eta} left");
    }

    fn step(&self) {
        self.0.inc(1);
    }
}
