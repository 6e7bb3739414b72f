//! The controller's bounds held beside the plant's own temperatures, second by second.

use std::cell::RefCell;
use std::collections::{BTreeMap, VecDeque};
use std::rc::Rc;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use truesoak::compile::{self, tuning::tune};
use truesoak::files::Setup;
use truesoak::plant::Draw;
use truesoak::plant::derive::Sections;
use truesoak::rehearse::{self, Board, Observer, PartNow, Runner, World, model_of};
use truesoak::trial::plant;
use truesoak_core::Controller;
use truesoak_core::bake::Bake;
use truesoak_core::event::{Ending, Event};
use truesoak_core::io::{Inputs, Outputs};
use truesoak_core::record::Record;
use truesoak_core::sequence::Mode;
use truesoak_core::units::{Celsius, Tick};

/// A door this long shut no longer counts as "after a door", ticks.
const AFTER_DOOR_TICKS: u32 = 600;
/// The air by its reading is judged over so many seconds.
const NOISE_SECONDS: usize = 60;
/// Age of a second's mean at the second's end, s.
const MEAN_AGE_S: f64 = 0.5;
/// The air at a second's end may be this much hotter than in its mean, for pulses of the drive, K.
const PULSE_K: f64 = 0.005;

/// Quantities held against the truth.
pub const HELD: [&str; 10] = [
    "coldest",
    "hottest",
    "class coldest",
    "class hottest",
    "air by reading",
    "air by duty",
    "lowest",
    "highest",
    "lowest, door",
    "highest, door",
];

/// How far a bound lies on the right side of the truth, K: least, and where; negative is a
/// violation.
#[derive(Clone, Copy, Debug)]
pub struct Margin {
    /// K.
    pub least_k: f64,
    /// Seconds since the start.
    pub at_s: u32,
    /// Plant.
    pub plant: u64,
}

impl Margin {
    const NONE: Self = Self { least_k: f64::INFINITY, at_s: 0, plant: 0 };

    fn look(&mut self, margin_k: f64, at_s: u32) {
        // A not-a-number is the worst of margins.
        let margin_k = if margin_k.is_nan() { f64::NEG_INFINITY } else { margin_k };
        if margin_k < self.least_k {
            *self = Self { least_k: margin_k, at_s, ..*self };
        }
    }
}

/// What the controller's bounds say at the end of a second, of the second before.
#[derive(Clone, Debug, Default)]
struct Said {
    classes: Vec<Option<(f64, f64)>>,
    air_by_reading_c: f64,
    air_by_duty_c: f64,
    lowest_c: f64,
    highest_c: f64,
}

/// What somebody does to the inputs on their way to the board.
pub type Tamper = fn(&Controller, &mut Inputs);

/// A board that shows its bounds to whoever holds the other end.
struct Watched {
    board: Board,
    tamper: Tamper,
    said: Rc<RefCell<Said>>,
}

impl Runner for Watched {
    fn begin(&mut self) {
        self.board.begin();
    }
    fn tick(&mut self, now: Tick, inputs: &Inputs) -> Outputs {
        let mut inputs = *inputs;
        (self.tamper)(self.board.controller(), &mut inputs);
        let outputs = self.board.tick(now, &inputs);
        let controller = self.board.controller();
        if let (Some(_), Some(ledger)) = (controller.record(), controller.ledger()) {
            let (bounds, model) = (ledger.bounds(), controller.model());
            let wide = |(low, high): (Celsius, Celsius)| (f64::from(low.0), f64::from(high.0));
            let mut said = self.said.borrow_mut();
            said.classes.clear();
            let classes = 0..model.classes.len();
            said.classes.extend(classes.map(|index| bounds.proven(model, index).map(wide)));
            said.air_by_reading_c = f64::from(bounds.upper_air().0);
            said.air_by_duty_c = f64::from(bounds.upper_air_by_duty().0);
            said.lowest_c = f64::from(bounds.reading_lowest(model).0);
            said.highest_c = f64::from(bounds.reading_highest(model).0);
        }
        outputs
    }
    fn events(&self) -> &[Event] {
        self.board.events()
    }
    fn record(&self) -> Option<&Record> {
        self.board.record()
    }
    fn mode(&self) -> Mode {
        self.board.mode()
    }
    fn ended_credit_s(&self, part: usize) -> u32 {
        self.board.ended_credit_s(part)
    }
    fn credit_s(&self, part: usize) -> u32 {
        self.board.credit_s(part)
    }
    fn bake(&self) -> &Bake {
        self.board.bake()
    }
    fn restart(&mut self) {
        self.board.restart();
    }
    fn is_short(&self) -> bool {
        self.board.is_short()
    }
}

/// Holds what is said beside what is true.
struct Checker {
    said: Rc<RefCell<Said>>,
    margins: [Margin; HELD.len()],
    seconds: u64,
    unbounded: u64,
    parts: Vec<PartNow>,
    /// The same a second ago, which is what is said now.
    parts_then: Vec<PartNow>,
    /// True air now, one and two seconds ago, °C.
    airs_c: [f64; 3],
    /// The last record and when it was, ticks.
    then: Option<(u32, Record)>,
    /// Margin of the air by its reading, K, and the reading, °C, of the last seconds in a row.
    airs_k: VecDeque<(f64, f64)>,
    truth_at: Option<u32>,
    door_until: u32,
    trips: Vec<(String, u32)>,
    outside_model: Option<u32>,
    probe_believed: Option<u32>,
    probe_ignored: Option<u32>,
    ending: Option<Ending>,
    /// Widest and last bounds of a soak that counts, K on either side of the truth.
    last_gap_k: Option<(f64, f64)>,
}

impl Checker {
    fn new(said: Rc<RefCell<Said>>) -> Self {
        Self {
            said,
            margins: [Margin::NONE; HELD.len()],
            seconds: 0,
            unbounded: 0,
            parts: Vec::new(),
            parts_then: Vec::new(),
            airs_c: [f64::INFINITY; 3],
            then: None,
            airs_k: VecDeque::new(),
            truth_at: None,
            door_until: 0,
            trips: Vec::new(),
            outside_model: None,
            probe_believed: None,
            probe_ignored: None,
            ending: None,
            last_gap_k: None,
        }
    }

    fn judge_parts(&mut self, record: &Record, at_s: u32) {
        let said = self.said.borrow();
        let both = || self.parts_then.iter().zip(&self.parts);
        // What came in or went out since is said as it now is.
        let inside =
            || both().filter(|(then, now)| then.inside && now.inside).map(|(then, _)| then);
        if let (Some(low), Some(high)) = (record.coldest, record.hottest) {
            let (low_c, high_c) = (f64::from(low.0), f64::from(high.0));
            let coldest_c = inside().map(|part| part.coldest_c).reduce(f64::min);
            let hottest_c = inside().map(|part| part.hottest_c).reduce(f64::max);
            if let (Some(coldest_c), Some(hottest_c)) = (coldest_c, hottest_c) {
                self.margins[0].look(coldest_c - low_c, at_s);
                self.margins[1].look(high_c - hottest_c, at_s);
                if record.credit_s > 0 {
                    self.last_gap_k = Some((coldest_c - low_c, high_c - hottest_c));
                }
            }
        }
        for ((part, now), bounds) in both().zip(&said.classes) {
            match bounds {
                _ if !part.inside || !now.inside => {}
                Some((low_c, high_c)) => {
                    self.margins[2].look(part.coldest_c - low_c, at_s);
                    self.margins[3].look(high_c - part.hottest_c, at_s);
                }
                None => self.unbounded += 1,
            }
        }
    }

    fn judge_air(&mut self, record: &Record, at_s: u32) {
        let said = self.said.borrow();
        self.margins[5].look(said.air_by_duty_c - self.airs_c[1], at_s);
        // WHY: a lag turned round multiplies the noise of a second, so a single second says little;
        // over many the noise cancels and the bound does not. The reading's mean and slope are made
        // of the last two seconds' air. As a door opens the air falls by tens of kelvins within one
        // second, which no mean of a second can follow; heat is cut then.
        if record.door_open {
            self.airs_k.clear();
            return;
        }
        if self.airs_k.len() == NOISE_SECONDS {
            self.airs_k.pop_front();
        }
        let reading_c =
            record.reading.map_or(f64::NAN, |reading| f64::from(reading.to_celsius().0));
        self.airs_k.push_back((said.air_by_reading_c - self.airs_c[2], reading_c));
        if self.airs_k.len() == NOISE_SECONDS {
            let sum_k = self.airs_k.iter().map(|(margin_k, _)| margin_k).sum::<f64>();
            // A second's mean is half a second old, which shows while the reading moves.
            let pairs = self.airs_k.iter().zip(self.airs_k.iter().skip(1));
            let moved_k = pairs.map(|((_, before), (_, now))| (now - before).abs()).sum::<f64>();
            let mean_k = (sum_k + MEAN_AGE_S * moved_k) / NOISE_SECONDS as f64;
            self.margins[4].look(mean_k + PULSE_K, at_s);
        }
    }

    fn judge_reading(&mut self, record: &Record, now: u32) {
        let (said, at_s) = (self.said.borrow(), now / 10);
        if record.door_open {
            self.door_until = now + AFTER_DOOR_TICKS;
        }
        if let Some(reading) = record.reading {
            let reading_c = f64::from(reading.to_celsius().0);
            let index = if now < self.door_until { 8 } else { 6 };
            self.margins[index].look(reading_c - said.lowest_c, at_s);
            self.margins[index + 1].look(said.highest_c - reading_c, at_s);
        }
    }
}

impl Observer for Checker {
    fn event(&mut self, now: u32, event: Event, _: &dyn Runner, _: &World) {
        match event {
            Event::DoorOpened | Event::DoorClosed => self.door_until = now + AFTER_DOOR_TICKS,
            Event::Tripped(kind) => self.trips.push((kind.word().to_owned(), now / 10)),
            Event::OutsideModel => self.outside_model = Some(now / 10),
            Event::ProbeBelieved => self.probe_believed = Some(now / 10),
            Event::ProbeIgnored => self.probe_ignored = Some(now / 10),
            Event::Ended(ending) => self.ending = Some(ending),
            _ => {}
        }
    }

    fn truth(&mut self, now: u32, done: u32, world: &World) {
        if self.truth_at.is_some_and(|before| before + 10 != now) {
            self.airs_k.clear();
        }
        self.airs_c.rotate_right(1);
        std::mem::swap(&mut self.parts, &mut self.parts_then);
        self.airs_c[0] = world.plant.look_at(done, &mut self.parts);
        if self.truth_at.is_none() {
            // Before the start it stood as it stands then.
            self.airs_c = [self.airs_c[0]; 3];
        }
        self.truth_at = Some(now);
    }

    fn second(&mut self, now: u32, record: &Record, _: &dyn Runner) {
        let then = self.then.replace((now, *record));
        // What is said in this second is said of the one before.
        let Some((_, of)) = then.filter(|(then, _)| then + 10 == now) else { return };
        if self.truth_at == Some(now) {
            self.seconds += 1;
            self.judge_parts(record, now / 10 - 1);
            self.judge_air(&of, now / 10 - 1);
            self.judge_reading(&of, now - 10);
        }
    }
}

/// What came of many plants.
#[derive(Clone, Debug)]
pub struct Survey {
    /// Plants tried.
    pub plants: u64,
    /// Seconds judged.
    pub seconds: u64,
    /// Seconds in which something truly inside had no bounds.
    pub unbounded: u64,
    /// Least margins, in the order of [`HELD`].
    pub margins: [Margin; HELD.len()],
    /// Trips by kind: plant and second.
    pub trips: BTreeMap<String, Vec<(u64, u32)>>,
    /// Plants and seconds at which the controller gave up counting.
    pub outside_model: Vec<(u64, u32)>,
    /// Plants whose part probe was believed at some time.
    pub probes_believed: u64,
    /// Plants and seconds at which the part probe was ignored.
    pub probes_ignored: Vec<(u64, u32)>,
    /// Lengths of the bakes, s.
    pub lengths_s: Vec<u64>,
    /// Bakes by how they ended.
    pub endings: BTreeMap<String, u64>,
    /// Greatest distance of the bounds from the truth in the last counted second, K.
    pub widest_at_end_k: (f64, f64),
}

impl Survey {
    fn new() -> Self {
        Self {
            plants: 0,
            seconds: 0,
            unbounded: 0,
            margins: [Margin::NONE; HELD.len()],
            trips: BTreeMap::new(),
            outside_model: Vec::new(),
            probes_believed: 0,
            probes_ignored: Vec::new(),
            lengths_s: Vec::new(),
            endings: BTreeMap::new(),
            widest_at_end_k: (0.0, 0.0),
        }
    }

    /// Tries plants `from` to before `until`; the truth is a draw of `truth`'s spread, its parts
    /// taken apart as finely as told, and somebody may stand between sensors and board.
    pub fn of(
        believed: &Setup,
        truth: &Setup,
        (from, until): (u64, u64),
        sections: Sections,
        tamper: Tamper,
    ) -> Self {
        let (next, total) = (AtomicU64::new(from), Mutex::new(Self::new()));
        std::thread::scope(|scope| {
            for _ in 0..2 {
                scope.spawn(|| {
                    loop {
                        let number = next.fetch_add(1, Ordering::Relaxed);
                        if number >= until {
                            break;
                        }
                        let draw = Draw { sections, ..plant(truth, number) };
                        let checker = bake(believed, truth, &draw, number + 1, tamper);
                        total.lock().expect("no panic").add(&checker, number);
                    }
                });
            }
        });
        total.into_inner().expect("no panic")
    }

    fn add(&mut self, checker: &Checker, number: u64) {
        self.plants += 1;
        self.seconds += checker.seconds;
        self.unbounded += checker.unbounded;
        for (mine, theirs) in self.margins.iter_mut().zip(&checker.margins) {
            if theirs.least_k < mine.least_k {
                *mine = Margin { plant: number, ..*theirs };
            }
        }
        for (kind, at_s) in &checker.trips {
            self.trips.entry(kind.clone()).or_default().push((number, *at_s));
        }
        self.outside_model.extend(checker.outside_model.map(|at_s| (number, at_s)));
        self.probes_believed += u64::from(checker.probe_believed.is_some());
        self.probes_ignored.extend(checker.probe_ignored.map(|at_s| (number, at_s)));
        self.lengths_s.push(checker.seconds);
        let ending = checker.ending.map_or_else(|| "none".to_owned(), |one| format!("{one:?}"));
        *self.endings.entry(ending).or_default() += 1;
        if let Some((cold_k, hot_k)) = checker.last_gap_k {
            let (cold, hot) = &mut self.widest_at_end_k;
            (*cold, *hot) = (cold.max(cold_k), hot.max(hot_k));
        }
    }

    /// Everything held that was not, in words; nothing if all did.
    pub fn violations(&self) -> Vec<String> {
        let mut found: Vec<String> = HELD
            .iter()
            .zip(&self.margins)
            .filter(|(_, margin)| margin.least_k < 0.0)
            .map(|(name, margin)| {
                format!(
                    "{name} off by {:.2} K: plant {} at {} s",
                    -margin.least_k, margin.plant, margin.at_s
                )
            })
            .collect();
        if self.unbounded > 0 {
            found.push(format!("{} part-seconds without bounds", self.unbounded));
        }
        found
    }
}

impl std::fmt::Display for Survey {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} plants, {} s, {:?}", self.plants, self.seconds, self.endings)?;
        let (cold_k, hot_k) = self.widest_at_end_k;
        write!(f, ", widest at the end {cold_k:.2} and {hot_k:.2} K")?;
        for (name, margin) in HELD.iter().zip(&self.margins) {
            let Margin { least_k, at_s, plant } = margin;
            write!(f, "\n    {name:14} {least_k:7.2} K (plant {plant}, {at_s} s)")?;
        }
        if self.unbounded > 0 {
            write!(f, "\n    UNBOUNDED {} part-seconds", self.unbounded)?;
        }
        if !self.trips.is_empty() {
            write!(f, "\n    TRIPS {:?}", self.trips)?;
        }
        if self.probes_believed > 0 {
            write!(f, "\n    probe believed on {} plants", self.probes_believed)?;
        }
        if !self.probes_ignored.is_empty() {
            write!(f, "\n    PROBE IGNORED {:?}", self.probes_ignored)?;
        }
        if !self.outside_model.is_empty() {
            write!(f, "\n    OUTSIDE MODEL {:?}", self.outside_model)?;
        }
        Ok(())
    }
}

fn bake(believed: &Setup, truth: &Setup, draw: &Draw, seed: u64, tamper: Tamper) -> Checker {
    let model = model_of(believed).unwrap_or_else(|refusal| panic!("{refusal}"));
    let settings = compile::settings(&believed.oven, tune(believed, &model).tuning);
    let said = Rc::new(RefCell::new(Said::default()));
    let controller = Controller::new(believed.bake.bake.clone(), model, settings);
    let mut board = Watched { board: Board::new(controller), tamper, said: said.clone() };
    let mut world =
        World::new(&believed.bake, &truth.oven, &truth.load, draw, &believed.oven, seed);
    let mut checker = Checker::new(said);
    rehearse::run(&mut board, &mut world, false, &mut checker);
    checker
}
