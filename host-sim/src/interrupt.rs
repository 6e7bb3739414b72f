//! Ctrl-C: the work stops at its next step, and what was done by then is kept.
//!
//! The one thing of a process that is shared: whether a person asked it to stop. Only the command
//! listens; a library that never does is never asked.

use std::sync::atomic::{AtomicBool, Ordering};

/// Exit code of a command that was interrupted: 128 and the number of the signal (2), as shells
/// have it.
pub const EXIT_CODE: u8 = 130;

static ASKED: AtomicBool = AtomicBool::new(false);

/// Listens from now on. A second Ctrl-C ends the process at once.
///
/// # Errors
/// When the system does not let a program listen; Ctrl-C then ends it as it always did.
pub fn listen() -> Result<(), ctrlc::Error> {
    ctrlc::set_handler(|| {
        if ASKED.swap(true, Ordering::Relaxed) {
            std::process::exit(i32::from(EXIT_CODE));
        }
    })
}

/// A person asked to stop.
#[must_use]
pub fn asked() -> bool {
    ASKED.load(Ordering::Relaxed)
}
