//! Tells the linker where memory is, and what does not fit.

use std::env::var_os;

/// Most bytes of the image, and of one that shows or logs more than it must: neither is a board's as it
/// is delivered.
const IMAGE_MAX: usize = 128 * 1024;
const IMAGE_WITH_MORE_MAX: usize = 160 * 1024;

fn main() {
    let defmt = var_os("CARGO_FEATURE_DEFMT").is_some();
    let more = defmt || var_os("CARGO_FEATURE_DISPLAY").is_some();
    let image_max = if more { IMAGE_WITH_MORE_MAX } else { IMAGE_MAX };
    println!("cargo::rustc-link-arg-bins=--defsym=__image_max={image_max}");
    if defmt {
        println!("cargo::rustc-link-arg-bins=-Tdefmt.x");
    }
    println!("cargo::rustc-link-search={}", env!("CARGO_MANIFEST_DIR"));
    println!("cargo::rustc-link-arg-bins=-Tlink.x");
    println!("cargo::rustc-link-arg-bins=-Tlimits.x");
    // No padding of sections to pages: the image is what is needed and no more.
    println!("cargo::rustc-link-arg-bins=--nmagic");
    println!("cargo::rerun-if-changed=memory.x");
    println!("cargo::rerun-if-changed=limits.x");
    println!("cargo::rerun-if-changed=build.rs");
}
