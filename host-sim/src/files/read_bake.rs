//! Reads a bake: steps, limits and the words on them.
//!
//! A step that cannot be read is reported and stands as a cool that ends at once, so that the
//! checks of the whole bake still find everything else.

use truesoak_core::bake::{
    Bake, Check, Cool, CoolOn, Dip, Limits, LoadIn, OnFail, Purpose, Ramp, STEPS_MAX, Soak, Step,
    Wait,
};
use truesoak_core::units::{Celsius, Kelvins};

use super::bake::{BakeFile, StepWords};
use super::oven::Oven;
use super::problem::{FileKind, Finding, KeyPath, nearest};
use super::quantity::Dimension::{Difference, Duration, Rate, Temperature};
use super::quantity::{Scale, shorten};
use super::read_load::duplicates;
use super::read_script as script;
use super::reader::{Ledger, Range, Section};
use super::tree::Table;

const KINDS: [&str; 6] = ["ramp", "soak", "cool", "load_in", "check", "wait"];

/// Reads the bake file. `name` stands for it where it has none of its own.
pub(super) fn read(table: &Table, ledger: &Ledger, name: &str, oven: &Oven) -> BakeFile {
    let root = Section::new(table, KeyPath::root(FileKind::Bake), ledger);
    let name = root.text("name").unwrap_or_else(|| {
        root.defaulted("name", name, "the file's own name");
        name.to_owned()
    });
    // Both were looked at when the files were opened.
    let _ = (root.has("oven"), root.has("load"));
    let starts_range = Range::Within(-40.0, 400.0, "from -40 °C to 400 °C");
    let starts_at = root.quantity("oven_starts_at", Temperature, starts_range);
    let oven_starts_at_c = starts_at.unwrap_or_else(|| {
        root.defaulted("oven_starts_at", &format!("{} °C", oven.ambient_c), "as warm as the room");
        oven.ambient_c
    });
    let (limits, part_max_c) = limits(&root, oven);
    let sections = root.items("step", STEPS_MAX);
    let mut words: Vec<StepWords> = sections
        .iter()
        .map(|section| StepWords {
            name: section.text("name").unwrap_or_default(),
            ..StepWords::default()
        })
        .collect();
    duplicates(&sections, words.iter().map(|words| words.name.as_str()), "step");
    let names: Vec<String> = words.iter().map(|words| words.name.clone()).collect();
    let mut bake = Bake { steps: heapless_steps(), limits };
    for (index, (section, words)) in sections.iter().zip(&mut words).enumerate() {
        let step = step(section, index, &names, words);
        // `items` gives no more than fit.
        let _ = bake.steps.push(step);
        section.finish();
    }
    let scripts = script::read(&root, &bake, &words);
    root.finish();
    BakeFile {
        name,
        bake,
        steps: words,
        scale: Scale::Celsius,
        oven_starts_at_c,
        part_max_c,
        doors: scripts.doors,
        answers: scripts.answers,
        faults: scripts.faults,
    }
}

/// An empty list of steps of the controller's own kind.
fn heapless_steps() -> heapless::Vec<Step, STEPS_MAX> {
    heapless::Vec::new()
}

/// °C for the controller.
fn celsius(value: f64) -> Celsius {
    #[allow(clippy::cast_possible_truncation)] // the controller's own precision
    Celsius(value as f32)
}

/// Kelvins for the controller.
fn kelvins(value: f64) -> Kelvins {
    #[allow(clippy::cast_possible_truncation)] // the controller's own precision
    Kelvins(value as f32)
}

/// Whole seconds, part of a second up; what could not be read is 1, which harms nothing: the file
/// is refused in any case.
fn whole_up(seconds: f64) -> u32 {
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // saturates, NaN handled
    if seconds.is_nan() { 1 } else { seconds.ceil() as u32 }
}

/// Whole seconds, part of a second down, at least one.
fn whole_down(seconds: f64) -> u32 {
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // saturates, NaN handled
    if seconds.is_nan() { u32::MAX } else { (seconds.floor() as u32).max(1) }
}

fn limits(root: &Section<'_>, oven: &Oven) -> (Limits, Option<f64>) {
    super::read_oven::with_section(root, "limits", |section| {
        let air_max = section.quantity("air_max", Temperature, Range::Any);
        if air_max.is_none() {
            let value = format!("{} °C", oven.air_max_c);
            section.defaulted("air_max", &value, "the oven's own limit");
        }
        let air_max_c = air_max.unwrap_or(oven.air_max_c);
        if air_max_c > oven.air_max_c {
            let finding = Finding::new(
                section.at("air_max"),
                format!("air_max of {air_max_c:.1} °C is above the oven's own"),
                format!("at most {:.1} °C", oven.air_max_c),
                "lower air_max",
            );
            section.ledger().report(finding.and_at(KeyPath::oven("limits").key("air_max")));
        }
        let part_max = section.quantity("part_max", Temperature, Range::Any);
        if part_max.is_none() {
            let value = "the lowest limit of the load's materials";
            section.defaulted("part_max", value, "what each part stands");
        }
        let bake_max_s = section.quantity_or(
            "bake_max",
            Duration,
            Range::Positive,
            "8 h",
            "GUESS: a working day with heat allowed",
        );
        let door_open_max_s = section.quantity_or(
            "door_open_max",
            Duration,
            Range::Positive,
            "5 min",
            "GUESS: long enough to hang a full rack",
        );
        let limits = Limits {
            air_max: celsius(air_max_c),
            bake_max_s: whole_down(bake_max_s),
            door_open_max_s: whole_down(door_open_max_s),
        };
        (limits, part_max)
    })
}

fn step(section: &Section<'_>, index: usize, names: &[String], words: &mut StepWords) -> Step {
    let unread = Step::Cool(Cool { to: Celsius(f32::NAN), on: CoolOn::Air });
    let present = section.present(&KINDS);
    let [kind] = present[..] else {
        let what = if present.is_empty() {
            format!("step {} does nothing", index + 1)
        } else {
            format!("step {} is {} at once", index + 1, present.join(" and "))
        };
        let expected = format!("exactly one of {}", KINDS.join(", "));
        let next = "write one [[step]] for each thing to do";
        section.ledger().report(Finding::new(section.path(), what, expected, next));
        return unread;
    };
    let Some(inner) = section.section(kind) else { return unread };
    let step = match kind {
        "ramp" => Step::Ramp(ramp(&inner)),
        "soak" => Step::Soak(soak(&inner)),
        "cool" => Step::Cool(cool(&inner)),
        "load_in" => {
            Step::LoadIn(LoadIn { at: inner.quantity("at", Temperature, Range::Any).map(celsius) })
        }
        "check" => Step::Check(check(&inner, names, words)),
        _ => Step::Wait(wait(&inner, words)),
    };
    inner.finish();
    step
}

fn ramp(inner: &Section<'_>) -> Ramp {
    Ramp {
        to: celsius(inner.need_quantity("to", Temperature, Range::Any)),
        rate_k_per_min: inner
            .quantity(
                "rate",
                Rate,
                Range::Within(0.01 / 60.0, 100.0, "from 0.01 °C/min to 100 °C/s"),
            )
            .map(|k_per_s| kelvins(k_per_s * 60.0)),
    }
}

fn soak(inner: &Section<'_>) -> Soak {
    let purposes =
        [("other", Purpose::Other), ("gas-out", Purpose::GasOut), ("cure", Purpose::Cure)];
    let dips = [("pause", Dip::Pause), ("restart", Dip::Restart)];
    let boosts = Range::Within(0.0, 100.0, "from 0 °C to 100 °C");
    let boost = inner.quantity_or("boost", Difference, boosts, "0 °C", "none asked for");
    Soak {
        purpose: inner.choice_or("purpose", &purposes, Purpose::Other, "none given"),
        at_least: celsius(inner.need_quantity("at_least", Temperature, Range::Any)),
        at_most: celsius(inner.need_quantity("at_most", Temperature, Range::Any)),
        for_s: whole_up(inner.need_quantity("for", Duration, Range::Positive)),
        dip: inner.choice_or("dip", &dips, Dip::Pause, "counted minutes stay counted"),
        boost: kelvins(boost),
        give_up_after_s: inner.quantity("give_up_after", Duration, Range::Positive).map(whole_down),
        no_longer_than_s: inner
            .quantity("no_longer_than", Duration, Range::Positive)
            .map(whole_down),
    }
}

fn cool(inner: &Section<'_>) -> Cool {
    let on = [("parts", CoolOn::Parts), ("air", CoolOn::Air)];
    Cool {
        to: celsius(inner.need_quantity("to", Temperature, Range::Any)),
        on: inner.choice_or(
            "on",
            &on,
            CoolOn::Parts,
            "the hottest part tells when hands may touch",
        ),
    }
}

fn parts_stay(inner: &Section<'_>) -> bool {
    let places = [("out", false), ("stay", true)];
    inner.choice_or("parts", &places, false, "a person may have taken them out")
}

fn check(inner: &Section<'_>, names: &[String], words: &mut StepWords) -> Check {
    words.ask = inner.text("ask").unwrap_or_else(|| {
        inner.defaulted("ask", "Are the parts good?", "none given");
        "Are the parts good?".to_owned()
    });
    words.pass = inner.text("pass").unwrap_or_else(|| "pass".to_owned());
    words.fail = inner.text("fail").unwrap_or_else(|| "fail".to_owned());
    if words.pass == words.fail {
        let what = format!("pass and fail are both \"{}\"", shorten(&words.pass));
        let next = "write the two answers a person may give".to_owned();
        inner.report("fail", what, "two different words", next);
    }
    let repeats = inner.choice("on_fail", &[("repeat", true), ("stop", false)]);
    let named = inner.has("repeat_from");
    let repeats = repeats.unwrap_or_else(|| {
        if !inner.has("on_fail") {
            let word = if named { "repeat" } else { "stop" };
            inner.defaulted("on_fail", word, "repeat where repeat_from is given, else stop");
        }
        named
    });
    let target = repeat_from(inner, names);
    if repeats && !named {
        let what = "a check that repeats does not say from where".to_owned();
        let next = "add repeat_from = with the name of an earlier step".to_owned();
        inner.report("on_fail", what, "repeat_from = \"name of a step\"", next);
    }
    if !repeats && named {
        let what = "repeat_from is given, but a fail stops the bake".to_owned();
        let next = "write on_fail = \"repeat\", or remove it".to_owned();
        inner.report("repeat_from", what, "repeat_from only with on_fail = \"repeat\"", next);
    }
    let tries = inner.integer("tries", 1, 100);
    if tries.is_none() && repeats && !inner.has("tries") {
        inner.defaulted("tries", "2", "once more after a fail");
    }
    Check {
        on_fail: match target {
            Some(index) if repeats => OnFail::RepeatFrom(index),
            _ => OnFail::Stop,
        },
        tries: tries.and_then(|tries| u8::try_from(tries).ok()).unwrap_or(2),
        parts_stay: parts_stay(inner),
    }
}

/// The step a failed check goes back to: by name, or by number from 1.
fn repeat_from(inner: &Section<'_>, names: &[String]) -> Option<u8> {
    let found = match inner.step_reference("repeat_from")? {
        Err(number) => number.checked_sub(1).filter(|index| *index < names.len()),
        Ok(name) if name.is_empty() => return None,
        Ok(name) => match names.iter().position(|other| *other == name) {
            Some(index) => Some(index),
            None => {
                no_such_step(inner, "repeat_from", &name, names);
                return None;
            }
        },
    };
    if found.is_none() {
        let what = "repeat_from is no step of this bake".to_owned();
        let expected = format!("a number from 1 to {}", names.len());
        inner.report("repeat_from", what, &expected, "count the steps of the file".to_owned());
    }
    found.and_then(|index| u8::try_from(index).ok())
}

/// Reports the name of a step that is not there.
pub(super) fn no_such_step(section: &Section<'_>, key: &str, name: &str, names: &[String]) {
    let known = || names.iter().map(String::as_str).filter(|name| !name.is_empty());
    let next = match nearest(name, known()) {
        Some(near) => format!("did you mean \"{near}\"?"),
        None if known().next().is_none() => "give that step a name".to_owned(),
        None => format!("steps here: {}", known().collect::<Vec<_>>().join(", ")),
    };
    let what = format!("{key}: no step is called \"{}\"", shorten(name));
    section.report(key, what, "the name of a step", next);
}

fn wait(inner: &Section<'_>, words: &mut StepWords) -> Wait {
    words.ask = inner.text("ask").unwrap_or_else(|| {
        inner.defaulted("ask", "GO when done", "none given");
        "GO when done".to_owned()
    });
    let time = inner.quantity_or("for", Duration, Range::NotNegative, "0 s", "until GO only");
    Wait { for_s: whole_up(time), parts_stay: parts_stay(inner) }
}
