//! A TOML file as a tree that remembers where every key and value came from.
//!
//! Entries keep the order of the file. A value comes from a place in the text or from an override
//! typed on the command line. Depth is limited by the parser (it refuses what it cannot nest), so
//! walking the tree is bounded.

use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::problem::{KeyPath, Segment};

/// Where a key or value came from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Origin {
    /// Bytes of the file's text.
    Text(Range<usize>),
    /// The override with this number.
    Typed(usize),
}

/// A value and where it came from.
#[derive(Clone, Debug)]
pub(super) struct Node {
    /// What it is.
    pub(super) value: Value,
    /// Where it came from.
    pub(super) origin: Origin,
}

/// A value.
#[derive(Clone, Debug)]
pub(super) enum Value {
    /// A string.
    Text(String),
    /// A whole number.
    Integer(i64),
    /// Any other number, as written beside it.
    Float(f64, String),
    /// `true` or `false`.
    Flag(bool),
    /// A date or time, which no key here takes.
    Date,
    /// A list.
    List(Vec<Node>),
    /// A table.
    Table(Table),
}

/// A table, in the order of the file.
#[derive(Clone, Debug, Default)]
pub(super) struct Table {
    /// Its entries.
    pub(super) entries: Vec<Entry>,
}

/// One key with its value.
#[derive(Clone, Debug)]
pub(super) struct Entry {
    /// The key.
    pub(super) key: String,
    /// Where the key stands.
    pub(super) origin: Origin,
    /// The value.
    pub(super) node: Node,
}

/// A syntax error: bytes of the text and what the parser says.
pub(super) struct SyntaxError {
    /// Where.
    pub(super) span: Range<usize>,
    /// What, in the parser's words.
    pub(super) message: String,
}

impl Value {
    /// What kind of value this is, with an article.
    pub(super) fn kind(&self) -> &'static str {
        match self {
            Self::Text(_) => "a text",
            Self::Integer(_) | Self::Float(..) => "a bare number",
            Self::Flag(_) => "true or false",
            Self::Date => "a date",
            Self::List(_) => "a list",
            Self::Table(_) => "a table",
        }
    }
}

impl Table {
    /// The entry of a key.
    pub(super) fn entry(&self, key: &str) -> Option<&Entry> {
        self.entries.iter().find(|entry| entry.key == key)
    }

    /// The entry of a key, to change.
    pub(super) fn entry_mut(&mut self, key: &str) -> Option<&mut Entry> {
        self.entries.iter_mut().find(|entry| entry.key == key)
    }

    /// The value of a key.
    pub(super) fn get(&self, key: &str) -> Option<&Node> {
        self.entry(key).map(|entry| &entry.node)
    }
}

/// Reads a text; what the parser could save is given even where it found errors.
pub(super) fn parse(text: &str, offset: usize) -> (Table, Vec<SyntaxError>) {
    let (table, errors) = DeTable::parse_recoverable(text);
    let errors = errors
        .into_iter()
        .map(|error| {
            let span = error.span().unwrap_or(0..0);
            let span = span.start + offset..span.end + offset;
            SyntaxError { span, message: error.message().to_owned() }
        })
        .collect();
    (
        convert_table(table.get_ref(), &|span| {
            Origin::Text(span.start + offset..span.end + offset)
        }),
        errors,
    )
}

/// Reads a value typed on the command line: TOML, else a string.
pub(super) fn parse_typed(text: &str, number: usize) -> Node {
    match DeValue::parse(text.trim()) {
        Ok(value) => convert(&value, &|_| Origin::Typed(number)),
        Err(_) => Node { value: Value::Text(text.to_owned()), origin: Origin::Typed(number) },
    }
}

fn convert_table(table: &DeTable<'_>, origin: &dyn Fn(Range<usize>) -> Origin) -> Table {
    let mut found: Vec<_> = table.iter().collect();
    found.sort_by_key(|(key, _)| key.span().start);
    let entries = found
        .into_iter()
        .map(|(key, value)| Entry {
            key: key.get_ref().to_string(),
            origin: origin(key.span()),
            node: convert(value, origin),
        })
        .collect();
    Table { entries }
}

fn convert(value: &Spanned<DeValue<'_>>, origin: &dyn Fn(Range<usize>) -> Origin) -> Node {
    let converted = match value.get_ref() {
        DeValue::String(text) => Value::Text(text.to_string()),
        DeValue::Integer(number) => match i64::from_str_radix(number.as_str(), number.radix()) {
            Ok(whole) => Value::Integer(whole),
            // Beyond 64 bits: no key takes it, so its rounding does not matter.
            Err(_) => Value::Float(
                number.as_str().parse().unwrap_or(f64::INFINITY),
                number.as_str().to_owned(),
            ),
        },
        DeValue::Float(number) => {
            Value::Float(number.as_str().parse().unwrap_or(f64::NAN), number.as_str().to_owned())
        }
        DeValue::Boolean(flag) => Value::Flag(*flag),
        DeValue::Datetime(_) => Value::Date,
        DeValue::Array(items) => Value::List(items.iter().map(|v| convert(v, origin)).collect()),
        DeValue::Table(table) => Value::Table(convert_table(table, origin)),
    };
    Node { value: converted, origin: origin(value.span()) }
}

/// The place of a path, or of as much of it as exists; `None` for the whole file.
pub(super) fn locate<'t>(root: &'t Table, path: &KeyPath) -> Option<&'t Origin> {
    let mut found: Option<&Origin> = None;
    let mut table = Some(root);
    let mut list: Option<&[Node]> = None;
    let last = path.segments.len();
    for (depth, segment) in path.segments.iter().enumerate() {
        let node = match segment {
            Segment::Key(key) => {
                let Some(entry) = table.and_then(|table| table.entry(key)) else { return found };
                if path.on_key && depth + 1 == last {
                    return Some(&entry.origin);
                }
                &entry.node
            }
            Segment::Item(index) => {
                let Some(node) = list.and_then(|items| items.get(*index)) else { return found };
                node
            }
        };
        found = Some(&node.origin);
        table = if let Value::Table(table) = &node.value { Some(table) } else { None };
        list = if let Value::List(items) = &node.value { Some(items) } else { None };
    }
    found
}

/// The string at a path, if there is one.
pub(super) fn text_at<'t>(root: &'t Table, path: &KeyPath) -> Option<&'t str> {
    let mut segments = path.segments.iter();
    let Some(Segment::Key(first)) = segments.next() else { return None };
    let mut node = root.get(first)?;
    for segment in segments {
        node = match (segment, &node.value) {
            (Segment::Key(key), Value::Table(table)) => table.get(key)?,
            (Segment::Item(index), Value::List(items)) => items.get(*index)?,
            _ => return None,
        };
    }
    if let Value::Text(text) = &node.value { Some(text) } else { None }
}
