//! The command itself, as a process: exit codes, what goes to stdout and what to stderr, files.
//!
//! Goal: 0 done and good, 1 done and the answer is no, 2 bad usage, input or output path; results
//! on stdout alone, complaints on stderr alone. Method: the built binary in a folder of its own.

mod command;

use command::{refused, run};
use std::path::{Path, PathBuf};
use tempfile::TempDir;

fn bakes() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../profiles/bakes")
}

#[test]
fn a_new_set_of_files_reads_without_a_problem_in_either_unit_and_is_never_written_over() {
    for units in ["c", "f", "k"] {
        let folder = TempDir::new().unwrap();
        for kind in ["oven", "load", "bake"] {
            let file = format!("{kind}.toml");
            let done = run(folder.path(), &["new", kind, &file, "--units", units]);
            assert_eq!((done.code, done.stderr.as_str()), (0, ""), "{kind}");
            assert!(done.stdout.contains(&file), "{}", done.stdout);
            let written = std::fs::read_to_string(folder.path().join(&file)).unwrap();
            assert_eq!(units == "f", written.contains("°F"), "{kind} in {units}");
            let again = run(folder.path(), &["new", kind, &file]);
            refused(&again, &["error: ", "is there already", "expected: ", "next: "]);
            assert_eq!(std::fs::read_to_string(folder.path().join(&file)).unwrap(), written);
        }
        let done = run(folder.path(), &["simulate", "bake.toml", "--quick", "--format", "json"]);
        assert_eq!((done.code, done.stderr.as_str()), (0, ""));
        assert!(done.stdout.contains("\"verdict\":\"pass\""), "{}", done.stdout);
    }
}

#[test]
fn new_in_a_folder_that_is_not_there_says_which_to_make() {
    let folder = TempDir::new().unwrap();
    let done = run(folder.path(), &["new", "oven", "ovens/mine.toml"]);
    refused(&done, &["cannot be made", "make the folder ovens first"]);
    refused(&run(folder.path(), &["new", "rack", "r.toml"]), &["\"rack\" does not suit <KIND>"]);
}

#[test]
fn a_good_bake_exits_0_and_one_that_is_short_1_with_the_result_on_stdout() {
    let folder = TempDir::new().unwrap();
    for (bake, code, verdict) in [("gas-out-hubs.toml", 0, "PASS"), ("give-up.toml", 1, "SHORT")] {
        let path = bakes().join(bake);
        let done = run(folder.path(), &["simulate", path.to_str().unwrap(), "--quick"]);
        assert_eq!(done.code, code, "{bake}: {}", done.stderr);
        assert_eq!(done.stderr, "", "{bake}");
        assert!(done.stdout.contains(verdict), "{bake}: {}", done.stdout);
    }
}

#[test]
fn bad_input_exits_2_with_every_problem_on_stderr() {
    let folder = TempDir::new().unwrap();
    let path = bakes().join("gas-out-hubs.toml");
    let path = path.to_str().unwrap();
    let done = run(
        folder.path(),
        &["simulate", path, "--set", "oven.heater.power=\"12\"", "--set", "load.part.9.count=1"],
    );
    refused(&done, &["12 has no unit", "--set oven.heater.power", "there is no part 9"]);
    refused(&run(folder.path(), &["simulate", "no.toml"]), &["no.toml is not there"]);
}

#[test]
fn a_line_that_cannot_be_read_exits_2_and_says_what_was_meant() {
    let folder = TempDir::new().unwrap();
    let run = |line: &str| run(folder.path(), &line.split_whitespace().collect::<Vec<_>>());
    for (line, words) in [
        ("simulate", ["something is missing\n  <BAKE>", "expected: truesoak simulate <BAKE>"]),
        ("fit b.csv", ["  --oven <OVEN.toml>, --out <NEW.toml>\n", "next: truesoak fit --help"]),
        ("simmulate b.toml", ["no command \"simmulate\"", "perhaps simulate was meant"]),
        ("device wacth", ["no command \"wacth\"", "watch was meant; truesoak device --help"]),
        ("plan b.toml --rnus 3", ["takes \"--rnus\"", "perhaps --runs was meant; truesoak plan"]),
        ("plan b.toml c.toml", ["takes \"c.toml\"", "expected: truesoak plan [OPTIONS] <BAKE>"]),
        ("plan b.toml --runs", ["--runs <N> has no value", "expected: a value after it"]),
        ("plan b.toml --runs few", ["\"few\" does not suit --runs", "a whole number, not below 0"]),
        ("plan b.toml --seed -1", ["\"-1\" does not suit --seed", "a whole number, not below 0"]),
        ("plan b.toml --threads 0", ["\"0\" does not suit --threads", "from 1 to 65535"]),
        ("plan b.toml --runs 1 --runs 2", ["--runs <N> is there twice", "expected: it once"]),
        ("plan b.toml --quiet=3", ["\"3\" is too much for --quiet", "truesoak plan --help"]),
        ("simulate b.toml --draw 9999999999999999999999", ["--draw", "expected: a smaller number"]),
        ("simulate b.toml --format yml", ["\"yml\" does not suit --format", "text or json"]),
        ("device watch --speed fast", ["nothing here takes \"--speed\"", "truesoak device watch"]),
    ] {
        refused(&run(line), &words);
    }
    // A quantity below zero is its option's own affair.
    refused(&run("plan b.toml --confidence -5%"), &["-5% is no share", "--confidence"]);
    refused(&run("device commission o.toml --ice -0.3x"), &["is not known: x", "--ice"]);
    let bare = run("");
    assert_eq!((bare.code, bare.stdout.as_str()), (2, ""));
    assert!(bare.stderr.contains("Usage"), "{}", bare.stderr);
}

/// Nothing is rehearsed for a file that cannot be written, and what was opened is taken back.
#[test]
fn an_output_that_cannot_be_written_exits_2_before_any_work() {
    let folder = TempDir::new().unwrap();
    let path = bakes().join("gas-out-hubs.toml");
    let path = path.to_str().unwrap();
    for (option, file) in [("--log", "logs/l.csv"), ("--plot", "plots/p.svg")] {
        let done = run(folder.path(), &["simulate", path, option, file]);
        let missing = file.split('/').next().unwrap();
        refused(&done, &["cannot write", file, &format!("make the folder {missing} first")]);
    }
    refused(&run(folder.path(), &["simulate", path, "--plot", "p.docx"]), &["p.docx", "svg"]);
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
}

/// A refusal made after the outputs were opened leaves no empty file behind.
#[test]
fn a_refused_bake_leaves_no_output_behind() {
    let folder = TempDir::new().unwrap();
    let path = bakes().join("gas-out-hubs.toml");
    let done = run(
        folder.path(),
        &[
            "simulate",
            path.to_str().unwrap(),
            "--log",
            "l.csv",
            "--set",
            "oven.heater.power=\"60 W\"",
        ],
    );
    refused(&done, &["the heater cannot reach"]);
    assert!(!folder.path().join("l.csv").exists());
}

/// Yesterday's log outlives today's slip, and a good bake takes its place whole.
#[test]
fn what_was_there_before_is_replaced_by_a_result_and_by_nothing_else() {
    let folder = TempDir::new().unwrap();
    let (path, log) = (bakes().join("gas-out-hubs.toml"), folder.path().join("l.csv"));
    let before = "yesterday\n".repeat(1_000_000);
    std::fs::write(&log, &before).unwrap();
    let simulate = ["simulate", path.to_str().unwrap(), "--quick", "--log", "l.csv"];
    let weak = [&simulate[..], &["--set", "oven.heater.power=\"60 W\""]].concat();
    refused(&run(folder.path(), &weak), &["the heater cannot reach"]);
    let nowhere = [&simulate[..], &["--plot", "new.svg", "--plot", "gone/p.svg"]].concat();
    refused(&run(folder.path(), &nowhere), &["gone/p.svg"]);
    assert_eq!(std::fs::read_to_string(&log).unwrap(), before);
    assert!(!folder.path().join("new.svg").exists(), "taken back");
    assert_eq!(run(folder.path(), &simulate).code, 0);
    let after = std::fs::read_to_string(&log).unwrap();
    assert!(after.starts_with("# truesoak.log/1") && !after.contains("yesterday"));
}

#[test]
fn materials_are_listed_with_their_sources() {
    let folder = TempDir::new().unwrap();
    let done = run(folder.path(), &["materials"]);
    assert_eq!((done.code, done.stderr.as_str()), (0, ""));
    for name in ["mild steel", "aluminium 6061", "mineral wool", "unknown metal"] {
        assert!(done.stdout.contains(name), "{name}");
    }
    let json = run(folder.path(), &["materials", "--format", "json"]);
    let listed: serde_json::Value = serde_json::from_str(&json.stdout).unwrap();
    assert!(listed.to_string().contains("mild steel"));
}

#[test]
fn help_and_version_go_to_stdout_and_exit_0() {
    let folder = TempDir::new().unwrap();
    for arguments in [&["--help"][..], &["--version"], &["simulate", "--help"]] {
        let done = run(folder.path(), arguments);
        assert_eq!((done.code, done.stderr.as_str()), (0, ""));
        assert!(done.stdout.contains("truesoak"), "{}", done.stdout);
    }
}

/// A fault that was not played is told beside the result, not in it.
#[test]
fn a_fault_that_never_struck_is_a_note_on_stderr() {
    let folder = TempDir::new().unwrap();
    for kind in ["oven", "load", "bake"] {
        let _ = run(folder.path(), &["new", kind, &format!("{kind}.toml")]);
    }
    let bake = folder.path().join("bake.toml");
    let text = std::fs::read_to_string(&bake).unwrap();
    let late = "\n[[fault]]\nkind = \"enclosure-hot\"\nat = \"20 h\"\n";
    std::fs::write(&bake, text + late).unwrap();
    let done = run(folder.path(), &["simulate", "bake.toml", "--quick", "--format", "json"]);
    assert_eq!(done.code, 0);
    assert_eq!(
        done.stderr,
        "note: [[fault]] 1 (enclosure-hot) was not played: the bake was over first\n"
    );
    assert!(serde_json::from_str::<serde_json::Value>(&done.stdout).is_ok());
    let silent = run(folder.path(), &["simulate", "bake.toml", "--quick", "--quiet"]);
    assert_eq!(silent.stderr, "");
}

const BLOCK: &str = r#"{"ambient_c":20,"duration_s":100,"log_every_s":25,
 "nodes":[{"name":"block, left","heat_capacity_j_per_k":100,"initial_c":120}],
 "links":[{"a":"block, left","b":"ambient","conductance_w_per_k":1}]}"#;

/// Cooling of a lump: 20 + 100·exp(−t/100 s).
#[test]
fn a_bare_network_is_logged_row_by_row() {
    let folder = TempDir::new().unwrap();
    std::fs::write(folder.path().join("net.json"), BLOCK).unwrap();
    let done = run(folder.path(), &["network", "net.json", "--log", "net.csv"]);
    assert_eq!((done.code, done.stderr.as_str()), (0, ""));
    assert!(done.stdout.contains("5 rows"), "{}", done.stdout);
    let log = std::fs::read_to_string(folder.path().join("net.csv")).unwrap();
    let mut lines = log.lines();
    assert_eq!(lines.next(), Some("t_s,\"block, left\""));
    assert_eq!(lines.next(), Some("0,120.000000"));
    for (line, t_s) in lines.zip([25.0_f64, 50.0, 75.0, 100.0]) {
        let (time, celsius) = line.split_once(',').unwrap();
        assert_eq!(time, t_s.to_string());
        assert_eq!(celsius.len(), 10, "nine digits and a point: {celsius}");
        let expected_c = 20.0 + 100.0 * (-t_s / 100.0).exp();
        assert!((celsius.parse::<f64>().unwrap() - expected_c).abs() < 0.001, "{line}");
    }
    let done = run(folder.path(), &["network", "net.json", "--format", "json"]);
    assert_eq!(done.code, 0);
    assert!(done.stdout.contains("\"schema\":\"truesoak.network/1\""), "{}", done.stdout);
}

#[test]
fn a_bare_network_that_is_none_is_refused_and_nothing_is_lost() {
    let folder = TempDir::new().unwrap();
    let write = |text: &str| std::fs::write(folder.path().join("net.json"), text).unwrap();
    let network = || run(folder.path(), &["network", "net.json", "--log", "net.csv"]);
    for (from, to, words) in [
        ("\"ambient\",", "\"room\",", ["no node \"room\"", "link 1"]),
        ("\"ambient_c\":20", "\"ambient_c\":1e999", ["out of range", "net.json:1"]),
        ("\"duration_s\":100", "\"duration_s\":-100", ["duration_s is -100", "0 or more"]),
        ("\"links\"", "\"lnks\"", ["unknown field", "lnks"]),
        ("}]}", "}]", ["EOF", "net.json:3"]),
    ] {
        write(&BLOCK.replacen(from, to, 1));
        refused(&network(), &["error: ", "expected: ", "next: ", words[0], words[1]]);
        assert!(!folder.path().join("net.csv").exists(), "{to}");
    }
    write(BLOCK);
    refused(&run(folder.path(), &["network", "nowhere.json"]), &["nowhere.json"]);
    let into_nowhere = run(folder.path(), &["network", "net.json", "--log", "no/net.csv"]);
    refused(&into_nowhere, &["no/net.csv", "make the folder"]);
    let onto_itself = run(folder.path(), &["network", "net.json", "--log", "net.json"]);
    refused(&onto_itself, &["net.json is read by this command", "another name"]);
    assert_eq!(std::fs::read_to_string(folder.path().join("net.json")).unwrap(), BLOCK);
}
