//! Goal: what a person or a script meets at the command itself: exit codes, streams, files, colour.
//! Method: the built command is run on shipped bakes in a folder of its own.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use tempfile::TempDir;

/// A command in an empty folder, without settings of the machine.
struct Desk {
    folder: TempDir,
}

impl Desk {
    fn new() -> Self {
        Self { folder: tempfile::tempdir().expect("a folder") }
    }

    fn command(&self, bake: &str) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_truesoak"));
        let bakes = Path::new(env!("CARGO_MANIFEST_DIR")).join("../profiles/bakes");
        command.arg("simulate").arg(bakes.join(bake).with_extension("toml"));
        command.current_dir(self.folder.path());
        command.env_remove("NO_COLOR").env_remove("TRUESOAK_UNITS");
        command
    }

    /// Without the rehearsals beside it.
    fn quick(&self, bake: &str, arguments: &[&str]) -> Output {
        self.command(bake).arg("--quick").args(arguments).output().expect("it runs")
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn files(&self) -> Vec<String> {
        let entries = std::fs::read_dir(self.folder.path()).expect("a folder");
        let name = |entry: std::io::Result<std::fs::DirEntry>| entry.expect("an entry").file_name();
        let mut names: Vec<String> =
            entries.map(|entry| name(entry).to_string_lossy().into_owned()).collect();
        names.sort();
        names
    }
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).expect("UTF-8")
}

#[track_caller]
fn assert_exit(output: &Output, code: i32) {
    let said = text(&output.stderr);
    assert_eq!(output.status.code(), Some(code), "{}\n{said}", text(&output.stdout));
}

#[test]
fn quiet_is_the_sentence_alone_and_json_is_one_line() {
    let desk = Desk::new();
    let quiet = text(&desk.quick("cure-hubs", &["--quiet"]).stdout);
    let whole = text(&desk.quick("cure-hubs", &[]).stdout);
    assert!(whole.starts_with(&quiet) && quiet.lines().count() < 4, "{quiet}");
    for quiet in [&["--format", "json"][..], &["--format", "json", "--quiet"]] {
        let json = text(&desk.quick("cure-hubs", quiet).stdout);
        assert_eq!(json.lines().count(), 1);
        let value: serde_json::Value = serde_json::from_str(&json).expect("JSON");
        assert_eq!(value["verdict"], "pass");
    }
    assert!(desk.files().is_empty(), "nothing was asked to be written");
}

#[test]
fn colour_is_for_terminals_unless_asked_for_and_never_the_only_sign() {
    let desk = Desk::new();
    let run = |arguments: &[&str], no_color: bool| {
        let mut command = desk.command("give-up");
        command.args(["--quick", "--quiet"]).args(arguments);
        if no_color {
            command.env("NO_COLOR", "1");
        }
        text(&command.output().expect("it runs").stdout)
    };
    let plain = run(&[], false);
    assert!(!plain.contains('\u{1b}') && plain.starts_with("SHORT. "), "no terminal here");
    assert_eq!(run(&[], true), plain);
    assert_eq!(run(&["--color", "never"], false), plain);
    let colored = run(&["--color", "always"], true);
    assert!(colored.starts_with("\u{1b}[1;33mSHORT\u{1b}[0m. "), "asked for: {colored}");
}

#[test]
fn units_come_from_the_bake_then_the_machine_then_the_option() {
    let desk = Desk::new();
    let run = |bake: &str, option: &[&str], machine: Option<&str>| {
        let mut command = desk.command(bake);
        command.args(["--quick", "--quiet"]).args(option);
        machine.map(|units| command.env("TRUESOAK_UNITS", units));
        text(&command.output().expect("it runs").stdout).replace('\n', " ")
    };
    for (bake, option, machine, window) in [
        ("cure-hubs", &[][..], None, "between 121 and 155 °C"),
        ("door-mid-soak", &[], None, "between 270 and 330 °F"),
        ("cure-hubs", &[], Some("f"), "between 249.8 and 311 °F"),
        ("cure-hubs", &["--units", "k"], Some("f"), "between 394.2 and 428.2 K"),
    ] {
        let said = run(bake, option, machine);
        assert!(said.contains(window), "{window}: {said}");
    }
}

#[test]
fn outputs_that_cannot_be_are_refused_before_the_work_and_leave_nothing() {
    let desk = Desk::new();
    for (arguments, names) in [
        (&["--plot", "bake.jpeg"][..], &["bake.jpeg", ".svg, .png or .html"][..]),
        (&["--plot", "gone/bake.svg"], &["gone/bake.svg", "make the folder gone first"]),
        (&["--log", "gone/bake.csv"], &["gone/bake.csv", "make the folder gone first"]),
        (&["--log", "a.csv", "--plot", "gone/bake.svg"], &["gone/bake.svg"]),
        (&["--log", "a.svg", "--plot", "a.svg"], &["a.svg", "is written already"]),
        (&["--log", "."], &["cannot write ."]),
    ] {
        let output = desk.quick("cure-hubs", arguments);
        assert_exit(&output, 2);
        let said = text(&output.stderr);
        for name in names {
            assert!(said.contains(name), "{name}: {said}");
        }
        assert!(said.contains("expected: ") && said.contains("next: "), "{said}");
        assert!(output.stdout.is_empty() && desk.files().is_empty(), "{:?}", desk.files());
    }
}

#[test]
fn a_file_that_is_read_is_never_written() {
    let desk = Desk::new();
    for name in ["bakes/cure-hubs", "ovens/bench-25l", "loads/hubs-and-levers"] {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../profiles");
        let path = folder.join(name).with_extension("toml");
        let before = std::fs::read(&path).expect("a shipped file");
        let output = desk.quick("cure-hubs", &["--log", &path.display().to_string()]);
        assert_exit(&output, 2);
        assert!(text(&output.stderr).contains("is read by this command"));
        assert_eq!(std::fs::read(&path).expect("a shipped file"), before);
    }
}

#[test]
fn everything_asked_for_is_written_over_what_was_there_and_told() {
    let desk = Desk::new();
    let longer = vec![b'x'; 4 << 20];
    std::fs::write(desk.path("bake.csv"), &longer).expect("written");
    let names = ["bake.csv", "bake.html", "bake.png", "bake.svg"];
    let plots = ["--log", names[0], "--plot", names[1], "--plot", names[2], "--plot", names[3]];
    let output = desk.quick("cure-hubs", &plots);
    assert_exit(&output, 0);
    assert_eq!(desk.files(), names);
    let said = text(&output.stdout);
    assert!(said.contains("\n4 files written\n"), "{said}");
    for name in names {
        assert!(said.contains(name), "{name}: {said}");
    }
    let log = truesoak::log::read(&desk.path("bake.csv")).expect("a log");
    assert_eq!(log.end, truesoak::log::End::Complete);
    assert!(std::fs::read(desk.path("bake.png")).expect("a picture").starts_with(b"\x89PNG"));
    assert!(text(&std::fs::read(desk.path("bake.svg")).expect("a picture")).starts_with("<svg "));
}

#[test]
fn explain_names_every_default_with_its_source() {
    let desk = Desk::new();
    let output = desk.quick("cure-hubs", &["--explain", "--format", "json"]);
    let value: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let defaults = value["defaults"].as_array().expect("a list");
    assert!(defaults.len() > 20);
    for default in defaults {
        for key in ["key", "value", "source"] {
            let words = default[key].as_str().unwrap_or_default();
            assert!(!words.trim().is_empty(), "{key} of {default}");
        }
    }
    let named = |key: &str| defaults.iter().any(|default| default["key"] == key);
    for key in ["oven.spread.wall_view", "oven.tuning.gain", "bake.step.1.soak.dip"] {
        assert!(named(key), "{key}");
    }
    let told = text(&desk.quick("cure-hubs", &["--explain"]).stdout);
    let list = told.split("Defaults used, and why\n").nth(1).expect("a list");
    let keys = list.lines().filter(|line| !line.starts_with("   ")).count();
    assert_eq!(keys, defaults.len());
    assert!(told.lines().all(|line| line.chars().count() <= 80));
}

/// Ctrl-C at a terminal is the signal SIGINT to the program.
#[cfg(unix)]
#[test]
fn an_interrupted_rehearsal_exits_130_and_keeps_a_log_that_reads_back() {
    use std::time::{Duration, Instant};

    let desk = Desk::new();
    let mut command = desk.command("gas-out-hubs");
    // Days of soak: seconds of work in any build.
    command.args(["--set", "bake.limits.bake_max=70 h"]);
    command.args(["--set", "bake.step.3.soak.for=69 h"]);
    command.args(["--log", "bake.csv", "--plot", "bake.svg"]);
    command.stdout(std::process::Stdio::piped()).stderr(std::process::Stdio::piped());
    let child = command.spawn().expect("it runs");
    // The outputs are opened once the program listens, and before it works.
    let started = Instant::now();
    while !desk.path("bake.svg").exists() {
        assert!(started.elapsed() < Duration::from_secs(60), "it never began");
        std::thread::sleep(Duration::from_millis(5));
    }
    std::thread::sleep(Duration::from_millis(200));
    let sent = Command::new("kill").args(["-INT", &child.id().to_string()]).status();
    assert!(sent.expect("kill runs").success());
    let output = child.wait_with_output().expect("it ends");
    assert_exit(&output, 130);
    assert!(output.stdout.is_empty(), "no verdict on half a bake");
    let said = text(&output.stderr);
    assert!(said.contains("interrupted at") && said.contains("bake.csv has every row"), "{said}");
    assert_eq!(desk.files(), ["bake.csv"], "nothing is drawn of half a bake");
    let log = truesoak::log::read(&desk.path("bake.csv")).expect("a log");
    assert!(matches!(log.end, truesoak::log::End::Torn { .. }), "{:?}", log.end);
    assert!(log.rows.len() > 60, "{} rows", log.rows.len());
    let in_order = log.seconds().zip(0..).all(|(row, second)| row.tick == 10 * second);
    assert!(in_order, "one row a second from the start");
}

/// Thin bars in a quick oven whose weld only the air shows.
#[test]
fn a_bake_whose_weld_would_harm_a_part_is_refused_by_the_limit_that_it_passes() {
    let desk = Desk::new();
    let bars = |part_max: &str, more: &[&str]| {
        let mut command = desk.command("../../tests/emulator/quick/bake");
        for set in [
            "oven.permit.mains_proof=false",
            "oven.sensor.lag=\"15 s\"",
            "load.part.1.shape={ bar = { diameter = \"2 mm\", length = \"300 mm\" } }",
            "bake.step.\"dry\".soak.at_most=\"90 °C\"",
            part_max,
        ] {
            command.args(["--set", set]);
        }
        command.args(more).output().expect("it runs")
    };
    let tight = "bake.limits.part_max=\"92 °C\"";
    let refused = bars(tight, &[]);
    assert_exit(&refused, 2);
    let said = text(&refused.stderr);
    assert!(said.contains("a drive that welds at the worst moment would take \"stay\""), "{said}");
    assert!(said.contains("--set bake.limits.part_max=\"92 °C\""), "{said}");
    // The bake itself does no harm, and with room the weld does none.
    assert_exit(&bars(tight, &["--quick"]), 0);
    assert_exit(&bars("bake.limits.part_max=\"97 °C\"", &[]), 0);
}
