//! Openings of a door that nobody logged, told by the air's own fall.
//!
//! Told too often rather than too seldom: after each of them everything inside is taken for new. A
//! heater that goes off in a hot oven looks the same where the air then falls as far.

use super::Second;

/// A fall of this much below the greatest reading …
const FALL_K: f64 = 10.0;
/// … of so many seconds before is an opening.
const WITHIN_S: u32 = 120;
/// A rise of this much above the lowest reading since it opened means shut again, K.
const RISE_K: f64 = 1.5;

/// One opening.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Fall {
    /// It may have been opened from here on, s.
    pub(super) from_s: u32,
    /// It was shut by then, s.
    pub(super) to_s: u32,
}

/// Every opening that shows.
pub(super) fn falls(seconds: &[Second]) -> Vec<Fall> {
    let mut falls: Vec<Fall> = Vec::new();
    let mut open: Option<(u32, f64)> = None;
    // Where the greatest reading of the time before is looked for from.
    let mut oldest = 0;
    for (index, second) in seconds.iter().enumerate() {
        let now_c = second.air_c.1;
        if let Some((from_s, least_c)) = &mut open {
            *least_c = least_c.min(now_c);
            if now_c > *least_c + RISE_K {
                falls.push(Fall { from_s: *from_s, to_s: second.t_s });
                (open, oldest) = (None, index);
            }
            continue;
        }
        let is_old = |at: usize| seconds[at].t_s + WITHIN_S < second.t_s;
        while oldest < index && is_old(oldest) {
            oldest += 1;
        }
        let before = seconds[oldest..=index].iter();
        let greatest = before.max_by(|a, b| a.air_c.1.total_cmp(&b.air_c.1));
        if let Some(greatest) = greatest.filter(|before| before.air_c.1 - now_c >= FALL_K) {
            open = Some((greatest.t_s, now_c));
        }
    }
    if let (Some((from_s, _)), Some(last)) = (open, seconds.last()) {
        falls.push(Fall { from_s, to_s: last.t_s + 1 });
    }
    falls
}

#[cfg(test)]
mod tests {
    use super::*;

    fn seconds(air_c: impl Iterator<Item = f64>) -> Vec<Second> {
        let second = |(t_s, c): (usize, f64)| Second { t_s: t_s as u32, air_c: (c, c), duty: 1.0 };
        air_c.enumerate().map(second).collect()
    }

    #[test]
    fn a_thermostat_that_swings_is_no_door_and_a_fall_of_ten_kelvin_is() {
        let swings = (0..3600).map(|t| 160.0 + 4.9 * libm::sin(f64::from(t) / 40.0));
        assert_eq!(falls(&seconds(swings)), []);
        let opened = (0..600).map(|t| match t {
            0..200 => 160.0,
            200..250 => 160.0 - 0.5 * f64::from(t - 200),
            _ => 135.0 + 0.1 * f64::from(t - 250),
        });
        let [fall] = falls(&seconds(opened))[..] else { panic!("one opening") };
        assert_eq!(fall, Fall { from_s: 200, to_s: 266 });
        let left_open = (0..600).map(|t| 160.0 - 0.2 * f64::from(t));
        assert_eq!(falls(&seconds(left_open)), [Fall { from_s: 0, to_s: 600 }]);
    }
}
