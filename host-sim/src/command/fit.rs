//! `truesoak fit`: an oven's file made narrower by logged bakes.

use super::outputs::{NewFile, Output, failed, is_same, open_all};
use super::progress::Bar;
use super::{Answer, Failure, Format, Globals, failure_text, print};
use crate::files::read_oven_alone;
use crate::fit::{Change, Course, Fitted, LOGS_MAX, Quantity, fit, rewritten};
use crate::log;
use crate::report::Written;
use crate::report::fit::FitResult;
use crate::report::fit_words::{FitStory, one_line, report};
use crate::report::plot::{self, Picture};
use std::path::{Path, PathBuf};

/// What to learn from, and about what.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// Logs of this oven.
    #[arg(required = true, value_name = "LOG.csv")]
    logs: Vec<PathBuf>,
    /// The oven's file.
    #[arg(long, value_name = "OVEN.toml")]
    oven: PathBuf,
    /// Write the oven's file with what was learned here; never overwrites.
    #[arg(long, value_name = "NEW.toml")]
    out: PathBuf,
    /// Draw readings and what is left over: .svg or .png; repeatable.
    #[arg(long, value_name = "F")]
    plot: Vec<PathBuf>,
}

/// Runs it.
pub(super) fn run(arguments: &Arguments, globals: &Globals) -> Result<Answer, Failure> {
    if arguments.logs.len() > LOGS_MAX {
        return Err(Failure::Input(failure_text(
            &format!("{} logs are more than one fit takes", arguments.logs.len()),
            "the command line",
            &format!("at most {LOGS_MAX} logs"),
            "take those with the most heating up and cooling down in them",
        )));
    }
    refuse_twice(&arguments.logs)?;
    let file = read_oven_alone(&arguments.oven)?;
    let pictures = arguments.plot.iter().map(|path| Picture::drawn(path).map_err(Failure::Input));
    let pictures = pictures.collect::<Result<Vec<_>, _>>()?;
    let mut courses = Vec::new();
    let mut notes = Vec::new();
    for path in &arguments.logs {
        let log = log::read(path).map_err(|error| Failure::Input(format!("error: {error}")))?;
        notes.extend(other_oven(&log.header, &file.oven.name, path));
        let course = Course::of(&log, &path.display().to_string(), &file.oven);
        courses.push(course.map_err(|unfit| Failure::Input(unfit.to_string()))?);
    }
    let out = NewFile::open(&arguments.out)?;
    let mut opened = Opened { out, plots: Vec::new() };
    let done = opened
        .pictures(arguments)
        .and_then(|()| {
            let bar = Bar::spinner(globals, "fitting the oven to its logs");
            let fitted = fit(&file.oven, &courses);
            bar.finish();
            fitted.map_err(|unfit| Failure::Input(unfit.to_string()))
        })
        .and_then(|mut fitted| {
            fitted.notes.extend(notes);
            let text = new_text(&file.source.text, &fitted, arguments)?;
            Ok((fitted, text))
        });
    let (fitted, text) = done.inspect_err(|_| opened.take_back())?;
    let units = globals.units.unwrap_or_default();
    let story = FitStory { fitted: &fitted, oven: &file.oven.name, out: &arguments.out, units };
    let written = opened.write(&story, text.as_deref(), &pictures)?;
    print(&match globals.format {
        Format::Json => FitResult::of(&fitted).to_json(),
        Format::Text if globals.quiet => one_line(&story, globals.paint()),
        Format::Text => report(&story, globals.paint(), &written),
    })?;
    Ok(if text.is_some() { Answer::Yes } else { Answer::No })
}

/// A log given twice would be believed twice.
fn refuse_twice(logs: &[PathBuf]) -> Result<(), Failure> {
    for (index, path) in logs.iter().enumerate() {
        if logs.iter().take(index).any(|other| is_same(path, other)) {
            return Err(Failure::Input(failure_text(
                "the same log is given twice and would count twice",
                &path.display().to_string(),
                "every log once",
                "leave it out there",
            )));
        }
    }
    Ok(())
}

/// Says when a log names another oven than the file.
fn other_oven(header: &log::Header, name: &str, path: &Path) -> Option<String> {
    let text = header.oven.as_deref()?;
    let document = text.parse::<toml_edit::DocumentMut>().ok()?;
    let logged = document.get("name")?.as_str()?;
    (logged != name)
        .then(|| format!("{} is of an oven called \"{logged}\", not \"{name}\"", path.display()))
}

/// The new file; nothing where the logs told nothing.
fn new_text(text: &str, fitted: &Fitted, arguments: &Arguments) -> Result<Option<String>, Failure> {
    let mut changes = Vec::new();
    for estimate in fitted.told() {
        let quantity = estimate.quantity;
        // A spread is rounded up: it must hold what the interval holds.
        let half = libm::ceil(estimate.half() * 1000.0) / 1000.0;
        changes.push(match quantity {
            Quantity::SensorLag => {
                Change::quantity("sensor", "lag", &format!("{:.2} s", estimate.value))
            }
            Quantity::WallView => Change::number("sensor", "wall_view", estimate.value, 4),
            factor => Change::number("calibration", factor.key(), estimate.value, 4),
        });
        changes.push(Change::number("spread", quantity.key(), half, 3));
    }
    if changes.is_empty() {
        return Ok(None);
    }
    if let Some(factor) = fitted.liner_exchange {
        changes.push(Change::number("calibration", "liner_exchange", factor, 4));
    }
    let name = |path: &PathBuf| {
        let name = path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into());
        name.chars().map(|c| if c.is_control() { '?' } else { c }).collect::<String>()
    };
    let names: Vec<String> = arguments.logs.iter().map(name).collect();
    let why = format!("Written by truesoak fit from {}.", names.join(", "));
    let clocked = fitted
        .told()
        .any(|told| matches!(told.quantity, Quantity::Losses | Quantity::WallHeatCapacity));
    rewritten(text, &changes, &why, clocked).map(Some).map_err(|what| {
        let next = "write [calibration] and [spread] as tables of their own";
        let place = arguments.oven.display().to_string();
        Failure::Input(failure_text(&what, &place, "an oven's file", next))
    })
}

/// Files opened before the work starts.
struct Opened {
    out: NewFile,
    plots: Vec<Output>,
}

impl Opened {
    fn pictures(&mut self, arguments: &Arguments) -> Result<(), Failure> {
        let read: Vec<&Path> = arguments
            .logs
            .iter()
            .chain([&arguments.oven, &arguments.out])
            .map(PathBuf::as_path)
            .collect();
        self.plots = open_all(&arguments.plot, &read, &[])?;
        Ok(())
    }

    fn take_back(&self) {
        self.out.take_back();
        self.plots.iter().for_each(Output::take_back);
    }

    fn write(
        &self,
        story: &FitStory<'_>,
        text: Option<&str>,
        pictures: &[Picture],
    ) -> Result<Vec<Written>, Failure> {
        let mut written = Vec::new();
        match text {
            Some(text) => {
                self.out.put(text.as_bytes())?;
                let path = self.out.path().to_owned();
                written.push(Written { path, what: "the oven with what was learned" });
            }
            None => self.out.take_back(),
        }
        for (plot, picture) in self.plots.iter().zip(pictures) {
            let bytes =
                plot::draw_residuals(*picture, story).map_err(|error| failed(plot, &error))?;
            plot.put(&bytes).map_err(|error| failed(plot, &error))?;
            written.push(Written { path: plot.path().to_owned(), what: "what is left over" });
        }
        Ok(written)
    }
}
