//! What is not known of an oven while a log is followed, and how well it is known beforehand.
//!
//! Every unknown is a number of standard deviations from what the file says, so that all of them are
//! of one size. What is asked of the log ([`Quantity`]) is hardly held back: its file value is a
//! guess, to three times the spread. All else (the room, the sensor's error, where the element's heat
//! goes) is held to what the file says of it, and takes its part in every interval.
//!
//! Power is asked and held to its spread, because temperatures alone tell losses, walls and power
//! only against each other: twice of all three is the same course. What tells them apart is heat that
//! goes where its amount is known, into weighed parts with a probe on one.

use super::course::Course;
use crate::files::load::Load;
use crate::files::oven::Oven;
use crate::plant::{Draw, Plant, SOAKED};

/// A uniform spread's standard deviation as a share of its half width: 1/√3.
const UNIFORM: f64 = 0.577_350_269_189_625_8;
/// What is asked of the log is held to its spread times this.
const LOOSE: f64 = 3.0;
/// GUESS: tie of air and liner beside the exchange at parts, logarithm.
const TIE: f64 = 0.5;
/// GUESS: the element's heat capacity where no mass is told, logarithm.
const ELEMENT: f64 = 0.2;
/// GUESS: the room at a cold start against the first reading, K: they are one but for noise.
const ROOM_COLD_K: f64 = 0.3;
/// GUESS: the room at a hot start against the file, K.
const ROOM_HOT_K: f64 = 3.0;
/// GUESS: how warm the insulation is at a hot start, share of a long soak's.
const WARMED: (f64, f64) = (0.7, 0.3);
/// GUESS: a doorway's exchange with things and hands in it, logarithm.
const DOORWAY: f64 = 0.3;
/// No unknown goes further than this from its middle, standard deviations.
const FURTHEST: f64 = 8.0;
/// Factors outside these mean something else is wrong; the reader's own limits.
const FACTORS: (f64, f64) = (0.2, 6.0);

/// What a fit is asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Quantity {
    /// On insulation and leak.
    Losses,
    /// On liner, insulation and skin.
    WallHeatCapacity,
    /// On convection and radiation at parts and rack.
    PartExchange,
    /// On rated power.
    HeaterPower,
    /// Time constant of the air sensor.
    SensorLag,
    /// Share of the wall's temperature it sees.
    WallView,
}

impl Quantity {
    /// All of them.
    pub const ALL: [Self; 6] = [
        Self::Losses,
        Self::WallHeatCapacity,
        Self::PartExchange,
        Self::HeaterPower,
        Self::SensorLag,
        Self::WallView,
    ];

    /// Its key in `[spread]`; in `[calibration]` too, but for the sensor's two.
    #[must_use]
    pub fn key(self) -> &'static str {
        match self {
            Self::Losses => "losses",
            Self::WallHeatCapacity => "wall_heat_capacity",
            Self::PartExchange => "part_exchange",
            Self::HeaterPower => "heater_power",
            Self::SensorLag => "sensor_lag",
            Self::WallView => "wall_view",
        }
    }

    /// As a person calls it.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Losses => "losses",
            Self::WallHeatCapacity => "wall heat capacity",
            Self::PartExchange => "part exchange",
            Self::HeaterPower => "heater power",
            Self::SensorLag => "sensor lag",
            Self::WallView => "wall view",
        }
    }

    /// By the file: value and half of the spread, a fraction but for the wall view.
    #[must_use]
    pub fn told(self, oven: &Oven) -> (f64, f64) {
        let (calibration, spread) = (&oven.calibration, &oven.spread);
        match self {
            Self::Losses => (calibration.losses, spread.losses),
            Self::WallHeatCapacity => (calibration.wall_heat_capacity, spread.wall_heat_capacity),
            Self::PartExchange => (calibration.part_exchange, spread.part_exchange),
            Self::HeaterPower => (calibration.heater_power, spread.heater_power),
            Self::SensorLag => (oven.sensor.lag_s, spread.sensor_lag),
            Self::WallView => (oven.sensor.wall_view, spread.wall_view),
        }
    }

    /// Its interval is a factor either way, not a sum.
    #[must_use]
    pub fn is_factor(self) -> bool {
        self != Self::WallView
    }
}

/// One thing not known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Unknown {
    Asked(Quantity),
    Tie,
    RadiantShare,
    Offset,
    Element,
    ColdSpot,
    ProbeOffset,
    ProbeLag,
    Room(usize),
    Warmed(usize),
    Doorway(usize),
}

impl Unknown {
    /// The log it belongs to alone.
    pub(super) fn log(self) -> Option<usize> {
        match self {
            Self::Room(log) | Self::Warmed(log) | Self::Doorway(log) => Some(log),
            _ => None,
        }
    }

    /// As a person calls it.
    pub(super) fn words(self) -> &'static str {
        match self {
            Self::Asked(quantity) => quantity.words(),
            Self::Tie => "the film between air and liner",
            Self::RadiantShare => "the element's radiant share",
            Self::Offset => "the sensor's error",
            Self::Element => "the element's heat capacity",
            Self::ColdSpot => "the cold spot",
            Self::ProbeOffset => "the probe's error",
            Self::ProbeLag => "the probe's lag",
            Self::Room(_) => "the room's temperature",
            Self::Warmed(_) => "the insulation's warmth at the start",
            Self::Doorway(_) => "the doorway's exchange",
        }
    }
}

/// An unknown and how well it is known beforehand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Prior {
    pub unknown: Unknown,
    /// Middle, in its own unit (a logarithm of the factor on what the file says, or the value).
    pub middle: f64,
    /// Standard deviation.
    pub deviation: f64,
}

impl Prior {
    /// Its value at so many standard deviations from the middle.
    pub(super) fn at(&self, deviations: f64) -> f64 {
        self.middle + self.deviation * deviations.clamp(-FURTHEST, FURTHEST)
    }
}

/// Everything not known about these logs of this oven; what the file knows exactly is left out.
pub(super) fn unknowns(oven: &Oven, courses: &[Course], probed: bool) -> Vec<Prior> {
    let spread = &oven.spread;
    let mut priors = Vec::new();
    let mut add = |unknown, middle: f64, deviation: f64| {
        if deviation > 0.0 {
            priors.push(Prior { unknown, middle, deviation });
        }
    };
    for quantity in Quantity::ALL {
        let (value, half) = quantity.told(oven);
        let held =
            quantity == Quantity::HeaterPower || (quantity == Quantity::PartExchange && !probed);
        let deviation = UNIFORM * half * if held { 1.0 } else { LOOSE };
        let middle = if quantity.is_factor() { 0.0 } else { value };
        add(Unknown::Asked(quantity), middle, deviation);
    }
    add(Unknown::Tie, 0.0, TIE);
    add(Unknown::RadiantShare, oven.heater.radiant_share, UNIFORM * spread.radiant_share);
    add(Unknown::Offset, 0.0, UNIFORM * spread.sensor_offset_k);
    add(Unknown::Element, 0.0, ELEMENT);
    if probed {
        let half_k = 0.5 * spread.cold_spot_k;
        add(Unknown::ColdSpot, half_k, UNIFORM * half_k);
        add(Unknown::ProbeOffset, 0.0, UNIFORM * oven.probe.offset_k);
        add(Unknown::ProbeLag, 0.0, UNIFORM * spread.sensor_lag);
    }
    for (log, course) in courses.iter().enumerate() {
        add(Unknown::Room(log), 0.0, if course.is_cold { ROOM_COLD_K } else { ROOM_HOT_K });
        if !course.is_cold {
            add(Unknown::Warmed(log), WARMED.0, WARMED.1);
        }
        if course.has_doors {
            add(Unknown::Doorway(log), 0.0, DOORWAY);
        }
    }
    priors
}

/// One plant ready to follow one log.
pub(super) struct Ready {
    pub plant: Plant,
    pub power_w: f64,
    /// Share of its width a wide open door counts as.
    pub doorway: f64,
    pub offset_k: f64,
    pub probe_offset_k: f64,
}

/// The plant of these values for one log.
pub(super) fn ready(
    oven: &Oven,
    course: &Course,
    log: usize,
    priors: &[Prior],
    values: &[f64],
) -> Ready {
    let mut oven = oven.clone();
    let told = oven.calibration;
    let mut draw = Draw::nominal(&oven);
    draw.probe_lag = 1.0;
    let (mut tie, mut room_k, mut warmed, mut doorway) = (0.0, 0.0, SOAKED, 1.0);
    let (mut offset_k, mut probe_offset_k) = (0.0, 0.0);
    let factor = |told: f64, value: f64| (told * libm::exp(value)).clamp(FACTORS.0, FACTORS.1);
    for (prior, deviations) in priors.iter().zip(values) {
        let value = prior.at(*deviations);
        match prior.unknown {
            Unknown::Asked(Quantity::Losses) => draw.losses = factor(told.losses, value),
            Unknown::Asked(Quantity::WallHeatCapacity) => {
                draw.wall_heat_capacity = factor(told.wall_heat_capacity, value);
            }
            Unknown::Asked(Quantity::PartExchange) => {
                draw.part_exchange = factor(told.part_exchange, value);
            }
            Unknown::Asked(Quantity::HeaterPower) => {
                draw.heater_power = factor(told.heater_power, value);
            }
            Unknown::Asked(Quantity::SensorLag) => draw.sensor_lag = factor(1.0, value),
            Unknown::Asked(Quantity::WallView) => draw.wall_view = value.clamp(0.0, 0.9),
            Unknown::Tie => tie = value,
            Unknown::RadiantShare => draw.radiant_share = value.clamp(0.0, 0.9),
            Unknown::Offset => offset_k = value,
            Unknown::Element => oven.heater.capacity_j_per_k *= libm::exp(value),
            Unknown::ColdSpot => draw.cold_spot_k = value.max(0.0),
            Unknown::ProbeOffset => probe_offset_k = value,
            Unknown::ProbeLag => draw.probe_lag = libm::exp(value),
            Unknown::Room(of) if of == log => room_k = value,
            Unknown::Warmed(of) if of == log => warmed = value.clamp(0.0, 1.0),
            Unknown::Doorway(of) if of == log => doorway = libm::exp(value),
            Unknown::Room(_) | Unknown::Warmed(_) | Unknown::Doorway(_) => {}
        }
    }
    // The film between air and liner moves by its own unknown, not with the parts' exchange.
    oven.calibration.liner_exchange *= libm::exp(tie) * told.part_exchange / draw.part_exchange;
    let first_c = course.first_c - offset_k;
    let told_room_c = oven.ambient_c;
    oven.ambient_c = room_k + if course.is_cold { first_c } else { oven.ambient_c };
    let starts_at_c = if course.is_cold { oven.ambient_c } else { first_c };
    let mut load = course.load.clone();
    let starts = load.parts.iter_mut().map(|part| &mut part.starts_at_c);
    for starts_at_c in starts.chain(load.rack.iter_mut().map(|rack| &mut rack.starts_at_c)) {
        // What is said to come at the file's room temperature comes at the true one; so does what
        // a log without an oven's file says nothing of.
        if starts_at_c.is_nan() || (*starts_at_c - told_room_c).abs() < 0.01 {
            *starts_at_c = oven.ambient_c;
        }
    }
    Ready {
        power_w: oven.heater.power_w * draw.heater_power,
        plant: Plant::warmed(&oven, &load, &draw, starts_at_c, warmed),
        doorway,
        offset_k,
        probe_offset_k,
    }
}

/// A probe is on one of the parts.
pub(super) fn is_probed(load: &Load) -> bool {
    load.parts.iter().any(|part| part.probe)
}
