//! What is shown at the oven, and the one table of patterns for it.
//!
//! [`Signal::pattern`] is the table; the wiring guide prints the same and a test holds the two
//! together. [`Signal::of`] chooses: a trip before all else, then what waits for GO, then how the
//! bake stands. It never shows less than the worst that is known.

use super::pattern::{Lamp, Level, Pattern, level};
use truesoak_core::event::Ending;
use truesoak_core::guard::TripKind;
use truesoak_core::io::Question;
use truesoak_core::sequence::Mode;
use truesoak_core::units::{TICKS_PER_SECOND, Tick};

/// Trips by what a person has to do first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TripClass {
    /// Heat may still flow: a power switch or the contactor did not let go.
    PullThePlug,
    /// Air or a part may be too hot.
    TooHot,
    /// A sensor, its wire or its converter; or heat that no sensor answers.
    Sensor,
    /// Door, fan or the controller's box.
    Oven,
    /// The board itself.
    Board,
}

impl TripClass {
    /// Every class, the worst first.
    pub const ALL: [Self; 5] =
        [Self::PullThePlug, Self::TooHot, Self::Sensor, Self::Oven, Self::Board];

    /// The class of a kind.
    #[must_use]
    pub const fn of(kind: TripKind) -> Self {
        match kind {
            TripKind::DriveWelded | TripKind::PermitWelded => Self::PullThePlug,
            TripKind::AirOverLimit | TripKind::PartOverLimit => Self::TooHot,
            TripKind::ThermocoupleOpen
            | TripKind::ThermocoupleShort
            | TripKind::ConverterSilent
            | TripKind::ThermocoupleReversed
            | TripKind::SensorTypeWrong
            | TripKind::ReadingStale
            | TripKind::ReadingFrozen
            | TripKind::ReadingJump
            | TripKind::NoResponse
            | TripKind::SensorMoved => Self::Sensor,
            TripKind::DoorSwitchStuck | TripKind::FanStopped | TripKind::EnclosureHot => Self::Oven,
            TripKind::TickOverrun
            | TripKind::ProcessorHung
            | TripKind::ClockWrong
            | TripKind::MemoryCorrupt => Self::Board,
        }
    }
}

/// What lamp and beeper say.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Signal {
    /// The board has started: lamp and beeper show that they work.
    Starting,
    /// Nothing runs and nothing is asked.
    Idle,
    /// Something forbids a start: a stuck button, settings, a store without room, a sensor.
    CannotStart,
    /// A bake runs and needs nobody.
    Running,
    /// A question of the bake.
    Asks(Question),
    /// A request from the computer waits for GO.
    Confirm,
    /// The bake went through and every soak had its minutes.
    Done,
    /// The bake ended without.
    Unfinished,
    /// A trip is latched.
    Trip(TripClass),
}

/// Every signal there is, in the order of the guide's table.
pub const SIGNALS: [Signal; 18] = [
    Signal::Starting,
    Signal::Idle,
    Signal::Running,
    Signal::Done,
    Signal::Unfinished,
    Signal::Asks(Question::LoadIn),
    Signal::Asks(Question::Check),
    Signal::Asks(Question::Wait),
    Signal::Asks(Question::AnythingNew),
    Signal::Asks(Question::DoorLeftOpen),
    Signal::Asks(Question::PowerReturned),
    Signal::Confirm,
    Signal::CannotStart,
    Signal::Trip(TripClass::Sensor),
    Signal::Trip(TripClass::Oven),
    Signal::Trip(TripClass::Board),
    Signal::Trip(TripClass::TooHot),
    Signal::Trip(TripClass::PullThePlug),
];

/// What is known of board and bake in one tick.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Situation {
    /// The board started less than [`STARTING_TICKS`] ago.
    pub starting: bool,
    /// The latched trip.
    pub trip: Option<TripKind>,
    /// A request from the computer waits for GO.
    pub confirm: bool,
    /// What is asked.
    pub asks: Option<Question>,
    /// Where the bake is.
    pub mode: Mode,
    /// Some soak ended short.
    pub is_short: bool,
    /// A start would be refused.
    pub cannot_start: bool,
}

/// Lamp and beeper are shown for so long after the board has started, ticks.
pub const STARTING_TICKS: u32 = TICKS_PER_SECOND;

impl Signal {
    /// What is to be shown.
    #[must_use]
    pub fn of(situation: &Situation) -> Self {
        if let Some(kind) = situation.trip {
            return Self::Trip(TripClass::of(kind));
        }
        if situation.confirm {
            return Self::Confirm;
        }
        match (situation.asks, situation.mode) {
            // A trip that is asked about without its kind is taken for the worst.
            (Some(Question::Tripped), _) => Self::Trip(TripClass::PullThePlug),
            (Some(question), _) => Self::Asks(question),
            (None, Mode::Running) => Self::Running,
            (None, _) if situation.starting => Self::Starting,
            (None, _) if situation.cannot_start => Self::CannotStart,
            (None, Mode::Idle) => Self::Idle,
            (None, Mode::Done(Ending::Finished)) if !situation.is_short => Self::Done,
            (None, Mode::Done(_)) => Self::Unfinished,
        }
    }

    /// Its word, the same in docs, on screens and in logs.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Starting => "starting",
            Self::Idle => "idle",
            Self::CannotStart => "cannot-start",
            Self::Running => "running",
            Self::Asks(Question::LoadIn) => "load-in",
            Self::Asks(Question::Check) => "check",
            Self::Asks(Question::Wait) => "wait",
            Self::Asks(Question::AnythingNew) => "anything-new",
            Self::Asks(Question::DoorLeftOpen) => "door-left-open",
            Self::Asks(Question::PowerReturned) => "power-returned",
            Self::Asks(Question::Tripped) => "tripped",
            Self::Confirm => "confirm",
            Self::Done => "done",
            Self::Unfinished => "unfinished",
            Self::Trip(TripClass::PullThePlug) => "trip: pull the plug",
            Self::Trip(TripClass::TooHot) => "trip: too hot",
            Self::Trip(TripClass::Sensor) => "trip: sensor",
            Self::Trip(TripClass::Oven) => "trip: oven",
            Self::Trip(TripClass::Board) => "trip: board",
        }
    }

    /// The table of patterns.
    #[must_use]
    pub const fn pattern(self) -> Pattern {
        match self {
            Self::Starting => Pattern::every_s(Lamp::On, 1, 0, 10).at_most(1),
            Self::Idle => Pattern::silent(Lamp::Off),
            Self::Running => Pattern::silent(Lamp::On),
            Self::Done => Pattern::every_s(Lamp::LitWithBeeps, 1, 0, 10).at_most(6),
            Self::Unfinished => Pattern::every_s(Lamp::LitWithBeeps, 0, 5, 10).at_most(6),
            Self::Asks(Question::LoadIn) => Pattern::every_s(Lamp::LitWithBeeps, 0, 1, 6),
            Self::Asks(Question::Check) => Pattern::every_s(Lamp::LitWithBeeps, 0, 2, 6),
            Self::Asks(Question::Wait) => Pattern::every_s(Lamp::LitWithBeeps, 0, 3, 6),
            Self::Asks(Question::AnythingNew) => Pattern::every_s(Lamp::LitWithBeeps, 0, 4, 6),
            Self::Asks(Question::DoorLeftOpen) => Pattern::every_s(Lamp::LitWithBeeps, 1, 1, 4),
            Self::Asks(Question::PowerReturned) => Pattern::every_s(Lamp::LitWithBeeps, 1, 2, 6),
            Self::Confirm => Pattern::every_s(Lamp::LitWithBeeps, 1, 3, 6),
            Self::CannotStart => Pattern::every_s(Lamp::LitWithBeeps, 1, 4, 10).at_most(6),
            Self::Trip(TripClass::Sensor) => Pattern::every_s(Lamp::DarkWithBeeps, 2, 0, 6),
            Self::Trip(TripClass::Oven) => Pattern::every_s(Lamp::DarkWithBeeps, 3, 0, 6),
            Self::Trip(TripClass::Board) => Pattern::every_s(Lamp::DarkWithBeeps, 4, 0, 6),
            Self::Trip(TripClass::TooHot) => Pattern::long_without_pause(Lamp::DarkWithBeeps),
            Self::Trip(TripClass::PullThePlug) | Self::Asks(Question::Tripped) => {
                Pattern::short_without_pause(Lamp::DarkWithBeeps)
            }
        }
    }
}

/// Shows one signal after the other; each begins with its first beep.
#[derive(Clone, Copy, Debug)]
pub struct Announcer {
    shown: Signal,
    since: Tick,
}

impl Announcer {
    /// Begins at `now` with what a board that has just started shows.
    #[must_use]
    pub fn new(now: Tick) -> Self {
        Self { shown: Signal::Starting, since: now }
    }

    /// Lamp and beeper for what is to be shown now.
    pub fn tick(&mut self, now: Tick, signal: Signal) -> Level {
        if signal != self.shown {
            *self = Self { shown: signal, since: now };
        }
        level(signal.pattern(), now.since(self.since))
    }
}

#[cfg(test)]
mod tests {
    use super::super::pattern::{GAP_TICKS, LONG_TICKS, SHORT_TICKS};
    use super::*;
    use truesoak_core::event::Event;

    const QUIET: Situation = Situation {
        starting: false,
        trip: None,
        confirm: false,
        asks: None,
        mode: Mode::Idle,
        is_short: false,
        cannot_start: false,
    };

    const QUESTIONS: [Question; 6] = [
        Question::LoadIn,
        Question::Check,
        Question::Wait,
        Question::AnythingNew,
        Question::DoorLeftOpen,
        Question::PowerReturned,
    ];

    /// Every length of a pattern divides it.
    const WHOLE_TICKS: u32 = 6_600;

    fn lamp(signal: Signal, tick: u32) -> bool {
        level(signal.pattern(), tick).lamp
    }

    fn beeper(signal: Signal, tick: u32) -> bool {
        level(signal.pattern(), tick).beeper
    }

    /// The same for somebody who cannot tell when it began.
    fn looks_alike(one: Signal, other: Signal, sees: fn(Signal, u32) -> bool) -> bool {
        let longest = one.pattern().every_ticks.max(other.pattern().every_ticks).max(1);
        (0..longest)
            .any(|shift| (0..WHOLE_TICKS).all(|at| sees(one, at) == sees(other, at + shift)))
    }

    fn pairs() -> impl Iterator<Item = (Signal, Signal)> {
        SIGNALS
            .iter()
            .enumerate()
            .flat_map(|(index, one)| SIGNALS.iter().skip(index + 1).map(move |two| (*one, *two)))
    }

    #[test]
    fn every_pattern_repeats_within_what_is_compared() {
        for signal in SIGNALS {
            let every_ticks = signal.pattern().every_ticks.max(1);
            assert_eq!(WHOLE_TICKS % every_ticks, 0, "{}", signal.word());
        }
    }

    #[test]
    fn no_two_signals_look_alike_to_a_person_who_cannot_hear() {
        for (one, other) in pairs() {
            // A lamp that is lit for the first second and one that stays lit are told by waiting.
            let start = one == Signal::Starting && other == Signal::Running;
            assert!(start || !looks_alike(one, other, lamp), "{} and {}", one.word(), other.word());
        }
    }

    #[test]
    fn no_two_signals_that_sound_sound_alike() {
        let sounds = |signal: Signal| signal.pattern().every_ticks > 0;
        for (one, other) in pairs().filter(|(one, other)| sounds(*one) && sounds(*other)) {
            assert!(!looks_alike(one, other, beeper), "{} and {}", one.word(), other.word());
            let count = |signal: Signal| (signal.pattern().long, signal.pattern().short);
            let paused = |signal: Signal| signal.pattern().every_ticks >= 20;
            let once = one == Signal::Starting && other == Signal::Done;
            if paused(one) && paused(other) && !once {
                assert_ne!(count(one), count(other), "told by counting alone");
            }
        }
    }

    #[test]
    fn beeps_can_be_counted_and_a_pause_is_longer_than_any_gap() {
        for signal in SIGNALS {
            let pattern = signal.pattern();
            assert!(pattern.long <= 5 && pattern.short <= 5, "{}", signal.word());
            if pattern.every_ticks >= 20 {
                let pause_ticks = pattern.every_ticks - pattern.group_ticks();
                assert!(pause_ticks >= 5 * GAP_TICKS, "{}", signal.word());
            }
        }
        const { assert!(LONG_TICKS >= 3 * SHORT_TICKS) };
    }

    #[test]
    fn no_trip_is_silent_and_every_trip_goes_on_until_it_is_acknowledged() {
        for kind in TripKind::ALL {
            let signal = Signal::of(&Situation { trip: Some(kind), ..QUIET });
            assert_eq!(signal.pattern().groups, None, "{kind}");
            for hour in 0..10 {
                let from = hour * 36_000;
                let mut seconds = (from..from + 60).map(|tick| beeper(signal, tick));
                assert!(seconds.any(|sounds| sounds), "{kind} in hour {hour}");
            }
        }
    }

    #[test]
    fn a_trip_that_may_leave_heat_flowing_sounds_more_than_any_other_signal() {
        let pulls = |signal: Signal| -> u32 {
            let edges = |tick: &u32| beeper(signal, *tick) != beeper(signal, tick + 1);
            (0..WHOLE_TICKS).filter(edges).count() as u32
        };
        let loudest = Signal::Trip(TripClass::PullThePlug);
        for signal in SIGNALS.into_iter().filter(|signal| *signal != loudest) {
            assert!(2 * pulls(signal) < pulls(loudest), "{}", signal.word());
        }
        assert_eq!(TripClass::of(TripKind::PermitWelded), TripClass::PullThePlug);
        assert_eq!(TripClass::of(TripKind::DriveWelded), TripClass::PullThePlug);
    }

    #[test]
    fn every_question_sounds_until_it_is_answered_under_the_words_of_the_log() {
        for question in QUESTIONS {
            let signal =
                Signal::of(&Situation { asks: Some(question), mode: Mode::Running, ..QUIET });
            assert_eq!(signal, Signal::Asks(question));
            assert!(SIGNALS.contains(&signal));
            assert_eq!(signal.pattern().groups, None);
            assert!((90_000..90_100).any(|tick| beeper(signal, tick)));
            let mut logged = heapless::String::<40>::new();
            core::fmt::write(&mut logged, format_args!("{}", Event::Asked(question))).unwrap();
            assert_eq!(logged.strip_prefix("asked "), Some(signal.word()));
        }
    }

    #[test]
    fn a_trip_is_shown_before_all_else_and_a_running_bake_is_quiet() {
        let everything = Situation {
            starting: true,
            trip: Some(TripKind::AirOverLimit),
            confirm: true,
            asks: Some(Question::Check),
            mode: Mode::Running,
            is_short: true,
            cannot_start: true,
        };
        assert_eq!(Signal::of(&everything), Signal::Trip(TripClass::TooHot));
        let asked = Situation { trip: None, asks: Some(Question::Tripped), ..QUIET };
        assert_eq!(Signal::of(&asked), Signal::Trip(TripClass::PullThePlug));
        let running = Signal::of(&Situation { mode: Mode::Running, ..QUIET });
        assert!((0..WHOLE_TICKS).all(|tick| !beeper(running, tick) && lamp(running, tick)));
    }

    #[test]
    fn a_bake_is_shown_as_done_only_if_every_soak_had_its_minutes() {
        let ended = |ending, is_short| {
            Signal::of(&Situation { mode: Mode::Done(ending), is_short, ..QUIET })
        };
        assert_eq!(ended(Ending::Finished, false), Signal::Done);
        assert_eq!(ended(Ending::Finished, true), Signal::Unfinished);
        for ending in [Ending::Stopped, Ending::TooLong, Ending::CheckFailed] {
            assert_eq!(ended(ending, false), Signal::Unfinished);
        }
    }

    #[test]
    fn a_new_signal_begins_with_its_first_beep_and_an_old_one_goes_on() {
        let asks = Signal::Asks(Question::LoadIn);
        let mut announcer = Announcer::new(Tick(0));
        assert_eq!(announcer.tick(Tick(0), Signal::Starting), Level { lamp: true, beeper: true });
        for tick in 0..13 {
            let _ = announcer.tick(Tick(tick), Signal::Running);
        }
        for tick in 13..200 {
            let shown = announcer.tick(Tick(tick), asks);
            assert_eq!(shown, level(asks.pattern(), tick - 13));
        }
    }
}
