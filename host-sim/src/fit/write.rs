//! An oven's file with new numbers in it, everything else as a person wrote it.
//!
//! Comments, order and blank lines stay. A key that was there keeps its place and its comment; one
//! that was not is added to its table. `[observed]` is a coarser measurement of what a fit has
//! measured, and would be put on top of it: it is kept as a comment.

use toml_edit::{DocumentMut, Item, Table, TableLike, Value};

/// One value to write.
#[derive(Clone, Debug, PartialEq)]
pub struct Change {
    /// Table.
    pub table: &'static str,
    /// Key.
    pub key: &'static str,
    /// Value as TOML has it: a number, or a quantity in quotation marks.
    pub value: String,
}

impl Change {
    /// A bare number, to so many decimals.
    #[must_use]
    pub fn number(table: &'static str, key: &'static str, value: f64, decimals: usize) -> Self {
        let text = format!("{value:.decimals$}");
        let trimmed = text.trim_end_matches('0');
        let value = if trimmed.ends_with('.') { format!("{trimmed}0") } else { trimmed.to_owned() };
        Self { table, key, value }
    }

    /// A quantity with its unit.
    #[must_use]
    pub fn quantity(table: &'static str, key: &'static str, value: &str) -> Self {
        Self { table, key, value: format!("\"{value}\"") }
    }
}

/// The file with the changes in it; `why` is the comment over what is new, and `without_observed`
/// makes a comment of `[observed]`.
///
/// # Errors
/// A file that is not TOML, in the parser's words.
pub fn rewritten(
    text: &str,
    changes: &[Change],
    why: &str,
    without_observed: bool,
) -> Result<String, String> {
    let bare = text.strip_prefix('\u{feff}').unwrap_or(text);
    let mut document: DocumentMut = bare.parse().map_err(|error: toml_edit::TomlError| {
        format!("the oven's file does not read: {}", error.message())
    })?;
    let mut retired = String::new();
    if without_observed && let Some(observed) = document.remove("observed") {
        retired = commented(observed);
    }
    for change in changes {
        put(&mut document, change, why)?;
    }
    let mut out = document.to_string();
    if !retired.is_empty() {
        if !out.ends_with('\n') {
            out.push('\n');
        }
        out.push_str(&retired);
    }
    if bare.contains("\r\n") {
        out = out.replace("\r\n", "\n").replace('\n', "\r\n");
    }
    Ok(if bare.len() < text.len() { format!("\u{feff}{out}") } else { out })
}

/// A table as a comment.
fn commented(item: Item) -> String {
    let mut alone = DocumentMut::new();
    alone.insert("observed", item);
    let mut out = "\n# Not used any more: the fit has measured this more closely.\n".to_owned();
    for line in alone.to_string().trim().lines() {
        out.push_str("# ");
        out.push_str(line.trim_start_matches("# "));
        out.push('\n');
    }
    out
}

fn put(document: &mut DocumentMut, change: &Change, why: &str) -> Result<(), String> {
    let value: Value = change.value.parse().map_err(|_| format!("{} is no value", change.value))?;
    let is_new = !document.contains_key(change.table);
    let entry = document.entry(change.table).or_insert_with(|| Item::Table(Table::new()));
    if is_new && let Some(table) = entry.as_table_mut() {
        table.decor_mut().set_prefix(format!("\n# {why}\n"));
    }
    let table: &mut dyn TableLike = entry
        .as_table_like_mut()
        .ok_or_else(|| format!("{} is not a table in the oven's file", change.table))?;
    match table.get_mut(change.key).and_then(Item::as_value_mut) {
        Some(old) => {
            let decor = old.decor().clone();
            *old = value;
            *old.decor_mut() = decor;
        }
        None => {
            table.insert(change.key, Item::Value(value));
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    const OVEN: &str = "# Our oven.\nname = \"x\"   # said so\n\n[sensor]\nlag = \"12 s\" # guess\n\n\
        [observed]\n# by the kitchen clock\nheats = { from = \"20 °C\", to = \"150 °C\", in = \"18 min\" }\n\n\
        [limits]\nair_max = \"230 °C\"\n";

    fn changes() -> Vec<Change> {
        vec![
            Change::number("calibration", "losses", 1.18, 3),
            Change::quantity("sensor", "lag", "13.4 s"),
            Change::number("spread", "losses", 0.06, 3),
        ]
    }

    #[test]
    fn comments_and_order_stay_and_new_tables_say_where_they_are_from() {
        let out = rewritten(OVEN, &changes(), "From a fit.", false).unwrap();
        assert!(out.starts_with("# Our oven.\nname = \"x\"   # said so\n"), "{out}");
        assert!(out.contains("lag = \"13.4 s\" # guess\n"), "{out}");
        assert!(out.contains("\n# From a fit.\n[calibration]\nlosses = 1.18\n"), "{out}");
        assert!(out.contains("[spread]\nlosses = 0.06\n"), "{out}");
        assert!(out.contains("[observed]\n# by the kitchen clock\n"), "{out}");
    }

    #[test]
    fn what_a_clock_timed_becomes_a_comment_once_it_is_measured() {
        let out = rewritten(OVEN, &changes(), "From a fit.", true).unwrap();
        assert!(!out.contains("\n[observed]"), "{out}");
        assert!(out.contains("\n# [observed]\n"), "{out}");
        assert!(out.contains("# heats = { from"), "{out}");
        let again: DocumentMut = out.parse().unwrap();
        assert!(!again.contains_key("observed"));
    }

    #[test]
    fn line_ends_and_a_byte_order_mark_stay_as_they_were() {
        let windows = format!("\u{feff}{}", OVEN.replace('\n', "\r\n"));
        let out = rewritten(&windows, &changes(), "From a fit.", true).unwrap();
        assert!(out.starts_with('\u{feff}'));
        assert_eq!(out.matches('\n').count(), out.matches("\r\n").count());
    }

    #[test]
    fn an_inline_table_takes_the_value_too() {
        let text = "spread = { losses = 0.25 } # mine\n";
        let out = rewritten(text, &changes(), "From a fit.", false).unwrap();
        assert!(out.contains("spread = { losses = 0.06 } # mine"), "{out}");
    }
}
