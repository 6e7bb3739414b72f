//! Taking values out: what is read, what is reported, what comes back where nothing can be used.

use super::*;
use crate::files::problem::FileKind;
use crate::files::quantity::Dimension;
use crate::files::tree;

/// Reads a text as an oven and gives what was found wrong, in words.
fn read<T>(text: &str, take: impl FnOnce(&Section<'_>) -> T) -> (T, Vec<Finding>) {
    let (table, errors) = tree::parse(text, 0);
    assert!(errors.is_empty(), "{text}");
    let ledger = Ledger::default();
    let value = take(&Section::new(&table, KeyPath::root(FileKind::Oven), &ledger));
    (value, ledger.take().0)
}

#[test]
fn a_key_nobody_asked_for_is_told_with_the_nearest_that_is_known() {
    let ((), found) = read("lenght = \"4 mm\"\nzebra = 1\n", |section| {
        let _ = section.quantity("length", Dimension::Length, Range::Any);
        section.finish();
    });
    assert_eq!(found.len(), 2);
    assert_eq!(found[0].what, "lenght is not a key known here");
    assert_eq!(found[0].next, "did you mean length?");
    assert!(found[0].at[0].on_key, "the key is at fault, not its value");
    assert_eq!(found[1].next, "remove it");
}

#[test]
fn a_value_that_cannot_be_used_is_reported_and_comes_back_as_not_a_number() {
    let length = |section: &Section<'_>| section.quantity("x", Dimension::Length, Range::Positive);
    for (text, what) in [
        ("x = 4", "x: 4 has no unit"),
        ("x = 4.5", "x: 4.5 has no unit"),
        ("x = inf", "x: inf is not a number that can be used"),
        ("x = \"4 kg\"", "x: \"4 kg\" is a mass, not a length"),
        ("x = \"-4 mm\"", "x: -4 mm is negative"),
        ("x = \"0 mm\"", "x: 0 mm is zero"),
        ("x = true", "x is true or false"),
        ("x = [1]", "x is a list"),
    ] {
        let (value, found) = read(text, length);
        assert!(value.is_some_and(f64::is_nan), "{text}: {value:?}");
        assert_eq!(found.len(), 1, "{text}");
        assert!(found[0].what.starts_with(what), "{text}: {:?}", found[0]);
        assert!(!found[0].next.is_empty() && !found[0].expected.is_empty());
    }
    assert_eq!(read("", length), (None, Vec::new()), "what is not there is not wrong");
}

#[test]
fn no_time_is_longer_than_a_month_and_no_temperature_hotter_than_any_oven() {
    let take = |section: &Section<'_>| {
        let _ = section.quantity("time", Dimension::Duration, Range::Positive);
        let _ = section.quantity("hot", Dimension::Temperature, Range::Any);
    };
    let ((), found) = read("time = \"32 days\"\nhot = \"1300 °C\"", take);
    assert_eq!(found.len(), 2);
    assert_eq!(found[0].expected, "at most 31 days");
    assert_eq!(found[1].expected, "at most 1200 °C");
    assert_eq!(read("time = \"31 days\"\nhot = \"1200 °C\"", take).1, Vec::new());
}

#[test]
fn a_range_is_told_in_its_own_words_and_holds_its_ends() {
    let range = Range::Within(2.0, 3.0, "from 2 s to 3 s");
    assert_eq!(range.fault(2.0).or(range.fault(3.0)), None);
    assert_eq!(range.fault(-1.0), Some(("is negative", "from 2 s to 3 s")));
    for outside in [1.999, 3.001, f64::NAN, f64::INFINITY] {
        assert_eq!(range.fault(outside), Some(("is out of range", "from 2 s to 3 s")));
    }
}

#[test]
fn a_default_is_written_down_once_and_only_where_it_is_used() {
    let (table, _) = tree::parse("given = \"4 s\"", 0);
    let ledger = Ledger::default();
    let section = Section::new(&table, KeyPath::root(FileKind::Oven), &ledger);
    let or = |key| section.quantity_or(key, Dimension::Duration, Range::Positive, "9 s", "why");
    assert_eq!((or("given"), or("absent")), (4.0, 9.0));
    let (_, used) = ledger.take();
    let written =
        DefaultUsed { key: "oven.absent".into(), value: "9 s".into(), source: "why".into() };
    assert_eq!(used, [written]);
}

#[test]
fn words_numbers_and_flags_say_what_they_take() {
    let ((), found) = read("word = \"fam\"\nshare = 2\ncount = 1.5\nflag = \"yes\"", |section| {
        let _ = section.choice("word", &[("fan", 1), ("natural", 2)]);
        let _ = section.number("share", 0.0, 1.0);
        let _ = section.integer("count", 1, 9);
        let _ = section.flag("flag");
    });
    let next: Vec<&str> = found.iter().map(|finding| finding.next.as_str()).collect();
    let wanted =
        ["did you mean \"fan\"?", "write share = 0.5", "write count = 1", "write flag = true"];
    assert_eq!(next, wanted);
}

#[test]
fn the_same_problem_is_told_once_and_no_more_than_anybody_reads() {
    let ledger = Ledger::default();
    let finding = |what: String| Finding::new(KeyPath::root(FileKind::Oven), what, "", "");
    ledger.report(finding("one".into()));
    ledger.report(finding("one".into()));
    assert_eq!(ledger.findings.borrow().len(), 1);
    for number in 0..2 * PROBLEMS_KEPT {
        ledger.report(finding(number.to_string()));
    }
    assert_eq!(ledger.take().0.len(), PROBLEMS_KEPT);
}
