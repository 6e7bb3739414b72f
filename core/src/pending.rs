//! A request from the computer that waits for a person at the oven.
//!
//! What may lead to heat is never done because a computer said so: it waits until GO is held, for a
//! minute at most. It stands for what was asked when it came; once anything else is asked, or
//! nothing, it lapses, and a press of GO means what it means without it. A stop waits for nobody.

use crate::command::Command;
use crate::io::{Answer, Question};
use crate::person::Press;
use crate::units::{TICKS_PER_SECOND, Tick};

/// A request waits so long for GO, s.
pub const REQUEST_S: u8 = 60;
const REQUEST_TICKS: u32 = REQUEST_S as u32 * TICKS_PER_SECOND;

/// A request and when it came.
#[derive(Clone, Copy, Debug)]
struct Waiting {
    command: Command,
    since: Tick,
    question: Option<Question>,
}

/// The request that waits, if one does.
#[derive(Clone, Copy, Debug, Default)]
pub struct Pending(Option<Waiting>);

impl Pending {
    /// Takes a request, in place of any that waits. `question` is what is being asked.
    pub fn ask(&mut self, now: Tick, command: Command, question: Option<Question>) {
        self.0 = Some(Waiting { command, since: now, question });
    }

    /// No request waits.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_none()
    }

    /// One tick: what was said, at the oven alone or by a request that counts now. With
    /// `is_virtual` a request needs no GO.
    pub fn tick(
        &mut self,
        now: Tick,
        press: Option<Press>,
        question: Option<Question>,
        is_virtual: bool,
    ) -> Option<Press> {
        let Some(waiting) = self.0 else { return press };
        if waiting.command == Command::Stop {
            self.0 = None;
            return Some(Press::Stop);
        }
        let late = now.since(waiting.since) >= REQUEST_TICKS;
        if !is_virtual && (late || waiting.question != question) {
            self.0 = None;
            return press;
        }
        match press {
            None if !is_virtual => None,
            // What a person does with STOP comes before anything a computer asked for.
            Some(Press::Stop | Press::Fail) => {
                self.0 = None;
                press
            }
            _ => {
                self.0 = None;
                Some(press_of(waiting.command))
            }
        }
    }

    /// The request that waits for GO, and whole seconds left to it.
    #[must_use]
    pub fn waits(&self, now: Tick) -> Option<(Command, u8)> {
        let waiting = self.0?;
        let left = REQUEST_TICKS.saturating_sub(now.since(waiting.since));
        u8::try_from(left.div_ceil(TICKS_PER_SECOND)).ok().map(|left_s| (waiting.command, left_s))
    }
}

/// What a confirmed request stands for.
fn press_of(command: Command) -> Press {
    match command {
        Command::Stop => Press::Stop,
        Command::Answer(Answer::Fail) => Press::Fail,
        Command::Start | Command::Acknowledge | Command::Answer(Answer::Go) => Press::Go,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const CHECK: Option<Question> = Some(Question::Check);
    const FAIL: Command = Command::Answer(Answer::Fail);

    fn asked(command: Command, question: Option<Question>) -> Pending {
        let mut pending = Pending::default();
        pending.ask(Tick(100), command, question);
        pending
    }

    #[test]
    fn a_request_does_nothing_until_go_and_then_once() {
        let mut pending = asked(Command::Start, None);
        for tick in 100..600 {
            assert_eq!(pending.tick(Tick(tick), None, None, false), None);
        }
        assert_eq!(pending.waits(Tick(600)), Some((Command::Start, 10)));
        assert_eq!(pending.tick(Tick(600), Some(Press::Go), None, false), Some(Press::Go));
        assert_eq!(pending.waits(Tick(601)), None);
        assert_eq!(pending.tick(Tick(601), None, None, false), None);
    }

    #[test]
    fn a_confirmed_fail_is_a_fail_and_a_late_one_only_the_go_it_is() {
        let mut pending = asked(FAIL, CHECK);
        assert_eq!(pending.tick(Tick(699), Some(Press::Go), CHECK, false), Some(Press::Fail));
        let mut pending = asked(FAIL, CHECK);
        assert_eq!(pending.tick(Tick(700), Some(Press::Go), CHECK, false), Some(Press::Go));
        assert_eq!(pending.waits(Tick(700)), None);
    }

    #[test]
    fn a_request_lapses_when_something_else_is_asked() {
        let mut pending = asked(FAIL, CHECK);
        assert_eq!(pending.tick(Tick(101), None, Some(Question::PowerReturned), false), None);
        assert_eq!(pending.tick(Tick(102), Some(Press::Go), CHECK, false), Some(Press::Go));
        let mut start = asked(Command::Start, None);
        let tripped = Some(Question::Tripped);
        assert_eq!(start.tick(Tick(101), Some(Press::Go), tripped, false), Some(Press::Go));
        assert_eq!(start.waits(Tick(102)), None);
    }

    #[test]
    fn a_stop_waits_for_nobody_and_stop_at_the_oven_comes_before_any_request() {
        let mut pending = asked(Command::Stop, CHECK);
        assert_eq!(pending.tick(Tick(101), None, None, false), Some(Press::Stop));
        for press in [Press::Stop, Press::Fail] {
            let mut pending = asked(Command::Start, None);
            assert_eq!(pending.tick(Tick(101), Some(press), None, false), Some(press));
            assert_eq!(pending.waits(Tick(102)), None);
        }
    }

    #[test]
    fn only_a_virtual_board_takes_a_request_at_once() {
        let mut pending = asked(Command::Start, None);
        assert_eq!(pending.tick(Tick(100), None, None, true), Some(Press::Go));
    }

    #[test]
    fn a_minute_is_a_minute_across_the_wrap_of_the_tick() {
        let mut pending = Pending::default();
        pending.ask(Tick(u32::MAX - 10), Command::Start, None);
        assert_eq!(pending.tick(Tick(588), None, None, false), None);
        assert_eq!(pending.waits(Tick(588)), Some((Command::Start, 1)));
        assert_eq!(pending.tick(Tick(589), Some(Press::Go), None, false), Some(Press::Go));
        assert_eq!(pending.waits(Tick(589)), None);
    }
}
