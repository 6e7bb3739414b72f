//! `device status`: what a board is doing, and which bakes it keeps.

use super::{PortArgument, failed, tell_loss};
use crate::command::{Answer, Failure, Format, Globals, print};
use crate::link::{Client, Document, Greeting, LinkError, Patience};
use crate::report::units::{Units, duration};
use crate::watch::{Baked, View, Words};
use serde_json::{Value, json};
use std::fmt::Write as _;
use truesoak_core::command::Command;
use truesoak_core::event::question_word;
use truesoak_core::io::Answer as Said;
use truesoak_core::wire::messages::{Capabilities, Status, StoredBake};

/// All that is told.
struct Told {
    greeting: Greeting,
    status: Status,
    bakes: Vec<StoredBake>,
    baked: Option<Baked>,
}

/// Runs it.
pub(super) fn run(port: &PortArgument, globals: &Globals) -> Result<Answer, Failure> {
    let (address, mut session) = port.open()?;
    let told = session.with(Patience::SHORT, tell_loss, ask);
    let told = told.map_err(|error| failed(&address, &error))?;
    print(&match globals.format {
        Format::Text => told.text(globals.units),
        Format::Json => format!("{}\n", told.json()),
    })?;
    Ok(Answer::Yes)
}

fn ask(client: &mut Client, greeting: &Greeting) -> Result<Told, LinkError> {
    let status = client.status()?;
    let bakes = client.bakes()?;
    let outline = client.outline()?;
    let document = outline.map(|outline| {
        client.read_back(&outline, |_| {}).map(|bytes| Document::from_bytes(&outline, &bytes).ok())
    });
    let baked = document.transpose()?.flatten().and_then(|document| baked(&document));
    Ok(Told { greeting: *greeting, status, bakes, baked })
}

/// What the next bake is, or the one that runs.
fn baked(document: &Document) -> Option<Baked> {
    let compiled = document.compiled().ok()?;
    Some(Baked::sent(&compiled.bake, document.setup().ok().as_ref()))
}

impl Told {
    fn text(&self, units: Option<Units>) -> String {
        let shown = units.or(self.baked.as_ref().map(|baked| baked.units)).unwrap_or_default();
        let view = View {
            status: Some(self.status),
            baked: self.baked.clone(),
            is_virtual: self.greeting.is_virtual(),
            units: shown,
            ..View::default()
        };
        let words = Words(&view);
        let mut lines = vec![self.board(), format!("{}.", words.step())];
        if self.status.step > 0 {
            let parts = [words.coldest(), words.hottest(), words.window()];
            lines.push(words.counted());
            lines.push(
                parts.into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join(", "),
            );
            lines.push(format!("{}; {}; {}", words.air(), words.heater(), words.door()));
        } else if self.status.ended.is_some() {
            lines.push(format!("The last bake: {}", words.counted()));
        }
        lines.extend(words.waiting());
        if self.status.step == 0 {
            lines.push(match &self.baked {
                Some(baked) => format!("Ready for \"{}\".", baked.name),
                None => "No bake was sent to it.".to_owned(),
            });
        }
        let mut text = lines.join("\n");
        text.push('\n');
        self.stored(&mut text);
        text
    }

    fn board(&self) -> String {
        let kind = if self.greeting.is_virtual() { "Virtual board" } else { "Board" };
        let commissioning = self.greeting.capabilities.has(Capabilities::COMMISSIONING);
        let commissioning = if commissioning { ", being commissioned" } else { "" };
        format!(
            "{kind} {}, program {}{commissioning}",
            self.greeting.board_name(),
            self.greeting.firmware_name()
        )
    }

    fn stored(&self, out: &mut String) {
        for bake in &self.bakes {
            let state = match (bake.finished, bake.fetched) {
                (false, _) => "not at its end",
                (true, true) => "fetched",
                (true, false) => "not fetched",
            };
            // Writing to a string cannot fail.
            let _ = writeln!(
                out,
                "Bake {}: {}, {state}.",
                bake.number,
                duration(f64::from(bake.seconds))
            );
        }
    }

    fn json(&self) -> Value {
        let bakes: Vec<Value> = self.bakes.iter().map(stored_json).collect();
        json!({
            "schema": "truesoak.status/1",
            "board": {
                "id": self.greeting.board_name(),
                "firmware": self.greeting.firmware_name(),
                "virtual": self.greeting.is_virtual(),
                "commissioning": self.greeting.capabilities.has(Capabilities::COMMISSIONING),
            },
            "status": status_json(&self.status),
            "bake": self.baked.as_ref().map(|baked| &baked.name),
            "bakes": bakes,
        })
    }
}

fn stored_json(bake: &StoredBake) -> Value {
    json!({
        "number": bake.number,
        "started_unix_s": bake.started_unix_s,
        "seconds": bake.seconds,
        "bytes": bake.bytes,
        "finished": bake.finished,
        "fetched": bake.fetched,
    })
}

/// A status for a program: °C and seconds.
pub(super) fn status_json(status: &Status) -> Value {
    let celsius = |value: Option<truesoak_core::units::Celsius>| value.map(|at| f64::from(at.0));
    json!({
        "phase": status.phase.word(),
        "step": status.step,
        "second": status.second,
        "air_c": celsius(status.reading.map(truesoak_core::units::Reading::to_celsius)),
        "setpoint_c": celsius(status.setpoint.map(truesoak_core::wire::row::Sixteenths::to_celsius)),
        "coldest_c": celsius(status.coldest),
        "hottest_c": celsius(status.hottest),
        "credit_s": status.credit_s,
        "for_s": status.for_s,
        "duty": f64::from(status.on_ticks) / 10.0,
        "heat_allowed": status.permit,
        "door_open": status.door_open,
        "asks": status.asks.map(question_word),
        "trip": status.trip.map(truesoak_core::guard::TripKind::word),
        "awaits_go": status.awaits_go.map(|(command, left_s)| json!({
            "request": command_word(command),
            "left_s": left_s,
        })),
        "ended": status.ended.map(|(ending, is_short)| json!({
            "how": ending.to_string(),
            "short": is_short,
        })),
        "frames_rejected": status.rejected,
    })
}

fn command_word(command: Command) -> &'static str {
    match command {
        Command::Start => "start",
        Command::Answer(Said::Go) => "answer go",
        Command::Answer(Said::Fail) => "answer fail",
        Command::Stop => "stop",
        Command::Acknowledge => "acknowledge",
    }
}
