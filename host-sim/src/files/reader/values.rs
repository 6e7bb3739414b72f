//! Taking single values out of a table: quantities, numbers, words and texts.
//!
//! What cannot be used is reported with its repair and given back as not-a-number, `None` or an
//! empty text; nothing here fails.

use super::{DURATION_MAX_S, Range, Section, TEMPERATURE_MAX_C, TEXT_MAX};
use crate::files::problem::{Finding, nearest};
use crate::files::quantity::{self, Complaint, Dimension, shorten};
use crate::files::tree::Value;

impl Section<'_> {
    fn complain(&self, key: &str, complaint: Complaint) {
        let Complaint { what, expected, next } = complaint;
        let what = format!("{key}: {what}");
        self.ledger.report(Finding::new(self.at(key), what, expected, next));
    }

    /// A quantity; not-a-number where it cannot be used.
    pub(in crate::files) fn quantity(
        &self,
        key: &'static str,
        dimension: Dimension,
        range: Range,
    ) -> Option<f64> {
        let node = self.node(key)?;
        let text = match &node.value {
            Value::Text(text) => text.clone(),
            Value::Integer(number) => {
                self.complain(key, dimension.no_unit(number));
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
            let next = "check the number, its sign and its unit".to_owned();
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
    pub(in crate::files) fn need_quantity(
        &self,
        key: &'static str,
        dimension: Dimension,
        range: Range,
    ) -> f64 {
        self.need_quantity_like(key, dimension, range, dimension.examples()[0])
    }

    /// A quantity that must be there, with an example of its own.
    pub(in crate::files) fn need_quantity_like(
        &self,
        key: &'static str,
        dimension: Dimension,
        range: Range,
        example: &str,
    ) -> f64 {
        self.quantity(key, dimension, range).unwrap_or_else(|| {
            self.missing(key, dimension.wanted(), &format!("\"{example}\""));
            f64::NAN
        })
    }

    /// A quantity with a default, which is written down where it is used.
    pub(in crate::files) fn quantity_or(
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

    /// A bare number.
    pub(in crate::files) fn number(&self, key: &'static str, low: f64, high: f64) -> Option<f64> {
        self.number_like(key, (low, high), 0.5 * (low + high))
    }

    /// A bare number, told with an example where it cannot be used.
    fn number_like(&self, key: &'static str, (low, high): (f64, f64), example: f64) -> Option<f64> {
        let node = self.node(key)?;
        let expected = format!("a bare number from {low} to {high}");
        let next = format!("write {key} = {example}");
        let value = match &node.value {
            #[allow(clippy::cast_precision_loss)] // far beyond any range that is accepted
            Value::Integer(value) => *value as f64,
            Value::Float(value, _) => *value,
            _ => {
                self.wrong_kind(key, node, &expected, next);
                return Some(f64::NAN);
            }
        };
        if (low..=high).contains(&value) {
            return Some(value);
        }
        self.report(key, format!("{key} = {value} is out of range"), &expected, next);
        Some(f64::NAN)
    }

    /// A bare number with a default.
    pub(in crate::files) fn number_or(
        &self,
        key: &'static str,
        (low, high): (f64, f64),
        default: f64,
        source: &str,
    ) -> f64 {
        self.number_like(key, (low, high), default).unwrap_or_else(|| {
            self.defaulted(key, &default.to_string(), source);
            default
        })
    }

    /// A whole number.
    pub(in crate::files) fn integer(&self, key: &'static str, low: i64, high: i64) -> Option<i64> {
        let node = self.node(key)?;
        let expected = format!("a whole number from {low} to {high}");
        match &node.value {
            Value::Integer(value) if (low..=high).contains(value) => Some(*value),
            Value::Integer(value) => {
                let what = format!("{key} = {value} is out of range");
                let nearest = value.clamp(&low, &high);
                self.report(key, what, &expected, format!("write {key} = {nearest}"));
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
    pub(in crate::files) fn flag(&self, key: &'static str) -> Option<bool> {
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
    pub(in crate::files) fn flag_or(&self, key: &'static str, default: bool, source: &str) -> bool {
        if !self.has(key) {
            self.defaulted(key, &default.to_string(), source);
        }
        self.flag(key).unwrap_or(default)
    }

    /// A line of text.
    pub(in crate::files) fn text(&self, key: &'static str) -> Option<String> {
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
    pub(in crate::files) fn need_text(&self, key: &'static str, example: &str) -> String {
        self.text(key).unwrap_or_else(|| {
            self.missing(key, "a text in quotation marks".to_owned(), &format!("\"{example}\""));
            String::new()
        })
    }

    /// A step by name, or (the error) by number from 1.
    pub(in crate::files) fn step_reference(
        &self,
        key: &'static str,
    ) -> Option<Result<String, usize>> {
        let node = self.node(key)?;
        if let Value::Integer(number) = node.value {
            return Some(Err(usize::try_from(number).unwrap_or(0)));
        }
        self.text(key).map(Ok)
    }

    /// One of a few words.
    pub(in crate::files) fn choice<T: Copy>(
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
    pub(in crate::files) fn need_choice<T: Copy>(
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
    pub(in crate::files) fn choice_or<T: Copy>(
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
