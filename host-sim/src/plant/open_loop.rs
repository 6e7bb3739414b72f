//! A network integrated open loop, in seconds, from cut to cut.
//!
//! Between two cuts nothing changes but temperatures. Every cut ends a step exactly, so a window or
//! a heater's step is never stepped over; rows between are read off the steps' own extension. The
//! step is the smallest of what the error estimate allows and what is left to the cut.

use super::ZERO_CELSIUS_K;
use super::network::{Network, State};
use super::simulation::Energy;
use super::step::{Stepper, Weights, growth};

/// Greatest error estimate of a step, K.
const TOLERANCE_K: f64 = 5e-4;
/// First step after a cut, s.
const FIRST_S: f64 = 0.1;
/// Longest step, s.
const LONGEST_S: f64 = 300.0;
/// Share of a row's distance that rounding may put it off by.
const ROUNDING: f64 = 1e-9;
/// A step that must be shorter than this is not a step, s.
const SHORTEST_S: f64 = 1e-9;

/// What holds between two cuts.
#[derive(Clone, Debug, PartialEq)]
pub struct Stretch {
    /// Its end, s from the start of all.
    pub to_s: f64,
    /// Scale of every group.
    pub scales: Vec<f64>,
    /// Heat into every node, W, in the order they were added.
    pub sources_w: Vec<f64>,
}

/// One row of a log.
#[derive(Clone, Copy, Debug)]
pub struct Row<'a> {
    /// s from the start.
    pub t_s: f64,
    /// Nodes in the order they were added, °C.
    pub nodes_c: &'a [f64],
    /// Sensors in the order they were added, °C.
    pub sensors_c: &'a [f64],
}

/// The network cannot be followed on: no step, however short, meets the tolerance.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("no step from {at_s} s on is short enough for its own error")]
pub struct Stuck {
    /// Where, s.
    pub at_s: f64,
}

/// A network under way.
#[derive(Clone, Debug)]
pub struct OpenLoop {
    network: Network,
    state: State,
    stepper: Stepper,
    sources_w: Vec<f64>,
    now_s: f64,
    put_in_j: f64,
    begun_j: f64,
    steps: usize,
    next_row: u64,
    log_every_s: f64,
    nodes_c: Vec<f64>,
    sensors_c: Vec<f64>,
}

impl OpenLoop {
    /// At time zero; a row is due every `log_every_s`, the first at once.
    #[must_use]
    pub fn new(network: Network, state: State, log_every_s: f64) -> Self {
        let stepper = Stepper::new(&network);
        let (nodes, sensors) = (network.count(), state.shown.len());
        let mut course = Self {
            stepper,
            sources_w: vec![0.0; nodes],
            now_s: 0.0,
            put_in_j: 0.0,
            begun_j: 0.0,
            steps: 0,
            next_row: 0,
            log_every_s,
            nodes_c: vec![0.0; nodes],
            sensors_c: vec![0.0; sensors],
            network,
            state,
        };
        course.begun_j = course.network.stored_j(&course.state);
        course
    }

    /// On to the end of a stretch; every row due on the way is handed over.
    ///
    /// # Errors
    /// A network that cannot be followed, or whatever the taker of a row says.
    pub fn advance<E: From<Stuck>>(
        &mut self,
        stretch: &Stretch,
        mut take: impl FnMut(Row<'_>) -> Result<(), E>,
    ) -> Result<(), E> {
        self.network.set_scales(&stretch.scales);
        for (node, watts) in stretch.sources_w.iter().enumerate() {
            self.sources_w[self.network.place(node)] = *watts;
        }
        if self.next_row == 0 {
            self.rows(0.0, &mut take)?;
        }
        let mut wanted_s = FIRST_S;
        while self.now_s < stretch.to_s {
            let left_s = stretch.to_s - self.now_s;
            // The rest before the cut is not left as a sliver.
            let h = if wanted_s >= left_s {
                left_s
            } else if 2.0 * wanted_s > left_s {
                0.5 * left_s
            } else {
                wanted_s
            };
            let error = self.stepper.attempt(&self.network, &self.state, &self.sources_w, h);
            let suits_s = h * growth(error, TOLERANCE_K);
            if error > TOLERANCE_K {
                wanted_s = suits_s;
                if wanted_s < SHORTEST_S {
                    return Err(Stuck { at_s: self.now_s }.into());
                }
                continue;
            }
            // A step cut short by its end says nothing against a longer one.
            wanted_s = if h < wanted_s { wanted_s.max(suits_s) } else { suits_s };
            wanted_s = wanted_s.min(LONGEST_S);
            self.rows(h, &mut take)?;
            self.stepper.take(&mut self.state, &Weights::at(1.0));
            self.put_in_j += h * self.sources_w.iter().sum::<f64>();
            self.steps += 1;
            self.now_s = if h < left_s { self.now_s + h } else { stretch.to_s };
        }
        Ok(())
    }

    /// Rows due up to `h` seconds into the tried step.
    fn rows<E>(
        &mut self,
        h: f64,
        take: &mut impl FnMut(Row<'_>) -> Result<(), E>,
    ) -> Result<(), E> {
        loop {
            // Computed from the row's number, never added up; its rounding must not lose the last.
            let t_s = self.next_row as f64 * self.log_every_s;
            if t_s > self.now_s + h + ROUNDING * self.log_every_s {
                return Ok(());
            }
            let theta = if h > 0.0 { ((t_s - self.now_s) / h).clamp(0.0, 1.0) } else { 0.0 };
            self.read(&Weights::at(theta));
            take(Row { t_s, nodes_c: &self.nodes_c, sensors_c: &self.sensors_c })?;
            self.next_row += 1;
        }
    }

    fn read(&mut self, weights: &Weights) {
        let kelvins = self.stepper.nodes(&self.state, weights);
        for (node, celsius) in self.nodes_c.iter_mut().enumerate() {
            *celsius = kelvins[self.network.place(node)] - ZERO_CELSIUS_K;
        }
        for (index, celsius) in self.sensors_c.iter_mut().enumerate() {
            *celsius = self.stepper.sensor(&self.state, weights, index) - ZERO_CELSIUS_K;
        }
    }

    /// Heat since the start; what was put in is stored or lost.
    #[must_use]
    pub fn energy(&self) -> Energy {
        Energy {
            put_in_j: self.put_in_j,
            lost_j: self.state.lost_j,
            stored_j: self.network.stored_j(&self.state) - self.begun_j,
        }
    }

    /// Steps taken.
    #[must_use]
    pub fn steps(&self) -> usize {
        self.steps
    }

    /// Nodes now, in the order they were added, °C.
    #[must_use]
    pub fn ends_c(&self) -> Vec<f64> {
        let node = |node| self.state.kelvins[self.network.place(node)] - ZERO_CELSIUS_K;
        (0..self.network.count()).map(node).collect()
    }
}
