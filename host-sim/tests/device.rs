//! The `device` commands as processes, on a virtual board.
//!
//! Goal: from sending a bake to its fetched log with nothing but the command and no hardware; exit
//! codes; Ctrl-C leaves the bake running; an oven's log is never written over. Method: the built
//! binary, a virtual board of its own for each test.

use std::io::{BufRead as _, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};
use tempfile::TempDir;
use truesoak::log::{self, End, Row, Source};
use truesoak_core::units::{Celsius, Reading};

struct Done {
    code: i32,
    stdout: String,
    stderr: String,
}

fn truesoak(arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_truesoak"));
    command.env_remove("TRUESOAK_UNITS").args(arguments).stdin(Stdio::null());
    command
}

fn run(arguments: &[&str]) -> Done {
    let output = truesoak(arguments).output().unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    Done {
        code: output.status.code().unwrap(),
        stdout: text(output.stdout),
        stderr: text(output.stderr),
    }
}

fn bake(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../profiles/bakes").join(name);
    path.to_str().unwrap().to_owned()
}

/// A virtual board of its own process, switched off when dropped.
struct Board {
    child: Child,
    port: String,
}

impl Board {
    fn start(bake_name: &str, options: &[&str]) -> Self {
        let path = bake(bake_name);
        let arguments = [&["device", "virtual", path.as_str()], options].concat();
        let mut child =
            truesoak(&arguments).stdout(Stdio::piped()).stderr(Stdio::null()).spawn().unwrap();
        let mut line = String::new();
        BufReader::new(child.stdout.take().unwrap()).read_line(&mut line).unwrap();
        Self { child, port: line.trim().to_owned() }
    }

    fn device(&self, arguments: &[&str]) -> Done {
        run(&[&["device", "--port", self.port.as_str()], arguments].concat())
    }
}

impl Drop for Board {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

#[track_caller]
fn good(done: &Done, words: &[&str]) {
    assert_eq!(done.code, 0, "{}{}", done.stdout, done.stderr);
    for word in words {
        assert!(done.stdout.contains(word), "\"{word}\" is missing in:\n{}", done.stdout);
    }
}

fn seconds(log: &log::Log) -> Vec<(u32, u32)> {
    log.rows.iter().filter(|row| row.event.is_empty()).map(|row| (row.tick, row.credit_s)).collect()
}

/// The whole way, on whatever port the system gives: a pseudo-terminal, or one of its own. Three
/// and a half hours take as many minutes.
#[test]
fn a_bake_is_sent_started_watched_and_fetched_and_its_log_is_the_rehearsals() {
    let folder = TempDir::new().unwrap();
    let file = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let name = "cure-hubs.toml";
    let board = Board::start(name, &["--speed", "60"]);
    good(&board.device(&["status"]), &["Virtual board", "at rest", "No bake was sent to it."]);
    let sent = board.device(&["send", &bake(name), "--job", "order 12", "--note", "first"]);
    good(
        &sent,
        &[
            "GOOD. Done after about ",
            "40 of 40",
            "read back the same",
            "hold GO for 2 s and let go",
        ],
    );
    good(&board.device(&["start", "--i-am-at-the-oven"]), &["The bake has started."]);
    let refused = board.device(&["send", &bake(name)]);
    assert_eq!(refused.code, 1, "{}", refused.stderr);
    assert!(refused.stderr.contains("a bake is running"), "{}", refused.stderr);
    let watched = board.device(&["watch", "--plain", "--log", &file("watched.csv")]);
    let words = [
        "of 120 min counted.",
        "Coldest part at least ",
        "Every part had its minutes: proven. Took 3 h ",
    ];
    good(&watched, &words);
    assert!(watched.stdout.lines().count() > 40, "{}", watched.stdout);
    good(&board.device(&["fetch", "--log", &file("fetched.csv")]), &["Bake 1: ", "rows in "]);
    good(&board.device(&["status"]), &["The last bake: Every part", "Bake 1: ", ", fetched."]);
    let rehearsed = run(&["simulate", &bake(name), "--quick", "--log", &file("rehearsed.csv")]);
    assert_eq!(rehearsed.code, 0, "{}", rehearsed.stderr);
    let log = |name: &str| log::read(Path::new(&file(name))).unwrap();
    let (watched, fetched, rehearsed) =
        (log("watched.csv"), log("fetched.csv"), log("rehearsed.csv"));
    assert_eq!(watched, fetched, "what was watched is what was fetched");
    assert_eq!(fetched.end, End::Complete);
    assert_eq!(fetched.header.source, Source::Virtual);
    assert_eq!(fetched.header.job.as_deref(), Some("order 12"));
    assert_eq!(fetched.header.models, rehearsed.header.models);
    assert_eq!(seconds(&fetched), seconds(&rehearsed), "time and credit of every second");
    let events = |log: &log::Log| -> Vec<Row> {
        log.rows.iter().filter(|row| !row.event.is_empty()).cloned().collect()
    };
    let told = |rows: &[Row]| -> Vec<(u32, String)> {
        rows.iter().map(|row| (row.tick, row.event.clone())).collect()
    };
    assert_eq!(told(&events(&fetched)), told(&events(&rehearsed)));
    assert!(!PathBuf::from(file("fetched.csv.part")).exists());
    let counted = run(&["verdict", &file("fetched.csv")]);
    good(&counted, &["PASS. Every part was between", "counted 120 of 120 min", "job order 12"]);
    good(&run(&["plot", &file("fetched.csv"), "--out", &file("page.html")]), &["page.html"]);
    let page = std::fs::read_to_string(file("page.html")).unwrap();
    assert!(page.contains("20 of 120 min counted") && page.contains("REHEARSAL, NOT A RECORD"));
    let none = file("black-box.csv");
    let again =
        board.device(&["fetch", "--log", &file("fetched.csv"), "--black-box", none.as_str()]);
    assert_eq!(again.code, 1, "nothing tripped: {}", again.stderr);
    assert!(again.stderr.contains("bake 1 has no last minute before a trip"), "{}", again.stderr);
    assert!(!PathBuf::from(none).exists());
}

#[test]
fn the_last_minute_before_a_trip_is_fetched_tick_by_tick_and_never_written_over() {
    let folder = TempDir::new().unwrap();
    let file = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let name = "scripted-fault.toml";
    let board = Board::start(name, &["--speed", "600"]);
    good(&board.device(&["send", &bake(name), "--quiet"]), &[]);
    good(&board.device(&["start", "--i-am-at-the-oven"]), &[]);
    assert_eq!(board.device(&["watch", "--plain"]).code, 1);
    let (log, black_box) = (file("log.csv"), file("black-box.csv"));
    let told = board.device(&["fetch", "--log", &log]);
    assert!(told.stderr.contains("--black-box F.csv writes it too"), "{}", told.stderr);
    let with_it = ["fetch", "--log", log.as_str(), "--black-box", black_box.as_str()];
    good(&board.device(&with_it), &["rows in "]);
    let text = std::fs::read_to_string(&black_box).unwrap();
    assert!(text.starts_with("# truesoak.black-box/1 {\"board\":\""), "{text}");
    assert!(text.contains("\n# end rows=600 crc32="), "a minute of ticks");
    let cells = |line: &str| line.split(',').map(str::to_owned).collect::<Vec<_>>();
    let rows: Vec<Vec<String>> = text.lines().skip(2).take(600).map(cells).collect();
    let times: Vec<f64> = rows.iter().map(|row| row[0].parse().unwrap()).collect();
    assert!(times.windows(2).all(|pair| (pair[1] - pair[0] - 0.1).abs() < 1e-9), "{times:?}");
    let at_trip = times.iter().position(|time| *time == 0.0).unwrap();
    let permits = |rows: &[Vec<String>]| rows.iter().filter(|row| row[14] == "1").count();
    assert_eq!(permits(&rows[..at_trip]), at_trip, "heat was allowed until the trip");
    assert_eq!(permits(&rows[at_trip..]), 0, "and never behind it");
    let again = board.device(&with_it);
    assert_eq!(again.code, 2, "{}", again.stderr);
    assert!(again.stderr.contains("is there already and is left as it is"), "{}", again.stderr);
    // A fetch that fails leaves nothing that would keep the same command from going on.
    let (log, black_box) = (file("other.csv"), file("other-black-box.csv"));
    std::fs::create_dir(format!("{log}.part")).unwrap();
    let with_it = ["fetch", "--log", log.as_str(), "--black-box", black_box.as_str()];
    assert_eq!(board.device(&with_it).code, 3);
    assert!(!PathBuf::from(&black_box).exists());
    std::fs::remove_dir(format!("{log}.part")).unwrap();
    good(&board.device(&with_it), &["rows in "]);
}

#[test]
fn a_start_that_nobody_confirms_starts_nothing() {
    let name = "give-up.toml";
    let board = Board::start(name, &["--tcp"]);
    assert!(board.port.starts_with("tcp:127.0.0.1:"), "{}", board.port);
    good(
        &board.device(&["send", &bake(name), "--format", "json"]),
        &["\"schema\":\"truesoak.sent/1\""],
    );
    let since = Instant::now();
    let started = board.device(&["start"]);
    assert_eq!(started.code, 1, "{}", started.stdout);
    assert!(
        started.stderr.contains("Hold GO at the oven for 2 s and let go, within 60 s."),
        "{}",
        started.stderr
    );
    assert!(started.stderr.contains("Nothing was started: nobody held GO"), "{}", started.stderr);
    assert!(since.elapsed() > Duration::from_secs(55), "it waited the minute");
    good(&board.device(&["status", "--format", "json"]), &["\"phase\":\"idle\"", "\"bakes\":[]"]);
}

/// A person at the board's own window holds GO, answers, and stops.
#[test]
fn buttons_typed_at_the_virtual_oven_start_and_stop_its_bake() {
    use std::io::Write as _;
    let name = "give-up.toml";
    let path = bake(name);
    let mut child = truesoak(&["device", "virtual", &path, "--tcp"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut keys = child.stdin.take().unwrap();
    let mut line = String::new();
    BufReader::new(child.stdout.take().unwrap()).read_line(&mut line).unwrap();
    let board = Board { child, port: line.trim().to_owned() };
    good(&board.device(&["send", &path, "--quiet"]), &["read back the same"]);
    let asking = truesoak(&["device", "--port", &board.port, "start"])
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    std::thread::sleep(Duration::from_millis(1_500));
    keys.write_all(b"go\n").unwrap();
    let started = asking.wait_with_output().unwrap();
    assert_eq!(started.status.code(), Some(0));
    good(&board.device(&["status"]), &["step 1 of"]);
    let erased = board.device(&["erase"]);
    assert_eq!(erased.code, 1, "{}", erased.stderr);
    good(&board.device(&["stop"]), &["The bake was stopped"]);
    good(&board.device(&["status"]), &["Not done: the bake was stopped."]);
}

#[cfg(unix)]
#[test]
fn ctrl_c_leaves_the_bake_running_and_says_so_with_every_row_kept() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("left.csv");
    let name = "gas-out-chain-guards-300f.toml";
    let board = Board::start(name, &["--speed", "60"]);
    good(&board.device(&["send", &bake(name), "--quiet"]), &[]);
    good(&board.device(&["start", "--i-am-at-the-oven"]), &[]);
    let watch = ["device", "--port", &board.port, "watch", "--plain", "--log"];
    let child = truesoak(&[&watch, &[path.to_str().unwrap()][..]].concat())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let since = Instant::now();
    while std::fs::read_to_string(&path).unwrap_or_default().lines().count() < 90 {
        assert!(since.elapsed() < Duration::from_secs(60), "no log comes");
        std::thread::sleep(Duration::from_millis(100));
    }
    let sent = Command::new("kill").args(["-INT", &child.id().to_string()]).status();
    assert!(sent.unwrap().success());
    let output = child.wait_with_output().unwrap();
    let stderr = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(130), "{stderr}");
    assert!(stderr.contains("the bake goes on at the oven"), "{stderr}");
    assert!(stderr.contains("left.csv has every row until then"), "{stderr}");
    let log = log::read(&path).unwrap();
    assert!(matches!(log.end, End::Torn { .. }));
    assert!(log.rows.len() > 60, "{} rows", log.rows.len());
    good(&board.device(&["status"]), &["step ", " of 4"]);
}

#[test]
fn the_log_of_an_oven_is_never_written_over() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("record.csv");
    let text = "# truesoak.log/1 {\"source\":\"oven\"}\n";
    std::fs::write(&path, text).unwrap();
    let name = "give-up.toml";
    let board = Board::start(name, &["--tcp", "--speed", "20000"]);
    good(&board.device(&["send", &bake(name), "--quiet"]), &[]);
    good(&board.device(&["start", "--i-am-at-the-oven"]), &[]);
    for command in ["fetch", "watch"] {
        let done = board.device(&[command, "--log", path.to_str().unwrap()]);
        assert_eq!(done.code, 2, "{}", done.stderr);
        assert!(done.stderr.contains("is the log of an oven, and is never written over"));
        assert_eq!(std::fs::read_to_string(&path).unwrap(), text);
    }
    let none = board.device(&["fetch", "--bake", "7", "--log", path.to_str().unwrap()]);
    assert_eq!(none.code, 1, "{}", none.stderr);
    assert!(none.stderr.contains("keeps no bake 7"), "{}", none.stderr);
}

#[test]
fn ports_that_are_none_are_not_there_or_answer_nothing_end_with_what_to_do() {
    let done = run(&["device", "--port", "tcp:nowhere", "status"]);
    assert_eq!(done.code, 2, "{}", done.stderr);
    assert!(done.stderr.contains("is no port"), "{}", done.stderr);
    let done = run(&["device", "--port", "/dev/no-such-port", "status"]);
    assert_eq!(done.code, 3, "{}", done.stderr);
    assert!(done.stderr.contains("/dev/no-such-port is not there"), "{}", done.stderr);
    assert!(done.stderr.contains("next: truesoak device list"), "{}", done.stderr);
    let done = run(&["device", "--port", "tcp:127.0.0.1:1", "status"]);
    assert_eq!(done.code, 3, "{}", done.stderr);
    assert!(done.stderr.contains("nobody answers at tcp:127.0.0.1:1"), "{}", done.stderr);
    let done = run(&["device", "virtual", &bake("give-up.toml"), "--speed", "0"]);
    assert_eq!(done.code, 2, "{}", done.stderr);
}

/// A board at whose oven somebody types, and which nobody has commissioned.
struct BareBoard {
    board: Board,
    keys: std::process::ChildStdin,
}

impl BareBoard {
    fn start(bake: &str, options: &[&str]) -> Self {
        let arguments = [&["device", "virtual", bake, "--bare"], options].concat();
        let mut child = truesoak(&arguments)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let keys = child.stdin.take().unwrap();
        let mut line = String::new();
        BufReader::new(child.stdout.take().unwrap()).read_line(&mut line).unwrap();
        Self { board: Board { child, port: line.trim().to_owned() }, keys }
    }

    fn at_the_oven(&mut self, typed: &str) {
        use std::io::Write as _;
        writeln!(self.keys, "{typed}").unwrap();
    }

    /// Leads the check: whoever is asked dips the sensors and says so.
    fn commission(&mut self, arguments: &[&str], baths: &[&str]) -> Done {
        use std::io::{Read as _, Write as _};
        let port = self.board.port.clone();
        let mut child = truesoak(&[&["device", "--port", &port, "commission"], arguments].concat())
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut answers = child.stdin.take().unwrap();
        let mut said = BufReader::new(child.stderr.take().unwrap());
        let mut stderr = String::new();
        for bath in baths {
            let mut line = String::new();
            while !line.starts_with("Put the ") && said.read_line(&mut line).unwrap() > 0 {
                stderr.push_str(&line);
                if !line.starts_with("Put the ") {
                    line.clear();
                }
            }
            self.at_the_oven(bath);
            std::thread::sleep(Duration::from_millis(300));
            writeln!(answers).unwrap();
        }
        said.read_to_string(&mut stderr).unwrap();
        let output = child.wait_with_output().unwrap();
        let stdout = String::from_utf8(output.stdout).unwrap();
        Done { code: output.status.code().unwrap(), stdout, stderr }
    }
}

#[track_caller]
fn refused(done: &Done, words: &[&str]) {
    assert_eq!(done.code, 1, "{}{}", done.stdout, done.stderr);
    for word in words {
        assert!(done.stderr.contains(word), "\"{word}\" is missing in:\n{}", done.stderr);
    }
}

/// Copies the three files, with a correction in the oven's.
fn with_correction(folder: &Path, name: &str, correction: &str) -> String {
    let copy = |path: &Path, to: &str, change: &dyn Fn(String) -> String| {
        let text = change(std::fs::read_to_string(path).unwrap());
        let file = folder.join(to);
        std::fs::create_dir_all(file.parent().unwrap()).unwrap();
        std::fs::write(&file, text).unwrap();
        file.to_str().unwrap().to_owned()
    };
    let bake_path = PathBuf::from(bake(name));
    let text = std::fs::read_to_string(&bake_path).unwrap();
    let named = |key: &str| {
        let line = text.lines().find(|line| line.starts_with(&format!("{key} ="))).unwrap();
        line.split('"').nth(1).unwrap().to_owned()
    };
    for key in ["oven", "load"] {
        let relative = named(key);
        let source = bake_path.parent().unwrap().join(&relative);
        let corrected = |text: String| {
            let line = format!("[sensor]\ncorrection = \"{correction}\"");
            if key == "oven" { text.replacen("[sensor]", &line, 1) } else { text }
        };
        copy(&source, relative.trim_start_matches("../"), &corrected);
    }
    copy(&bake_path, &format!("bakes/{name}"), &|text| text)
}

#[test]
fn a_bare_board_is_commissioned_refuses_another_correction_and_runs_a_bake() {
    let folder = TempDir::new().unwrap();
    let name = "give-up.toml";
    let wrong = with_correction(&folder.path().join("wrong"), name, "0 °C");
    let oven = folder.path().join("wrong/ovens/garage-75l.toml");
    let oven = oven.to_str().unwrap();
    let truth = ["--tcp", "--speed", "2000", "--plant", "oven.sensor.correction=\"0.75 °C\""];
    let mut bare = BareBoard::start(&wrong, &truth);
    good(&bare.board.device(&["settings"]), &["being commissioned", "it has no settings"]);
    let words = ["nobody has commissioned this board", "truesoak device commission OVEN.toml"];
    refused(&bare.board.device(&["send", &wrong, "--quiet"]), &words);

    let mixed_up = bare.commission(&[oven, "--boiling", "99.97 °C"], &["boiling"]);
    refused(&mixed_up, &["the air sensor is not taken", "more than 2.5 K off", "it reads 9"]);
    let done = bare.commission(&[oven, "--boiling", "1013.25 hPa"], &["ice", "boiling"]);
    good(&done, &["corrected by +0.7", "went through ice and boiling water", "`device send`"]);
    bare.at_the_oven("out");

    let other = bare.board.device(&["send", &wrong, "--quiet"]);
    let words = ["corrected by +0.7", "the oven's file says thermocouple K", "[sensor] kind and"];
    refused(&other, &words);
    let line = done.stdout.lines().find(|line| line.contains("[sensor] correction")).unwrap();
    let right = folder.path().join("right");
    let right = with_correction(&right, name, line.split('"').nth(1).unwrap());
    good(&bare.board.device(&["send", &right, "--quiet"]), &["read back the same"]);
    bare.at_the_oven("restart");
    std::thread::sleep(Duration::from_secs(1));
    let closed = bare.board.device(&["commission", oven]);
    refused(&closed, &["settings change only while commissioning", "hold GO, switch it on"]);

    good(&bare.board.device(&["start", "--i-am-at-the-oven"]), &["The bake has started."]);
    let log = folder.path().join("bake.csv");
    let watched = bare.board.device(&["watch", "--plain", "--log", log.to_str().unwrap()]);
    assert_eq!(watched.code, 1, "the lump is too thick: {}", watched.stdout);
    let log = log::read(&log).unwrap();
    assert_eq!(log.end, End::Complete);
    let hottest = log.rows.iter().filter_map(|row| row.air).max();
    assert!(hottest > Reading::from_celsius(Celsius(140.0)), "{hottest:?}");
}
