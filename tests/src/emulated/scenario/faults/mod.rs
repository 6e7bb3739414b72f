//! Rows of the guard, injected at a pin, the bus or a byte; the time to safe held against the row.
//!
//! *Safe* is the drive off and the permit toggled for the last time, as seen at the pins, in the
//! plant's time; it is counted from the moment the fault is there, 50 ms before the tick that can
//! first see it. The pump's hold comes on top of it.
//!
//! A row may also let the bake go on; then the bake ends as it would have. Rows that want more than one
//! fault in one bake are in `scenario/rows.rs`.

mod table;

use super::{Context, Scenario, Seen, hold, quick, told};
use crate::emulated::oven::{Fits, Oven, Watch};
use Then::{Asks, Ends, GoesOn, Trips};
use truesoak::files::Setup;
use truesoak::files::bake::{AnswerScript, FaultScript, Moment, Say};
use truesoak::rehearse::Trace;
use truesoak_core::event::{Ending, Event};
use truesoak_core::io::Question;

pub(super) use table::SCENARIOS;

/// A part may pass its limit by this much, K (invariant 3).
const MARGIN_K: f64 = 1.0;
/// What a converter for type K makes of type S (`truesoak::rehearse`, its fault of that name).
const OF_TYPE_S: f32 = 0.168;
/// The soak is the third step.
const SOAK: usize = 2;
const COOL: usize = 4;

/// What must come of it.
#[derive(Clone, Copy)]
enum Then {
    /// This trip, safe within so many seconds.
    Trips(&'static str, f64),
    /// Heat is off within so many seconds and this is asked.
    Asks(Question, f64),
    /// The bake goes on and ends well.
    GoesOn,
    /// The bake ends at once, unfinished, safe within so many seconds.
    Ends(f64),
}

/// A fault, and what it does.
struct Row {
    kind: &'static str,
    step: usize,
    after_s: f64,
    for_s: Option<f64>,
    by_k: Option<f64>,
    set: &'static [&'static str],
    fits: Fits,
    /// Where a silent converter's wire is held.
    silent_as: &'static str,
    /// Ticks at rest before the bake.
    rests_ticks: u32,
    /// Counted from where this is so, not from where the fault begins.
    since: Option<Watch>,
    /// The window leaves no room below what the parts stand: a weld takes them some kelvins past it. The
    /// desk refuses such a file; with one that it takes another row is first.
    has_no_room: bool,
    then: Then,
}

impl Row {
    /// A fault early in the soak, on the usual oven.
    const fn soak(kind: &'static str, then: Then) -> Self {
        Self {
            kind,
            step: SOAK,
            after_s: 90.0,
            for_s: None,
            by_k: None,
            set: &[],
            fits: Fits::Max31855,
            silent_as: "low",
            rests_ticks: 0,
            since: None,
            has_no_room: false,
            then,
        }
    }

    const fn at(self, step: usize, after_s: f64) -> Self {
        Self { step, after_s, ..self }
    }

    const fn by(self, by_k: f64) -> Self {
        Self { by_k: Some(by_k), ..self }
    }

    const fn lasting(self, for_s: f64) -> Self {
        Self { for_s: Some(for_s), ..self }
    }

    const fn set(self, set: &'static [&'static str]) -> Self {
        Self { set, ..self }
    }

    const fn resting(self, rests_ticks: u32) -> Self {
        Self { rests_ticks, ..self }
    }

    const fn fits(self, fits: Fits) -> Self {
        Self { fits, ..self }
    }

    const fn silent_as(self, silent_as: &'static str) -> Self {
        Self { silent_as, ..self }
    }

    const fn since(self, watch: Watch) -> Self {
        Self { since: Some(watch), ..self }
    }

    const fn without_room(self) -> Self {
        Self { has_no_room: true, ..self }
    }
}

/// The quick bake, shortened, with one fault.
fn setup(row: &Row) -> Result<Setup, String> {
    // A bake that goes on is to end soon; any other must still be under way.
    let soak = match row.then {
        GoesOn | Asks(..) => "4 min",
        Ends(_) => "3 min",
        Trips(..) => "15 min",
    };
    let soak = format!("bake.step.\"dry\".soak.for=\"{soak}\"");
    let mut set: Vec<&str> = row.set.to_vec();
    set.push(&soak);
    let mut setup = quick(&set)?;
    // Nobody opens the door but to load, and every look is passed at once.
    setup.bake.doors.truncate(1);
    let passed = AnswerScript { say: Say::Pass, after_s: Some(3.0) };
    setup.bake.answers = vec![AnswerScript { say: Say::Go, after_s: None }];
    setup.bake.answers.extend([passed; 4]);
    if row.kind != "none" {
        let at = if row.step == 0 {
            Moment::SinceStart(row.after_s)
        } else {
            Moment::SinceStep(row.step, row.after_s)
        };
        let fault = FaultScript { at, kind: row.kind.into(), for_s: row.for_s, by_k: row.by_k };
        setup.bake.faults = vec![fault];
    }
    Ok(setup)
}

fn play(context: &Context, row: &Row) -> Result<Seen, String> {
    let setup = setup(row)?;
    let mut oven = told(Oven::new(&context.made(context.mode), &setup, row.fits))?;
    // What is wired wrong was so before anybody started a bake.
    match row.kind {
        "thermocouple-reversed" => oven.shows_at_rest(|true_c, cold_c| 2.0 * cold_c - true_c),
        "sensor-type-wrong" => {
            oven.shows_at_rest(|true_c, cold_c| cold_c + OF_TYPE_S * (true_c - cold_c));
        }
        _ => {}
    }
    oven.pair.ticks(row.rests_ticks);
    (oven.watch, oven.silent_as) = (row.since, row.silent_as);
    let (trace, world) = oven.bake(&setup, None, context.seed);
    hold(!oven.heat_after_trip, || "heat in a tick after the trip was latched".into())?;
    let excess = trace.tally.worst_excess(&setup.load).map_or(f64::NEG_INFINITY, |(_, by)| by);
    hold(excess <= MARGIN_K || row.has_no_room, || {
        format!("a part went {excess:.1} K past its limit")
    })?;
    let strikes = |tick: &u32| world.faults.beginning_at(*tick).next().is_some();
    let strikes = (0..=trace.chronicle.ended).find(strikes);
    let begins = if row.since.is_some() { oven.watched_tick } else { strikes };
    let words = judge(row, &oven, &trace, begins)?;
    Ok(Seen { simulated_s: oven.pair.board.now_ns / 1e9, words })
}

fn judge(row: &Row, oven: &Oven, trace: &Trace, begins: Option<u32>) -> Result<String, String> {
    let since = |tick: u32| oven.heat_until_s(tick);
    match row.then {
        Trips(kind, within_s) => {
            let trip = trace.chronicle.trips.first().ok_or("nothing tripped")?;
            let seen = trip.kind.to_string();
            hold(seen == kind, || format!("tripped {seen}, not {kind}"))?;
            let begins = begins.ok_or("the fault never struck")?;
            // Where no heat flowed the trip is what took its time.
            let trip_s = trip.detected_s - f64::from(begins) / 10.0 + 0.05;
            let took_s = since(begins).max(trip_s);
            hold(took_s <= within_s, || format!("safe after {took_s:.2} s of {within_s} s"))?;
            Ok(format!("{kind}, safe after {:.2} s of {within_s} s", took_s.max(0.0)))
        }
        Asks(question, within_s) => {
            hold(trace.chronicle.trips.is_empty(), || {
                format!("tripped {:?}", trace.chronicle.trips)
            })?;
            let words = Event::Asked(question).to_string();
            let asked = trace.rows.iter().find(|row| row.event == words);
            let asked = asked.ok_or_else(|| format!("never \"{words}\""))?.tick;
            let from = begins.ok_or("the fault never struck")?;
            let took_s = oven.off_after_s(from);
            hold(took_s <= within_s, || format!("off after {took_s:.2} s of {within_s} s"))?;
            ended_well(trace)?;
            let asked_s = f64::from(asked - from) / 10.0;
            Ok(format!("off after {took_s:.2} s of {within_s} s, asked after {asked_s:.1} s"))
        }
        GoesOn => {
            hold(trace.chronicle.trips.is_empty(), || {
                format!("tripped {:?}", trace.chronicle.trips)
            })?;
            ended_well(trace)?;
            let told = ["probe-disagrees", "store-failing", "settings-corrupt"];
            let told = trace.rows.iter().find(|row| told.contains(&row.event.as_str()));
            let told = told.map_or(String::new(), |row| format!(", told as {}", row.event));
            Ok(format!("the bake goes on and ends well{told}"))
        }
        Ends(within_s) => {
            hold(trace.chronicle.ending == Some(Ending::TooLong), || {
                format!("{:?}", trace.chronicle.ending)
            })?;
            let took_s = since(trace.chronicle.ended);
            hold(took_s <= within_s, || format!("safe after {took_s:.2} s"))?;
            Ok(format!("unfinished, safe after {:.2} s of {within_s} s", took_s.max(0.0)))
        }
    }
}

fn ended_well(trace: &Trace) -> Result<(), String> {
    hold(trace.chronicle.ending == Some(Ending::Finished), || {
        format!("it ended {:?}", trace.chronicle.ending)
    })
}
