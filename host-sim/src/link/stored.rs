//! A stored bake's bytes, as they come, turned into the rows of a log.
//!
//! ```text
//! bytes → StoredReader → head (the document), then entries → Recorder → rows of a log
//! ```
//!
//! A board keeps the integers it counted on; bounds and credit are counted again here, by the same
//! ledger over the same integers. What is missing is told ([`Flaw`]) and nothing is counted past it,
//! but for what the format leaves out on purpose: a minute at a time while a person lets a check or
//! wait stand, and the time without supply.

use super::document::{Document, NoDocument};
use crate::log::{Flags, Header, Row as LogRow, Source};
use crate::replay::UNSEEN;
use std::collections::VecDeque;
use truesoak_core::bake::Bake;
use truesoak_core::bounds::Second;
use truesoak_core::bounds::model::Model;
use truesoak_core::event::Event;
use truesoak_core::ledger::Ledger;
use truesoak_core::record::Phase;
use truesoak_core::units::TICKS_PER_SECOND;
use truesoak_core::wire::built_in::BuiltIn;
use truesoak_core::wire::compiled::{Compiled, Fault};
use truesoak_core::wire::row::{Row, SecondRow};
use truesoak_core::wire::stored::{self, ENTRY_BYTES, Entry, HEAD_BYTES, THIN_S};
use truesoak_core::wire::tick_row::TickRow;

/// What a stored bake is not whole by.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Flaw {
    /// Something was being written when the supply went.
    #[error("at {at_s} s a row was torn when the supply went")]
    Torn {
        /// Second of the last row before it.
        at_s: u32,
    },
    /// Rows that should be there are not.
    #[error("{missing_s} s are missing after {at_s} s")]
    Missing {
        /// Second of the last row before them.
        at_s: u32,
        /// How many.
        missing_s: u32,
    },
    /// A second that was before, without a lost supply in between.
    #[error("second {second} comes after {at_s} s")]
    Backwards {
        /// Second of the last row before it.
        at_s: u32,
        /// What it says.
        second: u32,
    },
    /// Bytes that are no entry.
    #[error("entry {index} is none")]
    NoEntry {
        /// From 0.
        index: u32,
    },
    /// The first second has no reading to start from.
    #[error("the first second has no reading")]
    NoStart,
}

/// What comes before the rows of a stored bake.
#[derive(Clone, Debug, PartialEq)]
pub struct Head {
    /// What the board says of it.
    pub told: stored::Head,
    /// What it was baked with.
    pub document: Document,
    /// Tables and steps, as the board ran them.
    pub bake: Bake,
    /// Oven and load.
    pub model: Model,
}

/// Why the head is none.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum NoHead {
    /// Another layout, or no bake at all.
    #[error("the stored bake begins with something else than what it was baked with")]
    Layout,
    /// The document is damaged.
    #[error("what the bake was baked with is damaged: {0}")]
    Document(NoDocument),
    /// The compiled bake is none.
    #[error("what the bake was baked with is no bake: {0}")]
    Compiled(Fault),
}

impl Head {
    /// The header of the log of this bake.
    #[must_use]
    pub fn header(&self, source: Source, board: &str) -> Header {
        let some = |text: &String| (!text.is_empty()).then(|| text.clone());
        let Document { bake, oven, load, job, note, .. } = &self.document;
        let header = Header {
            started_at: self.told.started_unix_s.and_then(started_at),
            board: Some(board.to_owned()),
            oven: some(oven),
            models: Some(crate::compile::digest(&self.model)),
            ..Header::of(source)
        };
        match self.told.built_in {
            None => Header {
                job: some(job),
                note: some(note),
                bake: some(bake),
                load: some(load),
                ..header
            },
            // Neither the bake nor the load of the document was baked.
            Some(own) => Header { note: Some(built_in_words(own).to_owned()), ..header },
        }
    }
}

/// A bake of the board's own, in words.
fn built_in_words(own: BuiltIn) -> &'static str {
    match own {
        BuiltIn::StepTest => "the board's own step test, oven empty",
        BuiltIn::Hold => "the board's own hold below its air limit, oven empty",
    }
}

/// A moment as RFC 3339 has it.
fn started_at(unix_s: u32) -> Option<String> {
    jiff::Timestamp::from_second(unix_s.into()).ok().map(|moment| moment.to_string())
}

/// Takes a stored bake's bytes in any pieces.
#[derive(Debug, Default)]
pub struct StoredReader {
    bytes: VecDeque<u8>,
    told: Option<stored::Head>,
    has_head: bool,
    entries: u32,
}

impl StoredReader {
    /// More of it has come.
    pub fn take(&mut self, bytes: &[u8]) {
        self.bytes.extend(bytes);
    }

    /// The head, once it is there for the first time.
    ///
    /// # Errors
    /// A head that is none; nothing of the bake can be read then.
    pub fn head(&mut self) -> Result<Option<Head>, NoHead> {
        if self.has_head {
            return Ok(None);
        }
        let told = match self.told {
            Some(told) => told,
            None => {
                let Some(head) = self.next::<HEAD_BYTES>() else { return Ok(None) };
                *self.told.insert(stored::Head::decode(&head).ok_or(NoHead::Layout)?)
            }
        };
        let len = told.document.bytes() as usize;
        if self.bytes.len() < len {
            return Ok(None);
        }
        let bytes: Vec<u8> = self.bytes.drain(..len).collect();
        let document = Document::from_bytes(&told.document, &bytes).map_err(NoHead::Document)?;
        let mut compiled = document.compiled().map_err(NoHead::Compiled)?;
        if let Some(own) = told.built_in {
            own.apply(&mut compiled);
        }
        self.has_head = true;
        let Compiled { bake, model, .. } = compiled;
        Ok(Some(Head { told, document, bake, model }))
    }

    /// The next entry, once the head was given; an entry that is none is a flaw.
    pub fn entry(&mut self) -> Option<Result<Entry, Flaw>> {
        if !self.has_head {
            return None;
        }
        let bytes = self.next::<ENTRY_BYTES>()?;
        let index = self.entries;
        self.entries += 1;
        Some(Entry::decode(&bytes).ok_or(Flaw::NoEntry { index }))
    }

    fn next<const BYTES: usize>(&mut self) -> Option<[u8; BYTES]> {
        if self.bytes.len() < BYTES {
            return None;
        }
        let bytes: Vec<u8> = self.bytes.drain(..BYTES).collect();
        bytes.try_into().ok()
    }
}

/// Makes a log's rows of a bake's entries, in their order.
#[derive(Debug)]
pub struct Recorder {
    bake: Bake,
    model: Model,
    ledger: Option<Ledger>,
    /// Nothing is counted any more: something is missing before.
    broken: bool,
    /// The last row given, for events repeat it.
    last: LogRow,
    last_second: Option<u32>,
    /// Time of the log less that of the bake's seconds, ticks; it grows by a lost supply.
    ahead: i64,
    /// The supply's return, which has no time of its own, until the row behind it.
    returned: Option<Event>,
    /// The tick at which the supply returned: the next second ends a second later.
    resumed_at: Option<u32>,
    flaws: Vec<Flaw>,
    ended: bool,
    black_box: Vec<TickRow>,
}

impl Recorder {
    /// A recorder for the bake with this head.
    #[must_use]
    pub fn new(head: &Head) -> Self {
        Self {
            bake: head.bake.clone(),
            model: head.model.clone(),
            ledger: None,
            broken: false,
            last: LogRow::default(),
            last_second: None,
            ahead: 0,
            returned: None,
            resumed_at: None,
            flaws: Vec::new(),
            ended: false,
            black_box: Vec::new(),
        }
    }

    /// What was found missing or wrong so far.
    #[must_use]
    pub fn flaws(&self) -> &[Flaw] {
        &self.flaws
    }

    /// The bake's end has come.
    #[must_use]
    pub fn has_ended(&self) -> bool {
        self.ended
    }

    /// The last minute before a trip, tick by tick.
    #[must_use]
    pub fn black_box(&self) -> &[TickRow] {
        &self.black_box
    }

    /// Takes an entry and hands on the rows that come of it.
    pub fn entry(&mut self, entry: Result<Entry, Flaw>, mut row: impl FnMut(&LogRow)) {
        match entry {
            Err(flaw) => self.break_off(flaw),
            Ok(Entry::Gap) => self.flaws.push(Flaw::Torn { at_s: self.at_s() }),
            Ok(Entry::Row(Row::Tick(tick))) => self.black_box.push(tick),
            Ok(Entry::Row(Row::Second(second))) => self.second(&second, &mut row),
            Ok(Entry::Row(Row::Event { tick: None, event })) => self.returned = Some(event),
            Ok(Entry::Row(Row::Event { tick: Some(tick), event })) => {
                self.event(tick, event, &mut row);
            }
        }
    }

    fn at_s(&self) -> u32 {
        self.last_second.unwrap_or(0)
    }

    fn break_off(&mut self, flaw: Flaw) {
        self.flaws.push(flaw);
        self.broken = true;
    }

    fn second(&mut self, second: &SecondRow, row: &mut impl FnMut(&LogRow)) {
        self.follow_seconds(second);
        self.count(second);
        let ledger = self.ledger.as_ref().filter(|_| !self.broken);
        let celsius =
            |value: Option<truesoak_core::units::Celsius>| value.map(|at| f64::from(at.0));
        self.last = LogRow {
            tick: self.time_of(second.second),
            air: second.reading,
            air_b: second.reading_b,
            part_probe: second.part_probe,
            setpoint_c: celsius(
                second.setpoint.map(truesoak_core::wire::row::Sixteenths::to_celsius),
            ),
            on_ticks: second.on_ticks,
            permit: second.permit,
            door_open: Some(second.door_open),
            step: second.step,
            phase: second.phase,
            coldest_c: celsius(ledger.and_then(Ledger::coldest)),
            hottest_c: celsius(ledger.and_then(Ledger::hottest)),
            credit_s: ledger.map_or(self.last.credit_s, Ledger::credit_s),
            flags: Flags {
                projected: second.projected,
                airflow: second.airflow == Some(true),
                widened: second.widened,
            },
            event: String::new(),
        };
        row(&self.last);
    }

    /// Looks for what is missing before a second.
    fn follow_seconds(&mut self, second: &SecondRow) {
        let before = self.last_second.replace(second.second);
        if let Some(returned) = self.resumed_at.take() {
            // The bake goes on from its checkpoint, and the log from its clock.
            let bake = i64::from(second.second) * i64::from(TICKS_PER_SECOND);
            self.ahead = i64::from(returned + TICKS_PER_SECOND) - bake;
            return;
        }
        let Some(before) = before else { return };
        if second.second <= before {
            return self.break_off(Flaw::Backwards { at_s: before, second: second.second });
        }
        let missing_s = second.second - before - 1;
        // The row before is of the minute's thin rows too, where this one is the next step's first.
        let waited = waits(second.phase) || waits(self.last.phase);
        if missing_s >= THIN_S || (missing_s > 0 && !waited) {
            return self.break_off(Flaw::Missing { at_s: before, missing_s });
        }
        for _ in 0..missing_s {
            self.move_on(&UNSEEN);
        }
    }

    fn count(&mut self, second: &SecondRow) {
        match (&self.ledger, second.reading) {
            (Some(_), _) => self.move_on(&second.second()),
            (None, Some(start)) => {
                self.ledger = Some(Ledger::start(&self.model, &self.bake, start));
            }
            (None, None) => self.break_off(Flaw::NoStart),
        }
    }

    fn move_on(&mut self, second: &Second) {
        if let Some(ledger) = &mut self.ledger {
            ledger.second(&self.model, second);
        }
    }

    fn event(&mut self, tick: u32, event: Event, row: &mut impl FnMut(&LogRow)) {
        let returned = self.returned.take();
        let tick = if returned.is_some() {
            // A board whose clock began again says less than was: the log's time never goes back.
            let at = tick.max(self.last.tick.saturating_add(TICKS_PER_SECOND));
            self.resumed_at = Some(at);
            at
        } else {
            self.resumed_at.map_or(tick, |at| tick.max(at)).max(self.last.tick)
        };
        for event in returned.into_iter().chain([event]) {
            if let Some(ledger) = &mut self.ledger {
                ledger.note(&self.model, &self.bake, event);
            }
            self.ended |= matches!(event, Event::Ended(_));
            self.last = LogRow { tick, event: event.to_string(), ..self.last.clone() };
            row(&self.last);
        }
    }

    /// Time of the log at a second of the bake.
    fn time_of(&self, second: u32) -> u32 {
        let ticks = i64::from(second) * i64::from(TICKS_PER_SECOND) + self.ahead;
        u32::try_from(ticks).unwrap_or(0).max(self.last.tick)
    }
}

/// A person is waited for, with heat cut.
fn waits(phase: Phase) -> bool {
    matches!(phase, Phase::Check | Phase::Wait)
}
