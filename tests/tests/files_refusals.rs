//! What a person can get wrong in a file, and what they are told.
//!
//! Goal: every refusal names what is wrong, where, what was expected and what to do next; nothing
//! panics. Method: the starting files, one slip at a time (`files_fuzz` has thousands at random).

mod files_support;

use files_support::{BAKE, Desk};
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

#[test]
fn a_mass_given_twice_is_refused_wherever_the_two_stand() {
    for typed in [
        r#"load.part.1.mass="62 g""#,
        r#"load.part.1.shape.mass="62 g""#,
        r#"load.part.1.shape={lump={mass="62 g",area="60 cm2"},mass="62 g"}"#,
    ] {
        let text = Desk::new().read(&[Override::set(typed)]).unwrap_err();
        assert!(text.contains("the mass is given twice"), "{typed}:\n{text}");
    }
    let bar = r#"load.part.1.shape={bar={diameter="20 mm",length="75 mm",mass="62 g"}}"#;
    let text = Desk::new().read(&[Override::set(bar)]).unwrap_err();
    assert!(text.contains("mass is not a key known here"), "{text}");
}

#[test]
fn a_material_of_ones_own_may_not_stand_in_for_a_listed_one() {
    let own = |name: &str| {
        format!(
            "load.material=[{{name=\"{name}\",density=\"8800 kg/m3\",specific_heat=\"380 J/(kg K)\",\
             conductivity=\"60 W/(m K)\",max=\"200 °C\"}}]"
        )
    };
    Desk::new().read(&[Override::set(&own("our bronze"))]).unwrap();
    for name in ["mild steel", "Mild Steel", "unknown metal"] {
        let text = Desk::new().read(&[Override::set(&own(name))]).unwrap_err();
        for word in ["in the table of materials already", "our "] {
            assert!(text.contains(word), "{name}: {text}");
        }
    }
}

#[test]
fn hints_stay_with_what_is_asked_for() {
    for (typed, hint) in [
        (r#"bake.step.3.soak.for="60 mim""#, "did you mean \"min\"?"),
        (r#"oven.cavity.width="40 cmm""#, "did you mean \"cm\"?"),
        (r#"load.part.1.shape.weighed.mass="62 grm""#, "did you mean \"gram\"?"),
        (r#"load.part.1.shape={plate={width="10 cm",height="10 cm"}}"#, "add thickness = \"4 mm\""),
        ("load.part.1.count=99999", "write count = 10000"),
        ("oven.sensor.wall_view=3", "write wall_view = 0.1"),
        ("load.part.2.count=1", "1: there is one"),
    ] {
        let text = Desk::new().read(&[Override::set(typed)]).unwrap_err();
        assert!(text.contains(hint), "{typed}: \"{hint}\" is missing in:\n{text}");
    }
    let text = Desk::new().read(&[Override::set(r#"oven.cavity.width="40 kq""#)]).unwrap_err();
    assert!(!text.contains("kg"), "a mass is no hint for a length:\n{text}");
    let text =
        Desk::new().judge_with(&[Override::set(r#"oven.sensor.wall_view="x""#)]).unwrap_err();
    assert_eq!(text.matches("error: ").count(), 1, "what is not read is not judged:\n{text}");
}

#[test]
fn a_key_is_named_as_it_is_typed_counted_from_one() {
    use truesoak::files::KeyPath;
    assert_eq!(KeyPath::part(1).key("max").to_string(), "load.part.2.max");
    let text = Desk::new().read(&[Override::set("load.part.1.shape={}")]).unwrap_err();
    assert!(text.contains("the shape is none that is known here"), "{text}");
    let text = Desk::new().read(&[Override::set("load.part.1={}")]).unwrap_err();
    assert!(text.contains("part.1.name is missing"), "{text}");
}
