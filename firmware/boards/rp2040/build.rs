//! Tells the linker where memory is, and what does not fit.

fn main() {
    println!("cargo::rustc-link-search={}", env!("CARGO_MANIFEST_DIR"));
    println!("cargo::rustc-link-arg-bins=-Tlink.x");
    println!("cargo::rustc-link-arg-bins=-Tlimits.x");
    // No padding of sections to pages: the image is what is needed and no more.
    println!("cargo::rustc-link-arg-bins=--nmagic");
    println!("cargo::rerun-if-changed=memory.x");
    println!("cargo::rerun-if-changed=limits.x");
    println!("cargo::rerun-if-changed=build.rs");
}
