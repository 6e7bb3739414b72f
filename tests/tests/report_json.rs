//! Goal: the JSON of a rehearsal has exactly its keys, of the right types, with null for what never
//! happened. Method: shipped bakes that pass, end short, trip, are cut off and run by a clock.

mod report_support;

use report_support::rehearsed::endings;
use serde_json::Value;
use truesoak::report::result::{
    Air, Answered, BakeResult, Basis, DoorEvent, Oracle, OracleSoak, Part, PartSoak, SCHEMA,
    StepRun, Trip, Verdict,
};

const WHOLE: [&str; 14] = [
    "schema",
    "verdict",
    "truth",
    "reason",
    "basis",
    "duration_s",
    "energy_kwh",
    "air",
    "parts",
    "doors",
    "steps",
    "trips",
    "answers",
    "oracle",
];
const AIR: [&str; 4] = ["peak_c", "overshoot_k", "soak_mean_error_k", "soak_sd_k"];
/// `limit_c` is ours.
const PART: [&str; 11] = [
    "name",
    "count",
    "reached_s",
    "in_window_s",
    "credited_s",
    "peak_c",
    "limit_c",
    "equivalent_s",
    "clock_s",
    "verdict",
    "soaks",
];
const SOAK: [&str; 9] = [
    "step",
    "try",
    "reached_s",
    "in_window_s",
    "credited_s",
    "peak_c",
    "clock_s",
    "lead_s",
    "verdict",
];
const DOOR: [&str; 4] = ["opened_s", "closed_s", "reading_low_c", "recovered_s"];
const STEP: [&str; 7] = ["index", "name", "kind", "try", "started_s", "ended_s", "credit_s"];
const TRIP: [&str; 3] = ["kind", "at_s", "detected_s"];
/// `question` is ours.
const ANSWER: [&str; 5] = ["step", "question", "asked_s", "answered_s", "said"];

#[track_caller]
fn assert_keys(value: &Value, keys: &[&str]) {
    let object = value.as_object().unwrap_or_else(|| panic!("no object: {value}"));
    let mut found: Vec<&str> = object.keys().map(String::as_str).collect();
    let mut wanted: Vec<&str> = keys.to_vec();
    found.sort_unstable();
    wanted.sort_unstable();
    assert_eq!(found, wanted);
}

/// A key is a number, or null where that is allowed.
#[track_caller]
fn assert_numbers(value: &Value, always: &[&str], or_null: &[&str]) {
    for key in always {
        assert!(value[*key].is_number(), "{key} in {value}");
    }
    for key in or_null {
        assert!(value[*key].is_number() || value[*key].is_null(), "{key} in {value}");
    }
}

fn list<'a>(value: &'a Value, key: &str) -> &'a [Value] {
    value[key].as_array().unwrap_or_else(|| panic!("{key} is no list"))
}

#[test]
fn every_ending_has_exactly_the_keys_and_their_types() {
    for done in endings().all() {
        let json = done.json();
        assert_keys(&json, &WHOLE);
        assert_eq!(json["schema"], "truesoak.result/1");
        assert_eq!(json["basis"], "one-sensor");
        assert_numbers(&json, &["duration_s", "energy_kwh"], &[]);
        assert!(json["reason"].as_str().is_some_and(|reason| reason.len() > 10));
        assert!(json["oracle"].is_null());
        assert_keys(&json["air"], &AIR);
        assert_numbers(
            &json["air"],
            &["peak_c", "overshoot_k"],
            &["soak_mean_error_k", "soak_sd_k"],
        );
        assert!(!list(&json, "parts").is_empty());
        for part in list(&json, "parts") {
            assert_keys(part, &PART);
            assert!(part["name"].is_string() && part["count"].is_u64());
            assert_numbers(part, &["in_window_s", "credited_s", "limit_c"], &["reached_s"]);
            assert_numbers(part, &[], &["peak_c", "equivalent_s", "clock_s"]);
            verdict_of(part, &["pass", "short", "overheated"]);
            for soak in list(part, "soaks") {
                assert_keys(soak, &SOAK);
                assert!(soak["step"].is_u64() && soak["try"].is_u64());
                assert_numbers(soak, &["in_window_s", "credited_s", "peak_c"], &["reached_s"]);
                assert_numbers(soak, &[], &["clock_s", "lead_s"]);
                verdict_of(soak, &["pass", "short", "overheated"]);
            }
        }
        for door in list(&json, "doors") {
            assert_keys(door, &DOOR);
            assert_numbers(door, &["opened_s"], &["closed_s", "reading_low_c", "recovered_s"]);
        }
        for step in list(&json, "steps") {
            assert_keys(step, &STEP);
            assert!(step["index"].is_u64() && step["try"].is_u64() && step["name"].is_string());
            assert_numbers(step, &["started_s", "credit_s"], &["ended_s"]);
            let kind = step["kind"].as_str().expect("a word");
            assert!(["ramp", "soak", "cool", "load_in", "check", "wait"].contains(&kind), "{kind}");
        }
        for trip in list(&json, "trips") {
            assert_keys(trip, &TRIP);
            assert_numbers(trip, &["detected_s"], &["at_s"]);
        }
        for answer in list(&json, "answers") {
            assert_keys(answer, &ANSWER);
            assert!(answer["step"].is_u64());
            assert_numbers(answer, &["asked_s"], &["answered_s"]);
        }
    }
}

#[track_caller]
fn verdict_of(value: &Value, allowed: &[&str]) {
    let word = value["verdict"].as_str().expect("a word");
    assert!(allowed.contains(&word), "{word}");
}

#[test]
fn claim_and_truth_have_the_word_of_each_ending() {
    let endings = endings();
    for (done, verdict, truth) in [
        (&endings.pass, "pass", "pass"),
        (&endings.short, "short", "short"),
        (&endings.tripped, "tripped", "short"),
        (&endings.unfinished, "unfinished", "short"),
        (&endings.clock, "pass", "short"),
        (&endings.false_pass, "pass", "overheated"),
        (&endings.false_minutes, "pass", "short"),
        (&endings.whole_day, "pass", "pass"),
    ] {
        let json = done.json();
        assert_eq!(json["verdict"], verdict);
        assert_eq!(json["truth"], truth);
        assert_eq!(done.rehearsal.result.is_good(), (verdict, truth) == ("pass", "pass"));
    }
}

#[test]
fn what_never_happened_is_null() {
    let endings = endings();
    let short = endings.short.json();
    assert!(short["parts"][0]["reached_s"].is_null(), "the crown never reached its window");
    assert!(short["air"]["soak_sd_k"].is_null(), "no soak was steady for its last 20 min");
    let unfinished = endings.unfinished.json();
    assert!(unfinished["parts"][0]["clock_s"].is_null(), "no clock ran beside it");
    assert!(unfinished["parts"][0]["equivalent_s"].is_null(), "no coating");
    let tripped = endings.tripped.json();
    assert!(tripped["parts"][0]["soaks"][0]["lead_s"].is_null(), "its soak was cut off");
    assert!(tripped["trips"][0]["at_s"].is_number(), "it was scripted");
    let whole_day = endings.whole_day.json();
    let last = list(&whole_day, "doors").last().expect("a door");
    assert!(last["closed_s"].is_null(), "the last door is open at the end: {last}");
    assert!(list(&whole_day, "doors")[1]["recovered_s"].is_null(), "nobody wanted the air back");
}

/// Everything that can be null, and a value on each side of rounding.
#[test]
fn a_result_of_nothing_is_null_throughout_and_numbers_are_rounded_where_they_leave() {
    let soak = PartSoak {
        above_s: 0.0,
        step: 1,
        round: 1,
        reached_s: None,
        in_window_s: 59.96,
        credited_s: 0.0,
        peak_c: 149.000_44,
        clock_s: None,
        lead_s: None,
        verdict: Verdict::Short,
    };
    let part = Part {
        name: "lever".to_owned(),
        count: 2,
        reached_s: None,
        in_window_s: 0.0,
        credited_s: 0.0,
        peak_c: None,
        limit_c: 190.0,
        equivalent_s: None,
        clock_s: None,
        verdict: Verdict::Short,
        soaks: vec![soak],
    };
    let result = BakeResult {
        schema: SCHEMA.to_owned(),
        verdict: Verdict::Unfinished,
        truth: None,
        reason: "stopped".to_owned(),
        basis: Basis::PartProbe,
        duration_s: 0.04,
        energy_kwh: 0.123_449,
        air: Air { overshoot_k: -0.000_04, ..Air::default() },
        parts: vec![part],
        doors: vec![DoorEvent {
            opened_s: 1.0,
            closed_s: None,
            reading_low_c: None,
            recovered_s: None,
        }],
        steps: vec![StepRun {
            index: 1,
            name: String::new(),
            kind: "ramp".to_owned(),
            round: 1,
            started_s: 0.0,
            ended_s: None,
            credit_s: 0.0,
        }],
        trips: vec![Trip { kind: "drive-welded".to_owned(), at_s: None, detected_s: 7.25 }],
        answers: vec![Answered {
            step: 1,
            question: "load-in".to_owned(),
            asked_s: 3.0,
            answered_s: None,
            said: None,
        }],
        why: Vec::new(),
        record: Vec::new(),
        oracle: Some(Oracle {
            duration_s: 5.0,
            lead_s: None,
            verdict: Verdict::Short,
            soaks: vec![OracleSoak { step: 1, round: 1, lead_s: None }],
        }),
    };
    let text = result.to_json();
    assert!(text.ends_with("}\n") && text.lines().count() == 1);
    let json: Value = serde_json::from_str(&text).expect("JSON");
    for pointer in [
        "/truth",
        "/air/peak_c",
        "/air/soak_mean_error_k",
        "/air/soak_sd_k",
        "/parts/0/reached_s",
        "/parts/0/peak_c",
        "/parts/0/equivalent_s",
        "/parts/0/clock_s",
        "/parts/0/soaks/0/reached_s",
        "/parts/0/soaks/0/clock_s",
        "/parts/0/soaks/0/lead_s",
        "/doors/0/closed_s",
        "/doors/0/reading_low_c",
        "/doors/0/recovered_s",
        "/steps/0/ended_s",
        "/trips/0/at_s",
        "/answers/0/answered_s",
        "/answers/0/said",
        "/oracle/lead_s",
        "/oracle/soaks/0/lead_s",
    ] {
        assert_eq!(json.pointer(pointer), Some(&Value::Null), "{pointer}");
    }
    assert_eq!(json["basis"], "part-probe");
    assert_eq!(json["parts"][0]["soaks"][0]["in_window_s"].as_f64(), Some(60.0));
    assert_eq!(json["parts"][0]["soaks"][0]["peak_c"].as_f64(), Some(149.0));
    assert_eq!(json["energy_kwh"].as_f64(), Some(0.1234));
    assert_eq!(json["trips"][0]["detected_s"].as_f64(), Some(7.3));
    assert!(
        text.contains("\"overshoot_k\":0.0,") && text.contains("\"duration_s\":0.0,"),
        "{text}"
    );
    let again: BakeResult = serde_json::from_str(&text).expect("reads back");
    assert_eq!(again.to_json(), text);
}

/// The clock's minutes are those of the rehearsal by the clock of the same bake.
#[test]
fn clock_minutes_are_those_of_the_rehearsal_by_the_clock() {
    let beside = report_support::rehearsed::run(report_support::rehearsed::Asked {
        bake: "gas-out-crown",
        ..Default::default()
    });
    let (beside, clock) = (beside.json(), endings().clock.json());
    for index in 0..2 {
        let beside = &beside["parts"][index]["soaks"][0];
        let clock = &clock["parts"][index]["soaks"][0];
        assert_eq!(beside["clock_s"], clock["in_window_s"]);
        assert_eq!(clock["clock_s"], clock["in_window_s"]);
    }
}
