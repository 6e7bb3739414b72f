//! Scripted faults that no rehearsal of this bake can play: refused with what to write instead, so
//! that nobody takes a bake that ran through for one that stood the fault.
//!
//! What the oven has no part for cannot fail; what the guard judges by its own bounds, and what
//! needs a computer beside the oven, no script moves.

use super::bake::{FaultScript, Moment};
use super::check::Files;
use super::oven::Circulation;
use super::problem::{FileKind, Finding, KeyPath};
use truesoak_core::sensor::Kind;

/// Every scripted fault that would change nothing. For files that were read whole: the script is
/// then as long as the file's list.
pub(super) fn findings(files: &Files<'_>) -> Vec<Finding> {
    let scripts = files.bake.faults.iter().enumerate();
    let found = scripts.filter_map(|(number, script)| {
        let at = KeyPath::root(FileKind::Bake).key("fault").item(number).key("kind");
        let (what, expected, next) = never_plays(&script.kind)
            .or_else(|| not_here(files, script))
            .or_else(|| without_size(script))?;
        Some(Finding::new(at, format!("{}: {what}", script.kind), expected, next))
    });
    found.collect()
}

type Words = (&'static str, &'static str, &'static str);

/// Kinds that no script plays in any bake.
fn never_plays(kind: &str) -> Option<Words> {
    let shown = "a fault that a rehearsal can show";
    match kind {
        "air-over-limit" => Some((
            "no script takes the air there: the guard ends a heater that does not obey before",
            shown,
            "write kind = \"drive-welded\", or rehearse a stronger heater with --plant \
             oven.heater.power=\"3 kW\"",
        )),
        "part-over-limit" => Some((
            "no script takes a part there: the controller keeps every part below by its own bounds",
            shown,
            "write kind = \"drive-welded\": it shows how near the parts come to what they stand",
        )),
        "bake-too-long" => Some((
            "it is no fault of a part but a limit of the bake",
            "limits.bake_max",
            "remove it and lower bake_max under [limits] instead",
        )),
        "outside-model" => Some((
            "what lies outside the spread is told by what is true, not by a moment",
            shown,
            "remove it and rehearse another truth, such as --plant load.part.1.count=40",
        )),
        "link-garbage" | "link-flood" | "link-lost" => Some((
            "no computer is linked to the oven in a rehearsal",
            shown,
            "remove it: a bake takes nothing from its link",
        )),
        _ => None,
    }
}

/// Kinds this oven or load has nothing for, or nothing that would see them.
fn not_here(files: &Files<'_>, script: &FaultScript) -> Option<Words> {
    let (oven, bake) = (files.oven, files.bake);
    let wire = matches!(oven.sensor.kind, Kind::Thermocouple(_));
    let fan = matches!(oven.circulation, Circulation::Fan { .. });
    let welded = bake.faults.iter().any(|other| other.kind == "drive-welded");
    match script.kind.as_str() {
        "thermocouple-reversed" if !wire => Some((
            "a resistance sensor reads the same whichever way it is wired",
            "a thermocouple in [sensor] kind",
            "remove it, or write \"sensor-detached\"",
        )),
        "sensor-type-wrong" if !wire => Some((
            "played only as a thermocouple of another letter",
            "a thermocouple in [sensor] kind",
            "remove it; another resistance reads far out of range, like \"converter-silent\"",
        )),
        "fan-stopped" if !fan => Some((
            "no fan turns in this oven",
            "circulation = \"fan\" in the oven file",
            "remove it, or correct circulation under [air]",
        )),
        "door-switch-stuck" if !oven.door.switch => Some((
            "this oven has no door switch",
            "switch = true under [door] in the oven file",
            "write a [[door]] instead: the air's own fall is all that tells of it",
        )),
        "probe-disagrees" if files.load.parts.iter().all(|part| !part.probe) => Some((
            "no part of this load has a probe",
            "a part with probe = true",
            "write probe = true at the part it sits on, or remove the fault",
        )),
        "permit-welded" if !oven.permit.feedback && !welded => Some((
            "without its mirror contact nothing sees it, and without a welded drive nothing heats",
            "feedback = true under [permit] in the oven file",
            "fit the mirror contact, or script \"drive-welded\" beside it",
        )),
        "settings-corrupt" if script.at != Moment::SinceStart(0.0) => Some((
            "settings are read when the board starts; a bake under way does not look at them",
            "at = \"0 s\"",
            "write at = \"0 s\": nothing starts then",
        )),
        _ => None,
    }
}

/// A size of nothing.
fn without_size(script: &FaultScript) -> Option<Words> {
    let nothing = script.by_k.is_some_and(|by_k| by_k.abs() < 0.1);
    nothing.then_some((
        "by is too little to be seen in any reading",
        "at least 0.1 °C up or down",
        "write by = \"-10 °C\", or leave it out",
    ))
}
