//! Changes worth a thought, each as files or knowledge that can be rehearsed.
//!
//! What can be written into the bake or the load is read as if a person had written it, so a change
//! that its files would refuse never comes up. Variants of one kind compete; the best one is told.

use super::lags::Lag;
use super::learn::{self, Learn};
use super::{Wanted, preheat};
use crate::files::{self, Override, Setup};
use crate::plant::Draw;
use crate::report::units::duration;
use truesoak_core::bake::{Purpose, Soak, Step};

/// Boosts tried on top of the bake's own, K.
const BOOSTS_K: [f64; 3] = [5.0, 10.0, 20.0];
/// Times as late a soak gives up.
const PATIENCE: [u32; 2] = [2, 4];
/// A preheat this much hotter is worth a try, K.
const HOTTER_K: f64 = 3.0;

/// How a change is rehearsed.
pub(super) enum Trial {
    /// Other files, believed and true alike.
    Files(Box<Setup>),
    /// The same oven, of which more is known.
    Known(Learn),
    /// The same files and knowledge on another truth.
    Truth(fn(Draw) -> Draw),
}

/// One change.
pub(super) struct Change {
    /// What to do.
    pub what: String,
    /// What it costs.
    pub costs: String,
    /// How it is rehearsed.
    pub trial: Trial,
    /// The bake it makes necessary besides, one after the other.
    pub second: Option<Second>,
    /// Nothing is said of it unless it helps.
    pub only_if_it_helps: bool,
}

/// A second bake that a change makes necessary.
pub(super) struct Second {
    /// How it is rehearsed.
    pub trial: Trial,
    /// What to do if it does not pass.
    pub what_if_unsuited: String,
    /// What that costs.
    pub costs_if_unsuited: String,
}

/// Kinds of changes; each is its variants.
pub(super) fn kinds(wanted: &Wanted<'_>, lags: &[Lag]) -> Vec<Vec<Change>> {
    let setup = wanted.setup;
    let slowest = setup
        .load
        .parts
        .iter()
        .zip(lags)
        .enumerate()
        .max_by(|(_, (_, a)), (_, (_, b))| a.coldest_s.total_cmp(&b.coldest_s))
        .map(|(index, _)| index);
    let mut kinds = vec![preheats(wanted), boosts(wanted), patience(wanted), longer_bakes(wanted)];
    if let Some(slowest) = slowest {
        kinds.push(split(setup, slowest).into_iter().collect());
        kinds.push(probe(wanted, slowest).into_iter().collect());
        kinds.push(vec![elsewhere(setup, slowest)]);
    }
    kinds.push(timing(setup).into_iter().collect());
    kinds.push(sensor_check(setup).into_iter().collect());
    kinds.push(survey(setup).into_iter().collect());
    kinds.retain(|kind| !kind.is_empty());
    kinds
}

/// The bake with more written into its files; `None` where they would refuse it.
fn with(wanted: &Wanted<'_>, typed: &[String]) -> Option<Trial> {
    let more = typed.iter().map(|typed| Override::set(typed));
    let set: Vec<Override> = wanted.set.iter().cloned().chain(more).collect();
    files::read(wanted.path, &set).ok().map(|setup| Trial::Files(Box::new(setup)))
}

fn soaks(setup: &Setup) -> impl Iterator<Item = (usize, &Soak)> {
    setup.bake.bake.steps.iter().enumerate().filter_map(|(index, step)| match step {
        Step::Soak(soak) => Some((index, soak)),
        _ => None,
    })
}

fn boosts(wanted: &Wanted<'_>) -> Vec<Change> {
    let each = BOOSTS_K.iter().filter_map(|more_k| {
        let typed = |(index, soak): (usize, &Soak)| {
            let boost_k = f64::from(soak.boost.0) + more_k;
            format!("bake.step.{}.soak.boost=\"{boost_k:.1} K\"", index + 1)
        };
        let typed: Vec<String> = soaks(wanted.setup).map(typed).collect();
        let trial = (!typed.is_empty()).then(|| with(wanted, &typed))??;
        let more = wanted.units.difference(*more_k);
        Some(Change {
            what: format!("allow {more} more boost in every soak"),
            costs: "air that much above the window while parts lag".to_owned(),
            trial,
            second: None,
            only_if_it_helps: false,
        })
    });
    each.collect()
}

/// Soaks that give up later.
fn patience(wanted: &Wanted<'_>) -> Vec<Change> {
    let each = PATIENCE.iter().filter_map(|times| {
        let typed = soaks(wanted.setup).filter_map(|(index, soak)| {
            let longer_s = soak.give_up_after_s? * times;
            Some(format!("bake.step.{}.soak.give_up_after=\"{longer_s} s\"", index + 1))
        });
        let typed: Vec<String> = typed.collect();
        let trial = (!typed.is_empty()).then(|| with(wanted, &typed))??;
        Some(Change {
            what: format!("give up {times} times as late"),
            costs: "the time it then takes".to_owned(),
            trial,
            second: None,
            only_if_it_helps: true,
        })
    });
    each.collect()
}

/// A bake that may heat for longer.
fn longer_bakes(wanted: &Wanted<'_>) -> Vec<Change> {
    let most_s = f64::from(wanted.setup.bake.bake.limits.bake_max_s);
    let each = PATIENCE.iter().filter_map(|times| {
        let longer_s = most_s * f64::from(*times);
        let trial = with(wanted, &[format!("bake.limits.bake_max=\"{longer_s} s\"")])?;
        Some(Change {
            what: format!("raise bake_max to {}", duration(longer_s)),
            costs: "the time it then takes".to_owned(),
            trial,
            second: None,
            only_if_it_helps: true,
        })
    });
    each.collect()
}

/// A hotter preheat, or one at all.
fn preheats(wanted: &Wanted<'_>) -> Vec<Change> {
    let Some((index, soak)) = soaks(wanted.setup).next() else { return Vec::new() };
    let (low_c, high_c) = (f64::from(soak.at_least.0), f64::from(soak.at_most.0));
    let steps = &wanted.setup.bake.bake.steps;
    let load_in = steps.iter().take(index).rposition(|step| matches!(step, Step::LoadIn(_)));
    let each = [0.5 * (low_c + high_c), high_c].into_iter().filter_map(|to_c| {
        let shown = wanted.units.temperature(to_c);
        let (what, trial) = match load_in {
            Some(load_in) => {
                let what = format!("preheat the empty oven to {shown}");
                (what, hotter(wanted, load_in, to_c)?)
            }
            None => {
                let changed = preheat::preheated(wanted.setup, to_c)?;
                let what = format!("preheat the empty oven to {shown}, hang the parts then");
                (what, Trial::Files(Box::new(changed)))
            }
        };
        let costs = "heat for the empty oven, and hot walls to hang parts between".to_owned();
        Some(Change { what, costs, trial, second: None, only_if_it_helps: false })
    });
    each.collect()
}

/// The load_in at another temperature, and the ramps before it that lead there.
fn hotter(wanted: &Wanted<'_>, load_in: usize, to_c: f64) -> Option<Trial> {
    let steps = &wanted.setup.bake.bake.steps;
    let Some(Step::LoadIn(at)) = steps.get(load_in) else { return None };
    let at_c = at.at.map_or(f64::NEG_INFINITY, |at| f64::from(at.0));
    if to_c < at_c + HOTTER_K {
        return None;
    }
    let mut typed = vec![format!("bake.step.{}.load_in.at=\"{to_c:.2} °C\"", load_in + 1)];
    if let Some(Step::Ramp(_)) = load_in.checked_sub(1).and_then(|before| steps.get(before)) {
        typed.push(format!("bake.step.{load_in}.ramp.to=\"{to_c:.2} °C\""));
    }
    with(wanted, &typed)
}

/// The slowest part left for a bake of its own.
fn split(setup: &Setup, slowest: usize) -> Option<Change> {
    let mut rest = setup.clone();
    if rest.load.parts.len() < 2 {
        return None;
    }
    let left_out = rest.load.parts.remove(slowest);
    let mut alone = setup.clone();
    alone.load.parts = vec![left_out.clone()];
    let hangs =
        |purpose| rest.load.parts.iter().any(|part| part.gas_out || purpose != Purpose::GasOut);
    if !soaks(setup).all(|(_, soak)| hangs(soak.purpose)) {
        return None;
    }
    Some(Change {
        what: format!("bake \"{}\" apart, one bake after the other", left_out.name),
        costs: "hanging and heating twice".to_owned(),
        trial: Trial::Files(Box::new(rest)),
        second: Some(Second {
            trial: Trial::Files(Box::new(alone)),
            what_if_unsuited: format!("leave \"{}\" out", left_out.name),
            costs_if_unsuited: "another bake for it: this one does not suit it".to_owned(),
        }),
        only_if_it_helps: false,
    })
}

fn probe(wanted: &Wanted<'_>, slowest: usize) -> Option<Change> {
    let parts = &wanted.setup.load.parts;
    if parts.iter().any(|part| part.probe) {
        return None;
    }
    Some(Change {
        what: format!("fit a probe on \"{}\"", parts.get(slowest)?.name),
        costs: "a second thermocouple, fixed to that part in every bake".to_owned(),
        trial: with(wanted, &[format!("load.part.{}.probe=true", slowest + 1)])?,
        // A controller that cannot use it yet has nothing to say of it.
        second: None,
        only_if_it_helps: true,
    })
}

/// The best a better place could do for a part: no air there is colder or hotter than the sensor's.
fn elsewhere(setup: &Setup, slowest: usize) -> Change {
    let name = setup.load.parts.get(slowest).map_or("", |part| part.name.as_str());
    Change {
        what: format!("hang \"{name}\" elsewhere"),
        costs: "nothing".to_owned(),
        trial: Trial::Truth(|draw| Draw { cold_spot_k: 0.0, hot_spot_k: 0.0, ..draw }),
        second: None,
        only_if_it_helps: false,
    }
}

fn timing(setup: &Setup) -> Option<Change> {
    let (observed, spread) = (&setup.oven.observed, &setup.oven.spread);
    let known = observed.heats.is_some() && observed.cools.is_some();
    if known || (spread.losses <= 0.0 && spread.wall_heat_capacity <= 0.0) {
        return None;
    }
    Some(Change {
        what: "time an empty heat-up and cool-down into [observed]".to_owned(),
        costs: "one evening, an empty oven and a kitchen clock".to_owned(),
        trial: Trial::Known(learn::timing),
        second: None,
        only_if_it_helps: false,
    })
}

fn sensor_check(setup: &Setup) -> Option<Change> {
    learn::sensor_check(setup, &Draw::nominal(&setup.oven))?;
    Some(Change {
        what: "check the sensor in ice and in boiling water".to_owned(),
        costs: "half an hour, a flask of ice and a kettle".to_owned(),
        trial: Trial::Known(learn::sensor_check),
        second: None,
        only_if_it_helps: false,
    })
}

fn survey(setup: &Setup) -> Option<Change> {
    let spread = &setup.oven.spread;
    (spread.cold_spot_k > 0.0 || spread.hot_spot_k > 0.0).then(|| Change {
        what: "survey the oven for its cold and its hot place".to_owned(),
        costs: "one long soak of the empty oven with several probes".to_owned(),
        trial: Trial::Known(learn::survey),
        second: None,
        only_if_it_helps: false,
    })
}
