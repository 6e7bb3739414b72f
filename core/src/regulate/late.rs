//! How fast a setpoint moves: by what follows it some seconds late.

/// So late, s.
pub(super) const LEAD_S: f32 = 15.0;

/// A value that follows another.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Late {
    /// It; `None` before the first second.
    pub(super) value: Option<f32>,
}

impl Late {
    /// A second of it; by how much it rises in one. What jumps by `jump` or more is not on the move: it
    /// is there at once.
    pub(super) fn follow(&mut self, now: f32, jump: f32) -> f32 {
        let late = self.value.filter(|late| libm::fabsf(now - late) < jump).unwrap_or(now);
        let rises = (now - late) / LEAD_S;
        self.value = Some(late + rises);
        rises
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_is_so_many_seconds_late_behind_a_ramp_and_at_once_where_that_jumps() {
        let mut late = Late::default();
        let rises = (0..200).map(|second| late.follow(0.1 * second as f32, 3.0)).last();
        assert!(rises.is_some_and(|rises| (rises - 0.1).abs() < 1e-3), "{rises:?}");
        assert!(late.value.is_some_and(|value| (19.9 - value - 0.1 * (LEAD_S - 1.0)).abs() < 0.02));
        assert!(late.follow(60.0, 3.0).abs() < 1e-9);
        assert_eq!(late.value, Some(60.0));
    }
}
