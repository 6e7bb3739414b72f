//! One rehearsal from files to result: the bake itself, the practice beside it, and a drive that
//! welds at the worst moment. A [`Bench`] makes the tables once and runs any number of plants.

use super::fault::{Fault, FaultKind};
use super::outcome::{Circumstances, result};
use super::practice::Practice;
use super::runner::{Board, Runner};
use super::stay;
use super::tally::Tally;
use super::trace::{Observer, Trace};
use super::world::{Unplayed, World};
use crate::compile::{self, check, tuning};
use crate::files::{FileKind, Finding, KeyPath, Refusal, Setup};
use crate::plant::Draw;
use crate::report::result::BakeResult;
use truesoak_core::Controller;
use truesoak_core::bake::Step;
use truesoak_core::bounds::model::Model;
use truesoak_core::tick::Settings;
use truesoak_core::wire::compiled::Compiled;

/// A part may pass its limit by this much after a weld, K (invariant 3).
const WELD_MARGIN_K: f64 = 1.0;

/// What is rehearsed.
#[derive(Clone, Copy, Debug)]
pub struct Request<'a> {
    /// What the controller believes.
    pub believed: &'a Setup,
    /// What is true, before a draw.
    pub truth: &'a Setup,
    /// The truth is this draw of its spread; none: nominal.
    pub draw: Option<u64>,
    /// The truth is exactly this, whatever `draw` says.
    pub exactly: Option<Draw>,
    /// Seed of the noise.
    pub seed: u64,
    /// Rehearse the practice instead.
    pub by_the_clock: bool,
    /// Leave out the practice and the weld.
    pub quick: bool,
}

/// What came of it.
#[derive(Clone, Debug)]
pub struct Rehearsal {
    /// The result.
    pub result: BakeResult,
    /// Rows and truth.
    pub trace: Trace,
    /// The tables the controller ran with.
    pub model: Model,
    /// What of the script was not played.
    pub unplayed: Unplayed,
}

/// One plant a bake is rehearsed on.
#[derive(Clone, Copy, Debug)]
pub struct Case<'a> {
    /// What is true, before the draw.
    pub truth: &'a Setup,
    /// Everything the spread leaves open.
    pub draw: Draw,
    /// Seed of the noise.
    pub seed: u64,
}

/// What a run leaves besides what was observed of it.
#[derive(Clone, Debug)]
pub struct Ran {
    /// What the controller says of itself.
    pub is_short: bool,
    /// Heat put in, J.
    pub heat_j: f64,
    /// What of the script was not played.
    pub unplayed: Unplayed,
}

/// Rehearses a bake.
///
/// # Errors
/// A bake that contradicts its oven's model, or whose parts a welded drive would harm; an oven or a
/// load that cannot be followed.
pub fn rehearse(request: &Request<'_>) -> Result<Rehearsal, Refusal> {
    let bench = Bench::new(request.believed)?;
    let case = request.case();
    let beside = !request.by_the_clock && !request.quick;
    let mut trace = bench.trace(&case, true);
    let (ran, clock) = if request.by_the_clock {
        let ran = bench.practise(&case, 0, &mut trace)?;
        (ran, Some(trace.tally.clone()))
    } else if beside {
        bench.run_both(&case, &mut trace)?
    } else {
        (bench.bake(&case, &mut trace)?, None)
    };
    if beside {
        bench.survive_weld(&case, &trace.tally)?;
    }
    let circumstances = Circumstances {
        clock: clock.as_ref(),
        by_the_clock: request.by_the_clock,
        ..bench.circumstances(&case, &ran)
    };
    let result = result(&mut trace, &circumstances);
    Ok(Rehearsal { result, trace, model: bench.model, unplayed: ran.unplayed })
}

impl<'a> Request<'a> {
    pub(super) fn case(&self) -> Case<'a> {
        let oven = &self.truth.oven;
        let numbered = self.draw.map(|number| Draw::nth(oven, number));
        let draw = self.exactly.or(numbered).unwrap_or_else(|| Draw::nominal(oven));
        Case { truth: self.truth, draw, seed: self.seed }
    }
}

/// A bake with its tables, made and checked once for any number of plants.
#[derive(Clone, Debug)]
pub struct Bench<'a> {
    pub(super) believed: &'a Setup,
    model: Model,
    pub(super) settings: Settings,
}

impl<'a> Bench<'a> {
    /// Compiles what the controller believes.
    ///
    /// # Errors
    /// A bake that contradicts its oven's model; parts that may not stay as long as they would.
    pub fn new(believed: &'a Setup) -> Result<Self, Refusal> {
        let model = model_of(believed)?;
        let tuned = tuning::tune(believed, &model);
        let findings = check::findings(believed, &model, &tuned);
        if !findings.is_empty() {
            return Err(believed.refuse(findings));
        }
        let settings = compile::settings(&believed.oven, tuned.tuning);
        let bench = Self { believed, model, settings };
        let findings = stay::findings(&bench)?;
        if findings.is_empty() { Ok(bench) } else { Err(believed.refuse(findings)) }
    }

    /// The same tables for other steps and another script.
    pub(crate) fn of<'b>(&self, believed: &'b Setup) -> Bench<'b> {
        Bench { believed, model: self.model.clone(), settings: self.settings }
    }

    /// The tables.
    #[must_use]
    pub fn model(&self) -> &Model {
        &self.model
    }

    /// All a board makes its controller from.
    #[must_use]
    pub fn compiled(&self) -> Compiled {
        let settings = Settings { is_virtual: false, ..self.settings };
        Compiled { bake: self.believed.bake.bake.clone(), model: self.model.clone(), settings }
    }

    /// A trace of one plant: everything, or only what a result needs.
    #[must_use]
    pub fn trace(&self, case: &Case<'_>, keeps_rows: bool) -> Trace {
        Trace::new(&self.believed.bake, &case.truth.load, keeps_rows)
    }

    /// The world of a case.
    #[must_use]
    pub fn world(&self, case: &Case<'_>) -> World {
        let (believed, truth) = (self.believed, case.truth);
        World::new(&believed.bake, &truth.oven, &truth.load, &case.draw, &believed.oven, case.seed)
    }

    /// A controller at rest with these tables.
    #[must_use]
    pub fn controller(&self) -> Controller {
        let bake = self.believed.bake.bake.clone();
        Controller::new(bake, self.model.clone(), self.settings)
    }

    fn run(
        &self,
        case: &Case<'_>,
        world: &mut World,
        observer: &mut impl Observer,
    ) -> Result<Ran, Refusal> {
        let mut board = Board::new(self.controller());
        super::run(&mut board, world, false, observer);
        was_followed(world, case)?;
        let heat_j = world.plant.energy().put_in_j;
        Ok(Ran { is_short: board.is_short(), heat_j, unplayed: world.unplayed() })
    }

    /// The controller's bake.
    ///
    /// # Errors
    /// A plant that cannot be followed.
    pub fn bake(&self, case: &Case<'_>, observer: &mut impl Observer) -> Result<Ran, Refusal> {
        self.run(case, &mut self.world(case), observer)
    }

    /// The controller's bake and, on a thread of its own, what the parts had by the clock: neither
    /// knows of the other, so the result is that of one after the other.
    fn run_both(
        &self,
        case: &Case<'_>,
        trace: &mut Trace,
    ) -> Result<(Ran, Option<Tally>), Refusal> {
        std::thread::scope(|scope| {
            let clock = scope.spawn(|| {
                let mut trace = self.trace(case, false);
                self.practise(case, 0, &mut trace).map(|_| trace.tally)
            });
            let board = self.bake(case, trace);
            // A panic of the other thread is this one's.
            let clock = clock.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic));
            Ok((board?, Some(clock?)))
        })
    }

    /// The practice on the same plant, without faults, its clock set `extra_s` longer than the bake
    /// asks.
    ///
    /// # Errors
    /// A plant that cannot be followed.
    pub fn practise(
        &self,
        case: &Case<'_>,
        extra_s: u32,
        observer: &mut impl Observer,
    ) -> Result<Ran, Refusal> {
        let believed = self.believed;
        let mut world = self.world(case);
        world.forget_faults();
        let mut bake = believed.bake.bake.clone();
        for step in &mut bake.steps {
            if let Step::Soak(soak) = step {
                soak.for_s = soak.for_s.saturating_add(extra_s);
            }
        }
        let (on_s, off_s) = (self.settings.minimum_on_s, self.settings.minimum_off_s);
        let mut practice = Practice::new(bake, on_s, off_s);
        super::run(&mut practice, &mut world, true, observer);
        was_followed(&world, case)?;
        let heat_j = world.plant.energy().put_in_j;
        // The practice is tried without faults.
        let faults = (0..believed.bake.faults.len()).collect();
        let unplayed = Unplayed { faults, ..world.unplayed() };
        Ok(Ran { is_short: false, heat_j, unplayed })
    }

    /// What a result of the controller's bake needs besides its trace.
    fn circumstances<'c>(&'c self, case: &Case<'c>, ran: &Ran) -> Circumstances<'c> {
        Circumstances {
            bake: &self.believed.bake.bake,
            load: &case.truth.load,
            oven: &self.believed.oven,
            clock: None,
            is_short: ran.is_short,
            heat_j: ran.heat_j,
            by_the_clock: false,
        }
    }

    /// The result of the controller's bake on its own.
    #[must_use]
    pub fn result(&self, case: &Case<'_>, ran: &Ran, trace: &mut Trace) -> BakeResult {
        result(trace, &self.circumstances(case, ran))
    }

    /// Welds the drive when the load is nearest to its limits, and follows the oven until it has
    /// coasted out.
    ///
    /// # Errors
    /// A part that a weld takes further past its limit than it may.
    pub fn survive_weld(&self, case: &Case<'_>, tally: &Tally) -> Result<(), Refusal> {
        let Some(worst_s) = tally.nearest_to_limit_s() else { return Ok(()) };
        let from = (worst_s * 10.0) as u32;
        let mut world = self.world(case);
        world.forget_faults();
        world.faults.add(Fault::new(FaultKind::DriveWelded, from.max(1), None, None));
        let mut trace = self.trace(case, false);
        self.run(case, &mut world, &mut trace)?;
        let load = &case.truth.load;
        let over = trace.tally.worst_excess(load);
        match over {
            Some((part, excess_k)) if excess_k > WELD_MARGIN_K => {
                let (name, max_c) =
                    load.parts.get(part).map_or(("", 0.0), |part| (part.name.as_str(), part.max_c));
                let at = if self.believed.bake.part_max_c == Some(max_c) {
                    KeyPath::root(FileKind::Bake).key("limits").key("part_max")
                } else {
                    KeyPath::part(part).key("max")
                };
                Err(self.believed.refuse(vec![
                    Finding::new(
                        at,
                        format!("a drive that welds at the worst moment would take \"{name}\" {excess_k:.1} K past what it stands"),
                        "at most 1 K past it once the guard has cut the heat and the oven has coasted",
                        "lower the window, bake a larger load, or fit a smaller heater",
                    )
                    .and_at(KeyPath::root(FileKind::Bake).key("step")),
                ]))
            }
            _ => Ok(()),
        }
    }
}

/// What a plant that went astray shows is no rehearsal.
pub(super) fn was_followed(world: &World, case: &Case<'_>) -> Result<(), Refusal> {
    if !world.plant.is_astray() {
        return Ok(());
    }
    let finding = Finding::new(
        KeyPath::root(FileKind::Load).key("part"),
        "the simulated oven cannot be followed: something in it changes within a millisecond",
        "an oven and parts of ordinary size and mass",
        "check the mass, area and thickness of every part, then those of heater, liner and skin",
    );
    let oven = KeyPath::root(FileKind::Oven);
    Err(case.truth.refuse(vec![finding.and_at(oven)]))
}

/// The tables of a setup.
///
/// # Errors
/// Values the tables cannot hold.
pub fn model_of(setup: &Setup) -> Result<Model, Refusal> {
    compile::compile(&setup.oven, &setup.load).map_err(|refused| {
        setup.refuse(vec![Finding::new(
            KeyPath::root(FileKind::Load),
            refused.to_string(),
            "an oven and a load of ordinary size",
            "check the numbers of both files",
        )])
    })
}
