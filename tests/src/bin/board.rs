use std::path::Path;
use truesoak::files;
use truesoak_tests::emulated::board::Made;
use truesoak_tests::emulated::oven::{Fits, Oven};
use truesoak_tests::emulated::process::Mode;
fn main() {
    let args: Vec<String> = std::env::args().collect();
    let mode = match args[2].as_str() { "float" => Mode::Float, "exact" => Mode::Exact, _ => Mode::Fast };
    let setup = files::read(Path::new(&args[3]), &[]).unwrap();
    let fits = match args[4].as_str() { "55" => Fits::Max31855, "56" => Fits::Max31856, _ => Fits::Max31865 };
    let made = Made { elf: args[1].clone().into(), mode, chips: [None; 3], seed: 1 };
    let mut oven = Oven::new(&made, &setup, fits).unwrap();
    println!("ready at {:.1} s, wall {:?}, obstacles {:?}", oven.pair.board.now_ns / 1e9, oven.pair.board.wall, oven.pair.controller().mode());
    let (trace, _) = oven.bake(&setup, None, 1);
    println!("{:?} sim {:.0} s wall {:?}", trace.ending, oven.pair.board.now_ns / 1e9, oven.pair.board.wall);
    for (phase, t) in &oven.pair.by_phase { let mut v = t.instructions.clone(); v.sort(); println!("{phase:?} {} median {} worst {}", v.len(), v[v.len()/2], v.last().unwrap()); }
    println!("{}", oven.pair.board.order(&serde_json::json!({"do":"figures"})));
}
