//! The oracle: how short a bake could be on one very plant, were all of it known.
//!
//! The same steps, limits, doors and answers, by the board's own sequence, but every decision rests
//! on the true state: credit counts the true parts, and heat is found by trying it on copies of the
//! plant ([`heat`]): full power until a limit is near, then along it. The air is limited where the
//! controller's own limit is, on the reading: to `at_most + boost` while a part lags, to `at_most`
//! after; no part passes `at_most` or what it stands, nor the true air `air_max`. Doors to come are
//! known, faults are not played.
//!
//! ```text
//! bench.oracle(&case)? -> Oracle { duration_s, finished, truth, soaks: [{ step, round, lead_s }], … }
//! ```
//! What makes a soak's lead the least is shown in `oracle_optimum`. What follows a soak is not
//! weighed against it: once every part is in, and only a cooling or a person comes next, they are
//! let down to the lower end of the window, so that the cooling starts from there.
//!
//! With `no_longer_than` thin parts wait as long as they must and no longer ([`wait`]); the way down
//! counts, a door to come is known. Where no wait holds the limit the oracle does not pass.
//! Parts that a ramp brings into the window do not wait in it, as they do not with the controller.

mod course;
pub mod heat;
mod land;
mod oven;
pub mod wait;

use super::tally::Tally;
use super::whole::{Bench, Case, Request};
use crate::files::Refusal;
use crate::files::load::Part;
use crate::report::result::Verdict;
use course::{Course, Known};
use truesoak_core::event::Ending;

/// The shortest bake.
#[derive(Clone, Debug, PartialEq)]
pub struct Oracle {
    /// From start to end, s.
    pub duration_s: f64,
    /// It came to its last step's end.
    pub finished: bool,
    /// What the parts had.
    pub truth: Verdict,
    /// Every soak that was run, every try.
    pub soaks: Vec<SoakLead>,
    /// Heat put in, J.
    pub heat_j: f64,
}

/// How long one run of a soak took beyond what it asks for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SoakLead {
    /// Step, from 1.
    pub step: usize,
    /// Which try, from 1.
    pub round: u32,
    /// From the load-in door's closing (none: the step's start) to the soak's end, less what is
    /// asked for, s; none for one cut off.
    pub lead_s: Option<f64>,
}

impl Oracle {
    /// Every part has its minutes.
    #[must_use]
    pub fn passes(&self) -> bool {
        self.finished && self.truth == Verdict::Pass
    }

    /// How it ended, in the word of a result.
    #[must_use]
    pub fn verdict(&self) -> Verdict {
        if self.finished { self.truth } else { Verdict::Unfinished.min(self.truth) }
    }

    /// The longest lead of any soak's last try, s.
    #[must_use]
    pub fn lead_s(&self) -> Option<f64> {
        let is_last = |soak: &&SoakLead| {
            self.soaks.iter().all(|other| other.step != soak.step || other.round <= soak.round)
        };
        self.soaks.iter().filter(is_last).filter_map(|soak| soak.lead_s).reduce(f64::max)
    }
}

/// The shortest bake on the plant of a request.
///
/// # Errors
/// A bake that contradicts its oven's model, or a plant that cannot be followed.
pub fn oracle(request: &Request<'_>) -> Result<Oracle, Refusal> {
    Bench::new(request.believed)?.oracle(&request.case())
}

impl Bench<'_> {
    /// The shortest bake on this plant, everything known.
    ///
    /// # Errors
    /// A plant that cannot be followed.
    pub fn oracle(&self, case: &Case<'_>) -> Result<Oracle, Refusal> {
        let mut known = Known {
            bake: self.believed.bake.bake.clone(),
            stands_c: case.truth.load.parts.iter().map(|part: &Part| part.max_c).collect(),
            hot_spot_k: case.draw.hot_spot_k,
            cold_spot_k: case.draw.cold_spot_k,
            has_fan: self.settings.fan,
            lean: true,
            waits_s: Vec::new(),
        };
        let mut foreseen = self.leanest(case, &mut known)?;
        while let Some(run) = foreseen.stays_past_s.iter().position(|past_s| *past_s > 0) {
            known.waits_s.resize(run + 1, 0);
            let wait_s = wait::shortest(|wait_s| {
                known.waits_s[run] = wait_s;
                foreseen = self.leanest(case, &mut known)?;
                // A run that is never come to holds nothing.
                Ok(foreseen.stays_past_s.get(run).copied().unwrap_or(i64::MAX))
            })?;
            let Some(wait_s) = wait_s else { break };
            known.waits_s[run] = wait_s;
            foreseen = self.leanest(case, &mut known)?;
        }
        Ok(foreseen.oracle)
    }

    /// With the parts let down where that costs nothing.
    fn leanest(&self, case: &Case<'_>, known: &mut Known) -> Result<Foreseen, Refusal> {
        known.lean = true;
        let lean = self.foresee(case, known)?;
        if lean.lost_s == 0 {
            return Ok(lean);
        }
        // Letting the parts down cost seconds of their soak: the window is too narrow for it.
        known.lean = false;
        self.foresee(case, known)
    }

    fn foresee(&self, case: &Case<'_>, known: &Known) -> Result<Foreseen, Refusal> {
        let mut world = self.world(case);
        world.forget_faults();
        let load = &case.truth.load;
        let mut course = Course::new(known, world, Tally::new(load));
        let (ending, ended) = course.run();
        super::whole::was_followed(&course.world, case)?;
        let tally = &course.tally;
        let mut soaks: Vec<SoakLead> = Vec::new();
        for soak in tally.parts(load, None).iter().flat_map(|part| &part.soaks) {
            let lead = SoakLead { step: soak.step, round: soak.round, lead_s: soak.lead_s };
            if !soaks.contains(&lead) {
                soaks.push(lead);
            }
        }
        let oracle = Oracle {
            duration_s: f64::from(ended) / 10.0,
            finished: ending == Some(Ending::Finished),
            truth: tally.truth(load, &known.bake),
            soaks,
            heat_j: course.world.plant.energy().put_in_j,
        };
        let stays_past_s = tally.stays_past_s().collect();
        Ok(Foreseen { oracle, lost_s: course.lost_s, stays_past_s })
    }
}

/// One way to bake it.
struct Foreseen {
    oracle: Oracle,
    lost_s: u32,
    /// By how much each limited run of a soak passes its limit, s.
    stays_past_s: Vec<i64>,
}
