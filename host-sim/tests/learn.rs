//! `fit` and `survey` as commands: what they write, never over anything, and what they refuse.

mod command;

use command::{refused, run};
use std::path::{Path, PathBuf};
use tempfile::TempDir;
use truesoak::files::read_oven_alone;

fn profiles() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../profiles")
}

/// A folder with the shipped oven, a comment of its owner in it, and a log of that oven.
fn desk() -> TempDir {
    let folder = TempDir::new().unwrap();
    let oven = std::fs::read_to_string(profiles().join("ovens/cabinet-60l.toml")).unwrap();
    let oven = oven.replace("lag = \"12 s\"", "lag = \"12 s\"   # timed in a kettle");
    std::fs::write(folder.path().join("oven.toml"), oven).unwrap();
    let bake = profiles().join("bakes/gas-out-hubs.toml");
    let truth = "oven.calibration.losses=1.3";
    let path = bake.to_str().unwrap();
    let arguments = ["simulate", path, "--quick", "-q", "--plant", truth, "--log", "log.csv"];
    let done = run(folder.path(), &arguments);
    assert_eq!(done.code, 0, "{}", done.stderr);
    folder
}

fn fit<'a>(more: &[&'a str]) -> Vec<&'a str> {
    [&["fit", "log.csv", "--oven", "oven.toml", "--out", "new.toml"], more].concat()
}

#[test]
fn a_fit_writes_a_narrower_oven_that_reads_and_keeps_its_owners_comments() {
    let folder = desk();
    let at = |name: &str| folder.path().join(name);
    let done = run(folder.path(), &fit(&["--plot", "left.svg", "--plot", "left.png"]));
    assert_eq!((done.code, done.stderr.as_str()), (0, ""), "{}", done.stdout);
    assert!(done.stdout.starts_with("TOLD. 1 log of \"Converted 60 L cabinet\" tells "));
    assert!(done.stdout.contains("air alone cannot tell how parts follow"), "{}", done.stdout);
    let was = read_oven_alone(&at("oven.toml")).unwrap().oven;
    let now = read_oven_alone(&at("new.toml")).unwrap();
    assert!(now.source.text.contains("# timed in a kettle"), "{}", now.source.text);
    assert!(now.source.text.contains("# Written by truesoak fit from log.csv."));
    assert!((now.oven.calibration.losses - 1.3).abs() < 0.05, "{:?}", now.oven.calibration);
    assert!(now.oven.spread.losses < was.spread.losses, "{:?}", now.oven.spread);
    // What is not told stays as it was.
    assert_eq!(now.oven.spread.part_exchange.to_bits(), was.spread.part_exchange.to_bits());
    assert!(std::fs::read_to_string(at("left.svg")).unwrap().starts_with("<svg"));
    assert!(std::fs::read(at("left.png")).unwrap().starts_with(b"\x89PNG"));

    let before = std::fs::read(at("new.toml")).unwrap();
    refused(&run(folder.path(), &fit(&[])), &["new.toml", "is there already"]);
    assert_eq!(std::fs::read(at("new.toml")).unwrap(), before);
}

#[test]
fn a_fit_as_json_has_every_quantity_with_its_interval_or_its_reason() {
    let folder = desk();
    let done = run(folder.path(), &fit(&["--format", "json"]));
    assert_eq!(done.code, 0, "{}", done.stderr);
    let json: serde_json::Value = serde_json::from_str(&done.stdout).unwrap();
    assert_eq!(json["schema"], "truesoak.fit/1");
    assert!(json["air"]["rms_k"].as_f64().unwrap() < 0.1, "{json}");
    let quantities = json["quantities"].as_array().unwrap();
    assert_eq!(quantities.len(), 6);
    for quantity in quantities {
        let number = |key: &str| quantity[key].as_f64().unwrap_or(f64::NAN);
        assert!(number("low") <= number("value") && number("value") <= number("high"));
        let told = quantity["told"].as_bool().unwrap();
        assert_eq!(told, quantity["step_test"].is_null(), "{quantity}");
        assert_eq!(told, number("spread") < number("was_spread"), "{quantity}");
    }
}

#[test]
fn a_fit_refuses_what_it_cannot_use_and_leaves_nothing_behind() {
    let folder = desk();
    let path = folder.path();
    let log = std::fs::read_to_string(path.join("log.csv")).unwrap();
    std::fs::write(path.join("edited.csv"), log.replacen(",0.0,", ",1.0,", 1)).unwrap();
    std::fs::write(path.join("oven-broken.toml"), "name = \"x\"\n[heater\n").unwrap();
    std::fs::write(path.join("table.csv"), "t_s,air\n0,20\n").unwrap();
    for (arguments, words) in [
        (vec!["none.csv"], vec!["none.csv", "opened"]),
        (vec!["edited.csv"], vec!["edited.csv", "checksum"]),
        (vec!["table.csv"], vec!["table.csv", "not a log"]),
        (vec!["log.csv", "log.csv"], vec!["given twice"]),
        (vec!["log.csv", "--plot", "p.html"], vec![".svg or .png"]),
        (vec!["log.csv", "--plot", "log.csv.svg", "--plot", "log.csv.svg"], vec!["written"]),
        (vec!["log.csv", "--plot", "none/p.svg"], vec!["make the folder"]),
    ] {
        let rest = ["--oven", "oven.toml", "--out", "new.toml"];
        let all = [vec!["fit"], arguments.clone(), rest.to_vec()].concat();
        refused(&run(path, &all), &words);
        assert!(!path.join("new.toml").exists(), "{arguments:?}");
    }
    for (oven, words) in [("oven-broken.toml", "oven-broken.toml:2"), ("none.toml", "not there")] {
        let done = run(path, &["fit", "log.csv", "--oven", oven, "--out", "new.toml"]);
        refused(&done, &[words]);
    }
    let done = run(path, &["fit", "log.csv", "--oven", "oven.toml", "--out", "oven.toml"]);
    refused(&done, &["is there already"]);
    assert!(!path.join("new.toml").exists());
}

/// An even oven with five places, read every 10 s for two hours.
fn table() -> String {
    let mut text = "# made up\ntime,control,a,b,c,d,e\n".to_owned();
    for row in 0..720 {
        let control = 20.0 + 130.0 * (1.0 - (-f64::from(row) / 60.0).exp());
        let clock = (22 * 3600 + row * 10) % 86_400;
        text.push_str(&format!(
            "{}:{:02}:{:02},{control:.2}",
            clock / 3600,
            clock / 60 % 60,
            clock % 60
        ));
        for off_k in [-2.5, -1.0, 0.0, 1.0, 2.0] {
            text.push_str(&format!(",{:.2}", control + off_k));
        }
        text.push('\n');
    }
    text
}

#[test]
fn a_survey_puts_both_spots_into_the_oven_and_says_when_they_are_wider() {
    let folder = desk();
    let path = folder.path();
    std::fs::write(path.join("readings.csv"), table()).unwrap();
    let arguments = ["survey", "readings.csv", "--oven", "oven.toml", "--out", "s.toml"];
    let done = run(path, &[&arguments[..], &["--plot", "s.svg", "--plot", "s.png"]].concat());
    assert_eq!((done.code, done.stderr.as_str()), (0, ""), "{}", done.stdout);
    assert!(done.stdout.starts_with("STEADY. "), "{}", done.stdout);
    let spread = read_oven_alone(&path.join("s.toml")).unwrap().oven.spread;
    assert!((spread.cold_spot_k - 2.5).abs() < 0.11, "{spread:?}");
    assert!((spread.hot_spot_k - 2.0).abs() < 0.11, "{spread:?}");
    refused(&run(path, &arguments), &["s.toml", "is there already"]);

    let narrow = ["fit-for-nothing.toml", "w.toml"];
    let oven = std::fs::read_to_string(path.join("oven.toml")).unwrap();
    let told = format!("{oven}\n[spread]\ncold_spot = \"1 °C\"\nsensor_offset = \"0.5 °C\"\n");
    std::fs::write(path.join(narrow[0]), told).unwrap();
    let done = run(path, &["survey", "readings.csv", "--oven", narrow[0], "--out", narrow[1]]);
    assert_eq!(done.code, 0, "{}", done.stderr);
    assert!(done.stdout.contains("WIDER"), "{}", done.stdout);
    // The survey's sensors may be off by 1.1 K, the oven's own by 0.5.
    let spread = read_oven_alone(&path.join(narrow[1])).unwrap().oven.spread;
    assert!((spread.cold_spot_k - 3.1).abs() < 0.11, "{spread:?}");
    let done = run(path, &["survey", "readings.csv", "--format", "json"]);
    let json: serde_json::Value = serde_json::from_str(&done.stdout).unwrap();
    assert_eq!(json["schema"], "truesoak.survey/1");
    assert_eq!(
        (&json["steady"]["coldest"], &json["steady"]["hottest"]),
        (&"a".into(), &"e".into())
    );
}

#[test]
fn a_survey_that_is_never_steady_answers_no_and_bad_input_is_refused() {
    let folder = desk();
    let path = folder.path();
    let short: String = table().lines().take(300).map(|line| format!("{line}\n")).collect();
    std::fs::write(path.join("short.csv"), short).unwrap();
    let arguments = ["survey", "short.csv", "--oven", "oven.toml", "--out", "s.toml"];
    let done = run(path, &arguments);
    assert_eq!(done.code, 1, "{} {}", done.stdout, done.stderr);
    assert!(done.stdout.starts_with("NOT STEADY. "), "{}", done.stdout);
    assert!(!path.join("s.toml").exists());
    std::fs::write(path.join("table.csv"), table()).unwrap();
    std::fs::write(path.join("two.csv"), "t_s,control,a\n0,1,1\n9,1,1\n").unwrap();
    for (arguments, words) in [
        (vec!["none.csv"], vec!["none.csv"]),
        (vec!["two.csv"], vec!["1 place besides", "three places"]),
        (vec!["table.csv", "--control-column", "x"], vec!["no column \"x\""]),
        (vec!["table.csv", "--sensor-error", "1.1"], vec!["--sensor-error"]),
        (vec!["table.csv", "--sensor-error", "50 °C"], vec!["no error of a sensor"]),
        (vec!["table.csv", "--plot", "p.html"], vec![".svg or .png"]),
        (vec!["table.csv", "--plot", "table.csv"], vec![".svg or .png"]),
    ] {
        refused(&run(path, &[vec!["survey"], arguments].concat()), &words);
    }
    let alone = run(path, &["survey", "table.csv", "--oven", "oven.toml"]);
    assert_eq!(alone.code, 2, "{}", alone.stderr);
}
