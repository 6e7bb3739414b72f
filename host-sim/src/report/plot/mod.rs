//! A bake or a plan as a picture: SVG, PNG or a page.
//!
//! All three are drawn from a log, so a rehearsal and an actual bake look alike, but for the words
//! across a rehearsal. Lines differ in dash as well as in hue.

mod against;
mod axes;
mod canvas;
mod chart;
mod curves;
mod fan;
mod page;
mod places;
mod residuals;
mod style;

pub use against::Against;

use super::fit_words::FitStory;
use super::plan_words::PlanStory;
use super::survey_words::SurveyStory;
use super::units::Units;
use super::{Story, Written};
use crate::files::bake::BakeFile;
use crate::log::Log;
use canvas::Drawable;
use chart::Chart;
use fan::Fan;
use places::Places;
use residuals::Residuals;
use std::path::Path;

/// Width of a picture, px.
pub const WIDTH: u32 = 1200;
/// Height of a picture, px.
pub const HEIGHT: u32 = 700;

/// What to make.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Picture {
    /// Lines that scale.
    Svg,
    /// Pixels.
    Png,
    /// A page of its own that needs no network.
    Html,
}

/// Why a picture could not be drawn.
#[derive(Debug, thiserror::Error)]
pub enum PlotError {
    /// The drawing library refused.
    #[error("the picture could not be drawn: {0}")]
    Drawing(String),
    /// Nothing to draw.
    #[error("the log has no seconds to draw")]
    Empty,
}

impl Picture {
    /// By the ending of a file's name.
    ///
    /// # Errors
    /// Any other ending; the text names the three.
    pub fn of(path: &Path) -> Result<Self, String> {
        let ending = path.extension().map(|ending| ending.to_string_lossy().to_lowercase());
        match ending.as_deref() {
            Some("svg") => Ok(Self::Svg),
            Some("png") => Ok(Self::Png),
            Some("html") => Ok(Self::Html),
            _ => Err(format!(
                "error: {} has no ending that says what to draw\nexpected: .svg, .png or .html\n\
                 next: name the picture like bake.svg",
                path.display()
            )),
        }
    }

    /// The same where no page is made: `.svg` or `.png`.
    ///
    /// # Errors
    /// Any other ending; the text names the two.
    pub fn drawn(path: &Path) -> Result<Self, String> {
        match Self::of(path) {
            Ok(picture) if picture != Self::Html => Ok(picture),
            _ => Err(format!(
                "error: {} has no ending that says what to draw\nexpected: .svg or .png\n\
                 next: name the picture like residuals.svg",
                path.display()
            )),
        }
    }

    /// What the file holds.
    #[must_use]
    pub fn what(self) -> &'static str {
        match self {
            Self::Svg | Self::Png => "picture of the bake",
            Self::Html => "page of the bake",
        }
    }

    /// What the file holds when a plan is drawn.
    #[must_use]
    pub fn what_of_plan(self) -> &'static str {
        match self {
            Self::Svg | Self::Png => "picture of the plan",
            Self::Html => "page of the plan",
        }
    }
}

/// Draws a bake.
///
/// # Errors
/// An empty log, or a failure of the drawing library.
pub fn draw(
    picture: Picture,
    log: &Log,
    story: &Story<'_>,
    written: &[Written],
) -> Result<Vec<u8>, PlotError> {
    draw_against(picture, log, story, None, written)
}

/// Draws a bake with another log beside it.
///
/// # Errors
/// See [`draw`].
pub fn draw_against(
    picture: Picture,
    log: &Log,
    story: &Story<'_>,
    against: Option<&Against<'_>>,
    written: &[Written],
) -> Result<Vec<u8>, PlotError> {
    let chart = Chart { log, story, against };
    match picture {
        Picture::Svg => canvas::svg(&chart).map(String::into_bytes),
        Picture::Png => canvas::png(&chart),
        Picture::Html => page::page(&chart, written).map(String::into_bytes),
    }
}

/// Draws what a fit leaves over of its logs: readings above, residuals below.
///
/// # Errors
/// A failure of the drawing library.
pub fn draw_residuals(picture: Picture, story: &FitStory<'_>) -> Result<Vec<u8>, PlotError> {
    drawn(picture, &Residuals { story })
}

/// Draws a survey: readings above, what each place is off the control sensor below.
///
/// # Errors
/// A failure of the drawing library.
pub fn draw_survey(picture: Picture, story: &SurveyStory<'_>) -> Result<Vec<u8>, PlotError> {
    drawn(picture, &Places { story })
}

fn drawn(picture: Picture, drawable: &impl Drawable) -> Result<Vec<u8>, PlotError> {
    match picture {
        Picture::Png => canvas::png(drawable),
        Picture::Svg | Picture::Html => canvas::svg(drawable).map(String::into_bytes),
    }
}

/// Draws a plan: the fan of part temperatures over its draws, and when they were done.
///
/// # Errors
/// A failure of the drawing library.
pub fn draw_plan(
    picture: Picture,
    story: &PlanStory<'_>,
    bake: &BakeFile,
    units: Units,
) -> Result<Vec<u8>, PlotError> {
    let fan = Fan::new(story, bake, units);
    match picture {
        Picture::Svg => canvas::svg(&fan).map(String::into_bytes),
        Picture::Png => canvas::png(&fan),
        Picture::Html => page::plan(&fan, story).map(String::into_bytes),
    }
}
