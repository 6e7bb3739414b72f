//! Readings of a survey: a table with a time, the control sensor and one column a place.
//!
//! CSV with commas and decimal points, names in the first line (lines that begin with `#` before it
//! are left out). The time column says its unit by its name, `t_s`, `t_min` or `t_h`, or holds
//! clock times (`9:05`, `9:05:30`, past midnight too) or dates with times (`2026-03-01 09:05:30`). The
//! control sensor is the column `control`; every other column is a place. An empty cell is a reading
//! that is missing. Temperatures are °C unless told otherwise.

use crate::log::time::{Clock, Scale};
use crate::log::{LogError, bytes_of, quoted, split, text_of};
use crate::report::units::Units;
use std::borrow::Cow;
use std::path::Path;

/// Columns that hold the time where no other is named.
const TIMES: [&str; 7] = ["t_s", "t_min", "t_h", "time", "time_s", "time_min", "t"];
/// The control sensor's column where no other is named.
pub const CONTROL: &str = "control";
/// Readings outside these are none of an oven's, °C.
const SENSIBLE_C: (f64, f64) = (-60.0, 700.0);
/// Most places.
const PLACES_MAX: usize = 100;
const TABLE: &str = "a table with commas: t_s or time, control, and one column a place";

/// One column.
#[derive(Clone, Debug, PartialEq)]
pub struct Column {
    /// Its name.
    pub name: String,
    /// °C, one a row; not a number where it is missing.
    pub celsius: Vec<f64>,
}

/// A table of readings.
#[derive(Clone, Debug, PartialEq)]
pub struct Readings {
    /// Time of every row, s from the first.
    pub t_s: Vec<f64>,
    /// Control sensor.
    pub control: Column,
    /// Everything else, in the table's order.
    pub places: Vec<Column>,
}

/// What columns are called and in which unit they are.
#[derive(Clone, Copy, Debug, Default)]
pub struct Naming<'a> {
    /// Time column.
    pub time: Option<&'a str>,
    /// Control sensor's column.
    pub control: Option<&'a str>,
    /// Unit of every temperature.
    pub units: Units,
}

fn wrong(line: usize, what: impl Into<String>, expected: &str, next: &str) -> LogError {
    LogError::new(Some(line), what.into(), expected, next)
}

/// Reads a table from a file.
///
/// # Errors
/// A file that cannot be read, or a table that does not read; with the line.
pub fn read(path: &Path, naming: &Naming<'_>) -> Result<Readings, LogError> {
    let read = || parse(text_of(&bytes_of(path, TABLE)?, TABLE)?, naming);
    read().map_err(|error| error.at(path))
}

/// Reads a table from its text.
///
/// # Errors
/// A table that does not read; with the line.
pub fn parse(text: &str, naming: &Naming<'_>) -> Result<Readings, LogError> {
    let mut lines = text
        .lines()
        .enumerate()
        .map(|(at, line)| (at + 1, line.trim_end()))
        .filter(|(_, line)| !line.is_empty() && !line.starts_with('#'));
    let (line, head) = lines.next().ok_or_else(|| {
        wrong(1, "the table is empty", TABLE, "write the readings with a line of names first")
    })?;
    let heads = Heads::of(line, head, naming)?;
    let mut table = heads.empty();
    let mut cells = Vec::new();
    let mut clock = Clock::default();
    for (line, text) in lines {
        cells.clear();
        split(text, ',', &mut cells)
            .map_err(|what| wrong(line, what, "quoting as CSV has it", NEXT))?;
        if cells.len() != heads.names.len() {
            let what = format!("the row has {} cells", cells.len());
            let expected = format!("{}, one for each name", heads.names.len());
            return Err(wrong(line, what, &expected, "write a decimal point, not a comma"));
        }
        heads.row(line, &cells, &mut clock, naming.units, &mut table)?;
    }
    if table.t_s.len() < 2 {
        return Err(wrong(line, "the table has no rows to speak of", TABLE, NEXT));
    }
    Ok(table)
}

const NEXT: &str = "mend that line";

/// Where each column is.
struct Heads {
    names: Vec<String>,
    time: usize,
    /// What a plain number counts.
    scale: Scale,
    /// The column's name says so; else it has clock times.
    counts: bool,
    control: usize,
}

impl Heads {
    fn of(line: usize, head: &str, naming: &Naming<'_>) -> Result<Self, LogError> {
        if !head.contains(',') && (head.contains(';') || head.contains('\t')) {
            let next = "export it again with commas and decimal points";
            return Err(wrong(line, "the columns are not set apart by commas", TABLE, next));
        }
        let mut cells: Vec<Cow<'_, str>> = Vec::new();
        split(head, ',', &mut cells)
            .map_err(|what| wrong(line, what, "quoting as CSV has it", NEXT))?;
        let names: Vec<String> = cells.iter().map(|cell| cell.trim().to_owned()).collect();
        if let Some(at) = names.iter().position(String::is_empty) {
            let what = format!("column {} has no name", at + 1);
            return Err(wrong(line, what, TABLE, "name every column"));
        }
        for (index, name) in names.iter().enumerate() {
            if names.iter().take(index).any(|earlier| earlier == name) {
                let what = format!("column \"{name}\" stands twice");
                return Err(wrong(line, what, "every column once", "name each place apart"));
            }
        }
        let find = |asked: Option<&str>, usual: &[&str], option: &str| match asked {
            Some(name) => names.iter().position(|known| known == name).ok_or_else(|| {
                let what = format!("there is no column \"{name}\"");
                wrong(line, what, &names.join(", "), &format!("check {option}"))
            }),
            None => usual
                .iter()
                .find_map(|name| names.iter().position(|known| known.eq_ignore_ascii_case(name)))
                .ok_or_else(|| {
                    let what = format!("no column is called {}", usual.join(" or "));
                    wrong(line, what, TABLE, &format!("name it so, or give {option} NAME"))
                }),
        };
        let time = find(naming.time, &TIMES, "--time-column")?;
        let control = find(naming.control, &[CONTROL], "--control-column")?;
        if time == control {
            let what = "time and control sensor are the same column";
            return Err(wrong(line, what, TABLE, "give --control-column another name"));
        }
        if names.len() < 3 {
            let what = "there is no place besides the control sensor";
            return Err(wrong(line, what, TABLE, "put sensors at the rack's corners and middle"));
        }
        if names.len() > PLACES_MAX + 2 {
            let what = format!("there are {} places", names.len() - 2);
            return Err(wrong(line, what, "at most 100 places", "leave out what is no place"));
        }
        let scale = Scale::of_column(&names[time]);
        let counts = ["_s", "_min", "_h"].iter().any(|unit| names[time].ends_with(unit));
        Ok(Self { names, time, scale, counts, control })
    }

    fn empty(&self) -> Readings {
        let column = |name: &String| Column { name: name.clone(), celsius: Vec::new() };
        let places = self.names.iter().enumerate();
        let is_place = |at: usize| at != self.time && at != self.control;
        Readings {
            t_s: Vec::new(),
            control: column(&self.names[self.control]),
            places: places.filter(|(at, _)| is_place(*at)).map(|(_, name)| column(name)).collect(),
        }
    }

    fn row(
        &self,
        line: usize,
        cells: &[Cow<'_, str>],
        clock: &mut Clock,
        units: Units,
        table: &mut Readings,
    ) -> Result<(), LogError> {
        let text = cells[self.time].trim();
        let time = clock.read(text, self.scale).filter(|_| self.counts || text.contains(':'));
        let t_s = time.ok_or_else(|| {
            let expected = "numbers in a column t_s, t_min or t_h; times such as 9:05:30 or \
                            2026-03-01 09:05:30 in any other";
            wrong(line, format!("{} is no time", quoted(text)), expected, NEXT)
        })?;
        if table.t_s.last().is_some_and(|last| t_s <= *last) {
            let what = format!("time does not go on: {}", quoted(text));
            return Err(wrong(line, what, "rows in order of time, each once", NEXT));
        }
        table.t_s.push(t_s);
        let mut places = table.places.iter_mut();
        for (at, cell) in cells.iter().enumerate().filter(|(at, _)| *at != self.time) {
            let celsius = celsius(line, &self.names[at], cell.trim(), units)?;
            if at == self.control {
                table.control.celsius.push(celsius);
            } else if let Some(place) = places.next() {
                place.celsius.push(celsius);
            }
        }
        Ok(())
    }
}

fn celsius(line: usize, name: &str, text: &str, units: Units) -> Result<f64, LogError> {
    if text.is_empty() {
        return Ok(f64::NAN);
    }
    let value = text.parse::<f64>().ok().filter(|value| value.is_finite()).ok_or_else(|| {
        let what = format!("\"{name}\" has {}", quoted(text));
        wrong(line, what, "a number without a unit, or nothing", NEXT)
    })?;
    let celsius = units.to_celsius(value);
    if !(SENSIBLE_C.0..=SENSIBLE_C.1).contains(&celsius) {
        let what = format!("\"{name}\" has {value}, {celsius:.0} °C");
        let next = "check --log-units, or leave a failed reading empty";
        return Err(wrong(line, what, "a temperature from -60 °C to 700 °C", next));
    }
    Ok(celsius)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<Readings, LogError> {
        parse(text, &Naming::default())
    }

    #[test]
    fn times_are_read_as_loggers_write_them() {
        for (name, cells, seconds) in [
            ("t_s", ["0", "90.5"], 90.5),
            ("t_min", ["10", "11.5"], 90.0),
            ("time", ["23:59:00", "0:00:30"], 90.0),
            ("time", ["9:05", "9:07"], 120.0),
            ("time", ["2026-02-28 23:59:30", "2026-03-01 00:00:30"], 60.0),
            ("time", ["2028-02-28T23:59:30Z", "2028-02-29T00:00:30Z"], 60.0),
        ] {
            let text = format!("{name},control,a\n{},1,2\n{},1,2\n", cells[0], cells[1]);
            let found = read(&text).unwrap_or_else(|error| panic!("{error}"));
            assert!((found.t_s[1] - seconds).abs() < 1e-6, "{name} {cells:?}: {:?}", found.t_s);
        }
    }

    #[test]
    fn fahrenheit_is_turned_and_a_missing_cell_is_no_number() {
        let naming = Naming { units: Units::Fahrenheit, ..Naming::default() };
        let found = parse("t_s,control,a\n0,212,\n1,32,50\n", &naming).unwrap();
        assert!((found.control.celsius[0] - 100.0).abs() < 1e-9);
        assert!(found.places[0].celsius[0].is_nan());
        assert!((found.places[0].celsius[1] - 10.0).abs() < 1e-9);
    }

    #[test]
    fn a_table_that_does_not_read_is_refused_with_its_line() {
        for (text, line, what) in [
            ("", 1, "empty"),
            ("t_s;control;a\n", 1, "commas"),
            ("t_s,control,a\n0,1\n", 2, "cells"),
            ("t_s,control,a\n0,1,2\n0,1,2\n", 3, "time does not go on"),
            ("t_s,control,a\n0,1,2 C\n", 2, "has"),
            ("t_s,control,a\n0,1,nan\n", 2, "has"),
            ("t_s,control,a\n0,1,9000\n", 2, "9000"),
            ("t_s,control\n0,1\n", 1, "no place"),
            ("t_s,a,b\n0,1,2\n", 1, "control"),
            ("time,control,a\n12,1,2\n", 2, "no time"),
            ("t_s,control,a,a\n0,1,2,3\n", 1, "twice"),
            ("t_s,control,\n0,1,2\n", 1, "no name"),
            ("t_s,control,a\n", 1, "no rows"),
        ] {
            let error = read(text).expect_err(text);
            assert_eq!(error.line, Some(line), "{text}: {error}");
            assert!(error.what.contains(what), "{text}: {error}");
        }
    }
}
