//! The controller, tick by tick: any readings, switches and requests, over bakes and ovens that a
//! board would take and over some that it never would.
//!
//! A few ticks are one input, so a bake gets far by another way: it goes on from a checkpoint that
//! was made up. Of any bake at all: nothing panics, and there is no heat where there must be none.
//! Of one a board takes also: what is shown is finite, credit follows its rules, and what is kept
//! and logged comes back as it was.

mod bench;
mod hold;

use crate::bytes::Bytes;
use bench::{bake, checkpoint, inputs, model, settings};
use hold::{Seen, Watch};
use truesoak_core::Controller;
use truesoak_core::command::Command;
use truesoak_core::io::{Answer, Inputs};
use truesoak_core::units::Tick;
use truesoak_core::wire::compiled::Compiled;

/// Most ticks of one input.
const TICKS_MAX: u32 = 120;

pub(crate) fn run(input: &[u8]) {
    let _ = live(input);
}

/// Plays an input and says how far it got.
fn live(input: &[u8]) -> Seen {
    let mut bytes = Bytes::of(input);
    let (model, bake) = (model(&mut bytes), bake(&mut bytes));
    let settings = settings(&mut bytes);
    let compiled = Compiled { bake, model, settings };
    let admitted = compiled.fault().is_none();
    let Compiled { bake, model, mut settings } = compiled;
    settings.is_virtual = bytes.flag();
    let mut controller = Controller::new(bake, model, settings);
    let mut watch = Watch::new(admitted);
    let mut now = bytes.u32();
    if bytes.flag() {
        let kept = checkpoint(&mut bytes);
        watch.resumed(&kept, &controller);
        controller.resume(kept);
    }
    let mut given = bench::at_rest();
    let mut ticks = 0;
    while ticks < TICKS_MAX && !bytes.is_empty() {
        inputs(&mut bytes, &mut given);
        command(&mut bytes, &mut controller, now);
        for _ in 0..=bytes.below(25) {
            tick(&mut controller, now, &mut given, &mut watch);
            now = now.wrapping_add(1);
            ticks += 1;
        }
        if bytes.below(16) == 1 {
            now = now.wrapping_add(u32::from(bytes.u16()));
        }
    }
    watch.seen
}

fn tick(controller: &mut Controller, now: u32, given: &mut Inputs, watch: &mut Watch) {
    given.air.frame = given.air.frame.wrapping_add(1);
    watch.before(controller);
    let outputs = controller.tick(Tick(now), given);
    watch.after(controller, given, &outputs, now);
}

fn command(bytes: &mut Bytes<'_>, controller: &mut Controller, now: u32) {
    let command = match bytes.below(8) {
        0 => Command::Start,
        1 => Command::Answer(Answer::Go),
        2 => Command::Answer(Answer::Fail),
        3 => Command::Stop,
        4 => Command::Acknowledge,
        _ => return,
    };
    let before = (controller.mode(), controller.trip(), controller.asks());
    let _ = controller.command(Tick(now), command);
    assert_eq!(
        (controller.mode(), controller.trip(), controller.asks()),
        before,
        "before its tick"
    );
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Else every promise about heat and credit is kept by a controller that does nothing.
    #[test]
    fn the_corpus_gets_to_heat_to_credit_and_to_trips_in_bakes_a_board_takes() {
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("corpus/tick");
        let files = std::fs::read_dir(folder).unwrap();
        let inputs = files.map(|file| std::fs::read(file.unwrap().path()).unwrap());
        let all = inputs.fold(Seen::default(), |all, input| all.and(live(&input)));
        assert_eq!(all, Seen { heated: true, counted: true, fell: true, tripped: true });
    }
}
