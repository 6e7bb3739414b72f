//! Taking typed values out of a tree and writing down everything that is wrong on the way.
//!
//! A [`Section`] is one table being read. Every getter remembers the key it asked for, so that
//! [`Section::finish`] can tell a key nobody asked for and name the nearest one that is known.
//! A value that cannot be used is reported and given back as not-a-number, so that reading goes on
//! and all problems come out together.

use std::cell::RefCell;

use super::problem::{Finding, KeyPath, nearest};
use super::quantity::{self, Complaint, Dimension, shorten};
use super::tree::{Node, Table, Value};

/// Longest name or question, characters.
const TEXT_MAX: usize = 120;
/// Longest time any key takes, s: a month. Ticks of 100 ms stay far inside 32 bits.
pub(super) const DURATION_MAX_S: f64 = 31.0 * 86_400.0;
/// Hottest temperature any key takes, °C.
pub(super) const TEMPERATURE_MAX_C: f64 = 1200.0;

/// A value nobody gave and what was taken instead.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DefaultUsed {
    /// The key, as `--set` takes it.
    pub key: String,
    /// The value taken.
    pub value: String,
    /// Why that one.
    pub source: String,
}

/// What reading found out: problems and defaults used.
#[derive(Debug, Default)]
pub(super) struct Ledger {
    findings: RefCell<Vec<Finding>>,
    defaults: RefCell<Vec<DefaultUsed>>,
}

impl Ledger {
    /// Writes a problem down; the same one once.
    pub(super) fn report(&self, finding: Finding) {
        let mut findings = self.findings.borrow_mut();
        if !findings.contains(&finding) {
            findings.push(finding);
        }
    }

    /// Writes a default down.
    pub(super) fn default(&self, key: String, value: String, source: &str) {
        self.defaults.borrow_mut().push(DefaultUsed { key, value, source: source.to_owned() });
    }

    pub(super) fn has_findings(&self) -> bool {
        !self.findings.borrow().is_empty()
    }

    /// Everything written down.
    pub(super) fn take(self) -> (Vec<Finding>, Vec<DefaultUsed>) {
        (self.findings.into_inner(), self.defaults.into_inner())
    }
}

/// Which values of a quantity make sense.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Range {
    /// Any.
    Any,
    /// Zero or more.
    NotNegative,
    /// More than zero.
    Positive,
    /// From, to; in SI, told with these words.
    Within(f64, f64, &'static str),
}

impl Range {
    /// What is wrong with a value, if anything.
    fn fault(self, value: f64) -> Option<(&'static str, &'static str)> {
        match self {
            Self::NotNegative if value < 0.0 => Some(("is negative", "zero or more")),
            Self::Positive if value < 0.0 => Some(("is negative", "more than zero")),
            Self::Positive if value == 0.0 => Some(("is zero", "more than zero")),
            Self::Within(low, high, words) if !(low..=high).contains(&value) => {
                Some(("is out of range", words))
            }
            _ => None,
        }
    }
}

/// One table being read.
pub(super) struct Section<'t> {
    table: &'t Table,
    path: KeyPath,
    ledger: &'t Ledger,
    asked: RefCell<Vec<&'static str>>,
}

impl<'t> Section<'t> {
    /// A table at a path.
    pub(super) fn new(table: &'t Table, path: KeyPath, ledger: &'t Ledger) -> Self {
        Self { table, path, ledger, asked: RefCell::new(Vec::new()) }
    }

    /// Where this table stands.
    pub(super) fn path(&self) -> KeyPath {
        self.path.clone()
    }

    /// Where one of its keys stands.
    pub(super) fn at(&self, key: &str) -> KeyPath {
        self.path.clone().key(key)
    }

    /// Where problems go.
    pub(super) fn ledger(&self) -> &'t Ledger {
        self.ledger
    }

    /// A key is there; counts as asked for.
    pub(super) fn has(&self, key: &'static str) -> bool {
        self.node(key).is_some()
    }

    fn node(&self, key: &'static str) -> Option<&'t Node> {
        self.asked.borrow_mut().push(key);
        self.table.get(key)
    }

    /// Reports a problem with the value of a key.
    pub(super) fn report(&self, key: &str, what: String, expected: &str, next: String) {
        self.ledger.report(Finding::new(self.at(key), what, expected, next));
    }

    fn complain(&self, key: &str, complaint: Complaint) {
        let Complaint { what, expected, next } = complaint;
        let what = format!("{key}: {what}");
        self.ledger.report(Finding::new(self.at(key), what, expected, next));
    }

    fn missing(&self, key: &str, expected: String, example: &str) {
        let what = format!("{} is missing", self.name_of(key));
        let next = format!("add {key} = {example}");
        self.ledger.report(Finding::new(self.path(), what, expected, next));
    }

    /// A key with the tables it stands in, as a person would say it.
    pub(super) fn name_of(&self, key: &str) -> String {
        let path = self.at(key).to_string();
        path.split_once('.').map_or(path.clone(), |(_, rest)| rest.to_owned())
    }

    fn wrong_kind(&self, key: &str, node: &Node, expected: &str, next: String) {
        let what = format!("{key} is {}", node.value.kind());
        self.ledger.report(Finding::new(self.at(key), what, expected, next));
    }

    /// A quantity; not-a-number where it cannot be used.
    pub(super) fn quantity(
        &self,
        key: &'static str,
        dimension: Dimension,
        range: Range,
    ) -> Option<f64> {
        let node = self.node(key)?;
        let text = match &node.value {
            Value::Text(text) => text.clone(),
            Value::Integer(number) => {
                self.complain(key, dimension.no_unit(&number.to_string()));
                return Some(f64::NAN);
            }
            Value::Float(number, written) => {
                self.complain(key, bare_number(*number, written, dimension));
                return Some(f64::NAN);
            }
            _ => {
                let next = format!("write {key} = \"{}\"", dimension.examples()[0]);
                self.wrong_kind(key, node, &dimension.wanted(), next);
                return Some(f64::NAN);
            }
        };
        Some(match quantity::parse(&text, dimension) {
            Ok(value) => self.in_range(key, &text, value, dimension, range),
            Err(complaint) => {
                self.complain(key, complaint);
                f64::NAN
            }
        })
    }

    fn in_range(
        &self,
        key: &str,
        text: &str,
        value: f64,
        dimension: Dimension,
        range: Range,
    ) -> f64 {
        let shown = shorten(text);
        if let Some((fault, expected)) = range.fault(value) {
            let example = dimension.examples()[0];
            let next = format!("check the sign and the unit; {example} is an example");
            self.report(key, format!("{key}: {shown} {fault}"), expected, next);
            return f64::NAN;
        }
        if dimension == Dimension::Duration && value.abs() > DURATION_MAX_S {
            let what = format!("{key}: {shown} is longer than any bake");
            self.report(key, what, "at most 31 days", "check the number and the unit".to_owned());
            return f64::NAN;
        }
        if dimension == Dimension::Temperature && value > TEMPERATURE_MAX_C {
            let what = format!("{key}: {shown} is hotter than any oven here");
            self.report(key, what, "at most 1200 °C", "check the number and the unit".to_owned());
            return f64::NAN;
        }
        value
    }

    /// A quantity that must be there.
    pub(super) fn need_quantity(
        &self,
        key: &'static str,
        dimension: Dimension,
        range: Range,
    ) -> f64 {
        self.quantity(key, dimension, range).unwrap_or_else(|| {
            self.missing(key, dimension.wanted(), &format!("\"{}\"", dimension.examples()[0]));
            f64::NAN
        })
    }

    /// A quantity with a default, which is written down where it is used.
    pub(super) fn quantity_or(
        &self,
        key: &'static str,
        dimension: Dimension,
        range: Range,
        default: &str,
        source: &str,
    ) -> f64 {
        self.quantity(key, dimension, range).unwrap_or_else(|| {
            self.defaulted(key, default, source);
            quantity::parse(default, dimension).unwrap_or(f64::NAN)
        })
    }

    /// Writes down that a default was used for a key.
    pub(super) fn defaulted(&self, key: &str, value: &str, source: &str) {
        self.ledger.default(self.at(key).typed_key(), value.to_owned(), source);
    }

    /// A bare number.
    pub(super) fn number(&self, key: &'static str, low: f64, high: f64) -> Option<f64> {
        let node = self.node(key)?;
        let value = match &node.value {
            #[allow(clippy::cast_precision_loss)] // far beyond any range that is accepted
            Value::Integer(value) => *value as f64,
            Value::Float(value, _) => *value,
            _ => {
                let expected = format!("a bare number from {low} to {high}");
                self.wrong_kind(
                    key,
                    node,
                    &expected,
                    format!("write {key} = {}", middle(low, high)),
                );
                return Some(f64::NAN);
            }
        };
        if (low..=high).contains(&value) {
            return Some(value);
        }
        let what = format!("{key} = {value} is out of range");
        let expected = format!("a bare number from {low} to {high}");
        self.report(key, what, &expected, format!("write {key} = {}", middle(low, high)));
        Some(f64::NAN)
    }

    /// A bare number with a default.
    pub(super) fn number_or(
        &self,
        key: &'static str,
        (low, high): (f64, f64),
        default: f64,
        source: &str,
    ) -> f64 {
        self.number(key, low, high).unwrap_or_else(|| {
            self.defaulted(key, &default.to_string(), source);
            default
        })
    }

    /// A whole number.
    pub(super) fn integer(&self, key: &'static str, low: i64, high: i64) -> Option<i64> {
        let node = self.node(key)?;
        let expected = format!("a whole number from {low} to {high}");
        match &node.value {
            Value::Integer(value) if (low..=high).contains(value) => Some(*value),
            Value::Integer(value) => {
                let what = format!("{key} = {value} is out of range");
                self.report(key, what, &expected, format!("write {key} = {low}"));
                None
            }
            Value::Float(_, written) => {
                let what = format!("{key} = {} is not a whole number", shorten(written));
                self.report(key, what, &expected, format!("write {key} = {low}"));
                None
            }
            _ => {
                self.wrong_kind(key, node, &expected, format!("write {key} = {low}"));
                None
            }
        }
    }

    /// `true` or `false`.
    pub(super) fn flag(&self, key: &'static str) -> Option<bool> {
        let node = self.node(key)?;
        if let Value::Flag(flag) = node.value {
            return Some(flag);
        }
        self.wrong_kind(
            key,
            node,
            "true or false, without quotation marks",
            format!("write {key} = true"),
        );
        None
    }

    /// `true` or `false` with a default.
    pub(super) fn flag_or(&self, key: &'static str, default: bool, source: &str) -> bool {
        if !self.has(key) {
            self.defaulted(key, &default.to_string(), source);
        }
        self.flag(key).unwrap_or(default)
    }

    /// A line of text.
    pub(super) fn text(&self, key: &'static str) -> Option<String> {
        let node = self.node(key)?;
        let Value::Text(text) = &node.value else {
            let next = format!("write {key} = \"…\"");
            self.wrong_kind(key, node, "a text in quotation marks", next);
            return Some(String::new());
        };
        let trimmed = text.trim();
        let fault = if trimmed.is_empty() {
            Some("is empty")
        } else if trimmed.chars().count() > TEXT_MAX {
            Some("is longer than 120 characters")
        } else if trimmed.chars().any(char::is_control) {
            Some("has a control character in it")
        } else {
            None
        };
        if let Some(fault) = fault {
            let next = "write one short line".to_owned();
            self.report(key, format!("{key} {fault}"), "a text of 1 to 120 characters", next);
        }
        Some(trimmed.to_owned())
    }

    /// A line of text that must be there.
    pub(super) fn need_text(&self, key: &'static str, example: &str) -> String {
        self.text(key).unwrap_or_else(|| {
            self.missing(key, "a text in quotation marks".to_owned(), &format!("\"{example}\""));
            String::new()
        })
    }

    /// A step by name, or (the error) by number from 1.
    pub(super) fn step_reference(&self, key: &'static str) -> Option<Result<String, usize>> {
        let node = self.node(key)?;
        if let Value::Integer(number) = node.value {
            return Some(Err(usize::try_from(number).unwrap_or(0)));
        }
        self.text(key).map(Ok)
    }

    /// One of a few words.
    pub(super) fn choice<T: Copy>(
        &self,
        key: &'static str,
        choices: &[(&'static str, T)],
    ) -> Option<T> {
        let node = self.node(key)?;
        let words: Vec<String> = choices.iter().map(|(word, _)| format!("\"{word}\"")).collect();
        let expected = words.join(", ");
        let Value::Text(text) = &node.value else {
            self.wrong_kind(key, node, &expected, format!("write {key} = {}", words.first()?));
            return None;
        };
        if let Some((_, value)) = choices.iter().find(|(word, _)| word == text) {
            return Some(*value);
        }
        let next = match nearest(text, choices.iter().map(|(word, _)| *word)) {
            Some(near) => format!("did you mean \"{near}\"?"),
            None => "write one of them".to_owned(),
        };
        self.report(key, format!("{key} = \"{}\" is not known", shorten(text)), &expected, next);
        None
    }

    /// One of a few words that must be there.
    pub(super) fn need_choice<T: Copy>(
        &self,
        key: &'static str,
        choices: &[(&'static str, T)],
    ) -> Option<T> {
        if !self.has(key) {
            let words: Vec<String> =
                choices.iter().map(|(word, _)| format!("\"{word}\"")).collect();
            let example = words.first().cloned().unwrap_or_default();
            self.missing(key, words.join(", "), &example);
        }
        self.choice(key, choices)
    }

    /// One of a few words with a default, the first one.
    pub(super) fn choice_or<T: Copy>(
        &self,
        key: &'static str,
        choices: &[(&'static str, T)],
        default: T,
        source: &str,
    ) -> T {
        if !self.has(key)
            && let Some((word, _)) = choices.first()
        {
            self.defaulted(key, word, source);
        }
        self.choice(key, choices).unwrap_or(default)
    }

    /// A table below.
    pub(super) fn section(&self, key: &'static str) -> Option<Section<'t>> {
        let node = self.node(key)?;
        let Value::Table(table) = &node.value else {
            let next = format!("write [{}] and its keys below", self.name_of(key));
            self.wrong_kind(key, node, "a table", next);
            return None;
        };
        Some(Section::new(table, self.at(key), self.ledger))
    }

    /// A table that must be there.
    pub(super) fn need_section(&self, key: &'static str, holds: &str) -> Option<Section<'t>> {
        if !self.has(key) {
            let what = format!("[{}] is missing", self.name_of(key));
            let next = format!("add [{}] with {holds}", self.name_of(key));
            self.ledger.report(Finding::new(
                self.path(),
                what,
                format!("a table with {holds}"),
                next,
            ));
        }
        self.section(key)
    }

    /// A list of tables below, at most so many.
    pub(super) fn items(&self, key: &'static str, most: usize) -> Vec<Section<'t>> {
        let Some(node) = self.node(key) else { return Vec::new() };
        let next = format!("write [[{key}]] and its keys below, once for each");
        let Value::List(items) = &node.value else {
            self.wrong_kind(key, node, "a list of tables", next);
            return Vec::new();
        };
        if items.len() > most {
            let what = format!("there are {} of [[{key}]]", items.len());
            let next = format!("leave out {}, or split the work", items.len() - most);
            let at = self.at(key).item(most);
            self.ledger.report(Finding::new(at, what, format!("at most {most}"), next));
        }
        let mut sections = Vec::new();
        for (index, item) in items.iter().enumerate().take(most) {
            let at = self.at(key).item(index);
            match &item.value {
                Value::Table(table) => sections.push(Section::new(table, at, self.ledger)),
                other => {
                    let what = format!("{key} holds {}", other.kind());
                    self.ledger.report(Finding::new(at, what, "tables", next.clone()));
                }
            }
        }
        sections
    }

    /// The first of these keys that is there.
    pub(super) fn present(&self, keys: &[&'static str]) -> Vec<&'static str> {
        keys.iter().copied().filter(|key| self.has(key)).collect()
    }

    /// Reports every key nobody asked for.
    pub(super) fn finish(&self) {
        let asked = self.asked.borrow();
        for entry in &self.table.entries {
            if asked.contains(&entry.key.as_str()) {
                continue;
            }
            let mut known: Vec<&str> = asked.clone();
            known.sort_unstable();
            known.dedup();
            let next = match nearest(&entry.key, known.iter().copied()) {
                Some(near) => format!("did you mean {near}?"),
                None => "remove it".to_owned(),
            };
            let what = format!("{} is not a key known here", shorten(&entry.key));
            let at = self.at(&entry.key).itself();
            self.ledger.report(Finding::new(
                at,
                what,
                format!("one of {}", known.join(", ")),
                next,
            ));
        }
    }
}

fn bare_number(number: f64, written: &str, dimension: Dimension) -> Complaint {
    if number.is_finite() {
        return dimension.no_unit(&shorten(written));
    }
    Complaint {
        what: format!("{} is not a number that can be used", shorten(written)),
        expected: dimension.wanted(),
        next: "write an ordinary number with its unit".to_owned(),
    }
}

/// A number to show as an example.
fn middle(low: f64, high: f64) -> f64 {
    if high - low > 2.0 { (low + 1.0).round() } else { 0.5 * (low + high) }
}
