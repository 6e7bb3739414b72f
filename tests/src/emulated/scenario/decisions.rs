//! Board and desk decide the same for the same inputs, bit for bit, over whole bakes.
//!
//! Compared in every tick: drive, permit, fan, lamp and beeper, what is sent to the converters, and
//! every operation of the flash, so the log too. The first difference ends the scenario with both
//! states (`pair.rs`).

use super::{Context, Scenario, Seen, hold, quick, shipped, told};
use crate::emulated::board::Made;
use crate::emulated::oven::{Fits, Oven};
use truesoak::files::Setup;
use truesoak::files::bake::{DoorScript, Moment};
use truesoak_core::event::{Ending, Event};

pub(super) const SCENARIOS: &[Scenario] = &[
    Scenario {
        name: "decisions: MAX31855",
        is_short: true,
        run: |context| same(context, &quick(&[])?, Fits::Max31855),
    },
    Scenario {
        name: "decisions: MAX31856, two sensors and a probe",
        is_short: true,
        run: |context| same(context, &quick(&WITH_ALL)?, Fits::Max31856),
    },
    Scenario {
        name: "decisions: MAX31865",
        is_short: true,
        run: |context| same(context, &quick(&[])?, Fits::Max31865),
    },
    Scenario {
        name: "decisions: gas-out-hubs, opened in the soak",
        is_short: false,
        run: |context| same(context, &opened()?, Fits::Max31856),
    },
    Scenario {
        name: "decisions: gas-out-chain-guards-300f",
        is_short: false,
        run: |context| {
            same(context, &shipped("gas-out-chain-guards-300f.toml", &[])?, Fits::Max31855)
        },
    },
    Scenario {
        name: "decisions: whole-day",
        is_short: false,
        run: |context| same(context, &shipped("whole-day.toml", &[])?, Fits::Max31865),
    },
];

/// A whole day's bake and what goes before it, s.
pub(super) const BAKE_S_MAX: f64 = 24.0 * 3600.0;

pub(super) const WITH_ALL: [&str; 2] = [
    "oven.sensor_b={ lag = \"9 s\", noise = \"0.1 °C\", resolution = \"0.25 °C\" }",
    "load.part.1.probe=true",
];

/// A shipped bake that somebody looks into an hour after its soak began.
fn opened() -> Result<Setup, String> {
    let mut setup = shipped("gas-out-hubs.toml", &[])?;
    let at = Moment::SinceStep(2, 3600.0);
    let look = DoorScript { at, open_for_s: 20.0, loads: false, opening: 0.5 };
    setup.bake.doors.push(look);
    Ok(setup)
}

fn same(context: &Context, setup: &Setup, fits: Fits) -> Result<Seen, String> {
    let made = Made { simulated_s_max: BAKE_S_MAX, ..context.made(context.mode) };
    let mut oven = told(Oven::new(&made, setup, fits))?;
    let (trace, _) = oven.bake(setup, None, context.seed);
    hold(trace.chronicle.ending == Some(Ending::Finished), || {
        format!("it ended {:?}", trace.chronicle.ending)
    })?;
    let opens = Event::DoorOpened.to_string();
    let opened = trace.rows.iter().filter(|row| row.event == opens).count();
    let asked = setup.bake.doors.len();
    hold(opened >= asked, || format!("{opened} door openings of {asked}"))?;
    let board = &oven.pair.board;
    Ok(Seen {
        simulated_s: board.now_ns / 1e9,
        words: format!(
            "{} ticks the same, {opened} door openings; {:.0} simulated s in one",
            oven.pair.stretches,
            board.now_ns / 1e9 / board.wall.as_secs_f64()
        ),
    })
}
