//! Goal: the page of a log is what a customer can be handed: the sentence first, what was counted,
//! values under the pointer, what happened in words, the files, lines to sign for an oven's record
//! and none for a rehearsal's; and it needs nothing but itself. Method: logs recounted and drawn,
//! their pages read back as text. That it looks right was looked at in a browser (light, dark and on
//! paper); here stands what of it can be held.

mod verdict_support;

use std::sync::OnceLock;
use truesoak::files::Setup;
use truesoak::log::{Log, Source};
use truesoak::recount::{Tables, recount};
use truesoak::report::plot::{Against, Picture, draw_against};
use truesoak::report::result::BakeResult;
use truesoak::report::units::Units;
use truesoak::report::{Rehearsed, Story};
use verdict_support::bake;

struct Shown {
    log: Log,
    setup: Setup,
    result: BakeResult,
}

/// A log as `plot` has it.
fn shown(mut log: Log) -> Shown {
    let tables = Tables::of(&log).expect("its files");
    let counted = recount(&log, &tables).expect("counted");
    counted.put_into(&mut log);
    Shown { log, setup: tables.setup, result: counted.result }
}

impl Shown {
    fn page(&self, against: Option<&Against<'_>>) -> String {
        let rehearsed = self.log.header.rehearsal.as_ref().map(|_| Rehearsed::default());
        let story = Story {
            result: &self.result,
            bake: &self.setup.bake,
            oven: &self.setup.oven.name,
            load: &self.setup.load.name,
            rehearsed,
            recounted: Some(&self.log.header),
            units: Units::of_scale(self.setup.bake.scale),
        };
        let bytes = draw_against(Picture::Html, &self.log, &story, against, &[]).expect("a page");
        String::from_utf8(bytes).expect("UTF-8")
    }
}

fn rehearsal() -> &'static Shown {
    static SHOWN: OnceLock<Shown> = OnceLock::new();
    SHOWN.get_or_init(|| shown(bake("gas-out-chain-guards-300f", &[], false).log()))
}

/// The same rows as if an oven had written them.
fn record() -> &'static Shown {
    static SHOWN: OnceLock<Shown> = OnceLock::new();
    SHOWN.get_or_init(|| {
        let mut log = bake("gas-out-chain-guards-300f", &[], false).log();
        (log.header.source, log.header.rehearsal) = (Source::Oven, None);
        log.header.started_at = Some("2026-05-01T09:12:00+02:00".to_owned());
        log.header.job = Some("guards <for> a 1974 tourer".to_owned());
        shown(log)
    })
}

#[test]
fn a_record_leads_with_what_every_part_had_at_least_and_can_be_signed() {
    let page = record().page(None);
    let body = page.split_once("<body>").expect("a body").1.trim_start();
    let first = body.split_once("</h1>").expect("a sentence").0.replace('\u{a0}', " ");
    let hottest = record().log.rows.iter().filter_map(|row| row.hottest_c).fold(0.0, f64::max);
    let told = format!(
        "<h1>PASS. Every part was at or above 270 °F for at least 60 min: proven from one air \
         sensor and the heat put in. No part can have been hotter than {}.",
        Units::Fahrenheit.at_most(hottest)
    );
    assert_eq!(first, told);
    for words in ["Baked by", "Checked by", "No certification is claimed", "begun 2026-05-01T09"] {
        assert!(page.contains(words), "{words}");
    }
    assert!(page.contains("guards &lt;for&gt; a 1974 tourer"));
    for words in ["REHEARSAL", "rehears", "simulated", "truly", "certified"] {
        assert!(!page.contains(words), "{words}");
    }
}

#[test]
fn a_rehearsals_page_says_so_across_the_chart_and_has_nothing_to_sign() {
    for source in [Source::Rehearsal, Source::Virtual] {
        let mut log = rehearsal().log.clone();
        log.header.source = source;
        let page = shown(log).page(None);
        let picture = page.split_once("<svg ").and_then(|(_, rest)| rest.split_once("</svg>"));
        let picture = picture.expect("a picture").0;
        assert!(picture.contains("REHEARSAL, NOT A RECORD"), "across the chart");
        assert!(page.contains("<p class=\"mark\">REHEARSAL, NOT A RECORD</p>"));
        assert!(page.contains("which is no record"));
        for words in ["Baked by", "Checked by", "class=\"sign\""] {
            assert!(!page.contains(words), "{words}");
        }
    }
}

#[test]
fn a_page_fetches_nothing_and_runs_nothing() {
    let other = rehearsal();
    let steps = (record().result.steps.as_slice(), other.result.steps.as_slice());
    let against = Against::new((&record().log, steps.0), (&other.log, steps.1));
    for page in [record().page(None), rehearsal().page(None), record().page(Some(&against))] {
        let lower = page.to_lowercase();
        for fetches in [
            "src=",
            "href",
            "url(",
            "@import",
            "<script",
            "<link",
            "<iframe",
            "<object",
            "<img",
            "javascript:",
            " onload",
            " onclick",
            "fetch(",
        ] {
            assert!(!lower.contains(fetches), "{fetches}");
        }
        // The only address is the name of the picture's own language.
        assert_eq!(page.matches("://").count(), page.matches("http://www.w3.org/2000/svg").count());
    }
}

#[test]
fn every_stretch_of_the_chart_has_its_values_for_the_pointer() {
    let page = record().page(None);
    let stretches = page.matches("<rect class=\"behind\"").count();
    assert!((200..=260).contains(&stretches), "{stretches}");
    assert!(page.matches("coldest at least").count() > 150);
    let late = ["57 min", "58 min", "59 min", "60 min"];
    assert!(late.iter().any(|late| page.contains(&format!("; counted {late}"))));
    for words in [", door open; counted 0 min", "; heater 100 %", "air 300 °F"] {
        assert!(page.contains(words), "{words}");
    }
    let first = page.find("<g class=\"at\">").expect("stretches");
    assert!(page.find("</svg>").expect("an end") > first, "inside the picture");
}

#[test]
fn the_bar_shows_the_share_that_was_counted_and_says_it_in_words() {
    assert!(record().page(None).contains("width:100.0%"));
    let mut log = record().log.clone();
    let half = log.rows.iter().position(|row| row.credit_s == 1800).expect("half of it");
    log.rows.truncate(half + 1);
    let page = shown(log).page(None);
    assert!(page.contains("width:50.0%") && page.contains("30 of 60 min counted"));
    assert!(page.contains("<h1>UNFINISHED. "));
    assert!(page.contains("Not proven, and why"));
}

/// What a log says of itself is not shown where its own readings do not give it.
#[test]
fn a_picture_shows_what_was_recounted() {
    let mut log = record().log.clone();
    let last = log.rows.iter().rposition(|row| row.credit_s > 0).expect("credit");
    let from = last - 3000;
    log.rows.remove(from);
    let shown = shown(log);
    assert!(shown.log.rows.iter().all(|row| row.credit_s < 3600));
    assert!(shown.page(None).contains("missing"));
}

#[test]
fn what_happened_is_told_in_words_and_the_files_are_kept() {
    let page = record().page(None);
    for words in [
        "Step 3, soak &quot;gas-out&quot;, began",
        "Door opened",
        "Parts in",
        "The bake ended, every step done",
        "<details><summary>oven</summary>",
        "tables crc32:",
    ] {
        assert!(page.contains(words), "{words}");
    }
    assert!(!page.contains("<span>step 3</span>") && !page.contains("ended finished"));
}

#[test]
fn a_rehearsal_beside_it_is_compared_step_by_step_from_each_steps_own_beginning() {
    // The person took ten minutes longer to hang the parts.
    let mut late = rehearsal().log.clone();
    let step_at = |log: &Log, words: &str| {
        let row = log.rows.iter().find(|row| row.event == words).expect("a step");
        row.tick
    };
    let soak = step_at(&late, "step 3");
    late.rows.retain(|row| row.tick >= soak || row.tick + 6000 < soak);
    late.rows.iter_mut().filter(|row| row.tick >= soak).for_each(|row| row.tick -= 5990);
    let steps = |log: &Log| {
        let mut all = rehearsal().result.steps.clone();
        for (run, words) in all.iter_mut().zip(["step 1", "step 2", "step 3", "step 4"]) {
            run.started_s = f64::from(step_at(log, words)) / 10.0;
            run.ended_s = None;
        }
        all
    };
    let (here, there) = (steps(&rehearsal().log), steps(&late));
    let against = Against::new((&rehearsal().log, &here), (&late, &there));
    let page = rehearsal().page(Some(&against));
    assert!(page.contains("Compared, step by step"));
    assert!(page.contains("apart, °F"), "a panel of differences");
    // In the soak both read the same, second by second.
    let told: Vec<&str> = page.split("<text x=\"972\" y=\"18\">").skip(1).collect();
    let pairs = told.iter().filter(|told| told.contains(", gas-out;"));
    let mut compared = 0;
    for told in pairs {
        let words: Vec<&str> = told.split("</text>").collect();
        let there = words[0].split_once("; rehearsal ").expect("the other").1;
        let here = words[1].split_once("air ").expect("the air").1;
        assert!(here.starts_with(there), "{there} beside {here}");
        compared += 1;
    }
    assert!(compared > 20, "{compared}");
}
