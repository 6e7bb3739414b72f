//! `image seal FILE.elf OUT.elf OUT.uf2`: the linker's file sealed, and as one to drop on a board.
//! `image weigh FILE.elf REVIEWED.txt`: a table of what it takes; fails past the limits or the review.

use std::env;
use std::fs;
use std::process::ExitCode;
use truesoak_image::weight::{MEMORY_BYTES, Weight};
use truesoak_image::{Image, seal, uf2};

fn main() -> ExitCode {
    let arguments: Vec<String> = env::args().skip(1).collect();
    let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let done = match arguments[..] {
        ["seal", elf, sealed, dropped] => seal_to(elf, sealed, dropped),
        ["weigh", elf, reviewed] => weigh(elf, reviewed),
        _ => Err("image seal FILE.elf OUT.elf OUT.uf2 | image weigh FILE.elf REVIEWED.txt".into()),
    };
    done.unwrap_or_else(|error| {
        eprintln!("error: {error}");
        ExitCode::from(2)
    })
}

type Done = Result<ExitCode, Box<dyn std::error::Error>>;

fn seal_to(elf: &str, sealed: &str, dropped: &str) -> Done {
    let file = seal::sealed(&read(elf)?)?;
    let image = Image::of_elf(&file)?;
    write(sealed, &file)?;
    write(dropped, &uf2::of(&image))?;
    eprintln!("{dropped}: {} bytes of image", image.bytes.len());
    Ok(ExitCode::SUCCESS)
}

fn weigh(elf: &str, reviewed: &str) -> Done {
    let weight = Weight::of_elf(&read(elf)?)?;
    print!("{}", weight.table());
    println!("left for the stack {} of {MEMORY_BYTES}", weight.left_for_stack());
    let problems = weight.problems(&String::from_utf8(read(reviewed)?)?);
    for problem in &problems {
        eprintln!("error: {problem}");
    }
    if problems.is_empty() {
        return Ok(ExitCode::SUCCESS);
    }
    eprintln!("next: make it smaller, or review the table above and put it into {reviewed}");
    Ok(ExitCode::FAILURE)
}

fn read(path: &str) -> Result<Vec<u8>, String> {
    fs::read(path).map_err(|error| format!("{path}: {error}"))
}

fn write(path: &str, bytes: &[u8]) -> Result<(), String> {
    fs::write(path, bytes).map_err(|error| format!("{path}: {error}"))
}
