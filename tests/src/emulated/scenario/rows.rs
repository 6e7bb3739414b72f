//! Rows of the guard that no single fault of a bake shows: buttons that stick before it, air outside
//! the spread for minutes, a processor that hangs again and again.

use super::{Context, Scenario, Seen, hold, quick, short, told};
use crate::emulated::board::{Board, Made};
use crate::emulated::computer::Heard;
use crate::emulated::frames::Chip;
use crate::emulated::oven::{Fits, Oven};
use serde_json::json;
use truesoak::files::Setup;
use truesoak::files::bake::{AnswerScript, FaultScript, Moment, Say};
use truesoak::rehearse::Trace;
use truesoak_core::event::{Ending, Event};
use truesoak_core::guard::TripKind;
use truesoak_core::ledger::Ledger;
use truesoak_core::sequence::Mode;
use truesoak_core::units::Kelvins;
use truesoak_core::wire::messages::{Reply, Request};
use truesoak_core::wire::refusal::{Obstacle, Refusal};

pub(super) const SCENARIOS: &[Scenario] = &[
    Scenario { name: "fault: button-stuck, GO", is_short: true, run: |with| stuck(with, true) },
    Scenario { name: "fault: button-stuck, STOP", is_short: true, run: |with| stuck(with, false) },
    Scenario { name: "fault: outside-model", is_short: true, run: outside },
    Scenario { name: "fault: of the processor itself", is_short: true, run: own_fault },
    Scenario {
        name: "fault: processor-hung, three times",
        is_short: false,
        run: |context| thrice(context, TripKind::ProcessorHung),
    },
    Scenario {
        name: "fault: tick-overrun, three times",
        is_short: false,
        run: |context| thrice(context, TripKind::TickOverrun),
    },
    Scenario { name: "fault: link-lost", is_short: false, run: unplugged },
    Scenario {
        name: "fault: a converter's supply, MAX31856",
        is_short: false,
        run: |context| converter_lost(context, Fits::Max31856),
    },
    Scenario {
        name: "fault: a converter's supply, MAX31865",
        is_short: false,
        run: |context| converter_lost(context, Fits::Max31865),
    },
];

/// GO that is still closed so long after the start is stuck, and not somebody who commissions.
const RELEASE_TICKS: u32 = 200;
/// The soak is the third step.
const SOAK: usize = 2;
/// The air is hotter than the hottest oven of the spread by so much: the row wants more than 1 K, and
/// more than 3 K are a welded drive.
const ABOVE_K: f32 = 1.5;
/// It was colder than that one by so much before.
const INSIDE_K: f32 = 1.0;
/// The row's time, s.
const OUTSIDE_S: f64 = 120.0;
/// The soak has counted for so long before the air leaves the spread, s.
const COUNTED_S: u32 = 60;

/// A board whose supply comes with a button pressed does not start, not by GO and not by its cable.
fn stuck(context: &Context, go: bool) -> Result<Seen, String> {
    let setup = quick(&[])?;
    let mut oven = told(Oven::new(&context.made(context.mode), &setup, Fits::Max31855))?;
    let pair = &mut oven.pair;
    pair.board.contacts.go = go;
    pair.board.contacts.stop = !go;
    pair.cut_supply(2e9);
    pair.ticks(RELEASE_TICKS + 10);
    let refused = Heard::Other(Reply::Refused(Refusal::NotReady(Obstacle::Button)));
    let reply = pair.ask(&Request::Start { at_the_oven: false });
    hold(reply == refused, || format!("to a start: {reply:?}"))?;
    // And a press of GO, which a stuck GO cannot be told from.
    pair.board.contacts.go = true;
    for tick in 0..100 {
        pair.board.contacts.go = tick < 50;
        let seen = pair.tick();
        let heats = seen.drive_ns > 0.0 || seen.permit_edges > 0;
        hold(!heats, || "heat with a stuck button".into())?;
    }
    hold(pair.controller().mode() == Mode::Idle, || "a bake was begun".into())?;
    pair.board.contacts = Default::default();
    pair.ticks(20);
    let reply = pair.ask(&Request::Start { at_the_oven: false });
    hold(matches!(reply, Heard::Other(Reply::AwaitsGo(_))), || format!("released: {reply:?}"))?;
    Ok(Seen {
        simulated_s: pair.board.now_ns / 1e9,
        words: "no start and no heat; released, a start may be asked for".into(),
    })
}

fn has_counted(ledger: &Ledger) -> bool {
    ledger.credit_s() >= COUNTED_S
}

/// Nobody opens the door but to load, and every question is answered at once.
fn bake_alone(set: &[&str]) -> Result<Setup, String> {
    let mut setup = quick(set)?;
    setup.bake.doors.truncate(1);
    let passed = AnswerScript { say: Say::Pass, after_s: Some(3.0) };
    let go = AnswerScript { say: Say::Go, after_s: Some(3.0) };
    setup.bake.answers = vec![AnswerScript { say: Say::Go, after_s: None }, go, go, passed];
    Ok(setup)
}

/// Where a fault and a panic end: the permit falls first, then the drive, and nothing else is done until the
/// watchdog starts the board anew.
fn own_fault(context: &Context) -> Result<Seen, String> {
    let chips = [Some(Chip::Max31856), None, None];
    let mut board = told(Board::new(&Made { chips, ..context.made(context.mode) }))?;
    let _ = board.run(3e9);
    let _ = board.order(&json!({ "do": "processor_fault" }));
    let begun_ns = board.now_ns;
    let seen = board.run(1.2e9);
    let after_us = |at_ns: f64| (at_ns - begun_ns) / 1e3;
    let (permit_us, drive_us) = (after_us(seen.permit_last_ns), after_us(seen.drive_last_ns));
    hold(seen.permit_edges == 2 && !seen.permit_high && !seen.drive, || {
        format!("{} edges of the permit, which is {}", seen.permit_edges, seen.permit_high)
    })?;
    hold(0.0 < permit_us && permit_us < drive_us && drive_us < 10.0, || {
        format!("permit off after {permit_us:.2} µs, drive after {drive_us:.2} µs")
    })?;
    let reset_s = (seen.born_ns - begun_ns) / 1e9;
    hold(seen.resets == 1 && reset_s <= 1.0, || {
        format!("{} resets, the last after {reset_s:.2} s", seen.resets)
    })?;
    Ok(Seen {
        simulated_s: board.now_ns / 1e9,
        words: format!(
            "permit off after {permit_us:.2} µs, drive after {drive_us:.2} µs, reset after {reset_s:.2} s"
        ),
    })
}

/// Air that is hotter than any oven of the spread could make it: after two minutes nothing counts any
/// more, and the bake goes on to its time. It is the hottest such oven before, or the rise of a reading
/// that leaves it would be a welded drive's.
fn outside(context: &Context) -> Result<Seen, String> {
    let setup = short("soak.toml", &[])?;
    let mut oven = told(Oven::new(&context.made(context.mode), &setup, Fits::Max31856))?;
    oven.shows = Some(|controller, model| {
        controller.ledger().map(|ledger| {
            let above_k = if has_counted(ledger) { ABOVE_K } else { -INSIDE_K };
            ledger.bounds().reading_highest(model) + Kelvins(above_k)
        })
    });
    oven.watch = Some(|controller| controller.ledger().is_some_and(has_counted));
    let (trace, _) = oven.bake(&setup, None, context.seed);
    let ending = trace.chronicle.ending;
    hold(ending == Some(Ending::TooLong), || {
        format!("it ended {ending:?}: {:?}", happened(&trace))
    })?;
    let words = Event::OutsideModel.to_string();
    let told = trace.rows.iter().find(|row| row.event == words);
    let told = told.ok_or_else(|| format!("nothing was told: {:?}", happened(&trace)))?;
    let left = oven.watched_tick.ok_or("nothing was counted")?;
    let took_s = f64::from(told.tick - left) / 10.0;
    let within_s = OUTSIDE_S + 10.0;
    hold(took_s <= within_s, || format!("told after {took_s:.1} s"))?;
    let had_s = told.credit_s;
    let more = trace.rows.iter().find(|row| row.tick > told.tick && row.credit_s > had_s);
    hold(more.is_none(), || format!("it counts on: {:?}", more.map(|row| row.credit_s)))?;
    let outside = oven.controller().and_then(|of| of.ledger().map(Ledger::is_outside_model));
    hold(outside != Some(false), || "forgotten".into())?;
    Ok(Seen {
        simulated_s: oven.pair.board.now_ns / 1e9,
        words: format!(
            "told {took_s:.0} s after the air began to leave; {had_s} s counted and no more"
        ),
    })
}

/// What a trace tells beside its numbers.
fn happened(trace: &Trace) -> Vec<String> {
    let rows = trace.rows.iter().filter(|row| !row.event.is_empty());
    rows.map(|row| format!("{} {}", row.tick, row.event)).collect()
}

/// Borne twice; the third time it trips.
fn thrice(context: &Context, kind: TripKind) -> Result<Seen, String> {
    let mut setup = bake_alone(&["bake.step.\"dry\".soak.for=\"12 min\""])?;
    let at = |seconds| FaultScript {
        at: Moment::SinceStep(SOAK, seconds),
        kind: kind.to_string(),
        for_s: None,
        by_k: None,
    };
    setup.bake.faults = vec![at(60.0), at(180.0), at(300.0)];
    let mut oven = told(Oven::new(&context.made(context.mode), &setup, Fits::Max31855))?;
    let (trace, _) = oven.bake(&setup, None, context.seed);
    // A trip that is latched as the board starts again no rehearsal sees: the board is asked.
    let status = oven.pair.ask(&Request::Status);
    let Heard::Other(Reply::Status(status)) = status else { return Err(format!("{status:?}")) };
    let tripped = status.trip == Some(kind);
    hold(tripped, || format!("{status:?}: {:?}", happened(&trace)))?;
    hold(!oven.heat_after_trip, || "heat in a tick after the trip was latched".into())?;
    Ok(Seen {
        simulated_s: oven.pair.board.now_ns / 1e9,
        words: "borne twice, tripped the third time".into(),
    })
}

/// The cable is pulled in the soak and put back: the bake does not hear of it.
fn unplugged(context: &Context) -> Result<Seen, String> {
    let setup = bake_alone(&["bake.step.\"dry\".soak.for=\"4 min\""])?;
    let mut oven = told(Oven::new(&context.made(context.mode), &setup, Fits::Max31855))?;
    oven.unplugged = 2_500..3_100;
    let (trace, _) = oven.bake(&setup, None, context.seed);
    let ending = trace.chronicle.ending;
    hold(ending == Some(Ending::Finished), || format!("{ending:?}: {:?}", happened(&trace)))?;
    let status = oven.pair.ask(&Request::Status);
    let answers = matches!(status, Heard::Other(Reply::Status(_)));
    hold(answers, || format!("plugged in again: {status:?}"))?;
    Ok(Seen {
        simulated_s: oven.pair.board.now_ns / 1e9,
        words: "a minute without the cable; the bake ends well, and the board answers again".into(),
    })
}

/// The air's converter is back at its reset values, in each of the three ticks that a conversion takes at
/// most: it is set up again and the bake goes on.
fn converter_lost(context: &Context, fits: Fits) -> Result<Seen, String> {
    const LOST: [u32; 3] = [2_500, 2_601, 2_702];
    let setup = bake_alone(&["bake.step.\"dry\".soak.for=\"4 min\""])?;
    let mut oven = told(Oven::new(&context.made(context.mode), &setup, fits))?;
    oven.converter_lost = &LOST;
    let (trace, _) = oven.bake(&setup, None, context.seed);
    let ending = trace.chronicle.ending;
    hold(ending == Some(Ending::Finished), || format!("{ending:?}: {:?}", happened(&trace)))?;
    let projected = trace.rows.iter().filter(|row| row.flags.projected).count();
    hold((1..=2 * LOST.len()).contains(&projected), || format!("{projected} seconds projected"))?;
    Ok(Seen {
        simulated_s: oven.pair.board.now_ns / 1e9,
        words: format!(
            "back at its reset values {} times, {projected} seconds projected; the bake ends well",
            LOST.len()
        ),
    })
}
