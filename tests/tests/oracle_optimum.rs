//! The oracle's heat against an independent optimiser, from below and above.
//!
//! Five ovens of two nodes: `tests/snapshots/oracle-cases.py` finds by linear programming (SciPy) the
//! least seconds in which the part can be where it must and stay there, under the limits; a second
//! less is infeasible, and the heat of the least was put through another integration. The oracle
//! chooses its heat by trying it on a plant's simulation, and comes to the same second.

use truesoak::plant::network::{Builder, End, Law, NodeId, SensorId, SensorSpec};
use truesoak::plant::simulation::Simulation;
use truesoak::rehearse::oracle::heat::{Body, Ceiling, Chooser, Limits, Seen};

const ROOM_C: f64 = 20.0;
const TICKS: u32 = 10;
/// The table is found to a second.
const FOUND_S: f64 = 1.0;
/// Past a limit at most, K.
const PAST_K: f64 = 0.1;

/// One row of the table.
struct Row {
    name: String,
    numbers: Vec<f64>,
}

impl Row {
    fn all() -> Vec<Self> {
        let table = include_str!("../snapshots/oracle-cases.csv");
        let rows = table.lines().filter(|line| !line.starts_with('#')).skip(1);
        rows.map(|row| {
            let mut cells = row.split(',');
            let name = cells.next().expect("a name").to_owned();
            let numbers = cells.map(|cell| cell.parse().expect("a number")).collect();
            Self { name, numbers }
        })
        .collect()
    }

    fn reading_c(&self) -> f64 {
        self.numbers[6]
    }

    fn part_c(&self) -> f64 {
        self.numbers[7]
    }

    fn at_least_c(&self) -> f64 {
        self.numbers[8]
    }

    fn least_s(&self) -> f64 {
        self.numbers[9]
    }
}

#[derive(Clone)]
struct Oven {
    simulation: Simulation,
    air: NodeId,
    part: NodeId,
    sensor: SensorId,
    power_w: f64,
}

impl Oven {
    fn of(row: &Row) -> Self {
        let [air, part, tie, loss, power_w, lag_s, ..] = row.numbers[..] else {
            panic!("{}", row.name)
        };
        let mut builder = Builder::default();
        let always = builder.group(1.0);
        let air = builder.node(air, ROOM_C);
        let part = builder.node(part, ROOM_C);
        builder.link(air, End::Node(part), Law::Conductance(tie), always);
        builder.link(air, End::Room, Law::Conductance(loss), always);
        let spec = SensorSpec { node: air, second: air, share: 0.0, lag_s, initial_c: ROOM_C };
        let sensor = builder.sensor(spec);
        let (network, state) = builder.build(ROOM_C).expect("two nodes");
        Self { simulation: Simulation::new(network, state, air), air, part, sensor, power_w }
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
        let (air_c, part_c) = (look.node(self.air), look.node(self.part));
        Seen {
            reading_c: self.reading_at(tick),
            air_c,
            coldest_c: part_c,
            hottest_c: part_c,
            pull_c: air_c,
            draw_c: air_c,
        }
    }
}

/// When the part is where it must be, s, and how far anything went past its limit, K.
fn oracle(row: &Row) -> (f64, f64) {
    let mut oven = Oven::of(row);
    let limits = Limits {
        reading: Ceiling::flat(row.reading_c()),
        air_c: f64::INFINITY,
        part_c: row.part_c(),
    };
    let mut chooser = Chooser::default();
    let (mut now, mut past_k) = (0, f64::NEG_INFINITY);
    while now < 10_000 * TICKS {
        let stretch = chooser.most(&oven, &limits, u32::MAX);
        oven.heat(stretch.share);
        let until = now + stretch.ticks;
        while now < until {
            let length = oven.attempt(until - now);
            for tick in 1..=length {
                let seen = oven.seen_at(tick);
                past_k = past_k.max(seen.reading_c - row.reading_c());
                past_k = past_k.max(seen.hottest_c - row.part_c());
                if seen.coldest_c >= row.at_least_c() {
                    return (f64::from(now + tick) / f64::from(TICKS), past_k);
                }
            }
            oven.take(length);
            now += length;
        }
    }
    panic!("{}: never", row.name)
}

#[test]
fn it_is_as_soon_as_linear_programming_finds_possible_and_no_sooner() {
    let rows = Row::all();
    assert_eq!(rows.len(), 5);
    for row in &rows {
        let (took_s, past_k) = oracle(row);
        let least_s = row.least_s();
        println!("{:16}{took_s:>8.1}{least_s:>8}{past_k:>9.4} K", row.name);
        let off_s = took_s - least_s;
        assert!(off_s.abs() <= FOUND_S, "{}: {took_s} s of {least_s}", row.name);
        assert!(past_k <= PAST_K, "{}: {past_k} K past", row.name);
    }
}
