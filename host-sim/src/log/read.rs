//! Reading a log back: whole, with a torn end tolerated and everything else refused by line.
//!
//! A byte-order mark and CRLF line ends are fine, as a transfer may add them: the checksum is then
//! taken over the lines as they were written. Columns are known by name, so that a log of a later
//! version with more of them still reads.

use std::borrow::Cow;
use std::fmt;
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};

use super::number::{reading_nearest, reading_on_grid};
use super::{
    CHECKSUM, COLUMNS, End, FIRST_LINE, Flags, Header, LAST_LINE, Log, Phase, Reading, Row, Source,
    TRUE_COLDEST, TRUE_HOTTEST,
};

/// A larger log is refused: at one row a second it would be weeks long.
pub const BYTES_MAX: u64 = 256 * 1024 * 1024;
const BYTE_ORDER_MARK: &[u8] = b"\xef\xbb\xbf";
/// What is expected of a log of ours.
const EXPECTED: &str = "a log as `simulate --log` or `device fetch --log` writes it";
/// Longest piece of a file quoted in a message, characters.
const QUOTED_MAX: usize = 40;

/// Why a log does not read: what, where, what was expected and what to do next.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LogError {
    /// The file, where there is one.
    pub path: Option<PathBuf>,
    /// Line, from 1.
    pub line: Option<usize>,
    /// What is wrong.
    pub what: String,
    /// What was expected.
    pub expected: String,
    /// What to do next.
    pub next: String,
}

impl LogError {
    pub(crate) fn new(line: Option<usize>, what: String, expected: &str, next: &str) -> Self {
        Self { path: None, line, what, expected: expected.into(), next: next.into() }
    }

    /// The same, with the file it is of.
    #[must_use]
    pub(crate) fn at(mut self, path: &Path) -> Self {
        self.path = Some(path.to_owned());
        self
    }

    fn edited(line: usize, what: String, expected: &str) -> Self {
        Self::new(Some(line), what, expected, "fetch the log again, or use the file as it was")
    }
}

impl fmt::Display for LogError {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{}", self.what)?;
        match (&self.path, self.line) {
            (Some(path), Some(line)) => write!(out, "\n  {}:{line}", path.display())?,
            (Some(path), None) => write!(out, "\n  {}", path.display())?,
            (None, Some(line)) => write!(out, "\n  line {line}")?,
            (None, None) => {}
        }
        write!(out, "\nexpected: {}\nnext: {}", self.expected, self.next)
    }
}

impl std::error::Error for LogError {}

/// Reads a log from a file.
///
/// # Errors
/// When the file cannot be read, is over [`BYTES_MAX`], or is not a log; see [`parse`].
pub fn read(path: &Path) -> Result<Log, LogError> {
    parse(&bytes_of(path, EXPECTED)?).map_err(|error| error.at(path))
}

/// The bytes of a log or table, of whatever maker.
///
/// # Errors
/// When the file cannot be read; one that is over [`BYTES_MAX`] is refused by what reads the bytes.
pub(crate) fn bytes_of(path: &Path, expected: &str) -> Result<Vec<u8>, LogError> {
    let unreadable = |why: String| LogError::new(None, why, expected, "check the name").at(path);
    let kind = std::fs::metadata(path)
        .map_err(|error| unreadable(format!("the file cannot be opened: {error}")))?;
    if kind.is_dir() {
        return Err(unreadable("this is a folder, not a file".into()));
    }
    let mut bytes = Vec::new();
    File::open(path)
        .and_then(|file| file.take(BYTES_MAX + 1).read_to_end(&mut bytes))
        .map_err(|error| unreadable(format!("the file cannot be read: {error}")))?;
    Ok(bytes)
}

/// Reads a log from its bytes.
///
/// # Errors
/// When the bytes are no log, were edited, or do not agree with their checksum or row count.
pub fn parse(bytes: &[u8]) -> Result<Log, LogError> {
    refuse_by_shape(bytes, EXPECTED)?;
    let bytes = bytes.strip_prefix(BYTE_ORDER_MARK).unwrap_or(bytes);
    let lines = Lines::of(bytes)?;
    let header = parse_header(lines.whole.first().copied(), lines.torn)?;
    let mut body = lines.whole.iter().copied().enumerate().skip(2).map(|(at, text)| (at + 1, text));
    let columns = parse_columns(lines.whole.get(1).copied(), lines.torn)?;
    let mut log =
        Log { header, rows: Vec::new(), truth: columns.truth_names(), end: End::Complete };
    let mut cells = Vec::new();
    let mut last = None;
    for (line, text) in body.by_ref() {
        if text.starts_with(LAST_LINE) {
            last = Some((line, text));
            break;
        }
        columns.row(line, text, &mut cells, &mut log)?;
    }
    if let Some((line, _)) = body.find(|(_, text)| !text.is_empty()) {
        return Err(LogError::edited(
            line,
            "there is more after the log's last line".into(),
            "nothing after `# end rows=… crc32=…`",
        ));
    }
    match last {
        Some((line, text)) => check_end(line, text, lines.before_end(bytes), log.rows.len())?,
        None => log.end = torn_end(&lines),
    }
    Ok(log)
}

/// The text of a table of another maker.
///
/// # Errors
/// Bytes that are too many or no UTF-8, with the line.
pub(crate) fn text_of<'a>(bytes: &'a [u8], expected: &str) -> Result<&'a str, LogError> {
    refuse_by_shape(bytes, expected)?;
    let bytes = bytes.strip_prefix(BYTE_ORDER_MARK).unwrap_or(bytes);
    std::str::from_utf8(bytes).map_err(|error| {
        let before = bytes.get(..error.valid_up_to()).unwrap_or_default();
        let line = before.iter().filter(|byte| **byte == b'\n').count() + 1;
        let what = "the line has bytes that are no text".into();
        LogError::new(Some(line), what, "UTF-8", "save the table again as UTF-8")
    })
}

fn refuse_by_shape(bytes: &[u8], expected: &str) -> Result<(), LogError> {
    if bytes.len() as u64 > BYTES_MAX {
        let what = format!("the file is over {} MiB", BYTES_MAX / (1024 * 1024));
        return Err(LogError::new(None, what, expected, "split the job into shorter bakes"));
    }
    if bytes.starts_with(b"\xff\xfe") || bytes.starts_with(b"\xfe\xff") {
        let what = "the file is in UTF-16".into();
        return Err(LogError::new(None, what, "UTF-8", "save it again as UTF-8"));
    }
    Ok(())
}

/// The lines of a log, the last one perhaps torn off.
struct Lines<'a> {
    /// Lines that ended, and a last line that is complete without its line end.
    whole: Vec<&'a str>,
    /// The bytes after the last line end are not a whole line.
    torn: bool,
    /// Start of the last line that begins as a log's last line does.
    end_starts: Option<usize>,
}

impl<'a> Lines<'a> {
    fn of(bytes: &'a [u8]) -> Result<Self, LogError> {
        let mut lines = Self { whole: Vec::new(), torn: false, end_starts: None };
        let mut start = 0;
        for piece in bytes.split_inclusive(|byte| *byte == b'\n') {
            let ended = piece.ends_with(b"\n");
            let text = piece.strip_suffix(b"\n").unwrap_or(piece);
            let text = text.strip_suffix(b"\r").unwrap_or(text);
            let is_end = text.starts_with(LAST_LINE.as_bytes());
            match std::str::from_utf8(text) {
                Ok(text) if ended || end_fields(text).is_some() => lines.whole.push(text),
                Err(_) if ended => {
                    let what = "the line has bytes that are no text".into();
                    return Err(LogError::edited(lines.whole.len() + 1, what, "UTF-8"));
                }
                _ => lines.torn = true,
            }
            if is_end {
                lines.end_starts = Some(start);
            }
            start += piece.len();
        }
        Ok(lines)
    }

    fn before_end<'b>(&self, bytes: &'b [u8]) -> &'b [u8] {
        bytes.get(..self.end_starts.unwrap_or(bytes.len())).unwrap_or(bytes)
    }
}

fn parse_header(text: Option<&str>, torn: bool) -> Result<Header, LogError> {
    let expected = "`# truesoak.log/1 {…}` in the first line";
    let Some(text) = text else {
        let what = if torn { "the log breaks off in its first line" } else { "the log is empty" };
        return Err(LogError::new(Some(1), what.into(), expected, "fetch the log again"));
    };
    let Some(json) = text.strip_prefix(FIRST_LINE) else {
        let next = "give a log of truesoak; a table of another maker is explained with --bake, \
                    --time-column and --air-column";
        let what = if text.starts_with("# truesoak.log/") {
            "this log has another version".to_owned()
        } else {
            "this is not a log".to_owned()
        };
        return Err(LogError::new(Some(1), what, expected, next));
    };
    serde_json::from_str(json).map_err(|error| {
        LogError::edited(1, format!("the first line does not read: {error}"), expected)
    })
}

/// Which column is where.
struct Columns {
    count: usize,
    places: [usize; COLUMNS.len()],
    truth: Vec<(usize, String)>,
}

fn parse_columns(text: Option<&str>, torn: bool) -> Result<Columns, LogError> {
    let Some(text) = text else {
        let what = if torn { "the log breaks off in its second line" } else { "the log is empty" };
        let expected = "the names of the columns in the second line";
        return Err(LogError::new(Some(2), what.into(), expected, "fetch the log again"));
    };
    let mut names = Vec::new();
    split(text, ',', &mut names)
        .map_err(|what| LogError::edited(2, what.into(), "RFC 4180 quoting"))?;
    for (index, name) in names.iter().enumerate() {
        if names.iter().take(index).any(|earlier| earlier == name) {
            let what = format!("column {} stands twice", quoted(name));
            return Err(LogError::edited(2, what, "every column once"));
        }
    }
    let mut places = [0; COLUMNS.len()];
    let mut missing = Vec::new();
    for (place, wanted) in places.iter_mut().zip(COLUMNS) {
        match names.iter().position(|name| name == wanted) {
            Some(found) => *place = found,
            None => missing.push(wanted),
        }
    }
    if !missing.is_empty() {
        let what = format!("columns are missing: {}", missing.join(", "));
        return Err(LogError::edited(2, what, &COLUMNS.join(",")));
    }
    let is_truth = |name: &str| name.starts_with(TRUE_COLDEST) || name.starts_with(TRUE_HOTTEST);
    let truth = names.iter().enumerate().filter(|(_, name)| is_truth(name));
    let truth = truth.map(|(at, name)| (at, name.to_string())).collect();
    Ok(Columns { count: names.len(), places, truth })
}

impl Columns {
    fn truth_names(&self) -> Vec<(String, Vec<f64>)> {
        self.truth.iter().map(|(_, name)| (name.clone(), Vec::new())).collect()
    }

    fn row<'a>(
        &self,
        line: usize,
        text: &'a str,
        cells: &mut Vec<Cow<'a, str>>,
        log: &mut Log,
    ) -> Result<(), LogError> {
        cells.clear();
        split(text, ',', cells)
            .map_err(|what| LogError::edited(line, what.into(), "RFC 4180 quoting"))?;
        if cells.len() != self.count {
            let what = format!("the row has {} cells", cells.len());
            let expected = format!("{}, one for each column of line 2", self.count);
            return Err(LogError::edited(line, what, &expected));
        }
        let cell = |column: usize| Cell {
            line,
            column: COLUMNS.get(column).copied().unwrap_or_default(),
            text: self.places.get(column).and_then(|at| cells.get(*at)).map_or("", Cow::as_ref),
        };
        let row = read_row(cell, log.header.source)?;
        if log.rows.last().is_some_and(|earlier| earlier.tick > row.tick) {
            let what = format!("time runs backwards: {} s", row.t_s());
            return Err(LogError::edited(line, what, "rows in order of time"));
        }
        for ((at, name), (_, values)) in self.truth.iter().zip(&mut log.truth) {
            let text = cells.get(*at).map_or("", Cow::as_ref);
            values.push(Cell { line, column: name, text }.number()?.unwrap_or(f64::NAN));
        }
        log.rows.push(row);
        Ok(())
    }
}

fn read_row<'a>(cell: impl Fn(usize) -> Cell<'a>, source: Source) -> Result<Row, LogError> {
    let phase = cell(9);
    let flags = cell(13);
    Ok(Row {
        tick: cell(0).ticks()?,
        air: cell(1).reading(source)?,
        air_b: cell(2).reading(source)?,
        part_probe: cell(3).reading(source)?,
        setpoint_c: cell(4).number()?,
        on_ticks: cell(5).on_ticks()?,
        permit: cell(6).yes_or_no()?.unwrap_or(false),
        door_open: cell(7).yes_or_no()?,
        step: cell(8).integer(u64::from(u8::MAX))? as u8,
        phase: Phase::from_word(phase.text)
            .ok_or_else(|| phase.wrong(&Phase::ALL.map(Phase::word).join(", ")))?,
        coldest_c: cell(10).number()?,
        hottest_c: cell(11).number()?,
        credit_s: cell(12).integer(u64::from(u32::MAX))? as u32,
        flags: Flags::from_words(flags.text)
            .map_err(|_| flags.wrong("words of projected, airflow, widened, or nothing"))?,
        event: cell(14).text.to_owned(),
    })
}

/// One cell with its place.
struct Cell<'a> {
    line: usize,
    column: &'a str,
    text: &'a str,
}

impl Cell<'_> {
    fn wrong(&self, expected: &str) -> LogError {
        let text = quoted(self.text);
        LogError::edited(self.line, format!("column {} has {text}", self.column), expected)
    }

    fn number(&self) -> Result<Option<f64>, LogError> {
        if self.text.is_empty() {
            return Ok(None);
        }
        match self.text.parse::<f64>() {
            Ok(value) if value.is_finite() => Ok(Some(value)),
            _ => Err(self.wrong("a number, or nothing")),
        }
    }

    fn reading(&self, source: Source) -> Result<Option<Reading>, LogError> {
        let Some(value_c) = self.number()? else { return Ok(None) };
        let reading = match source {
            Source::Other => reading_nearest(value_c),
            _ => reading_on_grid(value_c),
        };
        reading.map(Some).ok_or_else(|| self.wrong("°C in steps of 1/128, all seven decimals"))
    }

    fn ticks(&self) -> Result<u32, LogError> {
        let expected = "seconds since the bake's start, in tenths";
        let value_s = self.number()?.ok_or_else(|| self.wrong(expected))?;
        let ticks = libm::round(value_s * 10.0);
        let fits = (value_s * 10.0 - ticks).abs() < 1e-6 && (0.0..4e9).contains(&ticks);
        if fits { Ok(ticks as u32) } else { Err(self.wrong(expected)) }
    }

    fn on_ticks(&self) -> Result<u8, LogError> {
        let expected = "a share of full power in tenths, 0.0 to 1.0";
        let duty = self.number()?.ok_or_else(|| self.wrong(expected))?;
        let ticks = libm::round(duty * 10.0);
        let fits = (duty * 10.0 - ticks).abs() < 1e-6 && (0.0..=10.0).contains(&ticks);
        if fits { Ok(ticks as u8) } else { Err(self.wrong(expected)) }
    }

    fn yes_or_no(&self) -> Result<Option<bool>, LogError> {
        match self.text {
            "" => Ok(None),
            "0" => Ok(Some(false)),
            "1" => Ok(Some(true)),
            _ => Err(self.wrong("1 or 0")),
        }
    }

    fn integer(&self, most: u64) -> Result<u64, LogError> {
        let value = self.text.parse::<u64>().ok().filter(|value| *value <= most);
        value.ok_or_else(|| self.wrong("a whole number, 0 or more"))
    }
}

/// Splits a line at its commas, or another sign between cells, as RFC 4180 has it.
pub(crate) fn split<'a>(
    line: &'a str,
    between: char,
    cells: &mut Vec<Cow<'a, str>>,
) -> Result<(), &'static str> {
    let mut rest = line;
    loop {
        let Some(inner) = rest.strip_prefix('"') else {
            let (cell, after) =
                rest.split_once(between).map_or((rest, None), |(a, b)| (a, Some(b)));
            if cell.contains('"') {
                return Err("a quotation mark stands inside an unquoted cell");
            }
            cells.push(Cow::Borrowed(cell));
            match after {
                Some(after) => rest = after,
                None => return Ok(()),
            }
            continue;
        };
        let (cell, after) = quoted_cell(inner).ok_or("a quotation mark is never closed")?;
        cells.push(Cow::Owned(cell));
        match after.strip_prefix(between) {
            Some(after) => rest = after,
            None if after.is_empty() => return Ok(()),
            None => return Err("there is text after a closing quotation mark"),
        }
    }
}

/// The text of a quoted cell whose opening mark is gone, and what follows the closing one.
fn quoted_cell(inner: &str) -> Option<(String, &str)> {
    let mut cell = String::new();
    let mut rest = inner;
    loop {
        let (text, after) = rest.split_once('"')?;
        cell.push_str(text);
        match after.strip_prefix('"') {
            Some(after) => {
                cell.push('"');
                rest = after;
            }
            None => return Some((cell, after)),
        }
    }
}

/// Row count and checksum of a last line.
fn end_fields(text: &str) -> Option<(usize, u32)> {
    let (rows, crc) = text.strip_prefix(LAST_LINE)?.split_once(" crc32=")?;
    let lower_hex = |byte: u8| byte.is_ascii_digit() || (b'a'..=b'f').contains(&byte);
    let well_formed = crc.len() == 8 && crc.bytes().all(lower_hex);
    let crc = well_formed.then(|| u32::from_str_radix(crc, 16).ok()).flatten()?;
    Some((rows.parse().ok()?, crc))
}

fn check_end(line: usize, text: &str, before: &[u8], rows: usize) -> Result<(), LogError> {
    let Some((rows_said, checksum_said)) = end_fields(text) else {
        let what = format!("the last line does not read: {}", quoted(text));
        return Err(LogError::edited(line, what, "`# end rows=N crc32=` and 8 hex digits"));
    };
    if rows_said != rows {
        let what = format!("the log has {rows} rows and its last line says {rows_said}");
        return Err(LogError::edited(line, what, "every row that was written, and no other"));
    }
    if CHECKSUM.checksum(before) != checksum_said && as_written(before) != checksum_said {
        let what = "the checksum does not agree: something before this line was changed".into();
        return Err(LogError::edited(line, what, "every byte as it was written"));
    }
    Ok(())
}

/// Checksum over the lines without the carriage returns that a transfer put before line ends.
fn as_written(before: &[u8]) -> u32 {
    let mut digest = CHECKSUM.digest();
    for piece in before.split_inclusive(|byte| *byte == b'\n') {
        match piece.strip_suffix(b"\r\n") {
            Some(text) => {
                digest.update(text);
                digest.update(b"\n");
            }
            None => digest.update(piece),
        }
    }
    digest.finalize()
}

fn torn_end(lines: &Lines<'_>) -> End {
    let line = lines.whole.len() + 1;
    let what = if lines.torn {
        format!("the log breaks off in the middle of line {line}; all rows before it are kept")
    } else {
        format!("the log has no last line; it breaks off before line {line}")
    };
    End::Torn { line, what }
}

pub(crate) fn quoted(text: &str) -> String {
    let mut shown: String = text.chars().take(QUOTED_MAX).collect();
    if shown.len() < text.len() {
        shown.push('…');
    }
    format!("{shown:?}")
}
