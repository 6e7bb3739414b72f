//! What is proven of every part, counted second by second, and what was not and why.
//!
//! The tally is that of a rehearsal's truth, fed with bounds instead: a second counts for a part
//! when the coldest it can be and the hottest it can be are both in the window. While it is not
//! known what is inside, nothing counts.

use crate::files::load::Load;
use crate::rehearse::{PartNow, Tally};
use crate::report::result::{Part, Verdict, Why};
use truesoak_core::bake::{Bake, Soak, Step};
use truesoak_core::bounds::model::Model;
use truesoak_core::event::Event;
use truesoak_core::io::{Answer, Question};
use truesoak_core::ledger::Ledger;

/// What is proven so far.
pub(super) struct Proven<'a> {
    load: &'a Load,
    model: &'a Model,
    bake: &'a Bake,
    tally: Tally,
    /// The soak that is being run: step by index, which time, what it asks.
    soak: Option<(usize, u32, Soak)>,
    rounds: Vec<u32>,
    why: Vec<Why>,
    no_longer: Vec<bool>,
    now: Vec<PartNow>,
}

impl<'a> Proven<'a> {
    pub(super) fn new(load: &'a Load, model: &'a Model, bake: &'a Bake) -> Self {
        Self {
            load,
            model,
            bake,
            tally: Tally::new(load),
            soak: None,
            rounds: vec![0; bake.steps.len()],
            why: Vec::new(),
            no_longer: vec![false; bake.steps.len()],
            now: Vec::new(),
        }
    }

    /// The log has a hole before the next row.
    pub(super) fn after_hole(&mut self) {
        self.tally.begin_again();
    }

    /// Parts of some soak's last try may have stayed above its window's lower end for too long.
    pub(super) fn stayed_too_long(&self) -> bool {
        self.no_longer.contains(&true)
    }

    pub(super) fn event(&mut self, now_s: f64, event: Event, ledger: Option<&Ledger>) {
        let credits = |of: fn(&Ledger, usize) -> u32| {
            let parts = 0..self.load.parts.len();
            parts.map(|part| ledger.map_or(0, |ledger| of(ledger, part))).collect::<Vec<_>>()
        };
        match event {
            Event::StepBegan(index) => {
                let ended = credits(Ledger::ended_class_credit_s);
                let index = usize::from(index);
                self.tally.step_began(self.bake, index, now_s, &ended);
                self.begin(index);
            }
            Event::LoadClosed => self.tally.load_closed(now_s),
            Event::Answered(Question::AnythingNew | Question::PowerReturned, Answer::Fail) => {
                self.tally.begin_again();
            }
            Event::NoLonger(soak) => {
                if let Some(stayed) = self.no_longer.get_mut(usize::from(soak)) {
                    *stayed = true;
                }
            }
            Event::Ended(_) => {
                let had = credits(Ledger::class_credit_s);
                self.tally.step_ended(now_s, &had);
                self.soak = None;
            }
            _ => {}
        }
    }

    fn begin(&mut self, index: usize) {
        let Some(Step::Soak(soak)) = self.bake.steps.get(index) else {
            self.soak = None;
            return;
        };
        let round = self.rounds.get_mut(index).map_or(1, |round| {
            *round += 1;
            *round
        });
        if let Some(stayed) = self.no_longer.get_mut(index) {
            *stayed = false;
        }
        self.soak = Some((index, round, *soak));
    }

    /// One second, as the ledger has it after that.
    pub(super) fn second(&mut self, now_s: f64, ledger: &Ledger) {
        let counts = !ledger.is_doubted() && !ledger.is_outside_model();
        let mut now = core::mem::take(&mut self.now);
        now.clear();
        for (class, part) in self.load.parts.iter().enumerate() {
            let range = ledger.proven(self.model, class);
            let (coldest_c, hottest_c) =
                range.map_or((f64::NAN, f64::NAN), |(a, b)| (f64::from(a.0), f64::from(b.0)));
            if range.is_some() {
                self.reason(&part.name, counts, coldest_c, hottest_c);
            }
            let coldest_c = if counts { coldest_c } else { f64::NAN };
            let inside = range.is_some();
            now.push(PartNow { inside, slowest_c: coldest_c, coldest_c, hottest_c });
        }
        self.tally.second(now_s, &now);
        self.now = now;
    }

    /// Why this second is not proven of a part, if it is not.
    fn reason(&mut self, part: &str, counts: bool, coldest_c: f64, hottest_c: f64) {
        let Some((index, round, soak)) = self.soak else { return };
        let (at_least, at_most) = (f64::from(soak.at_least.0), f64::from(soak.at_most.0));
        let step = index + 1;
        let is_same = |why: &&mut Why| why.part == part && why.step == step && why.round == round;
        let why = match self.why.iter_mut().rev().find(is_same) {
            Some(why) => why,
            None => {
                self.why.push(Why {
                    part: part.to_owned(),
                    step,
                    round,
                    too_cold_s: 0.0,
                    too_hot_s: 0.0,
                    doubted_s: 0.0,
                    coldest_most_c: None,
                    hottest_most_c: None,
                });
                let Some(why) = self.why.last_mut() else { return };
                why
            }
        };
        why.coldest_most_c = Some(why.coldest_most_c.map_or(coldest_c, |most| most.max(coldest_c)));
        why.hottest_most_c = Some(why.hottest_most_c.map_or(hottest_c, |most| most.max(hottest_c)));
        if coldest_c < at_least {
            why.too_cold_s += 1.0;
        } else if hottest_c > at_most {
            why.too_hot_s += 1.0;
        } else if !counts {
            why.doubted_s += 1.0;
        }
    }

    /// Every part with its soaks, and what was not proven of them. That a part can have been above
    /// its limit does not prove that it was.
    pub(super) fn parts(&self) -> (Vec<Part>, Vec<Why>) {
        let mut parts = self.tally.parts(self.load, None);
        let words = parts.iter_mut().flat_map(|part| {
            let soaks = part.soaks.iter_mut().map(|soak| &mut soak.verdict);
            std::iter::once(&mut part.verdict).chain(soaks)
        });
        for word in words.filter(|word| **word == Verdict::Overheated) {
            *word = Verdict::Short;
        }
        (parts, self.why.clone())
    }
}
