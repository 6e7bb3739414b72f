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
/// spaces as `indent`.
pub fn wrap(out: &mut String, first: &str, indent: usize, words: &str) {
    let mut used = first.chars().count();
    out.push_str(first);
    let mut fresh = true;
    for word in words.split_whitespace() {
        let length = word.chars().count();
        if !fresh && used + 1 + length > WIDTH {
            out.push('\n');
            out.extend(std::iter::repeat_n(' ', indent));
            used = indent;
        } else if !fresh {
            out.push(' ');
            used += 1;
        }
        out.push_str(word);
        used += length;
        fresh = false;
    }
    out.push('\n');
}

/// Appends rows with their columns aligned: the first and the last to the left, others to the
/// right, two spaces apart. A first cell too long for the line is cut with an ellipsis.
pub fn table(out: &mut String, indent: usize, rows: &[Vec<String>]) {
    let count = rows.iter().map(Vec::len).max().unwrap_or(0);
    let width_of = |column: usize| {
        let cells = rows.iter().filter_map(|row| row.get(column));
        cells.map(|cell| cell.chars().count()).max().unwrap_or(0)
    };
    let mut widths: Vec<usize> = (0..count).map(width_of).collect();
    let total: usize = indent + widths.iter().sum::<usize>() + 2 * count.saturating_sub(1);
    if let Some(first) = widths.first_mut() {
        *first = first.saturating_sub(total.saturating_sub(WIDTH)).max(12.min(*first));
    }
    for row in rows {
        out.extend(std::iter::repeat_n(' ', indent));
        for (column, (cell, width)) in row.iter().zip(&widths).enumerate() {
            let cell = shortened(cell, *width);
            let pad = width.saturating_sub(cell.chars().count());
            let spaces = std::iter::repeat_n(' ', pad);
            match column {
                0 => {
                    out.push_str(&cell);
                    out.extend(spaces);
                }
                _ if column + 1 == count => {
                    out.push_str("  ");
                    out.push_str(&cell);
                }
                _ => {
                    out.push_str("  ");
                    out.extend(spaces);
                    out.push_str(&cell);
                }
            }
        }
        out.push('\n');
    }
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
        let row =
            |name: &str| vec![name.to_owned(), "60 min".into(), "324 °F".into(), "pass".into()];
        let mut out = String::new();
        table(&mut out, 2, &[row("lever"), row(&"very long name ".repeat(9))]);
        assert!(out.lines().all(|line| line.chars().count() <= WIDTH), "{out}");
        assert!(out.contains('…'));
    }

    #[test]
    fn a_verdict_is_a_word_with_and_without_colour() {
        assert_eq!(Paint::Plain.verdict("SHORT", false), "SHORT");
        assert!(Paint::Colored.verdict("SHORT", false).contains("SHORT"));
    }
}
