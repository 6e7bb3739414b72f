//! What the board shows and switches besides heat: fan, lamp, beeper, display.

use crate::board::{Hardware, SCREEN_COLUMNS, SCREEN_LINES, Screen};
use crate::person::{Announcer, Signal, Situation};
use core::fmt::Write as _;
use embedded_hal::digital::OutputPin;
use heapless::String;
use truesoak_core::Controller;
use truesoak_core::bake::Step;
use truesoak_core::io::Outputs;
use truesoak_core::ledger::Ledger;
use truesoak_core::sequence::Mode;
use truesoak_core::units::{Celsius, Tick};

/// A line of the display.
type Line = String<SCREEN_COLUMNS>;

/// Fan, lamp, beeper and display.
pub(super) struct Panel<H: Hardware> {
    fan: H::Output,
    lamp: H::Output,
    beeper: H::Output,
    screen: H::Screen,
    announcer: Option<Announcer>,
    next_line: u8,
}

impl<H: Hardware> Panel<H> {
    /// Takes the pins, all low.
    pub fn new(
        mut fan: H::Output,
        mut lamp: H::Output,
        mut beeper: H::Output,
        screen: H::Screen,
    ) -> Self {
        for pin in [&mut fan, &mut lamp, &mut beeper] {
            let _ = pin.set_low();
        }
        Self { fan, lamp, beeper, screen, announcer: None, next_line: 0 }
    }

    /// One tick; of the display one line. A pin that reports an error is tried again in the next.
    pub fn tick(
        &mut self,
        now: Tick,
        situation: &Situation,
        outputs: &Outputs,
        air: Celsius,
        controller: Option<&Controller>,
    ) {
        let signal = Signal::of(situation);
        let level = self.announcer.get_or_insert(Announcer::new(now)).tick(now, signal);
        let _ = self.fan.set_state(outputs.fan.into());
        let _ = self.lamp.set_state(level.lamp.into());
        let _ = self.beeper.set_state(level.beeper.into());
        if H::Screen::IS_FITTED {
            let line = self.next_line;
            self.screen.show(line, &text(line, situation, air, controller));
            self.next_line = (line + 1) % SCREEN_LINES;
        }
    }
}

/// One line: what is waited for or wrong; the air; the parts; what was counted.
fn text(line: u8, situation: &Situation, air: Celsius, controller: Option<&Controller>) -> Line {
    let mut text = Line::new();
    // A line that is too long ends early; that is no fault.
    let _ = match (line, controller) {
        (0, _) => match situation.trip {
            Some(kind) => text.write_str(fitting(kind.word())),
            None => text.write_str(fitting(Signal::of(situation).word())),
        },
        (1, _) if air.is_physical() => write!(text, "air {} C", Tenths(air)),
        (1, _) => text.write_str("air ?"),
        (2, Some(controller)) => {
            let ledger = controller.ledger();
            match ledger.and_then(Ledger::coldest).zip(ledger.and_then(Ledger::hottest)) {
                Some((coldest, hottest)) => {
                    write!(text, "{}..{} C", Tenths(coldest), Tenths(hottest))
                }
                None => Ok(()),
            }
        }
        (3, Some(controller)) => match counted_s(controller) {
            Some((counted_s, of_s)) => {
                write!(text, "{} of {} min", counted_s / 60, of_s.div_ceil(60))
            }
            None => Ok(()),
        },
        _ => Ok(()),
    };
    text
}

/// Credit of the present soak and what ends it, s.
fn counted_s(controller: &Controller) -> Option<(u32, u32)> {
    match controller.bake().steps.get(usize::from(controller.step())) {
        Some(Step::Soak(soak)) if controller.mode() == Mode::Running => {
            Some((controller.ledger()?.credit_s(), soak.for_s))
        }
        _ => None,
    }
}

/// As much of a word as a line holds.
fn fitting(word: &str) -> &str {
    word.get(..SCREEN_COLUMNS).unwrap_or(word)
}

/// A temperature with one decimal, without the code that formats floats.
struct Tenths(Celsius);

impl core::fmt::Display for Tenths {
    fn fmt(&self, formatter: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        // The cast saturates, and of a not-a-number makes zero.
        let tenths = libm::roundf(self.0.0 * 10.0) as i32;
        let sign = if tenths < 0 { "-" } else { "" };
        let tenths = tenths.unsigned_abs();
        write!(formatter, "{sign}{}.{}", tenths / 10, tenths % 10)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    extern crate std;
    use std::string::ToString as _;

    #[test]
    fn tenths_round_to_the_nearest_and_keep_their_sign() {
        for (celsius, written) in
            [(149.24, "149.2"), (149.25, "149.3"), (-0.26, "-0.3"), (-12.0, "-12.0"), (0.04, "0.0")]
        {
            assert_eq!(Tenths(Celsius(celsius)).to_string(), written);
        }
    }

    #[test]
    fn every_word_shown_is_cut_at_what_a_line_holds() {
        for kind in truesoak_core::guard::TripKind::ALL {
            assert!(fitting(kind.word()).len() <= SCREEN_COLUMNS);
        }
        assert_eq!(fitting("thermocouple-reversed"), "thermocouple-rev");
    }
}
