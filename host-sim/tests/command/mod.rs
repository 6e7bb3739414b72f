//! The built command as a person types it, and what it leaves behind.

use std::path::Path;
use std::process::{Command, Output};

/// What a run left behind.
pub struct Done {
    pub code: i32,
    pub stdout: String,
    pub stderr: String,
}

impl Done {
    pub fn of(output: Output) -> Self {
        let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
        Self {
            code: output.status.code().unwrap(),
            stdout: text(output.stdout),
            stderr: text(output.stderr),
        }
    }
}

/// Runs it in a folder, with the units of the files.
pub fn run(folder: &Path, arguments: &[&str]) -> Done {
    let mut command = Command::new(env!("CARGO_BIN_EXE_truesoak"));
    command.current_dir(folder).env_remove("TRUESOAK_UNITS").args(arguments);
    Done::of(command.output().unwrap())
}

/// Refused before any work: nothing on stdout, the whole complaint on stderr.
#[track_caller]
pub fn refused(done: &Done, words: &[&str]) {
    assert_eq!(done.code, 2, "{}{}", done.stdout, done.stderr);
    assert_eq!(done.stdout, "");
    for word in [&["error: ", "expected: ", "next: "], words].concat() {
        assert!(done.stderr.contains(word), "\"{word}\" is missing in:\n{}", done.stderr);
    }
}
