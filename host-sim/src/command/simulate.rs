//! `truesoak simulate`: rehearse a bake.

use super::{Answer, Failure, Format, Globals, failure_text, print};
use crate::files::{self, DefaultUsed, FileKind, Override, Setup};
use crate::log::{Header, RehearsalHeader, Source, Writer};
use crate::rehearse::{Rehearsal, Request, rehearse};
use crate::report::plot::{self, Picture};
use crate::report::text::wrap;
use crate::report::units::Units;
use crate::report::{Rehearsed, Story, Written, words};
use indicatif::{ProgressBar, ProgressStyle};
use std::fs::File;
use std::io::{BufWriter, IsTerminal as _, Write as _};
use std::path::{Path, PathBuf};
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
    let outputs = Outputs::open(arguments)?;
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
    let done = rehearse(&request);
    progress.finish_and_clear();
    let rehearsal = match done {
        Ok(rehearsal) => rehearsal,
        Err(refusal) => {
            outputs.remove();
            return Err(refusal.into());
        }
    };
    if !globals.quiet {
        note_unplayed(&believed, &rehearsal, arguments.by_the_clock);
    }
    let told = Told { arguments, globals, believed: &believed, rehearsal: &rehearsal };
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

/// Files opened before the work starts. What was there before stays until there is something to
/// put in its place.
struct Outputs {
    log: Option<(PathBuf, File)>,
    plots: Vec<(PathBuf, Picture)>,
    /// Those that were not there before.
    made: Vec<PathBuf>,
}

impl Outputs {
    fn open(arguments: &Arguments) -> Result<Self, Failure> {
        let mut plots = Vec::new();
        for path in &arguments.plot {
            let picture = Picture::of(path).map_err(Failure::Input)?;
            plots.push((path.clone(), picture));
        }
        let wanted = arguments.log.iter().chain(&arguments.plot);
        let made = wanted.filter(|path| !path.exists()).cloned().collect();
        let log = arguments.log.as_ref().map(|path| open(path).map(|file| (path.clone(), file)));
        let outputs = Self { log: log.transpose()?, plots, made };
        for (path, _) in &outputs.plots {
            if let Err(failure) = open(path) {
                outputs.remove();
                return Err(failure);
            }
        }
        Ok(outputs)
    }

    /// Takes back what was opened for nothing.
    fn remove(&self) {
        for path in &self.made {
            let _ = std::fs::remove_file(path);
        }
    }

    fn write(self, told: &Told<'_>) -> Result<Vec<Written>, Failure> {
        let mut written = Vec::new();
        let failed = |path: &Path, error: &dyn std::fmt::Display| {
            Failure::Write(format!("error: {} could not be written: {error}", path.display()))
        };
        if let Some((path, file)) = self.log {
            // A pipe or a terminal has no length to take back.
            if file.metadata().is_ok_and(|about| about.is_file()) {
                file.set_len(0).map_err(|error| failed(&path, &error))?;
            }
            told.write_log(file).map_err(|error| failed(&path, &error))?;
            written.push(Written { path, what: "log, one row a second" });
        }
        if self.plots.is_empty() {
            return Ok(written);
        }
        let log = told.log();
        let paths = self.plots.into_iter();
        for (path, picture) in paths {
            let bytes = plot::draw(picture, &log, &told.story(), &written)
                .map_err(|error| failed(&path, &error))?;
            std::fs::write(&path, bytes).map_err(|error| failed(&path, &error))?;
            written.push(Written { path, what: picture.what() });
        }
        Ok(written)
    }
}

/// Opens a file to write to, as it is, or says why it cannot be.
fn open(path: &Path) -> Result<File, Failure> {
    let opened = File::options().write(true).create(true).truncate(false).open(path);
    opened.map_err(|error| {
        let next = match path.parent() {
            Some(folder) if !folder.as_os_str().is_empty() && !folder.is_dir() => {
                format!("make the folder {} first", folder.display())
            }
            _ => "name a file in a folder that can be written to".to_owned(),
        };
        Failure::Input(failure_text(
            &format!("cannot write {}", path.display()),
            &error.to_string(),
            "a path that can be written",
            &next,
        ))
    })
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
                    text.push_str(&explain(&self.believed.defaults));
                }
                text
            }
        };
        print(&text)
    }

    fn json(&self) -> String {
        if !self.arguments.explain {
            return self.rehearsal.result.to_json();
        }
        let mut value = serde_json::to_value(&self.rehearsal.result).unwrap_or_default();
        let defaults = self.believed.defaults.iter().map(|default| {
            serde_json::json!({
                "key": default.key, "value": default.value, "source": default.source,
            })
        });
        if let Some(object) = value.as_object_mut() {
            object.insert("defaults".to_owned(), defaults.collect());
        }
        format!("{value}\n")
    }

    fn header(&self) -> Header {
        let text =
            |file: FileKind| self.believed.places.source(file).map(|source| source.text.clone());
        Header {
            bake: text(FileKind::Bake),
            oven: text(FileKind::Oven),
            load: text(FileKind::Load),
            set: self.arguments.set.clone(),
            models: Some(crate::compile::digest(&self.rehearsal.model)),
            rehearsal: Some(RehearsalHeader {
                seed: self.arguments.seed,
                draw: self.arguments.draw,
                plant: self.arguments.plant.clone(),
                by_the_clock: self.arguments.by_the_clock,
                truth: RehearsalHeader::TRUTH.to_owned(),
            }),
            ..Header::of(Source::Rehearsal)
        }
    }

    fn columns(&self) -> Vec<String> {
        let names = self.believed.load.parts.iter().map(|part| part.name.as_str());
        let coldest = names.clone().map(|name| format!("{}{name}", crate::log::TRUE_COLDEST));
        let hottest = names.map(|name| format!("{}{name}", crate::log::TRUE_HOTTEST));
        coldest.chain(hottest).collect()
    }

    fn write_log(&self, file: File) -> std::io::Result<()> {
        let trace = &self.rehearsal.trace;
        let out = BufWriter::with_capacity(1 << 16, file);
        let mut writer = Writer::new(out, &self.header(), &self.columns())?;
        for (row, truths) in trace.rows.iter().zip(trace.truth.rows()) {
            writer.row(row, truths)?;
        }
        writer.finish()?.flush()
    }

    fn log(&self) -> crate::log::Log {
        let trace = &self.rehearsal.trace;
        let truth = self
            .columns()
            .into_iter()
            .enumerate()
            .map(|(index, name)| (name, trace.truth.column(index).collect()));
        crate::log::Log {
            header: self.header(),
            rows: trace.rows.clone(),
            truth: truth.collect(),
            end: crate::log::End::Complete,
        }
    }
}

fn explain(defaults: &[DefaultUsed]) -> String {
    let mut text = String::from("\nDefaults used, and why\n");
    for default in defaults {
        let line = format!("{} = {}: {}", default.key, default.value, default.source);
        wrap(&mut text, "  ", 6, &line);
    }
    if defaults.is_empty() {
        text.push_str("  none: the files say everything\n");
    }
    text
}
