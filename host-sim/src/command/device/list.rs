//! `device list`: the ports of this computer. None is opened.

use super::failed;
use crate::command::{Answer, Failure, Format, Globals, print};
use crate::link::{Address, Listed, boards_of, list};
use std::fmt::Write as _;

/// Runs it.
pub(super) fn run(globals: &Globals) -> Result<Answer, Failure> {
    let listed = list().map_err(|error| failed(&Address::Only, &error))?;
    let boards: Vec<String> = boards_of(&listed).iter().map(|board| board.path.clone()).collect();
    print(&match globals.format {
        Format::Text => text(&listed, &boards),
        Format::Json => json(&listed, &boards),
    })?;
    Ok(if boards.is_empty() { Answer::No } else { Answer::Yes })
}

fn text(listed: &[Listed], boards: &[String]) -> String {
    let mut out = String::new();
    for port in listed {
        let what = match &port.product {
            _ if boards.contains(&port.path) => "an oven's board",
            Some(product) => product,
            None => "no USB port",
        };
        let number = port.serial_number.as_ref().map(|number| format!(", number {number}"));
        // Writing to a string cannot fail.
        let _ = writeln!(out, "{}  {what}{}", port.path, number.unwrap_or_default());
    }
    let _ = match boards {
        [] => writeln!(
            out,
            "No board is plugged in. Without hardware: truesoak device virtual BAKE.toml"
        ),
        [_] => Ok(()),
        _ => writeln!(out, "Several boards: name one with --port."),
    };
    out
}

fn json(listed: &[Listed], boards: &[String]) -> String {
    let ports: Vec<_> = listed
        .iter()
        .map(|port| {
            serde_json::json!({
                "path": port.path,
                "product": port.product,
                "serial_number": port.serial_number,
                "board": boards.contains(&port.path),
            })
        })
        .collect();
    format!("{}\n", serde_json::json!({ "schema": "truesoak.ports/1", "ports": ports }))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_board_is_named_as_one_and_what_to_do_without_is_said() {
        let port = |path: &str, product: Option<&str>| Listed {
            path: path.to_owned(),
            product: product.map(str::to_owned),
            serial_number: product.map(|_| "07".to_owned()),
        };
        let listed = [port("/dev/ttyACM0", Some("truesoak")), port("/dev/ttyS0", None)];
        let boards = ["/dev/ttyACM0".to_owned()];
        assert_eq!(
            text(&listed, &boards),
            "/dev/ttyACM0  an oven's board, number 07\n/dev/ttyS0  no USB port\n"
        );
        assert!(text(&[], &[]).contains("truesoak device virtual"));
        assert!(json(&listed, &boards).contains("\"board\":true"));
    }
}
