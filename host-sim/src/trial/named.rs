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

/// A trip of this kind names that fault. A first sensor that came off has moved, for a second one, and
/// where the loop that follows it heats the air to its limit before their row has its time, that is what
/// the second one sees. One that is put back rises as nothing does that was commanded, and
/// a wire that is put right, as the safety phase ends, jumps.
pub(super) fn is_own_beside(
    kind: FaultKind,
    tripped: TripKind,
    two_sensors: bool,
    is_over: bool,
) -> bool {
    let came_off = kind == FaultKind::SensorDetached;
    let moved = two_sensors && matches!(tripped, TripKind::SensorMoved | TripKind::AirOverLimit);
    let wire = matches!(kind, FaultKind::SensorTypeWrong | FaultKind::ThermocoupleReversed);
    let jumped = tripped == TripKind::ReadingJump && is_over;
    let rose = tripped == TripKind::DriveWelded && is_over;
    kind.is_named_by(tripped.word()) || (came_off && (moved || rose || jumped)) || (wire && jumped)
}
