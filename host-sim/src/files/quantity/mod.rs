//! Quantities as people write them: a number, its unit, SI out.
//!
//! Reads `300 °F`, `300F`, `1 1/2 in`, `1 h 30 min`, `6 °C/min`, `60 W/(m K)`. A *difference* in °F
//! is scaled by 5/9 without the 32. Refuses, each with its repair: no unit, a decimal comma, curly
//! quotes, gauge numbers, a unit of another kind, not-a-number, infinities, and anything below
//! absolute zero. Works in one pass over at most 200 characters.

mod number;
#[cfg(test)]
mod tests;
mod unit;

pub use unit::Scale;

use number::{Number, NumberError};
use std::fmt::{self, Write as _};

/// Absolute zero, °C (definition of the kelvin).
pub const ABSOLUTE_ZERO_C: f64 = -273.15;
/// Longest text read as a quantity, bytes.
const TEXT_MAX: usize = 200;
/// Most of a text that a complaint shows, characters.
const SHOWN_MAX: usize = 40;

/// What kind of quantity is wanted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dimension {
    /// Absolute, °C out.
    Temperature,
    /// Difference, K out.
    Difference,
    /// K/s out.
    Rate,
    /// s out.
    Duration,
    /// m out.
    Length,
    /// m² out.
    Area,
    /// kg out.
    Mass,
    /// W out.
    Power,
    /// V out.
    Voltage,
    /// A out.
    Current,
    /// m/s out.
    Speed,
    /// kg/m³ out.
    Density,
    /// J/(kg K) out.
    SpecificHeat,
    /// W/(m K) out.
    Conductivity,
    /// J/K out.
    HeatCapacity,
    /// W/K out.
    Conductance,
    /// 1/K out.
    PerKelvin,
}

/// Why a text is not the quantity wanted, and what to write instead.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Complaint {
    /// What is wrong.
    pub what: String,
    /// What was expected.
    pub expected: String,
    /// What to do next.
    pub next: String,
}

impl Dimension {
    /// Its name with an article.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Temperature => "a temperature",
            Self::Difference => "a temperature difference",
            Self::Rate => "a rate of temperature",
            Self::Duration => "a time",
            Self::Length => "a length",
            Self::Area => "an area",
            Self::Mass => "a mass",
            Self::Power => "a power",
            Self::Voltage => "a voltage",
            Self::Current => "a current",
            Self::Speed => "a speed",
            Self::Density => "a density",
            Self::SpecificHeat => "a specific heat",
            Self::Conductivity => "a thermal conductivity",
            Self::HeatCapacity => "a heat capacity",
            Self::Conductance => "a heat conductance",
            Self::PerKelvin => "a gain",
        }
    }

    /// Examples a person can copy.
    #[must_use]
    pub fn examples(self) -> [&'static str; 2] {
        match self {
            Self::Temperature => ["149 °C", "300 °F"],
            Self::Difference => ["4 °C", "7 °F"],
            Self::Rate => ["6 °C/min", "10 °F/min"],
            Self::Duration => ["60 min", "1 h 30 min"],
            Self::Length => ["40 cm", "1 1/2 in"],
            Self::Area => ["120 cm2", "18 in2"],
            Self::Mass => ["62 g", "2 lb"],
            Self::Power => ["1500 W", "1.5 kW"],
            Self::Voltage => ["120 V", "230 V"],
            Self::Current => ["12.5 A", "10 A"],
            Self::Speed => ["2 m/s", "400 ft/min"],
            Self::Density => ["2700 kg/m3", "169 lb/ft3"],
            Self::SpecificHeat => ["900 J/(kg K)", "0.21 BTU/(lb °F)"],
            Self::Conductivity => ["60 W/(m K)", "35 BTU/(h ft °F)"],
            Self::HeatCapacity => ["6000 J/K", "6 kJ/K"],
            Self::Conductance => ["0.5 W/K", "0.5 W/°C"],
            Self::PerKelvin => ["2 %/K", "1 %/°F"],
        }
    }

    /// "a temperature, such as "149 °C" or "300 °F"".
    #[must_use]
    pub fn wanted(self) -> String {
        let [first, second] = self.examples();
        format!("{}, such as \"{first}\" or \"{second}\"", self.name())
    }

    /// Two units a bare number could have meant.
    fn units(self) -> [&'static str; 2] {
        match self {
            Self::Temperature | Self::Difference => ["°C", "°F"],
            Self::Rate => ["°C/min", "°F/min"],
            Self::Duration => ["min", "h"],
            Self::Length => ["mm", "in"],
            Self::Area => ["cm2", "in2"],
            Self::Mass => ["g", "oz"],
            Self::Power => ["W", "kW"],
            Self::Voltage => ["V", "V"],
            Self::Current => ["A", "A"],
            Self::Speed => ["m/s", "ft/min"],
            Self::Density => ["kg/m3", "lb/ft3"],
            Self::SpecificHeat => ["J/(kg K)", "kJ/(kg K)"],
            Self::Conductivity => ["W/(m K)", "BTU/(h ft °F)"],
            Self::HeatCapacity => ["J/K", "kJ/K"],
            Self::Conductance => ["W/K", "W/°C"],
            Self::PerKelvin => ["%/K", "%/°F"],
        }
    }

    /// Terms may be added up: `1 h 30 min`, `5 ft 3 in`, `2 lb 4 oz`.
    fn adds_up(self) -> bool {
        matches!(self, Self::Duration | Self::Length | Self::Mass)
    }

    fn complain(self, what: String, next: String) -> Complaint {
        Complaint { what, expected: self.wanted(), next }
    }

    /// The complaint about a number that came without a unit.
    #[must_use]
    pub fn no_unit(self, number: &impl fmt::Display) -> Complaint {
        let [first, second] = self.units();
        let next = if first == second {
            format!("write \"{number} {first}\"")
        } else {
            format!("write \"{number} {first}\" or \"{number} {second}\", whichever is meant")
        };
        self.complain(format!("{number} has no unit"), next)
    }
}

/// Reads one quantity.
///
/// # Errors
/// What is wrong with it, what was expected and what to write instead.
pub fn parse(text: &str, dimension: Dimension) -> Result<f64, Complaint> {
    let trimmed = text.trim();
    refuse_characters(trimmed, dimension)?;
    let mut total = 0.0;
    let mut rest = trimmed;
    let mut terms = 0;
    while terms == 0 || !rest.is_empty() {
        let (number, after) = read_number(rest, trimmed, dimension, terms)?;
        let (unit_text, later) = cut_term(after, dimension);
        total += term(number, unit_text.trim(), trimmed, dimension)?;
        rest = later.trim_start();
        terms += 1;
    }
    check_size(total, trimmed, dimension)?;
    Ok(total)
}

/// The scale a temperature is written in, if it is one.
#[must_use]
pub fn scale_of(text: &str) -> Option<Scale> {
    let (_, rest) = Number::read(text.trim()).ok()?;
    unit::scale(rest)
}

fn refuse_characters(text: &str, dimension: Dimension) -> Result<(), Complaint> {
    let shown = shorten(text);
    if text.is_empty() {
        let next = format!("write one, such as \"{}\"", dimension.examples()[0]);
        return Err(dimension.complain("an empty text is no quantity".to_owned(), next));
    }
    if text.len() > TEXT_MAX {
        let next = "write one number and its unit".to_owned();
        return Err(dimension.complain(format!("\"{shown}\" is too long to be a quantity"), next));
    }
    if text.contains(['“', '”', '‘', '’', '„', '″', '′', '"', '\'']) {
        let next = "write the unit in letters: in for inches, ft for feet, min for minutes";
        return Err(
            dimension.complain(format!("\"{shown}\" has a quotation mark in it"), next.to_owned())
        );
    }
    let comma_in_number = text
        .char_indices()
        .any(|(at, c)| c == ',' && text[..at].ends_with(|c: char| c.is_ascii_digit()));
    if comma_in_number {
        let next = format!("write a point: \"{}\"", text.replacen(',', ".", 1));
        return Err(dimension.complain(format!("\"{shown}\" has a comma in the number"), next));
    }
    Ok(())
}

fn read_number<'t>(
    rest: &'t str,
    whole: &str,
    dimension: Dimension,
    terms: usize,
) -> Result<(f64, &'t str), Complaint> {
    let shown = shorten(whole);
    match Number::read(rest) {
        Ok((Number(value), after)) => {
            if terms > 0 && (value < 0.0 || !dimension.adds_up()) {
                let next = "write one number and one unit".to_owned();
                return Err(
                    dimension.complain(format!("\"{shown}\" has more than one number"), next)
                );
            }
            Ok((value, after))
        }
        Err(NumberError::NotFinite) => Err(dimension.complain(
            format!("\"{shown}\" is not a number that can be used"),
            "write an ordinary number".to_owned(),
        )),
        Err(NumberError::ZeroBelow) => Err(dimension.complain(
            format!("\"{shown}\" divides by zero"),
            "write an ordinary fraction, such as \"1 1/2 in\"".to_owned(),
        )),
        Err(NumberError::Missing) => {
            let next = format!("start with the number, such as \"{}\"", dimension.examples()[0]);
            Err(dimension.complain(format!("\"{shown}\" has no number"), next))
        }
    }
}

/// Splits the unit of this term from the terms that follow.
fn cut_term(after: &str, dimension: Dimension) -> (&str, &str) {
    if !dimension.adds_up() {
        return (after, "");
    }
    let mut previous = ' ';
    let mut chars = after.char_indices().peekable();
    while let Some((at, c)) = chars.next() {
        let ends = chars.peek().is_none_or(|&(_, next)| !next.is_alphanumeric());
        // `in2` is an area, `1h30min` two terms.
        let is_power = previous.is_alphabetic() && matches!(c, '2' | '3') && ends;
        if (c.is_ascii_digit() && !is_power) || matches!(c, '½' | '¼' | '¾' | '+' | '-') {
            return after.split_at_checked(at).unwrap_or((after, ""));
        }
        previous = c;
    }
    (after, "")
}

fn term(value: f64, unit_text: &str, whole: &str, dimension: Dimension) -> Result<f64, Complaint> {
    let shown = shorten(whole);
    if unit_text.is_empty() {
        return Err(dimension.no_unit(&shown));
    }
    let lower = unit_text.to_ascii_lowercase();
    if ["ga", "ga.", "gauge", "gage", "awg", "swg"].contains(&lower.as_str()) {
        let next = "measure the thickness and write it, such as \"1.2 mm\" or \"0.048 in\"";
        let what = format!(
            "\"{shown}\" is a gauge number, which means another thickness in steel, aluminium and wire"
        );
        return Err(dimension.complain(what, next.to_owned()));
    }
    if let Some(scale) = unit::scale(unit_text) {
        return match dimension {
            Dimension::Temperature => Ok(scale.to_celsius(value)),
            Dimension::Difference => Ok(value * scale.degree_k()),
            _ => Err(wrong_kind(shown, "a temperature", dimension)),
        };
    }
    let unit =
        unit::parse(unit_text).map_err(|unknown| unknown_unit(shown, &unknown, dimension))?;
    if unit.powers != dimension.powers() || dimension == Dimension::Temperature {
        let is = unit::describe(unit.powers).unwrap_or("of another kind");
        return Err(wrong_kind(shown, is, dimension));
    }
    Ok(value * unit.factor)
}

fn wrong_kind(shown: Shortened<'_>, is: &str, dimension: Dimension) -> Complaint {
    let next = format!("write {}", dimension.wanted());
    dimension.complain(format!("\"{shown}\" is {is}, not {}", dimension.name()), next)
}

fn unknown_unit(shown: Shortened<'_>, unknown: &str, dimension: Dimension) -> Complaint {
    let nearest = super::problem::nearest(unknown, unit::symbols_for(dimension));
    let next = match nearest {
        Some(name) => {
            format!("did you mean \"{name}\"? units here: {}", dimension.units().join(", "))
        }
        None => format!("units here: {}", dimension.units().join(", ")),
    };
    dimension.complain(format!("\"{shown}\" has a unit that is not known: {unknown}"), next)
}

fn check_size(value: f64, whole: &str, dimension: Dimension) -> Result<(), Complaint> {
    let shown = shorten(whole);
    if !value.is_finite() {
        let next = "write an ordinary number".to_owned();
        return Err(
            dimension.complain(format!("\"{shown}\" is not a number that can be used"), next)
        );
    }
    if dimension == Dimension::Temperature && value < ABSOLUTE_ZERO_C {
        let next = "check the sign and the unit".to_owned();
        return Err(dimension.complain(format!("\"{shown}\" is below absolute zero"), next));
    }
    Ok(())
}

/// At most forty characters of what was written, control characters shown as `?`.
///
/// WHY not a text: most of what is read is in order and never shown.
#[derive(Clone, Copy)]
pub(super) struct Shortened<'t>(&'t str);

/// What was written, as a complaint shows it.
pub(super) fn shorten(text: &str) -> Shortened<'_> {
    Shortened(text)
}

impl fmt::Display for Shortened<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let is_long = self.0.chars().nth(SHOWN_MAX).is_some();
        let taken = if is_long { SHOWN_MAX - 1 } else { SHOWN_MAX };
        let clean = |c: char| if c.is_control() { '?' } else { c };
        let mut shown = self.0.chars().take(taken).map(clean).chain(is_long.then_some('…'));
        shown.try_for_each(|c| f.write_char(c))
    }
}
