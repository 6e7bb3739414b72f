//! One rehearsal from files to result: the bake itself, the practice beside it, and a drive that
//! welds at the worst moment.

use super::fault::{Fault, FaultKind};
use super::outcome::{Circumstances, result};
use super::practice::Practice;
use super::runner::{Board, Runner};
use super::tally::Tally;
use super::trace::Trace;
use super::world::{Unplayed, World};
use crate::compile::{self, check};
use crate::files::{FileKind, Finding, KeyPath, Refusal, Setup};
use crate::plant::Draw;
use crate::report::result::BakeResult;
use truesoak_core::Controller;
use truesoak_core::bounds::model::Model;
use truesoak_core::tick::Settings;

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

/// One run of the controller or the practice.
struct Run {
    trace: Trace,
    /// What the controller says of itself.
    is_short: bool,
    heat_j: f64,
    unplayed: Unplayed,
}

/// Rehearses a bake.
///
/// # Errors
/// A bake that contradicts its oven's model, or whose parts a welded drive would harm; an oven or a
/// load that cannot be followed.
pub fn rehearse(request: &Request<'_>) -> Result<Rehearsal, Refusal> {
    let bench = Bench::new(request)?;
    let beside = !request.by_the_clock && !request.quick;
    let (run, clock) = if request.by_the_clock {
        (bench.practise(true)?, None)
    } else if beside {
        bench.run_both()?
    } else {
        (bench.run_board(None, true)?, None)
    };
    if beside {
        bench.survive_weld(&run.trace.tally)?;
    }
    let Run { mut trace, is_short, heat_j, unplayed } = run;
    let own = request.by_the_clock.then(|| trace.tally.clone());
    let result = result(
        &mut trace,
        &Circumstances {
            bake: &request.believed.bake.bake,
            load: &request.truth.load,
            oven: &request.believed.oven,
            clock: clock.as_ref().or(own.as_ref()),
            is_short,
            heat_j,
            by_the_clock: request.by_the_clock,
        },
    );
    Ok(Rehearsal { result, trace, model: bench.model, unplayed })
}

/// A request with its model.
struct Bench<'a> {
    request: &'a Request<'a>,
    model: Model,
    settings: Settings,
    draw: Draw,
}

impl<'a> Bench<'a> {
    fn new(request: &'a Request<'a>) -> Result<Self, Refusal> {
        let believed = request.believed;
        let model = model_of(believed)?;
        let findings = check::findings(believed, &model);
        if !findings.is_empty() {
            return Err(believed.refuse(findings));
        }
        let settings = compile::settings(&believed.oven, &believed.load, &model);
        let truth = &request.truth.oven;
        let numbered = request.draw.map(|number| Draw::nth(truth, number));
        let draw = request.exactly.or(numbered).unwrap_or_else(|| Draw::nominal(truth));
        Ok(Self { request, model, settings, draw })
    }

    fn world(&self) -> World {
        let Request { believed, truth, seed, .. } = self.request;
        World::new(&believed.bake, &truth.oven, &truth.load, &self.draw, &believed.oven, *seed)
    }

    /// The controller's bake.
    fn run_board(&self, weld: Option<Fault>, keeps_rows: bool) -> Result<Run, Refusal> {
        let believed = self.request.believed;
        let mut world = self.world();
        if let Some(fault) = weld {
            world.forget_faults();
            world.faults.add(fault);
        }
        let bake = believed.bake.bake.clone();
        let controller = Controller::new(bake, self.model.clone(), self.settings);
        let mut board = Board::new(controller);
        let mut trace = Trace::new(&believed.bake, &self.request.truth.load, keeps_rows);
        super::run(&mut board, &mut world, false, &mut trace);
        self.was_followed(&world)?;
        Ok(Run {
            trace,
            is_short: board.is_short(),
            heat_j: world.plant.energy().put_in_j,
            unplayed: world.unplayed(),
        })
    }

    /// The controller's bake and, on a thread of its own, what the parts had by the clock: neither
    /// knows of the other, so the result is that of one after the other.
    fn run_both(&self) -> Result<(Run, Option<Tally>), Refusal> {
        std::thread::scope(|scope| {
            let clock = scope.spawn(|| self.practise(false));
            let board = self.run_board(None, true);
            // A panic of the other thread is this one's.
            let clock = clock.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic));
            Ok((board?, Some(clock?.trace.tally)))
        })
    }

    fn practise(&self, keeps_rows: bool) -> Result<Run, Refusal> {
        let believed = self.request.believed;
        let mut world = self.world();
        world.forget_faults();
        let bake = believed.bake.bake.clone();
        let (on_s, off_s) = (self.settings.minimum_on_s, self.settings.minimum_off_s);
        let mut practice = Practice::new(bake, on_s, off_s);
        let mut trace = Trace::new(&believed.bake, &self.request.truth.load, keeps_rows);
        super::run(&mut practice, &mut world, true, &mut trace);
        self.was_followed(&world)?;
        let heat_j = world.plant.energy().put_in_j;
        // The practice is tried without faults.
        let faults = (0..believed.bake.faults.len()).collect();
        let unplayed = Unplayed { faults, ..world.unplayed() };
        Ok(Run { trace, is_short: false, heat_j, unplayed })
    }

    /// What a plant that went astray shows is no rehearsal.
    fn was_followed(&self, world: &World) -> Result<(), Refusal> {
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
        Err(self.request.truth.refuse(vec![finding.and_at(oven)]))
    }

    /// Welds the drive when the load is nearest to its limits, and follows the oven until it has
    /// coasted out.
    fn survive_weld(&self, tally: &Tally) -> Result<(), Refusal> {
        let Some(worst_s) = tally.nearest_to_limit_s() else { return Ok(()) };
        let from = (worst_s * 10.0) as u32;
        let weld = Fault::new(FaultKind::DriveWelded, from.max(1), None, None);
        let trace = self.run_board(Some(weld), false)?.trace;
        let load = &self.request.truth.load;
        let over = trace.tally.worst_excess(load);
        match over {
            Some((part, excess_k)) if excess_k > WELD_MARGIN_K => {
                let at = KeyPath::part(part).key("max");
                let name = load.parts.get(part).map_or("", |part| part.name.as_str());
                Err(self.request.believed.refuse(vec![
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

/// The tables of a setup.
///
/// # Errors
/// Values the tables cannot hold.
pub fn model_of(setup: &Setup) -> Result<Model, Refusal> {
    compile::compile(&setup.oven, &setup.load, setup.bake.part_max_c).map_err(|refused| {
        setup.refuse(vec![Finding::new(
            KeyPath::root(FileKind::Load),
            refused.to_string(),
            "an oven and a load of ordinary size",
            "check the numbers of both files",
        )])
    })
}
