//! Small ovens that an oracle heats, and the tables that linear programming gives of them.

use truesoak::plant::network::{Builder, End, Law, NodeId, SensorId, SensorSpec};
use truesoak::plant::simulation::Simulation;
use truesoak::rehearse::oracle::heat::{Body, Seen};

pub const TICKS: u32 = 10;
/// Past a limit at most, K.
pub const PAST_K: f64 = 0.1;
const ROOM_C: f64 = 20.0;

/// Names and numbers of a table.
pub fn rows(table: &str) -> impl Iterator<Item = (String, Vec<f64>)> {
    let rows = table.lines().filter(|line| !line.starts_with('#')).skip(1);
    rows.map(|row| {
        let mut cells = row.split(',');
        let name = cells.next().expect("a name").to_owned();
        (name, cells.map(|cell| cell.parse().expect("a number")).collect())
    })
}

/// An air, parts in it, and a sensor that lags.
#[derive(Clone)]
pub struct Oven {
    simulation: Simulation,
    air: NodeId,
    parts: Vec<NodeId>,
    sensor: SensorId,
    power_w: f64,
}

impl Oven {
    /// Everything at 20 °C: capacity of the air, J/K; of every part, with its conductance to the air,
    /// W/K; losses, W/K; power, W; the sensor's lag, s.
    pub fn new(air: f64, parts: &[(f64, f64)], loss: f64, power_w: f64, lag_s: f64) -> Self {
        let mut builder = Builder::default();
        let always = builder.group(1.0);
        let air = builder.node(air, ROOM_C);
        let mut part = |(capacity, tie): &(f64, f64)| {
            let part = builder.node(*capacity, ROOM_C);
            builder.link(air, End::Node(part), Law::Conductance(*tie), always);
            part
        };
        let parts = parts.iter().map(&mut part).collect();
        builder.link(air, End::Room, Law::Conductance(loss), always);
        let spec = SensorSpec { node: air, second: air, share: 0.0, lag_s, initial_c: ROOM_C };
        let sensor = builder.sensor(spec);
        let (network, state) = builder.build(ROOM_C).expect("a few nodes");
        Self { simulation: Simulation::new(network, state, air), air, parts, sensor, power_w }
    }
}

impl Body for Oven {
    fn heat(&mut self, share: f64) {
        self.simulation.set_power(share * self.power_w);
    }

    fn attempt(&mut self, ticks_max: u32) -> u32 {
        self.simulation.attempt(ticks_max)
    }

    fn reading_at(&self, tick: u32) -> f64 {
        self.simulation.sensor_at(self.sensor, tick)
    }

    fn take(&mut self, ticks: u32) {
        self.simulation.take(ticks);
    }

    fn seen_at(&mut self, tick: u32) -> Seen {
        let look = self.simulation.look(tick);
        let air_c = look.node(self.air);
        let parts_c: Vec<f64> = self.parts.iter().map(|part| look.node(*part)).collect();
        Seen {
            reading_c: self.reading_at(tick),
            air_c,
            coldest_c: parts_c.iter().copied().fold(f64::INFINITY, f64::min),
            hottest_c: parts_c.iter().copied().fold(f64::NEG_INFINITY, f64::max),
            pull_c: air_c,
            draw_c: air_c,
        }
    }
}
