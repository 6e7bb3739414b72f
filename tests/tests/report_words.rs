//! Goal: a person at a terminal of 80 columns learns the verdict first, in words, and nothing that
//! is read can be taken for something else. Method: one rehearsal of each ending, and results made
//! by hand for what no shipped bake does.

mod report_support;

use report_support::rehearsed::{Done, endings};
use std::path::{Path, PathBuf};
use truesoak::report::result::Verdict;
use truesoak::report::sentence::sentence;
use truesoak::report::text::{Paint, WIDTH};
use truesoak::report::units::Units;
use truesoak::report::{Story, Written, words};

fn report_in(done: &Done, units: Units) -> String {
    words::report(&done.story(units), Paint::Plain, &[])
}

/// Lines joined again: where a line is broken says nothing.
fn flowing(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[track_caller]
fn assert_says(text: &str, words: &str) {
    assert!(flowing(text).contains(words), "{words:?} is not said in\n{text}");
}

#[test]
fn every_report_leads_with_its_verdict_and_fits_eighty_columns() {
    let endings = endings();
    for (done, first) in [
        (&endings.pass, "PASS. Every part was between 149 and 177 °C for at least 60 min"),
        (&endings.short, "SHORT. Gave up on gas-out with 0 of 60 min counted"),
        (&endings.tripped, "TRIPPED. The air sensor's wire is broken; heat was cut at 0:35"),
        (&endings.unfinished, "UNFINISHED. The bake ended at 1:1"),
        (&endings.clock, "BY THE CLOCK, TRULY SHORT. The timer said done, but \"fork crown\""),
        (&endings.false_pass, "FALSE PASS. The controller says pass, but \"brake lever\""),
        (&endings.false_minutes, "FALSE PASS. The controller says pass, but \""),
        (&endings.whole_day, "PASS. Every part had its minutes (gas-out between 149 and 180 °C"),
    ] {
        for units in [Units::Celsius, Units::Fahrenheit, Units::Kelvin] {
            let report = report_in(done, units);
            for line in report.lines() {
                assert!(line.chars().count() <= WIDTH, "{line:?}");
                assert_eq!(line, line.trim_end(), "nothing invisible at a line's end");
            }
        }
        let report = flowing(&done.report());
        assert!(report.starts_with(first), "{report}");
    }
}

#[test]
fn a_claim_that_the_parts_did_not_have_is_never_called_a_pass() {
    let endings = endings();
    for done in endings.all() {
        let said = sentence(&done.told());
        assert_eq!(said.good, done.rehearsal.result.is_good());
        assert_eq!(said.word == "PASS", said.good, "{}", said.word);
        // The claim may be quoted; what is said of it is not that it is true.
        if !said.good {
            assert!(!said.rest.contains("proven from"), "{}", said.rest);
        }
    }
    assert_says(&endings.false_pass.report(), "above the 190.0 °C it stands.");
    assert_says(&endings.false_minutes.report(), "of 60 min between 149 and 177 °C in gas-out.");
    assert_says(&endings.false_minutes.report(), "changed without the controller knowing");
    assert_says(&endings.false_minutes.report(), "the true oven is draw 7 of its spread");
}

/// The result of a shipped bake with another claim and truth.
fn judged(done: &Done, verdict: Verdict, truth: Verdict) -> String {
    let mut result = done.rehearsal.result.clone();
    (result.verdict, result.truth) = (verdict, Some(truth));
    words::report(&Story { result: &result, ..done.told() }, Paint::Plain, &[])
}

#[test]
fn a_part_over_its_limit_is_told_whatever_else_happened() {
    let hot = &endings().false_pass;
    let told = "\"brake lever\" reached ";
    let overheated = judged(hot, Verdict::Overheated, Verdict::Overheated);
    assert!(overheated.starts_with(&format!("OVERHEATED. {told}")), "{overheated}");
    for (verdict, word) in [
        (Verdict::Tripped, "TRIPPED. "),
        (Verdict::Short, "SHORT. "),
        (Verdict::Unfinished, "UNFINISHED. "),
    ] {
        let report = judged(hot, verdict, Verdict::Overheated);
        assert!(report.starts_with(word), "{report}");
        assert_says(&report, &format!("Worse, {told}"));
    }
    let row = overheated.lines().find(|line| line.starts_with("  brake lever")).expect("a row");
    assert!(row.ends_with("overheated"), "{row}");
}

#[test]
fn every_part_has_a_row_with_reached_minutes_clock_peak_and_verdict() {
    let report = endings().pass.report();
    let rows: Vec<Vec<&str>> = report
        .lines()
        .skip_while(|line| !line.starts_with("  part "))
        .take(3)
        .map(|line| {
            line.trim().split("  ").map(str::trim).filter(|cell| !cell.is_empty()).collect()
        })
        .collect();
    assert_eq!(rows[0], ["part", "reached", "in window", "by the clock", "hottest", "verdict"]);
    let parts = &endings().pass.rehearsal.result.parts;
    for (row, part) in rows[1..].iter().zip(parts) {
        let minutes = |seconds: f64| format!("{} min", (seconds / 60.0).floor());
        let soak = &part.soaks[0];
        assert_eq!(row[0], format!("{} ×{}", part.name, part.count));
        let reached_min = (soak.reached_s.expect("reached") / 60.0).floor() as u32;
        assert_eq!(row[1], format!("{}:{:02}", reached_min / 60, reached_min % 60));
        assert_eq!(row[2], minutes(soak.in_window_s));
        assert_eq!(row[3], minutes(soak.clock_s.expect("a clock ran")));
        assert_eq!(row[4], format!("{:.1} °C", soak.peak_c));
        assert_eq!(row[5], "pass");
    }
    assert_says(&report, "149 to 177 °C for 60 min; counted 60 of 60 min");
    assert_says(&report, "By the clock: what it would have had");
}

#[test]
fn a_soak_that_was_never_reached_says_never() {
    let report = endings().short.report();
    let row = report.lines().find(|line| line.starts_with("  fork crown")).expect("a row");
    assert!(row.contains("never") && row.contains("0 min") && row.ends_with("short"), "{row}");
    assert_says(&report, "In the simulated oven \"fork crown\" truly had 0 of 60 min.");
}

#[test]
fn a_trip_is_told_with_its_cause_and_what_to_do() {
    let report = endings().tripped.report();
    assert_says(&report, "Trip: The air sensor's wire is broken (thermocouple-open), seen at 0:35");
    assert_says(&report, "s after it began.");
    assert_says(&report, "likely cause: a loose terminal");
    assert_says(&report, "do next: let the oven cool");
}

#[test]
fn a_clock_counts_and_proves_nothing() {
    let report = endings().clock.report();
    assert!(!report.contains("counted"), "{report}");
    assert_says(&report, "Nothing is proven.");
    assert!(!report.contains("Not covered"), "what is not claimed needs no limits");
    assert!(!report.contains("by the clock  "), "its own column would say the same twice");
}

#[test]
fn the_air_is_told_as_low_back_and_held() {
    let report = endings().pass.report();
    assert_says(&report, "for 1 min 15 s: reading down to 56.");
    assert_says(&report, "within 1.0 °C of the setpoint 4 min");
    assert_says(&report, "steady soak: reading at the setpoint on average, air varying by");
    assert_says(&report, "0.1 °C either way");
    let whole_day = endings().whole_day.report();
    let cooling = whole_day.lines().find(|line| line.contains("for 70 min")).expect("a line");
    assert!(!cooling.contains("setpoint"), "nobody wants the air back: {cooling}");
    assert!(whole_day.contains(", still open at the end"), "{whole_day}");
}

/// 1 K is 1.8 °F; with the 32 of a temperature it would read 33.8.
#[test]
fn differences_are_told_as_differences_in_every_unit() {
    let pass = &endings().pass;
    let over_k = pass.rehearsal.result.air.overshoot_k;
    for (units, within, over, window) in [
        (
            Units::Celsius,
            "within 1.0 °C of",
            format!("at most {over_k:.1} °C over"),
            "149 to 177 °C",
        ),
        (
            Units::Fahrenheit,
            "within 1.8 °F of",
            format!("at most {:.1} °F over", 1.8 * over_k),
            "300.2 to 350.6 °F",
        ),
        (
            Units::Kelvin,
            "within 1.0 K of",
            format!("at most {over_k:.1} K over"),
            "422.2 to 450.2 K",
        ),
    ] {
        let report = report_in(pass, units);
        for words in [within, over.as_str(), window] {
            assert_says(&report, words);
        }
    }
}

#[test]
fn questions_are_told_in_the_words_of_the_file() {
    let report = endings().whole_day.report();
    assert_says(&report, "\"Any stains on the parts?\": \"yes\" after 20 min");
    assert_says(&report, "\"Any stains on the parts?\": \"no\" after 15 min");
    assert_says(&report, "\"Hang the parts, close the door, then GO\": \"go\" after");
    assert_says(&report, "Gas-out (step 3), try 2: 149 to 180 °C for 60 min");
    assert_says(&report, "3 soak \"gas-out\", try 2");
}

#[test]
fn files_are_told_and_a_quiet_report_is_the_sentence_alone() {
    let story = endings().pass.told();
    let written = [Written { path: PathBuf::from("bake.csv"), what: "log, one row a second" }];
    let report = words::report(&story, Paint::Plain, &written);
    assert!(report.ends_with("\n1 file written\n  bake.csv (log, one row a second)\n"), "{report}");
    let line = words::one_line(&story, Paint::Plain);
    assert!(report.starts_with(&line));
    assert_eq!(flowing(&line), format!("PASS. {}", sentence(&story).rest));
}

#[test]
fn colour_is_an_accent_on_the_verdict_and_nothing_else() {
    let story = endings().short.told();
    let plain = words::report(&story, Paint::Plain, &[]);
    let colored = words::report(&story, Paint::Colored, &[]);
    let mut stripped = colored.clone();
    for accent in ["\u{1b}[1;34m", "\u{1b}[1;33m", "\u{1b}[0m"] {
        stripped = stripped.replace(accent, "");
    }
    assert_eq!(stripped, plain);
    assert!(colored.starts_with("\u{1b}[1;33mSHORT\u{1b}[0m. "), "{colored}");
    assert!(colored.contains("\u{1b}[1;34mpass\u{1b}[0m\n"), "a part that passed");
}

/// Figures follow the model; the words around them must be those of the command.
#[test]
fn the_readme_shows_what_the_command_says() {
    let done = report_support::rehearsed::run(report_support::rehearsed::Asked {
        bake: "gas-out-chain-guards-300f",
        ..Default::default()
    });
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let readme = std::fs::read_to_string(root.join("README.md")).expect("README.md");
    let shown = readme.split("```text\n").nth(1).and_then(|rest| rest.split("```").next());
    let shown = shown.expect("a block of text");
    let digits = |text: &str| text.replace(|letter: char| letter.is_ascii_digit(), "");
    let report = digits(&flowing(&done.report()));
    for block in shown.split("\n\n") {
        assert!(report.contains(&digits(&flowing(block))), "{block}\nis not in\n{report}");
    }
}
