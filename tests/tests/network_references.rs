//! A bare network against a reference library, its balance of heat, and what is refused.

mod network_support;

use network_support::{drawn, oven, reference};
use serde_json::{Value, json};
use truesoak::bare::{self, BareNetwork};
use truesoak::plant::open_loop::{OpenLoop, Row, Stuck};

/// Accuracy promised at every row, K.
const ACCURACY_K: f64 = 0.005;

fn read(net: &Value) -> BareNetwork {
    serde_json::from_value(net.clone()).expect("a network")
}

/// Rows, and what was put in but neither stored nor lost as a share of what moved.
fn followed(net: &Value) -> (Vec<Vec<f64>>, f64) {
    let net = read(net);
    let bare = bare::build(&net).unwrap_or_else(|faults| panic!("{faults:?}"));
    let stretches = bare.stretches();
    let mut course = OpenLoop::new(bare.network, bare.state, net.log_every_s);
    let mut rows = Vec::new();
    for stretch in &stretches {
        let keep = |row: Row<'_>| {
            rows.push(row.nodes_c.iter().chain(row.sensors_c).copied().collect());
            Ok::<(), Stuck>(())
        };
        course.advance(stretch, keep).expect("followed");
    }
    let energy = course.energy();
    let moved_j = energy.put_in_j.max(energy.lost_j.abs()).max(energy.stored_j.abs());
    (rows, (energy.put_in_j - energy.lost_j - energy.stored_j).abs() / moved_j)
}

fn apart_k(net: &Value) -> f64 {
    let ((rows, imbalance), expected) = (followed(net), reference(net));
    assert_eq!(rows.len(), expected.len(), "rows");
    assert!(imbalance < 1e-9, "{imbalance:e} of the heat is unaccounted for");
    let pairs = rows.iter().flatten().zip(expected.iter().flatten());
    pairs.map(|(own, reference)| (own - reference).abs()).fold(0.0, f64::max)
}

/// Dormand–Prince 8(5,3) at tolerances of 10⁻¹⁰: crate `ode_solvers` 0.6.
#[test]
fn an_oven_with_door_load_and_radiation_agrees_with_a_reference_solver() {
    let apart_k = apart_k(&oven());
    println!("oven: {apart_k:.6} K");
    assert!(apart_k < ACCURACY_K, "{apart_k} K");
}

/// The same reference, on networks nobody has looked at.
#[test]
fn drawn_networks_agree_with_a_reference_solver() {
    let apart: Vec<f64> = (1..=24).map(|seed| apart_k(&drawn(seed))).collect();
    let worst_k = apart.iter().copied().fold(0.0, f64::max);
    println!("24 networks: worst {worst_k:.6} K");
    assert!(worst_k < ACCURACY_K, "{apart:?}");
}

/// A window opens and shuts between two rows, and a heater pulses for 50 ms: both count whole.
/// ΔT = P·t/C, in closed form.
#[test]
fn a_switch_between_two_rows_is_hit_exactly() {
    let mut net = json!({
        "ambient_c": 20, "duration_s": 100, "log_every_s": 50,
        "nodes": [{ "name": "block", "heat_capacity_j_per_k": 100, "initial_c": 20 }],
        "links": [{ "a": "block", "b": "ambient", "conductance_w_per_k": 1e-9 }],
        "heaters": [{ "node": "block", "schedule": [
            { "from_s": 10.0, "power_w": 4000 }, { "from_s": 10.05, "power_w": 0 }] }],
    });
    let (rows, _) = followed(&net);
    assert!((rows[1][0] - 22.0).abs() < 1e-6, "{rows:?}");
    net["links"][0] = json!({ "a": "block", "b": "ambient", "conductance_w_per_k": 100,
        "from_s": 20, "to_s": 21 });
    let (rows, _) = followed(&net);
    let expected_c = 20.0 + 2.0 * (-1.0_f64).exp();
    assert!((rows[1][0] - expected_c).abs() < 1e-4, "{rows:?}");
}

#[test]
fn every_row_is_there_the_last_included() {
    for (duration_s, every_s, count) in [(1.0, 0.1, 11), (3600.0, 0.7, 5143), (0.0, 1.0, 1)] {
        let mut net = oven();
        net["duration_s"] = json!(duration_s);
        net["log_every_s"] = json!(every_s);
        assert_eq!(followed_rows(&net), count, "{duration_s} s every {every_s} s");
    }
}

fn followed_rows(net: &Value) -> usize {
    followed(net).0.len()
}

#[test]
fn what_is_no_network_is_refused_by_name() {
    type Spoil = fn(&mut Value);
    let cases: [(Spoil, &str, &str); 17] = [
        (|net| net["links"][0]["b"] = json!("airr"), "no node \"airr\"", "link 1"),
        (|net| net["links"][0]["a"] = json!("ambient"), "no node \"ambient\"", "link 1"),
        (|net| net["nodes"][3]["name"] = json!("air"), "\"air\" is given twice", "node 4"),
        (|net| net["nodes"][3]["name"] = json!("ambient"), "called ambient", "node 4"),
        (|net| net["sensors"][0]["name"] = json!("air"), "\"air\" is given twice", "sensor 1"),
        (|net| net["links"][1]["b"] = json!("air"), "tied to itself", "link 2"),
        (|net| net["nodes"][0]["heat_capacity_j_per_k"] = json!(0), "is 0", "node 1"),
        (|net| net["links"][2]["conductance_w_per_k"] = json!(-1), "is -1", "link 3"),
        (|net| net["radiation"][0]["exchange_area_m2"] = json!(-1), "is -1", "radiation 1"),
        (|net| net["doorways"][0]["width_m"] = json!(-1), "is -1", "doorway 1"),
        (|net| net["nodes"][1]["initial_c"] = json!(-300), "below absolute zero", "node 2"),
        (|net| net["ambient_c"] = json!(-274), "below absolute zero", "the network"),
        (|net| net["doorways"][0]["to_s"] = json!(1), "before from_s", "doorway 1"),
        (|net| net["log_every_s"] = json!(0), "log_every_s is 0", "the network"),
        (|net| net["duration_s"] = json!(-1), "duration_s is -1", "the network"),
        (|net| net["duration_s"] = json!(1e9), "rows are asked for", "log_every_s"),
        (|net| net["heaters"][0]["node"] = json!("heater"), "no node \"heater\"", "heater 1"),
    ];
    for (spoil, what, place) in cases {
        let mut net = oven();
        spoil(&mut net);
        let faults = bare::build(&read(&net)).expect_err(what);
        let found = faults.iter().any(|f| f.what.contains(what) && f.place.contains(place));
        assert!(found, "{what} at {place}: {faults:?}");
    }
    let mut net = oven();
    net["nodes"].as_array_mut().unwrap().push(json!({
        "name": "stray", "heat_capacity_j_per_k": 5, "initial_c": 20 }));
    let faults = bare::build(&read(&net)).expect_err("a stray");
    assert_eq!(faults.len(), 1);
    assert!(faults[0].what.contains("nothing is ever tied to \"stray\""));
}

#[test]
fn everything_wrong_is_told_at_once() {
    let mut net = oven();
    net["nodes"][0]["heat_capacity_j_per_k"] = json!(-1);
    net["links"][0]["b"] = json!("nowhere");
    net["log_every_s"] = json!(-1);
    assert_eq!(bare::build(&read(&net)).expect_err("three").len(), 3);
}
