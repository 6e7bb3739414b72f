//! What a seed drew, in words: printed first when a single seed is run.

use super::scene::Scene;
use crate::files::bake::{AnswerScript, DoorScript, FaultScript, Moment, Say};
use crate::files::oven::Circulation;
use crate::report::units::duration;
use std::fmt::Write as _;
use truesoak_core::bake::Step;

/// Longer than any rehearsal, s.
const EVER_S: f64 = 4.0 * 24.0 * 3600.0;

impl Scene {
    /// Everything drawn that is not a number of the oven or the load.
    #[must_use]
    pub fn words(&self) -> String {
        let bake = &self.believed.bake;
        let mut out = format!("Drawn by seed {}: \"{}\"\n", self.seed, bake.name);
        let steps: Vec<String> = bake.bake.steps.iter().map(step).collect();
        // Writing to a string cannot fail.
        let _ = writeln!(out, "  steps: {}", steps.join(", "));
        let _ = writeln!(out, "  fitted: {}", self.fitted());
        let doors: Vec<String> = bake.doors.iter().map(door).collect();
        let _ = writeln!(out, "  doors: {}", listed(&doors));
        let answers: Vec<String> = bake.answers.iter().map(answer).collect();
        let _ = writeln!(out, "  answers: {}", listed(&answers));
        let faults: Vec<String> = bake.faults.iter().map(fault).collect();
        let _ = writeln!(out, "  faults: {}", listed(&faults));
        if let Some(untold) = self.untold {
            let _ = writeln!(out, "  true and not told: {}", untold.words());
        }
        let calm = duration(f64::from(self.calm_from_s));
        let _ = writeln!(out, "  whatever is wrong is over after {calm}\n");
        out
    }

    fn fitted(&self) -> String {
        let oven = &self.believed.oven;
        let mut fitted = vec!["an air sensor"];
        let probe = self.believed.load.parts.iter().any(|part| part.probe);
        let fan = match oven.circulation {
            Circulation::Natural => None,
            Circulation::Fan { proof: true, .. } => Some("a fan with its proof"),
            Circulation::Fan { proof: false, .. } => Some("a fan without a proof"),
        };
        fitted.extend(oven.sensor_b.map(|_| "a second one"));
        fitted.extend(probe.then_some("a part probe"));
        fitted.extend(oven.door.switch.then_some("a door switch"));
        fitted.extend(oven.permit.feedback.then_some("the contactor's mirror contact"));
        fitted.extend(oven.permit.mains_proof.then_some("a proof of mains at the heater"));
        fitted.extend(fan);
        fitted.join(", ")
    }
}

fn listed(words: &[String]) -> String {
    if words.is_empty() { "none".to_owned() } else { words.join("; ") }
}

fn step(step: &Step) -> String {
    match step {
        Step::Soak(soak) => format!(
            "soak {:.0} to {:.0} °C for {}",
            soak.at_least.0,
            soak.at_most.0,
            duration(f64::from(soak.for_s))
        ),
        Step::Ramp(ramp) => format!("ramp to {:.0} °C", ramp.to.0),
        other => other.word().to_owned(),
    }
}

fn moment(at: Moment) -> String {
    match at {
        Moment::SinceStart(seconds) => format!("at {}", duration(seconds)),
        Moment::SinceStep(step, seconds) => format!("step {} + {}", step + 1, duration(seconds)),
    }
}

fn door(door: &DoorScript) -> String {
    let loads = if door.loads { ", loading" } else { "" };
    format!("{} for {}{loads}", moment(door.at), duration(door.open_for_s))
}

fn answer(answer: &AnswerScript) -> String {
    let say = if answer.say == Say::Fail { "fail" } else { "go" };
    match answer.after_s {
        Some(after_s) if after_s > EVER_S => "never".to_owned(),
        Some(after_s) => format!("{say} after {}", duration(after_s)),
        None => say.to_owned(),
    }
}

fn fault(fault: &FaultScript) -> String {
    let length = fault.for_s.map_or_else(String::new, |s| format!(" for {s:.1} s"));
    let size = fault.by_k.map_or_else(String::new, |k| format!(" by {k:+.0} K"));
    format!("{} {}{length}{size}", fault.kind, moment(fault.at))
}
