//! Tuning of the air loop from the oven's own linearisation.
//!
//! The rule is MIGO, M-constrained integral gain optimisation (Åström & Hägglund 2004, Journal of
//! Process Control 14, 635–650): of all gains whose maximum sensitivity M_s is at most 1.6 those
//! with the greatest integral gain, which answer a lasting disturbance best. Derivative time is a
//! quarter of the integral time, as is common practice since Ziegler & Nichols (1942).
//!
//! M_s is held at every corner of the spread, for the coldest and hottest air the bake asks for, an
//! empty oven and a full one, walls at rest and far behind the air, walls that move and that stand, a
//! fan that runs and, where nothing proves that it does, one that has stopped.
//!
//! The feed-forward answers the reading only through walls and parts, which it makes up for: that is
//! what standing walls stand for. Not looked at: a liner on its way down through the air's own
//! temperature, whose film is weaker for a minute.
//!
//! A person's own gains are taken as they are; how they would do is worked out beside them. Gains
//! that do not settle, or an oven no gains settle well enough, are for `check` to refuse.

pub mod linear;
mod ovens;
mod place;
pub mod response;
mod search;
pub mod sensitivity;

use crate::files::Setup;
use crate::files::oven::Drive;
use linear::{Corner, Linear, Moment, Stage};
use response::Walls;
use search::Loops;
use truesoak_core::bounds::Present;
use truesoak_core::bounds::model::Model;
use truesoak_core::regulate::Tuning;

/// Greatest maximum sensitivity.
pub const SENSITIVITY_MAX: f64 = 1.6;
/// The nominal loop is looked at here, °C: mid-bake …
const AT_C: f64 = 150.0;
/// … with liner and parts so far behind, K …
const BEHIND_K: f64 = 15.0;
/// … at this duty.
const AT_DUTY: f64 = 0.2;

/// Gains, and how they do.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tuned {
    /// Gains.
    pub tuning: Tuning,
    /// Greatest M_s over the spread; infinite where the loop does not settle.
    pub sensitivity: f64,
}

impl Tuned {
    /// The gains as a person would write them: key and value.
    #[must_use]
    pub fn words(&self) -> [(&'static str, String); 3] {
        let Tuning { gain_per_k, integral_time_s, derivative_time_s } = self.tuning;
        [
            ("gain", format!("{:.2} %/K", 100.0 * gain_per_k)),
            ("integral_time", format!("{integral_time_s:.0} s")),
            ("derivative_time", format!("{derivative_time_s:.1} s")),
        ]
    }

    /// The same in one line.
    #[must_use]
    pub fn line(&self) -> String {
        self.words().map(|(key, value)| format!("{key} = \"{value}\"")).join(", ")
    }
}

/// Tuning for a bake in its oven: the person's own, or computed.
#[must_use]
pub fn tune(setup: &Setup, model: &Model) -> Tuned {
    let loops = Loops::of(setup, model);
    match setup.oven.tuning {
        Some(own) => {
            let tuning = Tuning {
                gain_per_k: own.gain_per_k as f32,
                integral_time_s: own.integral_time_s as f32,
                derivative_time_s: own.derivative_time_s as f32,
            };
            Tuned { tuning, sensitivity: loops.worst(&tuning) }
        }
        None => loops.computed(),
    }
}

/// What would be computed for a bake whose oven has gains of its own.
#[must_use]
pub fn computed(setup: &Setup, model: &Model) -> Tuned {
    Loops::of(setup, model).computed()
}

/// What a person is to know of gains of their own that are less calm than computed ones.
#[must_use]
pub fn note(setup: &Setup, model: &Model) -> Option<String> {
    setup.oven.tuning?;
    let own = tune(setup, model);
    (own.sensitivity > SENSITIVITY_MAX).then(|| {
        format!(
            "[tuning] makes the air swing where the oven is not as told: sensitivity M_s up to \
             {:.1}, at most {SENSITIVITY_MAX:.1} is calm; computed: {}",
            own.sensitivity,
            computed(setup, model).line()
        )
    })
}

/// An oven's air answering its heater, walls standing: a first-order lag.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AirLoop {
    /// Kelvins of reading per duty.
    pub gain_k: f64,
    /// Element, s.
    pub element_s: f64,
}

/// The nominal oven in mid-bake.
#[must_use]
pub fn nominal(model: &Model) -> AirLoop {
    let moment = Moment {
        air_c: AT_C,
        stage: Stage::Rising { behind_k: BEHIND_K, duty: AT_DUTY },
        present: Present::everything(model),
        fan: 1.0,
    };
    let linear = Linear::of(model, &moment, &Corner::NOMINAL);
    AirLoop { gain_k: linear.seen(Walls::Stand, 0.0).re, element_s: linear.standing_lags_s().0 }
}

/// What the drive's minimum times make of a change of duty: half of the longer one, in which it
/// cannot say anything new (measured in `tests/tests/air_loop.rs`).
#[must_use]
pub fn drive_delay_s(drive: &Drive) -> f64 {
    0.5 * drive.minimum_on_s.max(drive.minimum_off_s)
}
