//! What is wrong with the files, where, what was expected and what to do next.
//!
//! A [`Finding`] points at keys ([`KeyPath`]), so a check made long after reading can still name a
//! place; [`Places`](super::source::Places) turns it into a [`Problem`] with file, line and column.
//! A [`Refusal`] carries every problem of a set of files at once and prints at most ten.

use std::fmt;

/// Most problems printed.
pub const PROBLEMS_SHOWN: usize = 10;
/// Most problems kept of one file: more are not told apart, so that no file takes long to refuse.
pub const PROBLEMS_KEPT: usize = 500;
/// Widest source line shown before it is shortened, characters.
const EXCERPT_MAX: usize = 64;

/// A failure in the layout of every other: what, where, what was expected, what to do next.
#[must_use]
pub fn failure_text(what: &str, place: &str, expected: &str, next: &str) -> String {
    format!("error: {what}\n  {place}\nexpected: {expected}\nnext: {next}")
}

/// Which of the three files.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum FileKind {
    /// The bake.
    Bake,
    /// The oven it names.
    Oven,
    /// The load it names.
    Load,
}

impl FileKind {
    /// All three, in the order problems are told.
    pub const ALL: [Self; 3] = [Self::Bake, Self::Oven, Self::Load];

    /// Its word, as in `--set` keys.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Bake => "bake",
            Self::Oven => "oven",
            Self::Load => "load",
        }
    }

    /// Its word with an article.
    #[must_use]
    pub fn with_article(self) -> &'static str {
        match self {
            Self::Bake => "a bake",
            Self::Oven => "an oven",
            Self::Load => "a load",
        }
    }
}

/// One step down into a file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Segment {
    /// A key of a table.
    Key(String),
    /// An item of a list, from 0.
    Item(usize),
}

/// A value of one of the files, by its keys. Items count from 0 in here and from 1 where a person
/// reads or types them: `load.part.2.max`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeyPath {
    /// Which file.
    pub file: FileKind,
    /// The way to the value.
    pub segments: Vec<Segment>,
    /// The key is at fault, not its value.
    pub on_key: bool,
}

impl KeyPath {
    /// A whole file.
    #[must_use]
    pub fn root(file: FileKind) -> Self {
        Self { file, segments: Vec::new(), on_key: false }
    }

    /// A step of the bake, from 0.
    #[must_use]
    pub fn step(index: usize) -> Self {
        Self::root(FileKind::Bake).key("step").item(index)
    }

    /// A part of the load, from 0.
    #[must_use]
    pub fn part(index: usize) -> Self {
        Self::root(FileKind::Load).key("part").item(index)
    }

    /// A table of the oven.
    #[must_use]
    pub fn oven(table: &str) -> Self {
        Self::root(FileKind::Oven).key(table)
    }

    /// One key further down.
    #[must_use]
    pub fn key(mut self, key: &str) -> Self {
        self.segments.push(Segment::Key(key.to_owned()));
        self
    }

    /// One item further down, from 0.
    #[must_use]
    pub fn item(mut self, index: usize) -> Self {
        self.segments.push(Segment::Item(index));
        self
    }

    /// The key as `--set` takes it: items by number from 1.
    #[must_use]
    pub fn typed_key(&self) -> String {
        let mut key = self.file.word().to_owned();
        for segment in &self.segments {
            key.push('.');
            match segment {
                Segment::Key(name) => key.push_str(name),
                Segment::Item(index) => key.push_str(&(index + 1).to_string()),
            }
        }
        key
    }

    /// The same place, the key underlined.
    #[must_use]
    pub fn itself(mut self) -> Self {
        self.on_key = true;
        self
    }
}

impl fmt::Display for KeyPath {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.typed_key())
    }
}

/// Something wrong, not yet tied to lines.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Finding {
    /// What is wrong.
    pub what: String,
    /// Where, the most telling place first.
    pub at: Vec<KeyPath>,
    /// What was expected.
    pub expected: String,
    /// What to do next.
    pub next: String,
}

impl Finding {
    /// A finding at one place.
    pub fn new(
        at: KeyPath,
        what: impl Into<String>,
        expected: impl Into<String>,
        next: impl Into<String>,
    ) -> Self {
        Self { what: what.into(), at: vec![at], expected: expected.into(), next: next.into() }
    }

    /// The same with a second place.
    #[must_use]
    pub fn and_at(mut self, at: KeyPath) -> Self {
        self.at.push(at);
        self
    }
}

/// A place a person can go to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Place {
    /// A part of a line.
    Line {
        /// Path as shown.
        path: String,
        /// Line, from 1.
        line: usize,
        /// Column in characters, from 1.
        column: usize,
        /// The line's text.
        text: String,
        /// Characters underlined, at least 1.
        width: usize,
    },
    /// A whole file.
    File(String),
    /// What was typed on the command line.
    Typed(String),
}

/// Something wrong, with its places.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// What is wrong.
    pub what: String,
    /// Where, the most telling place first.
    pub places: Vec<Place>,
    /// What was expected.
    pub expected: String,
    /// What to do next.
    pub next: String,
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "error: {}", self.what)?;
        let width = self.places.iter().map(|place| place.name().chars().count()).max().unwrap_or(0);
        let digits = self.places.iter().map(Place::line_digits).max().unwrap_or(0);
        for (index, place) in self.places.iter().enumerate() {
            place.write(f, width, digits, index == 0)?;
        }
        writeln!(f, "expected: {}", self.expected)?;
        write!(f, "next: {}", self.next)
    }
}

impl Place {
    fn name(&self) -> String {
        match self {
            Self::Line { path, line, column, .. } => format!("{path}:{line}:{column}"),
            Self::File(path) => path.clone(),
            Self::Typed(text) => text.clone(),
        }
    }

    fn line_digits(&self) -> usize {
        match self {
            Self::Line { line, .. } => line.to_string().len(),
            _ => 0,
        }
    }

    /// `  file:line:column   line | text`, under the first place a row of carets.
    fn write(
        &self,
        f: &mut fmt::Formatter<'_>,
        name_width: usize,
        digits: usize,
        underline: bool,
    ) -> fmt::Result {
        let Self::Line { line, column, text, width, .. } = self else {
            return writeln!(f, "  {}", self.name());
        };
        let (shown, start, carets) = excerpt(text, column.saturating_sub(1), *width);
        writeln!(f, "  {:<name_width$}   {line:>digits$} | {shown}", self.name())?;
        if underline {
            let (blank, carets) = (" ".repeat(start), "^".repeat(carets));
            writeln!(f, "  {:<name_width$}   {:>digits$} | {blank}{carets}", "", "")?;
        }
        Ok(())
    }
}

/// The part of a line to show, and where in it the underline starts and how long it is.
fn excerpt(text: &str, start: usize, width: usize) -> (String, usize, usize) {
    let clean = |c: char| match c {
        '\t' => ' ',
        c if c.is_control() => '?',
        c => c,
    };
    let all: Vec<char> = text.trim_end().chars().map(clean).collect();
    let width = width.max(1).min(all.len().saturating_sub(start).max(1));
    if all.len() <= EXCERPT_MAX {
        return (all.into_iter().collect(), start, width);
    }
    // A slip in the blanks behind a text is shown at its end.
    let start = start.min(all.len());
    let from = if start + width.min(24) > EXCERPT_MAX { start.saturating_sub(16) } else { 0 };
    let to = all.len().min((from + EXCERPT_MAX).max((start + 2).min(all.len())));
    let mut shown = String::new();
    if from > 0 {
        shown.push('…');
    }
    shown.extend(all.iter().skip(from).take(to - from));
    if to < all.len() {
        shown.push('…');
    }
    let start = start - from + usize::from(from > 0);
    let room = shown.chars().count().saturating_sub(start).max(1);
    (shown, start, width.min(room))
}

/// Every problem of a set of files.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Refusal {
    /// All of them.
    pub problems: Vec<Problem>,
}

impl Refusal {
    /// A refusal for one reason.
    #[must_use]
    pub fn of(problem: Problem) -> Self {
        Self { problems: vec![problem] }
    }
}

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, problem) in self.problems.iter().take(PROBLEMS_SHOWN).enumerate() {
            if index > 0 {
                write!(f, "\n\n")?;
            }
            write!(f, "{problem}")?;
        }
        let more = self.problems.len().saturating_sub(PROBLEMS_SHOWN);
        if self.problems.len() >= PROBLEMS_KEPT {
            write!(f, "\n\nand at least {more} more")?;
        } else if more > 0 {
            write!(f, "\n\nand {more} more")?;
        }
        Ok(())
    }
}

impl std::error::Error for Refusal {}

/// The known word nearest to what was written, if any is near enough to be meant.
pub fn nearest<'k>(written: &str, known: impl IntoIterator<Item = &'k str>) -> Option<&'k str> {
    let lower = written.to_lowercase();
    let allowed = 1 + written.chars().count() / 3;
    known
        .into_iter()
        .map(|name| (strsim::osa_distance(&lower, &name.to_lowercase()), name))
        .min_by_key(|(distance, _)| *distance)
        .filter(|(distance, name)| *distance <= allowed && *distance < name.chars().count().max(2))
        .map(|(_, name)| name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_problem_is_laid_out_with_aligned_places_and_carets_under_the_first() {
        let line = |path: &str, line, column, text: &str, width| Place::Line {
            path: path.to_owned(),
            line,
            column,
            text: text.to_owned(),
            width,
        };
        let problem = Problem {
            what: "176.7 °C is above what \"brake lever\" stands".to_owned(),
            places: vec![
                line("bakes/cure.toml", 14, 21, "soak = { at_least = \"350 °F\" }", 8),
                line("loads/levers.toml", 9, 7, "max = \"320 °F\"", 8),
            ],
            expected: "at most 299 °F here".to_owned(),
            next: "lower at_least".to_owned(),
        };
        let wanted = "\
error: 176.7 °C is above what \"brake lever\" stands
  bakes/cure.toml:14:21   14 | soak = { at_least = \"350 °F\" }
                             |                     ^^^^^^^^
  loads/levers.toml:9:7    9 | max = \"320 °F\"
expected: at most 299 °F here
next: lower at_least";
        assert_eq!(problem.to_string(), wanted);
    }

    #[test]
    fn a_long_line_is_cut_and_the_underline_stays_on_its_value() {
        let text =
            format!("soak = {{ {}, at_most = \"1 °C\", {} }}", "a = 1".repeat(20), "b".repeat(90));
        let start = text.chars().position(|c| c == '"').unwrap_or(0);
        let (shown, at, width) = excerpt(&text, start, 6);
        let marked: String = shown.chars().skip(at).take(width).collect();
        assert_eq!(marked, "\"1 °C\"");
        assert!(shown.starts_with('…') && shown.ends_with('…'));
        assert!(shown.chars().count() <= EXCERPT_MAX + 2);
    }

    /// Found by `tests/fuzz`: the excerpt began behind the end of what is left of such a line.
    #[test]
    fn a_slip_in_the_blanks_behind_a_long_line_is_shown_at_its_end() {
        let text = "x".repeat(150) + &" ".repeat(400);
        for start in [0, 149, 150, 151, 166, 167, 300, 549] {
            let (shown, from, carets) = excerpt(&text, start, 3);
            assert!(shown.contains("xxx") && shown.chars().count() <= EXCERPT_MAX + 2, "{shown}");
            assert!(from <= shown.chars().count() && carets >= 1, "{start}: {from}, {carets}");
        }
    }

    #[test]
    fn more_than_ten_problems_are_counted() {
        let one = Problem {
            what: "x".into(),
            places: vec![Place::File("f".into())],
            expected: "y".into(),
            next: "z".into(),
        };
        let refusal = Refusal { problems: vec![one; 13] };
        let text = refusal.to_string();
        assert_eq!(text.matches("error:").count(), 10);
        assert!(text.ends_with("and 3 more"));
    }

    #[test]
    fn the_nearest_word_is_near_or_not_offered() {
        assert_eq!(nearest("at_lest", ["at_least", "at_most"]), Some("at_least"));
        assert_eq!(nearest("zebra", ["at_least", "at_most"]), None);
        assert_eq!(nearest("x", ["at", "by"]), None);
    }
}
