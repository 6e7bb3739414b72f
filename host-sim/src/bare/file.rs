//! The file of a bare network, as written: JSON in SI units, times in seconds.

use serde::Deserialize;

/// A bare network and what drives it.
#[derive(Clone, Debug, Deserialize, PartialEq)]
#[serde(deny_unknown_fields)]
pub struct BareNetwork {
    /// The room, °C.
    pub ambient_c: f64,
    /// How long it is followed, s.
    pub duration_s: f64,
    /// A row of the log every so often, s.
    pub log_every_s: f64,
    /// Nodes.
    pub nodes: Vec<Node>,
    /// Conductances.
    #[serde(default)]
    pub links: Vec<Link>,
    /// Radiation.
    #[serde(default)]
    pub radiation: Vec<Radiation>,
    /// Doorways to the room.
    #[serde(default)]
    pub doorways: Vec<DoorwayToRoom>,
    /// Heat put in.
    #[serde(default)]
    pub heaters: Vec<Heater>,
    /// First-order sensors.
    #[serde(default)]
    pub sensors: Vec<Sensor>,
}

/// A node.
#[derive(Clone, Debug, Deserialize, PartialEq)]
#[serde(deny_unknown_fields)]
pub struct Node {
    /// Its name; a column of the log.
    pub name: String,
    /// J/K.
    pub heat_capacity_j_per_k: f64,
    /// °C.
    pub initial_c: f64,
}

/// A conductance between two nodes, or a node and the room.
#[derive(Clone, Debug, Deserialize, PartialEq)]
#[serde(deny_unknown_fields)]
pub struct Link {
    /// A node.
    pub a: String,
    /// Another, or `ambient`.
    pub b: String,
    /// W/K.
    pub conductance_w_per_k: f64,
    /// On from then on, s; always, if absent.
    pub from_s: Option<f64>,
    /// Until then, s; for good, if absent.
    pub to_s: Option<f64>,
}

/// Radiation between two nodes, or a node and the room: σ·A·(Ta⁴ − Tb⁴).
#[derive(Clone, Debug, Deserialize, PartialEq)]
#[serde(deny_unknown_fields)]
pub struct Radiation {
    /// A node.
    pub a: String,
    /// Another, or `ambient`.
    pub b: String,
    /// m².
    pub exchange_area_m2: f64,
    /// On from then on, s; always, if absent.
    pub from_s: Option<f64>,
    /// Until then, s; for good, if absent.
    pub to_s: Option<f64>,
}

/// An open doorway between a node of air and the room.
#[derive(Clone, Debug, Deserialize, PartialEq)]
#[serde(deny_unknown_fields)]
pub struct DoorwayToRoom {
    /// The node of air.
    pub a: String,
    /// m.
    pub width_m: f64,
    /// m.
    pub height_m: f64,
    /// Discharge coefficient.
    pub discharge: f64,
    /// Of the air, J/(kg K).
    pub specific_heat_j_per_kg_k: f64,
    /// On from then on, s; always, if absent.
    pub from_s: Option<f64>,
    /// Until then, s; for good, if absent.
    pub to_s: Option<f64>,
}

/// Heat into a node.
#[derive(Clone, Debug, Deserialize, PartialEq)]
#[serde(deny_unknown_fields)]
pub struct Heater {
    /// The node.
    pub node: String,
    /// Steps of power; none before the first, the last holds.
    pub schedule: Vec<PowerStep>,
}

/// One step of a heater's power.
#[derive(Clone, Copy, Debug, Deserialize, PartialEq)]
#[serde(deny_unknown_fields)]
pub struct PowerStep {
    /// From then on, s.
    pub from_s: f64,
    /// W.
    pub power_w: f64,
}

/// A first-order sensor.
#[derive(Clone, Debug, Deserialize, PartialEq)]
#[serde(deny_unknown_fields)]
pub struct Sensor {
    /// Its name; a column of the log.
    pub name: String,
    /// The node it is in.
    pub node: String,
    /// Time constant, s; 0 shows what it sees.
    pub lag_s: f64,
    /// A node it also sees.
    pub second_node: Option<String>,
    /// Its share in what is seen, 0..=1; 0 if absent.
    pub second_share: Option<f64>,
    /// °C; what it sees at the start, if absent.
    pub initial_c: Option<f64>,
}
