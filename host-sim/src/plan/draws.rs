//! One draw: the bake by the controller, by the clock as the trade runs it, and by the oracle.

use super::{COURSE_DRAWS, Wanted};
use crate::files::{Refusal, Setup};
use crate::plant::Draw;
use crate::rehearse::{Bench, Case, Observer, Oracle, PartNow, Runner, Trace, World};
use crate::report::result::{BakeResult, Part, Verdict};
use truesoak_core::bake::Step;
use truesoak_core::event::Event;
use truesoak_core::record::Record;
use truesoak_core::units::TICKS_PER_SECOND;

/// Set on top of what the data sheet asks, for safety (`common practice`), s.
pub const CLOCK_EXTRA_S: u32 = 600;
/// Between two samples of a course, s.
pub const COURSE_EVERY_S: u32 = 60;

/// What came of one draw.
#[derive(Clone, Debug, PartialEq)]
pub struct Drawn {
    /// Which.
    pub number: u64,
    /// What the controller claims.
    pub verdict: Verdict,
    /// What the parts had.
    pub truth: Verdict,
    /// The verdict in a sentence.
    pub reason: String,
    /// From start to end, s.
    pub duration_s: f64,
    /// It tripped though nothing was wrong.
    pub is_false_trip: bool,
    /// What the clock gives, where it was rehearsed.
    pub clock: Option<ByTheClock>,
    /// How short it could be, everything known, where that was found.
    pub oracle: Option<Oracle>,
    /// What the parts were at, if that is kept.
    pub course: Option<Course>,
}

/// A bake by the clock, its extra minutes included.
#[derive(Clone, Debug, PartialEq)]
pub struct ByTheClock {
    /// Every part has its minutes, and none is spoilt.
    pub passes: bool,
    /// What each part has in the soak it comes off worst in.
    pub had: Vec<Option<ClockHad>>,
}

/// What the clock gives a part.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ClockHad {
    /// Truly in the window, s.
    pub had_s: f64,
    /// Wanted, s.
    pub wanted_s: f64,
}

/// Coldest and hottest of the parts, every [`COURSE_EVERY_S`] from the start, °C; not a number while
/// none is inside.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Course {
    /// Coldest point of any part.
    pub coldest_c: Vec<f32>,
    /// Hottest point of any part.
    pub hottest_c: Vec<f32>,
}

impl Drawn {
    /// A pass, and truly one.
    #[must_use]
    pub fn is_good(&self) -> bool {
        super::is_good(self.verdict, self.truth)
    }

    /// Done, s; `None` for what did not pass.
    #[must_use]
    pub fn finish_s(&self) -> Option<f64> {
        self.is_good().then_some(self.duration_s)
    }
}

/// Rehearses one draw; the first `beside` of them by the clock and the oracle too.
pub(super) fn rehearse(
    wanted: &Wanted<'_>,
    bench: &Bench<'_>,
    number: u64,
    beside: u64,
) -> Result<Drawn, Refusal> {
    let setup = wanted.setup;
    let case = Case { truth: setup, draw: Draw::nth(&setup.oven, number), seed: wanted.seed };
    let mut watch = Watch {
        trace: bench.trace(&case, false),
        course: (wanted.keeps_courses && number <= COURSE_DRAWS).then(Course::default),
        seen: Vec::new(),
    };
    let ran = bench.bake(&case, &mut watch)?;
    let result = bench.result(&case, &ran, &mut watch.trace);
    let no_fault_struck = ran.unplayed.faults.len() == setup.bake.faults.len();
    let beside = number <= beside;
    let clock = beside.then(|| by_the_clock(setup, bench, &case)).transpose()?;
    let oracle = beside.then(|| bench.oracle(&case)).transpose()?;
    Ok(Drawn {
        number,
        verdict: result.verdict,
        truth: truth(&result),
        is_false_trip: result.verdict == Verdict::Tripped && no_fault_struck,
        reason: result.reason,
        duration_s: result.duration_s,
        clock,
        oracle,
        course: watch.course,
    })
}

fn by_the_clock(setup: &Setup, bench: &Bench<'_>, case: &Case<'_>) -> Result<ByTheClock, Refusal> {
    let mut trace = bench.trace(case, false);
    bench.practise(case, CLOCK_EXTRA_S, &mut trace)?;
    let parts = trace.tally.parts(&setup.load, None);
    Ok(ByTheClock {
        passes: trace.tally.truth(&setup.load, &setup.bake.bake) == Verdict::Pass,
        had: parts.iter().map(|part| worst_soak(setup, part)).collect(),
    })
}

/// What the parts of a rehearsal truly had; a rehearsal always knows.
pub(super) fn truth(result: &BakeResult) -> Verdict {
    result.truth.unwrap_or(Verdict::Short)
}

/// The soak a part comes off worst in, by its share of what is wanted.
fn worst_soak(setup: &Setup, part: &Part) -> Option<ClockHad> {
    let had = part.soaks.iter().filter_map(|soak| {
        let step = setup.bake.bake.steps.get(soak.step - 1)?;
        let Step::Soak(wanted) = step else { return None };
        Some(ClockHad { had_s: soak.in_window_s, wanted_s: f64::from(wanted.for_s) })
    });
    let share = |had: &ClockHad| had.had_s / had.wanted_s.max(1.0);
    had.min_by(|a, b| share(a).total_cmp(&share(b)))
}

/// Keeps what a result needs and, every minute, what the parts are at.
struct Watch {
    trace: Trace,
    course: Option<Course>,
    seen: Vec<PartNow>,
}

impl Observer for Watch {
    fn event(&mut self, now: u32, event: Event, runner: &dyn Runner, world: &World) {
        self.trace.event(now, event, runner, world);
    }

    fn second(&mut self, now: u32, record: &Record, runner: &dyn Runner) {
        self.trace.second(now, record, runner);
    }

    fn truth(&mut self, now: u32, done: u32, world: &World) {
        self.trace.truth(now, done, world);
        let Some(course) = &mut self.course else { return };
        if !now.is_multiple_of(COURSE_EVERY_S * TICKS_PER_SECOND) {
            return;
        }
        world.plant.look_at(done, &mut self.seen);
        let inside = || self.seen.iter().filter(|part| part.inside);
        course.coldest_c.push(inside().map(|part| part.coldest_c as f32).fold(f32::NAN, f32::min));
        course.hottest_c.push(inside().map(|part| part.hottest_c as f32).fold(f32::NAN, f32::max));
    }
}
