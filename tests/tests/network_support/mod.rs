//! Bare networks to try, and a right-hand side for them that shares nothing with the plant's.

use ode_solvers::dop_shared::OutputType;
use ode_solvers::{DVector, Dop853, System};
use rand_core::{RngCore, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;
use serde_json::{Value, json};
use std::collections::HashMap;

/// 0 °C in kelvins (definition of the Celsius scale).
const ZERO_K: f64 = 273.15;
/// Stefan–Boltzmann constant, W/(m² K⁴) (CODATA 2018).
const SIGMA: f64 = 5.670_374_419e-8;
/// Standard gravity, m/s² (3rd CGPM, 1901).
const GRAVITY: f64 = 9.806_65;

/// A network that looks like an oven: a heater, a door that opens, a cold part put in by a window.
pub fn oven() -> Value {
    json!({
        "ambient_c": 20, "duration_s": 3600, "log_every_s": 10,
        "nodes": [
            { "name": "element", "heat_capacity_j_per_k": 350, "initial_c": 20 },
            { "name": "air", "heat_capacity_j_per_k": 90, "initial_c": 20 },
            { "name": "wall", "heat_capacity_j_per_k": 6000, "initial_c": 20 },
            { "name": "part", "heat_capacity_j_per_k": 480, "initial_c": -10 },
        ],
        "links": [
            { "a": "element", "b": "air", "conductance_w_per_k": 4 },
            { "a": "air", "b": "wall", "conductance_w_per_k": 14 },
            { "a": "wall", "b": "ambient", "conductance_w_per_k": 3, "from_s": 0, "to_s": 1e9 },
            { "a": "air", "b": "part", "conductance_w_per_k": 1.5, "from_s": 1830.05 },
            { "a": "air", "b": "part", "conductance_w_per_k": 0.5, "from_s": 1830.05 },
        ],
        "radiation": [{ "a": "wall", "b": "part", "exchange_area_m2": 0.05, "from_s": 1830.05 }],
        "doorways": [{ "a": "air", "width_m": 0.38, "height_m": 0.48, "discharge": 0.6,
            "specific_heat_j_per_kg_k": 1007, "from_s": 1800, "to_s": 1860 }],
        "heaters": [{ "node": "element", "schedule": [
            { "from_s": 0, "power_w": 1500 }, { "from_s": 400.033, "power_w": 0 },
            { "from_s": 405, "power_w": 900 }, { "from_s": 2000, "power_w": 300 }] }],
        "sensors": [{ "name": "probe", "node": "air", "lag_s": 12, "second_node": "wall",
            "second_share": 0.1, "initial_c": 20 }],
    })
}

/// A network of a seed: 3–10,000 J/K, windows of 0.05 s to all, heaters that switch at any time.
pub fn drawn(seed: u64) -> Value {
    let mut draw = Draw(Xoshiro256PlusPlus::seed_from_u64(seed));
    let count = 2 + draw.below(8);
    let name = |index: usize| if index < count { format!("n{index}") } else { "ambient".into() };
    let nodes: Vec<_> = (0..count)
        .map(|index| {
            json!({ "name": name(index), "heat_capacity_j_per_k": draw.decades(0.5, 4.0),
                "initial_c": draw.between(-40.0, 300.0) })
        })
        .collect();
    let mut links: Vec<_> = (1..=count)
        .map(|index| {
            // A tree that ends in the room, so that everything is tied to something.
            let to = if index == count { 0 } else { draw.below(index) };
            json!({ "a": name(to), "b": name(index), "conductance_w_per_k": draw.decades(-1.0, 2.5) })
        })
        .collect();
    for _ in 0..draw.below(5) {
        let (a, b) = (draw.below(count), count - draw.below(2));
        if a != b && b <= count {
            let link = json!({ "a": name(a), "b": name(b),
                "conductance_w_per_k": draw.decades(-1.0, 2.0) });
            links.push(draw.windowed(link));
        }
    }
    let mut radiation = Vec::new();
    for _ in 0..draw.below(4) {
        let a = draw.below(count);
        let pair =
            json!({ "a": name(a), "b": name(count), "exchange_area_m2": draw.decades(-3.0, 0.0) });
        radiation.push(draw.windowed(pair));
    }
    let doorway = json!({ "a": name(draw.below(count)), "width_m": 0.4, "height_m": 0.5,
        "discharge": 0.6, "specific_heat_j_per_kg_k": 1007 });
    let mut at_s = 0.0;
    let schedule: Vec<_> = (0..12)
        .map(|_| {
            at_s += draw.between(0.01, 80.0);
            json!({ "from_s": at_s, "power_w": 500.0 * draw.below(4) as f64 })
        })
        .collect();
    json!({
        "ambient_c": 20, "duration_s": 600, "log_every_s": 0.7, "nodes": nodes, "links": links,
        "radiation": radiation, "doorways": [draw.windowed(doorway)],
        "heaters": [{ "node": name(0), "schedule": schedule }],
        "sensors": [{ "name": "probe", "node": name(count - 1), "lag_s": 4, "second_node": name(0),
            "second_share": 0.1 }],
    })
}

struct Draw(Xoshiro256PlusPlus);

impl Draw {
    fn unit(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }
    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }
    fn decades(&mut self, low: f64, high: f64) -> f64 {
        10_f64.powf(self.between(low, high))
    }
    fn below(&mut self, count: usize) -> usize {
        (self.unit() * count as f64) as usize
    }
    fn windowed(&mut self, mut entry: Value) -> Value {
        let from_s = self.between(0.0, 600.0);
        let for_s = [0.05, 1.0, 30.0, 1e6][self.below(4)];
        entry["from_s"] = json!(from_s);
        entry["to_s"] = json!(from_s + for_s);
        entry
    }
}

/// The same equations, written apart, for a solver of another library; kelvins.
struct Equations<'a> {
    net: &'a Value,
    index: HashMap<&'a str, usize>,
    /// Start of the stretch, s: what is on there is on throughout.
    from_s: f64,
}

impl Equations<'_> {
    fn is_on(&self, entry: &Value) -> bool {
        let from_s = entry["from_s"].as_f64().unwrap_or(f64::NEG_INFINITY);
        let to_s = entry["to_s"].as_f64().unwrap_or(f64::INFINITY);
        from_s <= self.from_s && self.from_s < to_s
    }

    fn entries(&self, key: &str) -> impl Iterator<Item = &Value> {
        let all = self.net[key].as_array().into_iter().flatten();
        all.filter(|entry| self.is_on(entry))
    }

    /// A node's place and temperature, or the room's temperature.
    fn end(&self, name: &Value, y: &DVector<f64>) -> (Option<usize>, f64) {
        match self.index.get(name.as_str().unwrap()) {
            Some(&index) => (Some(index), y[index]),
            None => (None, self.net["ambient_c"].as_f64().unwrap() + ZERO_K),
        }
    }

    fn power_w(&self, heater: &Value) -> f64 {
        let steps = heater["schedule"].as_array().unwrap().iter();
        let mut begun = steps.rev().filter(|step| step["from_s"].as_f64().unwrap() <= self.from_s);
        begun.next().map_or(0.0, |step| step["power_w"].as_f64().unwrap())
    }
}

impl System<f64, DVector<f64>> for Equations<'_> {
    fn system(&self, _: f64, y: &DVector<f64>, dy: &mut DVector<f64>) {
        dy.fill(0.0);
        let mut move_heat = |from: Option<usize>, to: Option<usize>, watts: f64| {
            if let Some(from) = from {
                dy[from] -= watts;
            }
            if let Some(to) = to {
                dy[to] += watts;
            }
        };
        for link in self.entries("links") {
            let ((a, ta), (b, tb)) = (self.end(&link["a"], y), self.end(&link["b"], y));
            move_heat(a, b, link["conductance_w_per_k"].as_f64().unwrap() * (ta - tb));
        }
        for pair in self.entries("radiation") {
            let ((a, ta), (b, tb)) = (self.end(&pair["a"], y), self.end(&pair["b"], y));
            let area_m2 = pair["exchange_area_m2"].as_f64().unwrap();
            move_heat(a, b, SIGMA * area_m2 * (ta.powi(4) - tb.powi(4)));
        }
        for door in self.entries("doorways") {
            let (a, ta) = self.end(&door["a"], y);
            let room = self.net["ambient_c"].as_f64().unwrap() + ZERO_K;
            let (above, mean) = (ta - room, 0.5 * (ta + room));
            if above > 0.0 {
                let of = |key: &str| door[key].as_f64().unwrap();
                let density = 101_325.0 / (287.05 * mean);
                let speed = (GRAVITY * of("height_m") * above / mean).sqrt();
                let exchanged = of("discharge") / 3.0 * of("width_m") * of("height_m") * speed;
                let heat = density * of("specific_heat_j_per_kg_k") * exchanged * above;
                move_heat(a, None, heat);
            }
        }
        for heater in self.net["heaters"].as_array().into_iter().flatten() {
            let (node, _) = self.end(&heater["node"], y);
            move_heat(None, node, self.power_w(heater));
        }
        let nodes = self.net["nodes"].as_array().unwrap();
        for (index, node) in nodes.iter().enumerate() {
            dy[index] /= node["heat_capacity_j_per_k"].as_f64().unwrap();
        }
        for (index, sensor) in self.net["sensors"].as_array().into_iter().flatten().enumerate() {
            let share = sensor["second_share"].as_f64().unwrap_or(0.0);
            let (_, first) = self.end(&sensor["node"], y);
            let (_, second) = self.end(&sensor["second_node"], y);
            let seen = (1.0 - share) * first + share * second;
            let place = nodes.len() + index;
            dy[place] = (seen - y[place]) / sensor["lag_s"].as_f64().unwrap();
        }
    }
}

/// Rows by the reference: nodes, then sensors, °C.
pub fn reference(net: &Value) -> Vec<Vec<f64>> {
    let of = |value: &Value| value.as_f64().unwrap();
    let names = net["nodes"].as_array().unwrap();
    let index: HashMap<&str, usize> =
        names.iter().enumerate().map(|(i, node)| (node["name"].as_str().unwrap(), i)).collect();
    let mut y: Vec<f64> = names.iter().map(|node| of(&node["initial_c"]) + ZERO_K).collect();
    for sensor in net["sensors"].as_array().into_iter().flatten() {
        let share = sensor["second_share"].as_f64().unwrap_or(0.0);
        let at = |key: &str| y[index[sensor[key].as_str().unwrap()]];
        let seen = (1.0 - share) * at("node") + share * at("second_node");
        y.push(sensor["initial_c"].as_f64().map_or(seen, |celsius| celsius + ZERO_K));
    }
    let mut y = DVector::from_vec(y);
    let (duration_s, every_s) = (of(&net["duration_s"]), of(&net["log_every_s"]));
    let cuts_s = cuts(net, duration_s);
    let mut rows = Vec::new();
    let (mut now_s, mut row) = (0.0, 0_u32);
    while row as f64 * every_s <= duration_s * (1.0 + 1e-12) {
        let row_s = (f64::from(row) * every_s).min(duration_s);
        let between: Vec<f64> =
            cuts_s.iter().copied().filter(|cut| *cut > now_s && *cut < row_s).collect();
        for end_s in between.into_iter().chain([row_s]).filter(|end_s| *end_s > 0.0) {
            if end_s > now_s {
                let equations = Equations { net, index: index.clone(), from_s: now_s };
                y = solve(equations, now_s, end_s, y);
                now_s = end_s;
            }
        }
        rows.push(y.iter().map(|kelvin| kelvin - ZERO_K).collect());
        row += 1;
    }
    rows
}

/// Dormand and Prince's method of order 8 (crate `ode_solvers`), tolerances of 10⁻¹⁰.
fn solve(equations: Equations<'_>, from_s: f64, to_s: f64, y: DVector<f64>) -> DVector<f64> {
    let span_s = to_s - from_s;
    let (safety, least, most) = (0.9, 0.333, 6.0);
    let mut solver = Dop853::from_param(
        equations,
        from_s,
        to_s,
        span_s,
        y,
        1e-10,
        1e-9,
        safety,
        0.0,
        least,
        most,
        span_s,
        0.0,
        u32::MAX,
        u32::MAX,
        OutputType::Sparse,
    );
    solver.integrate().expect("a solution");
    solver.y_out().last().expect("an end").clone()
}

/// Every instant at which something is switched.
fn cuts(net: &Value, duration_s: f64) -> Vec<f64> {
    let lists = ["links", "radiation", "doorways"];
    let entries = lists.iter().flat_map(|key| net[*key].as_array().into_iter().flatten());
    let edges = entries.flat_map(|entry| [entry["from_s"].as_f64(), entry["to_s"].as_f64()]);
    let heaters = net["heaters"].as_array().into_iter().flatten();
    let steps = heaters.flat_map(|heater| heater["schedule"].as_array().unwrap());
    let times = edges.flatten().chain(steps.map(|step| step["from_s"].as_f64().unwrap()));
    let mut cuts: Vec<f64> = times.filter(|at_s| *at_s > 0.0 && *at_s < duration_s).collect();
    cuts.sort_by(f64::total_cmp);
    cuts.dedup();
    cuts
}
