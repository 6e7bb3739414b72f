//! Heat: from what the sequence wants to a duty, once a second, and to the drive, each tick.
//!
//! ```text
//!        air far below the setpoint, parts allow it
//!      ┌───────────────────────────────────────────► FULL
//!   REGULATE ◄────────────────────────────────────── │ ▲
//!      ▲            parts would be carried too far   │ │ far below again
//!      │                                             ▼ │
//!      └──────────────────────────────────────────── COAST
//!        there, or not rising any more                 predicted peak a kelvin above
//! ```
//!
//! FULL is full power, the fastest way up. COAST gives none until the element holds no more than the
//! setpoint needs, and from there on what holds it: the reading comes up by itself. REGULATE is the
//! PID, whose integral stands still on the way. The reading never drives heat while it is doubted.
//!
//! The feed-forward knows how walls and parts warm, and leads the element, which would be minutes
//! late. It answers no reading but through them, slowly; so the gains can be those of a calm loop.

pub mod governor;
mod late;
pub mod loop_control;
pub mod modulate;

use crate::bake::Soak;
use crate::bounds::model::Model;
use crate::bounds::{Bounds, Hold, Outlook, Survey};
use crate::recent::take_in;
use crate::sequence::Aim;
use crate::units::{Celsius, Kelvins};
use governor::{Governor, Look, StayLeft, Surveyed, aimed_at};
use late::{LEAD_S, Late};
use loop_control::LoopControl;
use modulate::Modulator;

pub use loop_control::Tuning;

/// Full power is worth it from this far below the setpoint, K.
const FAR_BELOW_K: f32 = 4.0;
/// … if the peak without any heat stays this far below, K.
const PEAK_BELOW_K: f32 = 2.0;
/// Full power ends when the predicted peak passes the setpoint by this, K.
const PEAK_ABOVE_K: f32 = 1.0;
/// A reading far below that rises faster is on its way, K/s.
const ON_ITS_WAY_K_PER_S: f32 = 0.05;
/// The element is led by its rate unless what is needed of it jumps by so much, K.
const LEAD_MAX_K: f32 = 60.0;
/// A setpoint that jumps by so much is not on the move, K.
const JUMP_K: f32 = 3.0;
/// The air bound is kept this far below its limit, K.
const AIR_LIMIT_CLEAR_K: f32 = 6.0;
/// … as it will be so many seconds after what is shown, which is a second old, if it rises on as it
/// did over as many.
const AIR_AHEAD_S: usize = 7;
/// Over which duty is taken back, K.
const AIR_LIMIT_BAND_K: f32 = 10.0;
/// Parts are kept this far below what they stand while power is high, K.
const PART_LIMIT_CLEAR_K: f32 = 1.0;
/// Over which duty is taken back, K.
const PART_LIMIT_BAND_K: f32 = 2.0;
/// Once the heater is off a liner goes on warming as for 45 s, by what the element holds; and what is
/// known of where parts settle is, smoothed, half a minute old, s.
const WARMS_ON_S: f32 = 75.0;
/// Duty may differ from the feed-forward by this share while the reading stands still.
const FROZEN_SHARE: f32 = 0.2;
/// Reading this close to the setpoint counts as back, K …
pub const RECOVERED_K: f32 = 1.0;
/// … for so long, s.
pub const RECOVERED_S: u8 = 30;

/// Parts of a second after which there is time to look for an equilibrium, a bit each: a full load has
/// its twenty-four looks within the governor's ten seconds …
const SURVEYS_AFTER: u16 = after(2) | after(3) | after(5) | after(6);
/// … and for one only while it is in doubt what is inside: then it has them within twenty-four.
const SURVEYS_IN_DOUBT: u16 = after(6);
/// The same for what the element's heat goes into.
const OUTLOOK_AFTER: u8 = 7;
/// The same, with the nominal oven through, for what holds the setpoint.
const HOLD_AFTER: u8 = 8;

/// How the duty is formed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Stage {
    Full,
    Coast,
    Regulate,
}

/// What the regulator looks at once a second.
#[derive(Clone, Copy, Debug)]
pub struct SecondView<'a> {
    /// What is wanted.
    pub aim: Aim,
    /// Second's mean reading; without one there is no heat.
    pub reading: Option<Celsius>,
    /// Its slope, K/s.
    pub slope_k_per_s: f32,
    /// Model.
    pub model: &'a Model,
    /// Bounds.
    pub bounds: &'a Bounds,
    /// Coldest bound of what is inside.
    pub coldest: Option<Celsius>,
    /// What a limit on the parts' stay leaves for the slowest to come up, s; `None` without one.
    pub for_approach_s: Option<f32>,
    /// Longest lag of any part inside, s; 0 where there is no such limit.
    pub slowest_s: f32,
    /// Highest true air allowed.
    pub air_max: Celsius,
    /// The parts inside stand at least this.
    pub part_max: Option<Celsius>,
    /// Heat is possible now: door shut, nothing cuts it.
    pub possible: bool,
    /// The reading has stood still suspiciously long: duty stays near the feed-forward.
    pub frozen: bool,
}

/// Keeps the air where the sequence wants it.
#[derive(Clone, Debug)]
pub struct Regulator {
    control: LoopControl,
    modulator: Modulator,
    governor: Governor,
    stage: Stage,
    setpoint: Option<Celsius>,
    duty: f32,
    recovering: bool,
    back_s: u8,
    /// Bounds of the air in the last seconds, newest first.
    airs: [Option<Celsius>; AIR_AHEAD_S],
    /// What is needed of the element, °C.
    needed: Late,
    /// The setpoint, °C.
    moving: Late,
    /// The hottest the liner can be, °C.
    warming: Late,
    /// Where parts would settle is being looked for …
    survey: Option<Survey>,
    /// … or was found, for the reading beside it, since the governor's last second.
    surveyed: Option<Surveyed>,
    /// What holds the setpoint of the second that ends next.
    hold: Option<Hold>,
    /// The last second's reading and its slope, K/s.
    told: Option<(Celsius, f32)>,
    /// What the element's heat goes into, by these.
    outlook: Option<Outlook>,
}

impl Regulator {
    /// A regulator at rest; minimum times in seconds.
    #[must_use]
    pub fn new(tuning: Tuning, minimum_on_s: f32, minimum_off_s: f32) -> Self {
        Self {
            control: LoopControl::new(tuning),
            modulator: Modulator::new(minimum_on_s, minimum_off_s),
            governor: Governor::default(),
            stage: Stage::Regulate,
            setpoint: None,
            duty: 0.0,
            recovering: false,
            back_s: 0,
            airs: [None; AIR_AHEAD_S],
            needed: Late::default(),
            moving: Late::default(),
            warming: Late::default(),
            survey: None,
            surveyed: None,
            hold: None,
            told: None,
            outlook: None,
        }
    }

    /// Setpoint of the reading; `None` while no heat is wanted.
    #[must_use]
    pub fn setpoint(&self) -> Option<Celsius> {
        self.setpoint
    }

    /// Duty wanted.
    #[must_use]
    pub fn duty(&self) -> f32 {
        self.duty
    }

    /// The air is not back yet after a door.
    #[must_use]
    pub fn is_recovering(&self) -> bool {
        self.recovering
    }

    /// Coldest part in the window of the present soak.
    #[must_use]
    pub fn is_in(&self) -> bool {
        self.governor.is_in()
    }

    /// A step began: the governor forgets the last window.
    pub fn step_began(&mut self) {
        self.governor = Governor::default();
        self.warming = Late::default();
        (self.survey, self.surveyed) = (None, None);
    }

    /// A door closed: the air must come back.
    pub fn door_closed(&mut self) {
        self.recovering = true;
        self.back_s = 0;
    }

    /// One second: forms the duty. True in the second in which the air has been back for 30 s.
    pub fn second(&mut self, view: &SecondView<'_>) -> bool {
        let setpoint = self.wanted(view);
        self.setpoint = setpoint;
        self.told = view.reading.map(|reading| (reading, view.slope_k_per_s));
        let (Some(setpoint), Some(reading)) = (setpoint, view.reading) else {
            self.duty = 0.0;
            self.stage = Stage::Regulate;
            (self.needed, self.moving, self.warming) = Default::default();
            if let Some(reading) = view.reading {
                self.control.follow(reading.0);
            }
            return false;
        };
        self.duty = if view.possible { self.form_duty(view, setpoint, reading) } else { 0.0 };
        if !view.possible {
            self.control.follow(reading.0);
            self.stage = Stage::Regulate;
            (self.needed, self.moving) = Default::default();
        }
        self.follow_recovery(setpoint, reading)
    }

    /// What the second's end would have no time for, in the ticks before it: `parts` of the bounds'
    /// second are through.
    pub fn look_ahead(&mut self, model: &Model, bounds: &Bounds, parts: u8) {
        if parts == OUTLOOK_AFTER {
            self.outlook = self.told.map(|(reading, slope)| bounds.outlook(model, reading, slope));
        }
        if parts == HOLD_AFTER {
            self.hold = self.setpoint.map(|setpoint| bounds.hold(model, self.led(model, setpoint)));
        }
        let Some(survey) = &mut self.survey else { return };
        let surveys = if bounds.is_doubted() { SURVEYS_IN_DOUBT } else { SURVEYS_AFTER };
        if surveys & after(parts) != 0 && survey.look(bounds, model) {
            self.surveyed = survey.found().map(|equilibria| (survey.held, equilibria));
            self.survey = None;
        }
    }

    /// One tick: the drive for the duty of the second, if heat is allowed at all.
    pub fn tick(&mut self, allowed: bool) -> bool {
        if allowed {
            self.modulator.tick(self.duty)
        } else {
            self.modulator.cut();
            false
        }
    }

    fn wanted(&mut self, view: &SecondView<'_>) -> Option<Celsius> {
        match view.aim {
            Aim::Cut => None,
            Aim::Air(setpoint) => Some(setpoint),
            Aim::Window(soak) => Some(self.govern(view, &soak)),
        }
    }

    fn govern(&mut self, view: &SecondView<'_>, counted: &Soak) -> Celsius {
        let soak = &aimed_at(*counted, view.part_max);
        let Some(coldest) = view.coldest else {
            return self.setpoint.unwrap_or(soak.at_least);
        };
        let hottest = view.bounds.hottest().unwrap_or(soak.at_most);
        // Judged at the reading that is to be held, not at one still on its way there.
        let held = self.setpoint.unwrap_or(soak.at_most);
        let held = if self.governor.waits() { held } else { held.max(soak.at_least) };
        let equilibria = self.surveyed.take();
        // One that is under way is brought to its end first: in doubt it may take longer than ten seconds.
        if self.governor.wants_equilibria() && self.survey.is_none() {
            self.survey = Some(Survey::at(held));
        }
        // Asked for where the air may be driven above the window only.
        let ahead = (soak.boost.0 > 0.0 && !self.governor.is_in())
            .then(|| view.bounds.hottest_if_heater_off(view.model))
            .flatten();
        let hottest_ahead = ahead.unwrap_or(soak.at_most);
        let stay = view.for_approach_s.map(|for_approach_s| StayLeft {
            for_approach_s,
            slowest_s: view.slowest_s,
            hottest,
        });
        let past_k = (hottest - counted.at_most).0;
        let warms_k_per_s = self.warming.follow(view.bounds.upper_liner().0, LEAD_MAX_K);
        let warms_on_k = WARMS_ON_S * warms_k_per_s.max(0.0);
        let stands = stands(view);
        let look = Look { equilibria, coldest, past_k, hottest_ahead, stands, warms_on_k, stay };
        let setpoint = self.governor.second(soak, &look);
        if self.governor.is_informed() {
            return setpoint;
        }
        // Until it is known how far from the reading parts settle, the reading stays.
        self.setpoint.unwrap_or(soak.at_least)
    }

    fn form_duty(&mut self, view: &SecondView<'_>, setpoint: Celsius, reading: Celsius) -> f32 {
        let _ = self.moving.follow(setpoint.0, JUMP_K);
        let held = self.hold.take().map(|hold| {
            let feed_forward = hold.duty + self.lead(view.model, hold.element_c);
            let charged = view.bounds.nominal_element().0 > hold.element_c;
            (feed_forward.clamp(0.0, 1.0), charged)
        });
        // Where heat begins again nobody has looked ahead: full power needs nothing of that, and
        // everything else waits a second for it.
        let (feed_forward, charged) = held.unwrap_or((self.duty, false));
        let way = Way { setpoint, reading, charged };
        self.stage = self.next_stage(view, &way);
        let mut duty = match self.stage {
            Stage::Regulate if held.is_some() => {
                let sums = !way.is_on_it(view.slope_k_per_s);
                self.control.second(reading.0, setpoint.0, feed_forward, sums)
            }
            stage => {
                self.control.follow(reading.0);
                match stage {
                    Stage::Full => 1.0,
                    _ if held.is_none() => feed_forward,
                    _ if way.charged => 0.0,
                    _ => (feed_forward + self.control.integral()).clamp(0.0, 1.0),
                }
            }
        };
        if view.frozen {
            let (low, high) = (1.0 - FROZEN_SHARE, 1.0 + FROZEN_SHARE);
            duty = duty.max(low * feed_forward).min(high * feed_forward);
        }
        duty.min(self.air_cap(view)).min(part_cap(view))
    }

    /// What the reading would be held at, were it no later than the air: a setpoint on the move is
    /// led by the sensor's lag.
    fn led(&self, model: &Model, setpoint: Celsius) -> Celsius {
        let moved_k = self.moving.value.map_or(0.0, |late_c| setpoint.0 - late_c);
        setpoint + Kelvins(moved_k / LEAD_S * model.sensor.lag_s.middle())
    }

    /// Duty by which the element follows what is needed of it, which moves as walls and parts warm:
    /// left to itself it would be as late as it is slow.
    fn lead(&mut self, model: &Model, needed_c: f32) -> f32 {
        let rises_k_per_s = self.needed.follow(needed_c, LEAD_MAX_K);
        let element = &model.element;
        rises_k_per_s * element.capacity_j_per_k / (element.power.middle() * element.power_w)
    }

    /// Duty that keeps the air bound, seen some seconds ahead, clear of its limit.
    fn air_cap(&mut self, view: &SecondView<'_>) -> f32 {
        let now = view.bounds.upper_air();
        let before = take_in(&mut self.airs, Some(now)).unwrap_or(now);
        let ahead = now + Kelvins((now - before).0.max(0.0));
        let clear_k = (view.air_max - Kelvins(AIR_LIMIT_CLEAR_K)) - ahead;
        (clear_k.0 / AIR_LIMIT_BAND_K).clamp(0.0, 1.0)
    }

    fn next_stage(&mut self, view: &SecondView<'_>, way: &Way) -> Stage {
        let (setpoint, reading, slope_k_per_s) = (way.setpoint, way.reading, view.slope_k_per_s);
        let outlook = self.outlook.take();
        // A bake's first second, and one whose tick came too late, have nothing to look back on.
        let outlook =
            || outlook.unwrap_or_else(|| view.bounds.outlook(view.model, reading, slope_k_per_s));
        // Of a loop that is near its setpoint it decides nothing.
        let peak =
            || view.bounds.peak_ahead(view.model, &outlook(), reading, slope_k_per_s, setpoint);
        let full_to = setpoint - self.governor.early();
        let far = || way.is_far() && (full_to - peak()).0 > PEAK_BELOW_K;
        let there = reading >= setpoint || slope_k_per_s <= 0.0;
        let next = match self.stage {
            Stage::Full if (peak() - full_to).0 < PEAK_ABOVE_K => Stage::Full,
            Stage::Coast | Stage::Regulate if far() => Stage::Full,
            Stage::Regulate => Stage::Regulate,
            // An element that holds enough does not let the reading fall away below.
            Stage::Coast if there && (reading < setpoint || !way.charged) => Stage::Regulate,
            Stage::Full | Stage::Coast => Stage::Coast,
        };
        if next == Stage::Full && self.carries_too_far(view) { Stage::Regulate } else { next }
    }

    /// Full power would carry the hottest part past its window, what it waits below or what it
    /// stands, even if it ended now.
    fn carries_too_far(&self, view: &SecondView<'_>) -> bool {
        let Some(ahead) = view.bounds.hottest_if_heater_off(view.model) else { return false };
        let top = match view.aim {
            Aim::Window(soak) => self.governor.top(&aimed_at(soak, view.part_max)).0,
            _ => f32::INFINITY,
        };
        ahead.0 > stands(view).0.min(top)
    }

    fn follow_recovery(&mut self, setpoint: Celsius, reading: Celsius) -> bool {
        let near = (setpoint - reading).0.abs() <= RECOVERED_K;
        self.back_s = if near { self.back_s.saturating_add(1) } else { 0 };
        let back = self.recovering && self.back_s >= RECOVERED_S;
        self.recovering &= !back;
        back
    }
}

/// The bit of so many parts.
const fn after(parts: u8) -> u16 {
    1 << parts
}

/// Where the reading is on its way to the setpoint.
#[derive(Clone, Copy, Debug)]
struct Way {
    setpoint: Celsius,
    reading: Celsius,
    /// The element holds more heat than keeps the reading at the setpoint.
    charged: bool,
}

impl Way {
    fn is_far(&self) -> bool {
        (self.setpoint - self.reading).0 > FAR_BELOW_K
    }

    /// Far below and rising: what is missing is no lasting error yet.
    fn is_on_it(&self, slope_k_per_s: f32) -> bool {
        self.is_far() && slope_k_per_s > ON_ITS_WAY_K_PER_S
    }
}

/// No heat while the parts could come too close to what they stand, and little before that: what is
/// in the element then still comes.
fn part_cap(view: &SecondView<'_>) -> f32 {
    let clear_k = (stands(view) - view.bounds.hottest_to_come()).0;
    (clear_k / PART_LIMIT_BAND_K).clamp(0.0, 1.0)
}

/// Parts are kept below this, clear of what the least of them stands.
fn stands(view: &SecondView<'_>) -> Celsius {
    view.part_max.map_or(Celsius(f32::INFINITY), |max| max - Kelvins(PART_LIMIT_CLEAR_K))
}
