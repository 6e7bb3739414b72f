//! What the three files say against each other, told at the lines that say it.
//!
//! The bake's own faults come from the controller (`Bake::faults`) and get their places and their
//! repair here. The rest needs the load and what is not known about the oven: what each part
//! stands, which parts hang in which soak, what a reading can still tell. A value that could not
//! be read is not-a-number and trips nothing here.

use super::bake::BakeFile;
use super::load::{Load, Part};
use super::oven::Oven;
use super::problem::{FileKind, Finding, KeyPath};
use super::quantity::{self, Scale};
use super::source::Places;
use truesoak_core::bake::faults::{BakeFault, Field, NEAREST_TO_ROOM_K, Reason};
use truesoak_core::bake::{Purpose, Soak, Step};
use truesoak_core::units::Celsius;

/// What comes in must be so far below what it stands, K: the bounds start a kelvin above what is
/// told.
const PART_STARTS_CLEAR_K: f64 = 5.0;
/// An oven that starts hot must be so far below its air limit, K, besides what its sensor can
/// swing: what is not known of its walls. Measured: 20 K and the default sensor trip on one draw of
/// six, 30 K on none.
const OVEN_STARTS_CLEAR_K: f64 = 20.0;
/// The sensor may make the air look so much hotter than it is, K, whatever the limit: the
/// controller keeps the air that far clear of it. Measured: 7 K trips on one draw of thirty with
/// the limit a kelvin above the window, 8.6 K on most.
const SWING_FREE_K: f64 = 6.5;
/// More needs an air limit so far above the window and the swing, K. Measured with swings of 8 to
/// 48 K: 16 K trips on one draw of twelve at worst, 20 K on one of eighty, 21 K on none of eighty.
const SWING_CLEAR_K: f64 = 22.0;
/// Deviations a swing has on the worst second of a bake.
const SIGMAS: f64 = 4.0;
/// Readings of a second, of which the mean is taken.
const READINGS_PER_SECOND: f64 = 10.0;

/// Three files as far as they could be read.
pub(super) struct Files<'f> {
    /// Bake.
    pub(super) bake: &'f BakeFile,
    /// Oven.
    pub(super) oven: &'f Oven,
    /// Load.
    pub(super) load: &'f Load,
    /// Where everything is written.
    pub(super) places: &'f Places,
    /// All of it could be read: what is not there is not there.
    pub(super) whole: bool,
}

impl Files<'_> {
    /// Every check.
    pub(super) fn findings(&self) -> Vec<Finding> {
        let mut found = Vec::new();
        #[allow(clippy::cast_possible_truncation)] // the controller's own precision
        let room = Celsius(self.oven.ambient_c as f32);
        let faults = self.bake.bake.faults(room);
        let faults = faults.into_iter().filter(|fault| self.whole || stands_alone(fault.reason));
        found.extend(faults.map(|fault| fault_finding(self.bake, self.oven, fault)));
        for (index, soak) in self.soaks() {
            for (number, part) in self.load.parts.iter().enumerate() {
                if part.gas_out || soak.purpose != Purpose::GasOut {
                    found.extend(self.part_stands((index, soak), (number, part)));
                }
            }
        }
        if self.whole {
            self.hanging(&mut found);
            found.extend(super::check_faults::findings(self));
        }
        self.parts_start(&mut found);
        // A sensor that swings too far is told once.
        found.extend(self.swing().or_else(|| self.oven_starts()));
        found
    }

    fn soaks(&self) -> impl Iterator<Item = (usize, &Soak)> {
        self.bake.bake.steps.iter().enumerate().filter_map(|(index, step)| match step {
            Step::Soak(soak) => Some((index, soak)),
            _ => None,
        })
    }

    /// The scale a value is written in, else the bake's.
    fn scale(&self, path: &KeyPath) -> Scale {
        let written = self.places.written(path);
        written.as_deref().and_then(quantity::scale_of).unwrap_or(self.bake.scale)
    }

    /// What stands between the reading and the parts even in steady state, K.
    fn fixed_loss_k(&self) -> f64 {
        let spread = &self.oven.spread;
        let spots_k = spread.cold_spot_k + spread.hot_spot_k;
        2.0 * spread.sensor_offset_k + spots_k + self.oven.sensor.resolution_k
    }

    /// What a part stands in this bake, °C, whose word that is, and where it is written.
    fn limit(&self, number: usize, part: &Part) -> (f64, String, KeyPath) {
        if let Some(part_max_c) = self.bake.part_max_c.filter(|limit| *limit < part.max_c) {
            let at = KeyPath::root(FileKind::Bake).key("limits").key("part_max");
            return (part_max_c, "part_max allows".to_owned(), at);
        }
        let own = KeyPath::part(number).key("max");
        let is_own = self.places.written(&own).is_some();
        let at = if is_own { own } else { KeyPath::part(number).key("material") };
        (part.max_c, format!("\"{}\" stands", part.name), at)
    }

    /// Parts must stay below their limit while the coldest place is already in the window.
    fn part_stands(
        &self,
        (step, soak): (usize, &Soak),
        (number, part): (usize, &Part),
    ) -> Option<Finding> {
        let at = |key: &str| KeyPath::step(step).key("soak").key(key);
        let (limit_c, stands, owner) = self.limit(number, part);
        let loss_k = self.fixed_loss_k();
        let (at_least_c, at_most_c) = (f64::from(soak.at_least.0), f64::from(soak.at_most.0));
        let highest_c = limit_c - loss_k;
        let scale = self.scale(&at(if at_least_c > highest_c { "at_least" } else { "at_most" }));
        let alone = if self.load.parts.len() > 1 {
            ", or bake that part alone"
        } else {
            ", or correct max"
        };
        if at_least_c > highest_c {
            let much = if at_least_c > limit_c { "above" } else { "too close to" };
            let expected = format!(
                "at most {} here ({} less {} for sensor, both spots and resolution)",
                floor_shown(highest_c, scale),
                bare(limit_c, scale),
                number_of(loss_k / scale.degree_k()),
            );
            let what = format!("{} is {much} what {stands}", shown(at_least_c, scale));
            let next = format!("lower at_least{alone}");
            Some(Finding::new(at("at_least"), what, expected, next).and_at(owner))
        } else if at_most_c > limit_c {
            let what = format!("{} is above what {stands}", shown(at_most_c, scale));
            let expected = format!("at_most of {} or less", floor_shown(limit_c, scale));
            let next = format!("lower at_most{alone}");
            Some(Finding::new(at("at_most"), what, expected, next).and_at(owner))
        } else {
            None
        }
    }

    /// Every gas-out needs a part in it; what is not gassed out must come in before the next soak.
    fn hanging(&self, found: &mut Vec<Finding>) {
        let parts = &self.load.parts;
        let Some(stays_out) = parts.iter().position(|part| !part.gas_out) else { return };
        let mut gassed = None;
        for (index, step) in self.bake.bake.steps.iter().enumerate() {
            match step {
                Step::LoadIn(_) => gassed = None,
                Step::Soak(soak) if soak.purpose == Purpose::GasOut => {
                    gassed = Some(index);
                    if parts.iter().all(|part| !part.gas_out) {
                        found.push(nothing_hangs(index, stays_out));
                    }
                }
                Step::Soak(_) => {
                    if let Some(since) = gassed.take() {
                        found.push(self.left_out(index, since, stays_out));
                    }
                }
                _ => {}
            }
        }
    }

    fn left_out(&self, index: usize, since: usize, number: usize) -> Finding {
        let name = self.load.parts.get(number).map_or("", |part| part.name.as_str());
        let since = step_name(self.bake, u8::try_from(since).unwrap_or(u8::MAX));
        Finding::new(
            KeyPath::step(index).key("soak").itself(),
            format!("\"{name}\" is not gassed out and has no load_in to join at"),
            format!("a load_in between {since} and this soak"),
            "add [[step]] load_in = {} before this soak",
        )
        .and_at(KeyPath::part(number).key("gas_out"))
    }

    /// No part may be at its limit before the bake begins.
    fn parts_start(&self, found: &mut Vec<Finding>) {
        for (number, part) in self.load.parts.iter().enumerate() {
            let (limit_c, stands, owner) = self.limit(number, part);
            let highest_c = limit_c - PART_STARTS_CLEAR_K;
            if part.starts_at_c > highest_c {
                let at = KeyPath::part(number).key("starts_at");
                let scale = self.scale(&at);
                let what = format!(
                    "it comes in at {}, {} what {stands}",
                    shown(part.starts_at_c, scale),
                    if part.starts_at_c > limit_c { "above" } else { "too close to" },
                );
                let expected = format!("at most {}", floor_shown(highest_c, scale));
                let next = "let it cool first, or correct starts_at or max";
                found.push(Finding::new(at, what, expected, next).and_at(owner));
            }
        }
    }

    /// Nor the oven at its own.
    fn oven_starts(&self) -> Option<Finding> {
        let clear_k = OVEN_STARTS_CLEAR_K + self.swing_k(self.oven.sensor.lag_s);
        let highest_c = f64::from(self.bake.bake.limits.air_max.0) - clear_k;
        let starts_at_c = self.bake.oven_starts_at_c;
        if starts_at_c.is_nan() || highest_c.is_nan() || starts_at_c <= highest_c {
            return None;
        }
        let at = KeyPath::root(FileKind::Bake).key("oven_starts_at");
        let scale = self.scale(&at);
        let what = format!("the oven starts at {}", shown(starts_at_c, scale));
        let expected = format!("at most {}, clear of air_max", floor_shown(highest_c, scale));
        let next = "let it cool first, or raise air_max as far as the oven's own";
        let owner = KeyPath::root(FileKind::Bake).key("limits").key("air_max");
        Some(Finding::new(at, what, expected, next).and_at(owner))
    }

    /// The air is told from the reading and its change within a second, times the lag: what noise
    /// and resolution are worth there, and at most look like, must stay clear of the air limit.
    fn swing(&self) -> Option<Finding> {
        let swing_k = self.swing_k(self.oven.sensor.lag_s);
        let (index, top_c) = self.hottest_soak()?;
        let above_k = f64::from(self.bake.bake.limits.air_max.0) - top_c - SWING_CLEAR_K;
        let allowed_k = SWING_FREE_K.max(above_k);
        if swing_k.is_nan() || above_k.is_nan() || swing_k <= allowed_k {
            return None;
        }
        let scale = self.bake.scale;
        let what = format!(
            "noise, resolution and lag of the air sensor can make the air look {} hotter than it is",
            difference(swing_k, scale)
        );
        // A swing grows in step with the lag, but for the reading's own share.
        let own_k = self.swing_k(0.0);
        let lag_s = self.oven.sensor.lag_s * (allowed_k - own_k) / (swing_k - own_k);
        let needed = ceil_shown(top_c + SWING_CLEAR_K + swing_k, scale);
        let mut expected = format!("air_max of at least {needed} with this sensor");
        if lag_s > 0.1 {
            expected.push_str(&format!(", or a sensor lag of at most {lag_s:.1} s"));
        }
        let next = "raise air_max, fit a barer sensor, or a converter that filters more";
        let air_max = KeyPath::root(FileKind::Bake).key("limits").key("air_max");
        let soak = KeyPath::step(index).key("soak").key("at_most");
        let at = KeyPath::oven("sensor").key("noise");
        Some(Finding::new(at, what, expected, next).and_at(air_max).and_at(soak))
    }

    /// How far above the true air the noise and the steps of a sensor of this lag can put it, K.
    fn swing_k(&self, lag_s: f64) -> f64 {
        let (sensor, spread) = (&self.oven.sensor, &self.oven.spread);
        let longest_s = lag_s * (1.0 + spread.sensor_lag);
        // A resolution of r rounds by r/√12, standard deviation of a uniform error.
        let one_k = libm::hypot(sensor.noise_k, sensor.resolution_k / libm::sqrt(12.0));
        let change_k = one_k * libm::sqrt(2.0 / READINGS_PER_SECOND);
        let random_k = SIGMAS * libm::hypot(sensor.noise_k, change_k * longest_s);
        // A quiet reading goes on by whole steps, one within a second, and with a rising air more.
        let step_k = sensor.resolution_k * (1.0 + 1.25 * longest_s);
        // Of what the sensor sees the air is only a part.
        random_k.max(step_k) / (1.0 - (sensor.wall_view + spread.wall_view).clamp(0.0, 0.9))
    }

    /// The soak whose air goes hottest, and how hot, °C.
    fn hottest_soak(&self) -> Option<(usize, f64)> {
        let top_c = |soak: &Soak| f64::from((soak.at_most + soak.boost).0);
        let all = self.soaks().map(|(index, soak)| (index, top_c(soak)));
        all.max_by(|one, other| one.1.total_cmp(&other.1))
    }
}

/// True of a fault of one value or of two of the same step: no reading elsewhere can have made it.
fn stands_alone(reason: Reason) -> bool {
    matches!(
        reason,
        Reason::WindowInverted
            | Reason::AboveAirMax
            | Reason::BelowRoom
            | Reason::ShorterThanSoak
            | Reason::NotEarlier
    )
}

fn nothing_hangs(index: usize, number: usize) -> Finding {
    Finding::new(
        KeyPath::step(index).key("soak").key("purpose"),
        "no part of this load is hung for a gas-out",
        "at least one part that may be gassed out",
        "remove the gas-out, or gas_out = false from a metal part",
    )
    .and_at(KeyPath::part(number).key("gas_out"))
}

fn shown(celsius: f64, scale: Scale) -> String {
    format!("{} {}", bare(celsius, scale), scale.symbol())
}

fn bare(celsius: f64, scale: Scale) -> String {
    number_of(scale.from_celsius(celsius))
}

fn difference(kelvins: f64, scale: Scale) -> String {
    format!("{} {}", number_of(kelvins / scale.degree_k()), scale.symbol())
}

fn floor_shown(celsius: f64, scale: Scale) -> String {
    format!("{:.0} {}", (scale.from_celsius(celsius) + 1e-6).floor(), scale.symbol())
}

fn ceil_shown(celsius: f64, scale: Scale) -> String {
    format!("{:.0} {}", (scale.from_celsius(celsius) - 1e-6).ceil(), scale.symbol())
}

fn number_of(value: f64) -> String {
    if (value - value.round()).abs() < 0.05 { format!("{value:.0}") } else { format!("{value:.1}") }
}

fn fault_finding(bake: &BakeFile, oven: &Oven, fault: BakeFault) -> Finding {
    let (what, expected, next) = words(bake, oven, &fault);
    let at = place(bake, &fault);
    let finding = Finding::new(at.clone(), what, expected, next);
    match fault.reason {
        Reason::WindowInverted => finding.and_at(sibling(at, "at_least")),
        Reason::ShorterThanSoak => finding.and_at(sibling(at, "for")),
        Reason::AboveAirMax => {
            finding.and_at(KeyPath::root(FileKind::Bake).key("limits").key("air_max"))
        }
        Reason::BelowRoom => finding.and_at(KeyPath::oven("ambient")),
        Reason::HandsOn(other) | Reason::RepeatHeats(other) => {
            let index = usize::from(other);
            let kind = bake.bake.steps.get(index).map_or("", Step::word);
            finding.and_at(KeyPath::step(index).key(kind).itself())
        }
        _ => finding,
    }
}

/// Another key of the same table.
fn sibling(mut path: KeyPath, key: &str) -> KeyPath {
    let _ = path.segments.pop();
    path.key(key)
}

fn place(bake: &BakeFile, fault: &BakeFault) -> KeyPath {
    let key = match fault.field {
        Field::Steps => "step",
        Field::AirMax => "air_max",
        Field::BakeMax => "bake_max",
        Field::DoorOpenMax => "door_open_max",
        Field::To => "to",
        Field::Rate => "rate",
        Field::At => "at",
        Field::AtLeast => "at_least",
        Field::AtMost => "at_most",
        Field::For => "for",
        Field::Boost => "boost",
        Field::GiveUpAfter => "give_up_after",
        Field::NoLongerThan => "no_longer_than",
        Field::RepeatFrom => "repeat_from",
        Field::Tries => "tries",
        Field::Step => "",
    };
    let Some(step) = fault.step.map(usize::from) else {
        let root = KeyPath::root(FileKind::Bake);
        return if fault.field == Field::Steps { root } else { root.key("limits").key(key) };
    };
    let kind = bake.bake.steps.get(step).map_or("", Step::word);
    let at = KeyPath::step(step).key(kind);
    if key.is_empty() { at.itself() } else { at.key(key) }
}

fn step_name(bake: &BakeFile, index: u8) -> String {
    let index = usize::from(index);
    match bake.steps.get(index).map(|words| words.name.as_str()) {
        Some(name) if !name.is_empty() => format!("\"{name}\""),
        _ => format!("step {}", index + 1),
    }
}

fn words(bake: &BakeFile, oven: &Oven, fault: &BakeFault) -> (String, String, String) {
    let scale = bake.scale;
    let text = |what: &str, expected: &str, next: &str| {
        (what.to_owned(), expected.to_owned(), next.to_owned())
    };
    match fault.reason {
        Reason::NoSteps => text("the bake has no steps", "at least one [[step]]", "add [[step]]"),
        Reason::NotPhysical => text("not a temperature", "a finite value", "write another value"),
        Reason::Zero => text("zero is too little", "more than zero", "write a larger value"),
        Reason::Negative => text("negative", "zero or more", "write a positive value"),
        Reason::WindowInverted => text(
            "the window is upside down: at_most is not above at_least",
            "at_least below at_most",
            "exchange the two, or widen the window",
        ),
        Reason::AboveAirMax => {
            let air_max_c = f64::from(bake.bake.limits.air_max.0);
            let what = format!("hotter than the air may become ({})", shown(air_max_c, scale));
            let expected = format!("at most {}", floor_shown(air_max_c, scale));
            (what, expected, "lower it, or raise air_max as far as the oven's own".to_owned())
        }
        Reason::BelowRoom => {
            let least_c = oven.ambient_c + f64::from(NEAREST_TO_ROOM_K);
            let what = "colder than an oven in this room gets in useful time".to_owned();
            let expected = format!("at least {} (the room and 2 K)", shown(least_c, scale));
            (what, expected, "raise it".to_owned())
        }
        Reason::NotEarlier => text(
            "repeat_from names this step or a later one",
            "an earlier step",
            "name the step the bake goes back to",
        ),
        Reason::HandsOn(since) => (
            format!("heat after {}, when a person may have the parts", step_name(bake, since)),
            "a load_in before heat".to_owned(),
            format!("add a load_in before it, or parts = \"stay\" at {}", step_name(bake, since)),
        ),
        Reason::RepeatHeats(heat) => (
            format!(
                "going back there heats at {} while a person has the parts",
                step_name(bake, heat)
            ),
            "a load_in between the check and heat".to_owned(),
            "go back to a step at or before a load_in, or write parts = \"stay\"".to_owned(),
        ),
        Reason::OvenEmpty => text(
            "a soak before the load is in",
            "a load_in before the first soak, or no load_in at all",
            "move the load_in up",
        ),
        Reason::ShorterThanSoak => text(
            "shorter than the soak itself",
            "at least the soak's own time",
            "lengthen it, or shorten the soak",
        ),
        Reason::ShorterThanBake(seconds) => (
            "shorter than the soaks of this bake take together".to_owned(),
            format!("more than {} min", seconds / 60),
            "raise bake_max; heating up comes on top".to_owned(),
        ),
    }
}
