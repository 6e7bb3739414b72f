//! The ways of emulating the processor, held equal on the real image.
//!
//! `exact` and `fast` see the same at every pin, at the same nanosecond, by as many instructions, and
//! end with the same memory and flash. `float` does what they do at every pin and to the flash, and
//! says what they say; only its times are others.

use super::{Context, Scenario, Seen, hold, quick, told};
use crate::emulated::board;
use crate::emulated::oven::{Fits, Oven};
use crate::emulated::process::Mode;

pub(super) const SCENARIOS: &[Scenario] = &[
    Scenario { name: "modes: exact and fast are the same", is_short: true, run: exact_and_fast },
    Scenario { name: "modes: float does the same", is_short: true, run: float },
];

/// Ends in the soak, after a door.
const SHORT: [&str; 2] = ["bake.limits.bake_max=\"7 min\"", "bake.limits.door_open_max=\"1 min\""];

struct Run {
    seen: Vec<board::Seen>,
    memory: Vec<u8>,
    flash: Vec<u8>,
    simulated_s: f64,
}

fn run(context: &Context, mode: Mode) -> Result<Run, String> {
    let setup = quick(&SHORT)?;
    let mut oven = told(Oven::new(&context.made(mode), &setup, Fits::Max31855))?;
    oven.pair.kept = Some(Vec::new());
    let _ = oven.bake(&setup, None, context.seed);
    let board = &mut oven.pair.board;
    Ok(Run {
        memory: board.read_memory(0x2000_0000, 264 * 1024),
        flash: board.read_flash(0, 2 * 1024 * 1024),
        simulated_s: board.now_ns / 1e9,
        seen: oven.pair.kept.take().unwrap_or_default(),
    })
}

fn exact_and_fast(context: &Context) -> Result<Seen, String> {
    let (exact, fast) = (run(context, Mode::Exact)?, run(context, Mode::Fast)?);
    same(&exact.seen, &fast.seen, Clone::clone)?;
    hold(exact.memory == fast.memory, || "the memory differs at the end".into())?;
    hold(exact.flash == fast.flash, || "the flash differs at the end".into())?;
    Ok(Seen {
        simulated_s: exact.simulated_s + fast.simulated_s,
        words: format!("{} stretches, 264 KiB of memory, 2 MiB of flash", exact.seen.len()),
    })
}

fn float(context: &Context) -> Result<Seen, String> {
    let (fast, float) = (run(context, Mode::Fast)?, run(context, Mode::Float)?);
    let timeless = |seen: &board::Seen| board::Seen {
        now_ns: 0.0,
        born_ns: 0.0,
        drive_ns: 0.0,
        drive_last_ns: 0.0,
        permit_last_ns: 0.0,
        contactor_ns: 0.0,
        instructions: 0.0,
        longest: 0,
        counts: Vec::new(),
        ..seen.clone()
    };
    same(&fast.seen, &float.seen, timeless)?;
    hold(fast.flash == float.flash, || "the flash differs at the end".into())?;
    Ok(Seen {
        simulated_s: fast.simulated_s + float.simulated_s,
        words: format!("{} stretches, 2 MiB of flash", fast.seen.len()),
    })
}

fn same(
    ours: &[board::Seen],
    theirs: &[board::Seen],
    of: impl Fn(&board::Seen) -> board::Seen,
) -> Result<(), String> {
    hold(ours.len() == theirs.len(), || format!("{} and {} stretches", ours.len(), theirs.len()))?;
    let differ = ours.iter().zip(theirs).find(|(ours, theirs)| of(ours) != of(theirs));
    differ.map_or(Ok(()), |(ours, theirs)| Err(format!("first: {ours:?}\n  then: {theirs:?}")))
}
