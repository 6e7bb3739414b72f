//! Least squares: what the plant foretells against what was read, and what was known beforehand.
//!
//! Minimised by Levenberg–Marquardt of the registry (`levenberg-marquardt`, after MINPACK). Slopes
//! are differences of whole simulations, worked out on every core. Residuals are weighed by their
//! own scatter and correlation, and the fit is made anew until those settle.

use super::Unfit;
use super::course::Course;
use super::follow::{Residuals, follow};
use super::noise::Worth;
use super::unknowns::{Prior, ready};
use crate::files::oven::Oven;
use levenberg_marquardt::{LeastSquaresProblem, LevenbergMarquardt};
use nalgebra::{DMatrix, DVector, Dyn, Owned};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Step of a slope, standard deviations: far above what the integration is off by.
const STEP: f64 = 0.1;
/// Sum of squares, unknowns and slopes are followed to this.
const TOLERANCE: f64 = 1e-4;
/// Most evaluations, times the number of unknowns and one.
const PATIENCE: usize = 4;
/// Rounds of weighing at most.
const ROUNDS: usize = 4;
/// Weights that move by less have settled.
const SETTLED: f64 = 0.15;
/// What a block is off by before anything is known, K, and how many count as one.
const FIRST: (f64, f64) = (1.0, 10.0);
/// No block is ever better than this, K: readings and their laws are no better.
const FLOOR_K: f64 = 0.03;

/// What is followed and what is unknown.
pub(super) struct Case<'a> {
    pub oven: &'a Oven,
    pub courses: &'a [Course],
    pub priors: &'a [Prior],
}

/// Deviation that counts for one block of air and of the probe, K.
#[derive(Clone, Copy, Debug)]
pub(super) struct Weights {
    pub air_k: f64,
    pub probe_k: f64,
}

/// Where it came to rest.
pub(super) struct Rest {
    /// Values, standard deviations from the middle.
    pub values: Vec<f64>,
    /// Residuals of each log.
    pub residuals: Vec<Residuals>,
    /// Covariance of the values, what was known beforehand included.
    pub covariance: DMatrix<f64>,
    /// What the logs alone tell of the values.
    pub information: DMatrix<f64>,
    pub air: Worth,
    pub probe: Worth,
}

impl Case<'_> {
    /// Residuals of every log at these values, K.
    fn at(&self, values: &[f64]) -> Option<Vec<Residuals>> {
        let logs: Vec<usize> = (0..self.courses.len()).collect();
        let tasks: Vec<(usize, Vec<f64>)> =
            logs.iter().map(|log| (*log, values.to_vec())).collect();
        self.all(&tasks).into_iter().collect()
    }

    /// Follows every task's log at its values, on all cores.
    fn all(&self, tasks: &[(usize, Vec<f64>)]) -> Vec<Option<Residuals>> {
        let next = AtomicUsize::new(0);
        let done = Mutex::new(vec![None; tasks.len()]);
        let work = || {
            while let Some((index, (log, values))) = {
                let index = next.fetch_add(1, Ordering::Relaxed);
                tasks.get(index).map(|task| (index, task))
            } {
                let course = &self.courses[*log];
                let found = follow(course, ready(self.oven, course, *log, self.priors, values));
                if let Ok(mut done) = done.lock() {
                    done[index] = found;
                }
            }
        };
        let threads = std::thread::available_parallelism().map_or(1, usize::from).min(tasks.len());
        std::thread::scope(|scope| {
            for _ in 1..threads {
                scope.spawn(work);
            }
            work();
        });
        done.into_inner().unwrap_or_default()
    }

    /// Slopes of every log's residuals by every value; none where a log has nothing of it.
    fn slopes(&self, values: &[f64], base: &[Residuals]) -> Option<Vec<Vec<Option<Residuals>>>> {
        let mut tasks = Vec::new();
        for (index, prior) in self.priors.iter().enumerate() {
            for log in 0..self.courses.len() {
                if prior.unknown.log().is_none_or(|of| of == log) {
                    let mut stepped = values.to_vec();
                    stepped[index] += STEP;
                    tasks.push((index, (log, stepped)));
                }
            }
        }
        let (indices, work): (Vec<usize>, Vec<(usize, Vec<f64>)>) = tasks.into_iter().unzip();
        let found = self.all(&work);
        let mut slopes = vec![vec![None; self.courses.len()]; self.priors.len()];
        for ((index, (log, _)), found) in indices.iter().zip(&work).zip(found) {
            let found = found?;
            let slope = |now: &[f64], was: &[f64]| {
                now.iter().zip(was).map(|(now, was)| (now - was) / STEP).collect()
            };
            slopes[*index][*log] = Some(Residuals {
                air: slope(&found.air, &base[*log].air),
                probe: slope(&found.probe, &base[*log].probe),
            });
        }
        Some(slopes)
    }

    fn rows(&self) -> usize {
        let blocks = |course: &Course| {
            super::follow::times_s(&course.air).len() + super::follow::times_s(&course.probe).len()
        };
        self.courses.iter().map(blocks).sum()
    }
}

/// Weighed residuals of one log, one under the other.
fn weighed(residuals: &Residuals, weights: Weights) -> impl Iterator<Item = f64> {
    let air = residuals.air.iter().map(move |residual| residual / weights.air_k);
    air.chain(residuals.probe.iter().map(move |residual| residual / weights.probe_k))
}

/// The problem as the library takes it: weighed residuals, then the values themselves, which stand
/// for what was known beforehand.
struct Problem<'a> {
    case: &'a Case<'a>,
    weights: Weights,
    values: DVector<f64>,
    residuals: Option<Vec<Residuals>>,
}

impl Problem<'_> {
    fn slopes(&self) -> Option<DMatrix<f64>> {
        let base = self.residuals.as_ref()?;
        let slopes = self.case.slopes(self.values.as_slice(), base)?;
        let (rows, count) = (self.case.rows(), self.values.len());
        let mut matrix = DMatrix::zeros(rows + count, count);
        for (column, logs) in slopes.iter().enumerate() {
            let mut row = 0;
            for (log, slope) in logs.iter().enumerate() {
                if let Some(slope) = slope {
                    for (at, value) in weighed(slope, self.weights).enumerate() {
                        matrix[(row + at, column)] = value;
                    }
                }
                row += base[log].air.len() + base[log].probe.len();
            }
            matrix[(rows + column, column)] = 1.0;
        }
        Some(matrix)
    }
}

impl LeastSquaresProblem<f64, Dyn, Dyn> for Problem<'_> {
    type ResidualStorage = Owned<f64, Dyn>;
    type JacobianStorage = Owned<f64, Dyn, Dyn>;
    type ParameterStorage = Owned<f64, Dyn>;

    fn set_params(&mut self, values: &DVector<f64>) {
        self.values.copy_from(values);
        self.residuals = self.case.at(values.as_slice());
    }

    fn params(&self) -> DVector<f64> {
        self.values.clone()
    }

    fn residuals(&self) -> Option<DVector<f64>> {
        let logs = self.residuals.as_ref()?;
        let all = logs.iter().flat_map(|residuals| weighed(residuals, self.weights));
        Some(DVector::from_iterator(
            self.case.rows() + self.values.len(),
            all.chain(self.values.iter().copied()),
        ))
    }

    fn jacobian(&self) -> Option<DMatrix<f64>> {
        self.slopes()
    }
}

/// Finds the values that fit best.
///
/// # Errors
/// Logs that no such plant follows.
pub(super) fn solve(case: &Case<'_>) -> Result<Rest, Unfit> {
    let count = case.priors.len();
    let first_k = FIRST.0 * libm::sqrt(FIRST.1);
    let mut weights = Weights { air_k: first_k, probe_k: first_k };
    let mut values = DVector::zeros(count);
    let mut told = count as f64;
    for round in 1.. {
        let residuals = case.at(values.as_slice());
        let problem = Problem { case, weights, values, residuals };
        let solver = LevenbergMarquardt::new().with_tol(TOLERANCE).with_patience(PATIENCE);
        let (problem, report) = solver.minimize(problem);
        let stuck = report.termination.was_usage_issue() || problem.residuals.is_none();
        let (Some(slopes), false) = (problem.slopes(), stuck) else {
            return Err(Unfit::not_followed(case.courses));
        };
        let residuals = problem.residuals.unwrap_or_default();
        values = problem.values;
        let (air, probe) = worths(&residuals);
        let next = Weights { air_k: weight(air, probe, told), probe_k: weight(probe, air, told) };
        let moved = |now: f64, was: f64| libm::log(now / was).abs();
        let settled = moved(next.air_k, weights.air_k) < SETTLED
            && (probe.count == 0 || moved(next.probe_k, weights.probe_k) < SETTLED);
        let rows = slopes.nrows() - count;
        let readings = slopes.rows(0, rows);
        let information = readings.transpose() * readings;
        let known = &information + DMatrix::identity(count, count);
        let covariance = known.try_inverse().unwrap_or(DMatrix::identity(count, count));
        // Unknowns that the readings tell take their part of the scatter away.
        told = (&information * &covariance).trace().clamp(0.0, count as f64);
        if settled || round >= ROUNDS {
            let values = values.as_slice().to_vec();
            return Ok(Rest { values, residuals, covariance, information, air, probe });
        }
        weights = next;
    }
    Err(Unfit::not_followed(case.courses))
}

fn worths(residuals: &[Residuals]) -> (Worth, Worth) {
    let air: Vec<&[f64]> = residuals.iter().map(|log| log.air.as_slice()).collect();
    let probe: Vec<&[f64]> = residuals.iter().map(|log| log.probe.as_slice()).collect();
    (Worth::of(&air), Worth::of(&probe))
}

/// Deviation that counts for one block: its scatter, as many as count for one, and what was fitted
/// away.
fn weight(of: Worth, other: Worth, told: f64) -> f64 {
    let effective = of.effective();
    let all = effective + if other.count > 0 { other.effective() } else { 0.0 };
    let left = (all - told).max(0.25 * all) / all.max(1.0);
    let rms_k = of.rms_k.max(FLOOR_K);
    rms_k * libm::sqrt(of.blocks_as_one / left)
}
