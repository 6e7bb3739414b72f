//! Duty to on and off: one decision a tick, the error carried over, minimum times kept.

use crate::units::TICKS_PER_SECOND;

/// Most on-time that may be owed or overdrawn, ticks; never less than a pulse.
const CARRY_TICKS: u32 = 20;

/// Turns a duty into the drive.
#[derive(Clone, Copy, Debug)]
pub struct Modulator {
    minimum_on_ticks: u32,
    minimum_off_ticks: u32,
    /// Most that may be owed or overdrawn.
    carry_ticks: f32,
    /// So much owed or overdrawn, the drive turns.
    half_pulse_ticks: f32,
    on: bool,
    in_state_ticks: u32,
    owed_ticks: f32,
}

impl Modulator {
    /// A drive that is off. Minimum times in seconds.
    #[must_use]
    pub fn new(minimum_on_s: f32, minimum_off_s: f32) -> Self {
        // Saturating casts: a nonsense time becomes a long one or none.
        let ticks = |seconds: f32| libm::ceilf(seconds * TICKS_PER_SECOND as f32) as u32;
        let minimum_on_ticks = ticks(minimum_on_s);
        Self {
            minimum_on_ticks,
            minimum_off_ticks: ticks(minimum_off_s),
            carry_ticks: CARRY_TICKS.max(minimum_on_ticks) as f32,
            half_pulse_ticks: 0.5 * minimum_on_ticks.max(1) as f32,
            on: false,
            in_state_ticks: u32::MAX,
            owed_ticks: 0.0,
        }
    }

    /// This tick's drive for a duty of 0..=1.
    pub fn tick(&mut self, duty: f32) -> bool {
        let duty = if duty.is_finite() { duty.clamp(0.0, 1.0) } else { 0.0 };
        self.owed_ticks = (self.owed_ticks + duty).min(self.carry_ticks).max(-self.carry_ticks);
        let least = if self.on { self.minimum_on_ticks } else { self.minimum_off_ticks };
        if self.in_state_ticks >= least {
            let turn = if self.on {
                self.owed_ticks <= -self.half_pulse_ticks || duty <= 0.0
            } else {
                self.owed_ticks >= self.half_pulse_ticks && duty > 0.0
            };
            if turn {
                self.on = !self.on;
                self.in_state_ticks = 0;
            }
        }
        self.in_state_ticks = self.in_state_ticks.saturating_add(1);
        if self.on {
            self.owed_ticks -= 1.0;
        }
        if duty <= 0.0 {
            self.owed_ticks = self.owed_ticks.min(0.0);
        }
        self.on
    }

    /// Heat was cut: off at once, nothing owed.
    pub fn cut(&mut self) {
        if self.on {
            self.on = false;
            self.in_state_ticks = 0;
        }
        self.in_state_ticks = self.in_state_ticks.saturating_add(1);
        self.owed_ticks = 0.0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_mean_drive_is_the_duty_and_pulses_keep_their_minimum() {
        for duty in [0.02_f32, 0.1, 0.37, 0.5, 0.81, 0.97] {
            let mut modulator = Modulator::new(1.0, 1.0);
            let (mut on, mut run, mut last) = (0_u32, 0_u32, false);
            for tick in 0..36_000 {
                let drive = modulator.tick(duty);
                on += u32::from(drive);
                if drive == last {
                    run += 1;
                } else {
                    assert!(tick < 20 || run >= 10, "pulse of {run} ticks at {duty}");
                    (run, last) = (1, drive);
                }
            }
            assert!((on as f32 / 36_000.0 - duty).abs() < 0.001, "{duty}: {on}");
        }
    }

    #[test]
    fn a_slow_relay_starts_too() {
        let mut modulator = Modulator::new(15.0, 15.0);
        let on = (0..36_000).filter(|_| modulator.tick(0.3)).count();
        assert!((on as f32 / 36_000.0 - 0.3).abs() < 0.02, "{on}");
    }

    #[test]
    fn full_and_no_duty_never_switch() {
        let mut modulator = Modulator::new(1.0, 1.0);
        let on = (0..1000).filter(|_| modulator.tick(1.0)).count();
        assert!(on >= 995);
        let mut modulator = Modulator::new(1.0, 1.0);
        assert!(!(0..1000).any(|_| modulator.tick(0.0) || modulator.tick(f32::NAN)));
    }

    #[test]
    fn a_cut_is_immediate() {
        let mut modulator = Modulator::new(1.0, 1.0);
        while !modulator.tick(1.0) {}
        modulator.cut();
        assert!(!modulator.tick(0.0));
    }
}
