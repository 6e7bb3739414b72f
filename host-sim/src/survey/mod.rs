//! A survey: how far the air at the parts' places is from what the control sensor shows.
//!
//! The method follows published pyrometry practice (AMS 2750, from memory, in our own words): sensors
//! at the corners and the middle of where parts hang, empty or loaded; the oven is brought to its
//! setpoint and left until every sensor has settled; then all of them are logged for 30 min or more;
//! what counts is the worst a place was off. Settled is said here by a number: over 30 min no sensor
//! drifts by more than 1 K (GUESS). A heater that switches swings all of them, and parts do not
//! follow that, so what a place is off is taken from means over five minutes.
//!
//! A place is no colder than the control sensor's reading less what the place was below it less what
//! the survey's sensor may be off. Bounds take the control sensor's own `sensor_offset` off besides
//! `cold_spot`; that covers the survey's sensors as far as they are no worse, and only what they
//! are worse is added to both spots. Refuses an oven that never settles or was never heated.

pub mod readings;

use readings::{Column, Readings};

/// Logged so long once settled, s.
pub const STEADY_S: f64 = 1_800.0;
/// Drift of a settled sensor in that time, K.
pub const DRIFT_K: f64 = 1.0;
/// Colder than this, the oven was never heated, °C.
const HEATED_C: f64 = 40.0;
/// Means over so long are what a part can follow, s.
const MEAN_S: f64 = 300.0;
/// Readings further apart than this are a gap, s.
const GAP_S: f64 = 120.0;
/// Fewest places that say anything.
pub const PLACES_MIN: usize = 3;
/// Fewest for a small oven (AMS 2750 asks five of one up to 85 L; from memory).
pub const PLACES_USUAL: usize = 5;
/// Windows are tried so far apart at least, s.
const EVERY_S: f64 = 30.0;

/// What one place was.
#[derive(Clone, Debug, PartialEq)]
pub struct Place {
    /// Its name.
    pub name: String,
    /// Mean, °C.
    pub mean_c: f64,
    /// Mean less the control sensor's, K.
    pub deviation_k: f64,
    /// Least of five-minute means, K.
    pub least_k: f64,
    /// Greatest.
    pub greatest_k: f64,
    /// Drift over the whole interval by its slope, K.
    pub drift_k: f64,
}

/// A settled oven.
#[derive(Clone, Debug, PartialEq)]
pub struct Settled {
    /// From, s.
    pub from_s: f64,
    /// To, s.
    pub to_s: f64,
    /// Control sensor's mean, °C.
    pub control_c: f64,
    /// Every place, in the table's order.
    pub places: Vec<Place>,
}

impl Settled {
    /// The place that was coldest against the control sensor.
    #[must_use]
    pub fn coldest(&self) -> Option<&Place> {
        self.places.iter().min_by(|a, b| a.least_k.total_cmp(&b.least_k))
    }

    /// The one that was hottest.
    #[must_use]
    pub fn hottest(&self) -> Option<&Place> {
        self.places.iter().max_by(|a, b| a.greatest_k.total_cmp(&b.greatest_k))
    }

    /// How much colder air can be where parts hang, K: the coldest place and what the survey's
    /// sensors are worse than the control sensor.
    #[must_use]
    pub fn cold_spot_k(&self, worse_k: f64) -> f64 {
        let below_k = self.coldest().map_or(0.0, |place| -place.least_k);
        tenth_up(below_k.max(0.0) + worse_k)
    }

    /// How much hotter, K.
    #[must_use]
    pub fn hot_spot_k(&self, worse_k: f64) -> f64 {
        let above_k = self.hottest().map_or(0.0, |place| place.greatest_k);
        tenth_up(above_k.max(0.0) + worse_k)
    }
}

/// Up to a whole tenth: what is said must hold what was seen.
fn tenth_up(value_k: f64) -> f64 {
    libm::ceil(value_k * 10.0 - 1e-6) / 10.0
}

/// Why there is no steady interval.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unsettled {
    /// What is wrong.
    pub what: String,
    /// What to do next.
    pub next: String,
}

/// How far one sensor drifts in a window.
struct Drift<'a> {
    name: &'a str,
    drift_k: f64,
}

/// Finds the longest steady interval and what every place was in it.
///
/// # Errors
/// Readings that never settle, with the reason.
pub fn survey(readings: &Readings) -> Result<Settled, Unsettled> {
    let t_s = &readings.t_s;
    let length_s = t_s.last().copied().unwrap_or(0.0);
    if length_s < STEADY_S {
        return Err(Unsettled {
            what: format!("the readings cover {:.0} min", length_s / 60.0),
            next: "log for 30 min or more after every sensor has settled".to_owned(),
        });
    }
    let mut runs: Vec<(usize, usize)> = Vec::new();
    let mut steadiest: Option<(f64, Drift<'_>)> = None;
    let mut tried_s = f64::NEG_INFINITY;
    for from in 0..t_s.len() {
        if t_s[from] < tried_s + EVERY_S {
            continue;
        }
        tried_s = t_s[from];
        let to = t_s.partition_point(|t| *t < t_s[from] + STEADY_S - 1e-9);
        if to >= t_s.len() {
            break;
        }
        let Some(worst) = worst_drift(readings, from, to) else { continue };
        if worst.drift_k.abs() <= DRIFT_K {
            match runs.last_mut() {
                Some(last) if last.1 >= from => last.1 = to,
                _ => runs.push((from, to)),
            }
        }
        let is_better = |(_, best): &(f64, Drift<'_>)| worst.drift_k.abs() < best.drift_k.abs();
        if steadiest.as_ref().is_none_or(is_better) {
            steadiest = Some((t_s[from], worst));
        }
    }
    let heated = runs.iter().filter(|(from, to)| mean(&readings.control, *from, *to) >= HEATED_C);
    let longest = heated.max_by(|a, b| (t_s[a.1] - t_s[a.0]).total_cmp(&(t_s[b.1] - t_s[b.0])));
    match longest {
        Some((from, to)) => Ok(settled(readings, *from, *to)),
        None if !runs.is_empty() => Err(Unsettled {
            what: "the oven is steady only while it is cold".to_owned(),
            next: "bring it to the temperature you bake at, and log there".to_owned(),
        }),
        None => Err(never(steadiest)),
    }
}

fn never(steadiest: Option<(f64, Drift<'_>)>) -> Unsettled {
    let Some((from_s, worst)) = steadiest else {
        return Unsettled {
            what: "no 30 min have readings of every sensor without a gap of 2 min".to_owned(),
            next: "leave out the column of a sensor that failed, or log again".to_owned(),
        };
    };
    let moves = if worst.drift_k > 0.0 { "rises" } else { "falls" };
    Unsettled {
        what: format!(
            "no 30 min are steady: in the steadiest, from {:.0} min on, \"{}\" still {moves} by \
             {:.1} K; at most {DRIFT_K:.0} K is steady",
            from_s / 60.0,
            worst.name,
            worst.drift_k.abs()
        ),
        next: "hold the setpoint longer before you begin to count".to_owned(),
    }
}

/// The sensor that drifts most in a window; nothing where one is missing too long.
fn worst_drift(readings: &Readings, from: usize, to: usize) -> Option<Drift<'_>> {
    let mut worst: Option<Drift<'_>> = None;
    for column in std::iter::once(&readings.control).chain(&readings.places) {
        let drift_k = drift(&readings.t_s, column, from, to)?;
        if worst.as_ref().is_none_or(|worst| drift_k.abs() > worst.drift_k.abs()) {
            worst = Some(Drift { name: &column.name, drift_k });
        }
    }
    worst
}

/// Slope by least squares times the window's length, K; nothing where there is a gap.
fn drift(t_s: &[f64], column: &Column, from: usize, to: usize) -> Option<f64> {
    let (mut n, mut t, mut y, mut tt, mut ty) = (0.0, 0.0, 0.0, 0.0, 0.0);
    let mut last_s = t_s[from];
    for (at_s, celsius) in t_s[from..=to].iter().zip(&column.celsius[from..=to]) {
        if celsius.is_nan() {
            continue;
        }
        if at_s - last_s > GAP_S {
            return None;
        }
        last_s = *at_s;
        let since_s = at_s - t_s[from];
        (n, t, y) = (n + 1.0, t + since_s, y + celsius);
        (tt, ty) = (tt + since_s * since_s, ty + since_s * celsius);
    }
    let scatter = n * tt - t * t;
    if t_s[to] - last_s > GAP_S || scatter <= 0.0 {
        return None;
    }
    Some((n * ty - t * y) / scatter * (t_s[to] - t_s[from]))
}

fn mean(column: &Column, from: usize, to: usize) -> f64 {
    let there = column.celsius[from..=to].iter().filter(|celsius| !celsius.is_nan());
    let (sum, count) = there.fold((0.0, 0.0), |(sum, count), c| (sum + c, count + 1.0));
    sum / count
}

fn settled(readings: &Readings, from: usize, to: usize) -> Settled {
    let t_s = &readings.t_s;
    let place = |column: &Column| {
        let off = deviations(readings, column, from, to);
        let (least_k, greatest_k) = off
            .iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), k| (low.min(*k), high.max(*k)));
        let mean_c = mean(column, from, to);
        Place {
            name: column.name.clone(),
            mean_c,
            deviation_k: mean_c - mean(&readings.control, from, to),
            least_k,
            greatest_k,
            drift_k: drift(t_s, column, from, to).unwrap_or(f64::NAN),
        }
    };
    Settled {
        from_s: t_s[from],
        to_s: t_s[to],
        control_c: mean(&readings.control, from, to),
        places: readings.places.iter().map(place).collect(),
    }
}

/// Means over five minutes of what a place is off the control sensor, K; the last has what is left.
fn deviations(readings: &Readings, column: &Column, from: usize, to: usize) -> Vec<f64> {
    let first_s = readings.t_s[from];
    let blocks = libm::floor((readings.t_s[to] - first_s) / MEAN_S).max(1.0);
    let mut sums = vec![(0.0, 0.0); blocks as usize];
    for at in from..=to {
        let off_k = column.celsius[at] - readings.control.celsius[at];
        let block = libm::floor((readings.t_s[at] - first_s) / MEAN_S).min(blocks - 1.0);
        if let (false, Some(sum)) = (off_k.is_nan(), sums.get_mut(block as usize)) {
            *sum = (sum.0 + off_k, sum.1 + 1.0);
        }
    }
    sums.iter().filter(|(_, count)| *count > 0.0).map(|(sum, count)| sum / count).collect()
}
