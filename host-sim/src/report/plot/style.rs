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
/// Another log beside it.
pub(super) const OTHER: RGBColor = RGBColor(125, 70, 160);
/// Text and axes.
pub(super) const INK: RGBColor = RGBColor(40, 40, 45);

/// Name of the font for PNG.
pub(super) const FONT: &str = "truesoak-mono";

/// What each hue becomes on a dark page, with the paper first.
pub(super) const IN_THE_DARK: [(RGBColor, RGBColor); 13] = [
    (RGBColor(255, 255, 255), RGBColor(24, 25, 29)),
    (READING, RGBColor(140, 180, 255)),
    (SETPOINT, RGBColor(165, 165, 165)),
    (TRUE_PARTS, RGBColor(240, 240, 240)),
    (COLDEST, RGBColor(80, 205, 225)),
    (HOTTEST, RGBColor(255, 160, 90)),
    (WINDOW, RGBColor(60, 115, 75)),
    (DOOR, RGBColor(120, 120, 145)),
    (COUNTED, RGBColor(90, 195, 130)),
    (HEATER, RGBColor(230, 140, 170)),
    (ACROSS, RGBColor(190, 190, 190)),
    (OTHER, RGBColor(205, 160, 240)),
    (INK, RGBColor(226, 226, 230)),
];

/// A hue as the picture's own language has it.
pub(super) fn hex(hue: RGBColor) -> String {
    format!("#{:02X}{:02X}{:02X}", hue.0, hue.1, hue.2)
}
