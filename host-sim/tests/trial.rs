//! Goal: what a person or a script meets at `truesoak trial`: exit codes, JSON, files, one line that
//! has a seed again. Method: the built command is run in a folder of its own.

use serde_json::Value;
use std::process::{Command, Output};
use tempfile::TempDir;

struct Desk(TempDir);

impl Desk {
    fn new() -> Self {
        Self(tempfile::tempdir().expect("a folder"))
    }

    fn trial(&self, arguments: &[&str]) -> Output {
        let mut command = Command::new(env!("CARGO_BIN_EXE_truesoak"));
        command.arg("trial").args(arguments).current_dir(self.0.path());
        command.env_remove("NO_COLOR").env_remove("TRUESOAK_UNITS");
        command.output().expect("it runs")
    }

    fn read(&self, name: &str) -> String {
        std::fs::read_to_string(self.0.path().join(name)).expect("it was written")
    }
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).expect("UTF-8")
}

fn json(output: &Output) -> Value {
    serde_json::from_slice(&output.stdout).expect("JSON")
}

#[test]
fn the_json_has_its_keys_and_the_exit_code_says_whether_all_held() {
    let output = Desk::new().trial(&["--seeds", "12", "--from-seed", "11", "--format", "json"]);
    let value = json(&output);
    assert_eq!(value["schema"], "truesoak.trial/1");
    assert_eq!((&value["from_seed"], &value["seeds"]), (&11.into(), &12.into()));
    let holds = value["holds"].as_bool().expect("a word");
    assert_eq!(output.status.code(), Some(if holds { 0 } else { 1 }));
    assert_eq!(value["broken"].as_array().map(Vec::is_empty), Some(holds));
    let faults = value["faults"].as_array().expect("a list");
    assert_eq!(faults.len(), 26, "every kind has its line");
    for key in ["kind", "injected", "detected", "median_s", "worst_s", "allowed_s", "outcomes"] {
        assert!(faults.iter().all(|line| line.get(key).is_some()), "{key}");
    }
}

#[test]
fn a_single_seed_says_what_it_drew_and_leaves_its_log_and_picture() {
    let desk = Desk::new();
    let arguments = ["--seeds", "1", "--from-seed", "13", "--log", "a.csv", "--plot", "a.svg"];
    let output = desk.trial(&arguments);
    let said = text(&output.stdout);
    assert!(said.starts_with("Drawn by seed 13: "), "{said}");
    assert!(said.contains("  faults: ") && said.contains("Faults\n"), "{said}");
    let log = desk.read("a.csv");
    assert!(log.starts_with("# truesoak.log/1 ") && log.contains("truesoak trial, seed 13"));
    assert!(log.lines().last().is_some_and(|line| line.starts_with("# end rows=")));
    assert!(desk.read("a.svg").contains("<svg"));
    assert_eq!(desk.trial(&arguments[..4]).stdout, output.stdout, "a seed is the same bake again");
}

#[test]
fn a_broken_seed_is_one_line_that_has_it_again() {
    // What is broken today may be mended tomorrow: then there is nothing to have again.
    let desk = Desk::new();
    let output = desk.trial(&["--seeds", "60", "--quiet"]);
    let said = text(&output.stdout);
    if output.status.code() == Some(0) {
        assert!(said.starts_with("HOLDS."), "{said}");
        return;
    }
    assert_eq!((output.status.code(), said.lines().count()), (Some(1), 1), "{said}");
    let (_, again) = said.trim_end().split_once("truesoak trial ").expect("the command");
    let arguments: Vec<&str> = again.split(' ').collect();
    let again = desk.trial(&arguments);
    assert_eq!(again.status.code(), Some(1), "{}", text(&again.stderr));
    let seed = arguments[arguments.iter().position(|word| *word == "--from-seed").unwrap() + 1];
    assert!(desk.read(&format!("{seed}.csv")).contains("# end rows="));
}

#[test]
fn no_seeds_and_bad_paths_are_refused_before_any_work() {
    let desk = Desk::new();
    for arguments in [["--seeds", "0"], ["--log", "nowhere/a.csv"], ["--plot", "a.gif"]] {
        let output = desk.trial(&arguments);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        let said = text(&output.stderr);
        assert!(said.contains("expected: ") && said.contains("next: "), "{said}");
    }
}
