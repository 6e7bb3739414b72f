//! Shipped bakes, rehearsed once for all tests of a file, with everything a report is made from.

use std::sync::OnceLock;
use truesoak::files::{self, Override, Setup};
use truesoak::log::{End, Header, Log, Source, TRUE_COLDEST, TRUE_HOTTEST};
use truesoak::rehearse::{Rehearsal, Request};
use truesoak::report::text::Paint;
use truesoak::report::units::Units;
use truesoak::report::{Rehearsed, Story, words};
use truesoak_tests::{bake_path, quick, rehearsed, setup};

/// How a shipped bake is rehearsed.
#[derive(Clone, Copy, Default)]
pub(crate) struct Asked {
    pub(crate) bake: &'static str,
    pub(crate) set: &'static [&'static str],
    pub(crate) plant: &'static [&'static str],
    pub(crate) draw: Option<u64>,
    pub(crate) by_the_clock: bool,
    /// Without the practice beside it.
    pub(crate) quick: bool,
}

/// What came of it.
pub(crate) struct Done {
    pub(crate) asked: Asked,
    pub(crate) setup: Setup,
    pub(crate) rehearsal: Rehearsal,
}

/// Rehearses a shipped bake.
pub(crate) fn run(asked: Asked) -> Done {
    let set: Vec<Override> = asked.set.iter().map(|typed| Override::set(typed)).collect();
    let plant = asked.plant.iter().map(|typed| Override::plant(typed));
    let all: Vec<Override> = set.into_iter().chain(plant).collect();
    let setup = setup(asked.bake, asked.set);
    let truth =
        files::read(&bake_path(asked.bake), &all).unwrap_or_else(|refusal| panic!("{refusal}"));
    let request = Request {
        truth: &truth,
        draw: asked.draw,
        by_the_clock: asked.by_the_clock,
        quick: asked.quick,
        ..quick(&setup)
    };
    let rehearsal = rehearsed(&request);
    Done { asked, setup, rehearsal }
}

impl Done {
    pub(crate) fn story(&self, units: Units) -> Story<'_> {
        Story {
            result: &self.rehearsal.result,
            bake: &self.setup.bake,
            oven: &self.setup.oven.name,
            load: &self.setup.load.name,
            rehearsed: Some(Rehearsed {
                seed: 1,
                draw: self.asked.draw,
                plant_changed: !self.asked.plant.is_empty(),
                by_the_clock: self.asked.by_the_clock,
            }),
            recounted: None,
            units,
        }
    }

    /// In the units of the bake's own file.
    pub(crate) fn told(&self) -> Story<'_> {
        self.story(Units::of_scale(self.setup.bake.scale))
    }

    pub(crate) fn report(&self) -> String {
        words::report(&self.told(), Paint::Plain, &[])
    }

    pub(crate) fn json(&self) -> serde_json::Value {
        serde_json::from_str(&self.rehearsal.result.to_json()).expect("JSON")
    }

    pub(crate) fn log(&self) -> Log {
        let trace = &self.rehearsal.trace;
        let names = self.setup.load.parts.iter().map(|part| part.name.as_str());
        let coldest = names.clone().map(|name| format!("{TRUE_COLDEST}{name}"));
        let hottest = names.map(|name| format!("{TRUE_HOTTEST}{name}"));
        let columns = coldest.chain(hottest).enumerate();
        let truth = columns.map(|(index, name)| (name, trace.truth.column(index).collect()));
        let mut header = Header::of(Source::Rehearsal);
        header.bake = Some("name = \"as <written> & kept\"\n".to_owned());
        Log { header, rows: trace.rows.clone(), truth: truth.collect(), end: End::Complete }
    }
}

/// One of every kind of ending.
pub(crate) struct Endings {
    pub(crate) pass: Done,
    pub(crate) short: Done,
    pub(crate) tripped: Done,
    pub(crate) unfinished: Done,
    pub(crate) clock: Done,
    /// A claimed pass while a sensor that reads too low let a part go over its limit.
    pub(crate) false_pass: Done,
    /// A claimed pass while a sensor that reads too high left parts too cold.
    pub(crate) false_minutes: Done,
    pub(crate) whole_day: Done,
}

/// All of them, rehearsed once.
pub(crate) fn endings() -> &'static Endings {
    static ENDINGS: OnceLock<Endings> = OnceLock::new();
    ENDINGS.get_or_init(|| Endings {
        pass: run(Asked { bake: "gas-out-hubs", ..Asked::default() }),
        short: run(Asked { bake: "give-up", ..Asked::default() }),
        tripped: run(Asked { bake: "scripted-fault", ..Asked::default() }),
        unfinished: run(Asked {
            bake: "gas-out-hubs",
            set: &["bake.limits.bake_max=70 min"],
            quick: true,
            ..Asked::default()
        }),
        clock: run(Asked { bake: "gas-out-crown", by_the_clock: true, ..Asked::default() }),
        false_pass: run(Asked {
            bake: "gas-out-hubs",
            plant: &["oven.sensor.correction=28 K"],
            quick: true,
            ..Asked::default()
        }),
        false_minutes: run(Asked {
            bake: "gas-out-hubs",
            plant: &["oven.sensor.correction=-20 K"],
            draw: Some(7),
            quick: true,
            ..Asked::default()
        }),
        whole_day: run(Asked { bake: "whole-day", ..Asked::default() }),
    })
}

impl Endings {
    pub(crate) fn all(&self) -> [&Done; 8] {
        [
            &self.pass,
            &self.short,
            &self.tripped,
            &self.unfinished,
            &self.clock,
            &self.false_pass,
            &self.false_minutes,
            &self.whole_day,
        ]
    }
}
