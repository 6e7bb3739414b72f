//! The drawings can be read: well-formed, on their own white ground, text as text, large enough,
//! and inside the picture.

use super::support::drawings;
use roxmltree::{Document, Node};

const WIDTH: f64 = 900.0;

fn attribute(node: Node<'_, '_>, name: &str) -> f64 {
    node.attribute(name).and_then(|value| value.parse().ok()).unwrap_or(0.0)
}

#[test]
fn every_drawing_is_well_formed_and_900_wide_on_its_own_white_ground() {
    let drawings = drawings();
    assert_eq!(drawings.len(), 5);
    for (name, text) in &drawings {
        let document = Document::parse(text).unwrap_or_else(|error| panic!("{name}: {error}"));
        let root = document.root_element();
        let height = attribute(root, "height");
        assert!((attribute(root, "width") - WIDTH).abs() < 0.1 && height > 300.0, "{name}");
        assert_eq!(root.attribute("viewBox"), Some(format!("0 0 900 {height}").as_str()), "{name}");
        let ground = root
            .children()
            .filter(Node::is_element)
            .find(|node| !matches!(node.tag_name().name(), "title" | "desc" | "defs"))
            .expect("something is drawn");
        assert_eq!(ground.tag_name().name(), "rect", "{name}: the ground comes first");
        assert_eq!(ground.attribute("fill"), Some("#fff"), "{name}");
        assert!((attribute(ground, "height") - height).abs() < 0.1, "{name}");
        for part in ["title", "desc"] {
            let told = root.children().find(|node| node.has_tag_name((SVG, part)));
            assert!(told.and_then(|node| node.text()).is_some_and(|told| told.len() > 8), "{name}");
        }
        let elsewhere = text.replace(SVG, "");
        assert!(
            !elsewhere.contains("http") && !elsewhere.contains("url("),
            "{name} needs a network"
        );
    }
}

const SVG: &str = "http://www.w3.org/2000/svg";

#[test]
fn every_reference_within_a_drawing_is_to_a_symbol_it_has() {
    for (name, text) in drawings() {
        let document = Document::parse(&text).expect("well-formed");
        let has = |id: &str| document.descendants().any(|node| node.attribute("id") == Some(id));
        for node in document.descendants() {
            if let Some(href) = node.attribute("href") {
                assert!(href.strip_prefix('#').is_some_and(has), "{name}: {href}");
            }
        }
    }
}

/// A text's width is added up from Helvetica's letters, which the usual fallbacks share.
#[test]
fn no_text_leaves_the_picture_or_runs_into_another() {
    for (name, text) in drawings() {
        let document = Document::parse(&text).expect("well-formed");
        let texts: Vec<_> =
            document.descendants().filter(|node| node.has_tag_name((SVG, "text"))).collect();
        assert!(texts.len() > 20, "{name}: text is text");
        let boxes: Vec<_> = texts
            .iter()
            .filter(|node| node.attribute("transform").is_none())
            .map(|node| bounds(*node))
            .collect();
        let height = attribute(document.root_element(), "height");
        for (index, (left, right, top, bottom, words)) in boxes.iter().enumerate() {
            assert!(*left >= 0.0 && *right <= WIDTH, "{name}: {words:?} ends at {right:.0}");
            assert!(*top >= 0.0 && *bottom <= height, "{name}: {words:?}");
            for (left_b, right_b, top_b, bottom_b, words_b) in boxes.iter().skip(index + 1) {
                let apart =
                    right <= left_b || right_b <= left || bottom <= top_b || bottom_b <= top;
                assert!(apart, "{name}: {words:?} and {words_b:?}");
            }
        }
    }
}

/// Left, right, top and bottom of a text, and its words.
fn bounds<'a>(node: Node<'a, '_>) -> (f64, f64, f64, f64, &'a str) {
    let classes = node.ancestors().filter_map(|node| node.attribute("class"));
    let classes: Vec<_> = classes.flat_map(str::split_whitespace).collect();
    let own = attribute(node, "font-size");
    let small = if classes.contains(&"s") { 13.0 } else { 14.0 };
    let size = if own > 0.0 { own } else { small };
    assert!(size >= 13.0);
    let words = node.text().expect("words");
    let bold = if classes.contains(&"b") { 1.06 } else { 1.0 };
    let width = bold * size * words.chars().map(letter_width).sum::<f64>();
    let (x, y) = (attribute(node, "x"), attribute(node, "y"));
    let left = if classes.contains(&"r") { x - width } else { x };
    (left, left + width, y - 0.7 * size, y + 0.2 * size, words)
}

/// Width of a letter by its size (Helvetica, rounded up; from memory).
fn letter_width(letter: char) -> f64 {
    match letter {
        'i' | 'j' | 'l' | '\'' | '.' | ',' | ':' | ';' | ' ' => 0.28,
        'f' | 't' | 'r' | 'I' | '(' | ')' | '-' | '/' => 0.33,
        'm' | 'w' | 'M' | 'W' => 0.84,
        letter if letter.is_uppercase() => 0.72,
        _ => 0.56,
    }
}
