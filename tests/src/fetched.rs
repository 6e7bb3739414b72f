//! A stored bake as a computer fetches it, and what it comes to when it is counted again.

use truesoak::rehearse::Trace;
use truesoak_core::event::Event;
use truesoak_core::ledger::Ledger;
use truesoak_core::wire::compiled::Compiled;
use truesoak_core::wire::row::{Row, SecondRow};
use truesoak_core::wire::stored::{ENTRY_BYTES, Entry, HEAD_BYTES, Head};

/// A fetched bake.
#[derive(Clone, Debug)]
pub struct Fetched {
    /// What it says of itself.
    pub head: Head,
    /// What was compiled, from the document that was fetched with it.
    pub compiled: Compiled,
    /// Its rows, in the order things happened.
    pub rows: Vec<Row>,
    /// Places that were torn when the supply went.
    pub gaps: usize,
}

/// A second, recounted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Recounted {
    /// Seconds since the bake began.
    pub second: u32,
    /// Credit of the step, s.
    pub credit_s: u32,
    /// No part is colder, °C.
    pub coldest_c: Option<f64>,
    /// No part is hotter, °C.
    pub hottest_c: Option<f64>,
}

impl Fetched {
    /// The bake these bytes are.
    ///
    /// # Errors
    /// Bytes that are no stored bake, or more or fewer of them than its head says.
    pub fn of(bytes: &[u8]) -> Result<Self, String> {
        let (head, rest) = bytes.split_first_chunk::<HEAD_BYTES>().ok_or("no head")?;
        let head = Head::decode(head).ok_or("a head that is none")?;
        if bytes.len() != head.bytes() as usize {
            return Err(format!("{} bytes where the head says {}", bytes.len(), head.bytes()));
        }
        let (document, entries) = rest.split_at(head.document.bytes() as usize);
        let compiled = &document[head.document.compiled_offset() as usize..];
        let mut compiled = Compiled::decode(compiled).map_err(|fault| format!("{fault:?}"))?;
        if let Some(built_in) = head.built_in {
            built_in.apply(&mut compiled);
        }
        let (mut rows, mut gaps) = (Vec::new(), 0);
        for (number, bytes) in entries.chunks_exact(ENTRY_BYTES).enumerate() {
            let entry = bytes.first_chunk().and_then(Entry::decode);
            match entry.ok_or_else(|| format!("entry {number} is none: {bytes:02x?}"))? {
                Entry::Row(row) => rows.push(row),
                Entry::Gap => gaps += 1,
            }
        }
        Ok(Self { head, compiled, rows, gaps })
    }

    /// The seconds.
    pub fn seconds(&self) -> impl Iterator<Item = &SecondRow> {
        self.rows.iter().filter_map(|row| match row {
            Row::Second(second) => Some(second),
            Row::Event { .. } | Row::Tick(_) => None,
        })
    }

    /// The events.
    pub fn events(&self) -> impl Iterator<Item = Event> {
        self.rows.iter().filter_map(|row| match row {
            Row::Event { event, .. } => Some(*event),
            Row::Second(_) | Row::Tick(_) => None,
        })
    }

    /// Every second from nothing but what was fetched.
    ///
    /// # Errors
    /// No reading to start from.
    pub fn recount(&self) -> Result<Vec<Recounted>, String> {
        let Compiled { bake, model, .. } = &self.compiled;
        let mut ledger: Option<Ledger> = None;
        let mut last = 0;
        let mut recounted = Vec::new();
        for row in &self.rows {
            match row {
                Row::Second(second) => {
                    if let Some(ledger) = &mut ledger {
                        // A row of a minute stands for the seconds before it, too.
                        for _ in 0..second.second.saturating_sub(last).max(1) {
                            ledger.second(model, &second.second());
                        }
                    } else {
                        let first = second.reading.ok_or("no reading to start from")?;
                        ledger = Some(Ledger::start(model, bake, first));
                    }
                    last = second.second;
                    let Some(ledger) = &ledger else { continue };
                    let celsius = |bound: truesoak_core::units::Celsius| f64::from(bound.0);
                    recounted.push(Recounted {
                        second: second.second,
                        credit_s: ledger.credit_s(),
                        coldest_c: ledger.coldest().map(celsius),
                        hottest_c: ledger.hottest().map(celsius),
                    });
                }
                Row::Event { event, .. } => {
                    if let Some(ledger) = &mut ledger {
                        ledger.note(model, bake, *event);
                    }
                }
                Row::Tick(_) => {}
            }
        }
        Ok(recounted)
    }

    /// It is what was seen from outside, event by event and second by second, with nothing torn.
    ///
    /// # Errors
    /// The first difference.
    pub fn agrees(&self, trace: &Trace) -> Result<(), String> {
        let kept: Vec<String> = self.events().map(|event| event.to_string()).collect();
        let events = trace.rows.iter().filter(|row| !row.event.is_empty());
        let seen: Vec<&str> = events.map(|row| row.event.as_str()).collect();
        if self.gaps > 0 || kept != seen {
            return Err(format!("{} gaps, events {kept:?}\n  seen {seen:?}", self.gaps));
        }
        let recounted = self.recount()?;
        let seconds: Vec<_> = trace.rows.iter().filter(|row| row.event.is_empty()).collect();
        if recounted.len() != seconds.len() {
            return Err(format!("{} seconds kept, {} seen", recounted.len(), seconds.len()));
        }
        for (again, row) in recounted.iter().zip(seconds) {
            let ours = (again.second, again.credit_s, again.coldest_c, again.hottest_c);
            let theirs = (row.tick / 10, row.credit_s, row.coldest_c, row.hottest_c);
            if ours != theirs {
                return Err(format!("recounted {ours:?}, the board had {theirs:?}"));
            }
        }
        Ok(())
    }
}
