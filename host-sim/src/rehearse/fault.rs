//! Scripted faults: what each does to the sensors, the board and the oven.
//!
//! A fault is injected where it would happen: at the converter's transfer, at a contact, in the
//! heater circuit or in the plant. The controller is never told.

use truesoak_core::units::TICKS_PER_SECOND;

/// Size of a jump where the script gives none, K.
const DEFAULT_SIZE_K: f64 = 40.0;
/// Length of an opening that is a fault and has no length, s.
const OPENING_S: f64 = 120.0;

/// Length of a hang that has none: longer than the watchdog waits, s.
const HANG_S: f64 = 1.5;
/// Length of an overrun that has none: shorter than the watchdog waits, s.
const OVERRUN_S: f64 = 0.3;

/// A fault a rehearsal can inject.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)] // the words of the fault table
pub enum FaultKind {
    ThermocoupleOpen,
    ThermocoupleShort,
    ConverterSilent,
    ThermocoupleReversed,
    SensorTypeWrong,
    ReadingStale,
    ReadingFrozen,
    ReadingJump,
    SensorDetached,
    SensorMoved,
    HeaterDead,
    DriveWelded,
    PermitWelded,
    ProbeDisagrees,
    DoorLeftOpen,
    DoorSwitchStuck,
    FanStopped,
    EnclosureHot,
    TickOverrun,
    ProcessorHung,
    ClockWrong,
    MemoryCorrupt,
    SettingsCorrupt,
    StoreFailing,
    SupplyLost,
    ButtonStuck,
}

impl FaultKind {
    /// Every kind with its word.
    pub const ALL: [(Self, &'static str); 26] = [
        (Self::ThermocoupleOpen, "thermocouple-open"),
        (Self::ThermocoupleShort, "thermocouple-short"),
        (Self::ConverterSilent, "converter-silent"),
        (Self::ThermocoupleReversed, "thermocouple-reversed"),
        (Self::SensorTypeWrong, "sensor-type-wrong"),
        (Self::ReadingStale, "reading-stale"),
        (Self::ReadingFrozen, "reading-frozen"),
        (Self::ReadingJump, "reading-jump"),
        (Self::SensorDetached, "sensor-detached"),
        (Self::SensorMoved, "sensor-moved"),
        (Self::HeaterDead, "heater-dead"),
        (Self::DriveWelded, "drive-welded"),
        (Self::PermitWelded, "permit-welded"),
        (Self::ProbeDisagrees, "probe-disagrees"),
        (Self::DoorLeftOpen, "door-left-open"),
        (Self::DoorSwitchStuck, "door-switch-stuck"),
        (Self::FanStopped, "fan-stopped"),
        (Self::EnclosureHot, "enclosure-hot"),
        (Self::TickOverrun, "tick-overrun"),
        (Self::ProcessorHung, "processor-hung"),
        (Self::ClockWrong, "clock-wrong"),
        (Self::MemoryCorrupt, "memory-corrupt"),
        (Self::SettingsCorrupt, "settings-corrupt"),
        (Self::StoreFailing, "store-failing"),
        (Self::SupplyLost, "supply-lost"),
        (Self::ButtonStuck, "button-stuck"),
    ];

    /// The kind a word names; `None` for rows nothing can be injected for on the desk, which a bake
    /// that names them is refused for.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.iter().find(|(_, known)| *known == word).map(|(kind, _)| *kind)
    }

    /// Its word.
    #[must_use]
    pub fn word(self) -> &'static str {
        Self::ALL.iter().find(|(kind, _)| *kind == self).map_or("", |(_, word)| word)
    }

    /// A trip of this word names it.
    #[must_use]
    pub fn is_named_by(self, tripped: &str) -> bool {
        let dead = matches!(self, Self::HeaterDead | Self::SensorDetached);
        self.word() == tripped || (dead && tripped == "no-response")
    }

    /// Opens the door itself.
    #[must_use]
    pub fn opens_the_door(self) -> bool {
        matches!(self, Self::DoorLeftOpen | Self::DoorSwitchStuck)
    }
}

/// A fault with its time in the bake.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fault {
    /// What.
    pub kind: FaultKind,
    /// First tick, counted from the bake's start.
    pub from: u32,
    /// First tick without it; `u32::MAX`: stays.
    pub to: u32,
    /// Size, K, where the script gives one or the kind has a usual one.
    pub by_k: Option<f64>,
}

impl Fault {
    /// A fault from `from`, for `for_s` seconds or for good.
    #[must_use]
    pub fn new(kind: FaultKind, from: u32, for_s: Option<f64>, by_k: Option<f64>) -> Self {
        let for_s = match (for_s, kind) {
            (None, FaultKind::DoorSwitchStuck) => Some(OPENING_S),
            (None, FaultKind::ProcessorHung) => Some(HANG_S),
            (None, FaultKind::TickOverrun) => Some(OVERRUN_S),
            (given, _) => given,
        };
        let ticks = for_s.map(|seconds| (seconds * f64::from(TICKS_PER_SECOND)).ceil() as u32);
        let to = ticks.map_or(u32::MAX, |ticks| from.saturating_add(ticks.max(1)));
        let jump = kind == FaultKind::ReadingJump;
        Self { kind, from, to, by_k: by_k.or(jump.then_some(DEFAULT_SIZE_K)) }
    }

    /// It is there at `tick`.
    #[must_use]
    pub fn is_on(&self, tick: u32) -> bool {
        (self.from..self.to).contains(&tick)
    }
}

/// The faults of a bake, as they become known.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Faults {
    faults: Vec<Fault>,
    /// A bit for every kind there is or was one of: every tick asks for a dozen kinds, and what a
    /// fault leaves behind is still asked for.
    kinds: u32,
}

impl Faults {
    /// Adds one.
    pub fn add(&mut self, fault: Fault) {
        self.kinds |= 1 << fault.kind as u32;
        self.faults.push(fault);
    }

    /// Ends every fault that is there at `tick`; true if one of them had opened the door.
    pub fn end_at(&mut self, tick: u32) -> bool {
        let mut opened = false;
        for fault in self.faults.iter_mut().filter(|fault| fault.is_on(tick)) {
            fault.to = tick;
            opened |= fault.kind.opens_the_door();
        }
        self.faults.retain(|fault| fault.from < tick);
        opened
    }

    /// Every one, in the order they became known.
    pub fn iter(&self) -> impl Iterator<Item = &Fault> {
        self.faults.iter()
    }

    /// There is one, now or later.
    #[must_use]
    #[inline]
    pub fn are_any(&self) -> bool {
        self.kinds != 0
    }

    /// The fault of a kind that is there at `tick`.
    #[must_use]
    #[inline]
    pub fn at(&self, kind: FaultKind, tick: u32) -> Option<&Fault> {
        if self.kinds & (1 << kind as u32) == 0 {
            return None;
        }
        self.faults.iter().find(|fault| fault.kind == kind && fault.is_on(tick))
    }

    /// A fault of a kind is there at `tick`.
    #[must_use]
    #[inline]
    pub fn is_on(&self, kind: FaultKind, tick: u32) -> bool {
        self.at(kind, tick).is_some()
    }

    /// Some fault begins or ends at `tick`.
    #[must_use]
    pub fn changes_at(&self, tick: u32) -> bool {
        self.faults.iter().any(|fault| fault.from == tick || fault.to == tick)
    }

    /// Faults that begin at `tick`.
    pub fn beginning_at(&self, tick: u32) -> impl Iterator<Item = &Fault> {
        self.faults.iter().filter(move |fault| fault.from == tick)
    }

    /// When a fault that explains a trip of this word began, if one was there at `tick`.
    #[must_use]
    pub fn onset_of(&self, tripped: &str, tick: u32) -> Option<u32> {
        let explains = |fault: &&Fault| fault.from <= tick && fault.kind.is_named_by(tripped);
        let of_its_kind = self.faults.iter().filter(explains).map(|fault| fault.from).max();
        of_its_kind.or_else(|| {
            self.faults.iter().filter(|fault| fault.from <= tick).map(|fault| fault.from).max()
        })
    }

    /// A fault that keeps the board down at `tick` will never end.
    #[must_use]
    pub fn last_for_ever(&self, tick: u32) -> bool {
        let down = [FaultKind::SupplyLost, FaultKind::ProcessorHung];
        down.iter().any(|kind| self.at(*kind, tick).is_some_and(|fault| fault.to == u32::MAX))
    }
}
