//! The fault table: under what name each fault is reported, and what its row may take.

use crate::rehearse::FaultKind;
use truesoak_core::event::Event;
use truesoak_core::guard::TripKind;
use truesoak_core::io::Question;

/// What a row may take, ticks; `None` where there is no time to hold.
#[must_use]
pub fn allowed_ticks(kind: FaultKind) -> Option<u32> {
    let tenths = match kind {
        FaultKind::ThermocoupleOpen | FaultKind::ThermocoupleShort | FaultKind::ConverterSilent => {
            10
        }
        FaultKind::ThermocoupleReversed | FaultKind::SensorTypeWrong => 900,
        FaultKind::ReadingStale => 50,
        FaultKind::ReadingJump => 20,
        FaultKind::DriveWelded => 400,
        FaultKind::ReadingFrozen
        | FaultKind::SensorDetached
        | FaultKind::HeaterDead
        | FaultKind::SensorMoved
        | FaultKind::FanStopped
        | FaultKind::StoreFailing => 600,
        FaultKind::PermitWelded => 15,
        FaultKind::ProbeDisagrees => 300,
        FaultKind::DoorSwitchStuck => 200,
        FaultKind::EnclosureHot => 50,
        FaultKind::ClockWrong => 101,
        FaultKind::MemoryCorrupt => 2,
        FaultKind::TickOverrun | FaultKind::ProcessorHung => 10,
        FaultKind::DoorLeftOpen
        | FaultKind::SettingsCorrupt
        | FaultKind::SupplyLost
        | FaultKind::ButtonStuck => return None,
    };
    Some(tenths)
}

/// This event reports that kind of fault.
pub(super) fn reports(kind: FaultKind, event: Event) -> bool {
    match event {
        Event::Tripped(tripped) => kind.is_named_by(tripped.word()),
        Event::SupplyReturned { .. } => {
            matches!(kind, FaultKind::SupplyLost | FaultKind::ProcessorHung)
        }
        Event::ProbeIgnored => kind == FaultKind::ProbeDisagrees,
        Event::StoreFailing => kind == FaultKind::StoreFailing,
        Event::Asked(Question::DoorLeftOpen) => kind == FaultKind::DoorLeftOpen,
        _ => false,
    }
}

/// How a trip found the oven.
#[derive(Clone, Copy, Debug)]
pub(super) struct Scenery {
    /// A second air sensor is fitted.
    pub(super) two_sensors: bool,
    /// A door switch is.
    pub(super) door_switch: bool,
    /// Nothing is wrong any more.
    pub(super) is_over: bool,
}

/// A trip of this kind names that fault: its own, or what it cannot be told from.
///
/// A first sensor that came off has moved, for a second one, and where the loop that follows it heats
/// the air to its limit before their row has its time, that is what the second one sees; so has a wire
/// of a wrong kind moved, where openings leave it no heat-up to be known by. Without a switch what it
/// answers may be an open door's, and is heat that is missing, as is that of a door which somebody said
/// is shut. What heats the air to its limit as such a door shuts may be a weld, or an element that was
/// heated for as long as it stood ajar. A sensor that came off hot falls as one does behind an open door
/// until it nears the room, and behind a door that is wide open air falls to the room. One that is put
/// back rises as nothing does that was commanded, and a wire that is put right, as the safety phase ends,
/// jumps.
pub(super) fn is_own_beside(kind: FaultKind, tripped: TripKind, scenery: Scenery) -> bool {
    let beside = match (kind, tripped) {
        (FaultKind::SensorDetached, TripKind::SensorMoved | TripKind::AirOverLimit)
        | (FaultKind::SensorTypeWrong, TripKind::SensorMoved) => scenery.two_sensors,
        (FaultKind::SensorTypeWrong | FaultKind::DoorLeftOpen, TripKind::NoResponse)
        | (FaultKind::DriveWelded | FaultKind::DoorLeftOpen, TripKind::AirOverLimit) => {
            !scenery.door_switch
        }
        (FaultKind::SensorDetached, TripKind::DoorSwitchStuck)
        | (FaultKind::DoorSwitchStuck, TripKind::NoResponse) => true,
        (FaultKind::SensorDetached, TripKind::DriveWelded | TripKind::ReadingJump)
        | (FaultKind::SensorTypeWrong | FaultKind::ThermocoupleReversed, TripKind::ReadingJump) => {
            scenery.is_over
        }
        _ => false,
    };
    kind.is_named_by(tripped.word()) || beside
}
