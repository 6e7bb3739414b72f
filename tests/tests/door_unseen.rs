//! An oven without a door switch: the door is known from the air alone.
//!
//! Goal: nobody waits for ever on a door that has long been shut. Found by the fault campaign: an
//! oven that cooled behind an open door never warms enough to tell that it was shut, and GO at the
//! next load_in did nothing.

use truesoak::report::result::Verdict;
use truesoak_tests::{quick, rehearsed, setup};

#[test]
fn issue_8_go_ends_a_load_in_though_a_door_that_nobody_sees_was_open_while_it_cooled() {
    let mut setup = setup("whole-day", &["oven.door.switch=false"]);
    setup.bake.answers.clear();
    for door in setup.bake.doors.iter_mut().filter(|door| !door.loads) {
        // Until long after the oven is cold.
        door.open_for_s = 5.0 * 3600.0;
    }
    let result = rehearsed(&quick(&setup)).result;
    assert_eq!(result.verdict, Verdict::Pass, "{}", result.reason);
}
