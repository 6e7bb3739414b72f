//! How reading, air and parts come to their limits and stay there.
//!
//! Over two minutes, and not far from a power, an oven answers the heat as a linear system does:
//! what it does with somewhat less and somewhat more is tried on copies, and from the two the powers
//! are found that keep each of the three nearest below its limit; the least of them serves all. Half
//! a minute later all is tried anew, so what is not linear does not add up.

use super::heat::{Body, Limits, SECOND, Seen, Stretch};

/// Samples looked ahead.
const SAMPLES: usize = 24;
/// Between two of them, ticks.
const EVERY: u32 = 5 * SECOND;
/// Powers are chosen for so many samples each: the first for what is done, the others for what it
/// must leave possible.
const MOVES: [usize; 6] = [1, 1, 2, 3, 6, 11];
/// Moves that are made before all is tried anew: those near the powers tried, but so many at least
/// and at most.
const MADE: (usize, usize) = (2, 4);
/// Powers tried: so much less and more than the one before.
const APART: f64 = 0.2;
/// A K above the limit weighs as much as so many below.
const ABOVE: f64 = 300.0;
/// What stays so far below its limit even with full power limits nothing, K.
const FAR_BELOW_K: f64 = 0.5;
/// Neighbouring moves that differ by all of the power weigh as much as a sample this far off, K.
const JOLT_K: f64 = 0.05;
/// Rounds until what is above its limit, and what is at 0 or 1, does not change any more.
const ROUNDS: usize = 12;

/// The next moves on the way to the limits, or along them; the last first.
pub(super) fn moves(body: &impl Body, limits: &Limits, near: f64) -> Vec<Stretch> {
    let shares = Ahead::of(body, near).under(limits);
    let is_near = |share: &&f64| (**share - near).abs() <= APART;
    let made = shares.iter().take_while(is_near).count().clamp(MADE.0, MADE.1);
    let moves = shares.iter().zip(MOVES).take(made);
    let mut moves: Vec<Stretch> = moves
        .map(|(share, samples)| Stretch { share: *share, ticks: samples as u32 * EVERY })
        .collect();
    moves.reverse();
    moves
}

/// What the oven does, sample by sample, with somewhat less and somewhat more power.
struct Ahead {
    less: f64,
    with_less: Vec<Seen>,
    with_more: Vec<Seen>,
}

impl Ahead {
    fn of(body: &impl Body, near: f64) -> Self {
        let less = (near - APART).clamp(0.0, 1.0 - 2.0 * APART);
        let with_less = samples(body, less);
        let with_more = samples(body, less + 2.0 * APART);
        Self { less, with_less, with_more }
    }

    /// What all limits bear.
    fn under(&self, limits: &Limits) -> Shares {
        let mut shares = [1.0_f64; MOVES.len()];
        let courses = [
            self.course(|seen| seen.reading_c, |ticks| limits.reading.at(ticks)),
            self.course(|seen| seen.air_c, |_| limits.air_c),
            self.course(|seen| seen.hottest_c, |_| limits.part_c),
        ];
        for course in courses.iter().filter(|course| course.comes_near()) {
            for (share, bears) in shares.iter_mut().zip(course.shares()) {
                *share = share.min(bears);
            }
        }
        shares
    }

    /// One output against its limit.
    fn course(&self, of: impl Fn(&Seen) -> f64, limit_c: impl Fn(u32) -> f64) -> Course {
        let mut course = Course { above_k: [0.0; SAMPLES], added_k: [0.0; SAMPLES] };
        for (index, (less, more)) in self.with_less.iter().zip(&self.with_more).enumerate() {
            let limit_c = limit_c((index as u32 + 1) * EVERY);
            let added_k = (of(more) - of(less)) / (2.0 * APART);
            course.added_k[index] = added_k;
            course.above_k[index] = of(less) - self.less * added_k - limit_c;
        }
        course
    }
}

/// One output.
struct Course {
    /// Above its limit without any heat, K.
    above_k: [f64; SAMPLES],
    /// Added by full power from now on, K.
    added_k: [f64; SAMPLES],
}

impl Course {
    /// With full power it would come near its limit; without parts there is nothing to.
    fn comes_near(&self) -> bool {
        let near = |(above_k, added_k): (&f64, &f64)| above_k + added_k > -FAR_BELOW_K;
        self.above_k.iter().zip(&self.added_k).any(near)
    }

    /// Added at a sample by full power from sample `from` to `to`, K.
    fn pulse_k(&self, sample: usize, from: usize, to: usize) -> f64 {
        let since = |start: usize| sample.checked_sub(start).map_or(0.0, |at| self.added_k[at]);
        since(from) - since(to)
    }

    /// Share of each move: weighted least squares with the shares within 0..=1.
    fn shares(&self) -> Shares {
        let mut shares = [0.5; MOVES.len()];
        let added_k = self.added_by_move();
        for _ in 0..ROUNDS {
            let (mut curve, mut slope) = jolts(&shares);
            for (above_k, added_k) in self.above_k.iter().zip(&added_k) {
                let above_k = above_k + dot(added_k, &shares);
                let weight = if above_k > 0.0 { ABOVE } else { 1.0 };
                for (row, added) in added_k.iter().enumerate() {
                    slope[row] += weight * above_k * added;
                    for (cell, other) in curve[row].iter_mut().zip(added_k) {
                        *cell += weight * added * other;
                    }
                }
            }
            let before = shares;
            step(&mut shares, &curve, &slope);
            if shares.iter().zip(&before).all(|(now, then)| (now - then).abs() < 1e-4) {
                break;
            }
        }
        shares
    }

    /// Added at each sample by full power in each move, K.
    fn added_by_move(&self) -> [Shares; SAMPLES] {
        core::array::from_fn(|sample| {
            let mut to = 0;
            MOVES.map(|length| {
                to += length;
                self.pulse_k(sample, to - length, to)
            })
        })
    }
}

/// One value for each move.
type Shares = [f64; MOVES.len()];

fn dot(a: &Shares, b: &Shares) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// Curvature and slope of what differences between neighbours cost.
fn jolts(shares: &Shares) -> ([Shares; MOVES.len()], Shares) {
    let (mut curve, mut slope) = ([[0.0; MOVES.len()]; MOVES.len()], [0.0; MOVES.len()]);
    let weight = JOLT_K * JOLT_K;
    for (index, pair) in shares.windows(2).enumerate() {
        for (row, sign) in [(index, -1.0), (index + 1, 1.0)] {
            slope[row] += weight * sign * (pair[1] - pair[0]);
            curve[row][index] -= weight * sign;
            curve[row][index + 1] += weight * sign;
        }
    }
    (curve, slope)
}

/// A Newton step with what is held at 0 or 1, and pushed further, left there.
fn step(shares: &mut Shares, curve: &[Shares; MOVES.len()], slope: &Shares) {
    let held: [bool; MOVES.len()] = core::array::from_fn(|index| {
        (shares[index] <= 0.0 && slope[index] > 0.0) || (shares[index] >= 1.0 && slope[index] < 0.0)
    });
    let (mut matrix, mut right) = (*curve, slope.map(|slope| -slope));
    for index in (0..MOVES.len()).filter(|index| held[*index]) {
        for row in &mut matrix {
            row[index] = 0.0;
        }
        matrix[index] = [0.0; MOVES.len()];
        (matrix[index][index], right[index]) = (1.0, 0.0);
    }
    // The matrix is symmetric and positive: elimination needs no exchange of rows.
    for pivot in 0..MOVES.len() {
        let above = matrix[pivot];
        for row in pivot + 1..MOVES.len() {
            let factor = matrix[row][pivot] / above[pivot].max(1e-12);
            for (cell, above) in matrix[row].iter_mut().zip(&above) {
                *cell -= factor * above;
            }
            right[row] -= factor * right[pivot];
        }
    }
    for row in (0..MOVES.len()).rev() {
        let later: f64 =
            (row + 1..MOVES.len()).map(|column| matrix[row][column] * right[column]).sum();
        right[row] = (right[row] - later) / matrix[row][row].max(1e-12);
        shares[row] = (shares[row] + right[row]).clamp(0.0, 1.0);
    }
}

/// Every sample with one share throughout.
fn samples(body: &impl Body, share: f64) -> Vec<Seen> {
    let mut body = body.clone();
    body.heat(share);
    let all = SAMPLES as u32 * EVERY;
    let mut samples = Vec::with_capacity(SAMPLES);
    let mut from = 0;
    while from < all {
        let length = body.attempt(all - from);
        for tick in (1..=length).filter(|tick| (from + tick).is_multiple_of(EVERY)) {
            samples.push(body.seen_at(tick));
        }
        body.take(length);
        from += length;
    }
    samples
}
