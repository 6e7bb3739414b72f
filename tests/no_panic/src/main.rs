//! The controller's way through a tick, bytes from outside on theirs, the board's store and its whole
//! shell, linked against a panic that does not exist.
//!
//! Goal: no input makes the controller panic, nothing that a flash holds or answers the store, and
//! nothing that a pin, a bus, a port or a clock says the shell.
//! Method: the optimiser drops every check it can prove to hold, and the linker every function
//! nobody calls. What panics calls the handler below, and that calls a function that is nowhere:
//! the link fails exactly if some way to a panic is left. Nothing here is meant to run.
#![no_std]
#![no_main]

mod shell;
mod store;

use core::hint::black_box;
use core::panic::PanicInfo;
use truesoak_core::Controller;
use truesoak_core::bake::Bake;
use truesoak_core::bounds::model::Model;
use truesoak_core::command::{Command, Refusal, Settings};
use truesoak_core::event::Event;
use truesoak_core::io::{Inputs, Outputs};
use truesoak_core::record::{Checkpoint, Record};
use truesoak_core::sensor::{Microvolts, Ohms, Platinum, Thermocouple};
use truesoak_core::units::{Celsius, Tick};
use truesoak_core::wire::admit::{Standing, admit};
use truesoak_core::wire::checkpoint::{self, CHECKPOINT_BYTES};
use truesoak_core::wire::compiled::{Compiled, Fault};
use truesoak_core::wire::frame::{Decoder, Reject, parse};
use truesoak_core::wire::messages::{Piece, Request};
use truesoak_core::wire::refusal;
use truesoak_core::wire::upload::{Outline, Upload, UploadFault};

unsafe extern "C" {
    fn a_panic_path_survived() -> !;
}

#[panic_handler]
fn panic(_: &PanicInfo<'_>) -> ! {
    // SAFETY: there is no such function to call; what refers to it does not link.
    unsafe { a_panic_path_survived() }
}

/// Everything a board does with a controller, each on arguments nothing is known of.
fn board() {
    type New = fn(&Bake, &Model, &Settings) -> Controller;
    type Shown = for<'a> fn(&'a Controller) -> (&'a [Event], Option<&'a Record>);
    let new: New = |bake, model, settings| Controller::new(bake.clone(), model.clone(), *settings);
    let shown: Shown = |controller| (controller.events(), controller.record());
    black_box(new);
    black_box(Controller::tick as fn(&mut Controller, Tick, &Inputs) -> Outputs);
    black_box(Controller::command as fn(&mut Controller, Tick, Command) -> Result<(), Refusal>);
    black_box(Controller::resume as fn(&mut Controller, Checkpoint));
    black_box(Controller::checkpoint as fn(&Controller) -> Option<Checkpoint>);
    black_box(shown);
    sensors();
    wire();
    #[cfg(feature = "panics")]
    black_box((|values, index| values[index]) as fn(&[u8], usize) -> u8);
}

/// What a board makes of its converters.
fn sensors() {
    type Straightened = fn(Thermocouple, Celsius, Celsius, f32) -> Option<Celsius>;
    black_box(Thermocouple::emf as fn(Thermocouple, Celsius) -> Option<Microvolts>);
    black_box(Thermocouple::temperature as fn(Thermocouple, Microvolts) -> Option<Celsius>);
    black_box(Thermocouple::straightened as Straightened);
    black_box(Platinum::resistance as fn(Platinum, Celsius) -> Option<Ohms>);
    black_box(Platinum::temperature as fn(Platinum, Ohms) -> Option<Celsius>);
}

/// What a board makes of bytes from its port and its store. What postcard writes is left out, by core's
/// feature `unwritten`: that a number of 32 bits has at most five sevens is more than the optimiser
/// finds out about it.
fn wire() {
    type Push = for<'a> fn(&'a mut Decoder, u8) -> Option<Result<&'a mut [u8], Reject>>;
    type Read = for<'a> fn(&'a mut [u8]) -> Result<(Request<'a>, u8), Reject>;
    type Taken = for<'a, 'b> fn(&'b mut Upload, &'b Piece<'a>) -> Result<&'a [u8], UploadFault>;
    let read: Read = |content| parse(content);
    black_box(Decoder::push as Push);
    black_box(read);
    black_box(admit as fn(&Request<'_>, Standing) -> Result<(), refusal::Refusal>);
    black_box(Upload::begin as fn(Outline) -> Result<Upload, UploadFault>);
    black_box(Upload::piece as Taken);
    black_box(Upload::finish as fn(&Upload) -> Result<Outline, UploadFault>);
    black_box(Compiled::decode as fn(&[u8]) -> Result<Compiled, Fault>);
    black_box(checkpoint::decode as fn(&[u8; CHECKPOINT_BYTES]) -> Option<Checkpoint>);
}

/// Where the linker starts from.
// SAFETY: the one symbol of this name; the link has no start of its own.
#[unsafe(no_mangle)]
pub extern "C" fn _start() -> ! {
    board();
    store::board();
    shell::board();
    loop {
        core::hint::spin_loop();
    }
}
