//! `--set KEY=VALUE` and `--plant KEY=VALUE`: values typed on the command line, put into the trees
//! before they are read, so that they are judged like any other and reported where they were typed.

use std::fmt;

use super::problem::{FileKind, Place, Problem, nearest};
use super::quantity::shorten;
use super::source::Places;
use super::tree::{self, Entry, Node, Origin, Table, Value};

/// What an override changes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reach {
    /// What is believed and what is true: `--set`.
    Both,
    /// The truth only: `--plant`.
    Truth,
}

/// One override as typed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Override {
    /// What it changes.
    pub reach: Reach,
    /// `KEY=VALUE` as typed.
    pub typed: String,
}

impl Override {
    /// `--set`.
    #[must_use]
    pub fn set(typed: &str) -> Self {
        Self { reach: Reach::Both, typed: typed.to_owned() }
    }

    /// `--plant`.
    #[must_use]
    pub fn plant(typed: &str) -> Self {
        Self { reach: Reach::Truth, typed: typed.to_owned() }
    }
}

impl fmt::Display for Override {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let flag = if self.reach == Reach::Both { "--set" } else { "--plant" };
        let typed: String =
            self.typed.chars().map(|c| if c.is_control() { '?' } else { c }).take(120).collect();
        write!(f, "{flag} {typed}")
    }
}

/// Why an override cannot be put in.
struct Misplaced {
    what: String,
    expected: String,
    next: String,
}

fn misplaced(what: String, expected: &str, next: impl Into<String>) -> Misplaced {
    Misplaced { what, expected: expected.to_owned(), next: next.into() }
}

/// Puts every override of the bake, or of oven and load, into its tree; gives the problems of those
/// that have no place.
pub(super) fn apply(
    places: &mut Places,
    overrides: &[Override],
    to_the_bake: bool,
) -> Vec<Problem> {
    let mut problems = Vec::new();
    let of_the_bake = |one: &Override| one.typed.trim_start().starts_with("bake.");
    let now = overrides.iter().enumerate().filter(|(_, one)| of_the_bake(one) == to_the_bake);
    for (number, one) in now {
        if let Err(wrong) = apply_one(places, one, number) {
            problems.push(Problem {
                what: wrong.what,
                places: vec![Place::Typed(one.to_string())],
                expected: wrong.expected,
                next: wrong.next,
            });
        }
    }
    problems
}

fn apply_one(places: &mut Places, one: &Override, number: usize) -> Result<(), Misplaced> {
    let example = "such as load.part.2.count=10";
    let Some((key, value)) = split_typed(&one.typed) else {
        return Err(misplaced("there is no = in it".to_owned(), "KEY=VALUE", example));
    };
    let segments = split_key(key).ok_or_else(|| {
        misplaced("the key cannot be read".to_owned(), "names joined by points", example)
    })?;
    let (first, rest) = match segments.split_first() {
        Some((first, rest)) if !rest.is_empty() => (first, rest),
        _ => {
            let what = format!("\"{}\" names no value", shorten(key));
            return Err(misplaced(what, "bake., oven. or load. and a dotted path", example));
        }
    };
    let words = FileKind::ALL.map(FileKind::word);
    let Some(file) = FileKind::ALL.into_iter().find(|file| file.word() == first) else {
        let next =
            nearest(first, words).map_or(example.to_owned(), |w| format!("did you mean {w}?"));
        let what = format!("\"{}\" is none of the files", shorten(first));
        return Err(misplaced(what, "a key that starts with bake., oven. or load.", next));
    };
    if one.reach == Reach::Truth && file == FileKind::Bake {
        let what = "a bake has no truth of its own".to_owned();
        return Err(misplaced(what, "a key of oven or load", "use --set for the bake"));
    }
    // A file that could not be read has been reported already.
    let Some(table) = places.tree_mut(file) else { return Ok(()) };
    put(table, rest, tree::parse_typed(value, number), number)
}

/// Splits at the first `=` outside quotation marks.
fn split_typed(typed: &str) -> Option<(&str, &str)> {
    let mut quoted = false;
    let at = typed.char_indices().find_map(|(at, c)| {
        quoted ^= c == '"';
        (c == '=' && !quoted).then_some(at)
    })?;
    let (key, value) = typed.split_at_checked(at)?;
    Some((key.trim(), value.get(1..)?.trim()))
}

/// Splits a dotted key; a segment may stand in quotation marks.
fn split_key(key: &str) -> Option<Vec<String>> {
    let mut segments = Vec::new();
    let mut current = String::new();
    let mut quoted = false;
    for c in key.chars() {
        match c {
            '"' => quoted = !quoted,
            '.' if !quoted => segments.push(std::mem::take(&mut current)),
            c => current.push(c),
        }
    }
    segments.push(current);
    let segments: Vec<String> = segments.iter().map(|s| s.trim().to_owned()).collect();
    (!quoted && segments.len() <= 16 && segments.iter().all(|s| !s.is_empty())).then_some(segments)
}

fn put(table: &mut Table, path: &[String], node: Node, number: usize) -> Result<(), Misplaced> {
    let Some((key, rest)) = path.split_first() else { return Ok(()) };
    if table.entry(key).is_none() {
        let empty = Node { value: Value::Table(Table::default()), origin: Origin::Typed(number) };
        table.entries.push(Entry { key: key.clone(), origin: Origin::Typed(number), node: empty });
    }
    let Some(entry) = table.entry_mut(key) else { return Ok(()) };
    if rest.is_empty() {
        entry.node = node;
        return Ok(());
    }
    put_below(key, &mut entry.node, rest, node, number)
}

fn put_below(
    key: &str,
    target: &mut Node,
    rest: &[String],
    node: Node,
    number: usize,
) -> Result<(), Misplaced> {
    match &mut target.value {
        Value::Table(table) => put(table, rest, node, number),
        Value::List(items) => {
            let Some((wanted, rest)) = rest.split_first() else { return Ok(()) };
            let index = find_item(key, items, wanted)?;
            let Some(item) = items.get_mut(index) else { return Ok(()) };
            if rest.is_empty() {
                *item = node;
                return Ok(());
            }
            put_below(wanted, item, rest, node, number)
        }
        other => {
            let what = format!("\"{}\" is {}, with no keys below it", shorten(key), other.kind());
            Err(misplaced(what, "a key of the file", "shorten the key"))
        }
    }
}

/// An item of a list by its name, or by its number from 1.
fn find_item(key: &str, items: &[Node], wanted: &str) -> Result<usize, Misplaced> {
    let name = |node: &Node| match &node.value {
        Value::Table(table) => match table.get("name").map(|node| &node.value) {
            Some(Value::Text(name)) => Some(name.clone()),
            _ => None,
        },
        _ => None,
    };
    let names: Vec<Option<String>> = items.iter().map(name).collect();
    if let Some(index) = names.iter().position(|name| name.as_deref() == Some(wanted)) {
        return Ok(index);
    }
    if let Ok(from_one) = wanted.parse::<usize>() {
        return match from_one.checked_sub(1).filter(|index| *index < items.len()) {
            Some(index) => Ok(index),
            None => {
                let what = format!("there is no {key} {from_one}");
                let expected = match items.len() {
                    0 => format!("a {key} in the file"),
                    1 => "1: there is one".to_owned(),
                    count => format!("a number from 1 to {count}"),
                };
                Err(misplaced(what, &expected, "count the entries in the file"))
            }
        };
    }
    let known = names.iter().flatten().map(String::as_str);
    let next = match nearest(wanted, known) {
        Some(near) => format!("did you mean \"{near}\"?"),
        None => format!("use its number, from 1 to {}", items.len()),
    };
    let what = format!("no {key} is called \"{}\"", shorten(wanted));
    Err(misplaced(what, "a name in the file, or a number from 1", next))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_key_ends_at_the_first_equals_sign_outside_quotation_marks() {
        assert_eq!(split_typed("a.b=1"), Some(("a.b", "1")));
        assert_eq!(split_typed(" a.b = \"x=y\" "), Some(("a.b", "\"x=y\"")));
        assert_eq!(split_typed("a.\"k=v\".b=2"), Some(("a.\"k=v\".b", "2")));
        assert_eq!(split_typed("a.b="), Some(("a.b", "")));
        assert_eq!(split_typed("a.b"), None);
        assert_eq!(split_typed("a.\"b=1"), None);
    }

    #[test]
    fn a_key_is_cut_at_points_outside_quotation_marks() {
        let cut = |key: &str| split_key(key).map(|segments| segments.join("|"));
        assert_eq!(cut("load.part.2.count").as_deref(), Some("load|part|2|count"));
        assert_eq!(
            cut("bake.step.\"gas-out 1.5 h\".soak").as_deref(),
            Some("bake|step|gas-out 1.5 h|soak")
        );
        assert_eq!(cut(" bake . name ").as_deref(), Some("bake|name"));
        for bad in ["", "a..b", ".a", "a.", "a.\"b", &"a.".repeat(40)] {
            assert_eq!(cut(bad), None, "{bad}");
        }
    }

    #[test]
    fn an_override_is_put_in_where_its_key_leads_and_makes_the_tables_on_the_way() {
        let (mut table, errors) =
            tree::parse("name = \"x\"\n[[part]]\nname = \"lever\"\ncount = 1\n", 0);
        assert!(errors.is_empty());
        let mut set = |key: &str, value: &str| {
            let path = split_key(key).unwrap_or_default();
            put(&mut table, &path, tree::parse_typed(value, 0), 0).map_err(|wrong| wrong.what)
        };
        assert_eq!(set("part.1.count", "3"), Ok(()));
        assert_eq!(set("part.lever.surface", "\"blasted\""), Ok(()));
        assert_eq!(set("rack.material", "mild steel"), Ok(()), "what is not TOML is a text");
        assert_eq!(set("part.2.count", "3"), Err("there is no part 2".to_owned()));
        assert_eq!(set("part.0.count", "3"), Err("there is no part 0".to_owned()));
        assert_eq!(set("part.hub.count", "3"), Err("no part is called \"hub\"".to_owned()));
        assert!(set("name.x", "3").is_err_and(|what| what.contains("with no keys below it")));
        let found = |key: &str| {
            let (mut value, mut at) = (None, Some(&table));
            for segment in split_key(key).unwrap_or_default() {
                let node = at.and_then(|table| table.get(&segment));
                (value, at) = match node.map(|node| &node.value) {
                    Some(Value::Table(table)) => (None, Some(table)),
                    Some(Value::List(items)) => match items.first().map(|item| &item.value) {
                        Some(Value::Table(table)) => (None, Some(table)),
                        other => (other.cloned(), None),
                    },
                    other => (other.cloned(), None),
                };
            }
            value
        };
        assert!(matches!(found("part.count"), Some(Value::Integer(3))));
        assert!(matches!(found("part.surface"), Some(Value::Text(text)) if text == "blasted"));
        assert!(matches!(found("rack.material"), Some(Value::Text(text)) if text == "mild steel"));
    }
}
