//! The kinds of trip, one word each; the same words in logs, screens, bake files and docs.

use core::fmt;
use serde::{Deserialize, Serialize};

/// Why heat was cut for good.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[allow(missing_docs)] // each is a row of the fault table in DEVELOPERS.md, under its own word
pub enum TripKind {
    ThermocoupleOpen,
    ThermocoupleShort,
    ConverterSilent,
    ThermocoupleReversed,
    SensorTypeWrong,
    ReadingStale,
    ReadingFrozen,
    ReadingJump,
    NoResponse,
    SensorMoved,
    DriveWelded,
    PermitWelded,
    AirOverLimit,
    PartOverLimit,
    DoorSwitchStuck,
    FanStopped,
    EnclosureHot,
    TickOverrun,
    ProcessorHung,
    ClockWrong,
    MemoryCorrupt,
}

impl TripKind {
    /// Every kind, in the order of the fault table.
    pub const ALL: [Self; 21] = [
        Self::ThermocoupleOpen,
        Self::ThermocoupleShort,
        Self::ConverterSilent,
        Self::ThermocoupleReversed,
        Self::SensorTypeWrong,
        Self::ReadingStale,
        Self::ReadingFrozen,
        Self::ReadingJump,
        Self::NoResponse,
        Self::SensorMoved,
        Self::DriveWelded,
        Self::PermitWelded,
        Self::AirOverLimit,
        Self::PartOverLimit,
        Self::DoorSwitchStuck,
        Self::FanStopped,
        Self::EnclosureHot,
        Self::TickOverrun,
        Self::ProcessorHung,
        Self::ClockWrong,
        Self::MemoryCorrupt,
    ];

    /// Its word.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::ThermocoupleOpen => "thermocouple-open",
            Self::ThermocoupleShort => "thermocouple-short",
            Self::ConverterSilent => "converter-silent",
            Self::ThermocoupleReversed => "thermocouple-reversed",
            Self::SensorTypeWrong => "sensor-type-wrong",
            Self::ReadingStale => "reading-stale",
            Self::ReadingFrozen => "reading-frozen",
            Self::ReadingJump => "reading-jump",
            Self::NoResponse => "no-response",
            Self::SensorMoved => "sensor-moved",
            Self::DriveWelded => "drive-welded",
            Self::PermitWelded => "permit-welded",
            Self::AirOverLimit => "air-over-limit",
            Self::PartOverLimit => "part-over-limit",
            Self::DoorSwitchStuck => "door-switch-stuck",
            Self::FanStopped => "fan-stopped",
            Self::EnclosureHot => "enclosure-hot",
            Self::TickOverrun => "tick-overrun",
            Self::ProcessorHung => "processor-hung",
            Self::ClockWrong => "clock-wrong",
            Self::MemoryCorrupt => "memory-corrupt",
        }
    }

    /// The kind a word names.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.word() == word)
    }
}

impl fmt::Display for TripKind {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str(self.word())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The kinds by their numbers on the wire.
    #[test]
    fn the_list_has_every_kind_there_is_once_and_in_order() {
        let numbered = |number: u8| postcard::from_bytes::<TripKind>(&[number]).ok();
        assert!((0..u8::MAX).map_while(numbered).eq(TripKind::ALL));
    }
}
