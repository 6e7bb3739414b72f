//! A thermal network: nodes with heat capacity, links that carry heat, and the room.
//!
//! A link has a law and belongs to a group; a group's scale (0: off) is what doors, fans and loads
//! switch. Flows go from `a` to `b`; `b` may be the room. Temperatures inside are kelvins.

use super::ZERO_CELSIUS_K;
use super::convection::{FastFilm, Film};
use super::doorway::{self, Doorway};
use super::radiation::STEFAN_BOLTZMANN;
use super::sparse::{Pattern, TooDense};
use std::sync::Arc;

/// A node's number.
pub type NodeId = usize;
/// A sensor's number.
pub type SensorId = usize;
/// A group's number.
pub type GroupId = usize;

/// Spots fade with the air's temperature above the room over so many kelvins.
const SPOT_FADE_K: f64 = 20.0;

/// One end of a link.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum End {
    /// A node.
    Node(NodeId),
    /// The room.
    Room,
}

/// How a link carries heat.
#[derive(Clone, Copy, Debug)]
pub enum Law {
    /// Conductance, W/K.
    Conductance(f64),
    /// σ·A·(Ta⁴ − Tb⁴): exchange area, m².
    Radiation(f64),
    /// Film on a surface `b` in air `a`: area, m², and how much the air there differs from the air
    /// node, K (fading to nothing as the air comes down to the room).
    Film {
        /// Law.
        film: Film,
        /// m².
        area_m2: f64,
        /// K.
        spot_k: f64,
    },
    /// Exchange of air through an open doorway to the room.
    Doorway(Doorway),
}

/// What a network is built from.
#[derive(Clone, Debug, Default)]
pub struct Builder {
    capacities: Vec<f64>,
    initial_c: Vec<f64>,
    links: Vec<(NodeId, End, Law, GroupId)>,
    sensors: Vec<SensorSpec>,
    scales: Vec<f64>,
}

/// A first-order sensor between one node and a share of another.
#[derive(Clone, Copy, Debug)]
pub struct SensorSpec {
    /// Node it is in.
    pub node: NodeId,
    /// Node it also sees.
    pub second: NodeId,
    /// Share of the second, 0..1.
    pub share: f64,
    /// Time constant, s; 0 shows what it sees.
    pub lag_s: f64,
    /// °C.
    pub initial_c: f64,
}

impl Builder {
    /// Adds a node.
    pub fn node(&mut self, capacity_j_per_k: f64, initial_c: f64) -> NodeId {
        self.capacities.push(capacity_j_per_k);
        self.initial_c.push(initial_c);
        self.capacities.len() - 1
    }

    /// Adds a group with its scale at the start.
    pub fn group(&mut self, scale: f64) -> GroupId {
        self.scales.push(scale);
        self.scales.len() - 1
    }

    /// Adds a link.
    pub fn link(&mut self, a: NodeId, b: End, law: Law, group: GroupId) {
        self.links.push((a, b, law, group));
    }

    /// Adds a sensor.
    pub fn sensor(&mut self, sensor: SensorSpec) -> SensorId {
        self.sensors.push(sensor);
        self.sensors.len() - 1
    }

    /// The network in a room of `room_c`.
    ///
    /// # Errors
    /// A graph too dense to eliminate.
    pub fn build(self, room_c: f64) -> Result<(Network, State), TooDense> {
        let pairs: Vec<_> = self
            .links
            .iter()
            .filter_map(|(a, b, _, _)| match b {
                End::Node(b) => Some((*a, *b)),
                End::Room => None,
            })
            .collect();
        let count = self.capacities.len();
        let pattern = Pattern::new(count, &pairs)?;
        let place = |node: NodeId| pattern.number[node] as usize;
        let mut capacities = vec![0.0; count];
        let mut kelvins = vec![0.0; count + 1];
        for (node, (capacity, celsius)) in self.capacities.iter().zip(&self.initial_c).enumerate() {
            capacities[place(node)] = *capacity;
            kelvins[place(node)] = celsius + ZERO_CELSIUS_K;
        }
        kelvins[count] = room_c + ZERO_CELSIUS_K;
        let links: Vec<Link> = self
            .links
            .into_iter()
            .map(|(a, b, law, group)| {
                let a = place(a);
                let b = match b {
                    End::Node(b) => place(b),
                    End::Room => count,
                };
                Link { a, b, law: PreparedLaw::of(law), group }
            })
            .collect();
        let sensors: Vec<Sensor> = self
            .sensors
            .iter()
            .map(|spec| Sensor {
                node: place(spec.node),
                second: place(spec.second),
                share: spec.share,
                lag_s: spec.lag_s,
            })
            .collect();
        let shown = self.sensors.iter().map(|spec| spec.initial_c + ZERO_CELSIUS_K).collect();
        let number = pattern.number.iter().map(|number| *number as usize).collect();
        let state = State { kelvins, shown, lost_j: 0.0 };
        let mut network = Network {
            fixed: Arc::new(Fixed { pattern, capacities, links, number, sensors }),
            scales: self.scales,
            active: Active::default(),
            switches: 0,
        };
        network.activate();
        Ok((network, state))
    }
}

/// What never changes.
#[derive(Debug)]
pub(super) struct Fixed {
    pub pattern: Pattern,
    /// J/K, by new number.
    pub capacities: Vec<f64>,
    links: Vec<Link>,
    /// New number of each node.
    number: Vec<usize>,
    pub sensors: Vec<Sensor>,
}

/// A sensor, prepared.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sensor {
    pub node: usize,
    pub second: usize,
    pub share: f64,
    pub lag_s: f64,
}

impl Sensor {
    /// What it is drawn to.
    #[inline]
    pub fn sees(&self, values: &[f64]) -> f64 {
        (1.0 - self.share) * values[self.node] + self.share * values[self.second]
    }
}

#[derive(Debug)]
struct Link {
    a: usize,
    b: usize,
    law: PreparedLaw,
    group: GroupId,
}

#[derive(Debug)]
enum PreparedLaw {
    Conductance(f64),
    Radiation(f64),
    Film { film: Arc<FastFilm>, area_m2: f64, spot_k: f64 },
    Doorway(f64),
}

impl PreparedLaw {
    fn of(law: Law) -> Self {
        match law {
            Law::Conductance(conductance) => Self::Conductance(conductance),
            Law::Radiation(area_m2) => Self::Radiation(area_m2),
            Law::Film { film, area_m2, spot_k } => {
                Self::Film { film: Arc::new(FastFilm::new(&film)), area_m2, spot_k }
            }
            Law::Doorway(doorway) => Self::Doorway(doorway.factor()),
        }
    }
}

/// Where a link's four entries stand in the matrix; the room has none.
#[derive(Clone, Copy, Debug)]
struct Places {
    a: usize,
    b: usize,
    ab: usize,
    ba: usize,
}

/// A link that carries heat now.
#[derive(Clone, Copy, Debug)]
struct Carrier {
    places: Places,
    /// Conductance W/K, σ·exchange area W/K⁴, film area m², or doorway factor.
    factor: f64,
}

/// Links that carry heat now, by law.
#[derive(Clone, Debug, Default)]
struct Active {
    conductances: Vec<Carrier>,
    radiations: Vec<Carrier>,
    films: Vec<(Carrier, Arc<FastFilm>, f64)>,
    doorways: Vec<Carrier>,
    /// The conductances' share of the matrix and of the room's row.
    matrix: Vec<f64>,
    room_row: Vec<f64>,
}

/// A network with its switches.
#[derive(Clone, Debug)]
pub struct Network {
    pub(super) fixed: Arc<Fixed>,
    scales: Vec<f64>,
    active: Active,
    /// Changes of a scale so far.
    switches: u64,
}

/// State of a network: kelvins by new number with the room last, sensors, heat lost.
#[derive(Clone, Debug, PartialEq)]
pub struct State {
    pub(super) kelvins: Vec<f64>,
    pub(super) shown: Vec<f64>,
    pub(super) lost_j: f64,
}

/// A network near a state: heat into its nodes and what a sensor shows.
#[derive(Clone, Debug, PartialEq)]
pub struct Linearised {
    /// Of each node, J/K.
    pub capacities_j_per_k: Vec<f64>,
    /// For each node, what a kelvin of it brings to every node, W/K.
    pub slopes_w_per_k: Vec<Vec<f64>>,
    /// The node with the heater.
    pub heated: usize,
    /// Nodes the sensor sees, each with its share.
    pub seen: [(usize, f64); 2],
    /// The sensor's lag, s.
    pub lag_s: f64,
}

impl Network {
    /// Sets a group's scale; true if it changed.
    pub fn set_scale(&mut self, group: GroupId, scale: f64) -> bool {
        let changed = (self.scales[group] - scale).abs() > 0.0;
        if changed {
            self.scales[group] = scale;
            self.activate();
        }
        changed
    }

    /// Sets every group's scale, in the order of the groups.
    pub fn set_scales(&mut self, scales: &[f64]) {
        if self.scales != scales {
            self.scales.clear();
            self.scales.extend_from_slice(scales);
            self.activate();
        }
    }

    /// Every group's scale, in the order of the groups.
    #[must_use]
    pub fn scales(&self) -> &[f64] {
        &self.scales
    }

    /// A node's place in the state.
    #[must_use]
    pub fn place(&self, node: NodeId) -> usize {
        self.fixed.number[node]
    }

    /// Nodes.
    #[must_use]
    pub fn count(&self) -> usize {
        self.fixed.capacities.len()
    }

    /// Heat in the nodes above 0 K, J.
    #[must_use]
    pub fn stored_j(&self, state: &State) -> f64 {
        self.fixed.capacities.iter().zip(&state.kelvins).map(|(c, kelvin)| c * kelvin).sum()
    }

    /// How often a scale has changed: what was worked out before the last change is stale.
    pub(super) fn switches(&self) -> u64 {
        self.switches
    }

    fn activate(&mut self) {
        self.switches += 1;
        let fixed = &self.fixed;
        let room = fixed.capacities.len();
        let mut active = Active {
            matrix: vec![0.0; fixed.pattern.values()],
            room_row: vec![0.0; room],
            ..Active::default()
        };
        for link in &fixed.links {
            let scale = self.scales[link.group];
            if scale <= 0.0 {
                continue;
            }
            let (a, b) = (link.a, link.b);
            let (ab, ba) = if b == room {
                (usize::MAX, usize::MAX)
            } else {
                (fixed.pattern.place(a, b), fixed.pattern.place(b, a))
            };
            let places = Places { a, b, ab, ba };
            let carrier = |factor: f64| Carrier { places, factor: scale * factor };
            match &link.law {
                PreparedLaw::Conductance(g) => {
                    let carrier = carrier(*g);
                    add(
                        &mut active.matrix,
                        &mut active.room_row,
                        places,
                        carrier.factor,
                        carrier.factor,
                    );
                    active.conductances.push(carrier);
                }
                PreparedLaw::Radiation(m2) => {
                    active.radiations.push(carrier(STEFAN_BOLTZMANN * m2));
                }
                PreparedLaw::Film { film, area_m2, spot_k } => {
                    active.films.push((carrier(*area_m2), Arc::clone(film), *spot_k));
                }
                PreparedLaw::Doorway(factor) => active.doorways.push(carrier(*factor)),
            }
        }
        self.active = active;
    }

    /// Heat into every node, W, and into the room (last), added to `flows`.
    pub(super) fn flows(&self, kelvins: &[f64], flows: &mut [f64]) {
        // As long as each other, so that a place in one is a place in the other.
        let flows = &mut flows[..kelvins.len()];
        for carrier in &self.active.conductances {
            let Places { a, b, .. } = carrier.places;
            let flow = carrier.factor * (kelvins[a] - kelvins[b]);
            flows[a] -= flow;
            flows[b] += flow;
        }
        self.radiated(kelvins, flows);
        self.through_films(kelvins, flows);
        for carrier in &self.active.doorways {
            let Places { a, b, .. } = carrier.places;
            let (flow, ..) = doorway::flow_and_slopes(carrier.factor, kelvins[a], kelvins[b]);
            flows[a] -= flow;
            flows[b] += flow;
        }
    }

    /// Radiation; most of it leaves the liner, so where it leaves is kept at hand.
    fn radiated(&self, kelvins: &[f64], flows: &mut [f64]) {
        let flows = &mut flows[..kelvins.len()];
        let (mut from, mut square, mut left) = (0, kelvins[0] * kelvins[0], flows[0]);
        for carrier in &self.active.radiations {
            let Places { a, b, .. } = carrier.places;
            if a != from {
                flows[from] = left;
                (from, square, left) = (a, kelvins[a] * kelvins[a], flows[a]);
            }
            let other = kelvins[b] * kelvins[b];
            let flow = carrier.factor * (square - other) * (square + other);
            left -= flow;
            flows[b] += flow;
        }
        flows[from] = left;
    }

    /// Films; nearly all of them are of the same air.
    fn through_films(&self, kelvins: &[f64], flows: &mut [f64]) {
        let flows = &mut flows[..kelvins.len()];
        let room_k = kelvins[kelvins.len() - 1];
        let (mut from, mut kelvin, mut left) = (0, kelvins[0], flows[0]);
        let mut above = above_room(kelvin, room_k);
        for (carrier, film, spot_k) in &self.active.films {
            let Places { a, b, .. } = carrier.places;
            if a != from {
                flows[from] = left;
                (from, kelvin, left) = (a, kelvins[a], flows[a]);
                above = above_room(kelvin, room_k);
            }
            let (air_k, surface_k) = (kelvin + spot_k * above, kelvins[b]);
            let coefficient = film.value(surface_k, air_k);
            let flow = carrier.factor * coefficient * (air_k - surface_k);
            left -= flow;
            flows[b] += flow;
        }
        flows[from] = left;
    }

    /// Its slopes at a state, by central differences of the flows themselves, with the heat of one
    /// node and what one sensor shows.
    #[must_use]
    pub fn linearised(&self, state: &State, heated: usize, sensor: SensorId) -> Linearised {
        /// Small beside what films and radiation change over, large beside their last digits, K.
        const STEP_K: f64 = 1e-3;
        let count = self.count();
        let slopes_by = |node: usize| {
            let flows = |by_k: f64| {
                let mut kelvins = state.kelvins.clone();
                kelvins[node] += by_k;
                let mut flows = vec![0.0; count + 1];
                self.flows(&kelvins, &mut flows);
                flows
            };
            let (above, below) = (flows(STEP_K), flows(-STEP_K));
            (0..count).map(|to| (above[to] - below[to]) / (2.0 * STEP_K)).collect()
        };
        let Sensor { node, second, share, lag_s } = self.fixed.sensors[sensor];
        Linearised {
            capacities_j_per_k: self.fixed.capacities.clone(),
            slopes_w_per_k: (0..count).map(slopes_by).collect(),
            heated,
            seen: [(node, 1.0 - share), (second, share)],
            lag_s,
        }
    }

    /// K = −∂q/∂T into `matrix` and the room's row ∂q_room/∂T into `room_row`, both overwritten.
    pub(super) fn slopes(&self, kelvins: &[f64], matrix: &mut [f64], room_row: &mut [f64]) {
        matrix.copy_from_slice(&self.active.matrix);
        room_row.copy_from_slice(&self.active.room_row);
        let room_k = kelvins[kelvins.len() - 1];
        for carrier in &self.active.radiations {
            let Places { a, b, .. } = carrier.places;
            let slope = |kelvin: f64| 4.0 * carrier.factor * kelvin * kelvin * kelvin;
            add(matrix, room_row, carrier.places, slope(kelvins[a]), slope(kelvins[b]));
        }
        for (carrier, film, spot_k) in &self.active.films {
            let Places { a, b, .. } = carrier.places;
            let (air_k, by_air) = spotted(kelvins[a], *spot_k, room_k);
            let h = film.with_slopes(kelvins[b], air_k);
            let difference_k = air_k - kelvins[b];
            let along = h.value + h.by_difference * difference_k.abs();
            let across = 0.5 * h.by_film * difference_k;
            let out = carrier.factor * (along + across) * by_air;
            add(matrix, room_row, carrier.places, out, carrier.factor * (along - across));
        }
        for carrier in &self.active.doorways {
            let Places { a, b, .. } = carrier.places;
            let (_, out, back) = doorway::flow_and_slopes(carrier.factor, kelvins[a], kelvins[b]);
            add(matrix, room_row, carrier.places, out, -back);
        }
    }
}

/// Adds a link whose flow rises by `out` with `a` and falls by `back` with `b`.
#[inline]
fn add(matrix: &mut [f64], room_row: &mut [f64], places: Places, out: f64, back: f64) {
    matrix[places.a] += out;
    if places.ab == usize::MAX {
        room_row[places.a] += out;
    } else {
        matrix[places.ba] -= out;
        matrix[places.b] += back;
        matrix[places.ab] -= back;
    }
}

/// Share of a spot that is there in air of a temperature: all of it in hot air, none in a room's.
#[inline]
fn above_room(air_k: f64, room_k: f64) -> f64 {
    ((air_k - room_k) / SPOT_FADE_K).clamp(0.0, 1.0)
}

/// Air at a spot and its slope by the air.
#[inline]
fn spotted(air_k: f64, spot_k: f64, room_k: f64) -> (f64, f64) {
    let above = above_room(air_k, room_k);
    let fades = above > 0.0 && above < 1.0;
    (air_k + spot_k * above, if fades { 1.0 + spot_k / SPOT_FADE_K } else { 1.0 })
}
