//! An oven with its load as a network: what is where, and what doors, fans and loads switch.

use super::ZERO_CELSIUS_K;
use super::air::Air;
use super::derive::{Derived, Point, derive_in};
use super::doorway::Doorway;
use super::draw::Draw;
use super::network::{Builder, End, GroupId, Law, Linearised, NodeId, SensorId, SensorSpec};
use super::simulation::{Energy, Simulation};
use crate::files::load::Load;
use crate::files::oven::Oven;
use crate::rehearse::PartNow;

/// GUESS: film of a part on the bench, convection and radiation together, W/(m² K).
const BENCH_W_PER_M2_K: f64 = 10.0;
/// Air that passes a doorway is taken at this temperature for its specific heat, °C.
const DOORWAY_AIR_C: f64 = 80.0;

/// A hot oven is started with its insulation as a long soak leaves it.
pub const SOAKED: f64 = 1.0;
/// Share of the liner's rise that a long soak leaves at the skin less: GUESS, a tenth stays.
const FALL_TO_SKIN: f64 = 0.9;

/// What the sensors are at, °C.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shown {
    /// Air sensor.
    pub air_c: f64,
    /// Second air sensor.
    pub air_b_c: Option<f64>,
    /// Part probe.
    pub part_probe_c: Option<f64>,
}

/// A body that can be inside or on the bench.
#[derive(Clone, Debug)]
struct Body {
    groups: BodyGroups,
    starts_at_c: f64,
    inside: bool,
    /// Black area it radiates with, m²: bare, cured.
    black_m2: [f64; 2],
}

/// Groups of one body's links.
#[derive(Clone, Copy, Debug)]
struct BodyGroups {
    blown: GroupId,
    still: GroupId,
    bare: GroupId,
    cured: GroupId,
    bare_to_room: GroupId,
    cured_to_room: GroupId,
    seen: GroupId,
    bench: GroupId,
}

/// A part's cells.
#[derive(Clone, Debug)]
struct Cells {
    slow: Vec<NodeId>,
    fast: Vec<NodeId>,
}

/// An oven with its load.
#[derive(Clone, Debug)]
pub struct Plant {
    simulation: Simulation,
    /// Where the air stands in a look at the nodes, and every part's cells.
    air_place: usize,
    places: Vec<Cells>,
    air_sensor: SensorId,
    air_b_sensor: Option<SensorId>,
    probe_sensor: Option<SensorId>,
    parts: Vec<Cells>,
    bodies: Vec<Body>,
    rack: Option<Vec<NodeId>>,
    liner_blown: GroupId,
    liner_still: GroupId,
    doorway: GroupId,
    aperture: GroupId,
    doorway_m2: f64,
    /// See [`Draw::doorway_view`].
    doorway_view: f64,
    /// Share of its width the door is open to.
    open: f64,
    has_fan: bool,
    fan_runs: bool,
    cured: bool,
}

impl Plant {
    /// The plant of a draw, empty, everything in it at `starts_at_c`.
    ///
    /// # Panics
    /// Never: an oven's graph has at most a few hundred links.
    #[must_use]
    pub fn new(oven: &Oven, load: &Load, draw: &Draw, starts_at_c: f64) -> Self {
        Self::warmed(oven, load, draw, starts_at_c, SOAKED)
    }

    /// The same where a hot oven's insulation is warm to another share of what a long soak leaves:
    /// nothing at 0, all of it at 1.
    ///
    /// # Panics
    /// Never: an oven's graph has at most a few hundred links.
    #[must_use]
    pub fn warmed(oven: &Oven, load: &Load, draw: &Draw, starts_at_c: f64, soaked: f64) -> Self {
        let derived = derive_in(oven, load, draw.sections);
        Assembly::new(oven, &derived, draw, starts_at_c, soaked).finish(load)
    }

    /// Takes over the moment of another oven of the same make, with a load of the same parts: every
    /// temperature, and what is inside, open and running.
    pub fn take_over(&mut self, other: &Self) {
        for (mine, theirs) in self.bodies.iter_mut().zip(&other.bodies) {
            mine.inside = theirs.inside;
        }
        (self.fan_runs, self.cured, self.open) = (other.fan_runs, other.cured, other.open);
        self.simulation.take_over(&other.simulation);
        // What the parts see of the room is this one's own.
        self.switch_bodies();
    }

    /// Heater power from now on, W.
    pub fn set_power(&mut self, watts: f64) {
        self.simulation.set_power(watts);
    }

    /// The door opens to a share of its width.
    pub fn open_door(&mut self, share: f64) {
        self.open = share;
        self.switch_bodies();
    }

    /// The door closes.
    pub fn close_door(&mut self) {
        self.open_door(0.0);
    }

    /// The parts marked and the rack go in, at the temperature they come with; `cured` says they
    /// carry their coating. What was inside already stays as hot as it is.
    pub fn load_in(&mut self, inside: &[bool], cured: bool) {
        self.cured = cured;
        let marks: Vec<bool> = inside.iter().copied().chain([true]).collect();
        for (index, goes_in) in marks.into_iter().enumerate() {
            let Some(body) = self.bodies.get_mut(index) else { continue };
            let comes = goes_in && !body.inside;
            body.inside = goes_in;
            let starts_at_c = body.starts_at_c;
            if comes {
                for node in self.nodes_of(index) {
                    self.simulation.set_temperature(node, starts_at_c);
                }
            }
        }
        self.switch_bodies();
    }

    /// Parts and rack go out onto the bench.
    pub fn take_out(&mut self) {
        for body in &mut self.bodies {
            body.inside = false;
        }
        self.switch_bodies();
    }

    /// The circulation fan turns or stands.
    pub fn run_fan(&mut self, runs: bool) {
        if self.has_fan && runs != self.fan_runs {
            self.fan_runs = runs;
            self.switch_bodies();
        }
    }

    /// See [`Simulation::attempt`].
    pub fn attempt(&mut self, ticks_max: u32) -> u32 {
        self.simulation.attempt(ticks_max)
    }

    /// See [`Simulation::take`].
    pub fn take(&mut self, ticks: u32) {
        self.simulation.take(ticks);
    }

    /// Sensors at a tick of the tried step.
    #[inline]
    #[must_use]
    pub fn shown_at(&self, tick: u32) -> Shown {
        let at = |sensor: SensorId| self.simulation.sensor_at(sensor, tick);
        Shown {
            air_c: at(self.air_sensor),
            air_b_c: self.air_b_sensor.map(at),
            part_probe_c: self.probe_sensor.map(at),
        }
    }

    /// True air at the sensor and every part at a tick of the tried step.
    pub fn look_at(&self, tick: u32, parts: &mut Vec<PartNow>) -> f64 {
        let look = self.simulation.look(tick);
        parts.clear();
        parts.extend(self.places.iter().zip(&self.bodies).map(|(cells, body)| {
            let [slow, both] = look.ends(&cells.slow, &cells.fast);
            PartNow {
                inside: body.inside,
                slowest_c: slow.coldest_c(),
                coldest_c: both.coldest_c(),
                hottest_c: both.hottest_c(),
            }
        }));
        look.at(self.air_place)
    }

    /// How its air sensor answers its heater near the present state.
    #[must_use]
    pub fn linearised(&self) -> Linearised {
        self.simulation.linearised(self.air_sensor)
    }

    /// Nodes of its network.
    #[must_use]
    pub fn nodes(&self) -> usize {
        self.simulation.nodes()
    }

    /// See [`Simulation::is_astray`].
    #[must_use]
    pub fn is_astray(&self) -> bool {
        self.simulation.is_astray()
    }

    /// Heat since the start.
    #[must_use]
    pub fn energy(&self) -> Energy {
        self.simulation.energy()
    }

    fn nodes_of(&self, body: usize) -> Vec<NodeId> {
        match self.parts.get(body) {
            Some(cells) => cells.slow.iter().chain(&cells.fast).copied().collect(),
            None => self.rack.clone().unwrap_or_default(),
        }
    }

    fn switch_bodies(&mut self) {
        let on = |yes: bool| f64::from(u8::from(yes));
        let (runs, cured) = (self.fan_runs, self.cured);
        self.simulation.set_scale(self.liner_blown, on(runs));
        self.simulation.set_scale(self.liner_still, on(!runs));
        let to_room = (self.doorway_view * self.open).min(1.0);
        for body in &self.bodies {
            let (groups, inside) = (body.groups, body.inside);
            let (bare, cured) = (on(inside && !cured), on(inside && cured));
            for (group, scale) in [
                (groups.blown, on(inside && runs)),
                (groups.still, on(inside && !runs)),
                (groups.bare, bare * (1.0 - to_room)),
                (groups.cured, cured * (1.0 - to_room)),
                (groups.bare_to_room, bare * to_room),
                (groups.cured_to_room, cured * to_room),
                (groups.seen, on(inside)),
                (groups.bench, on(!inside)),
            ] {
                self.simulation.set_scale(group, scale);
            }
        }
        self.switch_doorway(to_room);
    }

    /// What the parts send out of the doorway the liner behind them does not.
    fn switch_doorway(&mut self, to_room: f64) {
        let inside = self.bodies.iter().filter(|body| body.inside);
        let parts_m2: f64 = inside.map(|body| body.black_m2[usize::from(self.cured)]).sum();
        let liner_m2 = self.open * self.doorway_m2 - to_room * parts_m2;
        self.simulation.set_scale(self.doorway, self.open);
        self.simulation.set_scale(self.aperture, liner_m2.max(0.0));
    }
}

/// A network in the making.
struct Assembly<'a> {
    builder: Builder,
    oven: &'a Oven,
    derived: &'a Derived,
    draw: &'a Draw,
    starts_at_c: f64,
    soaked: f64,
    element: NodeId,
    air: NodeId,
    liner: NodeId,
    liner_blown: GroupId,
    liner_still: GroupId,
    doorway: GroupId,
    aperture: GroupId,
    always: GroupId,
}

impl<'a> Assembly<'a> {
    fn new(
        oven: &'a Oven,
        derived: &'a Derived,
        draw: &'a Draw,
        starts_at_c: f64,
        soaked: f64,
    ) -> Self {
        let mut builder = Builder::default();
        let always = builder.group(1.0);
        let has_fan = derived.air.stopped_fan < 1.0;
        let liner_blown = builder.group(f64::from(u8::from(has_fan)));
        let liner_still = builder.group(f64::from(u8::from(!has_fan)));
        let (doorway, aperture) = (builder.group(0.0), builder.group(0.0));
        let element = builder.node(derived.element.capacity_j_per_k, starts_at_c);
        let air = builder.node(derived.air.capacity_j_per_k, starts_at_c);
        let capacity = draw.wall_heat_capacity;
        let liner = builder.node(derived.cabinet.liner_j_per_k * capacity, starts_at_c);
        let mut assembly = Self {
            builder,
            oven,
            derived,
            draw,
            starts_at_c,
            soaked,
            element,
            air,
            liner,
            liner_blown,
            liner_still,
            doorway,
            aperture,
            always,
        };
        assembly.shell();
        assembly.heater();
        assembly.door();
        assembly
    }

    /// Air to liner, and from there through insulation and skin to the room; leaks.
    fn shell(&mut self) {
        let (cabinet, draw) = (&self.derived.cabinet, self.draw);
        for (group, film) in
            [(self.liner_blown, cabinet.liner_film), (self.liner_still, cabinet.liner_film.still())]
        {
            let stirred = self.oven.calibration.liner_exchange;
            let area_m2 = cabinet.liner_m2 * draw.part_exchange * stirred;
            let law = Law::Film { film, area_m2, spot_k: 0.0 };
            self.builder.link(self.air, End::Node(self.liner), law, group);
        }
        let cells = cabinet.insulation_w_per_k.len() - 1;
        let rise_k = self.starts_at_c - self.oven.ambient_c;
        let mut inner = self.liner;
        for (index, conductance) in cabinet.insulation_w_per_k.iter().enumerate() {
            let (capacity, depth) = if index < cells {
                (cabinet.insulation_j_per_k, (index as f64 + 0.5) / cells as f64)
            } else {
                (cabinet.skin_j_per_k, 1.0)
            };
            let share = self.soaked * (1.0 - FALL_TO_SKIN * depth);
            let initial_c = self.oven.ambient_c + rise_k * share;
            let outer = self.builder.node(capacity * draw.wall_heat_capacity, initial_c);
            let law = Law::Conductance(conductance * draw.losses);
            self.builder.link(inner, End::Node(outer), law, self.always);
            inner = outer;
        }
        let skin = Law::Conductance(cabinet.skin_w_per_k);
        self.builder.link(inner, End::Room, skin, self.always);
        let leak = Law::Conductance(self.derived.air.leak_w_per_k * draw.losses);
        self.builder.link(self.air, End::Room, leak, self.always);
    }

    fn heater(&mut self) {
        let (element, share) = (&self.derived.element, self.draw.radiant_share);
        let convection = Law::Conductance((1.0 - share) * element.convection_w_per_k);
        self.builder.link(self.element, End::Node(self.air), convection, self.always);
        let radiation = Law::Radiation(share * element.radiation_m2);
        self.builder.link(self.element, End::Node(self.liner), radiation, self.always);
    }

    fn door(&mut self) {
        let door = &self.oven.door;
        let doorway = Doorway {
            width_m: door.width_m,
            height_m: door.height_m,
            discharge: door.discharge,
            specific_heat_j_per_kg_k: Air::at(DOORWAY_AIR_C + ZERO_CELSIUS_K)
                .specific_heat_j_per_kg_k,
        };
        self.builder.link(self.air, End::Room, Law::Doorway(doorway), self.doorway);
        self.builder.link(self.liner, End::Room, Law::Radiation(1.0), self.aperture);
    }

    fn body_groups(&mut self) -> BodyGroups {
        let mut group = |scale| self.builder.group(scale);
        BodyGroups {
            blown: group(0.0),
            still: group(0.0),
            bare: group(0.0),
            cured: group(0.0),
            bare_to_room: group(0.0),
            cured_to_room: group(0.0),
            seen: group(0.0),
            bench: group(1.0),
        }
    }

    /// A point's cells, its links inside and its link to the bench.
    fn point(&mut self, point: &Point, spot_k: f64, groups: BodyGroups, at_c: f64) -> Vec<NodeId> {
        let exchange = self.draw.part_exchange;
        let nodes: Vec<NodeId> = point
            .cells
            .iter()
            .map(|cell| self.builder.node(cell.share * point.capacity_j_per_k, at_c))
            .collect();
        for (pair, cell) in nodes.windows(2).zip(&point.cells) {
            let law = Law::Conductance(cell.inward_w_per_k);
            self.builder.link(pair[0], End::Node(pair[1]), law, self.always);
        }
        let surface = nodes[0];
        for (group, film) in [(groups.blown, point.film), (groups.still, point.film.still())] {
            let law = Law::Film { film, area_m2: point.area_m2 * exchange, spot_k };
            self.builder.link(self.air, End::Node(surface), law, group);
        }
        let [bare_m2, cured_m2] = self.black_m2(point);
        for (group, to_room, black_m2) in [
            (groups.bare, groups.bare_to_room, bare_m2),
            (groups.cured, groups.cured_to_room, cured_m2),
        ] {
            let law = Law::Radiation(black_m2);
            self.builder.link(self.liner, End::Node(surface), law, group);
            self.builder.link(surface, End::Room, law, to_room);
        }
        if point.element_m2 > 0.0 {
            let law = Law::Radiation(point.element_m2 * exchange);
            self.builder.link(self.element, End::Node(surface), law, groups.seen);
        }
        let bench = Law::Conductance(BENCH_W_PER_M2_K * point.area_m2);
        self.builder.link(surface, End::Room, bench, groups.bench);
        nodes
    }

    /// Black area a point radiates with, m²: bare, cured.
    fn black_m2(&self, point: &Point) -> [f64; 2] {
        let exchanged_m2 = point.area_m2 * self.draw.part_exchange;
        [point.emissivity, point.emissivity_cure].map(|emissivity| emissivity * exchanged_m2)
    }

    fn finish(mut self, load: &Load) -> Plant {
        let derived = self.derived;
        let (mut parts, mut bodies) = (Vec::<Cells>::new(), Vec::<Body>::new());
        for points in &derived.parts {
            let groups = self.body_groups();
            let at_c = points.starts_at_c;
            let slow = self.point(&points.slow, -self.draw.cold_spot_k, groups, at_c);
            let fast = self.point(&points.fast, self.draw.hot_spot_k, groups, at_c);
            parts.push(Cells { slow, fast });
            let (slow_m2, fast_m2) = (self.black_m2(&points.slow), self.black_m2(&points.fast));
            let black_m2 = [slow_m2[0] + fast_m2[0], slow_m2[1] + fast_m2[1]];
            bodies.push(Body { groups, starts_at_c: at_c, inside: false, black_m2 });
        }
        let rack = derived.rack.as_ref().map(|point| {
            let groups = self.body_groups();
            let at_c = load.rack.as_ref().map_or(self.oven.ambient_c, |rack| rack.starts_at_c);
            let black_m2 = self.black_m2(point);
            bodies.push(Body { groups, starts_at_c: at_c, inside: false, black_m2 });
            self.point(point, 0.0, groups, at_c)
        });
        let (first, drawn) = (self.oven.sensor, self.draw.wall_view);
        let air_sensor = self.air_sensor(&first, drawn);
        let air_b_sensor = self.oven.sensor_b.map(|second| {
            // Both hang in one oven: what the first sees more of the wall than told, so does the
            // second.
            let wall_view = (second.wall_view + drawn - first.wall_view).clamp(0.0, 0.95);
            self.air_sensor(&second, wall_view)
        });
        let probed = load.parts.iter().position(|part| part.probe);
        let probe_sensor = probed.map(|index| {
            self.builder.sensor(SensorSpec {
                node: parts[index].slow[0],
                second: parts[index].slow[0],
                share: 0.0,
                lag_s: self.oven.probe.lag_s * self.draw.probe_lag,
                // It has sat on its part since before the bake.
                initial_c: bodies[index].starts_at_c,
            })
        });
        let has_fan = derived.air.stopped_fan < 1.0;
        let built = self.builder.build(self.oven.ambient_c);
        let (network, state) = built.expect("an oven's graph is sparse");
        let simulation = Simulation::new(network, state, self.element);
        let placed = |nodes: &[NodeId]| nodes.iter().map(|node| simulation.place(*node)).collect();
        let places = parts
            .iter()
            .map(|cells| Cells { slow: placed(&cells.slow), fast: placed(&cells.fast) })
            .collect();
        let mut plant = Plant {
            air_place: simulation.place(self.air),
            places,
            simulation,
            air_sensor,
            air_b_sensor,
            probe_sensor,
            parts,
            bodies,
            rack,
            liner_blown: self.liner_blown,
            liner_still: self.liner_still,
            doorway: self.doorway,
            aperture: self.aperture,
            doorway_m2: derived.cabinet.doorway_m2,
            doorway_view: self.draw.doorway_view,
            open: 0.0,
            has_fan,
            fan_runs: has_fan,
            cured: false,
        };
        plant.switch_bodies();
        plant
    }

    fn air_sensor(&mut self, sensor: &crate::files::oven::Sensor, wall_view: f64) -> SensorId {
        self.builder.sensor(SensorSpec {
            node: self.air,
            second: self.liner,
            share: wall_view,
            lag_s: sensor.lag_s * self.draw.sensor_lag,
            initial_c: self.starts_at_c,
        })
    }
}
