//! One step of ROS34PW2 and its continuous extension.
//!
//! ROS34PW2 (Rang and Angermann 2005): linearly implicit, four stages, order 3, L-stable, and it
//! keeps its order with an inexact Jacobian. With W = C/(hγ) − ∂q/∂T:
//! ```text
//! W·U_i = q(T + Σ a_ij U_j) + C·Σ (c_ij/h) U_j        i = 1..4, one factorisation
//! T(t+h) = T + Σ m_i U_i          error = |Σ e_i U_i|
//! T(t+θh) = T + Σ b_i(θ) U_i      b_i(θ) = d1_i θ + d2_i θ² + d3_i θ³, order 3
//! ```
//! Sensors follow one way and are solved after the nodes of each stage. The heat lost to the room
//! is one more state with the same weights, so that what was put in, stored and lost add up to
//! rounding at every θ: that checks the bookkeeping, not the accuracy.

use super::network::{Network, State};
use core::ops::Deref;

/// γ of the method.
const GAMMA: f64 = 0.435_866_521_508_459;
/// Stage weights.
const A: [[f64; 3]; 4] = [
    [0.0, 0.0, 0.0],
    [2.000_000_000_000_000_4, 0.0, 0.0],
    [1.419_217_317_455_765_2, -0.259_232_211_672_969_8, 0.0],
    [4.184_760_482_319_161, -0.285_192_017_355_496, 2.294_280_360_279_042_3],
];
/// Couplings.
const COUPLINGS: [[f64; 3]; 4] = [
    [0.0, 0.0, 0.0],
    [-4.588_560_720_558_084, 0.0, 0.0],
    [-4.184_760_482_319_161, 0.285_192_017_355_496, 0.0],
    [-6.368_179_200_128_36, -6.795_620_944_466_837, 2.870_098_604_331_055_5],
];
/// Error weights.
const ERROR: [f64; 4] =
    [0.277_749_947_647_968_1, -1.403_239_895_175_999_5, 1.772_630_127_667_551, 0.5];
/// Extension, by powers of θ.
const EXTENSION: [[f64; 4]; 3] = [
    [0.832_659_023_154_387_2, -1.461_621_337_124_657_4, 0.0, -2.398_120_075_195_584],
    [4.520_784_200_520_359, -4.727_954_322_284_024, 9.752_939_685_168_185, 5.501_959_790_112_132],
    [
        -1.168_682_741_355_585_6,
        5.904_383_642_053_181,
        -7.458_659_324_889_15,
        -2.103_839_714_916_546,
    ],
];

/// Lengths of step that are kept factored.
const FACTORED: usize = 4;
/// Slopes are as good elsewhere while no node is further away than this, K: the method keeps its
/// order with any, and its error estimate sees what they miss.
const SLOPES_HOLD_K: f64 = 10.0;

/// Factor from a step with this error estimate to one that would just meet the tolerance, with
/// some room; never more than fivefold nor less than a tenth. Infinite errors are errors.
#[must_use]
pub fn growth(error_k: f64, tolerance_k: f64) -> f64 {
    (0.9 * libm::cbrt(tolerance_k / error_k.max(1e-12))).clamp(0.1, 5.0)
}

/// Work space and stages of the last step tried.
#[derive(Clone, Debug)]
pub struct Stepper {
    stages: [Vec<f64>; 4],
    sensor_stages: [Vec<f64>; 4],
    lost_stages: [f64; 4],
    /// Those factored last; steps after switching on and off differ in length.
    factored: [Factored; FACTORED],
    point: Vec<f64>,
    flows: Vec<f64>,
}

/// W of one length of step at one state, factored, and ∂q/∂T of the room.
#[derive(Clone, Debug)]
struct Factored {
    matrix: Vec<f64>,
    room_row: Vec<f64>,
    /// What of the room's row is not 0: few nodes touch the room.
    to_room: Vec<(usize, f64)>,
    kelvins: Vec<f64>,
    /// Length of the step, s; 0: none yet.
    h: f64,
    switches: u64,
}

impl Factored {
    fn new(network: &Network) -> Self {
        Self {
            matrix: vec![0.0; network.fixed.pattern.values()],
            room_row: vec![0.0; network.count()],
            to_room: Vec::new(),
            kelvins: vec![0.0; network.count() + 1],
            h: 0.0,
            switches: 0,
        }
    }

    /// Serves a step of `h` from `state` as well.
    fn serves(&self, network: &Network, state: &State, h: f64) -> bool {
        let moved = |(now, then): (&f64, &f64)| (now - then).abs() > SLOPES_HOLD_K;
        self.h.to_bits() == h.to_bits()
            && self.switches == network.switches()
            // Nearly always all of them are near: none is left out by the first that is not.
            && !state.kelvins.iter().zip(&self.kelvins).fold(false, |any, pair| any | moved(pair))
    }

    fn make(&mut self, network: &Network, state: &State, h: f64) {
        network.slopes(&state.kelvins, &mut self.matrix, &mut self.room_row);
        let row = self.room_row.iter().copied().enumerate();
        self.to_room.clear();
        self.to_room.extend(row.filter(|(_, slope)| slope.abs() > 0.0));
        let per_gamma = 1.0 / (h * GAMMA);
        for (diagonal, capacity) in self.matrix.iter_mut().zip(&network.fixed.capacities) {
            *diagonal += capacity * per_gamma;
        }
        network.fixed.pattern.factor(&mut self.matrix);
        self.kelvins.copy_from_slice(&state.kelvins);
        self.h = h;
        self.switches = network.switches();
    }
}

/// Weights of the stages at one θ.
#[derive(Clone, Copy, Debug)]
pub struct Weights([f64; 4]);

impl Weights {
    /// Where the step began.
    pub(super) const NONE: Self = Self([0.0; 4]);

    /// At a share θ of the step, 0..=1.
    #[inline]
    #[must_use]
    pub fn at(theta: f64) -> Self {
        let mut weights = [0.0; 4];
        for (i, weight) in weights.iter_mut().enumerate() {
            *weight =
                theta * (EXTENSION[0][i] + theta * (EXTENSION[1][i] + theta * EXTENSION[2][i]));
        }
        Self(weights)
    }

    /// What was at a place before the step has moved to, K.
    #[inline]
    pub(super) fn moved(&self, kelvins: &[f64], stages: &[&[f64]; 4], place: usize) -> f64 {
        kelvins[place] + self.of(stages, place)
    }

    #[inline]
    fn of(&self, stages: &[impl Deref<Target = [f64]>; 4], index: usize) -> f64 {
        self.0[0] * stages[0][index]
            + self.0[1] * stages[1][index]
            + self.0[2] * stages[2][index]
            + self.0[3] * stages[3][index]
    }
}

impl Stepper {
    /// For one network.
    #[must_use]
    pub fn new(network: &Network) -> Self {
        let count = network.count();
        let sensors = network.fixed.sensors.len();
        Self {
            stages: core::array::from_fn(|_| vec![0.0; count]),
            sensor_stages: core::array::from_fn(|_| vec![0.0; sensors]),
            lost_stages: [0.0; 4],
            factored: core::array::from_fn(|_| Factored::new(network)),
            point: vec![0.0; count + 1],
            flows: vec![0.0; count + 1],
        }
    }

    /// Tries a step of `h` seconds with `sources` (W, by place); the greatest error estimate over
    /// nodes and sensors, K. A not-a-number anywhere makes it infinite.
    pub fn attempt(&mut self, network: &Network, state: &State, sources: &[f64], h: f64) -> f64 {
        // The one used last stands first; the one used least is made anew.
        let serves = |factored: &Factored| factored.serves(network, state, h);
        let found = self.factored.iter().position(serves);
        self.factored[..=found.unwrap_or(FACTORED - 1)].rotate_right(1);
        if found.is_none() {
            self.factored[0].make(network, state, h);
        }
        for i in 0..4 {
            self.stage(network, state, sources, h, i);
        }
        self.error()
    }

    fn stage(&mut self, network: &Network, state: &State, sources: &[f64], h: f64, i: usize) {
        let fixed = &network.fixed;
        let count = fixed.capacities.len();
        let couplings = COUPLINGS[i].map(|coupling| coupling / h);
        let Self { stages: [first, second, third, fourth], point, flows, .. } = self;
        match i {
            0 => point.copy_from_slice(&state.kelvins),
            1 => start(point, &state.kelvins, A[1], [first]),
            2 => start(point, &state.kelvins, A[2], [first, second]),
            _ => start(point, &state.kelvins, A[3], [first, second, third]),
        }
        flows[..count].copy_from_slice(sources);
        flows[count] = 0.0;
        network.flows(point, flows);
        let (capacities, flows) = (&fixed.capacities, &flows[..count]);
        let stage = match i {
            0 => {
                first.copy_from_slice(flows);
                &mut first[..]
            }
            1 => couple(second, flows, capacities, couplings, [first]),
            2 => couple(third, flows, capacities, couplings, [first, second]),
            _ => couple(fourth, flows, capacities, couplings, [first, second, third]),
        };
        fixed.pattern.solve(&self.factored[0].matrix, stage);
        self.stage_lost(i, h, &couplings);
        self.stage_sensors(network, state, h, i, &couplings);
    }

    fn stage_lost(&mut self, i: usize, h: f64, couplings: &[f64; 3]) {
        let stage = &self.stages[i];
        let mut right = self.flows[stage.len()];
        right += self.factored[0].to_room.iter().map(|(at, row)| row * stage[*at]).sum::<f64>();
        right += couplings.iter().zip(&self.lost_stages).take(i).map(|(c, u)| c * u).sum::<f64>();
        self.lost_stages[i] = right * h * GAMMA;
    }

    fn stage_sensors(
        &mut self,
        network: &Network,
        state: &State,
        h: f64,
        i: usize,
        couplings: &[f64; 3],
    ) {
        for (index, sensor) in network.fixed.sensors.iter().enumerate() {
            if sensor.lag_s <= 0.0 {
                self.sensor_stages[i][index] = sensor.sees(&self.stages[i]);
                continue;
            }
            let (mut shown, mut right) = (state.shown[index], 0.0);
            for j in 0..i {
                shown += A[i][j] * self.sensor_stages[j][index];
                right += couplings[j] * self.sensor_stages[j][index];
            }
            let per_lag = 1.0 / sensor.lag_s;
            right += (sensor.sees(&self.point) - shown) * per_lag;
            right += sensor.sees(&self.stages[i]) * per_lag;
            self.sensor_stages[i][index] = right / (1.0 / (h * GAMMA) + per_lag);
        }
    }

    fn error(&self) -> f64 {
        let of = |stages: &[Vec<f64>; 4]| {
            let [first, second, third, fourth] = stages;
            let each = first.iter().zip(second).zip(third.iter().zip(fourth));
            let (mut worst, mut wrong) = (0.0_f64, false);
            for ((a, b), (c, d)) in each {
                let error = (ERROR[0] * a + ERROR[1] * b + ERROR[2] * c + ERROR[3] * d).abs();
                worst = if error > worst { error } else { worst };
                // The maximum skips a not-a-number.
                wrong |= error.is_nan();
            }
            if wrong { f64::INFINITY } else { worst }
        };
        of(&self.stages).max(of(&self.sensor_stages))
    }

    /// A sensor at a point of the step, K.
    #[inline]
    #[must_use]
    pub fn sensor(&self, state: &State, weights: &Weights, index: usize) -> f64 {
        state.shown[index] + weights.of(&self.sensor_stages, index)
    }

    /// The stages of the step tried last, every node by its place.
    pub(super) fn stages(&self) -> [&[f64]; 4] {
        let [first, second, third, fourth] = &self.stages;
        [first, second, third, fourth]
    }

    /// Every node (by place) at a point of the step, K.
    #[must_use]
    pub fn nodes(&self, state: &State, weights: &Weights) -> Vec<f64> {
        let [first, second, third, fourth] = &self.stages;
        let [a, b, c, d] = weights.0;
        let stages = first.iter().zip(second).zip(third.iter().zip(fourth));
        let moved = state.kelvins.iter().zip(stages);
        moved.map(|(k, ((p, q), (r, s)))| k + (a * p + b * q + c * r + d * s)).collect()
    }

    /// Cubic of a sensor over the step, from θ⁰ up, °C offset left to the caller.
    #[must_use]
    pub fn sensor_cubic(&self, state: &State, index: usize) -> [f64; 4] {
        let power =
            |p: usize| (0..4).map(|i| EXTENSION[p][i] * self.sensor_stages[i][index]).sum::<f64>();
        [state.shown[index], power(0), power(1), power(2)]
    }

    /// Moves the state to a point of the step.
    pub fn take(&self, state: &mut State, weights: &Weights) {
        let [first, second, third, fourth] = &self.stages;
        let [a, b, c, d] = weights.0;
        let stages = first.iter().zip(second).zip(third.iter().zip(fourth));
        for (kelvin, ((p, q), (r, s))) in state.kelvins.iter_mut().zip(stages) {
            *kelvin += a * p + b * q + c * r + d * s;
        }
        for (index, shown) in state.shown.iter_mut().enumerate() {
            *shown += weights.of(&self.sensor_stages, index);
        }
        state.lost_j += weights
            .0
            .iter()
            .zip(&self.lost_stages)
            .map(|(weight, lost)| weight * lost)
            .sum::<f64>();
    }
}

/// The point of a stage: the state and so much of every earlier stage. All of them in one pass over
/// the nodes, whose places a compiler then need not check one by one.
#[inline]
fn start<const N: usize>(
    point: &mut [f64],
    kelvins: &[f64],
    weights: [f64; 3],
    stages: [&mut Vec<f64>; N],
) {
    let count = stages[0].len();
    let stages = stages.map(|stage| &stage[..count]);
    point[count..].copy_from_slice(&kelvins[count..]);
    for (i, (point, kelvin)) in point[..count].iter_mut().zip(&kelvins[..count]).enumerate() {
        let mut value = *kelvin;
        for (stage, weight) in stages.iter().zip(weights) {
            value += weight * stage[i];
        }
        *point = value;
    }
}

/// The right-hand side of a stage: the flows, and every earlier stage coupled to them.
#[inline]
fn couple<'a, const N: usize>(
    right: &'a mut [f64],
    flows: &[f64],
    capacities: &[f64],
    couplings: [f64; 3],
    stages: [&mut Vec<f64>; N],
) -> &'a mut [f64] {
    let count = right.len();
    let stages = stages.map(|stage| &stage[..count]);
    let (flows, capacities) = (&flows[..count], &capacities[..count]);
    for (i, right) in right.iter_mut().enumerate() {
        let mut value = flows[i];
        for (stage, coupling) in stages.iter().zip(couplings) {
            value += coupling * capacities[i] * stage[i];
        }
        *right = value;
    }
    right
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Rang and Angermann, BIT 45 (2005) 761–787: the transformed weights of a step.
    const M: [f64; 4] =
        [4.184_760_482_319_162, -0.285_192_017_355_495_6, 2.294_280_360_279_042, 1.0];

    #[test]
    fn the_extension_ends_on_the_step() {
        for (end, m) in Weights::at(1.0).0.iter().zip(M) {
            assert!((end - m).abs() < 1e-12, "{end} against {m}");
        }
    }

    /// Order conditions of a Rosenbrock method (Hairer and Wanner, Solving ODEs II, IV.7), on the
    /// weights recovered by α = a·Γ, γ_ij from c = I/γ − Γ⁻¹.
    #[test]
    #[allow(clippy::needless_range_loop)] // as a textbook writes it
    fn the_coefficients_meet_the_conditions_of_order_three() {
        // Γ⁻¹ is lower triangular with 1/γ on the diagonal and −c below it; invert it.
        let mut gamma = [[0.0; 4]; 4];
        for column in 0..4 {
            for row in column..4 {
                let mut sum = if row == column { 1.0 } else { 0.0 };
                for k in column..row {
                    sum += COUPLINGS[row][k] * gamma[k][column];
                }
                gamma[row][column] = sum * GAMMA;
            }
        }
        let times = |vector: [f64; 4]| -> [f64; 4] {
            core::array::from_fn(|j| (0..4).map(|i| vector[i] * gamma[i][j]).sum())
        };
        let b = times(M);
        let alpha: [f64; 4] =
            core::array::from_fn(|i| times([A[i][0], A[i][1], A[i][2], 0.0]).iter().sum::<f64>());
        let beta: [f64; 4] = core::array::from_fn(|i| alpha[i] + gamma[i].iter().sum::<f64>());
        let sum = |value: &dyn Fn(usize) -> f64| (0..4).map(value).sum::<f64>();
        assert!((sum(&|i| b[i]) - 1.0).abs() < 1e-10);
        assert!((sum(&|i| b[i] * beta[i]) - 0.5).abs() < 1e-10);
        assert!((sum(&|i| b[i] * alpha[i] * alpha[i]) - 1.0 / 3.0).abs() < 1e-10);
    }
}
