//! What a shell takes of the memory there is, on this machine; a chip's pointers are half as wide.

use truesoak_board_mock::MockBoard;
use truesoak_core::Controller;
use truesoak_firmware::store::Store;
use truesoak_firmware::{Memory, Shell};

#[test]
fn a_shell_and_its_memory_take_less_than_the_budget_of_a_board() {
    let (memory, shell) = (size_of::<Memory>(), size_of::<Shell<'static, MockBoard>>());
    println!("memory {memory} bytes, of which a controller is {}", size_of::<Controller>());
    println!("shell {shell} bytes, of which a store is {}", size_of::<Store<()>>());
    // Of 32 KiB; the rest is the board's: USB, its port's buffers, its runtime.
    assert!(memory + shell <= 26 * 1024);
}
