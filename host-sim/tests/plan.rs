//! Goal: what `plan` promises is what rehearsals one by one show: its times, its worst draw, what it
//! says the clock gives and what a change saves; and the command around it.
//! Method: the built command, planned on a few draws and compared with `simulate` on each of them.

use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use tempfile::TempDir;

const DRAWS: usize = 3;

fn bake(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../profiles/bakes")
        .join(name)
        .with_extension("toml")
}

fn command(folder: &Path, verb: &str, name: &str) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_truesoak"));
    command.current_dir(folder).env_remove("NO_COLOR").env_remove("TRUESOAK_UNITS");
    command.arg(verb).arg(bake(name));
    command
}

fn run(verb: &str, name: &str, arguments: &[&str]) -> Output {
    let folder = TempDir::new().expect("a folder");
    command(folder.path(), verb, name).args(arguments).output().expect("it runs")
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).expect("UTF-8")
}

#[track_caller]
fn json(verb: &str, name: &str, arguments: &[&str]) -> Value {
    let output = run(verb, name, &[&["--format", "json"], arguments].concat());
    serde_json::from_slice(&output.stdout).unwrap_or_else(|_| panic!("{}", text(&output.stderr)))
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is no number"))
}

fn keys(value: &Value) -> Vec<&str> {
    value.as_object().expect("an object").keys().map(String::as_str).collect()
}

/// The draws one by one, each with its own command.
fn each_draw(name: &str, arguments: &[&str]) -> Vec<Value> {
    let draw = |draw: usize| {
        let number = draw.to_string();
        json("simulate", name, &[&["--draw", &number][..], arguments].concat())
    };
    (1..=DRAWS).map(draw).collect()
}

fn durations_s(results: &[Value]) -> Vec<f64> {
    results.iter().map(|result| number(&result["duration_s"])).collect()
}

fn middle(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted[DRAWS / 2]
}

#[track_caller]
fn assert_same_s(told: &Value, found: f64) {
    assert!((number(told) - found).abs() < 0.11, "{told} is told, {found} was found");
}

#[test]
fn a_plan_tells_what_its_draws_show_one_by_one() {
    let plan = json("plan", "gas-out-hubs", &["--runs", "3"]);
    let plain = each_draw("gas-out-hubs", &["--quick"]);
    assert!(plain.iter().all(|result| result["verdict"] == "pass" && result["truth"] == "pass"));
    let without = durations_s(&plain);
    assert_eq!(plan["pass_probability"], 1.0);
    assert_same_s(&plan["finish_s"]["p50"], middle(&without));
    let longest = without.iter().copied().fold(0.0, f64::max);
    assert_same_s(&plan["finish_s"]["p95"], longest);

    let worst = &plan["worst"];
    let replayed = &plain[number(&worst["draw"]) as usize - 1];
    for key in ["verdict", "truth", "duration_s"] {
        assert_eq!(worst[key], replayed[key], "{key} of the worst draw");
    }
    assert_same_s(&worst["duration_s"], longest);

    let mut advice = plan["advice"].as_array().expect("a list").iter();
    let preheat = advice.find(|one| {
        one["change"].as_str().is_some_and(|what| what == "preheat the empty oven to 163.0 °C")
    });
    let preheat = preheat.unwrap_or_else(|| panic!("no hotter preheat was tried: {plan}"));
    let hotter = ["bake.step.1.ramp.to=163 °C", "bake.step.2.load_in.at=163 °C"];
    let with = each_draw("gas-out-hubs", &["--quick", "--set", hotter[0], "--set", hotter[1]]);
    let with = durations_s(&with);
    assert_same_s(&preheat["finish_s"], middle(&with));
    let saved: Vec<f64> = without.iter().zip(&with).map(|(a, b)| a - b).collect();
    assert_same_s(&preheat["saves_s"], middle(&saved));
}

/// A load of which one kind is baked apart takes the time of both bakes.
#[test]
fn a_split_load_takes_as_long_as_its_two_bakes_together() {
    let folder = TempDir::new().expect("a folder");
    let profiles = Path::new(env!("CARGO_MANIFEST_DIR")).join("../profiles");
    let load =
        std::fs::read_to_string(profiles.join("loads/hubs-and-levers.toml")).expect("a load");
    let (head, rest) = load.split_once("[[part]]").expect("a part");
    let (hub, rest) = rest.split_once("[[part]]").expect("a second part");
    let (lever, rack) = rest.split_once("[rack]").expect("a rack");
    let oven = profiles.join("ovens/bench-25l.toml").canonicalize().expect("an oven");
    let alone_s = |name: &str, part: &str| {
        let text = format!("{head}[[part]]{part}[rack]{rack}");
        std::fs::write(folder.path().join(format!("{name}.toml")), text).expect("written");
        let bake = std::fs::read_to_string(bake("cure-hubs")).expect("a bake");
        let bake = bake
            .replace("../loads/hubs-and-levers.toml", &format!("{name}.toml"))
            .replace("../ovens/bench-25l.toml", oven.to_str().expect("UTF-8"));
        let path = folder.path().join(format!("bake-{name}.toml"));
        std::fs::write(&path, bake).expect("written");
        let mut command = Command::new(env!("CARGO_BIN_EXE_truesoak"));
        command.args(["simulate", "--quick", "--draw", "1", "--format", "json"]).arg(path);
        let output = command.output().expect("it runs");
        let result: Value = serde_json::from_slice(&output.stdout).expect("JSON");
        number(&result["duration_s"])
    };
    let both_s = alone_s("hub", hub) + alone_s("lever", lever);
    let plan = json("plan", "cure-hubs", &["--runs", "1"]);
    let mut advice = plan["advice"].as_array().expect("a list").iter();
    let split = advice.find(|one| {
        one["change"].as_str().is_some_and(|what| what.starts_with("bake \"brake lever\" apart"))
    });
    let split = split.unwrap_or_else(|| panic!("no split was tried: {plan}"));
    assert_same_s(&split["finish_s"], both_s);
}

#[test]
fn the_clock_s_share_has_the_ten_extra_minutes_of_the_trade_in_it() {
    let plan = json("plan", "gas-out-chain-guards-300f", &["--runs", "3"]);
    let longer = ["--by-the-clock", "--set", "bake.step.3.soak.for=70 min"];
    let clocks = each_draw("gas-out-chain-guards-300f", &longer);
    let had: Vec<f64> =
        clocks.iter().map(|clock| number(&clock["parts"][0]["in_window_s"])).collect();
    let told = &plan["clock"][0];
    assert_eq!(told["wanted_s"], 3600.0);
    assert_same_s(&told["median_s"], middle(&had));
    assert_same_s(&told["least_s"], had.iter().copied().fold(f64::INFINITY, f64::min));
    let enough = had.iter().filter(|had_s| **had_s >= 3600.0).count();
    let share = (enough as f64 / DRAWS as f64 * 1e4).round() / 1e4;
    assert_eq!(told["pass_probability"], share);
    assert_eq!(plan["clock_pass_probability"], share, "it has one part");
}

#[test]
fn the_json_has_exactly_its_keys_and_one_line() {
    let folder = TempDir::new().expect("a folder");
    let mut planned = command(folder.path(), "plan", "give-up");
    let output = planned.args(["--runs", "1", "--format", "json"]).output().expect("it runs");
    assert_eq!(text(&output.stdout).lines().count(), 1);
    let plan: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let mut whole = [
        "schema",
        "finish_s",
        "pass_probability",
        "clock_pass_probability",
        "false_trip_probability",
        "oracle_finish_s",
        "lags",
        "advice",
        // Ours.
        "runs",
        "pass_interval",
        "clock",
        "worst",
    ];
    whole.sort_unstable();
    assert_eq!(keys(&plan), whole);
    assert_eq!(plan["schema"], "truesoak.plan/1");
    assert_eq!(keys(&plan["finish_s"]), ["p50", "p95"]);
    assert_eq!(keys(&plan["oracle_finish_s"]), ["p50", "p95"]);
    assert!(plan["finish_s"]["p50"].is_null(), "nothing is done that is given up on");
    assert_eq!(keys(&plan["pass_interval"]), ["high", "low", "method"]);
    for lag in plan["lags"].as_array().expect("a list") {
        assert_eq!(keys(lag), ["coldest_s", "hottest_s", "part"]);
        assert!(number(&lag["coldest_s"]) > number(&lag["hottest_s"]), "{lag}");
    }
    let clock = ["least_s", "median_s", "part", "pass_probability", "wanted_s"];
    assert!(plan["clock"].as_array().expect("a list").iter().all(|part| keys(part) == clock));
    let advice = plan["advice"].as_array().expect("a list");
    let of = ["change", "costs", "draws", "finish_s", "pass_probability", "saves_s"];
    assert!(!advice.is_empty() && advice.iter().all(|one| keys(one) == of), "{advice:?}");
    assert!(advice[0]["change"].as_str().is_some_and(|what| what.starts_with("give up ")));
    assert_eq!(advice[0]["pass_probability"], 1.0, "it has its time then");
    assert_eq!(keys(&plan["worst"]), ["draw", "duration_s", "truth", "verdict"]);
    assert_eq!(plan["worst"]["verdict"], "short");
    assert_eq!(plan["false_trip_probability"], 0.0);
}

#[test]
fn a_fault_that_the_bake_s_script_plays_is_no_false_trip() {
    let plan = json("plan", "scripted-fault", &["--runs", "1"]);
    assert_eq!(plan["worst"]["verdict"], "tripped");
    assert_eq!(plan["false_trip_probability"], 0.0);
}

#[test]
fn the_answer_is_the_same_on_one_thread_and_on_two() {
    let on = |threads: &str| {
        run("plan", "cure-hubs", &["--runs", "5", "--threads", threads, "--format", "json"]).stdout
    };
    assert_eq!(text(&on("1")), text(&on("2")));
}

#[test]
fn the_exit_code_says_whether_enough_draws_pass() {
    for (name, confidence, code) in [
        ("cure-hubs", "1.0", 0),
        ("give-up", "0.05", 1),
        ("give-up", "0 %", 0),
        ("cure-hubs", "95", 2),
        ("cure-hubs", "most", 2),
    ] {
        let output = run("plan", name, &["--runs", "1", "--confidence", confidence, "--quiet"]);
        assert_eq!(output.status.code(), Some(code), "{name} {confidence}");
        assert_eq!(output.stdout.is_empty(), code == 2, "{name} {confidence}");
    }
    let none = run("plan", "cure-hubs", &["--runs", "0"]);
    assert_eq!(none.status.code(), Some(2));
    assert!(text(&none.stderr).contains("0 draws make no plan"), "{}", text(&none.stderr));
}

#[test]
fn what_no_bake_can_do_is_refused_with_the_reason_and_nothing_is_left_behind() {
    for (set, reason) in [
        ("bake.step.3.soak.at_most=160 °C", "too narrow"),
        ("oven.heater.power=200 W", "the heater cannot reach"),
    ] {
        let folder = TempDir::new().expect("a folder");
        let mut planned = command(folder.path(), "plan", "gas-out-hubs");
        let output = planned.args(["--plot", "p.svg", "--set", set]).output().expect("it runs");
        assert_eq!(output.status.code(), Some(2), "{set}");
        let said = text(&output.stderr);
        assert!(said.contains(reason) && said.contains("expected: "), "{set}: {said}");
        assert!(output.stdout.is_empty() && !folder.path().join("p.svg").exists(), "{set}");
    }
}

#[test]
fn it_is_told_on_a_screenful_and_drawn_in_every_kind() {
    let folder = TempDir::new().expect("a folder");
    let mut planned = command(folder.path(), "plan", "gas-out-chain-guards-300f");
    planned.args(["--runs", "2", "--plot", "p.svg", "--plot", "p.png", "--plot", "p.html"]);
    let output = planned.output().expect("it runs");
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    assert!(output.stderr.is_empty(), "no progress where nobody sees it");
    let told = text(&output.stdout);
    assert!(told.starts_with("GOOD. Done after about "), "{told}");
    let typed = |line: &&str| line.starts_with("  truesoak simulate ") && line.contains(" --draw ");
    assert_eq!(told.lines().filter(typed).count(), 1, "{told}");
    assert!(told.contains("3 files written"), "{told}");
    // A line to copy is as long as its path.
    let fits = |line: &str| typed(&line) || line.chars().count() <= 80;
    assert!(told.lines().all(fits), "{told}");
    assert!(told.lines().count() <= 33, "{} lines:\n{told}", told.lines().count());
    let read = |name: &str| std::fs::read(folder.path().join(name)).expect(name);
    let (svg, page) = (text(&read("p.svg")), text(&read("p.html")));
    for words in ["REHEARSAL, NOT A RECORD", "draws done", "coldest part, 9 in 10"] {
        assert!(svg.contains(words) && page.contains(words), "{words}");
    }
    assert!(svg.matches("<polygon").count() >= 2, "two fans");
    let told = told.replace('\n', " ");
    let within = told.split("(within ").nth(1).and_then(|rest| rest.split(',').next());
    let within = format!("19 in 20 within {}", within.expect("a time"));
    assert!(svg.contains(&within), "the picture's times are the words': {within}");
    assert!(page.contains("By the clock, started as the door closes"), "the words beside it");
    assert!(read("p.png").starts_with(b"\x89PNG"));
}

/// Ctrl-C at a terminal is the signal SIGINT to the program.
#[cfg(unix)]
#[test]
fn an_interrupted_plan_exits_130_and_tells_of_the_draws_that_are_done() {
    use std::time::Duration;

    let folder = TempDir::new().expect("a folder");
    let mut planned = command(folder.path(), "plan", "cure-hubs");
    // Hours of work in any build.
    planned.args(["--runs", "1000000", "--format", "json", "--plot", "p.svg"]);
    planned.stdout(std::process::Stdio::piped()).stderr(std::process::Stdio::piped());
    let child = planned.spawn().expect("it runs");
    std::thread::sleep(Duration::from_secs(4));
    let sent = Command::new("kill").args(["-INT", &child.id().to_string()]).status();
    assert!(sent.expect("kill runs").success());
    let output = child.wait_with_output().expect("it ends");
    assert_eq!(output.status.code(), Some(130));
    let said = text(&output.stderr);
    assert!(said.contains("interrupted after") && said.contains("of 1000000 draws"), "{said}");
    let plan: Value = serde_json::from_slice(&output.stdout).expect("a plan of what was done");
    assert!(number(&plan["runs"]) >= 1.0 && plan["pass_probability"] == 1.0, "{plan}");
    assert!(folder.path().join("p.svg").exists());
}
