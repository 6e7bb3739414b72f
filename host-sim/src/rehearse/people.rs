//! The people of a rehearsal: they open and close the door, answer what is asked, and put the load
//! in, as the bake file's script says or, where it says nothing, as patient people would.

use std::collections::VecDeque;

use crate::files::bake::{AnswerScript, BakeFile, DoorScript, Moment, Say};
use truesoak_core::bake::Step;
use truesoak_core::io::Question;
use truesoak_core::person::{FAIL_TICKS, GO_TICKS};
use truesoak_core::units::TICKS_PER_SECOND;

/// A question nobody scripted is answered after so long, s.
const ANSWER_AFTER_S: f64 = 600.0;
/// A load_in nobody scripted: the door opens so long after it asks, s …
const LOAD_AFTER_S: f64 = 120.0;
/// … for so long, s.
const LOAD_FOR_S: f64 = 75.0;

/// Something a person does at a tick.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Act {
    /// Opens the door to a share of its width.
    Open(f64),
    /// Puts the load in.
    Load,
    /// Closes the door.
    Close,
}

/// A press of a button under way.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Pressing {
    say: Say,
    from: u32,
}

/// A question waiting for its answer.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Pending {
    question: Question,
    say: Say,
    due: u32,
    when_shut: bool,
}

/// What people will do.
#[derive(Clone, Debug)]
pub struct People {
    doors: Vec<DoorScript>,
    /// The first tick each of them opens at, once it is known.
    opens: Vec<Option<u32>>,
    answers: VecDeque<AnswerScript>,
    acts: Vec<(u32, Act)>,
    pending: Option<Pending>,
    pressing: Option<Pressing>,
    door_open: bool,
    /// The load_in under way is not over before.
    shut_from: u32,
}

/// Ticks of a time, at least none.
#[must_use]
pub fn ticks(seconds: f64) -> u32 {
    (seconds * f64::from(TICKS_PER_SECOND)).round() as u32
}

impl People {
    /// People with the script of a bake file.
    #[must_use]
    pub fn new(bake: &BakeFile) -> Self {
        let mut people = Self {
            doors: bake.doors.clone(),
            opens: vec![None; bake.doors.len()],
            answers: bake.answers.iter().copied().collect(),
            acts: Vec::new(),
            pending: None,
            pressing: None,
            door_open: false,
            shut_from: 0,
        };
        let at_start: Vec<_> = people.doors.clone();
        for (number, door) in at_start.iter().enumerate() {
            if let Moment::SinceStart(seconds) = door.at {
                people.plan_scripted(number, ticks(seconds).max(1), door);
            }
        }
        people
    }

    /// A step begins: its doors are planned, and a load_in without one gets one.
    pub fn step_began(&mut self, index: usize, step: Option<&Step>, tick: u32) {
        let is_load_in = matches!(step, Some(Step::LoadIn(_)));
        let doors: Vec<_> = self.doors.clone();
        let planned = self.acts.len();
        let mut scripted = false;
        for (number, door) in doors.iter().enumerate() {
            if let Moment::SinceStep(step, seconds) = door.at
                && step == index
            {
                scripted = true;
                // This tick is over: whoever waits for the step acts in the next.
                self.plan_scripted(number, tick + ticks(seconds).max(1), door);
            }
        }
        if is_load_in && !scripted {
            let usual = DoorScript {
                at: Moment::SinceStep(index, LOAD_AFTER_S),
                open_for_s: LOAD_FOR_S,
                loads: true,
                opening: 1.0,
            };
            self.plan_door(tick + ticks(LOAD_AFTER_S), &usual);
        }
        if is_load_in {
            let closes = self.acts.iter().skip(planned).map(|(at, _)| *at).max();
            self.shut_from = closes.unwrap_or(tick);
        }
    }

    fn plan_scripted(&mut self, number: usize, from: u32, door: &DoorScript) {
        if let Some(opens) = self.opens.get_mut(number) {
            let _ = opens.get_or_insert(from);
        }
        self.plan_door(from, door);
    }

    /// Scripted doors that have not opened by `now`, by their number from 0.
    #[must_use]
    pub fn doors_not_opened(&self, now: u32) -> Vec<usize> {
        let shut = |opens: &Option<u32>| opens.is_none_or(|at| at > now);
        self.opens.iter().enumerate().filter(|(_, opens)| shut(opens)).map(|(n, _)| n).collect()
    }

    /// Scripted answers that nothing has asked for.
    #[must_use]
    pub fn answers_left(&self) -> usize {
        self.answers.len()
    }

    /// The door opens at a tick for so long, with the load going in half way.
    fn plan_door(&mut self, from: u32, door: &DoorScript) {
        let open_for = ticks(door.open_for_s).max(1);
        self.acts.push((from, Act::Open(door.opening)));
        if door.loads {
            self.acts.push((from + open_for / 2, Act::Load));
        }
        self.acts.push((from.saturating_add(open_for), Act::Close));
    }

    /// An opening that is a fault.
    pub fn fault_opens(&mut self, from: u32, to: u32) {
        self.acts.push((from, Act::Open(1.0)));
        if to != u32::MAX {
            self.acts.push((to, Act::Close));
        }
    }

    /// A door that stands open is closed now, whoever had opened it.
    pub fn shut_at(&mut self, tick: u32) {
        if self.door_open {
            // Later openings keep their own end.
            let is_open = |act: &Act| matches!(act, Act::Open(_));
            let next = self.acts.iter().filter(|(_, act)| is_open(act)).map(|(at, _)| *at).min();
            self.acts.retain(|(at, act)| *act != Act::Close || next.is_some_and(|next| *at > next));
            self.acts.push((tick, Act::Close));
        }
    }

    /// What is asked, and nobody is going to answer it before `tick`.
    #[must_use]
    pub fn leave_unanswered(&self, tick: u32) -> Option<Question> {
        self.pending.filter(|pending| pending.due > tick).map(|pending| pending.question)
    }

    /// What is still to be done, by tick.
    #[must_use]
    pub fn planned(&self) -> &[(u32, Act)] {
        &self.acts
    }

    /// Something is done at this tick.
    #[must_use]
    pub fn acts_at(&self, tick: u32) -> bool {
        self.acts.iter().any(|(at, _)| *at == tick)
    }

    /// What is done at this tick, in the order it was planned. Who loads and finds the door shut again by
    /// whoever had opened it besides opens it.
    pub fn take_acts(&mut self, tick: u32) -> Vec<Act> {
        let due: Vec<_> =
            self.acts.iter().filter(|(at, _)| *at == tick).map(|(_, act)| *act).collect();
        self.acts.retain(|(at, _)| *at > tick);
        let mut done = Vec::with_capacity(due.len());
        for act in due {
            match act {
                Act::Load if !self.door_open => {
                    self.door_open = true;
                    done.push(Act::Open(1.0));
                }
                Act::Load => {}
                Act::Open(_) => self.door_open = true,
                Act::Close => self.door_open = false,
            }
            done.push(act);
        }
        done
    }

    /// Follows what is asked; a new question gets the next answer of the script.
    #[inline]
    pub fn hear(&mut self, asked: Option<Question>, tick: u32) {
        if asked.is_none() && self.pending.is_none() {
            return;
        }
        let asked = asked.filter(|question| *question != Question::Tripped);
        let is_new = self.pending.map(|pending| pending.question) != asked;
        if is_new && self.pressing.is_none() {
            self.turn_to(asked, tick);
        }
    }

    #[cold]
    fn turn_to(&mut self, asked: Option<Question>, tick: u32) {
        self.pending = asked.map(|question| {
            let script = self.next_answer(question);
            let when_shut = matches!(question, Question::LoadIn | Question::DoorLeftOpen);
            let usual_s = if when_shut { 0.0 } else { ANSWER_AFTER_S };
            let after_s = script.and_then(|script| script.after_s).unwrap_or(usual_s);
            let say = script.map_or(Say::Go, |script| script.say);
            Pending { question, say, due: tick + ticks(after_s), when_shut }
        });
        // A door that nobody would close is closed by whoever answers.
        if let Some(Pending { question: Question::DoorLeftOpen, .. }) = self.pending
            && !self.acts.iter().any(|(_, act)| *act == Act::Close)
        {
            self.acts.push((tick + ticks(ANSWER_AFTER_S), Act::Close));
        }
    }

    /// The script's next answer, if it is one to this question: a pass or a fail waits for a
    /// question that knows the two.
    fn next_answer(&mut self, question: Question) -> Option<AnswerScript> {
        let only_go =
            matches!(question, Question::LoadIn | Question::Wait | Question::DoorLeftOpen);
        let fits = |script: &AnswerScript| !only_go || script.say == Say::Go;
        if self.answers.front().is_some_and(fits) { self.answers.pop_front() } else { None }
    }

    /// The buttons at this tick: GO, STOP.
    #[inline]
    pub fn buttons(&mut self, tick: u32) -> (bool, bool) {
        if self.pressing.is_none() && self.pending.is_none() {
            return (false, false);
        }
        self.press(tick)
    }

    /// The same while something is asked.
    #[cold]
    fn press(&mut self, tick: u32) -> (bool, bool) {
        if self.pressing.is_none()
            && let Some(pending) = self.pending
            && tick >= pending.due
            && !(pending.when_shut && (self.door_open || tick < self.shut_from))
        {
            self.pressing = Some(Pressing { say: pending.say, from: tick });
        }
        let Some(pressing) = self.pressing else { return (false, false) };
        let held = tick - pressing.from;
        let long = if pressing.say == Say::Fail { FAIL_TICKS } else { GO_TICKS };
        if held > long {
            self.pressing = None;
            self.pending = None;
            return (false, false);
        }
        // GO speaks when it is let go; nobody is asked anew before a board has seen that.
        let go = pressing.say != Say::Fail && held < GO_TICKS - 1;
        (go, pressing.say == Say::Fail)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// People with nothing to do.
    fn idle() -> People {
        People {
            doors: Vec::new(),
            opens: Vec::new(),
            answers: VecDeque::new(),
            acts: Vec::new(),
            pending: None,
            pressing: None,
            door_open: false,
            shut_from: 0,
        }
    }

    #[test]
    fn nobody_loads_through_a_door_that_somebody_else_has_shut() {
        let mut people = idle();
        let load =
            DoorScript { at: Moment::SinceStart(1.0), open_for_s: 10.0, loads: true, opening: 0.5 };
        people.plan_door(10, &load);
        people.fault_opens(5, 40);
        let done: Vec<_> = (0..=110).map(|tick| people.take_acts(tick)).collect();
        assert_eq!(done[40], [Act::Close], "the other has");
        assert_eq!(done[60], [Act::Open(1.0), Act::Load]);
        assert_eq!(done[110], [Act::Close]);
    }

    #[test]
    fn a_door_shut_by_hand_leaves_later_openings_their_own_end() {
        let mut people = idle();
        people.fault_opens(10, 100);
        people.fault_opens(200, 230);
        let _ = people.take_acts(10);
        people.shut_at(50);
        let ends = [(200, Act::Open(1.0)), (230, Act::Close), (50, Act::Close)];
        assert_eq!(people.planned(), ends);
    }
}
