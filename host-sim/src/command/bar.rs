//! The bar on a terminal's stderr, for work done many times.

use super::Globals;
use crate::plan::Progress;
use indicatif::{ProgressBar, ProgressStyle};
use std::io::IsTerminal as _;

/// Shown on a terminal only.
pub(super) struct Bar(ProgressBar);

impl Bar {
    pub(super) fn new(globals: &Globals) -> Self {
        if globals.quiet || !std::io::stderr().is_terminal() {
            return Self(ProgressBar::hidden());
        }
        let bar = ProgressBar::new(0);
        let shown = "rehearsing {msg} {bar:30} {pos} of {len}, {eta} left";
        if let Ok(style) = ProgressStyle::with_template(shown) {
            bar.set_style(style);
        }
        Self(bar)
    }

    pub(super) fn finish(&self) {
        self.0.finish_and_clear();
    }
}

impl Progress for Bar {
    fn begin(&self, what: &str, count: usize) {
        self.0.reset();
        self.0.set_length(count as u64);
        self.0.set_message(what.to_owned());
    }

    fn step(&self) {
        self.0.inc(1);
    }
}
