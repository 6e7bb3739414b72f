//! Plain text for a terminal of 80 columns: wrapped lines, aligned tables, one accent.

/// Columns of a line.
pub const WIDTH: usize = 80;

/// Whether a verdict's word is also coloured. The word alone must do.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Paint {
    /// Words only.
    #[default]
    Plain,
    /// Words, and an accent of the terminal.
    Colored,
}

impl Paint {
    /// A word that is good or not.
    #[must_use]
    pub fn verdict(self, word: &str, good: bool) -> String {
        match (self, good) {
            (Self::Plain, _) => word.to_owned(),
            // ECMA-48: bold (1), blue (34) and yellow (33); no red against green.
            (Self::Colored, true) => format!("\u{1b}[1;34m{word}\u{1b}[0m"),
            (Self::Colored, false) => format!("\u{1b}[1;33m{word}\u{1b}[0m"),
        }
    }
}

/// Appends words wrapped at [`WIDTH`], the first line after `first`, the others after as many
/// spaces as `indent`. A number stays with the unit after it.
pub fn wrap(out: &mut String, first: &str, indent: usize, words: &str) {
    let mut used = first.chars().count();
    out.push_str(first);
    let mut words = words.split_whitespace().peekable();
    let mut fresh = true;
    while let Some(word) = words.next() {
        let unit = words.next_if(|next| is_quantity(word, next));
        let unit_length = unit.map_or(0, |unit| 1 + unit.chars().count());
        let length = word.chars().count() + unit_length;
        if !fresh && used + 1 + length > WIDTH {
            out.push('\n');
            out.push_str(&" ".repeat(indent));
            used = indent;
        } else if !fresh {
            out.push(' ');
            used += 1;
        }
        out.push_str(word);
        if let Some(unit) = unit {
            out.push(' ');
            out.push_str(unit);
        }
        used += length;
        fresh = false;
    }
    out.push('\n');
}

/// A number and its unit.
fn is_quantity(word: &str, next: &str) -> bool {
    const UNITS: [&str; 9] = ["°C", "°F", "K", "h", "min", "s", "kWh", "L", "m"];
    word.ends_with(|letter: char| letter.is_ascii_digit())
        && UNITS.contains(&next.trim_end_matches(|letter: char| letter.is_ascii_punctuation()))
}

/// The first column keeps whole words up to this length.
const WHOLE_WORD: usize = 24;
/// The last column is not made narrower than this.
const LAST_LEAST: usize = 11;

/// Appends rows with their columns aligned: the first and the last to the left, others to the
/// right, two spaces apart. A first or last cell too long for the line goes on below itself.
pub fn table(out: &mut String, indent: usize, rows: &[Vec<String>]) {
    let widths = widths_of(indent, rows);
    let last_column = widths.len() - 1;
    let last_at = indent + widths[..last_column].iter().map(|width| width + 2).sum::<usize>();
    for row in rows {
        let cell = |column: usize| row.get(column).map_or("", String::as_str);
        let first = lines_of(cell(0), widths[0]);
        let last = match last_column {
            0 => Vec::new(),
            _ => cell_lines(cell(last_column), widths[last_column]),
        };
        for index in 0..first.len().max(last.len()) {
            let mut line = " ".repeat(indent);
            line.push_str(first.get(index).map_or("", String::as_str));
            if index == 0 {
                push_middle(&mut line, indent + widths[0], row, &widths);
            }
            if let Some(last) = last.get(index) {
                pad_to(&mut line, last_at);
                line.push_str(last);
            }
            out.push_str(line.trim_end());
            out.push('\n');
        }
    }
}

/// Cells between the first and the last, to the right.
fn push_middle(line: &mut String, mut end: usize, row: &[String], widths: &[usize]) {
    let middle = widths.len().saturating_sub(2);
    for (cell, width) in row.iter().zip(widths).skip(1).take(middle) {
        let lead = width - columns(cell).min(*width);
        pad_to(line, end + 2 + lead);
        line.push_str(cell);
        end += 2 + width;
    }
}

fn pad_to(line: &mut String, column: usize) {
    line.push_str(&" ".repeat(column.saturating_sub(columns(line))));
}

/// A cell in lines, broken behind commas where its pieces fit; one that fits as it is may have an
/// accent.
fn cell_lines(cell: &str, width: usize) -> Vec<String> {
    if columns(cell) <= width {
        return vec![cell.to_owned()];
    }
    let mut lines: Vec<String> = Vec::new();
    for piece in cell.split_inclusive(", ").map(str::trim_end) {
        match lines.last_mut() {
            Some(line) if columns(line) + 1 + columns(piece) <= width => {
                line.push(' ');
                line.push_str(piece);
            }
            _ => lines.extend(lines_of(piece, width)),
        }
    }
    lines
}

/// Widths of a table's columns; never none. Where the line is too short the first is narrowed, whole
/// words kept, then the last, then the first whatever its words.
fn widths_of(indent: usize, rows: &[Vec<String>]) -> Vec<usize> {
    let count = rows.iter().map(Vec::len).max().unwrap_or(0).max(1);
    let cells = |column: usize| rows.iter().filter_map(move |row| row.get(column));
    let width_of = |column: usize| cells(column).map(|cell| columns(cell)).max().unwrap_or(0);
    let mut widths: Vec<usize> = (0..count).map(width_of).collect();
    let words = cells(0).flat_map(|cell| cell.split_whitespace());
    let longest = words.map(|word| word.chars().count()).max().unwrap_or(0);
    for (column, least) in [(0, longest.clamp(12, WHOLE_WORD)), (count - 1, LAST_LEAST), (0, 12)] {
        let total = indent + widths.iter().sum::<usize>() + 2 * (count - 1);
        let narrowed = widths[column].saturating_sub(total.saturating_sub(WIDTH));
        widths[column] = narrowed.max(least.min(widths[column]));
    }
    widths
}

/// Columns a text takes: an accent of the terminal takes none.
fn columns(text: &str) -> usize {
    let mut count = 0;
    let mut in_accent = false;
    for letter in text.chars() {
        match letter {
            '\u{1b}' => in_accent = true,
            'm' if in_accent => in_accent = false,
            _ if in_accent => {}
            _ => count += 1,
        }
    }
    count
}

/// A text in lines of at most `width` characters, broken at spaces; a longer word is broken.
#[must_use]
pub fn lines_of(text: &str, width: usize) -> Vec<String> {
    let width = width.max(1);
    let mut lines = vec![String::new()];
    let mut used = 0;
    for word in text.split_whitespace() {
        let length = word.chars().count();
        let room = width - used;
        if used > 0 && length < room {
            lines.last_mut().into_iter().for_each(|line| line.push(' '));
            used += 1;
        } else if used > 0 {
            lines.push(String::new());
            used = 0;
        }
        for letter in word.chars() {
            if used == width {
                lines.push(String::new());
                used = 0;
            }
            lines.last_mut().into_iter().for_each(|line| line.push(letter));
            used += 1;
        }
    }
    lines
}

/// A text of at most `width` characters.
#[must_use]
pub fn shortened(text: &str, width: usize) -> String {
    if text.chars().count() <= width {
        return text.to_owned();
    }
    let mut cut: String = text.chars().take(width.saturating_sub(1)).collect();
    cut.push('…');
    cut
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_wrap_at_eighty_columns_and_tables_fit() {
        let mut out = String::new();
        wrap(&mut out, "next: ", 6, &"a loose terminal ".repeat(20));
        assert!(out.lines().all(|line| line.chars().count() <= WIDTH), "{out}");
        assert!(out.lines().skip(1).all(|line| line.starts_with("      a")
            || line.starts_with("      l")
            || line.starts_with("      t")));
    }

    #[test]
    fn a_number_stays_with_its_unit() {
        let mut out = String::new();
        wrap(&mut out, "", 0, &format!("{} 300 °F. 1 min 40 s", "x".repeat(76)));
        assert_eq!(out.lines().nth(1), Some("300 °F. 1 min 40 s"));
    }

    #[test]
    fn a_table_fits_the_line_and_keeps_every_word_of_a_long_name() {
        let row = |name: &str, verdict: String| {
            vec![name.to_owned(), "60 min".into(), "324 °F".into(), verdict]
        };
        let name = "very long name ".repeat(9);
        for paint in [Paint::Plain, Paint::Colored] {
            let mut out = String::new();
            let rows = [
                row("lever", paint.verdict("pass", true)),
                row(&name, paint.verdict("overheated", false)),
            ];
            table(&mut out, 2, &rows);
            assert!(out.lines().all(|line| columns(line) <= WIDTH), "{out}");
            assert_eq!(out.matches("very").count(), 9, "{out}");
            let at = |line: usize| out.lines().nth(line).and_then(|line| line.find("60 min"));
            assert_eq!(at(0), at(1), "{out}");
        }
    }

    #[test]
    fn a_long_last_cell_goes_on_below_itself_and_the_first_keeps_its_words() {
        let row =
            |kind: &str, ended: &str| vec![kind.to_owned(), "1234".repeat(9), ended.to_owned()];
        let mut out = String::new();
        let ended = "3 pass, 1 short, 1 unfinished, 37 tripped, 1 no-start";
        table(&mut out, 2, &[row("thermocouple-reversed", ended), row("fan", "1 pass")]);
        assert!(out.lines().all(|line| columns(line) <= WIDTH), "{out}");
        assert_eq!(out.matches("thermocouple-reversed").count(), 1, "{out}");
        let words = |text: &str| text.split_whitespace().map(str::to_owned).collect::<Vec<_>>();
        assert!(words(ended).iter().all(|word| words(&out).contains(word)), "{out}");
        let at = out.lines().next().unwrap().find("3 pass").unwrap();
        let count = out.lines().count();
        assert!(count > 2, "{out}");
        let starts = out.lines().map(|line| line.len() - line.trim_start().len());
        assert!(starts.skip(1).take(count - 2).all(|start| start == at), "{out}");
        assert_eq!(out.lines().last().unwrap().find("1 pass"), Some(at), "{out}");
    }

    #[test]
    fn a_text_is_broken_at_spaces_and_a_word_that_is_too_long_is_broken() {
        assert_eq!(lines_of("rear hub shell", 30), ["rear hub shell"]);
        assert_eq!(lines_of("rear hub shell", 8), ["rear hub", "shell"]);
        assert_eq!(lines_of("a bracketsandbolts", 8), ["a", "brackets", "andbolts"]);
        assert_eq!(lines_of("", 8), [""]);
    }

    #[test]
    fn a_verdict_is_a_word_with_and_without_colour() {
        assert_eq!(Paint::Plain.verdict("SHORT", false), "SHORT");
        assert!(Paint::Colored.verdict("SHORT", false).contains("SHORT"));
    }
}
