//! What a tick takes, by phase, and how far the stack comes down; held against the design's figures.
//!
//! Counted where single-precision arithmetic is done on the chip, as it is on the real one: an
//! instruction counted here is one the chip executes.

use super::{Context, Scenario, Seen, hold, quick, shipped, told};
use crate::emulated::oven::{Fits, Oven};
use crate::emulated::pair::Ticks;
use crate::emulated::process::Mode;
use serde_json::json;
use std::fmt::Write as _;
use truesoak::files::Setup;

pub(super) const SCENARIOS: &[Scenario] = &[
    Scenario {
        name: "figures: two sensors and a probe",
        is_short: false,
        run: |context| figures(context, &quick(&WITH_ALL)?),
    },
    Scenario {
        name: "figures: gas-out-hubs to its soak",
        is_short: false,
        run: |context| figures(context, &shipped("gas-out-hubs.toml", &SOME_OF_IT)?),
    },
];

/// A tick may take so much (design, 9).
const INSTRUCTIONS_MAX: u32 = 160_000;
/// Of the stack's room so much stays unused, bytes: GUESS, a quarter of what the stack has been seen
/// to take.
const STACK_SPARE: u64 = 4096;

const WITH_ALL: [&str; 3] = [
    "oven.sensor_b={ lag = \"9 s\", noise = \"0.1 °C\", resolution = \"0.25 °C\" }",
    "load.part.1.probe=true",
    "bake.step.\"dry\".soak.for=\"2 min\"",
];
/// Heats, takes its load in, and is ended by its limit in the approach.
const SOME_OF_IT: [&str; 1] = ["bake.limits.bake_max=\"40 min\""];

fn figures(context: &Context, setup: &Setup) -> Result<Seen, String> {
    let mut oven = told(Oven::new(&context.made(Mode::Fast), setup, Fits::Max31856))?;
    let _ = oven.bake(setup, None, context.seed);
    let figures = oven.pair.board.order(&json!({ "do": "figures" }));
    let figure = |name: &str| figures[name].as_u64().unwrap_or(0);
    let (room, used) = (figure("stack_room"), figure("stack_used"));
    let mut words = format!(
        "image {} bytes, static memory {}, stack {used} of {room};",
        figure("image_bytes"),
        figure("ram_bytes")
    );
    let mut worst = 0;
    for (phase, ticks) in &oven.pair.by_phase {
        let [median, most] = median_and_most(ticks);
        worst = worst.max(most);
        let _ = write!(words, " {phase:?} {median} to {most},");
    }
    let _ = write!(words, " instructions a tick, the median and the most");
    hold(worst <= INSTRUCTIONS_MAX, || format!("over {INSTRUCTIONS_MAX}: {words}"))?;
    hold(used > 0 && used + STACK_SPARE <= room, || format!("the stack comes down: {words}"))?;
    Ok(Seen { simulated_s: oven.pair.board.now_ns / 1e9, words })
}

fn median_and_most(ticks: &Ticks) -> [u32; 2] {
    let mut sorted = ticks.instructions.clone();
    sorted.sort_unstable();
    [sorted.len() / 2, sorted.len().saturating_sub(1)]
        .map(|at| sorted.get(at).copied().unwrap_or(0))
}
