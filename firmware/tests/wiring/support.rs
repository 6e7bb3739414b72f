//! Reads the wiring guide and its drawings.

use std::fs;
use std::path::PathBuf;

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// A file of the firmware folder.
pub fn file(name: &str) -> String {
    let path = folder().join(name);
    fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// The guide.
pub fn guide() -> String {
    file("wiring.md")
}

/// Every drawing: its name and its text.
pub fn drawings() -> Vec<(String, String)> {
    let entries = fs::read_dir(folder().join("wiring")).expect("the folder of drawings");
    let mut names: Vec<_> = entries
        .map(|entry| entry.expect("an entry").file_name().into_string().expect("a name"))
        .collect();
    names.sort();
    names.into_iter().map(|name| (name.clone(), file(&format!("wiring/{name}")))).collect()
}

/// The rows, cell by cell, of the table whose head begins so; emphasis is taken off.
pub fn rows(text: &str, head: &str) -> Vec<Vec<String>> {
    let from = text.find(head).unwrap_or_else(|| panic!("no table {head}"));
    text[from..]
        .lines()
        .skip(2)
        .take_while(|line| line.starts_with('|'))
        .map(|line| {
            let cells = line.trim_matches('|').split('|');
            cells.map(|cell| cell.trim().replace("**", "")).collect()
        })
        .collect()
}
