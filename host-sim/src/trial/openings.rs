//! What openings of the door hide from rows of the guard, and for how long.
//!
//! A minute after a door the air is still on its way. Without a switch an opening is whatever the board
//! takes for it; one that it takes for nothing hides a weld until the air is back where it fell from.

use super::sight::Now;
use truesoak_core::units::TICKS_PER_SECOND;

const SECOND: u32 = TICKS_PER_SECOND;
/// Doors leave rows alone that go by the air for so long, ticks.
pub(super) const AFTER_DOOR_TICKS: u32 = 60 * SECOND;
/// A rise below where the air fell from, K, may be its way back from an opening that no switch told of,
/// as long as an oven is on it, ticks: no heat that nobody commanded can be told from that.
const BACK_K: f64 = 1.0;
const ON_ITS_WAY_TICKS: u32 = 30 * 60 * SECOND;

/// The true door.
#[derive(Clone, Copy, Debug)]
pub(super) struct Doorway {
    /// It was last open or moved then.
    pub(super) moved: u32,
    /// It opened last then, with the sensor at this, °C.
    opened: u32,
    from_c: f64,
}

impl Doorway {
    /// Shut as long as anybody remembers.
    pub(super) const SHUT: Self = Self { moved: 0, opened: 0, from_c: f64::NEG_INFINITY };

    /// It is open in the second that ends now; before, the sensor was at this.
    pub(super) fn stands_open(&mut self, now: u32, exposed_c: f64) {
        if now > self.moved + SECOND {
            let on_its_way = now - self.moved < ON_ITS_WAY_TICKS;
            let from_c = if on_its_way { self.from_c } else { f64::NEG_INFINITY };
            (self.opened, self.from_c) = (now, exposed_c.max(from_c));
        }
        self.moved = now;
    }
}

/// What is hidden, as one fault's row sees it.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Hidden {
    /// A rise that is missing begins afresh: no slowest oven had the door open.
    pub(super) disturbed: bool,
    /// When the board last took the door for open.
    believed: Option<u32>,
    /// A person has said something since the last second.
    said: bool,
    /// When the air was last on its way back from an opening that nobody told of.
    on_its_way: Option<u32>,
}

impl Hidden {
    /// A second. While heat is not allowed rises begin afresh too: slow ovens have heavy walls and cool
    /// less in the hours of a rest, and what they are ahead by then is no heat that is missing.
    pub(super) fn second(&mut self, now: &Now<'_>) {
        let has_switch = now.setup.oven.door.switch;
        if now.taken_for_open() {
            self.believed = Some(now.tick);
        }
        let door = now.door;
        let unseen = !has_switch && self.believed.is_none_or(|when| when < door.opened);
        let back = now.exposed_c >= door.from_c - BACK_K;
        if unseen && !back && now.tick.saturating_sub(door.moved) < ON_ITS_WAY_TICKS {
            self.on_its_way = Some(now.tick);
        }
        // Who answers has perhaps just shut the door: without a switch a board begins afresh as well.
        let told = core::mem::take(&mut self.said) && !has_switch;
        let moved = !self.has_been_shut_for(now, AFTER_DOOR_TICKS);
        self.disturbed = moved || told || !now.record.permit;
    }

    /// Nobody and nothing has had the door open for so long, ticks.
    pub(super) fn has_been_shut_for(&self, now: &Now<'_>, ticks: u32) -> bool {
        let last = now.door.moved.max(self.believed.unwrap_or(0));
        now.tick.saturating_sub(last) >= ticks
    }

    /// A person has answered.
    pub(super) fn answered(&mut self) {
        self.said = true;
    }

    /// The air is back from every opening, and has been for its minute.
    pub(super) fn is_back(&self, tick: u32) -> bool {
        self.on_its_way.is_none_or(|when| tick.saturating_sub(when) >= AFTER_DOOR_TICKS)
    }
}
