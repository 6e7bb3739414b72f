//! Units as people write them: single symbols, products, quotients and powers of them.
//!
//! A unit is a factor to SI and the powers of kilogram, metre, second, kelvin and ampere it stands
//! for, so `W/(m K)` and `BTU/(h ft °F)` are read by the same few lines and a wrong dimension is
//! found by comparing five small numbers. It refuses what it does not know; it never guesses.

use super::Dimension;

/// Powers of kg, m, s, K, A.
pub(super) type Powers = [i8; 5];

/// A unit: what one of it is in SI, and of what.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Unit {
    /// One of it, in SI.
    pub(super) factor: f64,
    /// Of what.
    pub(super) powers: Powers,
}

/// A scale of absolute temperature.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Scale {
    /// Degrees Celsius.
    Celsius,
    /// Degrees Fahrenheit.
    Fahrenheit,
    /// Kelvins.
    Kelvin,
}

const NONE: Powers = [0; 5];
const KG: Powers = [1, 0, 0, 0, 0];
const M: Powers = [0, 1, 0, 0, 0];
const M2: Powers = [0, 2, 0, 0, 0];
const M3: Powers = [0, 3, 0, 0, 0];
const S: Powers = [0, 0, 1, 0, 0];
const K: Powers = [0, 0, 0, 1, 0];
const A: Powers = [0, 0, 0, 0, 1];
const M_PER_S: Powers = [0, 1, -1, 0, 0];
const W: Powers = [1, 2, -3, 0, 0];
const J: Powers = [1, 2, -2, 0, 0];
const V: Powers = [1, 2, -3, 0, -1];

/// Inch and pound are exact by definition (international yard and pound agreement, 1959); the BTU
/// is the International Table one, 1055.05585262 J; the calorie 4.1868 J likewise.
const SYMBOLS: &[(&[&str], f64, Powers)] = &[
    (&["kg", "kilogram", "kilograms", "kilo", "kilos"], 1.0, KG),
    (&["g", "gram", "grams"], 1e-3, KG),
    (&["mg"], 1e-6, KG),
    (&["lb", "lbs", "pound", "pounds"], 0.453_592_37, KG),
    (&["oz", "ounce", "ounces"], 0.453_592_37 / 16.0, KG),
    (&["m", "metre", "metres", "meter", "meters"], 1.0, M),
    (&["dm"], 0.1, M),
    (&["cm"], 0.01, M),
    (&["mm"], 1e-3, M),
    (&["µm", "μm", "um", "micron", "microns"], 1e-6, M),
    (&["km"], 1e3, M),
    (&["in", "inch", "inches"], 0.0254, M),
    (&["ft", "foot", "feet"], 0.3048, M),
    (&["mi"], 1609.344, M),
    (&["cc"], 1e-6, M3),
    (&["l", "L", "litre", "litres", "liter", "liters"], 1e-3, M3),
    (&["s", "sec", "secs", "second", "seconds"], 1.0, S),
    (&["ms"], 1e-3, S),
    (&["min", "mins", "minute", "minutes"], 60.0, S),
    (&["h", "hr", "hrs", "hour", "hours"], 3600.0, S),
    (&["day", "days"], 86_400.0, S),
    (&["fpm"], 0.3048 / 60.0, M_PER_S),
    (&["mph"], 0.447_04, M_PER_S),
    (&["W", "watt", "watts"], 1.0, W),
    (&["kW", "KW", "kw", "kilowatt", "kilowatts"], 1e3, W),
    (&["mW"], 1e-3, W),
    (&["VA"], 1.0, W),
    (&["J", "joule", "joules"], 1.0, J),
    (&["kJ"], 1e3, J),
    (&["cal"], 4.1868, J),
    (&["kcal"], 4186.8, J),
    (&["BTU", "Btu", "btu"], 1_055.055_852_62, J),
    (&["Wh"], 3600.0, J),
    (&["kWh"], 3.6e6, J),
    (&["V", "volt", "volts"], 1.0, V),
    (&["A", "amp", "amps", "ampere", "amperes"], 1.0, A),
    (&["%"], 0.01, NONE),
];

const CELSIUS: &[&str] =
    &["°C", "C", "c", "degC", "degc", "ºC", "℃", "°c", "Celsius", "celsius", "centigrade", "C°"];
const FAHRENHEIT: &[&str] =
    &["°F", "F", "f", "degF", "degf", "ºF", "℉", "°f", "Fahrenheit", "fahrenheit", "F°"];
const KELVIN: &[&str] = &["K", "k", "°K", "Kelvin", "kelvin", "kelvins", "degK"];

/// The scale a single temperature unit names; white space inside (`deg F`, `° F`) does not matter.
pub(super) fn scale(text: &str) -> Option<Scale> {
    let mut bare: String = text.chars().filter(|c| !c.is_whitespace()).collect();
    for long in ["degrees", "degree"] {
        if let Some(rest) = bare.strip_prefix(long) {
            bare = format!("deg{rest}");
        }
    }
    if let Some(rest) = bare.strip_prefix("deg").filter(|rest| rest.chars().count() > 1) {
        bare = rest.to_owned();
    }
    let bare = bare.as_str();
    if CELSIUS.contains(&bare) {
        Some(Scale::Celsius)
    } else if FAHRENHEIT.contains(&bare) {
        Some(Scale::Fahrenheit)
    } else if KELVIN.contains(&bare) {
        Some(Scale::Kelvin)
    } else {
        None
    }
}

impl Scale {
    /// One degree of it, K.
    #[must_use]
    pub fn degree_k(self) -> f64 {
        if self == Self::Fahrenheit { 5.0 / 9.0 } else { 1.0 }
    }

    /// A temperature on this scale in °C; whole °C stay exact.
    #[must_use]
    pub fn to_celsius(self, value: f64) -> f64 {
        match self {
            Self::Celsius => value,
            Self::Fahrenheit => (value - 32.0) * 5.0 / 9.0,
            Self::Kelvin => value - 273.15,
        }
    }

    /// A temperature in °C on this scale.
    #[must_use]
    pub fn from_celsius(self, celsius: f64) -> f64 {
        match self {
            Self::Celsius => celsius,
            Self::Fahrenheit => celsius * 9.0 / 5.0 + 32.0,
            Self::Kelvin => celsius + 273.15,
        }
    }

    /// How its unit is written.
    #[must_use]
    pub fn symbol(self) -> &'static str {
        match self {
            Self::Celsius => "°C",
            Self::Fahrenheit => "°F",
            Self::Kelvin => "K",
        }
    }
}

/// A known symbol's unit.
fn symbol(name: &str) -> Option<Unit> {
    if let Some(scale) = scale(name) {
        return Some(Unit { factor: scale.degree_k(), powers: K });
    }
    SYMBOLS
        .iter()
        .find(|(names, ..)| names.contains(&name))
        .map(|&(_, factor, powers)| Unit { factor, powers })
}

/// Symbols for "did you mean": those that alone measure what is wanted; of a kind that has none of
/// its own, every symbol.
pub(super) fn symbols_for(dimension: Dimension) -> Vec<&'static str> {
    let degrees = || [CELSIUS, FAHRENHEIT, KELVIN].concat();
    let named = |(names, ..): &(&[&'static str], f64, Powers)| names.to_vec();
    if dimension.powers() == K {
        return degrees();
    }
    let own: Vec<&str> = SYMBOLS
        .iter()
        .filter(|(.., powers)| *powers == dimension.powers())
        .flat_map(named)
        .collect();
    if own.is_empty() { SYMBOLS.iter().flat_map(named).chain(degrees()).collect() } else { own }
}

/// A symbol, or a mass or length and a degree written together (`kgK`, `mK`, `lb°F`).
fn one_or_two(name: &str) -> Option<Unit> {
    symbol(name).or_else(|| {
        ["kg", "g", "m", "lb", "ft"].into_iter().find_map(|left| {
            let degree = scale(name.strip_prefix(left)?)?.degree_k();
            Some(symbol(left)?.times(Unit { factor: degree, powers: K }, 1))
        })
    })
}

impl Unit {
    fn times(self, other: Self, power: i8) -> Self {
        let mut powers = self.powers;
        for (mine, theirs) in powers.iter_mut().zip(other.powers) {
            *mine = mine.saturating_add(theirs.saturating_mul(power));
        }
        Self { factor: self.factor * libm::pow(other.factor, f64::from(power)), powers }
    }
}

/// Reads a unit; the error is the symbol that is not known.
pub(super) fn parse(text: &str) -> Result<Unit, String> {
    let spaced = text.replace("sq in", "in2").replace("sq ft", "ft2").replace("deg ", "deg");
    let spaced = spaced.replace("° ", "°").replace("º ", "°");
    let mut tokens = Tokens { rest: spaced.as_str() };
    let unit = tokens.expression(0)?;
    match tokens.next() {
        None => Ok(unit),
        Some(token) => Err(token.to_owned()),
    }
}

/// Cuts a unit into symbols, signs and brackets.
struct Tokens<'t> {
    rest: &'t str,
}

/// Brackets inside brackets are read this deep.
const DEPTH_MAX: usize = 4;

impl<'t> Tokens<'t> {
    fn peek(&self) -> Option<char> {
        self.rest.trim_start_matches([' ', '\u{a0}', '·', '⋅', '*', '.']).chars().next()
    }

    fn next(&mut self) -> Option<&'t str> {
        self.rest = self.rest.trim_start_matches([' ', '\u{a0}', '·', '⋅', '*', '.']);
        let first = self.rest.chars().next()?;
        let length = if "()/".contains(first) || !is_symbol(first) {
            first.len_utf8()
        } else {
            self.rest.find(|c| !is_symbol(c)).unwrap_or(self.rest.len())
        };
        let (token, rest) = self.rest.split_at_checked(length)?;
        self.rest = rest;
        Some(token)
    }

    /// Everything after a `/` on one level is below the line: `W/m K` is watts per (metre kelvin).
    fn expression(&mut self, depth: usize) -> Result<Unit, String> {
        let mut unit = Unit { factor: 1.0, powers: NONE };
        let mut sign = 1;
        while let Some(first) = self.peek() {
            match first {
                ')' => break,
                '/' => {
                    let _ = self.next();
                    sign = -1;
                }
                '(' if depth < DEPTH_MAX => {
                    let _ = self.next();
                    let inner = self.expression(depth + 1)?;
                    if self.next() != Some(")") {
                        return Err("(".to_owned());
                    }
                    unit = unit.times(inner, sign * self.power()?);
                }
                _ => {
                    let name = self.next().unwrap_or_default();
                    let inner = one_or_two(name).ok_or_else(|| name.to_owned())?;
                    unit = unit.times(inner, sign * self.power()?);
                }
            }
        }
        Ok(unit)
    }

    /// `2`, `²`, `^2`, `3`, `³`; 1 where none is written.
    fn power(&mut self) -> Result<i8, String> {
        let rest = self.rest.strip_prefix('^').unwrap_or(self.rest);
        let power = match rest.chars().next() {
            Some('2' | '²') => 2,
            Some('3' | '³') => 3,
            Some(c) if c.is_ascii_digit() => return Err(c.to_string()),
            _ => 1,
        };
        if power > 1 {
            let mut chars = rest.chars();
            let _ = chars.next();
            self.rest = chars.as_str();
        }
        Ok(power)
    }
}

/// A character a symbol may consist of.
fn is_symbol(c: char) -> bool {
    (c.is_alphabetic() && c != '²') || matches!(c, '°' | 'º' | 'µ' | '%' | '℃' | '℉')
}

/// What a unit measures, in words, where it has a name.
pub(super) fn describe(powers: Powers) -> Option<&'static str> {
    let all = [
        Dimension::Difference,
        Dimension::Rate,
        Dimension::Duration,
        Dimension::Length,
        Dimension::Area,
        Dimension::Mass,
        Dimension::Power,
        Dimension::Voltage,
        Dimension::Current,
        Dimension::Speed,
        Dimension::Density,
        Dimension::SpecificHeat,
        Dimension::Conductivity,
        Dimension::HeatCapacity,
        Dimension::Conductance,
        Dimension::PerKelvin,
    ];
    match powers {
        M3 => Some("a volume"),
        J => Some("an energy"),
        NONE => Some("a bare share"),
        K => Some("a temperature"),
        _ => all.into_iter().find(|d| d.powers() == powers).map(Dimension::name),
    }
}

impl Dimension {
    /// The powers its units have.
    pub(super) fn powers(self) -> Powers {
        match self {
            Self::Temperature | Self::Difference => K,
            Self::Rate => [0, 0, -1, 1, 0],
            Self::Duration => S,
            Self::Length => M,
            Self::Area => M2,
            Self::Mass => KG,
            Self::Power => W,
            Self::Voltage => V,
            Self::Current => A,
            Self::Speed => M_PER_S,
            Self::Density => [1, -3, 0, 0, 0],
            Self::SpecificHeat => [0, 2, -2, -1, 0],
            Self::Conductivity => [1, 1, -3, -1, 0],
            Self::HeatCapacity => [1, 2, -2, -1, 0],
            Self::Conductance => [1, 2, -3, -1, 0],
            Self::PerKelvin => [0, 0, 0, -1, 0],
        }
    }
}
