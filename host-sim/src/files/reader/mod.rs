//! Taking typed values out of a tree and writing down everything that is wrong on the way.
//!
//! A [`Section`] is one table being read. Every getter remembers the key it asked for, so that
//! [`Section::finish`] can tell a key nobody asked for and name the nearest one that is known.
//! A value that cannot be used is reported and given back as not-a-number, so that reading goes on
//! and all problems come out together.

#[cfg(test)]
mod tests;
mod values;

use std::cell::RefCell;

use super::problem::{Finding, KeyPath, PROBLEMS_KEPT, nearest};
use super::quantity::shorten;
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
    /// Writes a problem down; the same one once, and no more than anybody would read.
    pub(super) fn report(&self, finding: Finding) {
        let mut findings = self.findings.borrow_mut();
        if findings.len() < PROBLEMS_KEPT && !findings.contains(&finding) {
            findings.push(finding);
        }
    }

    fn is_full(&self) -> bool {
        self.findings.borrow().len() >= PROBLEMS_KEPT
    }

    /// Writes a default down.
    pub(super) fn write_default(&self, key: String, value: String, source: &str) {
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
    pub(super) fn fault(self, value: f64) -> Option<(&'static str, &'static str)> {
        match self {
            Self::NotNegative if value < 0.0 => Some(("is negative", "zero or more")),
            Self::Positive if value < 0.0 => Some(("is negative", "more than zero")),
            Self::Positive if value == 0.0 => Some(("is zero", "more than zero")),
            Self::Within(low, _, words) if value < 0.0 && low >= 0.0 => {
                Some(("is negative", words))
            }
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

    fn missing(&self, key: &str, expected: String, example: &str) {
        let what = format!("{} is missing", self.name_of(key));
        let next = format!("add {key} = {example}");
        self.ledger.report(Finding::new(self.path(), what, expected, next));
    }

    /// A key with the tables it stands in, as a person would say it.
    pub(super) fn name_of(&self, key: &str) -> String {
        let path = self.at(key).typed_key();
        path.split_once('.').map_or(path.clone(), |(_, rest)| rest.to_owned())
    }

    fn wrong_kind(&self, key: &str, node: &Node, expected: &str, next: String) {
        let what = format!("{key} is {}", node.value.kind());
        self.ledger.report(Finding::new(self.at(key), what, expected, next));
    }

    /// Writes down that a default was used for a key.
    pub(super) fn defaulted(&self, key: &str, value: &str, source: &str) {
        self.ledger.write_default(self.at(key).typed_key(), value.to_owned(), source);
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
            if self.ledger.is_full() {
                return;
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
