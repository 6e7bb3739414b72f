//! The fault campaign: bakes drawn at random, with faults, run by the real controller through the
//! plant, and held against the eight invariants of the safety contract.
//!
//! A seed draws everything (`scene`): oven, load, bake, what is fitted, people who answer late or
//! never, one plant of the spread, and up to three faults. In the safety phase faults come and go;
//! then whatever is wrong ends, and in the liveness phase the bake must come to an end. Who judges
//! stands outside the controller (`watch`, `invariants`) and sees the plant.
//!
//! What the contract does not cover (one sensor that moved, a reading further off than told, a part
//! thicker than told) is drawn too, excluded from the invariants it is excluded from, and counted
//! apart.

mod bakes;
mod bases;
mod beside;
mod dice;
mod invariants;
mod limits;
mod mishaps;
mod named;
mod openings;
pub mod report;
mod scene;
mod sight;
mod summary;
mod watch;
mod words;

pub use bakes::{plant, random_bake};
pub use bases::BASES;
pub use invariants::{Broken, End};
pub use named::allowed_ticks;
pub use scene::{Scene, Untold};
pub use sight::Fate;
pub use summary::{KindLine, Summary, UntoldLine};

use crate::plan::many;
use crate::rehearse::{
    self, Bench, Board, Case, Circumstances, Fault, FaultKind, Runner as _, Trace,
};
use crate::report::result::BakeResult;
use scene::TRIES;
use std::cell::RefCell;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::rc::Rc;
use std::sync::atomic::{AtomicU64, Ordering};
use truesoak_core::Controller;
use truesoak_core::guard::TripKind;
use truesoak_core::units::{Celsius, TICKS_PER_SECOND};
use watch::{Commanded, Watch, Watched};

/// What came of one seed.
#[derive(Clone, Debug)]
pub struct Found {
    /// The seed.
    pub seed: u64,
    /// How the bake ended.
    pub end: End,
    /// The trip, if there was one.
    pub tripped: Option<TripKind>,
    /// Kinds that were drawn, struck or not.
    pub drawn: Vec<FaultKind>,
    /// Faults that struck, and what became of each.
    pub faults: Vec<(Fault, Fate)>,
    /// More than one kind struck.
    pub is_crowded: bool,
    /// What was true and not told.
    pub untold: Option<Untold>,
    /// A fault struck that the contract does not cover.
    pub is_uncovered: bool,
    /// Every part had its minutes.
    pub had_its_minutes: bool,
    /// Some part went more than a kelvin past what it stands.
    pub overheated: bool,
    /// Nothing was counted any more: the air answered as no oven of the spread does.
    pub outside_model: bool,
    /// Bakes drawn that contradicted themselves before this one.
    pub redrawn: u64,
    /// Invariants that do not hold, the first first.
    pub broken: Vec<Broken>,
}

/// One seed, drawn, run and judged; with its trace.
#[derive(Clone, Debug)]
pub struct Played {
    /// What came of it.
    pub found: Found,
    /// The bake.
    pub scene: Scene,
    /// Rows and truth, if they were asked for.
    pub trace: Trace,
    /// The controller calls some soak short.
    pub is_short: bool,
    /// Heat put in, J.
    pub heat_j: f64,
    /// Digest of the tables it ran with.
    pub models: String,
}

impl Played {
    /// The result of the bake, as `simulate` has it.
    #[must_use]
    pub fn result(&mut self) -> BakeResult {
        let circumstances = Circumstances {
            bake: &self.scene.believed.bake.bake,
            load: &self.scene.truth.load,
            oven: &self.scene.believed.oven,
            clock: None,
            is_short: self.is_short,
            heat_j: self.heat_j,
            by_the_clock: false,
        };
        rehearse::result(&mut self.trace, &circumstances)
    }
}

/// Something done to a controller before it runs: tests mute a row of its guard.
pub type Prepare<'p> = &'p (dyn Fn(&mut Controller) + Sync);

/// Runs one seed; `None` where every bake that was drawn contradicts itself.
#[must_use]
pub fn play(seed: u64, keeps_rows: bool, prepare: Prepare<'_>) -> Option<Played> {
    (0..TRIES).find_map(|attempt| {
        let scene = Scene::draw(seed, attempt);
        let mut played = bake(&scene, keeps_rows, prepare)?;
        played.found.redrawn = attempt;
        Some(played)
    })
}

/// A bake that the command would take on.
fn accepts(scene: &Scene) -> bool {
    let setup = &scene.believed;
    #[allow(clippy::cast_possible_truncation)] // the controller's own precision
    let room = Celsius(setup.oven.ambient_c as f32);
    setup.bake.bake.faults(room).is_empty() && setup.contradictions().is_empty()
}

fn bake(scene: &Scene, keeps_rows: bool, prepare: Prepare<'_>) -> Option<Played> {
    if !accepts(scene) {
        return None;
    }
    let bench = Bench::new(&scene.believed).ok()?;
    let case = Case { truth: &scene.truth, draw: scene.draw, seed: scene.seed };
    let commanded = Rc::new(RefCell::new(Commanded::default()));
    let trace = bench.trace(&case, keeps_rows);
    let mut watch = Watch::new(scene, bench.model(), trace, Rc::clone(&commanded));
    let mut controller = bench.controller();
    prepare(&mut controller);
    let mut runner = Watched::new(Board::new(controller), commanded);
    let mut world = bench.world(&case).calm_from(scene.calm_from_s * TICKS_PER_SECOND);
    // A controller that panics has broken INV-4, and is not looked at afterwards.
    let ran = catch_unwind(AssertUnwindSafe(|| {
        rehearse::run(&mut runner, &mut world, false, &mut watch);
    }));
    if world.plant.is_astray() {
        return None;
    }
    let panicked = ran.err().map(|panic| said(&*panic));
    let is_short = panicked.is_none() && runner.is_short();
    let heat_j = world.plant.energy().put_in_j;
    let (patience, longest) = (rehearse::PATIENCE_TICKS, rehearse::LONGEST_TICKS);
    // A second's truth is up to a second old.
    let last = watch.last;
    let waits = world.waits_in_vain(last, patience - TICKS_PER_SECOND, longest);
    let end = End::of(
        watch.trace.chronicle.ending,
        is_short,
        waits,
        !watch.trace.chronicle.steps.is_empty(),
    );
    let models = crate::compile::digest(bench.model());
    let found = judge(scene, &bench, &case, &mut watch, end, last, panicked.as_deref());
    Some(Played { found, scene: scene.clone(), trace: watch.trace, is_short, heat_j, models })
}

/// What a panic said.
fn said(panic: &(dyn std::any::Any + Send)) -> String {
    let text = panic.downcast_ref::<&str>().map(ToString::to_string);
    text.or_else(|| panic.downcast_ref::<String>().cloned()).unwrap_or_default()
}

fn judge(
    scene: &Scene,
    bench: &Bench<'_>,
    case: &Case<'_>,
    watch: &mut Watch<'_>,
    end: End,
    tick: u32,
    panicked: Option<&str>,
) -> Found {
    watch.finish(tick, end != End::NotStarted);
    let faults: Vec<(Fault, Fate)> = watch
        .sights
        .iter()
        .map(|sight| (sight.fault, sight.fate.unwrap_or(Fate::NothingToSee)))
        .collect();
    let first = faults.first().map(|(fault, _)| fault.kind);
    let is_crowded = faults.iter().any(|(fault, _)| Some(fault.kind) != first);
    let oven = &scene.believed.oven;
    // With one sensor: if it moved, or is of another type where what it answers first may be a door's.
    let uncovered = |sight: &sight::Sight| match sight.fault.kind {
        FaultKind::SensorMoved => true,
        FaultKind::SensorTypeWrong => !oven.door.switch,
        _ => sight.is_behind_a_door(),
    };
    let is_uncovered = oven.sensor_b.is_none() && watch.sights.iter().any(uncovered);
    let covered = scene.untold.is_none() && !is_uncovered;
    let tally = &watch.trace.tally;
    let had_its_minutes = tally.had_its_minutes(&scene.believed.bake.bake);
    let over = invariants::no_part_over(scene, tally);
    let overheated = over.is_some();
    // A bake that a weld would harm is not taken on: `simulate` and `send` rehearse one first.
    let refused = || first == Some(FaultKind::DriveWelded) && !survives_weld(scene, bench, case);
    let held = over.filter(|_| covered && !is_crowded && !refused());
    let false_pass = invariants::no_false_pass(end, had_its_minutes).filter(|_| covered);
    let nowhere = invariants::ends(end, watch.may_not_start).filter(|_| panicked.is_none());
    let late = [(2, false_pass), (3, held), (4, invariants::no_panic(panicked)), (6, nowhere)];
    let mut broken = std::mem::take(&mut watch.broken);
    broken.extend(
        late.into_iter()
            .filter_map(|(invariant, what)| Some(Broken { invariant, tick, what: what? })),
    );
    let kinds = scene.believed.bake.faults.iter();
    let mut drawn: Vec<FaultKind> =
        kinds.filter_map(|script| FaultKind::from_word(&script.kind)).collect();
    drawn.sort_by_key(|kind| *kind as u8);
    drawn.dedup();
    Found {
        seed: scene.seed,
        end,
        tripped: watch.tripped.map(|(_, kind)| kind),
        drawn,
        faults,
        is_crowded,
        untold: scene.untold,
        is_uncovered,
        had_its_minutes,
        overheated,
        outside_model: watch.trace.chronicle.outside_model,
        redrawn: 0,
        broken,
    }
}

/// The rehearsal of a weld that comes before a bake is taken on, on the nominal oven.
fn survives_weld(scene: &Scene, bench: &Bench<'_>, case: &Case<'_>) -> bool {
    let nominal = Case { draw: crate::plant::Draw::nominal(&scene.believed.oven), ..*case };
    let mut sound = scene.believed.clone();
    sound.bake.faults.clear();
    let bench = bench.of(&sound);
    let mut trace = bench.trace(&nominal, false);
    bench.bake(&nominal, &mut trace).is_ok() && bench.survive_weld(&nominal, &trace.tally).is_ok()
}

/// What to try.
#[derive(Clone, Copy, Debug)]
pub struct Campaign {
    /// The first seed.
    pub from: u64,
    /// How many.
    pub seeds: u64,
    /// On so many threads; the answer is the same.
    pub threads: usize,
    /// Goes on past a broken invariant.
    pub keeps_going: bool,
}

/// Runs a campaign; `step` is told after every seed what came of it. After Ctrl-C what is done is given.
pub fn run(campaign: &Campaign, prepare: Prepare<'_>, step: impl Fn(&Found) + Sync) -> Summary {
    let first_broken = AtomicU64::new(u64::MAX);
    let one = |index: usize| -> Result<Option<Found>, ()> {
        let seed = campaign.from.saturating_add(index as u64);
        if seed > first_broken.load(Ordering::Relaxed) {
            return Ok(None);
        }
        let Some(played) = play(seed, false, prepare) else { return Ok(None) };
        step(&played.found);
        if !played.found.broken.is_empty() && !campaign.keeps_going {
            first_broken.fetch_min(seed, Ordering::Relaxed);
        }
        Ok(Some(played.found))
    };
    let count = usize::try_from(campaign.seeds).unwrap_or(usize::MAX);
    let all = many::each(count, campaign.threads, one).unwrap_or_default();
    let last = first_broken.into_inner();
    let tried = (all.len() as u64).min(last.saturating_sub(campaign.from).saturating_add(1));
    let found = all.into_iter().flatten().filter(|found| found.seed <= last);
    Summary::of(campaign.from, tried, found)
}
