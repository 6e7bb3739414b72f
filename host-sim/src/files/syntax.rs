//! Slips in the TOML itself, told in the words of the person who made them.

use super::problem::{Place, Problem};
use super::quantity::shorten;
use super::source::around;
use super::tree::SyntaxError;

/// A syntax error as a problem: the common slips by name, the rest as the parser says.
pub(super) fn explain(error: &SyntaxError, text: &str, place: &Place) -> Problem {
    let line = around(error, text);
    let code = line.split('#').next().unwrap_or(line);
    let start = error.span.start.min(text.len());
    let end = error.span.end.min(text.len()).max(start);
    let at_fault = text.get(start..end).unwrap_or("").trim();
    let problem = |what: String, expected: &str, next: String| Problem {
        what,
        places: vec![place.clone()],
        expected: expected.to_owned(),
        next,
    };
    if code.contains(['“', '”', '‘', '’', '„']) {
        let straight = code.replace(['“', '”', '„'], "\"").replace(['‘', '’'], "'");
        let next = format!("write {}", shorten(straight.trim()));
        return problem("curly quotes around a text".to_owned(), "straight quotes: \"", next);
    }
    if error.message.contains("duplicate key") {
        let what = format!("\"{}\" is given twice", shorten(at_fault));
        return problem(what, "each key once in its table", "remove one of the two".to_owned());
    }
    if error.message.contains("string values must be quoted") {
        if at_fault.is_empty() {
            let next = "write the value behind the =".to_owned();
            return problem("a key without a value".to_owned(), "key = value", next);
        }
        let what = format!("{} is not in quotation marks", shorten(at_fault));
        let next = format!("write \"{}\"", shorten(at_fault));
        return problem(what, "a text in straight quotes, such as \"149 °C\"", next);
    }
    if error.message.contains("carriage return") {
        let next = "save it again with ordinary line ends in the editor".to_owned();
        let what = "a line ends in a bare carriage return".to_owned();
        return problem(what, "lines that end in a line feed, or in both", next);
    }
    let number_with_comma = code.split_once('=').is_some_and(|(_, value)| {
        value.trim_start().starts_with(|c: char| c.is_ascii_digit()) && value.contains(',')
    });
    if error.message.contains("unexpected key or value") && number_with_comma {
        let next = "write the number with a point, in quotation marks, with its unit".to_owned();
        return problem("a comma in a number".to_owned(), "a decimal point", next);
    }
    let next = "check the quotation marks, brackets and = of this line".to_owned();
    problem(
        format!("this line is not TOML: {}", plain(&error.message)),
        "TOML, such as name = \"text\"",
        next,
    )
}

/// The parser's words without its hints on expected tokens.
fn plain(message: &str) -> &str {
    message.split(", expected").next().unwrap_or(message)
}
