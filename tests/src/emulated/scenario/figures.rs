//! What a tick takes, counted instruction by instruction while the real image runs, and how far the
//! stack comes down.
//!
//! The largest models the board takes are among them: six kinds of parts, every point a chain of
//! cells, seen by the element, in a fan oven whose fan may have stopped unseen, with a second sensor
//! and a probe; and a second lower copy, as long as nobody has said whether anything new is inside.

use super::decisions::{BAKE_S_MAX, WITH_ALL};
use super::{Context, Scenario, Seen, hold, quick, read, told};
use crate::emulated::board::Made;
use crate::emulated::oven::{Fits, Oven};
use crate::emulated::pair::Pair;
use crate::emulated::process::Mode;
use serde_json::json;
use std::fmt::Write as _;
use truesoak::files::Setup;
use truesoak_core::record::Phase;

pub(super) const SCENARIOS: &[Scenario] = &[
    Scenario {
        name: "figures: a short bake, two sensors and a probe",
        is_short: false,
        run: |context| ticks(context, &quick(&WITH_ALL)?, Fits::Max31856),
    },
    Scenario {
        name: "figures: three kinds of parts, two of them chains",
        is_short: false,
        run: |context| ticks(context, &at("tests/benches/mixed-batch/bake.toml")?, Fits::Max31855),
    },
    Scenario {
        name: "figures: six kinds of parts, all cells, opened for long",
        is_short: true,
        run: |context| ticks(context, &at("tests/emulator/full/bake.toml")?, Fits::Max31865),
    },
];

/// Most instructions of a tick in a bake (`design.md`, section 9).
const WORST: u32 = 160_000;
/// The same at rest, where one tick checks a whole document that has come: a tenth of what a tick has
/// time for.
const WORST_AT_REST: u32 = 1_200_000;
/// Of the stack's room so much stays unused, bytes: GUESS, for what no bake here came to.
const STACK_SPARE: u64 = 4096;

fn at(path: &str) -> Result<Setup, String> {
    read(&crate::path(path), &[])
}

fn ticks(context: &Context, setup: &Setup, fits: Fits) -> Result<Seen, String> {
    let made = Made { simulated_s_max: BAKE_S_MAX, ..context.made(Mode::Fast) };
    let mut oven = told(Oven::new(&made, setup, fits))?;
    let _ = oven.bake(setup, None, context.seed);
    let (worst, rests, words) = account(&oven.pair);
    let figures = oven.pair.board.order(&json!({ "do": "figures" }));
    let figure = |name: &str| figures[name].as_u64().unwrap_or(0);
    let (room, used) = (figure("stack_room"), figure("stack_used"));
    let (image, memory) = (figure("image_bytes"), figure("ram_bytes"));
    let words =
        format!("{words}; image {image} bytes, static memory {memory}, stack {used} of {room}");
    hold(worst <= WORST, || format!("a tick took {worst} instructions: {words}"))?;
    hold(rests <= WORST_AT_REST, || format!("a tick at rest took {rests}: {words}"))?;
    hold(used > 0 && used + STACK_SPARE <= room, || format!("little is left: {words}"))?;
    Ok(Seen { simulated_s: oven.pair.board.now_ns / 1e9, words })
}

/// The worst tick of the bake and at rest, and in words worst and median of both and by the tick's
/// place in the second.
fn account(pair: &Pair) -> (u32, u32, String) {
    let of_bake = pair.by_place.iter().flat_map(|ticks| ticks.instructions.iter().copied());
    let (worst, median) = worst_and_median(of_bake.collect());
    let mut words =
        format!("{worst} instructions in the worst tick of the bake, {median} in the median");
    let at_rest = pair.by_phase.iter().filter(|(phase, _)| *phase == Phase::Idle);
    let at_rest = at_rest.flat_map(|(_, ticks)| ticks.instructions.iter().copied());
    let (rests, rests_median) = worst_and_median(at_rest.collect());
    let _ = write!(words, "; at rest {rests}, {rests_median}");
    for (place, ticks) in pair.by_place.iter().enumerate() {
        let (worst, median) = worst_and_median(ticks.instructions.clone());
        let _ = write!(words, "; {place}: {worst}, {median}");
    }
    (worst, rests, words)
}

fn worst_and_median(mut ticks: Vec<u32>) -> (u32, u32) {
    ticks.sort_unstable();
    (ticks.last().copied().unwrap_or(0), ticks.get(ticks.len() / 2).copied().unwrap_or(0))
}
