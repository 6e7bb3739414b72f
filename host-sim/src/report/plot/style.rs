//! Hues, dashes and sizes. The hues keep apart for every kind of colour vision by lightness too.

use plotters::style::RGBColor;

/// Air reading.
pub(super) const READING: RGBColor = RGBColor(20, 60, 120);
/// Setpoint.
pub(super) const SETPOINT: RGBColor = RGBColor(110, 110, 110);
/// Parts, truly.
pub(super) const TRUE_PARTS: RGBColor = RGBColor(20, 20, 20);
/// Coldest bound.
pub(super) const COLDEST: RGBColor = RGBColor(0, 125, 150);
/// Hottest bound.
pub(super) const HOTTEST: RGBColor = RGBColor(190, 80, 0);
/// Window of a soak.
pub(super) const WINDOW: RGBColor = RGBColor(150, 200, 160);
/// Door open.
pub(super) const DOOR: RGBColor = RGBColor(150, 150, 170);
/// Counted time.
pub(super) const COUNTED: RGBColor = RGBColor(40, 130, 80);
/// Heater.
pub(super) const HEATER: RGBColor = RGBColor(150, 60, 90);
/// Words across a rehearsal.
pub(super) const ACROSS: RGBColor = RGBColor(120, 120, 120);
/// Text and axes.
pub(super) const INK: RGBColor = RGBColor(40, 40, 45);

/// Name of the font for PNG.
pub(super) const FONT: &str = "truesoak-mono";
