//! Shares and times over draws.

/// Normal deviate of a two-sided 95 % interval.
const Z_95: f64 = 1.959_963_984_540_054;

/// An interval of a share, 0..1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interval {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// 95 % interval of a share (Wilson 1927, the score interval without a continuity correction): it
/// says something of 0 and of all, and it is never outside 0..1.
#[must_use]
pub fn wilson(some: usize, all: usize) -> Interval {
    if all == 0 {
        return Interval { low: 0.0, high: 1.0 };
    }
    let (count, share) = (all as f64, some as f64 / all as f64);
    let z2 = Z_95 * Z_95;
    let middle = share + z2 / (2.0 * count);
    let half = Z_95 * libm::sqrt((share * (1.0 - share) + z2 / (4.0 * count)) / count);
    let scale = 1.0 + z2 / count;
    let low = if some == 0 { 0.0 } else { (middle - half) / scale };
    let high = if some == all { 1.0 } else { (middle + half) / scale };
    Interval { low, high }
}

/// The least value that `share` of `all` do not exceed; those without a value exceed every value.
/// `None` where that is none. No value is made up between two.
#[must_use]
pub fn quantile(values: &[f64], all: usize, share: f64) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    // A share like 0.95 of 20 is 19, not 19.000000000000004.
    let rank = libm::ceil(share * all as f64 - 1e-9) as usize;
    sorted.get(rank.max(1) - 1).copied()
}

/// Mean of the two in the middle, or the one.
#[must_use]
pub fn median(values: &[f64]) -> Option<f64> {
    let below = quantile(values, values.len(), 0.5)?;
    let negated: Vec<f64> = values.iter().map(|value| -value).collect();
    let above = -quantile(&negated, negated.len(), 0.5)?;
    Some(0.5 * (below + above))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Newcombe, Statistics in Medicine 17 (1998), table I, method 3 (from memory), to four digits:
    /// 81 of 263, 15 of 148, 0 of 20, 1 of 29.
    #[test]
    fn the_interval_is_that_of_the_published_examples() {
        for (some, all, low, high) in [
            (81, 263, 0.2553, 0.3662),
            (15, 148, 0.0624, 0.1605),
            (0, 20, 0.0, 0.1611),
            (1, 29, 0.0061, 0.1718),
        ] {
            let found = wilson(some, all);
            assert!((found.low - low).abs() < 6e-5, "{some} of {all}: {found:?}");
            assert!((found.high - high).abs() < 6e-5, "{some} of {all}: {found:?}");
        }
        assert!((wilson(20, 20).high - 1.0).abs() < 1e-12);
        assert_eq!(wilson(0, 0), Interval { low: 0.0, high: 1.0 });
    }

    #[test]
    fn a_quantile_counts_those_that_have_no_value_as_beyond_all() {
        let values: Vec<f64> = (1..=19).rev().map(f64::from).collect();
        assert_eq!(quantile(&values, 20, 0.95), Some(19.0));
        assert_eq!(quantile(&values, 20, 0.5), Some(10.0));
        assert_eq!(quantile(&values, 40, 0.5), None, "only 19 of 40 have one");
        assert_eq!(quantile(&values[..1], 1, 0.5), Some(19.0));
        assert_eq!(quantile(&[], 0, 0.5), None);
    }

    #[test]
    fn a_median_is_in_the_middle() {
        assert_eq!(median(&[3.0, -1.0, 2.0]), Some(2.0));
        assert_eq!(median(&[4.0, 1.0, 2.0, 3.0]), Some(2.5));
        assert_eq!(median(&[]), None);
    }
}
