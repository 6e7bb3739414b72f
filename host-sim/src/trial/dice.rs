//! What one seed decides: Xoshiro256++, the same on every machine.
//!
//! Whether something happens is a ratio of integers; only sizes and times are fractions.

use rand_core::{RngCore, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;

/// A stream of decisions.
#[derive(Clone, Debug)]
pub(super) struct Dice(Xoshiro256PlusPlus);

impl Dice {
    /// The stream of a number.
    pub(super) fn of(number: u64) -> Self {
        Self(Xoshiro256PlusPlus::seed_from_u64(number))
    }

    /// Uniform, 0..1.
    pub(super) fn share(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// A factor between 1/`most` and `most`, even on a logarithmic scale.
    pub(super) fn factor(&mut self, most: f64) -> f64 {
        most.powf(2.0 * self.share() - 1.0)
    }

    /// Uniform between two values.
    pub(super) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.share()
    }

    /// Between two values, even on a logarithmic scale: as often seconds as hours.
    pub(super) fn magnitude(&mut self, low: f64, high: f64) -> f64 {
        low * (high / low).powf(self.share())
    }

    /// One of `count` numbers from 0; 0 where there is nothing to choose from.
    pub(super) fn below(&mut self, count: usize) -> usize {
        // At most a few dozen: what the remainder favours is below 2⁻⁵⁸.
        self.0.next_u64().checked_rem(count as u64).unwrap_or(0) as usize
    }

    /// True `times` in `of`.
    pub(super) fn chance(&mut self, times: usize, of: usize) -> bool {
        self.below(of) < times
    }

    /// One of several by their integer weights; the first where all are 0.
    pub(super) fn weighted<T: Copy>(&mut self, choices: &[(usize, T)]) -> Option<T> {
        let mut left = self.below(choices.iter().map(|(weight, _)| weight).sum());
        for (weight, choice) in choices {
            if left < *weight {
                return Some(*choice);
            }
            left -= weight;
        }
        choices.first().map(|(_, choice)| *choice)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_happens_so_often_happens_so_often_and_a_seed_repeats_it() {
        let mut dice = Dice::of(5);
        let hits = (0..30_000).filter(|_| dice.chance(1, 3)).count();
        assert!((9_700..10_300).contains(&hits), "{hits}");
        let picked: Vec<_> =
            (0..400).filter_map(|_| dice.weighted(&[(0, 'a'), (3, 'b'), (1, 'c')])).collect();
        let rare = picked.iter().filter(|one| **one == 'c').count();
        assert!(!picked.contains(&'a') && (60..140).contains(&rare), "{rare}");
        let values = |number| -> Vec<usize> {
            let mut dice = Dice::of(number);
            (0..50).map(|_| dice.below(1_000)).collect()
        };
        assert_eq!(values(9), values(9));
        assert_ne!(values(9), values(10));
        assert_eq!(dice.below(0), 0);
    }
}
