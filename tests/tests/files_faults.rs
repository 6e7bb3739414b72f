//! Every kind of fault a bake file may script: played, so that it shows, or refused with what to
//! write instead. Nothing is accepted and then does nothing.
//!
//! Goal: whoever scripts a fault sees its effect. Method: each kind of the table once in a bake it
//! can happen in, beside the same bake without it; the kinds that cannot be played each in the bake
//! that cannot play them.

mod files_support;

use files_support::{Desk, profile};
use truesoak::files::bake::FAULT_KINDS;
use truesoak::files::{Override, Setup};
use truesoak::rehearse::{FaultKind, Unplayed};
use truesoak::report::result::Verdict;
use truesoak_tests::{quick, rehearsed};

/// A bake, its values, and a fault.
struct Case {
    kind: &'static str,
    bake: &'static str,
    set: &'static str,
    script: &'static str,
    /// The trip it ends in; `""`: none.
    trip: &'static str,
}

const fn case(kind: &'static str, script: &'static str, trip: &'static str) -> Case {
    Case { kind, bake: "gas-out-hubs.toml", set: "", script, trip }
}

const LATER: &str = r#"at = "gas-out + 5 min""#;
const START: &str = r#"at = "0 s""#;

/// One of each that can be played.
const PLAYED: &[Case] = &[
    case("thermocouple-open", LATER, "thermocouple-open"),
    case("thermocouple-short", LATER, "thermocouple-short"),
    case("converter-silent", LATER, "converter-silent"),
    case("thermocouple-reversed", START, "thermocouple-reversed"),
    case("sensor-type-wrong", START, "sensor-type-wrong"),
    case("reading-stale", LATER, "reading-stale"),
    case("reading-frozen", START, "reading-frozen"),
    case("reading-jump", LATER, "reading-jump"),
    case("sensor-detached", START, "no-response"),
    case("heater-dead", START, "no-response"),
    case("sensor-moved", LATER, ""),
    case("drive-welded", LATER, "drive-welded"),
    case("permit-welded", LATER, "permit-welded"),
    Case {
        set: r#"load.part."brake lever".probe=true"#,
        ..case("probe-disagrees", "at = \"gas-out + 3 min\"\nby = \"60 °C\"", "")
    },
    case("door-left-open", LATER, ""),
    case("door-switch-stuck", LATER, "door-switch-stuck"),
    Case {
        bake: "whole-day.toml",
        ..case("fan-stopped", r#"at = "gas-out + 20 min""#, "fan-stopped")
    },
    case("enclosure-hot", LATER, "enclosure-hot"),
    case("processor-hung", r#"at = "gas-out + 110 min""#, ""),
    case("tick-overrun", "at = \"gas-out + 5 min\"\nfor = \"0.9 s\"", ""),
    case("clock-wrong", LATER, "clock-wrong"),
    case("memory-corrupt", LATER, "memory-corrupt"),
    case("settings-corrupt", START, ""),
    case("store-failing", LATER, ""),
    case("supply-lost", "at = \"gas-out + 110 min\"\nfor = \"2 min\"", ""),
    case("button-stuck", START, ""),
];

/// The kinds no script plays, and what to write instead.
const REFUSED: &[(&str, &str)] = &[
    ("air-over-limit", "--plant oven.heater.power"),
    ("part-over-limit", "drive-welded"),
    ("bake-too-long", "lower bake_max under [limits] instead"),
    ("outside-model", "--plant load.part.1.count"),
    ("link-garbage", "no computer is linked"),
    ("link-flood", "no computer is linked"),
    ("link-lost", "no computer is linked"),
];

fn overrides(set: &str) -> Vec<Override> {
    set.split(';').filter(|typed| !typed.is_empty()).map(Override::set).collect()
}

/// A shipped bake with a script at its end; the oven and load stay where they are.
fn scripted(bake: &str, set: &str, more: &str) -> Result<Setup, String> {
    let desk = Desk::new();
    let text = std::fs::read_to_string(profile("bakes").join(bake)).unwrap();
    let profiles = profile("").to_string_lossy().replace('\\', "/");
    let text = text.replace("\"../", &format!("\"{profiles}/"));
    desk.write("bake.toml", (text + more).as_bytes());
    desk.read(&overrides(set))
}

fn with_fault(case: &Case) -> Result<Setup, String> {
    let Case { kind, bake, set, script, .. } = case;
    scripted(bake, set, &format!("\n[[fault]]\nkind = \"{kind}\"\n{script}\n"))
}

#[test]
fn every_kind_of_the_table_is_played_or_refused() {
    for kind in FAULT_KINDS {
        let played = PLAYED.iter().any(|case| case.kind == *kind);
        let refused = REFUSED.iter().any(|(refused, _)| refused == kind);
        assert!(played != refused, "{kind}");
        assert_eq!(FaultKind::from_word(kind).is_some(), played, "{kind}");
    }
    assert_eq!(PLAYED.len(), FaultKind::ALL.len());
}

/// The log differs from that of the bake without it, from the fault on and not before.
#[test]
fn a_fault_that_is_played_shows_and_trips_under_its_row() {
    for case in PLAYED {
        let sound = rehearsed(&quick(&scripted(case.bake, case.set, "").unwrap()));
        assert_eq!(sound.result.verdict, Verdict::Pass, "{}", case.kind);
        let setup = with_fault(case).unwrap_or_else(|text| panic!("{text}"));
        let faulty = rehearsed(&quick(&setup));
        let trips: Vec<&str> = faulty.result.trips.iter().map(|trip| trip.kind.as_str()).collect();
        let wanted: &[&str] = if case.trip.is_empty() { &[] } else { &[case.trip] };
        assert_eq!(trips, wanted, "{}: {}", case.kind, faulty.result.reason);
        let same = sound.trace.rows.iter().zip(&faulty.trace.rows).take_while(|(a, b)| a == b);
        let same = same.count();
        let differ = same < sound.trace.rows.len().max(faulty.trace.rows.len());
        assert!(differ, "{} changes nothing", case.kind);
        if case.script.starts_with(LATER) {
            let began = sound.trace.rows.iter().position(|row| row.event == "step 3").unwrap_or(0);
            assert!(same > began, "{} shows before it strikes", case.kind);
        }
    }
}

#[test]
fn what_keeps_a_board_from_starting_leaves_it_at_rest() {
    for kind in ["memory-corrupt", "settings-corrupt", "store-failing", "button-stuck"] {
        let result = rehearsed(&quick(&with_fault(&case(kind, START, "")).unwrap())).result;
        assert_eq!(result.verdict, Verdict::Unfinished, "{kind}");
        assert!(result.steps.is_empty() && result.trips.is_empty(), "{kind}");
    }
}

#[test]
fn a_fault_no_script_plays_is_refused_with_what_to_write_instead() {
    for (kind, word) in REFUSED {
        let text = with_fault(&case(kind, LATER, "")).expect_err(kind);
        for word in [*word, kind, "bake.toml:", "expected: ", "next: "] {
            assert!(text.contains(word), "{kind}: \"{word}\" is missing in:\n{text}");
        }
    }
}

#[test]
fn a_fault_this_oven_has_no_part_for_is_refused_with_what_it_needs() {
    let natural = "gas-out-hubs.toml";
    for (kind, set, script, word) in [
        ("fan-stopped", "", LATER, "no fan turns"),
        ("probe-disagrees", "", LATER, "no part of this load has a probe"),
        ("door-switch-stuck", "oven.door.switch=false", LATER, "no door switch"),
        ("permit-welded", "oven.permit.feedback=false", LATER, "mirror contact"),
        ("thermocouple-reversed", r#"oven.sensor.kind="Pt100""#, START, "resistance sensor"),
        ("sensor-type-wrong", r#"oven.sensor.kind="Pt1000""#, START, "another letter"),
        ("settings-corrupt", "", LATER, "write at = \"0 s\""),
        ("sensor-moved", "", "at = \"gas-out\"\nby = \"0 °C\"", "by is too little"),
    ] {
        let text =
            with_fault(&Case { bake: natural, set, ..case(kind, script, "") }).expect_err(kind);
        assert!(text.contains(word), "{kind}: \"{word}\" is missing in:\n{text}");
    }
}

/// Beside a welded drive a welded contactor heats on with nothing to see it but the drive's row.
#[test]
fn two_welds_together_are_played_without_the_mirror_contact() {
    let both = "\n[[fault]]\nkind = \"permit-welded\"\nat = \"gas-out + 5 min\"\n\
                \n[[fault]]\nkind = \"drive-welded\"\nat = \"gas-out + 5 min\"\n";
    let setup = scripted("gas-out-hubs.toml", "oven.permit.feedback=false", both).unwrap();
    let result = rehearsed(&quick(&setup)).result;
    assert_eq!(result.trips[0].kind, "drive-welded");
    assert_eq!(result.truth, Some(Verdict::Overheated), "nothing cuts the heat");
}

#[test]
fn what_of_a_script_is_not_played_is_told() {
    let late = "\n[[fault]]\nkind = \"heater-dead\"\nat = \"gas-out + 5 min\"\n\
                \n[[fault]]\nkind = \"enclosure-hot\"\nat = \"20 h\"\n\
                \n[[door]]\nat = \"load_in 1 + 2 min\"\nloads = true\n\
                \n[[door]]\nat = \"21 h\"\n\
                \n[[answer]]\nsay = \"go\"\n\
                \n[[answer]]\nsay = \"fail\"\n";
    let rehearsal = rehearsed(&quick(&scripted("gas-out-hubs.toml", "", late).unwrap()));
    let wanted = Unplayed { faults: vec![1], doors: vec![1], answers: 1 };
    assert_eq!(rehearsal.unplayed, wanted);
    let all = rehearsed(&quick(&scripted("gas-out-hubs.toml", "", "").unwrap()));
    assert_eq!(all.unplayed, Unplayed::default());
}
