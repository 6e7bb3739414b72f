//! Files made to be as bad as files can be, and numbers no oven has.
//!
//! Goal: whatever is written, the answer is a clear refusal or a finished rehearsal, soon; never a
//! panic, a hang, or a number in the result that is none. Method: files of a megabyte that upset
//! the readers at every line, and every number of the three files driven to where it breaks models.

mod files_support;

use files_support::{Desk, LOAD};
use std::time::{Duration, Instant};

/// Nobody waits longer for a refusal, in a debug build on a shared machine.
const SOON: Duration = Duration::from_secs(20);
/// The largest file that is read, less room for what is put in front, bytes.
const LARGEST: usize = (1 << 20) - 8192;

/// As many lines as fit.
fn filled(with: impl Fn(usize) -> String) -> String {
    let mut text = String::with_capacity(LARGEST);
    for line in (0..).map(with) {
        if text.len() + line.len() > LARGEST {
            break;
        }
        text.push_str(&line);
    }
    text
}

fn repeated(what: &str) -> String {
    what.repeat(LARGEST / what.len())
}

#[test]
fn a_megabyte_of_anything_is_refused_soon() {
    let without_name = LOAD.split_once("name = \"My load\"").unwrap().1;
    for (why, load) in [
        ("lines without a key", repeated("= \n")),
        ("open texts", repeated("a = \"\n")),
        ("one key again and again", repeated("a = 1\n")),
        ("bare carriage returns", repeated("\r")),
        ("quotation marks", repeated("\"\"\"")),
        ("open lists", format!("a = {}", repeated("["))),
        ("open tables", format!("a = {}", repeated("{a="))),
        ("a key of two hundred thousand parts", format!("[{}a]", repeated("a."))),
        ("parts without anything", repeated("[[part]]\n")),
        ("tables nobody knows", filled(|n| format!("[t{n}]\n"))),
        ("keys nobody knows", LOAD.to_owned() + &filled(|n| format!("k{n} = 1\n"))),
        ("a long name", format!("name = \"{}\"{without_name}", "x".repeat(LARGEST))),
        ("line ends", repeated("\n")),
        ("zeros", repeated("\0")),
    ] {
        let desk = Desk::new();
        desk.write("load.toml", load.as_bytes());
        let began = Instant::now();
        let text = desk.judge().expect_err(why);
        assert!(began.elapsed() < SOON, "{why}: {:?}", began.elapsed());
        assert!(text.starts_with("error: ") && text.contains("next: "), "{why}:\n{text}");
        assert!(text.len() < 20_000, "{why}: {} bytes of refusal", text.len());
    }
}

#[test]
fn a_long_script_is_refused_soon() {
    let desk = Desk::new();
    let doors = filled(|n| format!("\n[[door]]\nat = \"nowhere {n}\"\n"));
    desk.append("bake.toml", &doors);
    let began = Instant::now();
    let text = desk.judge().unwrap_err();
    assert!(began.elapsed() < SOON, "{:?}", began.elapsed());
    assert!(text.contains("at most 200"), "{text}");
}
