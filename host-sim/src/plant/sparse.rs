//! Sparse elimination for the plant's matrices.
//!
//! The pattern is symmetric, the values are not (radiation). Every column's diagonal outweighs the
//! rest of it, because flows rise with the hot side and fall with the cold, so there is no
//! pivoting. The order is computed once per network: minimum degree over every link that can ever
//! be on, ties to what waits for the fewest others; the updates of a factorisation are a tape of
//! places. A graph that fills past a counted limit is refused rather than left to hang.

use std::collections::BTreeSet;

/// Most updates of one factorisation; about 200 MB of tape.
pub const UPDATES_MAX: usize = 50_000_000;

/// A graph too dense to eliminate.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "the links tie too many nodes to each other: elimination would need more than {UPDATES_MAX} \
     updates a step; leave out the weakest links or merge nodes"
)]
pub struct TooDense;

/// Two nodes that are tied, the one eliminated first in front.
#[derive(Clone, Copy, Debug)]
struct Pair {
    first: u32,
    later: u32,
}

/// Order of elimination and where everything is stored: one array of
/// `diagonal | upper | lower`, rows numbered in that order.
#[derive(Clone, Debug)]
pub struct Pattern {
    /// New number of each node.
    pub number: Vec<u32>,
    /// Row k's pairs are `start[k]..start[k + 1]`.
    start: Vec<u32>,
    /// Every pair, row by row.
    pairs: Vec<Pair>,
    /// Where each update of the elimination goes.
    tape: Vec<u32>,
}

impl Pattern {
    /// Orders `count` nodes joined by `pairs` and lays out the elimination.
    pub fn new(count: usize, pairs: &[(usize, usize)]) -> Result<Self, TooDense> {
        let (number, rows) = eliminate(count, pairs)?;
        let mut start = Vec::with_capacity(count + 1);
        let mut pairs = Vec::new();
        start.push(0);
        for (first, row) in rows.iter().enumerate() {
            pairs.extend(row.iter().map(|&later| Pair { first: first as u32, later }));
            start.push(pairs.len() as u32);
        }
        let mut pattern = Self { number, start, pairs, tape: Vec::new() };
        for row in &rows {
            for &m in row {
                for &w in row {
                    let place = pattern.place(m as usize, w as usize);
                    pattern.tape.push(place as u32);
                }
            }
        }
        Ok(pattern)
    }

    /// Nodes.
    #[must_use]
    pub fn count(&self) -> usize {
        self.number.len()
    }

    /// Pairs, fill included.
    #[must_use]
    pub fn pairs(&self) -> usize {
        self.pairs.len()
    }

    /// Length of the array of values.
    #[must_use]
    pub fn values(&self) -> usize {
        self.count() + 2 * self.pairs()
    }

    /// Where row `row`, column `column` (new numbers) is stored. The pair must be in the pattern.
    #[must_use]
    pub fn place(&self, row: usize, column: usize) -> usize {
        if row == column {
            return row;
        }
        let (first, second) = (row.min(column), row.max(column));
        let from = self.start[first] as usize;
        let tied = &self.pairs[from..self.start[first + 1] as usize];
        let at = from + tied.partition_point(|pair| (pair.later as usize) < second);
        if row < column { self.count() + at } else { self.count() + self.pairs() + at }
    }

    /// Factors in place; the diagonal is left inverted, the upper half multiplied by it.
    pub fn factor(&self, values: &mut [f64]) {
        let (count, pairs) = (self.count(), self.pairs());
        let mut tape = self.tape.as_slice();
        for (k, window) in self.start.windows(2).enumerate() {
            let inverse = 1.0 / values[k];
            values[k] = inverse;
            let row = count + window[0] as usize..count + window[1] as usize;
            for m in row.clone() {
                let l = values[pairs + m] * inverse;
                values[pairs + m] = l;
                let (places, rest) = tape.split_at(row.len());
                tape = rest;
                for (w, &place) in row.clone().zip(places) {
                    values[place as usize] -= l * values[w];
                }
            }
            for upper in &mut values[row] {
                *upper *= inverse;
            }
        }
    }

    /// Solves in place with factored values; `x` may be longer than the matrix.
    pub fn solve(&self, values: &[f64], x: &mut [f64]) {
        let (diagonal, off) = values.split_at(self.count());
        let (upper, lower) = off.split_at(self.pairs());
        // Pairs stand in the order of elimination: one pass down, one pass up.
        for (l, pair) in lower.iter().zip(&self.pairs) {
            x[pair.later as usize] -= l * x[pair.first as usize];
        }
        for (value, inverse) in x.iter_mut().zip(diagonal) {
            *value *= inverse;
        }
        for (u, pair) in upper.iter().zip(&self.pairs).rev() {
            x[pair.first as usize] -= u * x[pair.later as usize];
        }
    }
}

/// New numbers, and for each in turn the later nodes it is tied to, in order.
type Elimination = (Vec<u32>, Vec<Vec<u32>>);

fn eliminate(count: usize, pairs: &[(usize, usize)]) -> Result<Elimination, TooDense> {
    let mut ties: Vec<BTreeSet<u32>> = vec![BTreeSet::new(); count];
    for &(a, b) in pairs {
        if a != b {
            ties[a].insert(b as u32);
            ties[b].insert(a as u32);
        }
    }
    // Among equals, what waits for the fewest others goes first: chains are eliminated side by side,
    // and a processor need not wait for each row before it begins the next.
    let mut depth = vec![0_u32; count];
    let mut queue: BTreeSet<(usize, u32, u32)> =
        ties.iter().enumerate().map(|(node, tied)| (tied.len(), 0, node as u32)).collect();
    let mut number = vec![0_u32; count];
    let mut rows = Vec::with_capacity(count);
    let mut updates = 0_usize;
    while let Some((degree, before, node)) = queue.pop_first() {
        updates += degree * degree;
        if updates > UPDATES_MAX {
            return Err(TooDense);
        }
        number[node as usize] = rows.len() as u32;
        let tied: Vec<u32> = core::mem::take(&mut ties[node as usize]).into_iter().collect();
        for &a in &tied {
            let (neighbours, depth) = (&mut ties[a as usize], &mut depth[a as usize]);
            queue.remove(&(neighbours.len(), *depth, a));
            neighbours.remove(&node);
            neighbours.extend(tied.iter().filter(|&&b| b != a));
            *depth = (*depth).max(before + 1);
            queue.insert((neighbours.len(), *depth, a));
        }
        rows.push(tied);
    }
    for row in &mut rows {
        for node in row.iter_mut() {
            *node = number[*node as usize];
        }
        row.sort_unstable();
    }
    Ok((number, rows))
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand_core::{RngCore, SeedableRng};
    use rand_xoshiro::Xoshiro256PlusPlus;

    fn uniform(random: &mut Xoshiro256PlusPlus) -> f64 {
        (random.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Gaussian elimination with partial pivoting.
    #[allow(clippy::needless_range_loop)] // as a textbook writes it
    fn dense_solve(mut a: Vec<Vec<f64>>, mut b: Vec<f64>) -> Vec<f64> {
        let n = b.len();
        for k in 0..n {
            let pivot = (k..n).max_by(|&i, &j| a[i][k].abs().total_cmp(&a[j][k].abs())).unwrap();
            a.swap(k, pivot);
            b.swap(k, pivot);
            for i in k + 1..n {
                let factor = a[i][k] / a[k][k];
                for j in k..n {
                    let upper = a[k][j];
                    a[i][j] -= factor * upper;
                }
                b[i] -= factor * b[k];
            }
        }
        for k in (0..n).rev() {
            let sum: f64 = (k + 1..n).map(|j| a[k][j] * b[j]).sum();
            b[k] = (b[k] - sum) / a[k][k];
        }
        b
    }

    #[test]
    fn agrees_with_dense_elimination_on_random_graphs() {
        for seed in 0..60 {
            let random = &mut Xoshiro256PlusPlus::seed_from_u64(seed);
            let count = 2 + (random.next_u64() % 30) as usize;
            let pairs: Vec<(usize, usize)> = (0..2 * count)
                .map(|_| {
                    let pick = |r: &mut Xoshiro256PlusPlus| (r.next_u64() as usize) % count;
                    (pick(random), pick(random))
                })
                .filter(|(a, b)| a != b)
                .collect();
            let pattern = Pattern::new(count, &pairs).unwrap();
            let mut values = vec![0.0; pattern.values()];
            let mut dense = vec![vec![0.0; count]; count];
            let mut add = |row: usize, column: usize, value: f64| {
                values[pattern.place(row, column)] += value;
                dense[row][column] += value;
            };
            for node in 0..count {
                add(node, node, 0.01 + uniform(random));
            }
            for &(a, b) in &pairs {
                let (a, b) = (pattern.number[a] as usize, pattern.number[b] as usize);
                let (by_a, by_b) = (10.0 * uniform(random), 10.0 * uniform(random));
                add(a, a, by_a);
                add(b, a, -by_a);
                add(b, b, by_b);
                add(a, b, -by_b);
            }
            let right: Vec<f64> = (0..count).map(|_| uniform(random) - 0.5).collect();
            let expected = dense_solve(dense, right.clone());
            let mut found = right;
            pattern.factor(&mut values);
            pattern.solve(&values, &mut found);
            for (found, expected) in found.iter().zip(&expected) {
                let size = expected.abs().max(1.0);
                assert!((found - expected).abs() < 1e-9 * size, "seed {seed}");
            }
        }
    }

    #[test]
    fn a_chain_and_a_star_do_not_fill() {
        let chain: Vec<_> = (1..10_000).map(|i| (i - 1, i)).collect();
        assert_eq!(Pattern::new(10_000, &chain).unwrap().pairs(), 9_999);
        let star: Vec<_> = (1..10_000).map(|i| (0, i)).collect();
        assert_eq!(Pattern::new(10_000, &star).unwrap().pairs(), 9_999);
    }

    #[test]
    fn a_dense_graph_is_refused_by_count() {
        let pairs: Vec<_> = (0..600).flat_map(|a| (0..a).map(move |b| (a, b))).collect();
        assert_eq!(Pattern::new(600, &pairs).unwrap_err(), TooDense);
    }
}
