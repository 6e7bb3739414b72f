//! Everything that is wrong with a bare network, each with its place and repair.

use super::file::BareNetwork;
use super::{AMBIENT, NODES_MAX, ROWS_MAX};
use crate::files::nearest;
use crate::plant::ZERO_CELSIUS_K;
use std::collections::{HashMap, HashSet};

/// Most guesses at what a name was meant to be.
const GUESSES_MAX: usize = 20;

/// One thing that is wrong.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fault {
    /// What.
    pub what: String,
    /// Where: the entry, counted from 1, with its names.
    pub place: String,
    /// What was expected.
    pub expected: &'static str,
    /// What to do next.
    pub next: String,
}

/// Finds them all.
#[must_use]
pub fn faults(net: &BareNetwork) -> Vec<Fault> {
    let mut check = Check::new(net);
    check.times();
    check.nodes();
    check.links();
    check.doorways();
    check.heaters();
    check.sensors();
    check.isolated();
    check.faults
}

struct Check<'a> {
    net: &'a BareNetwork,
    known: HashMap<&'a str, usize>,
    /// Nodes something is tied to at some time.
    tied: HashSet<&'a str>,
    faults: Vec<Fault>,
}

/// When an entry is on.
type Window = (Option<f64>, Option<f64>);

impl<'a> Check<'a> {
    fn new(net: &'a BareNetwork) -> Self {
        let known = net.nodes.iter().enumerate().map(|(i, node)| (node.name.as_str(), i)).collect();
        Self { net, known, tied: HashSet::new(), faults: Vec::new() }
    }

    fn report(&mut self, what: String, place: &str, expected: &'static str, next: &str) {
        let (place, next) = (place.to_owned(), next.to_owned());
        self.faults.push(Fault { what, place, expected, next });
    }

    fn finite(&mut self, key: &str, value: f64, place: &str) -> bool {
        if !value.is_finite() {
            let next = format!("write a number for {key}");
            self.report(format!("{key} is {value}"), place, "a finite number", &next);
        }
        value.is_finite()
    }

    fn positive(&mut self, key: &str, value: f64, place: &str) {
        if self.finite(key, value, place) && value <= 0.0 {
            let next = format!("write more than 0 for {key}");
            self.report(format!("{key} is {value}"), place, "more than 0", &next);
        }
    }

    fn not_negative(&mut self, key: &str, value: f64, place: &str) {
        if self.finite(key, value, place) && value < 0.0 {
            let next = format!("write 0 or more for {key}");
            self.report(format!("{key} is {value}"), place, "0 or more", &next);
        }
    }

    fn temperature(&mut self, key: &str, celsius: f64, place: &str) {
        if self.finite(key, celsius, place) && celsius < -ZERO_CELSIUS_K {
            let what = format!("{key} is {celsius} °C, below absolute zero");
            self.report(what, place, "-273.15 °C or more", "check the unit: it is °C");
        }
    }

    fn times(&mut self) {
        let net = self.net;
        let (duration_s, every_s) = (net.duration_s, net.log_every_s);
        self.temperature("ambient_c", net.ambient_c, "the network");
        self.not_negative("duration_s", duration_s, "the network");
        self.positive("log_every_s", every_s, "the network");
        let rows = duration_s / every_s + 1.0;
        if rows.is_finite() && every_s > 0.0 && rows > ROWS_MAX {
            let every_s = (duration_s / (ROWS_MAX - 1.0)).ceil();
            let next = format!("log every {every_s} s or less often");
            let what = format!("{rows:.0} rows are asked for");
            self.report(what, "duration_s and log_every_s", "at most 10,000,000 rows", &next);
        }
    }

    fn nodes(&mut self) {
        let net = self.net;
        if net.nodes.is_empty() || net.nodes.len() > NODES_MAX {
            let what = format!("there are {} nodes", net.nodes.len());
            self.report(what, "nodes", "1 to 10,000", "describe a network of that size");
        }
        let mut columns = HashSet::new();
        for (index, node) in net.nodes.iter().enumerate() {
            let place = format!("node {} (\"{}\")", index + 1, node.name);
            self.column(&node.name, &place, &mut columns);
            self.positive("heat_capacity_j_per_k", node.heat_capacity_j_per_k, &place);
            self.temperature("initial_c", node.initial_c, &place);
        }
        for (index, sensor) in net.sensors.iter().enumerate() {
            let place = format!("sensor {} (\"{}\")", index + 1, sensor.name);
            self.column(&sensor.name, &place, &mut columns);
        }
    }

    /// A name that can head a column of the log.
    fn column(&mut self, name: &'a str, place: &str, columns: &mut HashSet<&'a str>) {
        if name == AMBIENT || name == "t_s" {
            let what = format!("a node or sensor is called {name}");
            self.report(what, place, "a name that means nothing else", "give it another name");
        } else if name.is_empty() || name.chars().any(char::is_control) {
            let what = "a name is empty or holds a control character".to_owned();
            self.report(what, place, "a name that can head a column", "give it another name");
        } else if !columns.insert(name) {
            let what = format!("the name \"{name}\" is given twice");
            self.report(what, place, "a name of its own for every node and sensor", "rename one");
        }
    }

    fn known(&mut self, name: &'a str, place: &str, room_allowed: bool) -> bool {
        if self.known.contains_key(name) || (room_allowed && name == AMBIENT) {
            return true;
        }
        // A guess costs a look at every name; nobody reads a hundred of them.
        let guess = self.faults.len() < GUESSES_MAX;
        let near = guess.then(|| nearest(name, self.known.keys().copied())).flatten();
        let next = match near {
            _ if name == AMBIENT => "write the room as b, the node as a".to_owned(),
            Some(near) => format!("did you mean \"{near}\"?"),
            None => "add it to nodes, or name one that is there".to_owned(),
        };
        self.report(format!("there is no node \"{name}\""), place, "the name of a node", &next);
        false
    }

    fn pair(&mut self, a: &'a str, b: &'a str, place: &str, on: bool) {
        let _ = self.known(a, place, false) & self.known(b, place, true);
        if a == b {
            let what = format!("\"{a}\" is tied to itself");
            self.report(what, place, "two different nodes", "name the other one, or remove it");
        }
        // What is tied to a name that is wrong is not told again as tied to nothing.
        if on {
            self.tied.extend([a, b]);
        }
    }

    /// True if it is on at some time.
    fn window(&mut self, (from_s, to_s): Window, place: &str) -> bool {
        let (from, to) = (from_s.unwrap_or(f64::MIN), to_s.unwrap_or(f64::MAX));
        let finite = self.finite("from_s", from, place) & self.finite("to_s", to, place);
        if finite && to < from {
            let what = format!("to_s {to} is before from_s {from}");
            self.report(what, place, "from_s before to_s", "exchange the two");
        }
        to > from
    }

    fn links(&mut self) {
        let net = self.net;
        for (index, link) in net.links.iter().enumerate() {
            let place = format!("link {} (\"{}\" to \"{}\")", index + 1, link.a, link.b);
            let on = self.window((link.from_s, link.to_s), &place);
            self.pair(&link.a, &link.b, &place, on);
            self.not_negative("conductance_w_per_k", link.conductance_w_per_k, &place);
        }
        for (index, radiation) in net.radiation.iter().enumerate() {
            let (a, b) = (&radiation.a, &radiation.b);
            let place = format!("radiation {} (\"{a}\" to \"{b}\")", index + 1);
            let on = self.window((radiation.from_s, radiation.to_s), &place);
            self.pair(a, b, &place, on);
            self.not_negative("exchange_area_m2", radiation.exchange_area_m2, &place);
        }
    }

    fn doorways(&mut self) {
        let net = self.net;
        for (index, doorway) in net.doorways.iter().enumerate() {
            let place = format!("doorway {} (\"{}\")", index + 1, doorway.a);
            let on = self.window((doorway.from_s, doorway.to_s), &place);
            let _ = self.known(&doorway.a, &place, false);
            if on {
                self.tied.insert(&doorway.a);
            }
            self.not_negative("width_m", doorway.width_m, &place);
            self.not_negative("height_m", doorway.height_m, &place);
            self.not_negative("discharge", doorway.discharge, &place);
            let heat = doorway.specific_heat_j_per_kg_k;
            self.not_negative("specific_heat_j_per_kg_k", heat, &place);
        }
    }

    fn heaters(&mut self) {
        let net = self.net;
        for (index, heater) in net.heaters.iter().enumerate() {
            let place = format!("heater {} (\"{}\")", index + 1, heater.node);
            self.known(&heater.node, &place, false);
            for step in &heater.schedule {
                self.finite("from_s", step.from_s, &place);
                self.finite("power_w", step.power_w, &place);
            }
        }
    }

    fn sensors(&mut self) {
        let net = self.net;
        for (index, sensor) in net.sensors.iter().enumerate() {
            let place = format!("sensor {} (\"{}\")", index + 1, sensor.name);
            self.known(&sensor.node, &place, false);
            if let Some(second) = &sensor.second_node {
                self.known(second, &place, false);
            }
            self.not_negative("lag_s", sensor.lag_s, &place);
            let share = sensor.second_share.unwrap_or(0.0);
            if self.finite("second_share", share, &place) && !(0.0..=1.0).contains(&share) {
                let what = format!("second_share is {share}");
                self.report(what, &place, "a share from 0 to 1", "write 0.1 for a tenth");
            }
            if share > 0.0 && sensor.second_node.is_none() {
                let what = "second_share has no second_node".to_owned();
                self.report(what, &place, "the node it sees", "name it, or leave out the share");
            }
            if let Some(celsius) = sensor.initial_c {
                self.temperature("initial_c", celsius, &place);
            }
        }
    }

    fn isolated(&mut self) {
        let net = self.net;
        for (index, node) in net.nodes.iter().enumerate() {
            if !self.tied.contains(node.name.as_str()) {
                let what = format!("nothing is ever tied to \"{}\"", node.name);
                let place = format!("node {}", index + 1);
                let expected = "a link, radiation or a doorway at some time";
                self.report(what, &place, expected, "tie it to something, or remove it");
            }
        }
    }
}
