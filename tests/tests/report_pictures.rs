//! Goal: a picture says what it is of, with units, and every word of it can be read; a page needs
//! nothing but itself. Method: shipped bakes drawn in every format and read back by an XML parser
//! and a PNG decoder.

mod report_support;

use report_support::rehearsed::{Done, endings};
use report_support::{bake_log, bytes_of};
use roxmltree::Document;
use std::collections::HashSet;
use std::path::Path;
use truesoak::log::{End, Header, Log, Source};
use truesoak::report::Story;
use truesoak::report::plot::{HEIGHT, Picture, PlotError, WIDTH, draw};
use truesoak::report::units::Units;

fn drawn(picture: Picture, done: &Done, units: Units) -> Vec<u8> {
    draw(picture, &done.log(), &done.story(units), &[]).expect("a picture")
}

fn svg_in(done: &Done, units: Units) -> String {
    String::from_utf8(drawn(Picture::Svg, done, units)).expect("UTF-8")
}

fn svg(done: &Done) -> String {
    svg_in(done, Units::of_scale(done.setup.bake.scale))
}

fn texts<'a>(document: &'a Document<'_>) -> Vec<&'a str> {
    let nodes = document.descendants().filter(|node| node.has_tag_name(TEXT));
    nodes.filter_map(|node| node.text()).map(str::trim).collect()
}

const SPACE: &str = "http://www.w3.org/2000/svg";
const TEXT: (&str, &str) = (SPACE, "text");

#[test]
fn an_svg_is_xml_with_a_title_axes_with_units_every_part_and_the_mark_of_a_rehearsal() {
    for done in endings().all() {
        let text = svg(done);
        let document = Document::parse(&text).unwrap_or_else(|error| panic!("{error}"));
        let root = document.root_element();
        assert_eq!(root.attribute("viewBox"), Some("0 0 1200 700"));
        let title = root.children().find(|node| node.has_tag_name((SPACE, "title")));
        let title = title.and_then(|node| node.text()).expect("a title");
        assert!(title.starts_with(done.setup.bake.name.as_str()), "{title}");
        let words = texts(&document);
        let unit = Units::of_scale(done.setup.bake.scale).sign();
        let axis = format!("temperature, {unit}");
        for label in [axis.as_str(), "heater, %", "time since the start, h:mm"] {
            assert!(words.contains(&label), "{label} is not in {words:?}");
        }
        for part in &done.rehearsal.result.parts {
            assert!(words.contains(&part.name.as_str()), "{} is not in {words:?}", part.name);
        }
        assert!(words.contains(&"REHEARSAL, NOT A RECORD"));
    }
}

#[test]
fn the_axis_carries_the_unit_that_was_asked_for_and_its_values() {
    for (units, label, value) in [
        (Units::Celsius, "temperature, °C", "150"),
        (Units::Fahrenheit, "temperature, °F", "300"),
        (Units::Kelvin, "temperature, K", "400"),
    ] {
        let text = svg_in(&endings().pass, units);
        let document = Document::parse(&text).expect("XML");
        let words = texts(&document);
        assert!(words.contains(&label) && words.contains(&value), "{label}, {value}: {words:?}");
    }
}

#[test]
fn a_png_is_1200_by_700_and_holds_the_hues_of_what_it_shows() {
    let bytes = drawn(Picture::Png, &endings().tripped, Units::Celsius);
    let image = image::load_from_memory(&bytes).expect("a PNG").to_rgb8();
    assert_eq!(image.dimensions(), (WIDTH, HEIGHT));
    let hues: HashSet<[u8; 3]> = image.pixels().map(|pixel| pixel.0).collect();
    assert!(hues.len() > 200, "{} hues", hues.len());
    let white = image.pixels().filter(|pixel| pixel.0 == [255; 3]).count();
    let all = image.pixels().len();
    assert!((all / 2..all * 19 / 20).contains(&white), "{white} white of {all}");
    // Words: ink in the title, in the key and below the axis.
    let ink = |left, top, right, bottom| {
        let inside = image
            .enumerate_pixels()
            .filter(|(x, y, _)| (left..right).contains(x) && (top..bottom).contains(y));
        inside.filter(|(_, _, pixel)| pixel.0[0] < 110).count()
    };
    for (what, count) in [
        ("title", ink(18, 4, 500, 24)),
        ("key", ink(1020, 50, 1190, 300)),
        ("time", ink(78, 636, 980, 696)),
        ("upright", ink(8, 200, 30, 400)),
    ] {
        assert!(count > 80, "{what}: {count}");
    }
}

#[test]
fn a_page_needs_nothing_else_and_says_its_sentence_first() {
    for done in endings().all() {
        let story = done.told();
        let bytes = draw(Picture::Html, &done.log(), &story, &[]).expect("a page");
        let page = String::from_utf8(bytes).expect("UTF-8");
        let body = page.split_once("<body>").expect("a body").1.trim_start();
        let said = truesoak::report::sentence::sentence(&story);
        let first = format!("<h1>{}. ", said.word);
        assert!(body.starts_with(&first), "{}", &body[..200]);
        assert!(body.contains("<p class=\"mark\">REHEARSAL, NOT A RECORD</p>"));
        for fetches in ["src=", "href=", "url(", "@import", "<script", "<link", "<iframe"] {
            assert!(!page.contains(fetches), "{fetches}");
        }
        // The only address is the name of the picture's own language.
        assert_eq!(page.matches("://").count(), page.matches(SPACE).count());
        assert_eq!(page.matches("<svg ").count(), 1);
        for part in &done.rehearsal.result.parts {
            assert!(page.contains(&format!("<td>{}", part.name)), "{}", part.name);
        }
        assert!(page.contains("name = &quot;as &lt;written&gt; &amp; kept&quot;"));
        assert!(!page.to_lowercase().contains("signature"), "a rehearsal is signed by nobody");
    }
}

#[test]
fn names_with_marks_of_xml_in_them_come_out_whole() {
    let done = &endings().pass;
    let (mut result, mut bake) = (done.rehearsal.result.clone(), done.setup.bake.clone());
    let name = "lever <left> & \"right\"";
    result.parts[0].name = name.to_owned();
    bake.name = "Gas-out & <more>".to_owned();
    let story = Story { result: &result, bake: &bake, ..done.told() };
    let bytes = draw(Picture::Svg, &done.log(), &story, &[]).expect("a picture");
    let text = String::from_utf8(bytes).expect("UTF-8");
    let document = Document::parse(&text).expect("XML");
    let words = texts(&document);
    assert!(words.contains(&name) && words.contains(&"Gas-out & <more>: PASS"), "{words:?}");
    let page = String::from_utf8(draw(Picture::Html, &done.log(), &story, &[]).expect("a page"));
    assert!(page.expect("UTF-8").contains("lever &lt;left&gt; &amp; &quot;right&quot;"));
}

#[test]
fn an_actual_bake_is_not_marked_as_a_rehearsal() {
    let done = &endings().pass;
    let log = Log { header: Header::of(Source::Oven), truth: Vec::new(), ..done.log() };
    let story = Story { rehearsed: None, ..done.told() };
    for picture in [Picture::Svg, Picture::Html] {
        let bytes = draw(picture, &log, &story, &[]).expect("a picture");
        let text = String::from_utf8(bytes).expect("UTF-8");
        assert!(!text.contains("REHEARSAL") && !text.contains("truly"), "{picture:?}");
        assert!(text.contains("coldest part at least"));
    }
}

/// A log that was cut off, or whose sensor never gave a reading, is still drawn as far as it goes.
#[test]
fn a_torn_log_a_log_without_readings_and_one_without_seconds() {
    let done = &endings().pass;
    let mut bytes = bytes_of(&bake_log());
    bytes.truncate(bytes.len() / 2);
    let torn = truesoak::log::parse(&bytes).expect("a log");
    assert!(matches!(torn.end, End::Torn { .. }));
    let mut blind = done.log();
    blind.rows.iter_mut().for_each(|row| row.air = None);
    for log in [&torn, &blind] {
        for picture in [Picture::Svg, Picture::Png, Picture::Html] {
            let bytes = draw(picture, log, &done.told(), &[]);
            assert!(bytes.as_ref().is_ok_and(|bytes| bytes.len() > 4_000), "{picture:?} {bytes:?}");
        }
    }
    let empty = Log { rows: Vec::new(), truth: Vec::new(), ..done.log() };
    assert!(matches!(draw(Picture::Svg, &empty, &done.told(), &[]), Err(PlotError::Empty)));
}

#[test]
fn an_ending_that_says_nothing_is_named_with_the_three_that_do() {
    for (name, picture) in
        [("a.svg", Picture::Svg), ("b.PNG", Picture::Png), ("c.html", Picture::Html)]
    {
        assert_eq!(Picture::of(Path::new(name)), Ok(picture));
    }
    for name in ["bake.jpeg", "bake", "bake.svg.gz", ".svg"] {
        let error = Picture::of(Path::new(name)).expect_err("refused");
        assert!(error.contains(name) && error.contains(".svg, .png or .html"), "{error}");
    }
}

/// Figures follow the model; words and their number must be those that the command draws now.
#[test]
fn the_picture_in_the_readme_is_of_this_version() {
    let done = report_support::rehearsed::run(report_support::rehearsed::Asked {
        bake: "gas-out-chain-guards-300f",
        ..Default::default()
    });
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("snapshots/gas-out-300f.svg");
    let kept = std::fs::read_to_string(path).expect("the picture");
    let now = svg(&done);
    let words = |text: &str| {
        let document = Document::parse(text).expect("XML");
        let all = texts(&document).into_iter();
        let letters = |text: &str| text.replace(|letter: char| letter.is_ascii_digit(), "");
        all.map(letters).collect::<HashSet<_>>()
    };
    assert_eq!(words(&kept), words(&now), "draw it again: see README.md");
}
