//! What the logs tell of what was asked, and what they do not.
//!
//! Three things must hold before a number is taken over: the log has what it takes (a stretch without
//! heat for losses and power, a probe on a part for the parts' exchange); its interval is clearly
//! narrower than the file's spread; and it lies where an oven can be. The interval counts everything
//! else that is not known, so what two unknowns can do alike is told for neither.

use super::course::{Act, Course};
use super::least::{Case, Rest};
use super::unknowns::{Prior, Quantity, Unknown, is_probed};

/// Standard deviations of a 95 % interval.
const NINETEEN_IN_TWENTY: f64 = 1.96;
/// The same of what is uniform over its spread: 0.95 √3.
const OF_UNIFORM: f64 = 1.645;
/// An interval must be narrower than the file's spread by this factor to be taken over.
const NARROWER: f64 = 0.85;
/// Two unknowns correlated by more than this do alike.
const ALIKE: f64 = 0.8;
/// Heater off for so long, ticks (10 min), …
const OFF_TICKS: u32 = 6_000;
/// … while the reading falls by so much, K, is a stretch without heat.
const OFF_FALLS_K: f64 = 10.0;
/// A probe that rises by less says nothing of its part, K.
const PROBE_RISES_K: f64 = 20.0;
/// Where factors can be: the reader's limits.
const FACTORS: (f64, f64) = (0.2, 6.0);
/// Where the factor on the film between air and liner can be.
const LINER: (f64, f64) = (0.1, 20.0);

/// Allowance for a real oven not being this plant, as a share of the value (of the wall view, the
/// share itself): set by the 200 cases of `benches/fit.rs`, whose ovens differ from this plant in
/// cells, films, mains and room.
fn allowance(quantity: Quantity) -> f64 {
    match quantity {
        Quantity::Losses => 0.04,
        Quantity::WallHeatCapacity => 0.08,
        Quantity::PartExchange => 0.06,
        Quantity::HeaterPower => 0.05,
        Quantity::SensorLag => 0.10,
        Quantity::WallView => 0.01,
    }
}

/// How an estimate stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Standing {
    /// It is taken over.
    Told,
    /// It is not.
    NotTold {
        /// Why.
        why: String,
        /// The step test that would tell it.
        next: String,
    },
}

/// What the logs say of one quantity.
#[derive(Clone, Debug, PartialEq)]
pub struct Estimate {
    /// Which.
    pub quantity: Quantity,
    /// By the file: its value and half of its spread.
    pub was: (f64, f64),
    /// By the logs.
    pub value: f64,
    /// Standard error, a fraction of the value; of the wall view, the share itself.
    pub standard_error: f64,
    /// What is allowed for the plant's own error, the same way.
    pub allowance: f64,
    /// 95 % interval with the allowance.
    pub interval: (f64, f64),
    /// What else the same spread must hold.
    pub shares_with: f64,
    /// Taken over or not.
    pub standing: Standing,
}

impl Estimate {
    /// It is taken over.
    #[must_use]
    pub fn is_told(&self) -> bool {
        self.standing == Standing::Told
    }

    /// Half of the spread that goes with it, as a file has it.
    #[must_use]
    pub fn half(&self) -> f64 {
        let (low, high) = self.interval;
        let half = if self.quantity.is_factor() {
            (1.0 - low / self.value).max(high / self.value - 1.0)
        } else {
            (self.value - low).max(high - self.value)
        };
        half.max(self.shares_with)
    }

    /// Its whole interval lies outside what the file said.
    #[must_use]
    pub fn is_apart(&self) -> bool {
        let (value, half) = self.was;
        let half = if self.quantity.is_factor() { half * value } else { half };
        self.interval.0 > value + half || self.interval.1 < value - half
    }

    /// It lies outside what the file said.
    #[must_use]
    pub fn is_surprising(&self) -> bool {
        let (value, half) = self.was;
        let half = if self.quantity.is_factor() { half * value } else { half };
        (self.value - value).abs() > half
    }
}

/// What was judged.
pub(super) struct Judged {
    pub estimates: Vec<Estimate>,
    pub liner_exchange: Option<f64>,
}

/// The probe of a log rises with its part.
pub(super) fn probe_rises(course: &Course) -> bool {
    let readings = course.probe.iter().map(|sample| sample.celsius);
    let (low, high) = readings
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), c| (low.min(c), high.max(c)));
    is_probed(&course.load) && high - low >= PROBE_RISES_K
}

/// Ten minutes without heat in which the reading falls.
fn has_off(course: &Course) -> bool {
    let mut from = 0;
    for (to, duty) in &course.duty {
        let shut = !course.acts.iter().any(|(at, act)| {
            matches!(act, Act::Door(share) if *share > 0.0) && (from..*to).contains(at)
        });
        if *duty <= 0.0 && *to - from >= OFF_TICKS && shut {
            let within = course.air.iter().filter(|sample| (from..*to).contains(&sample.tick));
            let (mut first, mut last) = (f64::NAN, f64::NAN);
            for sample in within {
                first = if first.is_nan() { sample.celsius } else { first };
                last = sample.celsius;
            }
            if first - last >= OFF_FALLS_K {
                return true;
            }
        }
        from = *to;
    }
    false
}

/// Judges every quantity.
pub(super) fn judge(case: &Case<'_>, rest: &Rest, probed: bool) -> Judged {
    let off = case.courses.iter().any(has_off);
    let loaded = case.courses.iter().any(|course| !course.load.parts.is_empty());
    let estimates: Vec<Estimate> = Quantity::ALL
        .into_iter()
        .map(|quantity| {
            let mut estimate = estimate(case, rest, quantity, probed);
            estimate.standing = standing(case, rest, &estimate, Has { off, loaded, probed });
            estimate
        })
        .collect();
    let mut estimates = estimates;
    let liner_exchange = liner(case, rest, &mut estimates, probed);
    Judged { estimates, liner_exchange }
}

/// What the logs have.
#[derive(Clone, Copy)]
struct Has {
    off: bool,
    loaded: bool,
    probed: bool,
}

fn place(priors: &[Prior], unknown: Unknown) -> Option<usize> {
    priors.iter().position(|prior| prior.unknown == unknown)
}

/// An unknown as it was found, in the prior's own unit.
struct Found {
    middle: f64,
    standard_error: f64,
    /// Half of its 95 % interval.
    reach: f64,
}

/// An unknown by the logs. Where they tell losses, walls and the film between air and liner against
/// power only, what they tell is the ratio: it is put on the power of the file, and the whole spread
/// of that takes its part. What details of the model say of power all the same was tried, and was
/// wrong too often.
fn found(case: &Case<'_>, rest: &Rest, index: usize, probed: bool) -> Found {
    let prior = case.priors[index];
    let covariance = |a: usize, b: usize| {
        case.priors[a].deviation * case.priors[b].deviation * rest.covariance[(a, b)]
    };
    let mut found = Found {
        middle: prior.at(rest.values[index]),
        standard_error: libm::sqrt(covariance(index, index)),
        reach: NINETEEN_IN_TWENTY * libm::sqrt(covariance(index, index)),
    };
    let power = place(case.priors, Unknown::Asked(Quantity::HeaterPower));
    if let (Some(power), false, true) = (power, probed, goes_with_power(prior.unknown)) {
        let unknown = case.priors[power].deviation;
        let ratio =
            covariance(index, index) + covariance(power, power) - 2.0 * covariance(index, power);
        found.middle -= case.priors[power].at(rest.values[power]);
        found.standard_error = libm::sqrt(ratio + unknown * unknown);
        let fitted = NINETEEN_IN_TWENTY * NINETEEN_IN_TWENTY * ratio;
        found.reach = libm::sqrt(fitted + OF_UNIFORM * OF_UNIFORM * unknown * unknown);
    }
    found
}

/// With all of these changed alike, and power too, an empty oven takes the same course.
fn goes_with_power(unknown: Unknown) -> bool {
    matches!(unknown, Unknown::Asked(Quantity::Losses | Quantity::WallHeatCapacity) | Unknown::Tie)
}

fn estimate(case: &Case<'_>, rest: &Rest, quantity: Quantity, probed: bool) -> Estimate {
    let was = quantity.told(case.oven);
    let allowance = allowance(quantity);
    let index = place(case.priors, Unknown::Asked(quantity));
    let nothing = Found { middle: 0.0, standard_error: 0.0, reach: 0.0 };
    let Found { middle, standard_error, reach } =
        index.map_or(nothing, |index| found(case, rest, index, probed));
    let reach = reach + allowance;
    let (value, interval) = match index {
        None => (was.0, (was.0, was.0)),
        Some(_) if quantity.is_factor() => {
            let value = was.0 * libm::exp(middle);
            (value, (value * libm::exp(-reach), value * libm::exp(reach)))
        }
        Some(_) => {
            let value = middle.clamp(0.0, 0.9);
            (value, ((value - reach).max(0.0), value + reach))
        }
    };
    Estimate {
        quantity,
        was,
        value,
        standard_error,
        allowance,
        interval,
        shares_with: 0.0,
        standing: Standing::Told,
    }
}

fn standing(case: &Case<'_>, rest: &Rest, estimate: &Estimate, has: Has) -> Standing {
    let quantity = estimate.quantity;
    let not = |why: String| Standing::NotTold { why, next: next(quantity).to_owned() };
    let Some(index) = place(case.priors, Unknown::Asked(quantity)) else {
        return not("the file knows it exactly: its spread is 0".to_owned());
    };
    let needs_off = matches!(quantity, Quantity::Losses | Quantity::HeaterPower);
    if quantity == Quantity::PartExchange && !has.probed {
        let why = if has.loaded {
            "air alone cannot tell how parts follow it, and no part probe rises with its part"
        } else {
            "nothing with a part probe was inside"
        };
        return not(why.to_owned());
    }
    if needs_off && !has.off {
        return not("there is no stretch of 10 min without heat, door shut, in which the air \
                    falls by 10 K: losses are not told from power"
            .to_owned());
    }
    if quantity == Quantity::HeaterPower && !has.probed {
        return not("losses, walls and power are told against each other only; what tells power \
                    itself is weighed parts inside with a probe on one"
            .to_owned());
    }
    let is_factor = quantity.is_factor();
    if is_factor && quantity != Quantity::SensorLag {
        let (low, high) = FACTORS;
        if !(low..=high).contains(&estimate.value) {
            return not(format!("{:.2} times what the sizes say is no oven's", estimate.value));
        }
    }
    let of_sensor = matches!(quantity, Quantity::SensorLag | Quantity::WallView);
    if of_sensor && estimate.is_apart() {
        // Seen once in 200 cases: another minimum, in which the wall takes the liner's part.
        let what =
            format!("{:.3} by the log is apart from all the file holds possible", estimate.value);
        return not(format!("{what}; check where the sensor hangs and what the file says of it"));
    }
    let (half, was) = (estimate.half(), estimate.was.1);
    if half > NARROWER * was {
        let (half, was) = (share(quantity, half), share(quantity, was));
        let mut why = format!("the log leaves ± {half}, no narrower than the file's ± {was}");
        if let Some(other) = alike(case, rest, index) {
            why.push_str(&format!("; {other} does the same to the readings"));
        }
        return not(why);
    }
    Standing::Told
}

/// A spread as a person reads it.
#[must_use]
pub(super) fn share(quantity: Quantity, half: f64) -> String {
    if quantity.is_factor() { format!("{:.0} %", 100.0 * half) } else { format!("{half:.3}") }
}

/// What moves the readings most like this.
fn alike(case: &Case<'_>, rest: &Rest, index: usize) -> Option<&'static str> {
    let covariance = &rest.covariance;
    let correlation = |other: usize| {
        let scale = libm::sqrt(covariance[(index, index)] * covariance[(other, other)]);
        (covariance[(index, other)] / scale).abs()
    };
    let others = (0..case.priors.len()).filter(|other| *other != index);
    let worst = others.max_by(|a, b| correlation(*a).total_cmp(&correlation(*b)))?;
    (correlation(worst) > ALIKE).then(|| case.priors[worst].unknown.words())
}

/// The step test that tells a quantity.
fn next(quantity: Quantity) -> &'static str {
    match quantity {
        Quantity::Losses => {
            "empty and from cold, hold 150 °C for 60 min, then heater off and door shut for 60 min"
        }
        Quantity::WallHeatCapacity => {
            "empty and from cold, full power to 150 °C without a stop, then heater off and door \
             shut for 60 min"
        }
        Quantity::HeaterPower => {
            "measure volts and amps at the heater and write them into the file; or the step test \
             with a few kilograms of weighed parts inside and the probe clamped to one"
        }
        Quantity::PartExchange => {
            "clamp the probe to one part (probe = true in the load), put it in cold, heat to \
             150 °C and hold for 60 min"
        }
        Quantity::SensorLag | Quantity::WallView => {
            "from a steady 150 °C, heater off for 10 min and full power for 5 min, three times"
        }
    }
}

/// The film between air and liner goes with the parts' exchange in a file's one spread: told, that
/// spread must hold both.
fn liner(case: &Case<'_>, rest: &Rest, estimates: &mut [Estimate], probed: bool) -> Option<f64> {
    let index = place(case.priors, Unknown::Tie)?;
    let Found { middle: tie, reach, .. } = found(case, rest, index, probed);
    let told = case.oven.calibration;
    let exchange = estimates.iter_mut().find(|found| found.quantity == Quantity::PartExchange)?;
    let half = libm::exp(reach + exchange.allowance) - 1.0;
    let parts = if exchange.is_told() { exchange.value } else { told.part_exchange };
    if exchange.is_told() {
        exchange.shares_with = half;
    }
    if half > NARROWER * exchange.was.1 {
        if exchange.is_told() {
            exchange.standing = Standing::NotTold {
                why: "the film between air and liner, which the same spread is for, is not told"
                    .to_owned(),
                next: next(Quantity::WallHeatCapacity).to_owned(),
            };
        }
        return None;
    }
    let factor = told.liner_exchange * libm::exp(tie) * told.part_exchange / parts;
    (LINER.0..=LINER.1).contains(&factor).then_some(factor)
}
