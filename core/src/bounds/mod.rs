//! Bounds on the coldest and the hottest part: nothing in the load is colder or hotter.
//!
//! A lower and an upper copy of the whole small network (element, liner, insulation, skin, rack, a
//! slow and a fast point of every part class) run once a second on what was logged: the second's
//! mean reading and its heater-on ticks. The sensor equation is put into every row before the worst
//! corner of the uncertain factors is taken, so the pair encloses every plant the model's spans
//! allow, also one whose factors wander inside them (Müller 1927, differential inequalities). A
//! third, nominal copy steers and never counts.
//!
//! Terms: a *track* is one copy; *seen* is the air the reading implies; the *envelope* is what the
//! reading may be from duty alone. Each second costs three tracks, each bounded by the number of
//! classes and cells. It is done in [`PARTS`] parts, one a tick, because all of it is too much for
//! one tick of a small processor (`parts`).
//!
//! Not covered: a part thicker than told, a sensor that drifts beyond its offset.

mod chain;
mod cooling;
mod doubt;
mod envelope;
mod equilibria;
mod govern;
mod laws;
mod load;
pub mod model;
mod part_probe;
mod parts;
mod predict;
mod second_sensor;
mod section;
mod seen;
mod side;
mod state;
mod track;

pub use load::Present;

use crate::record::CHECKPOINT_S;
use crate::units::{Celsius, Reading, Span};
use doubt::Doubt;
pub use envelope::SETTLING;
pub use equilibria::Survey;
use load::Load;
use model::{CLASSES_MAX, Model};
use part_probe::PartProbe;
pub use part_probe::Trust;
use parts::Course;
pub use parts::PARTS;
pub use predict::{Hold, Outlook};
use second_sensor::SecondSensor;
use serde::{Deserialize, Serialize};
use side::Side;
use state::State;
use track::{Chains, Track};

/// What the explicit step of one second can put a bound off by, K (0.05 K measured with nothing
/// uncertain).
pub(crate) const STEP_ALLOWANCE_K: f32 = 0.1;
/// What the step can put the envelope of the reading off by while the air moves fast, K.
const ENVELOPE_ALLOWANCE_K: f32 = 0.5;
/// How far apart the tracks start: equal starts end in step error alone, K.
const START_APART_K: f32 = 1.0;
/// How much colder than told parts may come in, K.
const COLDER_THAN_TOLD_K: f32 = 5.0;
/// Ticks of one second.
const TICKS: u8 = 10;
/// What is shown is so old at most: of the second before the one that is under way, s.
const LATE_S: u32 = 2;

/// The hottest what is in an oven can be.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Hottest {
    /// Everything but the element.
    pub oven: Celsius,
    /// Parts and rack.
    pub parts: Celsius,
    /// Element.
    pub element: Celsius,
}

impl Hottest {
    /// Everything at one temperature.
    #[must_use]
    pub fn all(at: Celsius) -> Self {
        Self { oven: at, parts: at, element: at }
    }
}

/// What one second brought.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Second {
    /// Mean reading; `None` when nothing in it was usable.
    pub reading: Option<Reading>,
    /// The same of the second air sensor; `None` also where none is fitted.
    pub reading_b: Option<Reading>,
    /// The same of the probe on a part.
    pub part_probe: Option<Reading>,
    /// Ticks the heater was on, 0..=10.
    pub on_ticks: u8,
    /// The door was open in it.
    pub door_open: bool,
    /// Airflow proof; `None` where none is fitted.
    pub airflow: Option<bool>,
    /// The reading stands still: it may be off by one more step.
    pub widened: bool,
}

impl Second {
    /// A second of which nothing is known but that no heat was on.
    pub const NOTHING: Self = Self {
        reading: None,
        reading_b: None,
        part_probe: None,
        on_ticks: 0,
        door_open: false,
        airflow: None,
        widened: false,
    };
}

/// The tracks and what was seen last.
#[derive(Clone, Debug, PartialEq)]
pub struct Bounds {
    lower: Track,
    nominal: Track,
    upper: Track,
    /// Until a person has said whether anything new is inside.
    doubt: Option<Doubt>,
    /// The last second's reading, when it had one.
    previous: Option<Reading>,
    load: Load,
    /// What is inside once the door closes.
    coming: Present,
    upper_air: Celsius,
    /// How far the air lies past what the sensor is drawn to, for a kelvin that is off the liner.
    view_ratio: Span,
    second_sensor: Option<SecondSensor>,
    part_probe: Option<PartProbe>,
    ranges: Ranges,
    /// What the age of a second's mean may hide from each class, K: rising above 0, falling below.
    late_k: [f32; CLASSES_MAX],
    /// Shortest time constant of each class, s.
    quickest_s: [f32; CLASSES_MAX],
    /// By how much each class's hottest rose in the last second, K; 0 where it did not.
    rose_k: [f32; CLASSES_MAX],
    chains: Chains,
    /// The second that is being worked on.
    course: Option<Course>,
}

/// Coldest and hottest cell of every class.
type Ranges = [(Celsius, Celsius); CLASSES_MAX];

impl Bounds {
    /// From a first reading, with what is inside at `inside_at`.
    ///
    /// The lower track starts at the colder of reading and room, the upper at the hotter, the parts
    /// at `inside_at`, all a kelvin apart. An oven whose insulation is hotter than its air must be
    /// started with [`Bounds::restart`] and a higher `hottest_from`.
    #[must_use]
    pub fn start(model: &Model, reading: Reading, present: Present, inside_at: Celsius) -> Self {
        let sensor = &model.sensor;
        let off = sensor.offset_k + 0.5 * sensor.resolution_k;
        let reading_c = reading.to_celsius();
        let low = Celsius(reading_c.0 - off).min(model.ambient).0 - START_APART_K;
        let high = Celsius(reading_c.0 + off).max(model.ambient).0 + START_APART_K;
        let below = Celsius(inside_at.0 - START_APART_K);
        let above = Celsius(inside_at.0 + START_APART_K);
        let mut bounds = Self {
            lower: Track::new(Side::Lower, Celsius(low), below),
            nominal: Track::new(Side::Nominal, reading_c, inside_at),
            upper: Track::new(Side::Upper, Celsius(high), above),
            doubt: None,
            previous: Some(reading),
            load: Load { present, coated: false, loading: false },
            coming: present,
            upper_air: Celsius(high),
            ranges: Ranges::default(),
            view_ratio: seen::view_ratio(&model.sensor),
            second_sensor: model.sensor_b.as_ref().map(SecondSensor::of),
            part_probe: model.probe.as_ref().map(|_| PartProbe::new()),
            late_k: [0.0; CLASSES_MAX],
            quickest_s: [f32::MAX; CLASSES_MAX],
            rose_k: [0.0; CLASSES_MAX],
            chains: Chains::of(model),
            course: None,
        };
        bounds.find_quickest(model);
        // The sensor itself is read, whatever the oven is.
        bounds.lower.sensor = State::at(Celsius(reading_c.0 - off));
        bounds.upper.sensor = State::at(Celsius(reading_c.0 + off));
        bounds.look(model);
        bounds
    }

    /// Nothing in the oven, its air included, is colder than this, °C.
    fn floor(&self, model: &Model) -> f32 {
        model
            .classes
            .iter()
            .enumerate()
            .filter(|(index, _)| self.load.present.has(*index))
            .map(|(_, class)| class.starts_at.0)
            .fold(model.ambient.0, f32::min)
    }

    /// Least that is left of films: a fan that is not proven to run may have stopped.
    fn fan(&self, model: &Model, airflow: Option<bool>) -> f32 {
        let proven = model.air.airflow_proof && airflow != Some(false);
        if proven { 1.0 } else { model.air.stopped_fan }
    }

    fn track(&self, side: Side) -> &Track {
        match side {
            Side::Lower => &self.lower,
            Side::Nominal => &self.nominal,
            Side::Upper => &self.upper,
        }
    }

    /// What is inside, and what will be once the door closes.
    pub(crate) fn presence(&self) -> (Present, Present) {
        (self.load.present, self.coming)
    }

    /// Says what is inside; temperatures stay as they were.
    pub fn set_present(&mut self, present: Present) {
        self.load.present = present;
        self.coming = present;
    }

    /// Says whether parts carry their coating: then the cure's emissivities hold.
    pub fn set_coated(&mut self, model: &Model, coated: bool) {
        if self.load.coated != coated {
            self.load.coated = coated;
            self.find_quickest(model);
        }
    }

    fn find_quickest(&mut self, model: &Model) {
        let load = self.load;
        for (quickest_s, class) in self.quickest_s.iter_mut().zip(&model.classes) {
            *quickest_s = govern::quickest_s(class, model, load).max(1.0);
        }
    }

    /// The door opened to load: from now on `present` may be going in and all else coming out.
    ///
    /// The upper copies of what comes in restart at its starting temperature, or stay where they
    /// were if it was inside and hotter.
    pub fn load_opened(&mut self, model: &Model, present: Present) {
        let inside = self.load.present;
        self.upper.restart_load(model, present, inside);
        self.restart_cold(model, present);
        self.load.present = inside.or(present);
        self.load.loading = true;
        self.coming = present;
        self.look(model);
    }

    /// The door closed on the load: the lower copies restart colder than told.
    pub fn load_closed(&mut self, model: &Model) {
        let coming = self.coming;
        self.restart_cold(model, coming);
        self.load.present = coming;
        self.load.loading = false;
        self.look(model);
    }

    /// Lower copies at the colder of starting temperature and room, and colder still.
    fn restart_cold(&mut self, model: &Model, present: Present) {
        self.lower.restart_load(model, present, present);
        if let Some(doubt) = &mut self.doubt {
            doubt.lower.restart_load(model, present, present);
        }
        self.doubt_probe();
    }

    /// After the supply was lost: every lower state from one temperature, every upper from `from`.
    /// The upper air then has to settle ([`Bounds::settle`]) before the next second.
    pub fn restart(&mut self, model: &Model, coldest_from: Celsius, from: Hottest) {
        let middle = Celsius(0.5 * (coldest_from.0 + from.oven.0));
        self.lower = Track::new(Side::Lower, coldest_from, coldest_from);
        self.nominal = Track::new(Side::Nominal, middle, middle.min(from.parts));
        self.upper = Track::new(Side::Upper, from.oven, from.parts);
        self.upper.element = State::at(from.element.max(from.oven));
        self.doubt = None;
        self.previous = None;
        self.second_sensor = model.sensor_b.as_ref().map(SecondSensor::of);
        self.doubt_probe();
        self.late_k = [0.0; CLASSES_MAX];
        self.load.loading = false;
        self.coming = self.load.present;
        self.course = None;
        self.upper_air = self.upper_air_now(model, from.oven, 0.0);
        self.look(model);
        self.rose_k = [0.0; CLASSES_MAX];
    }

    /// The hottest everything can be if the supply is lost before the next checkpoint.
    #[must_use]
    pub fn hottest_states(&self, model: &Model) -> Hottest {
        let track = &self.upper;
        let heating_k_per_s = model.element.power.high * model.element.power_w;
        let element = track.element.celsius()
            + (CHECKPOINT_S + LATE_S) as f32 * heating_k_per_s / model.element.capacity_j_per_k;
        let shell = [track.liner, track.skin].into_iter().chain(track.insulation);
        let mut shell = shell.max().unwrap_or_default();
        track.each_point(model, self.load, |placed| {
            shell = shell.max(placed.cells.iter().copied().max().unwrap_or_default());
        });
        // Without heat parts go on towards the liner, and for a while towards the air.
        let shell = Celsius(shell.celsius());
        let parts = self.hottest_if_heater_off(model).map_or(shell, |ahead| shell.max(ahead));
        Hottest { oven: parts.max(self.upper_air), parts, element: Celsius(element) }
    }

    /// Least the reading may be with this duty, door shut or open.
    #[must_use]
    pub fn reading_lowest(&self, model: &Model) -> Celsius {
        Celsius(self.lower.sensor.celsius() - Self::reading_error(model))
    }

    /// Greatest the reading may be with this duty.
    #[must_use]
    pub fn reading_highest(&self, model: &Model) -> Celsius {
        Celsius(self.upper.sensor.celsius() + Self::reading_error(model))
    }

    fn reading_error(model: &Model) -> f32 {
        model.sensor.offset_k + 0.5 * model.sensor.resolution_k + ENVELOPE_ALLOWANCE_K
    }
}
