//! `simulate --oracle` and a plan's `oracle_finish_s`, as processes.
//!
//! Goal: what is printed is the oracle of that very plant, in words and in JSON, and never longer
//! than the bake it stands beside. Method: the built binary on shipped bakes.

use serde_json::Value;
use std::path::Path;
use std::process::{Command, Output};

fn run(arguments: &[&str], bake: &str) -> Output {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("../profiles/bakes/{bake}.toml"));
    let mut command = Command::new(env!("CARGO_BIN_EXE_truesoak"));
    command.env_remove("TRUESOAK_UNITS").arg(arguments[0]).arg(path).args(&arguments[1..]);
    command.output().expect("it runs")
}

fn text(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).expect("text")
}

fn json(arguments: &[&str], bake: &str) -> Value {
    serde_json::from_slice(&run(arguments, bake).stdout).expect("JSON")
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is no number"))
}

#[test]
fn it_is_in_the_json_only_when_asked_for_and_no_slower_than_the_bake() {
    let bake = "gas-out-chain-guards-300f";
    let plain = json(&["simulate", "--quick", "--format", "json"], bake);
    assert!(plain["oracle"].is_null());
    let asked = ["simulate", "--quick", "--oracle", "--draw", "3", "--format", "json"];
    let result = json(&asked, bake);
    let oracle = &result["oracle"];
    assert_eq!(oracle["verdict"], "pass");
    assert!(number(&oracle["duration_s"]) < number(&result["duration_s"]), "{oracle}");
    let soak = &result["parts"][0]["soaks"][0];
    assert!(number(&oracle["lead_s"]) < number(&soak["lead_s"]), "{oracle} {soak}");
    assert_eq!(oracle["soaks"][0]["lead_s"], oracle["lead_s"], "it has one soak");
    assert_eq!(
        (&oracle["soaks"][0]["step"], &oracle["soaks"][0]["try"]),
        (&soak["step"], &soak["try"])
    );
    assert_eq!(json(&asked, bake), result, "the same again");
    let other = ["simulate", "--quick", "--oracle", "--draw", "4", "--format", "json"];
    assert_ne!(json(&other, bake)["oracle"], *oracle, "another plant, another oracle");
}

#[test]
fn it_is_told_in_a_sentence_that_says_how_much_longer_the_bake_takes() {
    let output = run(&["simulate", "--quick", "--oracle"], "gas-out-chain-guards-300f");
    assert_eq!(output.status.code(), Some(0));
    let words = text(&output).split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("The fastest possible, knowing everything, would take "), "{words}");
    assert!(words.contains("; this bake takes ") && words.contains(" % more."), "{words}");
    let short = text(&run(&["simulate", "--quick", "--oracle"], "give-up"));
    let words = short.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("Even knowing everything, the bake would be short after "), "{words}");
}

#[test]
fn a_plan_knows_when_each_of_its_draws_could_have_been_done() {
    let plan = json(&["plan", "--runs", "3", "--format", "json"], "gas-out-chain-guards-300f");
    for share in ["p50", "p95"] {
        let could_s = number(&plan["oracle_finish_s"][share]);
        assert!(could_s < number(&plan["finish_s"][share]), "{plan}");
    }
    let mut each: Vec<f64> = ["1", "2", "3"]
        .map(|draw| {
            let asked = ["simulate", "--quick", "--oracle", "--draw", draw, "--format", "json"];
            number(&json(&asked, "gas-out-chain-guards-300f")["oracle"]["duration_s"])
        })
        .to_vec();
    each.sort_by(f64::total_cmp);
    assert_eq!(number(&plan["oracle_finish_s"]["p50"]).to_bits(), each[1].to_bits());
    assert_eq!(number(&plan["oracle_finish_s"]["p95"]).to_bits(), each[2].to_bits());
}
