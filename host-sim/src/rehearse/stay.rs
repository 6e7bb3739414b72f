//! Whether `no_longer_than` can hold: rehearsed before a bake is taken on, where a soak has one.
//!
//! The bounds, and with them the wait of thin parts for thick ones, hang on how fast the oven heats
//! and cools. So the bake is run on the nominal oven and on the slowest of the spread either way,
//! with nothing of its script but the loading. Where a limit does not hold the shortest that does is
//! searched the same way, so that what a refusal names has been rehearsed.

use super::runner::Runner;
use super::trace::Observer;
use super::whole::{Bench, Case};
use super::world::World;
use crate::files::{Finding, KeyPath, Refusal, Setup};
use crate::plant::Draw;
use crate::report::units::duration;
use truesoak_core::bake::Step;
use truesoak_core::event::{Ending, Event};
use truesoak_core::record::Record;

/// A limit must hold with this share of it to spare, for all the ovens that are not rehearsed.
const SPARE: f64 = 0.03;
/// After a limit that does not hold one is tried that is longer by a quarter and this, min.
const LONGER_MIN: u32 = 10;
/// No longer limit is tried, min: two days.
const LONGEST_MIN: u32 = 2 * 24 * 60;

/// How a bake went as far as its limits go.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Went {
    /// The first soak, by index, whose parts could stay no longer.
    no_longer: Option<u8>,
    ending: Option<Ending>,
}

impl Observer for Went {
    fn event(&mut self, _now: u32, event: Event, _runner: &dyn Runner, _world: &World) {
        match event {
            Event::NoLonger(soak) => self.no_longer = self.no_longer.or(Some(soak)),
            Event::Ended(ending) => self.ending = Some(ending),
            _ => {}
        }
    }

    fn second(&mut self, _now: u32, _record: &Record, _runner: &dyn Runner) {}

    fn truth(&mut self, _now: u32, _done: u32, _world: &World) {}
}

/// Says which limit does not hold, if one does not.
///
/// # Errors
/// A plant that cannot be followed.
pub(super) fn findings(bench: &Bench<'_>) -> Result<Vec<Finding>, Refusal> {
    let Some(first) = limited(bench.believed).next() else { return Ok(Vec::new()) };
    let bare = bare(bench.believed);
    let Some(soak) = fails(bench, &bare)? else { return Ok(Vec::new()) };
    let soak = soak.unwrap_or(first);
    let holds_min = shortest(bench, &bare, soak)?;
    Ok(vec![finding(bench.believed, soak, holds_min)])
}

/// Soaks with a limit, by index.
fn limited(setup: &Setup) -> impl Iterator<Item = u8> {
    let steps = setup.bake.bake.steps.iter().enumerate();
    steps.filter_map(|(index, step)| match step {
        Step::Soak(soak) if soak.no_longer_than_s.is_some() => u8::try_from(index).ok(),
        _ => None,
    })
}

/// The bake without what its script brings besides the loading: no board knows of that.
fn bare(setup: &Setup) -> Setup {
    let mut bare = setup.clone();
    bare.bake.doors.retain(|door| door.loads);
    bare.bake.answers.clear();
    bare.bake.faults.clear();
    bare
}

/// Every limit as `change` makes it.
fn with_limits(setup: &Setup, change: impl Fn(u32) -> Option<u32>) -> Setup {
    let mut changed = setup.clone();
    for step in &mut changed.bake.bake.steps {
        if let Step::Soak(soak) = step {
            soak.no_longer_than_s = soak.no_longer_than_s.and_then(&change);
        }
    }
    changed
}

fn with_limit(bare: &Setup, soak: u8, limit_s: u32) -> Setup {
    let mut changed = bare.clone();
    if let Some(Step::Soak(soak)) = changed.bake.bake.steps.get_mut(usize::from(soak)) {
        soak.no_longer_than_s = Some(limit_s);
    }
    changed
}

/// On some oven a limit does not hold; of which soak, where that is known. A bake that does not come
/// to its end for another reason than its limits is not judged here.
fn fails(bench: &Bench<'_>, setup: &Setup) -> Result<Option<Option<u8>>, Refusal> {
    let spared = |limit_s: u32| (f64::from(limit_s) * (1.0 - SPARE)) as u32;
    let held = with_limits(setup, |limit_s| Some(spared(limit_s)));
    let free = with_limits(setup, |_| None);
    for draw in ovens(setup) {
        let went = goes(bench, &held, draw)?;
        if went.no_longer.is_some() {
            return Ok(Some(went.no_longer));
        }
        let ended = went.ending == Some(Ending::Finished);
        if !ended && goes(bench, &free, draw)?.ending != went.ending {
            return Ok(Some(None));
        }
    }
    Ok(None)
}

fn goes(bench: &Bench<'_>, setup: &Setup, draw: Draw) -> Result<Went, Refusal> {
    let case = Case { truth: setup, draw, seed: 1 };
    let mut went = Went::default();
    bench.of(setup).bake(&case, &mut went)?;
    Ok(went)
}

/// The nominal oven, the slowest to heat and the slowest to cool.
fn ovens(setup: &Setup) -> [Draw; 3] {
    let oven = &setup.oven;
    let nominal = Draw::nominal(oven);
    let (least, most) = (Draw::at(oven, |_| 0.0), Draw::at(oven, |_| 1.0));
    [
        nominal,
        Draw {
            losses: most.losses,
            wall_heat_capacity: most.wall_heat_capacity,
            part_exchange: most.part_exchange,
            heater_power: least.heater_power,
            ..nominal
        },
        Draw {
            losses: least.losses,
            wall_heat_capacity: most.wall_heat_capacity,
            part_exchange: least.part_exchange,
            ..nominal
        },
    ]
}

/// The shortest limit of one soak that holds, in whole minutes; `None` where none is found.
fn shortest(bench: &Bench<'_>, bare: &Setup, soak: u8) -> Result<Option<u32>, Refusal> {
    let asked_s = match bare.bake.bake.steps.get(usize::from(soak)) {
        Some(Step::Soak(soak)) => soak.no_longer_than_s.unwrap_or(soak.for_s),
        _ => return Ok(None),
    };
    let holds = |limit_min: u32| {
        let failed = fails(bench, &with_limit(bare, soak, 60 * limit_min))?;
        // Another soak's limit is another refusal.
        Ok(failed.is_none_or(|of| of.is_some_and(|of| of != soak)))
    };
    let mut fails_min = asked_s / 60;
    let mut holds_min = fails_min + 1;
    while !holds(holds_min)? {
        fails_min = holds_min;
        holds_min += holds_min / 4 + LONGER_MIN;
        if holds_min > LONGEST_MIN {
            return Ok(None);
        }
    }
    while holds_min - fails_min > 1 {
        let middle_min = fails_min + (holds_min - fails_min) / 2;
        if holds(middle_min)? {
            holds_min = middle_min;
        } else {
            fails_min = middle_min;
        }
    }
    Ok(Some(holds_min))
}

fn finding(setup: &Setup, soak: u8, holds_min: Option<u32>) -> Finding {
    let index = usize::from(soak);
    let scale = setup.bake.scale;
    let (at_least, asked) = match setup.bake.bake.steps.get(index) {
        Some(Step::Soak(soak)) => (
            format!("{:.0} {}", scale.from_celsius(f64::from(soak.at_least.0)), scale.symbol()),
            soak.no_longer_than_s.map_or_else(String::new, |limit_s| duration(f64::from(limit_s))),
        ),
        _ => return Finding::new(KeyPath::step(index), "not a soak", "a soak", "write one"),
    };
    let expected = match holds_min {
        Some(limit_min) => format!(
            "at least {limit_min} min here: the slowest part's way up after the others have waited, \
             the soak itself, and the way down below {at_least}"
        ),
        None => "a load whose parts follow the oven more alike: no limit was found that would do"
            .to_owned(),
    };
    Finding::new(
        KeyPath::step(index).key("soak").key("no_longer_than"),
        format!(
            "some part may be above {at_least} for longer than {asked}, however thin parts wait"
        ),
        expected,
        "lengthen no_longer_than, widen the window, or bake thick and thin parts apart",
    )
}
