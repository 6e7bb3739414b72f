//! What a tick takes, counted instruction by instruction while the real image runs, and how far the
//! stack comes down.
//!
//! The largest models the board takes are among them: six kinds of parts, every point a chain of
//! cells, seen by the element, in a fan oven whose fan may have stopped unseen, with a second sensor
//! and a probe; and bounds kept twice, as long as nobody has said whether anything new is inside.

use super::{Context, Scenario, Seen, hold, quick, read, told};
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
        run: |context| ticks(context, &quick(&super::decisions::WITH_ALL)?, Fits::Max31856),
    },
    Scenario {
        name: "figures: six kinds of parts, all cells, opened for long",
        is_short: false,
        run: |context| {
            ticks(
                context,
                &read(&crate::path("tests/emulator/full/bake.toml"), &[])?,
                Fits::Max31865,
            )
        },
    },
];

/// Most instructions of a tick (`design.md`, section 9).
const WORST: u32 = 160_000;
/// Of the stack's room so much stays unused, bytes: GUESS, for what no bake here came to.
const STACK_SPARE: u64 = 4096;

fn ticks(context: &Context, setup: &Setup, fits: Fits) -> Result<Seen, String> {
    let mut oven = told(Oven::new(&context.made(Mode::Fast), setup, fits))?;
    let _ = oven.bake(setup, None, context.seed);
    let (worst, words) = account(&oven.pair);
    let figures = oven.pair.board.order(&json!({ "do": "figures" }));
    let figure = |name: &str| figures[name].as_u64().unwrap_or(0);
    let (room, used) = (figure("stack_room"), figure("stack_used"));
    let (image, memory) = (figure("image_bytes"), figure("ram_bytes"));
    let words =
        format!("{words}; image {image} bytes, static memory {memory}, stack {used} of {room}");
    hold(worst <= WORST, || format!("a tick took {worst} instructions: {words}"))?;
    hold(used > 0 && used + STACK_SPARE <= room, || format!("little is left: {words}"))?;
    Ok(Seen { simulated_s: oven.pair.board.now_ns / 1e9, words })
}

/// The worst tick of a bake, and worst and median by phase in words.
fn account(pair: &Pair) -> (u32, String) {
    let mut words = String::new();
    let mut all = Vec::new();
    for (phase, ticks) in &pair.by_phase {
        // At rest nothing heats: a document that has come is checked whole, in one tick.
        if *phase != Phase::Idle {
            all.extend_from_slice(&ticks.instructions);
        }
        let (worst, median) = worst_and_median(&ticks.instructions);
        let at = ticks.instructions.iter().position(|took| *took == worst).unwrap_or(0);
        let _ = write!(
            words,
            "; {} {worst}/{median} at {at} of {}",
            phase.word(),
            ticks.instructions.len()
        );
    }
    for (place, ticks) in pair.by_place.iter().enumerate() {
        let (worst, median) = worst_and_median(&ticks.instructions);
        let _ = write!(words, "; {place}: {worst}/{median}");
    }
    let (worst, median) = worst_and_median(&all);
    (
        worst,
        format!(
            "{worst} instructions in the worst of {} ticks, {median} in the median{words}",
            all.len()
        ),
    )
}

fn worst_and_median(ticks: &[u32]) -> (u32, u32) {
    let mut sorted = ticks.to_vec();
    sorted.sort_unstable();
    (sorted.last().copied().unwrap_or(0), sorted.get(sorted.len() / 2).copied().unwrap_or(0))
}
