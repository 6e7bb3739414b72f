//! A table of another maker: any CSV with a line that names its columns.
//!
//! Commas, semicolons or tabs between cells; lines before the names are skipped. A cell of the air
//! that is no number is no reading. Refuses columns that are not there or there twice, times that
//! run backwards, a text that is not UTF-8 and a file that is too large.

use super::Columns;
use crate::log::time::{Clock, Scale};
use crate::log::{LogError, quoted, split, text_of};
use crate::report::units::Units;
use std::borrow::Cow;

/// The names must stand in one of so many first lines.
const HEAD_LINES_MAX: usize = 100;
/// Times closer than this are the same, s.
const SAME_S: f64 = 1e-6;
pub(super) const EXPECTED: &str =
    "a table of comma-separated values whose first lines name its columns";

/// One or more rows of one instant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Sample {
    /// Line in the file, from 1.
    pub(super) line: usize,
    /// Since the first sample, s.
    pub(super) t_s: f64,
    /// Least and greatest reading, °C.
    pub(super) air_c: (f64, f64),
    /// Share of full power, where it is logged.
    pub(super) duty: Option<f64>,
}

/// A table, read.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Table {
    pub(super) samples: Vec<Sample>,
    /// Smallest step the air's column is written in, K.
    pub(super) step_k: f64,
    /// Last line, if it breaks off.
    pub(super) torn: Option<usize>,
}

/// Where the columns are.
struct Places {
    between: char,
    count: usize,
    time: usize,
    air: usize,
    duty: Option<usize>,
    scale: Scale,
    units: Units,
}

impl Table {
    /// Reads a table from its bytes.
    pub(super) fn parse(bytes: &[u8], columns: &Columns) -> Result<Self, LogError> {
        let text = text_of(bytes, EXPECTED)?;
        let lines: Vec<&str> = text.lines().collect();
        let (head, places) = places(&lines, columns)?;
        let mut table = Self { samples: Vec::new(), step_k: f64::INFINITY, torn: None };
        let mut clock = Clock::default();
        for (index, line) in lines.iter().enumerate().skip(head + 1) {
            let is_last = index + 1 == lines.len() && !text.ends_with('\n');
            table.row(index + 1, line, &places, &mut clock, is_last)?;
        }
        let least = places.units.from_kelvins(1.0);
        table.step_k = if table.step_k.is_finite() { table.step_k / least } else { 1.0 };
        Ok(table)
    }

    fn row(
        &mut self,
        line: usize,
        text: &str,
        places: &Places,
        clock: &mut Clock,
        is_last: bool,
    ) -> Result<(), LogError> {
        if text.trim().is_empty() || text.starts_with('#') {
            return Ok(());
        }
        let mut cells = Vec::new();
        let whole = split(text, places.between, &mut cells).is_ok() && cells.len() >= places.count;
        if !whole && is_last {
            self.torn = Some(line);
            return Ok(());
        }
        let wrong = |what: String, expected: &str| {
            LogError::new(Some(line), what, expected, "mend or take out that line")
        };
        if !whole {
            let what = format!("the row has {} cells", cells.len());
            return Err(wrong(what, &format!("{}, as the columns' names", places.count)));
        }
        let cell = |at: usize| cells.get(at).map_or("", |cell| cell.trim());
        let time = cell(places.time);
        let t_s = clock.read(&decimal(time, places), places.scale).ok_or_else(|| {
            let expected = "seconds, 14:05:30, or 2026-05-01 14:05:30";
            wrong(format!("the time {} does not read", quoted(time)), expected)
        })?;
        if self.samples.last().is_some_and(|before| t_s < before.t_s - SAME_S) {
            return Err(wrong(
                format!("time runs backwards: {}", quoted(time)),
                "rows in order of time",
            ));
        }
        let air = decimal(cell(places.air), places);
        let Some(value) = air.parse::<f64>().ok().filter(|value| value.is_finite()) else {
            return Ok(());
        };
        self.step_k = self.step_k.min(step_of(&air));
        let air_c = places.units.to_celsius(value);
        let duty = places.duty.map(|at| share(&decimal(cell(at), places)));
        self.take(Sample { line, t_s, air_c: (air_c, air_c), duty });
        Ok(())
    }

    fn take(&mut self, sample: Sample) {
        match self.samples.last_mut() {
            Some(last) if sample.t_s - last.t_s < SAME_S => {
                last.air_c.0 = last.air_c.0.min(sample.air_c.0);
                last.air_c.1 = last.air_c.1.max(sample.air_c.1);
                let duty = last.duty.zip(sample.duty);
                last.duty = duty.map(|(a, b)| a.max(b));
            }
            _ => self.samples.push(sample),
        }
    }
}

/// A number as it is meant: with other signs between cells a comma is a decimal comma.
fn decimal<'a>(text: &'a str, places: &Places) -> Cow<'a, str> {
    if places.between == ',' || !text.contains(',') || text.contains(':') {
        Cow::Borrowed(text)
    } else {
        Cow::Owned(text.replace(',', "."))
    }
}

/// Smallest step a number is written in: 0.1 of `150.0`.
fn step_of(text: &str) -> f64 {
    let decimals = text
        .split_once('.')
        .map_or(0, |(_, decimals)| decimals.bytes().take_while(u8::is_ascii_digit).count().min(12));
    10.0_f64.powi(-(decimals as i32))
}

/// A share of full power; whatever does not read as one may be all of it.
fn share(text: &str) -> f64 {
    text.parse::<f64>().ok().filter(|share| (0.0..=1.0).contains(share)).unwrap_or(1.0)
}

fn places(lines: &[&str], columns: &Columns) -> Result<(usize, Places), LogError> {
    let wanted = [Some(&columns.time), Some(&columns.air), columns.duty.as_ref()];
    for (index, line) in lines.iter().enumerate().take(HEAD_LINES_MAX) {
        for between in [',', ';', '\t'] {
            let mut names = Vec::new();
            if split(line, between, &mut names).is_err() {
                continue;
            }
            let names: Vec<&str> = names.iter().map(|name| name.trim()).collect();
            let found = wanted.map(|name| name.map(|name| found(&names, name)));
            let [Some(Ok(Some(time))), Some(Ok(Some(air))), duty] = found.clone() else {
                if let Some(twice) = found.into_iter().flatten().find_map(Result::err) {
                    let what = format!("column {} stands twice", quoted(&twice));
                    return Err(LogError::new(
                        Some(index + 1),
                        what,
                        "every column once",
                        "name them apart",
                    ));
                }
                continue;
            };
            let duty = match (duty, &columns.duty) {
                (Some(Ok(Some(at))), _) => Some(at),
                (None, _) => None,
                (_, name) => {
                    let name = name.as_deref().unwrap_or_default();
                    return Err(missing(Some(index + 1), &[name], &names));
                }
            };
            let units = units(columns, index + 1)?;
            let scale = Scale::of_column(&columns.time);
            let count = time.max(air).max(duty.unwrap_or(0)) + 1;
            return Ok((index, Places { between, count, time, air, duty, scale, units }));
        }
    }
    let first = lines.first().copied().unwrap_or_default();
    let names: Vec<&str> = first.split([',', ';', '\t']).map(str::trim).collect();
    Err(missing(Some(1), &[&columns.time, &columns.air], &names))
}

fn missing(line: Option<usize>, wanted: &[&str], names: &[&str]) -> LogError {
    let wanted = wanted.iter().map(|name| quoted(name)).collect::<Vec<_>>().join(" and ");
    let what = format!("no line names the columns {wanted}");
    let names = names.iter().filter(|name| !name.is_empty());
    let there = names.take(8).map(|name| quoted(name)).collect::<Vec<_>>().join(", ");
    let next = if there.is_empty() {
        "name the columns in the table's first line".to_owned()
    } else {
        format!("choose from {there}")
    };
    LogError::new(line, what, EXPECTED, &next)
}

/// Place of a name; the error is a name that stands twice.
fn found(names: &[&str], wanted: &str) -> Result<Option<usize>, String> {
    let wanted = wanted.trim();
    let mut places = names.iter().enumerate().filter(|(_, name)| **name == wanted);
    match (places.next(), places.next()) {
        (Some(_), Some(_)) => Err(wanted.to_owned()),
        (first, _) => Ok(first.map(|(at, _)| at)),
    }
}

/// Units of the air: as told, or as the column's name ends.
fn units(columns: &Columns, line: usize) -> Result<Units, LogError> {
    if let Some(units) = columns.units {
        return Ok(units);
    }
    let name = columns.air.trim_end_matches([')', ']', ' ', '.']);
    let word = name.rsplit(['(', '[', ' ', '_', '/', '°', 'º']).next().unwrap_or_default();
    match word {
        "c" | "C" | "degC" | "Celsius" | "celsius" => Ok(Units::Celsius),
        "f" | "F" | "degF" | "Fahrenheit" | "fahrenheit" => Ok(Units::Fahrenheit),
        "k" | "K" | "Kelvin" | "kelvin" => Ok(Units::Kelvin),
        _ => Err(LogError::new(
            Some(line),
            format!("column {} does not say its units", quoted(&columns.air)),
            "°C, °F or K",
            "add --log-units c, f or k",
        )),
    }
}
