//! `device send`: a bake planned, sent, read back and compared. It starts nothing.

use super::{PortArgument, failed, tell_loss};
use crate::command::progress::{Bar, threads};
use crate::command::{Answer, Failure, Format, Globals, failure_text, note_tuning, print};
use crate::files::{self, Setup};
use crate::link::{
    Address, Difference, Document, LinkError, NoDocument, Patience, Session, claimed, differences,
};
use crate::plan::{Plan, Wanted, sketch};
use crate::rehearse::Bench;
use crate::report::plan_words::{PlanStory, one_line};
use crate::report::units::Units;
use std::path::PathBuf;
use truesoak_core::command;
use truesoak_core::wire::messages::{Capabilities, Request};
use truesoak_core::wire::refusal::Refusal;
use truesoak_core::wire::settings::BoardSettings;
use truesoak_core::wire::upload::DIGEST;

/// Draws of the short plan.
const DRAWS: usize = 40;
/// Share of them that must pass to be called good, as in `plan`.
const CONFIDENCE: f64 = 0.95;

/// What to send.
#[derive(Clone, Debug, clap::Args)]
pub(super) struct Arguments {
    /// The bake file.
    bake: PathBuf,
    /// Whose parts they are; goes into the log.
    #[arg(long, value_name = "TEXT", default_value = "")]
    job: String,
    /// A remark for the log.
    #[arg(long, value_name = "TEXT", default_value = "")]
    note: String,
}

/// Runs it.
pub(super) fn run(
    port: &PortArgument,
    arguments: &Arguments,
    globals: &Globals,
) -> Result<Answer, Failure> {
    let setup = files::read(&arguments.bake, &[])?;
    let bench = Bench::new(&setup)?;
    let document = Document::of(&setup, &bench, &arguments.job, &arguments.note)
        .map_err(|error| too_large(arguments, &error))?;
    let (address, mut session) = port.open()?;
    refuse_while_baking(&mut session, &address)?;
    let differences = settle_settings(&mut session, &address, &setup, globals)?;
    let plan = plan(arguments, &setup, globals)?;
    send(&mut session, &address, &document, globals)?;
    if !globals.quiet {
        note_tuning(&setup);
    }
    let told = Told { arguments, setup: &setup, document: &document, plan: &plan, differences };
    print(&match globals.format {
        Format::Json => told.json(),
        Format::Text => told.text(globals),
    })?;
    Ok(Answer::Yes)
}

fn too_large(arguments: &Arguments, error: &NoDocument) -> Failure {
    Failure::Input(failure_text(
        &error.to_string(),
        &arguments.bake.display().to_string(),
        "at most 16384 bytes for bake, oven, load, job and note together",
        "shorten the comments of the three files, the job or the note",
    ))
}

/// A board that bakes takes nothing: said before any work.
fn refuse_while_baking(session: &mut Session, address: &Address) -> Result<(), Failure> {
    let status = session.with(Patience::SHORT, tell_loss, |client, _| client.status());
    let status = status.map_err(|error| failed(address, &error))?;
    if status.step == 0 {
        return Ok(());
    }
    let runs = Refusal::Controller(command::Refusal::BakeRuns);
    Err(failed(address, &LinkError::Refused(runs)))
}

/// Shows what the board is fitted with and the oven's file says otherwise. A board that is being
/// commissioned takes the file's word but for its sensors, whose corrections come from their own two
/// baths; any other must be right already.
fn settle_settings(
    session: &mut Session,
    address: &Address,
    setup: &Setup,
    globals: &Globals,
) -> Result<Vec<Difference>, Failure> {
    let fitted = session.with(Patience::SHORT, tell_loss, |client, _| client.settings());
    let fitted = fitted.map_err(|error| failed(address, &error))?;
    let fitted: BoardSettings = fitted.ok_or_else(|| never_commissioned(address))?;
    let found = differences(&fitted, &setup.oven, &setup.load);
    if found.is_empty() {
        return Ok(found);
    }
    let commissioning = session.greeting().capabilities.has(Capabilities::COMMISSIONING);
    if globals.format == Format::Text {
        print(&settings_text(&found, commissioning))?;
    }
    let stays = |of: &&Difference| of.is_of_a_sensor || (of.is_grave && !commissioning);
    if let Some(grave) = found.iter().find(stays) {
        return Err(differs(grave, address));
    }
    if commissioning {
        let claimed = claimed(&fitted, &setup.oven, &setup.load);
        let BoardSettings { air, air_b, part_probe, .. } = fitted;
        let settings = BoardSettings { air, air_b, part_probe, ..claimed };
        let set = session.with(Patience::SHORT, tell_loss, |client, _| {
            client.done(&Request::SetSettings(settings))
        });
        set.map_err(|error| failed(address, &error))?;
    }
    Ok(found)
}

fn never_commissioned(address: &Address) -> Failure {
    Failure::Refused(failure_text(
        "nobody has commissioned this board: it does not know what is fitted",
        &address.to_string(),
        "a board whose sensors went through ice and boiling water",
        "switch it on with GO held, let go within 20 s; then truesoak device commission OVEN.toml",
    ))
}

fn differs(grave: &Difference, address: &Address) -> Failure {
    let next = if grave.is_of_a_sensor {
        "if the board is right, write its sensor and correction into the oven's file, [sensor] kind and \
         correction; if the file is, switch the board on with GO held, then truesoak device commission \
         OVEN.toml"
    } else {
        "correct the oven's file, or commission the board again: hold GO while it is switched on, \
         then truesoak device commission OVEN.toml"
    };
    Failure::Refused(failure_text(
        &format!(
            "the board's {} is {}, the oven's file says {}",
            grave.what, grave.board, grave.file
        ),
        &address.to_string(),
        "a board fitted as the oven's file says: the bake is counted from that",
        next,
    ))
}

fn settings_text(found: &[Difference], commissioning: bool) -> String {
    let changes = commissioning && !found.iter().any(|difference| difference.is_of_a_sensor);
    let change = if changes { "becomes" } else { "in the oven's file" };
    let lines = found.iter().map(|difference| {
        format!(
            "  {}: {} on the board, {change} {}\n",
            difference.what, difference.board, difference.file
        )
    });
    let heading = if changes { "Settings that change\n" } else { "Settings that differ\n" };
    std::iter::once(heading.to_owned()).chain(lines).collect()
}

fn plan(arguments: &Arguments, setup: &Setup, globals: &Globals) -> Result<Plan, Failure> {
    let bar = Bar::new(globals);
    let planned = sketch(
        &Wanted {
            path: &arguments.bake,
            set: &[],
            setup,
            runs: DRAWS,
            seed: 1,
            threads: threads(),
            keeps_courses: false,
            units: globals.units.unwrap_or(Units::of_scale(setup.bake.scale)),
        },
        &bar,
    );
    bar.finish();
    let plan = planned?;
    if plan.interrupted {
        return Err(Failure::Interrupted("interrupted; nothing was sent".to_owned()));
    }
    Ok(plan)
}

/// Sends it, reads it back and compares.
fn send(
    session: &mut Session,
    address: &Address,
    document: &Document,
    globals: &Globals,
) -> Result<(), Failure> {
    let outline = document.outline();
    let bytes = document.bytes();
    let bar = Bar::new(globals);
    let back = session.with(Patience::SHORT, tell_loss, |client, _| {
        bar.bytes("sending", bytes.len());
        client.upload(document, |sent| bar.at(sent))?;
        let kept = client.outline()?;
        bar.bytes("reading back", bytes.len());
        let back = client.read_back(&outline, |read| bar.at(read))?;
        Ok((kept, back))
    });
    bar.finish();
    let (kept, back) = back.map_err(|error| failed(address, &error))?;
    if kept == Some(outline) && DIGEST.checksum(&back) == outline.digest && back == bytes {
        return Ok(());
    }
    Err(Failure::Link(failure_text(
        "what the board gives back is not what was sent",
        &address.to_string(),
        &format!("{} bytes with the digest crc32:{:08x}", bytes.len(), outline.digest),
        "send it again; do not start this bake",
    )))
}

/// All that is told.
struct Told<'a> {
    arguments: &'a Arguments,
    setup: &'a Setup,
    document: &'a Document,
    plan: &'a Plan,
    differences: Vec<Difference>,
}

impl Told<'_> {
    fn text(&self, globals: &Globals) -> String {
        let typed = self.arguments.bake.display().to_string();
        let story = PlanStory {
            plan: self.plan,
            bake: &self.setup.bake,
            oven: &self.setup.oven.name,
            load: &self.setup.load.name,
            confidence: CONFIDENCE,
            typed: &typed,
        };
        let outline = self.document.outline();
        format!(
            "{}\"{}\" is on the board: {} bytes, read back the same (digest crc32:{:08x}).\n\
             Start it at the oven: hold GO for 2 s and let go. From here: truesoak device start, then GO.\n",
            one_line(&story, globals.paint()),
            self.setup.bake.name,
            outline.bytes(),
            outline.digest
        )
    }

    fn json(&self) -> String {
        let outline = self.document.outline();
        let settings: Vec<_> = self
            .differences
            .iter()
            .map(|of| serde_json::json!({ "what": of.what, "board": of.board, "file": of.file }))
            .collect();
        let value = serde_json::json!({
            "schema": "truesoak.sent/1",
            "bake": self.setup.bake.name,
            "bytes": outline.bytes(),
            "digest": format!("crc32:{:08x}", outline.digest),
            "models": self.document.models(),
            "settings": settings,
            "plan": {
                "runs": self.plan.drawn.len(),
                "pass_probability": self.plan.pass_probability(),
                "finish_s": { "p50": self.plan.finish_s(0.5), "p95": self.plan.finish_s(0.95) },
            },
        });
        format!("{value}\n")
    }
}
