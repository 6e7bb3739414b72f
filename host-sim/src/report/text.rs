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

/// Appends rows with their columns aligned: the first and the last to the left, others to the
/// right, two spaces apart. A first cell too long for the line goes on below itself.
pub fn table(out: &mut String, indent: usize, rows: &[Vec<String>]) {
    let widths = widths_of(indent, rows);
    for row in rows {
        let mut first = lines_of(row.first().map_or("", String::as_str), widths[0]).into_iter();
        let mut line = " ".repeat(indent);
        line.push_str(&first.next().unwrap_or_default());
        let mut end = indent + widths[0];
        for (column, (cell, width)) in row.iter().zip(&widths).enumerate().skip(1) {
            let is_last = column + 1 == widths.len();
            let lead = if is_last { 0 } else { width - columns(cell).min(*width) };
            let pad = (end + 2 + lead).saturating_sub(columns(&line));
            line.push_str(&" ".repeat(pad));
            line.push_str(cell);
            end += 2 + width;
        }
        out.push_str(line.trim_end());
        out.push('\n');
        for more in first {
            out.push_str(&" ".repeat(indent));
            out.push_str(&more);
            out.push('\n');
        }
    }
}

/// Widths of a table's columns, the first narrowed until the line fits; never none.
fn widths_of(indent: usize, rows: &[Vec<String>]) -> Vec<usize> {
    let count = rows.iter().map(Vec::len).max().unwrap_or(0).max(1);
    let width_of = |column: usize| {
        let cells = rows.iter().filter_map(|row| row.get(column));
        cells.map(|cell| columns(cell)).max().unwrap_or(0)
    };
    let mut widths: Vec<usize> = (0..count).map(width_of).collect();
    let total = indent + widths.iter().sum::<usize>() + 2 * (count - 1);
    widths[0] = widths[0].saturating_sub(total.saturating_sub(WIDTH)).max(12.min(widths[0]));
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
