//! Temperatures and times as a person reads them.
//!
//! Everything inside is °C and seconds; only what is shown goes through here. A bound is rounded
//! away from comfort: "at least" down, "at most" up, counted minutes down. Differences are another
//! kind: 1 K is 1.8 °F and never has the 32 in it.

use crate::files::quantity::Scale;
use clap::ValueEnum;
use std::fmt::Write as _;

/// What a rounding may forgive, in shown units: 300 °F is not quite 300 in single precision.
const ROUNDING_SLACK: f64 = 0.005;
/// 0 °C in K (definition of the Celsius scale).
const ZERO_CELSIUS_K: f64 = 273.15;

/// Joules in a kilowatt-hour.
pub const JOULES_PER_KWH: f64 = 3.6e6;

/// Units of temperature on screens and pictures.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default, ValueEnum)]
pub enum Units {
    /// Degrees Celsius.
    #[default]
    #[value(name = "c", alias = "C")]
    Celsius,
    /// Degrees Fahrenheit.
    #[value(name = "f", alias = "F")]
    Fahrenheit,
    /// Kelvin.
    #[value(name = "k", alias = "K")]
    Kelvin,
}

impl Units {
    /// The units of a scale a person wrote in.
    #[must_use]
    pub const fn of_scale(scale: Scale) -> Self {
        match scale {
            Scale::Celsius => Self::Celsius,
            Scale::Fahrenheit => Self::Fahrenheit,
            Scale::Kelvin => Self::Kelvin,
        }
    }

    /// The sign after a number.
    #[must_use]
    pub const fn sign(self) -> &'static str {
        match self {
            Self::Celsius => "°C",
            Self::Fahrenheit => "°F",
            Self::Kelvin => "K",
        }
    }

    /// A temperature in this unit.
    #[must_use]
    pub fn from_celsius(self, value_c: f64) -> f64 {
        match self {
            Self::Celsius => value_c,
            Self::Fahrenheit => value_c * 1.8 + 32.0,
            Self::Kelvin => value_c + ZERO_CELSIUS_K,
        }
    }

    /// A temperature of this unit in °C.
    #[must_use]
    pub fn to_celsius(self, value: f64) -> f64 {
        match self {
            Self::Celsius => value,
            Self::Fahrenheit => (value - 32.0) / 1.8,
            Self::Kelvin => value - ZERO_CELSIUS_K,
        }
    }

    /// A difference in this unit.
    #[must_use]
    pub fn from_kelvins(self, value_k: f64) -> f64 {
        if self == Self::Fahrenheit { value_k * 1.8 } else { value_k }
    }

    /// Shown steps in one degree: whole °F, tenths of °C and K.
    fn per_degree(self) -> f64 {
        if self == Self::Fahrenheit { 1.0 } else { 10.0 }
    }

    fn shown(self, value_c: f64, round: impl Fn(f64) -> f64) -> String {
        let steps = round(self.from_celsius(value_c) * self.per_degree());
        let decimals = usize::from(self != Self::Fahrenheit);
        format!("{:.decimals$} {}", steps / self.per_degree() + 0.0, self.sign())
    }

    /// A temperature to the nearest: `301 °F`, `149.4 °C`, `150.0 °C`.
    #[must_use]
    pub fn temperature(self, value_c: f64) -> String {
        self.shown(value_c, libm::round)
    }

    /// A temperature that is proven from below, rounded down.
    #[must_use]
    pub fn at_least(self, value_c: f64) -> String {
        self.shown(value_c, |steps| libm::floor(steps + ROUNDING_SLACK))
    }

    /// A temperature that is proven from above, rounded up.
    #[must_use]
    pub fn at_most(self, value_c: f64) -> String {
        self.shown(value_c, |steps| libm::ceil(steps - ROUNDING_SLACK))
    }

    /// A temperature that a file gives: `149 °C`; decimals only where the file has them.
    #[must_use]
    pub fn as_given(self, value_c: f64) -> String {
        format!("{} {}", self.tenths(value_c), self.sign())
    }

    fn tenths(self, value_c: f64) -> f64 {
        libm::round(self.from_celsius(value_c) * 10.0) / 10.0 + 0.0
    }

    /// A window: `300 to 351 °F`; decimals only where the file has them.
    #[must_use]
    pub fn window(self, at_least_c: f64, at_most_c: f64) -> String {
        format!("{} to {}", self.tenths(at_least_c), self.as_given(at_most_c))
    }

    /// A difference to the nearest tenth: `0.3 °F`.
    #[must_use]
    pub fn difference(self, value_k: f64) -> String {
        format!(
            "{:.1} {}",
            libm::round(self.from_kelvins(value_k) * 10.0) / 10.0 + 0.0,
            self.sign()
        )
    }

    /// The least difference told, K: a tenth of a degree.
    #[must_use]
    pub fn least_difference_k(self) -> f64 {
        0.1 / self.from_kelvins(1.0)
    }
}

/// A duration: `45 s`, `1 min 40 s`, `41 min`, `2 h`, `2 h 05 min`.
#[must_use]
pub fn duration(value_s: f64) -> String {
    let whole_s = libm::round(value_s.max(0.0)) as u64;
    let mut text = String::new();
    // Writing to a string cannot fail.
    let _ = match whole_s {
        0..60 => write!(text, "{whole_s} s"),
        60..600 if !whole_s.is_multiple_of(60) => {
            write!(text, "{} min {:02} s", whole_s / 60, whole_s % 60)
        }
        _ => {
            let minutes = (whole_s + 30) / 60;
            match (minutes / 60, minutes % 60) {
                (0 | 1, _) => write!(text, "{minutes} min"),
                (hours, 0) => write!(text, "{hours} h"),
                (hours, rest) => write!(text, "{hours} h {rest:02} min"),
            }
        }
    };
    text
}

/// Minutes that were had, rounded down: `59 min`; under two minutes in seconds.
#[must_use]
pub fn minutes_had(value_s: f64) -> String {
    let whole_s = libm::floor(value_s.max(0.0) + 1e-6) as u64;
    if whole_s != 0 && whole_s < 120 {
        format!("{whole_s} s")
    } else {
        format!("{} min", whole_s / 60)
    }
}

/// Minutes had of minutes wanted: `41 of 60 min`; in seconds when the wanted are no whole minutes.
#[must_use]
pub fn minutes_of(had_s: f64, wanted_s: f64) -> String {
    let had_s = libm::floor(had_s.max(0.0) + 1e-6) as u64;
    let wanted_s = libm::round(wanted_s) as u64;
    if wanted_s.is_multiple_of(60) {
        format!("{} of {} min", had_s / 60, wanted_s / 60)
    } else {
        format!("{had_s} of {wanted_s} s")
    }
}

/// A time since the bake's start: `1:05` is one hour and five minutes.
#[must_use]
pub fn h_mm(value_s: f64) -> String {
    let minutes = libm::floor(value_s.max(0.0) / 60.0 + 1e-6) as u64;
    format!("{}:{:02}", minutes / 60, minutes % 60)
}

/// Word for a number of things: `1 part`, `3 parts`.
#[must_use]
pub fn counted(number: usize, one: &str, more: &str) -> String {
    format!("{number} {}", if number == 1 { one } else { more })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bounds_round_away_from_comfort_and_windows_stay_as_written() {
        let least_c = f64::from(148.888_9_f32);
        assert_eq!(Units::Fahrenheit.at_least(least_c), "300 °F");
        assert_eq!(Units::Fahrenheit.at_least(148.86), "299 °F");
        assert_eq!(Units::Fahrenheit.at_most(148.92), "301 °F");
        assert_eq!(Units::Celsius.at_least(149.09), "149.0 °C");
        assert_eq!(Units::Celsius.at_most(149.01), "149.1 °C");
        assert_eq!(Units::Fahrenheit.window(least_c, 176.666_67), "300 to 350 °F");
        assert_eq!(Units::Celsius.window(149.0, 177.0), "149 to 177 °C");
        assert_eq!(Units::Celsius.as_given(148.95), "149 °C");
        assert_eq!(Units::Kelvin.temperature(20.0), "293.2 K");
    }

    #[test]
    fn a_difference_never_has_the_32_in_it() {
        assert_eq!(Units::Fahrenheit.difference(1.0), "1.8 °F");
        assert_eq!(Units::Kelvin.difference(-0.01), "0.0 K");
    }

    #[test]
    fn units_convert_there_and_back() {
        for units in [Units::Celsius, Units::Fahrenheit, Units::Kelvin] {
            assert!((units.to_celsius(units.from_celsius(163.0)) - 163.0).abs() < 1e-12);
        }
    }

    #[test]
    fn times_read_as_a_person_says_them() {
        assert_eq!(duration(59.6), "1 min");
        assert_eq!(duration(100.0), "1 min 40 s");
        assert_eq!(duration(3_600.0), "60 min");
        assert_eq!(duration(7_170.0), "2 h");
        assert_eq!(duration(7_530.0), "2 h 06 min");
        assert_eq!(minutes_had(3_599.9), "59 min");
        assert_eq!(minutes_had(0.0), "0 min");
        assert_eq!(minutes_of(2_489.0, 3_600.0), "41 of 60 min");
        assert_eq!(minutes_of(89.0, 90.0), "89 of 90 s");
        assert_eq!(h_mm(3_959.0), "1:05");
    }
}
