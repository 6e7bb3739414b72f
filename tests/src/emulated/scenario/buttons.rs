//! A whole bake without a computer: buttons, a load_in, an opening in the soak, a check answered fail
//! and then pass, to *done*. What is fetched afterwards is counted again on the host.

use super::{Context, Scenario, Seen, hold, quick, told};
use crate::emulated::computer::Heard;
use crate::emulated::oven::{Fits, Oven};
use crate::emulated::pair::Pair;
use crate::fetched::Fetched;
use truesoak::rehearse::{Request as Rehearse, Trace, rehearse};
use truesoak_core::bake::Step;
use truesoak_core::event::{Ending, Event};
use truesoak_core::io::{Answer, Question};
use truesoak_core::wire::messages::{Reply, Request};

pub(super) const SCENARIOS: &[Scenario] = &[Scenario {
    name: "buttons: a whole bake, its log fetched and recounted",
    is_short: true,
    run: whole_bake,
}];

fn whole_bake(context: &Context) -> Result<Seen, String> {
    let setup = quick(&[])?;
    let mut oven = told(Oven::new(&context.made(context.mode), &setup, Fits::Max31856))?;
    let (trace, _) = oven.bake(&setup, None, context.seed);
    hold(trace.chronicle.ending == Some(Ending::Finished), || {
        format!("it ended {:?}", trace.chronicle.ending)
    })?;
    let doors = trace.rows.windows(2).filter(|pair| opens(pair)).count();
    hold(doors == 3, || format!("the door opened {doors} times"))?;
    oven.pair.ticks(30);
    let fetched = fetch(&mut oven.pair, 1)?;
    hold(fetched.head.ended == Some((Ending::Finished, false)), || format!("{:?}", fetched.head))?;
    for answer in [Answer::Fail, Answer::Go] {
        let wanted = Event::Answered(Question::Check, answer);
        hold(fetched.events().any(|event| event == wanted), || format!("no {wanted}"))?;
    }
    fetched.agrees(&trace)?;
    let status = oven.pair.ask(&Request::Status);
    let Heard::Other(Reply::Status(status)) = status else { return Err(format!("{status:?}")) };
    let counted = Some((Ending::Finished, is_short(&fetched)?));
    hold(status.ended == counted, || format!("counted {counted:?}, the board: {status:?}"))?;
    as_rehearsed(&setup, context.seed, &trace)?;
    Ok(Seen {
        simulated_s: oven.pair.board.now_ns / 1e9,
        words: format!(
            "{} seconds recounted the same, and as rehearsed",
            fetched.seconds().count()
        ),
    })
}

fn opens(pair: &[truesoak::log::Row]) -> bool {
    let [before, after] = pair else { return false };
    before.door_open == Some(false) && after.door_open == Some(true)
}

/// Fetches a stored bake from a board at rest.
pub(super) fn fetch(pair: &mut Pair, bake: u32) -> Result<Fetched, String> {
    let mut bytes: Vec<u8> = Vec::new();
    loop {
        let offset = bytes.len() as u32;
        match pair.ask(&Request::Fetch { bake, offset }) {
            Heard::Piece(at, piece) if at == offset => bytes.extend(piece),
            Heard::Other(Reply::Refused(_)) if !bytes.is_empty() => break,
            other => return Err(format!("to a fetch from {offset}: {other:?}")),
        }
    }
    Fetched::of(&bytes)
}

/// The board's bake is the rehearsed one: the same things happen in the same order. A press is seen a
/// tick later, for a board's buttons are debounced.
fn as_rehearsed(setup: &truesoak::files::Setup, seed: u64, trace: &Trace) -> Result<(), String> {
    let request = Rehearse { seed, ..crate::quick(setup) };
    let rehearsed = rehearse(&request).map_err(|refusal| refusal.to_string())?;
    let events = |trace: &Trace| -> Vec<String> {
        let events = trace.rows.iter().map(|row| row.event.clone());
        events.filter(|event| !event.is_empty()).collect()
    };
    let (desk, board) = (events(&rehearsed.trace), events(trace));
    hold(desk == board, || format!("rehearsed {desk:?}\n  baked {board:?}"))
}

/// Some soak's last try was too short, by the recount alone.
fn is_short(fetched: &Fetched) -> Result<bool, String> {
    let recounted = fetched.recount()?;
    let mut credit = std::collections::BTreeMap::new();
    for (second, again) in fetched.seconds().zip(&recounted) {
        credit.insert(second.step, again.credit_s);
    }
    let steps = fetched.compiled.bake.steps.iter().zip(1_u8..);
    Ok(steps
        .filter_map(|(step, number)| match step {
            Step::Soak(soak) => Some((soak.for_s, number)),
            _ => None,
        })
        .any(|(for_s, number)| credit.get(&number).is_none_or(|credit_s| credit_s + 1 < for_s)))
}
