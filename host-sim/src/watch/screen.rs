//! A watched bake on a terminal: the sentences, what counts largest, and the chart below.
//!
//! Made for 80 columns of 24 lines and anything larger. Weight and words carry everything; an accent
//! is only added where a terminal takes colours.

use super::{View, Words, chart};
use crate::report::text::Paint;
use ratatui::Frame;
use ratatui::layout::{Constraint, Layout, Rect};
use ratatui::style::{Color, Modifier, Style, Stylize as _};
use ratatui::text::{Line, Span};
use ratatui::widgets::{Paragraph, Wrap};
use tui_big_text::{BigText, PixelSize};

/// From these on everything is drawn twice as large.
const WIDE: (u16, u16) = (120, 40);
const FOOT: &str = "q or Ctrl-C leaves; the bake goes on at the oven without this computer";

/// Draws a view.
pub fn draw(frame: &mut Frame<'_>, view: &View, paint: Paint) {
    let area = frame.area();
    let is_wide = area.width >= WIDE.0 && area.height >= WIDE.1;
    let words = Words(view);
    let waiting = words.waiting();
    let waiting_lines = lines_needed(&waiting, area.width);
    let large = if is_wide { 8 } else { 4 };
    let events = if is_wide { 8 } else { 3 };
    let rows = [
        Constraint::Length(1),
        Constraint::Length(large),
        Constraint::Length(6),
        Constraint::Length(waiting_lines),
        Constraint::Length(events),
        Constraint::Min(0),
        Constraint::Length(1),
    ];
    let [top, large_area, sentences, waited, happened, below, foot] =
        Layout::vertical(rows).areas(area);
    heading(frame, top, &words);
    large_words(frame, large_area, &words, is_wide, accent(view, paint));
    frame.render_widget(Paragraph::new(told(&words)), sentences);
    let waiting: Vec<Line<'_>> =
        waiting.into_iter().map(|line| Line::from(Span::from(line).bold())).collect();
    frame.render_widget(Paragraph::new(waiting).wrap(Wrap { trim: true }), waited);
    let last: Vec<Line<'_>> =
        words.happened(usize::from(events)).into_iter().map(Line::from).collect();
    frame.render_widget(Paragraph::new(last), happened);
    chart::draw(frame, below, view);
    let trouble = words.trouble();
    let said = if trouble.is_empty() { FOOT.to_owned() } else { trouble };
    frame.render_widget(Paragraph::new(said).add_modifier(Modifier::DIM), foot);
}

fn heading(frame: &mut Frame<'_>, area: Rect, words: &Words<'_>) {
    let line = Line::from(words.heading()).style(Style::new().add_modifier(Modifier::REVERSED));
    frame.render_widget(Paragraph::new(line).reversed(), area);
}

/// An accent besides the word: amber for what is not as it should be, blue for a pass.
fn accent(view: &View, paint: Paint) -> Style {
    let Some(status) = view.status.as_ref().filter(|_| paint == Paint::Colored) else {
        return Style::new();
    };
    let bad = status.trip.is_some() || status.asks.is_some() || view.lost.is_some();
    if bad {
        Style::new().fg(Color::Yellow)
    } else if status.ended.is_some() {
        Style::new().fg(Color::Blue)
    } else {
        Style::new()
    }
}

fn large_words(frame: &mut Frame<'_>, area: Rect, words: &Words<'_>, is_wide: bool, accent: Style) {
    let size = if is_wide { PixelSize::Full } else { PixelSize::Quadrant };
    // The letters are drawn from a table of plain ones.
    let large = words.large().replace('°', " ");
    let text = BigText::builder()
        .pixel_size(size)
        .style(accent.add_modifier(Modifier::BOLD))
        .lines(vec![Line::from(large)])
        .build();
    frame.render_widget(text, area);
}

fn told(words: &Words<'_>) -> Vec<Line<'static>> {
    let pair = |one: String, other: String| {
        if other.is_empty() { one } else { format!("{one:<38} {other}") }
    };
    vec![
        Line::from(Span::from(words.counted()).bold()),
        Line::from(words.done()),
        Line::from(words.step()),
        Line::from(pair(words.coldest(), words.hottest())),
        Line::from(pair(words.air(), words.window())),
        Line::from(pair(words.heater(), words.door().to_owned())),
    ]
}

/// Lines that wrapped words take.
fn lines_needed(lines: &[String], width: u16) -> u16 {
    let width = usize::from(width.max(1));
    // One more for each, since words are not broken.
    let needed: usize = lines
        .iter()
        .map(|line| {
            let columns = line.chars().count();
            if columns <= width { 1 } else { columns.div_ceil(width.saturating_sub(8).max(1)) }
        })
        .sum();
    u16::try_from(needed).unwrap_or(u16::MAX).min(8)
}
