//! `verdict` and `plot` as a person types them: exit codes, what goes where, JSON keys, bad logs.
//!
//! Goal: 0 proven, 1 not, 2 what cannot be judged, with what, where, expected and next. Method: the
//! built binary on a log that it wrote itself, and on that log harmed.

mod command;

use command::{Done, refused, run};
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;
use tempfile::TempDir;

fn bake(name: &str) -> String {
    let bakes: PathBuf = Path::new(env!("CARGO_MANIFEST_DIR")).join("../profiles/bakes");
    bakes.join(name).with_extension("toml").to_str().unwrap().to_owned()
}

/// A folder with a passing log and the result it was told by.
fn folder() -> &'static (TempDir, Value) {
    static FOLDER: OnceLock<(TempDir, Value)> = OnceLock::new();
    FOLDER.get_or_init(|| {
        let folder = TempDir::new().unwrap();
        let path = bake("gas-out-chain-guards-300f");
        let typed = ["simulate", &path, "--quick", "--log", "good.csv", "--format", "json"];
        let done = run(folder.path(), &typed);
        assert_eq!(done.code, 0, "{}", done.stderr);
        (folder, serde_json::from_str(&done.stdout).unwrap())
    })
}

/// The good log, harmed, under a name of its own.
fn harmed(name: &str, change: impl Fn(String) -> Vec<u8>) -> String {
    let path = folder().0.path();
    let text = std::fs::read_to_string(path.join("good.csv")).unwrap();
    std::fs::write(path.join(name), change(text)).unwrap();
    name.to_owned()
}

fn verdict(arguments: &[&str]) -> Done {
    run(folder().0.path(), &[&["verdict"], arguments].concat())
}

#[test]
fn a_log_that_proves_its_bake_exits_0_with_the_rehearsals_own_verdict_and_credit() {
    let done = verdict(&["good.csv", "--format", "json"]);
    assert_eq!((done.code, done.stderr.as_str()), (0, ""));
    let (told, own): (Value, &Value) = (serde_json::from_str(&done.stdout).unwrap(), &folder().1);
    for key in ["schema", "verdict", "basis", "reason", "duration_s", "steps", "doors", "answers"] {
        assert_eq!(told[key], own[key], "{key}");
    }
    assert_eq!(told["truth"], Value::Null);
    for (told, own) in
        told["parts"].as_array().unwrap().iter().zip(own["parts"].as_array().unwrap())
    {
        for key in ["name", "count", "credited_s", "verdict", "limit_c"] {
            assert_eq!(told[key], own[key], "{key}");
        }
        assert!(told["in_window_s"].as_f64() <= own["in_window_s"].as_f64());
    }
    // Every key of a rehearsal is there, in every object of the lists that are.
    let keys = |value: &Value| value.as_object().unwrap().keys().cloned().collect::<Vec<_>>();
    let there = keys(&told);
    assert!(keys(own).iter().all(|key| there.contains(key)), "{there:?}");
    assert_eq!(keys(&told["parts"][0]), keys(&own["parts"][0]));
    assert_eq!(keys(&told["air"]), keys(&own["air"]));
}

#[test]
fn words_say_what_is_proven_and_that_a_rehearsal_is_no_record() {
    let done = verdict(&["good.csv"]);
    assert_eq!(done.code, 0);
    assert!(done.stdout.starts_with("PASS. Every part was between 270 and 330 °F"));
    let flat = done.stdout.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(flat.contains("which is no record"), "{flat}");
    assert!(!flat.contains("truly") && flat.contains("what is proven of each part"), "{flat}");
    assert!(done.stdout.lines().all(|line| line.chars().count() <= 80), "{}", done.stdout);
    let quiet = verdict(&["good.csv", "--quiet", "--units", "c"]);
    assert!(quiet.stdout.lines().count() <= 2 && quiet.stdout.contains("°C"), "{}", quiet.stdout);
}

#[test]
fn a_torn_log_exits_1_and_names_its_end() {
    let name = harmed("torn.csv", |text| text.as_bytes()[..text.len() / 3].to_vec());
    let done = verdict(&[&name]);
    assert_eq!((done.code, done.stderr.as_str()), (1, ""));
    assert!(done.stdout.starts_with("UNFINISHED."), "{}", done.stdout);
    assert!(done.stdout.contains("Not proven, and why") && done.stdout.contains("breaks off"));
    let json = verdict(&[&name, "--format", "json"]);
    let told: Value = serde_json::from_str(&json.stdout).unwrap();
    assert_eq!(told["record"][0]["kind"], "torn-end");
    assert!(told["record"][0]["line"].as_u64().is_some());
    assert_eq!(told["why"][0]["part"], "chain guard");
}

#[test]
fn what_is_no_sound_log_is_refused_with_its_line() {
    let line = |text: &str, at: usize, new: &str| {
        let mut lines: Vec<&str> = text.lines().collect();
        lines[at - 1] = new;
        (lines.join("\n") + "\n").into_bytes()
    };
    let without_end = |text: String| text[..text.rfind("# end").unwrap()].to_owned();
    for (name, log, words) in [
        (
            "checksum.csv",
            harmed("checksum.csv", |text| {
                text.replacen("20.0000000", "20.0078125", 1).into_bytes()
            }),
            &["checksum does not agree"][..],
        ),
        (
            "rows.csv",
            harmed("rows.csv", |text| {
                let mut lines: Vec<&str> = text.lines().collect();
                lines.remove(99);
                (lines.join("\n") + "\n").into_bytes()
            }),
            &["rows and its last line says"],
        ),
        (
            "backwards.csv",
            harmed("backwards.csv", |text| {
                let row = text.lines().nth(99).unwrap().to_owned();
                let late = row.split_once(',').unwrap().1;
                line(&text, 100, &format!("3,{late}"))
            }),
            &["time runs backwards", "backwards.csv:100"],
        ),
        (
            "twice.csv",
            harmed("twice.csv", |text| {
                let text = without_end(text);
                let row = text.lines().nth(99).unwrap().to_owned();
                line(&text, 100, &format!("{row}\n{row}"))
            }),
            &["two rows for the second", "twice.csv:101"],
        ),
        (
            "column.csv",
            harmed("column.csv", |text| text.replacen("air_c,", "kiln_c,", 1).into_bytes()),
            &["columns are missing: air_c", "column.csv:2"],
        ),
        (
            "headless.csv",
            harmed("headless.csv", |text| text.split_once('\n').unwrap().1.as_bytes().to_vec()),
            &["this is not a log", "headless.csv:1", "--time-column"],
        ),
        (
            "bytes.csv",
            harmed("bytes.csv", |text| {
                let mut bytes = text.into_bytes();
                let at = bytes.iter().rposition(|byte| *byte == b'3').unwrap() / 2;
                bytes[at] = 0xff;
                bytes
            }),
            &["no text"],
        ),
        (
            "event.csv",
            harmed("event.csv", |text| {
                without_end(text).replacen("door closed", "all was well", 1).into_bytes()
            }),
            &["all was well", "event.csv:"],
        ),
        (
            "tables.csv",
            harmed("tables.csv", |text| {
                without_end(text)
                    .replacen("\"models\":\"crc32:", "\"models\":\"crc32:0", 1)
                    .into_bytes()
            }),
            &["the board ran with", "--bake"],
        ),
    ] {
        assert_eq!(name, log);
        refused(&verdict(&[&log]), words);
    }
    refused(&verdict(&["nowhere.csv"]), &["cannot be opened", "nowhere.csv"]);
    refused(&verdict(&["."]), &["folder"]);
}

#[test]
fn an_over_large_log_is_refused_before_it_is_read() {
    let path = folder().0.path().join("huge.csv");
    let file = std::fs::File::create(&path).unwrap();
    file.set_len(256 * 1024 * 1024 + 1).unwrap();
    refused(&verdict(&["huge.csv"]), &["over 256 MiB", "huge.csv"]);
    std::fs::remove_file(path).unwrap();
}

#[test]
fn a_log_counted_by_another_bake_says_so() {
    let bake = bake("gas-out-chain-guards-300f");
    assert_eq!(verdict(&["good.csv", "--bake", &bake]).code, 0);
    let name = harmed("other.csv", |text| {
        let text = text[..text.rfind("# end").unwrap()].to_owned();
        text.replacen("\"models\":\"crc32:", "\"models\":\"crc32:0", 1).into_bytes()
    });
    let done = verdict(&[&name, "--bake", &bake]);
    assert_eq!(done.code, 0, "{}{}", done.stdout, done.stderr);
    assert!(done.stdout.contains("not those the"), "{}", done.stdout);
}

#[test]
fn a_log_of_another_maker_is_counted_and_says_what_it_lacks() {
    harmed("theirs.csv", |text| {
        let rows = text.lines().skip(2).filter_map(|row| {
            let cells: Vec<&str> = row.split(',').collect();
            let whole = cells.len() > 14 && cells[14].is_empty() && !cells[1].is_empty();
            whole.then(|| format!("{},{}", cells[0], cells[1]))
        });
        format!("when,Air (C)\n{}\n", rows.collect::<Vec<_>>().join("\n")).into_bytes()
    });
    let bake = bake("gas-out-chain-guards-300f");
    let typed = ["theirs.csv", "--bake", &bake, "--time-column", "when", "--air-column", "Air (C)"];
    let done = verdict(&typed);
    assert_eq!(done.code, 1, "{}{}", done.stdout, done.stderr);
    let flat = done.stdout.split_whitespace().collect::<Vec<_>>().join(" ");
    for words in ["a log of another maker", "the heater was not logged", "the door was not logged"]
    {
        assert!(flat.contains(words), "{words}: {flat}");
    }
    let json = verdict(&[&typed[..], &["--format", "json"]].concat());
    let told: Value = serde_json::from_str(&json.stdout).unwrap();
    assert_eq!((&told["energy_kwh"], &told["basis"]), (&Value::Null, &"one-sensor".into()));
    refused(&verdict(&["theirs.csv", "--air-column", "Air (C)"]), &["--time-column NAME"]);
    let wrong = ["theirs.csv", "--bake", &bake, "--time-column", "t", "--air-column", "Air (C)"];
    refused(&verdict(&wrong), &["no line names", "\"when\""]);
}

#[test]
fn plot_writes_every_kind_of_picture_and_lays_a_log_beside_it() {
    let path = folder().0.path();
    let typed = ["plot", "good.csv", "--out", "a.svg", "--out", "a.png", "--out", "a.html"];
    let done = run(path, &[&typed[..], &["--against", "good.csv"]].concat());
    assert_eq!((done.code, done.stderr.as_str()), (0, ""));
    for name in ["a.svg", "a.png", "a.html"] {
        assert!(path.join(name).metadata().unwrap().len() > 10_000, "{name}");
        assert!(done.stdout.contains(name), "{}", done.stdout);
    }
    assert!(done.stdout.contains("gas-out") && done.stdout.contains("rehearsal"));
    let svg = std::fs::read_to_string(path.join("a.svg")).unwrap();
    assert!(svg.contains("REHEARSAL, NOT A RECORD") && svg.contains("apart, °F"));
}

#[test]
fn plot_draws_a_log_that_cannot_be_counted_and_refuses_what_cannot_be_drawn() {
    let path = folder().0.path();
    harmed("bare.csv", |text| {
        let text = &text[text.find('\n').unwrap()..text.rfind("# end").unwrap()];
        format!("# truesoak.log/1 {{\"source\":\"oven\"}}{text}").into_bytes()
    });
    let done = run(path, &["plot", "bare.csv", "--out", "bare.html"]);
    assert_eq!(done.code, 0, "{}", done.stderr);
    let page = std::fs::read_to_string(path.join("bare.html")).unwrap();
    assert!(page.contains("nothing is proven by this log") || page.contains("Nothing is proven"));
    refused(&run(path, &["plot", "good.csv", "--out", "a.jpeg"]), &[".svg, .png or .html"]);
    refused(&run(path, &["plot", "good.csv", "--out", "good.csv.svg/x.svg"]), &["cannot write"]);
    refused(&run(path, &["plot", "none.csv", "--out", "none.svg"]), &["cannot be opened"]);
    assert!(!path.join("none.svg").exists(), "nothing is left behind");
    let none = run(path, &["plot", "good.csv"]);
    assert_eq!(none.code, 2);
    let before = std::fs::read(path.join("good.csv")).unwrap();
    let over = run(path, &["plot", "good.csv", "--out", "a.svg", "--out", "a.svg"]);
    refused(&over, &["is written already"]);
    assert_eq!(std::fs::read(path.join("good.csv")).unwrap(), before);
}
