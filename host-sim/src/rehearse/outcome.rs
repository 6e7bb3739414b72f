//! From what was kept of a rehearsal to its result.

use super::tally::Tally;
use super::trace::Trace;
use crate::chronicle::Chronicle;
use crate::files::load::Load;
use crate::files::oven::Oven;
use crate::report::result::{Air, BakeResult, Basis, Part, SCHEMA, StepRun, Verdict};
use crate::report::title;
use crate::report::units::{JOULES_PER_KWH, duration, minutes_of};
use truesoak_core::bake::{Bake, Step};
use truesoak_core::event::Ending;

/// What a result needs besides the trace.
#[derive(Clone, Copy, Debug)]
pub struct Circumstances<'a> {
    /// The bake.
    pub bake: &'a Bake,
    /// The true load.
    pub load: &'a Load,
    /// The oven as believed.
    pub oven: &'a Oven,
    /// The practice's tally of the same bake.
    pub clock: Option<&'a Tally>,
    /// The controller calls some soak short.
    pub is_short: bool,
    /// Heat put in, J.
    pub heat_j: f64,
    /// The practice ran: it claims by its clock.
    pub by_the_clock: bool,
}

/// The result of a rehearsal.
#[must_use]
pub fn result(trace: &mut Trace, of: &Circumstances<'_>) -> BakeResult {
    trace.chronicle.judge_doors(&trace.rows);
    let (soak_mean_error_k, soak_sd_k, overshoot_k) = trace.steadiness();
    let readings = trace.rows.iter().filter_map(|row| row.air);
    let peak_c = readings.max().map(|reading| f64::from(reading.to_celsius().0));
    let parts = trace.tally.parts(of.load, of.clock);
    let told = Told { bake: of.bake, oven: of.oven, by_the_clock: of.by_the_clock };
    let chronicle = &trace.chronicle;
    let verdict = claim(chronicle, of.is_short);
    let truth = trace.tally.truth(of.load, of.bake);
    BakeResult {
        schema: SCHEMA.to_owned(),
        verdict,
        truth: Some(truth),
        reason: told.reason(chronicle, verdict, &parts),
        basis: told.basis(chronicle),
        duration_s: chronicle.duration_s(&trace.rows),
        energy_kwh: of.heat_j / JOULES_PER_KWH,
        air: Air { peak_c, overshoot_k, soak_mean_error_k, soak_sd_k },
        parts,
        doors: chronicle.doors.clone(),
        steps: chronicle.steps.clone(),
        trips: chronicle.trips.clone(),
        answers: chronicle.answers.clone(),
        oracle: None,
        why: Vec::new(),
        record: Vec::new(),
    }
}

/// What a bake's events come to.
#[must_use]
pub fn claim(chronicle: &Chronicle, is_short: bool) -> Verdict {
    match chronicle.ending {
        Some(Ending::Tripped(_)) => Verdict::Tripped,
        Some(Ending::Finished) if is_short => Verdict::Short,
        Some(Ending::Finished) => Verdict::Pass,
        Some(Ending::Stopped | Ending::TooLong | Ending::CheckFailed) | None => Verdict::Unfinished,
    }
}

/// What the words on a verdict need besides the chronicle.
#[derive(Clone, Copy, Debug)]
pub struct Told<'a> {
    /// The bake.
    pub bake: &'a Bake,
    /// The oven as believed.
    pub oven: &'a Oven,
    /// The practice ran: it claims by its clock.
    pub by_the_clock: bool,
}

impl Told<'_> {
    /// What was counted while a part probe was believed rests on it, also where it is not any more.
    #[must_use]
    pub fn basis(&self, chronicle: &Chronicle) -> Basis {
        match (chronicle.rests_on_probe, self.oven.sensor_b) {
            (true, _) => Basis::PartProbe,
            (false, Some(_)) => Basis::TwoSensors,
            (false, None) => Basis::OneSensor,
        }
    }

    /// The verdict in a sentence.
    #[must_use]
    pub fn reason(&self, chronicle: &Chronicle, verdict: Verdict, parts: &[Part]) -> String {
        match (verdict, chronicle.ending) {
            (Verdict::Tripped, Some(Ending::Tripped(kind))) => {
                format!("{kind} cut the heat for good")
            }
            (_, Some(Ending::Stopped)) => "stopped at the oven before the last step".to_owned(),
            (_, Some(Ending::TooLong)) => {
                let hours = f64::from(self.bake.limits.bake_max_s) / 3600.0;
                format!("more than bake_max ({hours:.1} h) with heat allowed")
            }
            (_, Some(Ending::CheckFailed)) => "a check failed in its last round".to_owned(),
            (_, None) if chronicle.steps.is_empty() => {
                "the bake did not start: the air reading, the door or the board was not in order"
                    .to_owned()
            }
            (_, None) => "the bake did not come to its end".to_owned(),
            (Verdict::Short, _) => self.short_reason(chronicle, parts),
            (Verdict::Pass, _) if self.by_the_clock => "the clock ran out in every soak".to_owned(),
            _ => "every part was proven in its window for its minutes".to_owned(),
        }
    }

    fn short_reason(&self, chronicle: &Chronicle, parts: &[Part]) -> String {
        let least = parts.iter().min_by(|a, b| a.credited_s.total_cmp(&b.credited_s));
        let name = least.map_or("", |part| part.name.as_str());
        if chronicle.outside_model {
            return "the air answered the heater as no oven of the spread does, so nothing counted"
                .to_owned();
        }
        let no_longer = chronicle.no_longer;
        if let Some(reason) = no_longer.and_then(|soak| self.no_longer_reason(chronicle, soak)) {
            return reason;
        }
        let Some((soak, asked_s)) = least_counted(chronicle, self.bake) else {
            return "no soak was run".to_owned();
        };
        let named = title(soak.index, &soak.name);
        let counted = minutes_of(soak.credit_s, asked_s);
        format!("gave up on {named} with {counted} counted; the slowest is \"{name}\"")
    }

    /// Why a soak is short whose parts could not stay.
    fn no_longer_reason(&self, chronicle: &Chronicle, soak: u8) -> Option<String> {
        let index = usize::from(soak);
        let Some(Step::Soak(soak)) = self.bake.steps.get(index) else { return None };
        let run = chronicle.steps.iter().rev().find(|run| run.index == index + 1)?;
        let named = title(run.index, &run.name);
        let counted = minutes_of(run.credit_s, f64::from(soak.for_s));
        let limit = duration(f64::from(soak.no_longer_than_s?));
        Some(format!(
            "in {named} some part could be above the window's lower end for longer than {limit}, \
             cooling included; {counted} counted"
        ))
    }
}

/// The soak whose last try counted the least share of what it asks for, and that, s.
fn least_counted<'a>(chronicle: &'a Chronicle, bake: &Bake) -> Option<(&'a StepRun, f64)> {
    let soaks = chronicle.steps.iter().filter_map(|run| match bake.steps.get(run.index - 1) {
        Some(Step::Soak(soak)) => Some((run, f64::from(soak.for_s))),
        _ => None,
    });
    let is_last = |run: &StepRun| {
        chronicle.steps.iter().all(|other| other.index != run.index || other.round <= run.round)
    };
    let share = |(run, asked_s): &(&StepRun, f64)| run.credit_s / asked_s.max(1.0);
    soaks.filter(|(run, _)| is_last(run)).min_by(|a, b| share(a).total_cmp(&share(b)))
}
