//! From a description without faults to a network and the stretches between its cuts.

use super::file::BareNetwork;
use super::{AMBIENT, Fault, check};
use crate::plant::doorway::Doorway;
use crate::plant::network::{Builder, End, GroupId, Law, Network, SensorSpec, State};
use crate::plant::open_loop::Stretch;
use std::collections::HashMap;

/// A network ready to be followed.
#[derive(Debug)]
pub struct Bare {
    /// The network.
    pub network: Network,
    /// Its start.
    pub state: State,
    windows: Vec<(f64, f64)>,
    /// Node, then from when, s, how much, W; in order of time for every heater.
    heaters: Vec<(usize, Vec<(f64, f64)>)>,
    nodes: usize,
    cuts_s: Vec<f64>,
}

/// Builds it.
///
/// # Errors
/// Everything wrong with the description; or a graph too dense to eliminate.
pub fn build(net: &BareNetwork) -> Result<Bare, Vec<Fault>> {
    let faults = check::faults(net);
    if !faults.is_empty() {
        return Err(faults);
    }
    let mut assembly = Assembly::default();
    let index: HashMap<&str, usize> =
        net.nodes.iter().enumerate().map(|(i, node)| (node.name.as_str(), i)).collect();
    for node in &net.nodes {
        assembly.builder.node(node.heat_capacity_j_per_k, node.initial_c);
    }
    let end = |name: &str| if name == AMBIENT { End::Room } else { End::Node(index[name]) };
    for link in &net.links {
        let group = assembly.group(link.from_s, link.to_s);
        let law = Law::Conductance(link.conductance_w_per_k);
        assembly.builder.link(index[link.a.as_str()], end(&link.b), law, group);
    }
    for radiation in &net.radiation {
        let group = assembly.group(radiation.from_s, radiation.to_s);
        let law = Law::Radiation(radiation.exchange_area_m2);
        assembly.builder.link(index[radiation.a.as_str()], end(&radiation.b), law, group);
    }
    for doorway in &net.doorways {
        let group = assembly.group(doorway.from_s, doorway.to_s);
        let law = Law::Doorway(Doorway {
            width_m: doorway.width_m,
            height_m: doorway.height_m,
            discharge: doorway.discharge,
            specific_heat_j_per_kg_k: doorway.specific_heat_j_per_kg_k,
        });
        assembly.builder.link(index[doorway.a.as_str()], End::Room, law, group);
    }
    for sensor in &net.sensors {
        let node = index[sensor.node.as_str()];
        let second = sensor.second_node.as_ref().map_or(node, |name| index[name.as_str()]);
        let share = sensor.second_share.unwrap_or(0.0);
        let initial = |node: usize| net.nodes[node].initial_c;
        let sees_c = (1.0 - share) * initial(node) + share * initial(second);
        let initial_c = sensor.initial_c.unwrap_or(sees_c);
        let lag_s = sensor.lag_s;
        assembly.builder.sensor(SensorSpec { node, second, share, lag_s, initial_c });
    }
    let heaters: Vec<_> = net
        .heaters
        .iter()
        .map(|heater| {
            let mut steps: Vec<_> =
                heater.schedule.iter().map(|step| (step.from_s, step.power_w)).collect();
            // Of two steps at one time the later in the file holds.
            steps.sort_by(|a, b| a.0.total_cmp(&b.0));
            (index[heater.node.as_str()], steps)
        })
        .collect();
    assembly.finish(net, heaters)
}

#[derive(Default)]
struct Assembly {
    builder: Builder,
    windows: Vec<(f64, f64)>,
    groups: HashMap<(u64, u64), GroupId>,
}

impl Assembly {
    /// One group for every window that is met.
    fn group(&mut self, from_s: Option<f64>, to_s: Option<f64>) -> GroupId {
        let window = (from_s.unwrap_or(f64::NEG_INFINITY), to_s.unwrap_or(f64::INFINITY));
        let (builder, windows) = (&mut self.builder, &mut self.windows);
        *self.groups.entry((window.0.to_bits(), window.1.to_bits())).or_insert_with(|| {
            windows.push(window);
            builder.group(0.0)
        })
    }

    fn finish(
        self,
        net: &BareNetwork,
        heaters: Vec<(usize, Vec<(f64, f64)>)>,
    ) -> Result<Bare, Vec<Fault>> {
        let windows = self.windows;
        let (network, state) = self.builder.build(net.ambient_c).map_err(|dense| {
            vec![Fault {
                what: dense.to_string(),
                place: "links and radiation".to_owned(),
                expected: "a network in which most nodes touch a few others",
                next: "leave out the weakest ties, or join nodes".to_owned(),
            }]
        })?;
        let edges = windows.iter().flat_map(|(from_s, to_s)| [*from_s, *to_s]);
        let steps = heaters.iter().flat_map(|(_, steps)| steps.iter().map(|step| step.0));
        let mut cuts_s: Vec<f64> =
            edges.chain(steps).filter(|at_s| *at_s > 0.0 && *at_s < net.duration_s).collect();
        cuts_s.push(net.duration_s);
        cuts_s.sort_by(f64::total_cmp);
        cuts_s.dedup();
        Ok(Bare { network, state, windows, heaters, nodes: net.nodes.len(), cuts_s })
    }
}

impl Bare {
    /// What holds between each two cuts, from the start to the end.
    #[must_use]
    pub fn stretches(&self) -> Vec<Stretch> {
        let starts_s = core::iter::once(0.0).chain(self.cuts_s.iter().copied());
        let stretch = |(from_s, to_s): (f64, &f64)| Stretch {
            to_s: *to_s,
            scales: self
                .windows
                .iter()
                .map(|(on_s, off_s)| f64::from(u8::from(*on_s <= from_s && from_s < *off_s)))
                .collect(),
            sources_w: self.sources_w(from_s),
        };
        starts_s.zip(&self.cuts_s).map(stretch).collect()
    }

    fn sources_w(&self, at_s: f64) -> Vec<f64> {
        let mut sources_w = vec![0.0; self.nodes];
        for (node, steps) in &self.heaters {
            let now = steps.iter().rev().find(|(from_s, _)| *from_s <= at_s);
            sources_w[*node] += now.map_or(0.0, |(_, watts)| *watts);
        }
        sources_w
    }
}
