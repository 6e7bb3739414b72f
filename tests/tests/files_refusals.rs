//! What a person can get wrong in a file, and what they are told.
//!
//! Goal: every refusal names what is wrong, where, what was expected and what to do next; nothing
//! panics, whatever the bytes. Method: the shipped starting files, one slip at a time, and then
//! thousands of random slips.

mod files_support;

use files_support::{BAKE, Desk, LOAD, OVEN};
use rand_core::{RngCore, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;
use std::path::Path;
use truesoak::files::{self, Override};

/// One slip, and words its refusal must have.
fn refused(file: &str, from: &str, to: &str, words: &[&str]) {
    let desk = Desk::new();
    desk.edit(file, from, to);
    told(&desk, words);
}

fn told(desk: &Desk, words: &[&str]) {
    let text = desk.judge().expect_err("should be refused");
    for word in words.iter().chain(&["error: ", "expected: ", "next: "]) {
        assert!(text.contains(word), "\"{word}\" is missing in:\n{text}");
    }
}

#[test]
fn the_starting_files_read_and_pass_every_check() {
    Desk::new().judge().unwrap();
    let desk = Desk::new();
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../host-sim/src/command/new");
    for name in ["bake", "oven", "load"] {
        let text = std::fs::read(folder.join(format!("{name}-f.toml"))).unwrap();
        desk.write(&format!("{name}.toml"), &text);
    }
    desk.judge().unwrap();
}

#[test]
fn a_byte_order_mark_and_windows_line_ends_are_fine() {
    let desk = Desk::new();
    desk.write("bake.toml", format!("\u{feff}{}", BAKE.replace('\n', "\r\n")).as_bytes());
    desk.judge().unwrap();
}

#[test]
fn quantities_are_refused_with_their_repair() {
    let cure = r#"at_least = "130 °C""#;
    for (to, words) in [
        (r#"at_least = "130""#, &["bake.toml:", "unit"][..]),
        (r#"at_least = 130"#, &["bake.toml:"][..]),
        (r#"at_least = "130 mm""#, &["mm"][..]),
        (r#"at_least = "130,5 °C""#, &["point"][..]),
        (r#"at_least = "nan °C""#, &["bake.toml:"][..]),
        (r#"at_least = "inf °C""#, &["bake.toml:"][..]),
        (r#"at_least = "-300 °C""#, &["absolute zero"][..]),
        (r#"at_least = “130 °C”"#, &["quote"][..]),
    ] {
        refused("bake.toml", cure, to, words);
    }
    refused("load.toml", r#"mass = "62 g""#, r#"mass = "-62 g""#, &["load.toml:", "mass"]);
    refused("load.toml", r#"thinnest = "3 mm""#, r#"thinnest = "18 ga""#, &["gauge"]);
    refused("bake.toml", r#"for = "60 min""#, r#"for = "-60 min""#, &["for"]);
    refused("bake.toml", r#"for = "60 min""#, r#"for = "1e30 h""#, &["for"]);
}

#[test]
fn unknown_keys_and_names_come_with_the_nearest_known_one() {
    refused("oven.toml", "[insulation]", "[insulaton]", &["insulation"]);
    refused("load.toml", "aluminium 6061", "aluminum 6601", &["aluminium"]);
    refused("bake.toml", "at_least =", "at_lest =", &["at_least"]);
    refused(
        "bake.toml",
        r#"oven = "oven.toml""#,
        r#"oven = "ovn.toml""#,
        &["oven.toml", "did you mean"],
    );
}

#[test]
fn windows_that_cannot_be_held_are_refused_with_the_sum() {
    refused("bake.toml", r#"at_most = "168 °C""#, r#"at_most = "120 °C""#, &["upside down"]);
    refused(
        "bake.toml",
        r#"at_most = "168 °C""#,
        r#"at_most = "140 °C""#,
        &["too narrow", "spots", "resolution"],
    );
    refused(
        "bake.toml",
        r#"at_most = "168 °C""#,
        r#"at_most = "199 °C""#,
        &["stands", "load.toml:"],
    );
    refused("oven.toml", "1500 W", "60 W", &["heater cannot reach", "balance"]);
}

/// The arithmetic of the refusal: 320 °F less 21 °F for sensor, both spots and resolution.
#[test]
fn a_soak_above_a_parts_limit_shows_both_places_and_the_arithmetic() {
    let desk = Desk::new();
    desk.edit(
        "bake.toml",
        r#"at_least = "130 °C", at_most = "168 °C""#,
        r#"at_least = "350 °F", at_most = "390 °F""#,
    );
    desk.edit("load.toml", r##"# max = "190 °C""##, r#"max = "320 °F""#);
    told(
        &desk,
        &[
            "350 °F is above what \"brake lever\" stands",
            "at most 299 °F here (320 less 21",
            "^",
            "load.toml:",
        ],
    );
}

#[test]
fn bakes_that_contradict_themselves_are_refused() {
    refused("bake.toml", r#"cool = { to = "45 °C""#, r#"cool = { to = "21 °C""#, &["22 °C"]);
    let desk = Desk::new();
    desk.append("bake.toml", "\n[[step]]\nwait = { ask = \"Coat\", for = \"10 min\" }\n\n[[step]]\nsoak = { at_least = \"130 °C\", at_most = \"168 °C\", for = \"10 min\" }\n");
    told(&desk, &["a person may have the parts", "load_in"]);
    let desk = Desk::new();
    desk.append("bake.toml", "\n[[door]]\nat = \"cuer + 5 min\"\n");
    told(&desk, &["cuer", "cure"]);
    let desk = Desk::new();
    desk.append("bake.toml", "\n[[door]]\nat = \"1e30 h\"\n");
    told(&desk, &["bake.toml:"]);
    let desk = Desk::new();
    desk.append("bake.toml", "\n[[fault]]\nat = \"cure\"\nkind = \"thermocuple-open\"\n");
    told(&desk, &["thermocouple-open"]);
    let desk = Desk::new();
    desk.append("bake.toml", &"\n[[step]]\nramp = { to = \"100 °C\" }\n".repeat(30));
    told(&desk, &["24"]);
    let desk = Desk::new();
    desk.edit("load.toml", "aluminium 6061", "PA66-GF30");
    desk.edit(
        "bake.toml",
        "\"cure\", at_least = \"130 °C\", at_most = \"168 °C\"",
        "\"gas-out\", at_least = \"130 °C\", at_most = \"168 °C\"",
    );
    told(&desk, &["polymer", "gas_out = false"]);
}

#[test]
fn files_that_are_no_files_are_refused() {
    let desk = Desk::new();
    let missing = files::read(&desk.path("nothing.toml"), &[]).unwrap_err().to_string();
    assert!(missing.contains("is not there"), "{missing}");
    let folder = files::read(desk.folder.path(), &[]).unwrap_err().to_string();
    assert!(folder.contains("is a folder"), "{folder}");
    for (bytes, word) in [
        (vec![0xff_u8, 0xfe, b'a', 0, b'b', 0], "UTF-16"),
        (b"name = \"\xc3\x28\"\n".to_vec(), "UTF-8"),
        (vec![b'#'; (1 << 20) + 1], "1 MiB"),
    ] {
        let desk = Desk::new();
        desk.write("load.toml", &bytes);
        told(&desk, &[word, "load.toml"]);
    }
    refused(
        "bake.toml",
        r#"oven = "oven.toml""#,
        r#"oven = "bake.toml""#,
        &["the oven is the bake itself", "the path of an oven file"],
    );
    refused(
        "bake.toml",
        r#"load = "load.toml""#,
        r#"load = "oven.toml""#,
        &["is an oven, not a load"],
    );
}

#[test]
fn every_problem_of_all_three_files_is_told_at_once_and_ten_at_most() {
    let desk = Desk::new();
    desk.edit("bake.toml", r#"at_least = "130 °C""#, r#"at_least = "130""#);
    desk.edit("oven.toml", r#"width = "40 cm""#, r#"width = "40""#);
    desk.edit("load.toml", r#"mass = "62 g""#, r#"mass = "62""#);
    told(&desk, &["bake.toml:", "oven.toml:", "load.toml:"]);
    let desk = Desk::new();
    desk.append(
        "bake.toml",
        &(0..14).map(|n| format!("\n[[door]]\nat = \"nowhere {n}\"\n")).collect::<String>(),
    );
    told(&desk, &["and 4 more"]);
}

#[test]
fn a_file_that_cannot_be_read_hides_no_problem_of_the_others() {
    for bytes in [&b"name = \"torn\n[cavity"[..], b"\xff\xfe", b"[[part]]\nname = \"a part\"\n"] {
        let desk = Desk::new();
        desk.edit("bake.toml", r#"at_most = "168 °C""#, r#"at_most = "120 °C""#);
        desk.edit("load.toml", r#"mass = "62 g""#, r#"mass = "62""#);
        desk.write("oven.toml", bytes);
        told(&desk, &["upside down", "62 has no unit", "oven.toml"]);
        let text = desk.judge().unwrap_err();
        assert!(!text.contains("is missing"), "an unread oven lacks nothing:\n{text}");
    }
}

#[test]
fn a_path_is_refused_with_the_one_that_works() {
    refused("bake.toml", r#""oven.toml""#, r#"'ovens\mine.toml'"#, &["\"ovens/mine.toml\""]);
    refused("bake.toml", r#""oven.toml""#, "\"ov\\u0007en.toml\"", &["control character"]);
    refused("bake.toml", r#"oven = "oven.toml""#, "oven = 3", &["does not name a file"]);
}

#[test]
fn overrides_are_judged_like_any_value_and_told_where_they_were_typed() {
    let desk = Desk::new();
    let set = |typed: &str| desk.read(&[Override::set(typed)]);
    assert_eq!(set("load.part.1.count=3").unwrap().load.parts[0].count, 3);
    assert_eq!(set("load.part.\"brake lever\".count=4").unwrap().load.parts[0].count, 4);
    let soak = set("bake.step.\"cure\".soak.for=\"20 min\"").unwrap();
    assert!(format!("{:?}", soak.bake.bake.steps).contains("for_s: 1200"));
    for (typed, word) in [
        ("load.part.9.count=3", "--set load.part.9.count=3"),
        ("oven.heatr.power=\"1 kW\"", "heater"),
        ("kiln.heater=1", "bake., oven. or load."),
        ("load.part.1.count", "KEY=VALUE"),
        ("oven.heater.power=\"12 kg\"", "--set oven.heater.power"),
        ("bake.oven=\"gone.toml\"", "gone.toml"),
    ] {
        let text = set(typed).unwrap_err();
        assert!(text.contains(word), "{typed}:\n{text}");
    }
}

/// Random slips in the shipped files: bytes changed, lines dropped or doubled, numbers blown up.
#[test]
fn random_slips_never_panic() {
    let mut random = Xoshiro256PlusPlus::seed_from_u64(20_261_125);
    let texts = [("bake.toml", BAKE), ("oven.toml", OVEN), ("load.toml", LOAD)];
    let odd =
        ["-", "1e308", "\"", "[", "]", "{", "°", "0", "nan", "\u{0}", "=", ".", "9999999999", "\n"];
    let desk = Desk::new();
    let (mut good, mut bad) = (0, 0);
    for _ in 0..4000 {
        let (name, text) = texts[random.next_u64() as usize % 3];
        let mut bytes = text.as_bytes().to_vec();
        for _ in 0..1 + random.next_u64() % 3 {
            let at = random.next_u64() as usize % bytes.len();
            match random.next_u64() % 4 {
                0 => bytes[at] = random.next_u64() as u8,
                1 => {
                    bytes.truncate(at.max(1));
                }
                2 => {
                    let piece = odd[random.next_u64() as usize % odd.len()].as_bytes();
                    bytes.splice(at..at, piece.iter().copied());
                }
                _ => {
                    let end = (at + 1 + random.next_u64() as usize % 12).min(bytes.len());
                    bytes.drain(at..end);
                    if bytes.is_empty() {
                        bytes.push(b'\n');
                    }
                }
            }
        }
        desk.write(name, &bytes);
        match desk.judge() {
            Ok(()) => good += 1,
            Err(text) => {
                assert!(text.starts_with("error: ") && text.contains("next: "), "{text}");
                bad += 1;
            }
        }
        desk.write(name, text.as_bytes());
    }
    println!("{good} still read, {bad} refused");
    assert!(good > 100 && bad > 1000);
}
