//! A desk with the three starting files on it, for tests that spoil them.

#![allow(dead_code)] // each test file uses a part of it

use std::path::PathBuf;
use tempfile::TempDir;
use truesoak::compile::{check, tuning::tune};
use truesoak::files::{self, Override, Setup};
use truesoak::rehearse::model_of;

/// The three starting files, side by side.
pub struct Desk {
    /// The folder they lie in.
    pub folder: TempDir,
}

/// The bake that `new` writes.
pub const BAKE: &str = include_str!("../../../host-sim/src/command/new/bake.toml");
/// The oven.
pub const OVEN: &str = include_str!("../../../host-sim/src/command/new/oven.toml");
/// The load.
pub const LOAD: &str = include_str!("../../../host-sim/src/command/new/load.toml");

/// A folder of what is shipped.
pub fn profile(kind: &str) -> PathBuf {
    truesoak_tests::path("profiles").join(kind)
}

impl Desk {
    /// All three as `new` writes them.
    #[allow(clippy::new_without_default)]
    pub fn new() -> Self {
        let desk = Self { folder: TempDir::new().unwrap() };
        desk.write("bake.toml", BAKE.as_bytes());
        desk.write("oven.toml", OVEN.as_bytes());
        desk.write("load.toml", LOAD.as_bytes());
        desk
    }

    /// Where one of them is.
    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// Writes one of them anew.
    pub fn write(&self, name: &str, bytes: &[u8]) {
        std::fs::write(self.path(name), bytes).unwrap();
    }

    /// Changes the first place of `from` into `to`.
    pub fn edit(&self, name: &str, from: &str, to: &str) {
        let text = std::fs::read_to_string(self.path(name)).unwrap();
        assert!(text.contains(from), "{from} is not in {name}");
        self.write(name, text.replacen(from, to, 1).as_bytes());
    }

    /// Adds to its end.
    pub fn append(&self, name: &str, more: &str) {
        let text = std::fs::read_to_string(self.path(name)).unwrap();
        self.write(name, (text + more).as_bytes());
    }

    /// Reads all three.
    pub fn read(&self, set: &[Override]) -> Result<Setup, String> {
        files::read(&self.path("bake.toml"), set).map_err(|refusal| refusal.to_string())
    }

    /// Reads and checks all there is, as a rehearsal would.
    pub fn judge(&self) -> Result<(), String> {
        self.judge_with(&[])
    }

    /// The same with values set.
    pub fn judge_with(&self, set: &[Override]) -> Result<(), String> {
        let setup = self.read(set)?;
        let model = model_of(&setup).map_err(|refusal| refusal.to_string())?;
        let findings = check::findings(&setup, &model, &tune(&setup, &model));
        if findings.is_empty() { Ok(()) } else { Err(setup.refuse(findings).to_string()) }
    }
}
