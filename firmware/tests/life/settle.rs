//! After a cut: what was acknowledged is there, of what was under way the old or the new.

use super::{Doing, Flash, Life, Log, digest, ids, read_lines};
use truesoak_firmware::store::{Bake, CHECKPOINT_MAX, SETTINGS_MAX, Store};

/// Gaps one cut may leave: a page of torn cells and the place after it.
const GAPS_PER_CUT: usize = 13;

impl<const WRITE: usize> Life<WRITE> {
    /// Holds the store against what is known, and takes over what was under way.
    pub fn settle(&mut self) {
        let doing = std::mem::take(&mut self.doing);
        if let Some(open) = self.known.open {
            self.known.bakes.get_mut(&open).unwrap().cuts += 1;
        }
        self.settle_settings(&doing);
        self.settle_latch(&doing);
        self.settle_document(&doing);
        self.settle_list(&doing);
        for id in self.known.bakes.clone().into_keys() {
            self.settle_bake(id, &doing);
        }
    }

    fn settle_settings(&mut self, doing: &Doing) {
        let mut out = [0; SETTINGS_MAX];
        let found = self.store.settings(&mut out).unwrap().map(|length| out[..length].to_vec());
        match doing {
            Doing::Settings(new) if found.as_ref() == Some(new) => self.known.settings = found,
            _ => assert_eq!(found, self.known.settings, "settings, doing {doing:?}"),
        }
    }

    fn settle_latch(&mut self, doing: &Doing) {
        let found = self.store.latched().map(<[u8]>::to_vec);
        match doing {
            Doing::Latch(new) if found.as_ref() == Some(new) || found == Some(vec![]) => {}
            Doing::Acknowledge if found.is_none() => {}
            _ => assert_eq!(found, self.known.latched, "latch, doing {doing:?}"),
        }
        self.known.latched = found;
    }

    fn settle_document(&mut self, doing: &Doing) {
        let found = self.store.document().map(|document| {
            let mut bytes = vec![0; document.length as usize];
            let read = self.store.document_read(document.id, 0, &mut bytes).unwrap();
            assert_eq!(read, bytes.len());
            assert_eq!(document.digest, digest(&bytes), "a document that counts is whole");
            assert!(self.store.document_holds(document.id).unwrap());
            (document.id, bytes)
        });
        let is_new = |new: &Vec<u8>| found.as_ref().is_some_and(|found| found.1 == *new);
        match doing {
            Doing::Document(new) if is_new(new) => self.known.document = found,
            _ => assert_eq!(found, self.known.document, "document, doing {doing:?}"),
        }
    }

    /// Which bakes there are.
    fn settle_list(&mut self, doing: &Doing) {
        let there = ids(&self.store);
        if let (Doing::Begin { header, document }, Some(id)) = (doing, self.store.open_bake())
            && self.known.open.is_none()
        {
            self.began(id, header.clone(), *document);
        }
        if matches!(doing, Doing::Finish(..)) && self.store.open_bake().is_none() {
            self.known.open = None;
        }
        assert_eq!(self.store.open_bake(), self.known.open, "doing {doing:?}");
        let may_go = |log: &Log| match doing {
            Doing::Room => log.fetched,
            Doing::Erase => true,
            _ => false,
        };
        self.known.bakes.retain(|id, log| there.contains(id) || !may_go(log));
        assert_eq!(there, self.known.bakes.keys().copied().collect::<Vec<_>>());
    }

    fn settle_bake(&mut self, id: u32, doing: &Doing) {
        let bake = self.store.bakes().find(|bake| bake.id == id).unwrap();
        let is_open = self.known.open == Some(id);
        let log = self.known.bakes.get_mut(&id).unwrap();
        let mut out = [0; CHECKPOINT_MAX];
        let length = self.store.bake_header(id, &mut out).unwrap();
        assert_eq!(out[..length], log.header);
        assert_eq!((bake.started, bake.document), (77, log.document));
        assert_eq!(bake.finished, !is_open);
        if bake.finished {
            let length = self.store.bake_end(id, &mut out).unwrap();
            let end = Some((bake.seconds, out[..length].to_vec()));
            match doing {
                Doing::Finish(s, bytes) if log.end.is_none() => log.end = Some((*s, bytes.clone())),
                _ => {}
            }
            assert_eq!(end, log.end, "end of {id}, doing {doing:?}");
        }
        if bake.fetched && matches!(doing, Doing::Fetched(fetched) if *fetched == id) {
            log.fetched = true;
        }
        assert_eq!(bake.fetched, log.fetched);
        settle_lines(&mut self.store, &bake, log, is_open, doing);
        if is_open {
            settle_checkpoint(&mut self.store, &bake, log, doing);
        }
    }
}

fn settle_lines<const WRITE: usize>(
    store: &mut Store<Flash<WRITE>>,
    bake: &Bake,
    log: &mut Log,
    is_open: bool,
    doing: &Doing,
) {
    let (lines, gaps) = read_lines(store, bake.id);
    assert!(gaps <= GAPS_PER_CUT * log.cuts, "{gaps} gaps after {} cuts", log.cuts);
    let known = log.lines.len();
    assert!(lines.len() >= known, "bake {} lost lines, doing {doing:?}", bake.id);
    assert_eq!(lines[..known], log.lines, "bake {}", bake.id);
    let more = &lines[known..];
    match doing {
        Doing::Lines(under_way) if is_open => {
            // Of a page any rows may have come through, in their order.
            let mut rest = under_way.iter();
            assert!(more.iter().all(|line| rest.any(|other| other == line)), "{more:?}");
        }
        _ => assert!(more.is_empty(), "{more:?} from nowhere, doing {doing:?}"),
    }
    log.lines = lines;
}

fn settle_checkpoint<const WRITE: usize>(
    store: &mut Store<Flash<WRITE>>,
    bake: &Bake,
    log: &mut Log,
    doing: &Doing,
) {
    let mut out = [0; CHECKPOINT_MAX];
    let found = store.newest_checkpoint(&mut out).unwrap();
    let found = found.map(|(seconds, length)| (seconds, out[..length].to_vec()));
    assert_eq!(bake.seconds, found.as_ref().map_or(0, |found| found.0));
    match doing {
        Doing::Checkpoint(s, bytes) if found == Some((*s, bytes.clone())) => log.checkpoint = found,
        _ => assert_eq!(found, log.checkpoint, "checkpoint, doing {doing:?}"),
    }
}
