//! What any picture is drawn on: SVG for readers and pages, pixels for everything else.

use super::page::escaped;
use super::style::{FONT, INK};
use super::{HEIGHT, PlotError, WIDTH};
use plotters::coord::Shift;
use plotters::prelude::*;
use std::sync::Once;

/// A part of a picture.
pub(super) type Area<'a, B> = DrawingArea<B, Shift>;

/// Something that can be drawn on either.
pub(super) trait Drawable {
    /// What is read out loud.
    fn title(&self) -> String;
    /// Draws it on the whole area.
    fn draw<B: DrawingBackend>(&self, area: &Area<'_, B>) -> Result<(), PlotError>;
}

/// As SVG.
pub(super) fn svg(drawable: &impl Drawable) -> Result<String, PlotError> {
    let mut text = String::new();
    {
        let area = SVGBackend::with_string(&mut text, (WIDTH, HEIGHT)).into_drawing_area();
        drawable.draw(&area)?;
        area.present().map_err(drawing)?;
    }
    // A reader's own fonts for an SVG: it is text and stays sharp. Its title is read out loud.
    let title = format!(">\n<title>{}</title>", escaped(&drawable.title()));
    let text = text.replace(FONT, "ui-monospace, Menlo, Consolas, monospace");
    Ok(text.replacen('>', &title, 1))
}

/// As PNG.
pub(super) fn png(drawable: &impl Drawable) -> Result<Vec<u8>, PlotError> {
    let mut pixels = vec![255_u8; WIDTH as usize * HEIGHT as usize * 3];
    {
        let backend = BitMapBackend::with_buffer(&mut pixels, (WIDTH, HEIGHT));
        let area = backend.into_drawing_area();
        drawable.draw(&area)?;
        area.present().map_err(drawing)?;
    }
    let mut bytes = std::io::Cursor::new(Vec::new());
    let image = image::RgbImage::from_raw(WIDTH, HEIGHT, pixels)
        .ok_or_else(|| PlotError::Drawing("the buffer has the wrong size".to_owned()))?;
    image.write_to(&mut bytes, image::ImageFormat::Png).map_err(drawing)?;
    Ok(bytes.into_inner())
}

/// What a drawing library complains of.
pub(super) fn drawing(error: impl std::fmt::Display) -> PlotError {
    PlotError::Drawing(error.to_string())
}

/// Words of this size.
pub(super) fn font(size: u32) -> TextStyle<'static> {
    static REGISTERED: Once = Once::new();
    REGISTERED.call_once(|| {
        let regular = epaint_default_fonts::HACK_REGULAR;
        // A font that cannot be read would show in the first test that draws.
        let _ = plotters::style::register_font(FONT, FontStyle::Normal, regular);
    });
    (FONT, size).into_font().color(&INK)
}
