//! A network integrated from event to event under error control, on a grid of ticks.
//!
//! A step is tried, read tick by tick, and taken as far as nothing changes; what changes at a tick
//! cuts it there on the continuous extension, without repeating it. The first step that suited last
//! time after switching on, and after switching off, is remembered: half the steps follow a switch.
//! A network that becomes not-a-number within a 64th of a tick stays where it was, and one that
//! cannot be followed there is astray for good: whoever runs it ends and says so.

use super::ZERO_CELSIUS_K;
use super::network::{GroupId, Linearised, Network, NodeId, SensorId, State};
use super::step::{Stepper, Weights, growth};

/// Length of a tick, s.
pub const TICK_S: f64 = 0.1;
/// Greatest error estimate of a step, K.
const TOLERANCE_K: f64 = 3.5e-3;
/// A step is made longer by this factor or not at all.
const WORTH_IT: f64 = 1.3;
/// Longest step, ticks.
const LONGEST_TICKS: f64 = 600.0;
/// Most parts a tick is split into.
const PARTS_MAX: u32 = 64;
/// A step whose error estimate is greater than this is not followed any more, K: ten times what the
/// air may be off by at any logged instant.
const ASTRAY_K: f64 = 0.05;

/// Heat since the start, J.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Energy {
    /// Put in by the heater.
    pub put_in_j: f64,
    /// Lost to the room.
    pub lost_j: f64,
    /// In the nodes, from the start of the balance on.
    pub stored_j: f64,
}

/// How a tried step can be read.
#[derive(Clone, Debug)]
enum Tried {
    /// None was tried since the last was taken.
    None,
    /// So many ticks on the extension.
    Ticks(u32),
    /// One tick in several parts: its end.
    Parts(State),
}

/// A network, its state and its heater.
#[derive(Clone, Debug)]
pub struct Simulation {
    network: Network,
    state: State,
    stepper: Stepper,
    sources: Vec<f64>,
    heater: usize,
    power_w: f64,
    on_ticks_w: f64,
    /// Wanted next, ticks.
    step_ticks: f64,
    /// Suited first after switching off and on, ticks.
    remembered: [f64; 2],
    /// The power changed since the last step.
    switched: bool,
    /// A door, a load or a fan changed since the last step.
    fresh: bool,
    tried: Tried,
    /// Of every sensor over the tried step, by ticks; empty where none was tried.
    cubics: Vec<[f64; 4]>,
    begun_j: f64,
    /// Greatest error estimate taken for want of a better, K; infinite where there was no number.
    off_k: f64,
}

impl Simulation {
    /// A network with one heater.
    #[must_use]
    pub fn new(network: Network, state: State, heater: NodeId) -> Self {
        let stepper = Stepper::new(&network);
        let sources = vec![0.0; network.count()];
        let heater = network.place(heater);
        let mut simulation = Self {
            network,
            state,
            stepper,
            sources,
            heater,
            power_w: 0.0,
            on_ticks_w: 0.0,
            step_ticks: 1.0,
            remembered: [1.0; 2],
            switched: false,
            fresh: false,
            tried: Tried::None,
            cubics: Vec::new(),
            begun_j: 0.0,
            off_k: 0.0,
        };
        simulation.begun_j = simulation.network.stored_j(&simulation.state);
        simulation
    }

    /// The state of another network of the same make, and what is switched there.
    pub fn take_over(&mut self, other: &Self) {
        self.network.set_scales(other.network.scales());
        self.state.clone_from(&other.state);
        self.start_afresh();
    }

    /// How it answers its heater near the present state.
    #[must_use]
    pub fn linearised(&self, sensor: SensorId) -> Linearised {
        self.network.linearised(&self.state, self.heater, sensor)
    }

    /// Heater power from now on, W.
    pub fn set_power(&mut self, watts: f64) {
        if (watts - self.power_w).abs() > 0.0 {
            self.step_ticks = self.remembered[usize::from(watts > 0.0)];
            self.switched = true;
            self.power_w = watts;
            self.sources[self.heater] = watts;
            self.forget_tried();
        }
    }

    /// A group's scale from now on; 0 is off.
    pub fn set_scale(&mut self, group: GroupId, scale: f64) {
        if self.network.set_scale(group, scale) {
            self.start_afresh();
        }
    }

    /// A node's temperature now, °C. Heat that comes or goes with it leaves the balance.
    pub fn set_temperature(&mut self, node: NodeId, celsius: f64) {
        let place = self.network.place(node);
        let kelvin = celsius + ZERO_CELSIUS_K;
        let change = kelvin - self.state.kelvins[place];
        self.begun_j += self.network.fixed.capacities[place] * change;
        self.state.kelvins[place] = kelvin;
        self.start_afresh();
    }

    fn start_afresh(&mut self) {
        self.fresh = true;
        self.forget_tried();
    }

    /// What was tried is done with; what it was.
    fn forget_tried(&mut self) -> Tried {
        self.cubics.clear();
        core::mem::replace(&mut self.tried, Tried::None)
    }

    /// Tries a step of at most so many ticks; its length. [`Self::take`] has it or a part of it.
    pub fn attempt(&mut self, ticks_max: u32) -> u32 {
        if core::mem::take(&mut self.fresh) {
            self.step_ticks = 1.0;
            self.remembered = [1.0; 2];
        }
        loop {
            let ticks = whole_ticks(self.step_ticks, ticks_max.max(1));
            let h = f64::from(ticks) * TICK_S;
            let error = self.stepper.attempt(&self.network, &self.state, &self.sources, h);
            if error <= TOLERANCE_K {
                let wanted = longer(ticks, growth(error, TOLERANCE_K));
                // A step cut short by its end says nothing against a longer one.
                let was = self.step_ticks;
                self.step_ticks = if f64::from(ticks) < was { was.max(wanted) } else { wanted };
                self.step_ticks = self.step_ticks.min(LONGEST_TICKS);
                if core::mem::take(&mut self.switched) {
                    self.remembered[usize::from(self.power_w > 0.0)] = self.step_ticks;
                }
                self.tried = Tried::Ticks(ticks);
                self.read_sensors(ticks);
                return ticks;
            }
            self.step_ticks = f64::from(ticks) * growth(error, TOLERANCE_K);
            if ticks == 1 {
                self.step_ticks = 1.0;
                let end = self.tick_in_parts();
                self.cubics.clear();
                self.cubics.extend(end.shown.iter().map(|shown| [*shown, 0.0, 0.0, 0.0]));
                self.tried = Tried::Parts(end);
                return 1;
            }
        }
    }

    /// One tick in 2, 4, … parts until each meets the tolerance; the finest is kept if none does,
    /// unless it is not a number.
    fn tick_in_parts(&mut self) -> State {
        let mut parts = 2;
        loop {
            let h = TICK_S / f64::from(parts);
            let mut state = self.state.clone();
            let mut worst = 0.0_f64;
            for _ in 0..parts {
                worst = worst.max(self.stepper.attempt(&self.network, &state, &self.sources, h));
                self.stepper.take(&mut state, &Weights::at(1.0));
            }
            if worst <= TOLERANCE_K {
                return state;
            }
            if parts >= PARTS_MAX {
                self.off_k = self.off_k.max(worst);
                return if worst.is_finite() { state } else { self.state.clone() };
            }
            parts *= 2;
        }
    }

    fn read_sensors(&mut self, ticks: u32) {
        self.cubics.clear();
        let share = 1.0 / f64::from(ticks);
        for index in 0..self.state.shown.len() {
            let [c0, c1, c2, c3] = self.stepper.sensor_cubic(&self.state, index);
            let (c1, c2, c3) = (c1 * share, c2 * share * share, c3 * share * share * share);
            self.cubics.push([c0, c1, c2, c3]);
        }
    }

    /// A sensor at a tick of the tried step, °C; tick 0 is now.
    #[inline]
    #[must_use]
    pub fn sensor_at(&self, sensor: SensorId, tick: u32) -> f64 {
        let kelvin = match self.cubics.get(sensor) {
            Some([c0, c1, c2, c3]) if tick > 0 => {
                let at = f64::from(tick);
                c0 + at * (c1 + at * (c2 + at * c3))
            }
            _ => self.state.shown[sensor],
        };
        kelvin - ZERO_CELSIUS_K
    }

    /// Where a node's temperature stands in a [`Look`].
    #[must_use]
    pub(super) fn place(&self, node: NodeId) -> usize {
        self.network.place(node)
    }

    /// Reads nodes at a tick of the tried step.
    #[must_use]
    pub fn look(&self, tick: u32) -> Look<'_> {
        let now = &self.state.kelvins;
        match &self.tried {
            Tried::Ticks(ticks) if tick > 0 => {
                let theta = f64::from(tick) / f64::from(*ticks);
                let stages = self.stepper.stages();
                Look { network: &self.network, kelvins: now, stages, weights: Weights::at(theta) }
            }
            Tried::Parts(end) if tick > 0 => self.stand(&end.kelvins),
            _ => self.stand(now),
        }
    }

    /// Nodes that are not on their way anywhere.
    fn stand<'a>(&'a self, kelvins: &'a [f64]) -> Look<'a> {
        Look { network: &self.network, kelvins, stages: [kelvins; 4], weights: Weights::NONE }
    }

    /// Takes so many ticks of the tried step.
    pub fn take(&mut self, ticks: u32) {
        match self.forget_tried() {
            Tried::Ticks(tried) => {
                let theta = f64::from(ticks.min(tried)) / f64::from(tried);
                self.stepper.take(&mut self.state, &Weights::at(theta));
            }
            Tried::Parts(end) => self.state = end,
            Tried::None => return,
        }
        self.on_ticks_w += self.power_w * f64::from(ticks);
    }

    /// Some step could not be followed, however finely it was split: what comes after is not true.
    #[must_use]
    pub fn is_astray(&self) -> bool {
        self.off_k > ASTRAY_K
    }

    /// Heat since the start; what was put in is stored or lost.
    #[must_use]
    pub fn energy(&self) -> Energy {
        Energy {
            put_in_j: self.on_ticks_w * TICK_S,
            lost_j: self.state.lost_j,
            stored_j: self.network.stored_j(&self.state) - self.begun_j,
        }
    }

    /// Nodes of the network.
    #[must_use]
    pub fn nodes(&self) -> usize {
        self.network.count()
    }
}

/// Nodes at one instant; only those that are asked for are worked out.
#[derive(Clone, Debug)]
pub struct Look<'a> {
    network: &'a Network,
    kelvins: &'a [f64],
    stages: [&'a [f64]; 4],
    weights: Weights,
}

/// Coldest and hottest of some nodes, K.
#[derive(Clone, Copy, Debug)]
pub(super) struct Ends {
    coldest_k: f64,
    hottest_k: f64,
}

impl Ends {
    /// Of no node.
    const NONE: Self = Self { coldest_k: f64::INFINITY, hottest_k: f64::NEG_INFINITY };

    /// The coldest, °C.
    pub(super) fn coldest_c(self) -> f64 {
        self.coldest_k - ZERO_CELSIUS_K
    }

    /// The hottest, °C.
    pub(super) fn hottest_c(self) -> f64 {
        self.hottest_k - ZERO_CELSIUS_K
    }
}

impl Look<'_> {
    /// A node, °C.
    #[inline]
    #[must_use]
    pub fn node(&self, node: NodeId) -> f64 {
        self.at(self.network.place(node))
    }

    /// What stands at a place, °C.
    #[inline]
    #[must_use]
    pub(super) fn at(&self, place: usize) -> f64 {
        self.weights.moved(self.kelvins, &self.stages, place) - ZERO_CELSIUS_K
    }

    /// The ends of what stands at some places, and of that and of what stands at some more.
    #[must_use]
    pub(super) fn ends(&self, some: &[usize], more: &[usize]) -> [Ends; 2] {
        let [first, second, third, fourth] = self.stages;
        let count = first.len();
        // As long as each other: a place in one is a place in all of them.
        let kelvins = &self.kelvins[..count];
        let stages = [first, &second[..count], &third[..count], &fourth[..count]];
        let widened = |Ends { mut coldest_k, mut hottest_k }: Ends, places: &[usize]| {
            for place in places {
                let kelvin = self.weights.moved(kelvins, &stages, *place);
                coldest_k = if kelvin < coldest_k { kelvin } else { coldest_k };
                hottest_k = if kelvin > hottest_k { kelvin } else { hottest_k };
            }
            Ends { coldest_k, hottest_k }
        };
        let of_some = widened(Ends::NONE, some);
        [of_some, widened(of_some, more)]
    }
}

/// Ticks of the next step; a little longer is not worth another factorisation.
fn longer(ticks: u32, growth: f64) -> f64 {
    let growth = if (1.0..WORTH_IT).contains(&growth) { 1.0 } else { growth };
    f64::from(ticks) * growth
}

/// Whole ticks of a wanted step; the rest before the end is not left as a sliver.
fn whole_ticks(wanted: f64, left: u32) -> u32 {
    let ticks = (wanted as u32).clamp(1, left);
    if ticks < left && left < 2 * ticks { left.div_ceil(2) } else { ticks }
}
