//! Every reason a bake cannot run, found at once and without its files.
//!
//! Pure checks of the steps and limits against each other and the room; what needs the load or the
//! oven's model is checked where those are known. The computer turns a [`BakeFault`] into a line
//! of the file; the board refuses the bake. One pass over at most 24 steps, and one more for each
//! check that repeats.

use super::{Bake, Check, OnFail, Ramp, Soak, Step};
use crate::units::Celsius;
use heapless::Vec;
use serde::{Deserialize, Serialize};

/// Most faults reported at once.
pub const FAULTS_MAX: usize = 32;

/// Air or parts do not come closer to the room than this in any useful time, K.
pub const NEAREST_TO_ROOM_K: f32 = 2.0;

/// Something that makes a bake impossible.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BakeFault {
    /// The step, from 0; `None` for the limits and the list of steps itself.
    pub step: Option<u8>,
    /// The value at fault.
    pub field: Field,
    /// What is wrong with it.
    pub reason: Reason,
}

/// A value of a step or limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[allow(missing_docs)] // the names of the file's own keys
pub enum Field {
    Steps,
    AirMax,
    BakeMax,
    DoorOpenMax,
    To,
    Rate,
    At,
    AtLeast,
    AtMost,
    For,
    Boost,
    GiveUpAfter,
    NoLongerThan,
    RepeatFrom,
    Tries,
    /// The whole step.
    Step,
}

/// What is wrong.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Reason {
    /// There are no steps.
    NoSteps,
    /// Not-a-number, infinite or below absolute zero.
    NotPhysical,
    /// Zero, where more is needed.
    Zero,
    /// Negative, where zero or more is needed.
    Negative,
    /// The upper end is not above the lower one.
    WindowInverted,
    /// Above the bake's air limit.
    AboveAirMax,
    /// Closer to the room than [`NEAREST_TO_ROOM_K`], or below it.
    BelowRoom,
    /// Names this step or a later one.
    NotEarlier,
    /// Heats while a person may have the parts, since the step with this index.
    HandsOn(u8),
    /// Repeating from there heats while a person may have the parts.
    RepeatHeats(u8),
    /// Holds a window before any part is in the oven.
    OvenEmpty,
    /// Shorter than the soak's own time.
    ShorterThanSoak,
    /// Shorter than the soaks of the bake together take, s.
    ShorterThanBake(u32),
}

impl Bake {
    /// Every fault of this bake, in the order of the file; empty for a bake that can run.
    #[must_use]
    pub fn faults(&self, room: Celsius) -> Vec<BakeFault, FAULTS_MAX> {
        let mut found = Found { faults: Vec::new(), step: None };
        self.limit_faults(&mut found);
        for (index, step) in self.steps.iter().enumerate() {
            found.step = u8::try_from(index).ok();
            self.step_faults(step, room, &mut found);
        }
        self.order_faults(&mut found);
        found.faults
    }

    /// Heated seconds the soaks take at least, each once.
    fn soak_s(&self) -> u32 {
        self.steps.iter().fold(0u32, |sum, step| match step {
            Step::Soak(soak) => sum.saturating_add(soak.for_s),
            _ => sum,
        })
    }

    fn limit_faults(&self, found: &mut Found) {
        if self.steps.is_empty() {
            found.add(Field::Steps, Reason::NoSteps);
        }
        found.physical(Field::AirMax, self.limits.air_max);
        if self.limits.bake_max_s == 0 {
            found.add(Field::BakeMax, Reason::Zero);
        } else if self.limits.bake_max_s < self.soak_s() {
            found.add(Field::BakeMax, Reason::ShorterThanBake(self.soak_s()));
        }
        if self.limits.door_open_max_s == 0 {
            found.add(Field::DoorOpenMax, Reason::Zero);
        }
    }

    fn step_faults(&self, step: &Step, room: Celsius, found: &mut Found) {
        let coldest = Celsius(room.0 + NEAREST_TO_ROOM_K);
        match step {
            Step::Ramp(Ramp { to, rate_k_per_min }) => {
                self.heat_faults(Field::To, *to, coldest, found);
                match rate_k_per_min {
                    Some(rate) if !rate.0.is_finite() => {
                        found.add(Field::Rate, Reason::NotPhysical);
                    }
                    Some(rate) if rate.0 == 0.0 => found.add(Field::Rate, Reason::Zero),
                    Some(rate) if rate.0 < 0.0 => found.add(Field::Rate, Reason::Negative),
                    _ => {}
                }
            }
            Step::Soak(soak) => self.soak_faults(soak, coldest, found),
            Step::Cool(cool) => {
                if found.physical(Field::To, cool.to) && cool.to < coldest {
                    found.add(Field::To, Reason::BelowRoom);
                }
            }
            Step::LoadIn(load_in) => {
                if let Some(at) = load_in.at {
                    self.heat_faults(Field::At, at, coldest, found);
                }
            }
            Step::Check(check) => {
                if check.tries == 0 {
                    found.add(Field::Tries, Reason::Zero);
                }
            }
            Step::Wait(_) => {}
        }
    }

    /// A temperature the air is driven to.
    fn heat_faults(&self, field: Field, to: Celsius, coldest: Celsius, found: &mut Found) {
        if !found.physical(field, to) {
            return;
        }
        if to > self.limits.air_max {
            found.add(field, Reason::AboveAirMax);
        }
        if to < coldest {
            found.add(field, Reason::BelowRoom);
        }
    }

    fn soak_faults(&self, soak: &Soak, coldest: Celsius, found: &mut Found) {
        let low = found.physical(Field::AtLeast, soak.at_least);
        let high = found.physical(Field::AtMost, soak.at_most);
        if low && high && soak.at_most <= soak.at_least {
            found.add(Field::AtMost, Reason::WindowInverted);
        }
        if high && soak.at_most > self.limits.air_max {
            found.add(Field::AtMost, Reason::AboveAirMax);
        }
        if low && soak.at_least < coldest {
            found.add(Field::AtLeast, Reason::BelowRoom);
        }
        if soak.for_s == 0 {
            found.add(Field::For, Reason::Zero);
        }
        if !soak.boost.0.is_finite() {
            found.add(Field::Boost, Reason::NotPhysical);
        } else if soak.boost.0 < 0.0 {
            found.add(Field::Boost, Reason::Negative);
        }
        if soak.give_up_after_s.is_some_and(|limit| limit < soak.for_s) {
            found.add(Field::GiveUpAfter, Reason::ShorterThanSoak);
        }
        if soak.no_longer_than_s.is_some_and(|limit| limit < soak.for_s) {
            found.add(Field::NoLongerThan, Reason::ShorterThanSoak);
        }
    }

    /// Where the parts are: in from the start without any load_in, else from the first one on; in
    /// a person's hands after a check or wait, until the next load_in.
    fn order_faults(&self, found: &mut Found) {
        let mut inside = !self.steps.iter().any(|step| matches!(step, Step::LoadIn(_)));
        let mut hands_on = None;
        for (index, step) in self.steps.iter().enumerate() {
            let here = u8::try_from(index).unwrap_or(u8::MAX);
            found.step = Some(here);
            match step {
                Step::LoadIn(_) => {
                    inside = true;
                    hands_on = None;
                }
                Step::Check(check) => {
                    self.repeat_faults(index, check, found);
                    hands_on = if check.parts_stay { hands_on } else { Some(here) };
                }
                Step::Wait(wait) => {
                    hands_on = if wait.parts_stay { hands_on } else { Some(here) };
                }
                Step::Soak(_) if !inside => found.add(Field::Step, Reason::OvenEmpty),
                Step::Soak(_) => {
                    if let Some(since) = hands_on.take() {
                        found.add(Field::Step, Reason::HandsOn(since));
                    }
                }
                Step::Ramp(_) => {
                    if let Some(since) = hands_on
                        && !self.heats_the_empty_oven(index)
                    {
                        hands_on = None;
                        found.add(Field::Step, Reason::HandsOn(since));
                    }
                }
                Step::Cool(_) => {}
            }
        }
    }

    /// From this step on only ramps come before the next load_in: nothing is inside yet.
    fn heats_the_empty_oven(&self, from: usize) -> bool {
        let next = self.steps.iter().skip(from).find(|step| !matches!(step, Step::Ramp(_)));
        matches!(next, Some(Step::LoadIn(_)))
    }

    fn repeat_faults(&self, index: usize, check: &Check, found: &mut Found) {
        let OnFail::RepeatFrom(target) = check.on_fail else { return };
        let from = usize::from(target);
        if from >= index {
            found.add(Field::RepeatFrom, Reason::NotEarlier);
            return;
        }
        if check.parts_stay {
            return;
        }
        let first_heat = self
            .steps
            .iter()
            .enumerate()
            .skip(from)
            .find(|(_, step)| matches!(step, Step::Ramp(_) | Step::Soak(_) | Step::LoadIn(_)));
        if let Some((heat, step)) = first_heat {
            let empty = matches!(step, Step::LoadIn(_)) || self.heats_the_empty_oven(heat);
            if !empty && heat < index {
                let heat = u8::try_from(heat).unwrap_or(u8::MAX);
                found.add(Field::RepeatFrom, Reason::RepeatHeats(heat));
            }
        }
    }
}

/// Faults found so far; more than fit are left out.
struct Found {
    faults: Vec<BakeFault, FAULTS_MAX>,
    step: Option<u8>,
}

impl Found {
    fn add(&mut self, field: Field, reason: Reason) {
        // Full: the bake is refused in any case.
        let _ = self.faults.push(BakeFault { step: self.step, field, reason });
    }

    /// Reports a temperature that is none; true for one that is.
    fn physical(&mut self, field: Field, value: Celsius) -> bool {
        if !value.is_physical() {
            self.add(field, Reason::NotPhysical);
        }
        value.is_physical()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bake::{Cool, CoolOn, Dip, Limits, LoadIn, Purpose, Wait};
    use crate::units::Kelvins;

    const ROOM: Celsius = Celsius(20.0);

    fn soak(low: f32, high: f32) -> Soak {
        Soak {
            purpose: Purpose::Other,
            at_least: Celsius(low),
            at_most: Celsius(high),
            for_s: 3600,
            dip: Dip::Pause,
            boost: Kelvins(0.0),
            give_up_after_s: None,
            no_longer_than_s: None,
        }
    }

    fn ramp(to: f32) -> Step {
        Step::Ramp(Ramp { to: Celsius(to), rate_k_per_min: None })
    }

    fn check(repeat_from: u8) -> Step {
        Step::Check(Check { on_fail: OnFail::RepeatFrom(repeat_from), tries: 2, parts_stay: false })
    }

    const LOAD_IN: Step = Step::LoadIn(LoadIn { at: None });
    const WAIT: Step = Step::Wait(Wait { for_s: 60, parts_stay: false });

    fn bake(steps: &[Step]) -> Bake {
        let limits = Limits { air_max: Celsius(200.0), bake_max_s: 8 * 3600, door_open_max_s: 300 };
        Bake { steps: steps.iter().copied().collect(), limits }
    }

    fn reasons(bake: &Bake) -> std::vec::Vec<(Option<u8>, Field, Reason)> {
        bake.faults(ROOM).iter().map(|f| (f.step, f.field, f.reason)).collect()
    }

    extern crate std;

    #[test]
    fn a_whole_day_of_gas_out_check_wait_and_cure_has_no_fault() {
        let good = bake(&[
            ramp(150.0),
            Step::LoadIn(LoadIn { at: Some(Celsius(150.0)) }),
            Step::Soak(soak(149.0, 177.0)),
            Step::Cool(Cool { to: Celsius(45.0), on: CoolOn::Parts }),
            check(0),
            WAIT,
            LOAD_IN,
            Step::Soak(soak(121.0, 149.0)),
        ]);
        assert_eq!(reasons(&good), []);
    }

    #[test]
    fn an_empty_bake_is_refused() {
        assert_eq!(reasons(&bake(&[])), [(None, Field::Steps, Reason::NoSteps)]);
    }

    #[test]
    fn every_fault_of_a_bake_comes_out_at_once() {
        let mut bad = soak(177.0, 149.0);
        bad.for_s = 0;
        bad.boost = Kelvins(-1.0);
        let steps = [ramp(250.0), Step::Soak(bad), Step::Cool(Cool { to: ROOM, on: CoolOn::Air })];
        let wanted = [
            (Some(0), Field::To, Reason::AboveAirMax),
            (Some(1), Field::AtMost, Reason::WindowInverted),
            (Some(1), Field::For, Reason::Zero),
            (Some(1), Field::Boost, Reason::Negative),
            (Some(2), Field::To, Reason::BelowRoom),
        ];
        assert_eq!(reasons(&bake(&steps)), wanted);
    }

    #[test]
    fn times_shorter_than_the_soak_are_faults() {
        let mut short = soak(149.0, 177.0);
        short.give_up_after_s = Some(3599);
        short.no_longer_than_s = Some(3599);
        let mut bake = bake(&[Step::Soak(short)]);
        bake.limits.bake_max_s = 3599;
        let wanted = [
            (None, Field::BakeMax, Reason::ShorterThanBake(3600)),
            (Some(0), Field::GiveUpAfter, Reason::ShorterThanSoak),
            (Some(0), Field::NoLongerThan, Reason::ShorterThanSoak),
        ];
        assert_eq!(reasons(&bake), wanted);
    }

    #[test]
    fn heat_after_a_wait_needs_a_load_in_unless_the_parts_stay() {
        let heat = Step::Soak(soak(121.0, 149.0));
        let wanted = [(Some(2), Field::Step, Reason::HandsOn(1))];
        assert_eq!(reasons(&bake(&[heat, WAIT, heat])), wanted);
        let stays = Step::Wait(Wait { for_s: 60, parts_stay: true });
        assert_eq!(reasons(&bake(&[heat, stays, heat])), []);
        assert_eq!(reasons(&bake(&[LOAD_IN, heat, WAIT, ramp(100.0), LOAD_IN, heat])), []);
        let wanted = [(Some(3), Field::Step, Reason::HandsOn(2))];
        assert_eq!(reasons(&bake(&[LOAD_IN, heat, WAIT, ramp(100.0), heat])), wanted);
    }

    #[test]
    fn a_repeat_goes_back_and_must_not_heat_hands() {
        let heat = Step::Soak(soak(121.0, 149.0));
        let wanted = [(Some(1), Field::RepeatFrom, Reason::NotEarlier)];
        assert_eq!(reasons(&bake(&[heat, check(1)])), wanted);
        let wanted = [(Some(1), Field::RepeatFrom, Reason::RepeatHeats(0))];
        assert_eq!(reasons(&bake(&[heat, check(0)])), wanted);
        assert_eq!(reasons(&bake(&[LOAD_IN, heat, check(0)])), []);
        assert_eq!(reasons(&bake(&[ramp(150.0), LOAD_IN, heat, check(0)])), []);
    }

    #[test]
    fn a_soak_before_the_first_load_in_holds_an_empty_oven() {
        let heat = Step::Soak(soak(121.0, 149.0));
        let wanted = [(Some(0), Field::Step, Reason::OvenEmpty)];
        assert_eq!(reasons(&bake(&[heat, LOAD_IN, heat])), wanted);
    }

    #[test]
    fn not_a_number_is_a_fault_and_hides_no_other() {
        let steps = [ramp(f32::NAN), Step::Soak(soak(f32::INFINITY, -300.0))];
        let wanted = [
            (Some(0), Field::To, Reason::NotPhysical),
            (Some(1), Field::AtLeast, Reason::NotPhysical),
            (Some(1), Field::AtMost, Reason::NotPhysical),
        ];
        assert_eq!(reasons(&bake(&steps)), wanted);
    }
}
