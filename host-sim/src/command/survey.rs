//! `truesoak survey`: how even an oven is, from a table of readings.

use super::outputs::{NewFile, Output, failed, open_all};
use super::{Answer, Failure, Format, Globals, failure_text, print};
use crate::files::quantity::{Dimension, parse};
use crate::files::{OvenFile, read_oven_alone};
use crate::fit::{Change, rewritten};
use crate::report::Written;
use crate::report::plot::{self, Picture};
use crate::report::survey::SurveyResult;
use crate::report::survey_words::{SurveyStory, one_line, report};
use crate::report::units::{Units, counted};
use crate::survey::readings::{self, Naming, Readings};
use crate::survey::{PLACES_MIN, survey};
use std::path::{Path, PathBuf};

/// What was read, and where it goes.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// A table: time, control sensor, one column a place.
    #[arg(value_name = "READINGS.csv")]
    readings: PathBuf,
    /// The oven's file.
    #[arg(long, value_name = "O.toml", requires = "out")]
    oven: Option<PathBuf>,
    /// Write the oven's file with its cold and hot spot here; never overwrites.
    #[arg(long, value_name = "NEW.toml", requires = "oven")]
    out: Option<PathBuf>,
    /// Draw it: .svg or .png; repeatable.
    #[arg(long, value_name = "F")]
    plot: Vec<PathBuf>,
    /// Units of the table's temperatures.
    #[arg(long, value_enum, default_value_t = Units::Celsius, value_name = "c|f|k")]
    log_units: Units,
    /// The time column [default: t_s, t_min, t_h or time].
    #[arg(long, value_name = "NAME")]
    time_column: Option<String>,
    /// The control sensor's column [default: control].
    #[arg(long, value_name = "NAME")]
    control_column: Option<String>,
    /// What a survey sensor may be off (1.1 °C: wire of special limits of error, from memory).
    #[arg(long, value_name = "K", allow_hyphen_values = true, default_value = "1.1 °C")]
    sensor_error: String,
}

/// Runs it.
pub(super) fn run(arguments: &Arguments, globals: &Globals) -> Result<Answer, Failure> {
    let sensor_error_k = sensor_error(&arguments.sensor_error)?;
    let naming = Naming {
        time: arguments.time_column.as_deref(),
        control: arguments.control_column.as_deref(),
        units: arguments.log_units,
    };
    let read = readings::read(&arguments.readings, &naming)
        .map_err(|error| Failure::Input(format!("error: {error}")))?;
    enough(&read, arguments)?;
    let file = arguments.oven.as_deref().map(read_oven_alone).transpose()?;
    let pictures = arguments.plot.iter().map(|path| Picture::drawn(path).map_err(Failure::Input));
    let pictures = pictures.collect::<Result<Vec<_>, _>>()?;
    let mut opened = Opened { out: None, plots: Vec::new() };
    let found = survey(&read);
    let opening = opened.open(arguments, found.is_ok());
    opening.inspect_err(|_| opened.take_back())?;
    let story = SurveyStory {
        found: &found,
        readings: &read,
        oven: file.as_ref().map(|file| &file.oven),
        sensor_error_k,
        units: globals.units.unwrap_or(arguments.log_units),
    };
    let text = new_text(&story, file.as_ref(), arguments);
    let text = text.inspect_err(|_| opened.take_back())?;
    let written = opened.write(&story, text.as_deref(), &pictures)?;
    print(&match globals.format {
        Format::Json => SurveyResult::of(&story).to_json(),
        Format::Text if globals.quiet => one_line(&story, globals.paint()),
        Format::Text => report(&story, globals.paint(), &written),
    })?;
    Ok(if found.is_ok() { Answer::Yes } else { Answer::No })
}

fn sensor_error(typed: &str) -> Result<f64, Failure> {
    let refuse = |what: &str, expected: &str, next: &str| {
        Failure::Input(failure_text(what, "--sensor-error", expected, next))
    };
    let error_k = parse(typed, Dimension::Difference)
        .map_err(|complaint| refuse(&complaint.what, &complaint.expected, &complaint.next))?;
    if (0.0..=20.0).contains(&error_k) {
        return Ok(error_k);
    }
    let what = format!("{typed} is no error of a sensor");
    Err(refuse(&what, "from 0 °C to 20 °C", "leave it out for 1.1 °C"))
}

fn enough(readings: &Readings, arguments: &Arguments) -> Result<(), Failure> {
    let count = readings.places.len();
    if count >= PLACES_MIN {
        return Ok(());
    }
    Err(Failure::Input(failure_text(
        &format!(
            "{} besides the control sensor: too few to say anything of an oven",
            counted(count, "place", "places")
        ),
        &arguments.readings.display().to_string(),
        "three places or more; five or nine are usual: the corners and the middle of the rack",
        "survey again with more sensors",
    )))
}

/// The new file; nothing without an oven or a steady interval.
fn new_text(
    story: &SurveyStory<'_>,
    file: Option<&OvenFile>,
    arguments: &Arguments,
) -> Result<Option<String>, Failure> {
    let (Some(file), Ok(found)) = (file, story.found) else { return Ok(None) };
    let kelvins = |value_k: f64| format!("{value_k:.1} °C");
    let changes = [
        Change::quantity("spread", "cold_spot", &kelvins(found.cold_spot_k(story.worse_k()))),
        Change::quantity("spread", "hot_spot", &kelvins(found.hot_spot_k(story.worse_k()))),
    ];
    let name = arguments.readings.file_name().unwrap_or_default().to_string_lossy();
    let name: String = name.chars().map(|c| if c.is_control() { '?' } else { c }).collect();
    let why = format!("Written by truesoak survey from {name}.");
    rewritten(&file.source.text, &changes, &why, false).map(Some).map_err(|what| {
        let place = file.source.shown.as_str();
        let next = "write [spread] as a table of its own";
        Failure::Input(failure_text(&what, place, "an oven's file", next))
    })
}

/// Files opened before anything is written.
struct Opened {
    out: Option<NewFile>,
    plots: Vec<Output>,
}

impl Opened {
    fn open(&mut self, arguments: &Arguments, is_steady: bool) -> Result<(), Failure> {
        if let Some(path) = &arguments.out {
            let out = NewFile::open(path)?;
            if is_steady {
                self.out = Some(out);
            } else {
                out.take_back();
            }
        }
        let read: Vec<&Path> = std::iter::once(&arguments.readings)
            .chain(&arguments.oven)
            .chain(&arguments.out)
            .map(PathBuf::as_path)
            .collect();
        self.plots = open_all(&arguments.plot, &read, &[])?;
        Ok(())
    }

    fn take_back(&self) {
        self.out.iter().for_each(NewFile::take_back);
        self.plots.iter().for_each(Output::take_back);
    }

    fn write(
        &self,
        story: &SurveyStory<'_>,
        text: Option<&str>,
        pictures: &[Picture],
    ) -> Result<Vec<Written>, Failure> {
        let mut written = Vec::new();
        if let (Some(out), Some(text)) = (&self.out, text) {
            out.put(text.as_bytes())?;
            let path = out.path().to_owned();
            written.push(Written { path, what: "the oven with its cold and hot spot" });
        }
        for (plot, picture) in self.plots.iter().zip(pictures) {
            let bytes = plot::draw_survey(*picture, story).map_err(|error| failed(plot, &error))?;
            plot.put(&bytes).map_err(|error| failed(plot, &error))?;
            let path = plot.path().to_owned();
            written.push(Written { path, what: "picture of the survey" });
        }
        Ok(written)
    }
}
