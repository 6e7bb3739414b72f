//! GO and STOP: contacts, read once a tick, become pressed or not.
//!
//! Either input is low while its contact is closed. GO closes when pressed, STOP opens; a cut wire
//! is GO not pressed and STOP pressed. A change is believed at its second reading in a row: contacts
//! bounce for less than a tick, but one disturbed reading in the middle of a hold would end one
//! press and begin another, and on STOP would end a bake. That tenth of a second delays no safety,
//! for STOP's other contact opens the contactor without any code.
//!
//! The first reading is believed at once: the core takes a button for stuck that has been closed
//! since the board started, and a moment of "not pressed" would hide it. How long a press lasts and
//! what it means is counted there (`truesoak_core::person`).

use embedded_hal::digital::InputPin;

/// Readings in a row that change what is believed.
const READINGS: u8 = 2;

/// What both buttons say in one tick, as [`truesoak_core::io::Inputs`] takes it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pressed {
    /// GO is pressed.
    pub go: bool,
    /// STOP is pressed, or its wire is cut.
    pub stop: bool,
}

/// Both buttons.
#[derive(Debug)]
pub struct Buttons<Go, Stop> {
    go_pin: Go,
    stop_pin: Stop,
    go: Steady,
    stop: Steady,
}

impl<Go: InputPin, Stop: InputPin> Buttons<Go, Stop> {
    /// Takes the pins; nothing is read yet.
    #[must_use]
    pub fn new(go_pin: Go, stop_pin: Stop) -> Self {
        Self { go_pin, stop_pin, go: Steady::default(), stop: Steady::default() }
    }

    /// Reads both, once a tick. A pin that cannot be read is a contact that is open.
    pub fn read(&mut self) -> Pressed {
        let go_closed = self.go_pin.is_low().unwrap_or(false);
        let stop_closed = self.stop_pin.is_low().unwrap_or(false);
        Pressed { go: self.go.take(go_closed), stop: self.stop.take(!stop_closed) }
    }
}

/// A contact that is believed to have changed only when it stays so.
#[derive(Clone, Copy, Debug, Default)]
struct Steady {
    believed: Option<bool>,
    against: u8,
}

impl Steady {
    fn take(&mut self, reading: bool) -> bool {
        let believed = self.believed.unwrap_or(reading);
        self.against = if reading == believed { 0 } else { self.against.saturating_add(1) };
        let changed = self.against >= READINGS;
        if changed {
            self.against = 0;
        }
        *self.believed.insert(if changed { reading } else { believed })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use core::convert::Infallible;
    use embedded_hal::digital::{Error, ErrorKind, ErrorType};
    use truesoak_core::person::{Buttons as Presses, FAIL_TICKS, GO_TICKS, Press};

    /// A pin that reads what it is told to, one reading after the other, then the last for ever.
    struct Told<'a>(&'a [bool]);

    impl ErrorType for Told<'_> {
        type Error = Infallible;
    }

    impl InputPin for Told<'_> {
        fn is_high(&mut self) -> Result<bool, Infallible> {
            let (now, rest) = self.0.split_first().unwrap();
            if !rest.is_empty() {
                self.0 = rest;
            }
            Ok(*now)
        }

        fn is_low(&mut self) -> Result<bool, Infallible> {
            self.is_high().map(|high| !high)
        }
    }

    /// A pin whose every reading fails.
    struct Broken;

    #[derive(Debug)]
    struct Unread;

    impl Error for Unread {
        fn kind(&self) -> ErrorKind {
            ErrorKind::Other
        }
    }

    impl ErrorType for Broken {
        type Error = Unread;
    }

    impl InputPin for Broken {
        fn is_high(&mut self) -> Result<bool, Unread> {
            Err(Unread)
        }

        fn is_low(&mut self) -> Result<bool, Unread> {
            Err(Unread)
        }
    }

    const OPEN: bool = true;
    const CLOSED: bool = false;

    fn go_read(levels: &[bool]) -> impl Iterator<Item = bool> {
        let mut buttons = Buttons::new(Told(levels), Told(&[CLOSED]));
        (0..levels.len()).map(move |_| buttons.read().go)
    }

    #[test]
    fn a_press_is_believed_at_its_second_reading_and_a_release_too() {
        let levels = [OPEN, CLOSED, CLOSED, CLOSED, OPEN, OPEN];
        assert!(go_read(&levels).eq([false, false, true, true, true, false]));
    }

    #[test]
    fn one_disturbed_reading_neither_makes_nor_ends_a_press() {
        let mut levels = [CLOSED; 60];
        levels[0] = OPEN;
        levels[30] = OPEN;
        levels[58..].fill(OPEN);
        let mut presses = Presses::default();
        let spoken = go_read(&levels).filter(|go| presses.tick(*go, false).is_some()).count();
        assert_eq!(spoken, 1, "one hold has one meaning");

        let mut disturbed = [CLOSED; 20];
        disturbed[10] = OPEN;
        let mut stop = Buttons::new(Told(&[OPEN]), Told(&disturbed));
        assert!((0..20).all(|_| !stop.read().stop), "and STOP ends no bake by a disturbance");
    }

    #[test]
    fn a_button_closed_since_the_board_started_is_never_seen_released() {
        assert!(go_read(&[CLOSED; 5]).all(|go| go), "GO held, or stuck");
        let mut buttons = Buttons::new(Told(&[OPEN]), Told(&[OPEN]));
        assert!((0..5).all(|_| buttons.read().stop), "STOP latched, or its wire cut");
    }

    #[test]
    fn pins_that_cannot_be_read_are_go_released_and_stop_pressed() {
        let mut buttons = Buttons::new(Broken, Broken);
        for _ in 0..5 {
            assert_eq!(buttons.read(), Pressed { go: false, stop: true });
        }
    }

    #[test]
    fn holds_at_the_pins_are_the_presses_that_the_core_knows() {
        let held = |ticks: u32| -> [bool; 80] {
            core::array::from_fn(|index| (1..=ticks as usize).contains(&index))
        };
        let go_levels = held(GO_TICKS).map(|pressed| !pressed);
        let stop_levels = held(FAIL_TICKS);
        let short_stop = held(7);
        for (go, stop, said) in [
            (&go_levels, &[CLOSED; 80], Press::Go),
            (&[OPEN; 80], &stop_levels, Press::Fail),
            (&[OPEN; 80], &short_stop, Press::Stop),
        ] {
            let (mut buttons, mut presses) =
                (Buttons::new(Told(go), Told(stop)), Presses::default());
            let mut spoken = (0..80).filter_map(|_| {
                let now = buttons.read();
                presses.tick(now.go, now.stop)
            });
            assert_eq!((spoken.next(), spoken.next()), (Some(said), None));
        }
    }
}
