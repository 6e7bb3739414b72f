//! `truesoak simulate`: rehearse a bake.

use super::outputs::{Output, Outputs, failed};
use super::{Answer, Failure, Format, Globals, explain, note_tuning, print};
use crate::files::{self, DefaultUsed, Override, Setup};
use crate::interrupt;
use crate::log::{Header, RehearsalHeader, Row, Source, Writer};
use crate::rehearse::{Rehearsal, Request, oracle, rehearse, truth_columns};
use crate::report::plot;
use crate::report::units::{Units, h_mm};
use crate::report::{Rehearsed, Story, Written, words};
use indicatif::{ProgressBar, ProgressStyle};
use std::fmt::Write as _;
use std::io::IsTerminal as _;
use std::path::PathBuf;
use std::time::Duration;

/// What to rehearse and how.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The bake file.
    bake: PathBuf,
    /// Write the log here, one row a second.
    #[arg(long, value_name = "F.csv")]
    log: Option<PathBuf>,
    /// Draw it: .svg, .png or .html; repeatable.
    #[arg(long, value_name = "F")]
    plot: Vec<PathBuf>,
    /// Seed of the sensor noise.
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
    /// Change a value of the files, believed and true alike.
    #[arg(long, value_name = "KEY=VALUE")]
    set: Vec<String>,
    /// Change a value of oven or load in truth only: the controller is not told.
    #[arg(long, value_name = "KEY=VALUE")]
    plant: Vec<String>,
    /// The true oven is the N-th draw of what is not known about it.
    #[arg(long, value_name = "N")]
    draw: Option<u64>,
    /// List the defaults used, each with its source.
    #[arg(long)]
    explain: bool,
    /// Rehearse the practice instead: air to the middle of the window, timer from the door.
    #[arg(long)]
    by_the_clock: bool,
    /// Tell how short the bake could be, were everything known of the oven.
    #[arg(long)]
    oracle: bool,
    /// Leave out the rehearsals by the clock and of a welded drive.
    #[arg(long)]
    quick: bool,
}

/// Runs it.
pub(super) fn run(arguments: &Arguments, globals: &Globals) -> Result<Answer, Failure> {
    let set: Vec<Override> = arguments.set.iter().map(|typed| Override::set(typed)).collect();
    let plant = arguments.plant.iter().map(|typed| Override::plant(typed));
    let all: Vec<Override> = set.iter().cloned().chain(plant).collect();
    let believed = files::read(&arguments.bake, &set)?;
    let truth = if arguments.plant.is_empty() {
        believed.clone()
    } else {
        files::read(&arguments.bake, &all)?
    };
    // Without it Ctrl-C ends the process at once, as it always did.
    let _ = interrupt::listen();
    let outputs = Outputs::open(arguments.log.as_deref(), &arguments.plot, Some(&believed))?;
    let request = Request {
        believed: &believed,
        truth: &truth,
        draw: arguments.draw,
        exactly: None,
        seed: arguments.seed,
        by_the_clock: arguments.by_the_clock,
        quick: arguments.quick,
    };
    let progress = progress(globals);
    let done = rehearse(&request).and_then(|mut rehearsal| {
        if arguments.oracle {
            rehearsal.result.oracle = Some((&oracle(&request)?).into());
        }
        Ok(rehearsal)
    });
    progress.finish_and_clear();
    let rehearsal = match done {
        Ok(rehearsal) => rehearsal,
        Err(refusal) => {
            outputs.take_back();
            return Err(refusal.into());
        }
    };
    if !globals.quiet {
        note_tuning(&believed);
        note_unplayed(&believed, &rehearsal, arguments.by_the_clock);
    }
    let told = Told { arguments, globals, believed: &believed, rehearsal: &rehearsal };
    if interrupt::asked() {
        return Err(outputs.keep(&told));
    }
    let written = outputs.write(&told)?;
    told.print(&written)?;
    Ok(if rehearsal.result.is_good() { Answer::Yes } else { Answer::No })
}

/// Says what of the script was not played: a bake that ran through stood none of it.
fn note_unplayed(believed: &Setup, rehearsal: &Rehearsal, by_the_clock: bool) {
    let unplayed = &rehearsal.unplayed;
    let why = if by_the_clock { "the clock is tried without" } else { "the bake was over first" };
    for number in &unplayed.faults {
        let kind = believed.bake.faults.get(*number).map_or("", |script| script.kind.as_str());
        eprintln!("note: [[fault]] {} ({kind}) was not played: {why}", number + 1);
    }
    for number in &unplayed.doors {
        eprintln!("note: [[door]] {} was not opened: the bake was over first", number + 1);
    }
    let given = believed.bake.answers.len();
    for number in given.saturating_sub(unplayed.answers)..given {
        eprintln!("note: [[answer]] {} was not given: nothing asked for it", number + 1);
    }
}

/// Shown once a rehearsal takes more than a second.
fn progress(globals: &Globals) -> ProgressBar {
    if globals.quiet || !std::io::stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    let bar = ProgressBar::new_spinner().with_message("rehearsing the bake");
    if let Ok(style) = ProgressStyle::with_template("{msg} {elapsed}") {
        bar.set_style(style);
    }
    bar.enable_steady_tick(Duration::from_secs(1));
    bar
}

impl Outputs {
    fn write(&self, told: &Told<'_>) -> Result<Vec<Written>, Failure> {
        let mut written = Vec::new();
        if let Some(log) = &self.log {
            told.write_log(log, Ending::Whole).map_err(|error| failed(log, &error))?;
            written.push(Written { path: log.path().to_owned(), what: "log, one row a second" });
        }
        if self.plots.is_empty() {
            return Ok(written);
        }
        let log = told.log();
        for (plot, picture) in &self.plots {
            let bytes = plot::draw(*picture, &log, &told.story(), &written)
                .map_err(|error| failed(plot, &error))?;
            plot.put(&bytes).map_err(|error| failed(plot, &error))?;
            written.push(Written { path: plot.path().to_owned(), what: picture.what() });
        }
        Ok(written)
    }

    /// Keeps the rows there are; nothing is drawn of half a bake.
    fn keep(&self, told: &Told<'_>) -> Failure {
        self.plots.iter().for_each(|(plot, _)| plot.take_back());
        let reached = told.rehearsal.trace.rows.last().map_or(0.0, Row::t_s);
        let mut text = format!("interrupted at {} of the bake", h_mm(reached));
        if let Some(log) = &self.log {
            if let Err(error) = told.write_log(log, Ending::Torn) {
                return failed(log, &error);
            }
            let _ = write!(text, "; {} has every row until then", log.path().display());
        }
        Failure::Interrupted(text)
    }
}

/// How a log ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Ending {
    /// With its last line.
    Whole,
    /// Without: the reader names it as broken off.
    Torn,
}

/// Everything there is to tell.
struct Told<'a> {
    arguments: &'a Arguments,
    globals: &'a Globals,
    believed: &'a Setup,
    rehearsal: &'a Rehearsal,
}

impl Told<'_> {
    fn story(&self) -> Story<'_> {
        Story {
            result: &self.rehearsal.result,
            bake: &self.believed.bake,
            oven: &self.believed.oven.name,
            load: &self.believed.load.name,
            rehearsed: Some(Rehearsed {
                seed: self.arguments.seed,
                draw: self.arguments.draw,
                plant_changed: !self.arguments.plant.is_empty(),
                by_the_clock: self.arguments.by_the_clock,
            }),
            recounted: None,
            units: self.globals.units.unwrap_or(Units::of_scale(self.believed.bake.scale)),
        }
    }

    fn print(&self, written: &[Written]) -> Result<(), Failure> {
        let text = match self.globals.format {
            Format::Json => self.json(),
            Format::Text if self.globals.quiet => {
                words::one_line(&self.story(), self.globals.paint())
            }
            Format::Text => {
                let mut text = words::report(&self.story(), self.globals.paint(), written);
                if self.arguments.explain {
                    text.push_str(&explain::text(&self.defaults()));
                }
                text
            }
        };
        print(&text)
    }

    fn defaults(&self) -> Vec<DefaultUsed> {
        explain::defaults(self.believed, &self.rehearsal.model)
    }

    fn json(&self) -> String {
        if !self.arguments.explain {
            return self.rehearsal.result.to_json();
        }
        let mut value = serde_json::to_value(&self.rehearsal.result).unwrap_or_default();
        if let Some(object) = value.as_object_mut() {
            object.insert("defaults".to_owned(), explain::json(&self.defaults()));
        }
        format!("{value}\n")
    }

    fn header(&self) -> Header {
        Header {
            set: self.arguments.set.clone(),
            models: Some(crate::compile::digest(&self.rehearsal.model)),
            rehearsal: Some(RehearsalHeader {
                seed: self.arguments.seed,
                draw: self.arguments.draw,
                plant: self.arguments.plant.clone(),
                by_the_clock: self.arguments.by_the_clock,
                truth: RehearsalHeader::TRUTH.to_owned(),
            }),
            ..Header::carrying(Source::Rehearsal, self.believed)
        }
    }

    fn write_log(&self, output: &Output, ending: Ending) -> std::io::Result<()> {
        let trace = &self.rehearsal.trace;
        let mut writer =
            Writer::new(output.emptied()?, &self.header(), &truth_columns(&self.believed.load))?;
        for (row, truths) in trace.rows.iter().zip(trace.truth.rows()) {
            writer.row(row, truths)?;
        }
        match ending {
            Ending::Whole => writer.finish().map(|_| ()),
            Ending::Torn => writer.flush(),
        }
    }

    fn log(&self) -> crate::log::Log {
        self.rehearsal.trace.log(self.header(), &self.believed.load)
    }
}
