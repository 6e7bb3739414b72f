//! No start files: nothing is linked but the controller, and from the C library what copies memory.

fn main() {
    println!("cargo::rustc-link-arg-bins=-nostartfiles");
    println!("cargo::rustc-link-arg-bins=-lc");
    println!("cargo::rerun-if-changed=build.rs");
}
