//! Checks that need more than one value: the bake against itself, and against its load.

use super::bake::BakeFile;
use super::load::{Load, Part};
use super::oven::Oven;
use super::problem::{FileKind, Finding, KeyPath};
use super::quantity::Scale;
use super::reader::Ledger;
use truesoak_core::bake::faults::{BakeFault, Field, NEAREST_TO_ROOM_K, Reason};
use truesoak_core::bake::{Purpose, Soak, Step};
use truesoak_core::units::Celsius;

/// Every check.
pub(super) fn all(bake: &BakeFile, oven: &Oven, load: &Load, ledger: &Ledger) {
    // What could not be read has been reported; checking it again would only repeat it.
    if ledger.has_findings() {
        return;
    }
    for fault in bake.bake.faults(Celsius(oven.ambient_c as f32)) {
        ledger.report(fault_finding(bake, oven, fault));
    }
    for (index, step) in bake.bake.steps.iter().enumerate() {
        let Step::Soak(soak) = step else { continue };
        for (number, part) in load.parts.iter().enumerate() {
            if part.gas_out || soak.purpose != Purpose::GasOut {
                check_part(bake, oven, (index, soak), (number, part), ledger);
            }
        }
        if soak.purpose == Purpose::GasOut && !load.parts.iter().any(|part| part.gas_out) {
            let at = KeyPath::step(index).key("soak").key("purpose");
            ledger.report(Finding::new(
                at,
                "no part of this load is hung for a gas-out",
                "at least one part that may be gassed out",
                "remove the gas-out, or gas_out = false from a metal part",
            ));
        }
    }
}

/// What stands between the reading and the parts even in steady state, K.
#[must_use]
pub(super) fn fixed_loss_k(oven: &Oven) -> f64 {
    let spread = &oven.spread;
    2.0 * spread.sensor_offset_k + spread.cold_spot_k + spread.hot_spot_k + oven.sensor.resolution_k
}

fn check_part(
    bake: &BakeFile,
    oven: &Oven,
    (step, soak): (usize, &Soak),
    (number, part): (usize, &Part),
    ledger: &Ledger,
) {
    let scale = bake.scale;
    let at = |key: &str| KeyPath::step(step).key("soak").key(key);
    let polymer = part.substance.polymer;
    if polymer && soak.purpose == Purpose::GasOut {
        let finding = Finding::new(
            at("purpose"),
            format!("\"{}\" is a polymer and would be gassed out", part.name),
            "only metal in a gas-out",
            "write gas_out = false at that part: it then joins at the next load_in before a cure",
        );
        ledger.report(finding.and_at(KeyPath::part(number).key("material")));
        return;
    }
    let (limit_c, whose) = match bake.part_max_c {
        Some(part_max_c) if part_max_c < part.max_c => (part_max_c, "part_max".to_owned()),
        _ => (part.max_c, format!("\"{}\"", part.name)),
    };
    let whose_place = if limit_c < part.max_c {
        KeyPath::root(FileKind::Bake).key("limits").key("part_max")
    } else {
        KeyPath::part(number).key("max")
    };
    let loss_k = fixed_loss_k(oven);
    let (at_least_c, at_most_c) = (f64::from(soak.at_least.0), f64::from(soak.at_most.0));
    let highest_c = limit_c - loss_k;
    if at_least_c > highest_c {
        let what = format!("{} is above what {whose} stands", shown(at_least_c, scale));
        let expected = format!(
            "at most {} here ({} less {} for sensor, both spots and resolution)",
            floor_shown(highest_c, scale),
            bare(limit_c, scale),
            number_of(loss_k / scale.degree_k()),
        );
        let next = "lower at_least, or bake that part alone";
        ledger.report(Finding::new(at("at_least"), what, expected, next).and_at(whose_place));
    } else if at_most_c > limit_c {
        let what = format!("{} is above what {whose} stands", shown(at_most_c, scale));
        let expected = format!("at_most of {} or less", floor_shown(limit_c, scale));
        let next = "lower at_most, or bake that part alone";
        ledger.report(Finding::new(at("at_most"), what, expected, next).and_at(whose_place));
    }
}

fn shown(celsius: f64, scale: Scale) -> String {
    format!("{} {}", bare(celsius, scale), scale.symbol())
}

fn bare(celsius: f64, scale: Scale) -> String {
    number_of(scale.from_celsius(celsius))
}

fn floor_shown(celsius: f64, scale: Scale) -> String {
    format!("{:.0} {}", (scale.from_celsius(celsius) + 1e-6).floor(), scale.symbol())
}

fn number_of(value: f64) -> String {
    if (value - value.round()).abs() < 0.05 { format!("{value:.0}") } else { format!("{value:.1}") }
}

fn fault_finding(bake: &BakeFile, oven: &Oven, fault: BakeFault) -> Finding {
    let (what, expected, next) = words(bake, oven, &fault);
    Finding::new(place(bake, &fault), what, expected, next)
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
    if key.is_empty() { at } else { at.key(key) }
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
