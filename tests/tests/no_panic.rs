//! No input makes the controller, the store or the shell panic, and no byte from outside, as their
//! optimised image proves.
//!
//! Goal and method are those of `tests/no_panic`: controller, store and shell, built without `std` and linked
//! against a panic that does not exist. What the optimiser cannot prove to hold ends in a link
//! error, and the same image with one unproven index put in shows that it does. The start of an
//! image and its libraries are the linker's own matter on every other system.
#![cfg(all(target_os = "linux", target_pointer_width = "64"))]

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// The function a panic would have to call, and nobody has.
const MISSING: &str = "a_panic_path_survived";
/// The controller's own tick, as the image's symbols have it.
const TICK: &[u8] = b"10Controller4tick";
/// The store's making of room.
const ROOM: &[u8] = b"9make_room";
/// The shell's own tick.
const SHELL: &[u8] = b"14Shell$LT$H$GT$4tick";
/// A compiled bake's arrival, likewise.
const ARRIVAL: &[u8] = b"8Compiled6decode";

fn target() -> PathBuf {
    Path::new(env!("CARGO_TARGET_TMPDIR")).join("no_panic")
}

fn link(features: &str) -> Output {
    let manifest = Path::new(env!("CARGO_MANIFEST_DIR")).join("no_panic/Cargo.toml");
    Command::new(env!("CARGO"))
        .args(["build", "--release", "--locked", "--features", features, "--manifest-path"])
        .arg(manifest)
        .arg("--target-dir")
        .arg(target())
        // What the caller builds its tests with is not for this image.
        .env_remove("RUSTFLAGS")
        .output()
        .expect("cargo runs")
}

#[test]
fn controller_store_and_shell_link_without_a_panic_and_an_unproven_index_does_not() {
    let linked = link("");
    let said = String::from_utf8_lossy(&linked.stderr);
    assert!(
        linked.status.success(),
        "a way to a panic is left (or this machine cannot link): build with `--emit asm` and look \
         for calls of core::panicking\n{said}"
    );
    let image = std::fs::read(target().join("release/no_panic")).expect("the image");
    for symbol in [TICK, ROOM, ARRIVAL, SHELL] {
        let there = image.windows(symbol.len()).any(|bytes| bytes == symbol);
        assert!(there, "{} is not in it", String::from_utf8_lossy(symbol));
    }

    let unproven = link("panics");
    assert!(!unproven.status.success(), "an index out of range would not be noticed");
    assert!(String::from_utf8_lossy(&unproven.stderr).contains(MISSING));
}
