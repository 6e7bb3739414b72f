//! How much a string of residuals is worth.
//!
//! What a thermal model leaves over is correlated: it is off by the same for minutes. Taken for
//! independent, thousands of readings would make every interval a hair wide. The integrated
//! autocorrelation time says how many of them count as one (effective sample size, Thiébaux and
//! Zwiers 1984); it is summed as far as pairs of neighbouring terms are above zero (the initial
//! positive sequence of Geyer 1992). Both from memory.

/// The correlation is not followed further than this share of a string.
const LONGEST: usize = 3;

/// What residuals come to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Worth {
    /// Root mean square, K.
    pub rms_k: f64,
    /// How many count as one.
    pub blocks_as_one: f64,
    /// How many there are.
    pub count: usize,
}

impl Worth {
    /// Of strings of residuals, one a log.
    #[must_use]
    pub fn of(strings: &[&[f64]]) -> Self {
        let count: usize = strings.iter().map(|string| string.len()).sum();
        let squares: f64 = strings.iter().flat_map(|string| string.iter()).map(|r| r * r).sum();
        if count == 0 || squares <= 0.0 {
            return Self { rms_k: 0.0, blocks_as_one: 1.0, count };
        }
        let longest = strings.iter().map(|string| string.len()).max().unwrap_or(0) / LONGEST;
        let correlation = |lag: usize| {
            let products = strings.iter().flat_map(|string| {
                string.iter().zip(string.iter().skip(lag)).map(|(now, then)| now * then)
            });
            products.sum::<f64>() / squares
        };
        let mut time = 1.0;
        let mut lag = 1;
        while lag < longest {
            let pair = correlation(lag) + correlation(lag + 1);
            if pair <= 0.0 {
                break;
            }
            time += 2.0 * pair;
            lag += 2;
        }
        let rms_k = libm::sqrt(squares / count as f64);
        Self { rms_k, blocks_as_one: time.min(count as f64), count }
    }

    /// Independent readings they are worth.
    #[must_use]
    pub fn effective(&self) -> f64 {
        self.count as f64 / self.blocks_as_one
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand_core::{RngCore, SeedableRng};
    use rand_xoshiro::Xoshiro256PlusPlus;

    /// A first-order autoregression with coefficient a has an integrated time of (1 + a)/(1 − a).
    #[test]
    fn an_autoregression_is_worth_what_its_closed_form_says() {
        for (a, time) in [(0.0, 1.0), (0.5, 3.0), (0.9, 19.0)] {
            let mut random = Xoshiro256PlusPlus::seed_from_u64(1);
            let mut value = 0.0;
            let string: Vec<f64> = (0..40_000)
                .map(|_| {
                    value = a * value + f64::from(random.next_u32()) / 4_294_967_296.0 - 0.5;
                    value
                })
                .collect();
            let worth = Worth::of(&[&string]);
            assert!((worth.blocks_as_one / time - 1.0).abs() < 0.15, "{a}: {worth:?}");
        }
    }

    #[test]
    fn a_string_that_never_changes_sign_is_worth_a_few_readings() {
        let string = vec![0.5; 600];
        let worth = Worth::of(&[&string]);
        assert!(worth.effective() < 4.0, "{worth:?}");
    }
}
