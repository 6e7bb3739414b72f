//! Bakes: begin, rows, events, checkpoints, black box, finish. Nothing here erases.
//!
//! ```text
//!          begin             row event checkpoint black_box          finish          mark_fetched
//! (room) ───────────▶ open ──┐ ◀────────────────────┘ ───────────▶ finished ───────────▶ fetched
//!                      ▲     └─ lost supply: open again at boot
//! ```

use super::budget::Budget;
use super::cell::Found;
use super::medium::Medium;
use super::sector::{HEADER, Header, Sheet, Stream};
use super::tail::Tail;
use super::twin::TRIES;
use super::{BAKES_MAX, BLACK_BOX_ROWS, CHECKPOINT_MAX, LATCH_ROOM, ROW_MAX, Store, StoreError};
use embedded_storage::nor_flash::NorFlash;

/// Rows: a row of so many bytes.
pub(super) const ROW: u8 = 0x00;
/// Rows: an event.
pub(super) const EVENT: u8 = 0x20;
/// Rows: a row of the black box.
pub(super) const BLACK_BOX: u8 = 0x40;

/// Title: the header, of so many bytes; written before the sector's own header.
const BEGIN: u8 = 0x00;
/// Title: fetched.
const FETCHED: u8 = 0x70;
/// Title: the end, of so many bytes.
const END: u8 = 0x80;
/// The bits of a title's or checkpoint's tag that are its length.
const LENGTH: u8 = 0x7F;

/// A bake that is kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Bake {
    /// Its number; higher than that of any bake before it.
    pub id: u32,
    /// The document it was made from; 0 if none.
    pub document: u32,
    /// When it started, as it was told.
    pub started: u32,
    /// Its length, s; while it has no end, its newest checkpoint's.
    pub seconds: u32,
    /// It has its end.
    pub finished: bool,
    /// A computer has fetched it: it may go when room is needed.
    pub fetched: bool,
}

/// A bake and where its title is.
#[derive(Clone, Copy, Debug)]
pub(super) struct Kept {
    pub bake: Bake,
    pub title: Sheet,
}

/// The bake that is open.
#[derive(Clone, Copy, Debug)]
pub(super) struct OpenBake {
    pub id: u32,
    rows: Tail,
    checkpoints: Tail,
    /// Sectors kept back for the black box.
    keep: u32,
}

impl<F: NorFlash> Store<F> {
    /// Begins a bake: from here to [`Store::finish`] nothing is erased.
    ///
    /// `document` is the current one's number, or 0; `started` is kept as it is; `longest_s` is
    /// what [`Store::make_room`] was asked for.
    ///
    /// # Errors
    /// An open bake, no room made, another document, more than [`CHECKPOINT_MAX`] bytes of header,
    /// a flash that refuses or does not keep it.
    pub fn begin(
        &mut self,
        document: u32,
        started: u32,
        longest_s: u32,
        header: &[u8],
    ) -> Result<u32, StoreError> {
        self.nothing_open()?;
        let tag = length_of(header)?;
        if document != 0 && self.document().is_none_or(|current| current.id != document) {
            return Err(StoreError::Unknown);
        }
        let room = self.pool.ready() >= self.budget().sectors_for_bake(longest_s)
            && self.bakes.len() < BAKES_MAX
            && self.latch.room::<F>() >= LATCH_ROOM;
        if !room {
            return Err(StoreError::NoRoom);
        }
        self.upload = None;
        let id = self.pool.last_bake.saturating_add(1);
        let header_of = Header { a: started, b: document, ..Header::new(Stream::Title, id, 0) };
        let title = self.write_title(header_of, BEGIN | tag, header)?;
        self.pool.last_bake = id;
        let bake = Bake { id, document, started, seconds: 0, finished: false, fetched: false };
        self.bakes.push(Kept { bake, title }).map_err(|_| StoreError::NoRoom)?;
        self.open = Some(OpenBake {
            id,
            rows: Tail::new(Stream::Rows, id),
            checkpoints: Tail::new(Stream::Checkpoints, id),
            keep: self.kept_back(),
        });
        Ok(id)
    }

    /// The bake that is open: begun or found at boot, and not finished.
    #[must_use]
    pub fn open_bake(&self) -> Option<u32> {
        self.open.map(|open| open.id)
    }

    /// Appends a row of at most [`ROW_MAX`] bytes.
    ///
    /// # Errors
    /// No open bake, too long, no room but that of events and black box, a flash that refuses or
    /// does not keep it.
    pub fn row(&mut self, bytes: &[u8]) -> Result<(), StoreError> {
        self.append_row(ROW, bytes, 1)
    }

    /// Appends an event of at most [`ROW_MAX`] bytes; takes the last room but the black box's.
    ///
    /// # Errors
    /// As [`Store::row`].
    pub fn event(&mut self, bytes: &[u8]) -> Result<(), StoreError> {
        self.append_row(EVENT, bytes, 0)
    }

    fn append_row(&mut self, kind: u8, bytes: &[u8], above: u32) -> Result<(), StoreError> {
        let open = self.open.as_mut().ok_or(StoreError::NoBake)?;
        if bytes.len() > ROW_MAX {
            return Err(StoreError::TooLong);
        }
        let tag = kind | bytes.len() as u8;
        open.rows.append(&mut self.pool, open.keep + above, tag, &[bytes])
    }

    /// Appends rows of the black box, as many as go into one operation, and says how many; call it
    /// again with the rest.
    ///
    /// # Errors
    /// No open bake, no room, a flash that refuses or does not keep them.
    pub fn black_box(&mut self, rows: &[[u8; ROW_MAX]]) -> Result<usize, StoreError> {
        let open = self.open.as_mut().ok_or(StoreError::NoBake)?;
        open.rows.append_page(&mut self.pool, BLACK_BOX | ROW_MAX as u8, rows)
    }

    /// Keeps a checkpoint of at most [`CHECKPOINT_MAX`] bytes, `seconds` into the bake.
    ///
    /// # Errors
    /// As [`Store::row`].
    pub fn checkpoint(&mut self, seconds: u32, bytes: &[u8]) -> Result<(), StoreError> {
        let open = self.open.as_mut().ok_or(StoreError::NoBake)?;
        let tag = length_of(bytes)?;
        let parts = [&seconds.to_le_bytes(), bytes];
        open.checkpoints.append(&mut self.pool, open.keep + 1, tag, &parts)?;
        let id = open.id;
        self.kept_mut(id)?.bake.seconds = seconds;
        Ok(())
    }

    /// The newest checkpoint of the open bake that holds: seconds, and how many bytes were copied.
    ///
    /// # Errors
    /// No open bake, a flash that refuses.
    pub fn newest_checkpoint(
        &mut self,
        out: &mut [u8; CHECKPOINT_MAX],
    ) -> Result<Option<(u32, usize)>, StoreError> {
        let id = self.open_bake().ok_or(StoreError::NoBake)?;
        let last = self.pool.last(Stream::Checkpoints, id)?;
        let after = last.map_or(0, |sheet| sheet.header.index.saturating_add(1));
        // No stream has more sectors than the region, whatever a header says.
        let first = after.saturating_sub(self.pool.medium.sectors());
        for index in (first..after).rev() {
            let sheet = self.pool.locate(Stream::Checkpoints, id, index)?.here();
            let Some(sheet) = sheet else { continue };
            if let Some((place, tag)) = self.pool.medium.scan(&sheet)?.newest {
                return Ok(Some(told(&mut self.pool.medium, &sheet, place, tag, out)?));
            }
        }
        Ok(None)
    }

    /// Ends the open bake, `seconds` long, with at most [`CHECKPOINT_MAX`] bytes.
    ///
    /// # Errors
    /// No open bake, too long, a flash that refuses or does not keep it; the bake is open still.
    pub fn finish(&mut self, seconds: u32, bytes: &[u8]) -> Result<(), StoreError> {
        let id = self.open_bake().ok_or(StoreError::NoBake)?;
        let tag = END | length_of(bytes)?;
        self.mark(id, tag, &[&seconds.to_le_bytes(), bytes])?;
        let kept = self.kept_mut(id)?;
        kept.bake.seconds = seconds;
        kept.bake.finished = true;
        self.open = None;
        Ok(())
    }

    /// A computer has the bake whole. Erases nothing; may be called while another bake is open.
    ///
    /// # Errors
    /// An unknown or unfinished bake, a flash that refuses or does not keep it.
    pub fn mark_fetched(&mut self, bake: u32) -> Result<(), StoreError> {
        let kept = self.kept(bake)?;
        if !kept.bake.finished {
            return Err(StoreError::NotFinished);
        }
        if !kept.bake.fetched {
            self.mark(bake, FETCHED, &[])?;
            self.kept_mut(bake)?.bake.fetched = true;
        }
        Ok(())
    }

    /// The bakes that are kept, the oldest first.
    pub fn bakes(&self) -> impl Iterator<Item = Bake> + '_ {
        self.bakes.iter().map(|kept| kept.bake)
    }

    /// The bytes a bake began with.
    ///
    /// # Errors
    /// An unknown bake, a flash that refuses.
    pub fn bake_header(
        &mut self,
        bake: u32,
        out: &mut [u8; CHECKPOINT_MAX],
    ) -> Result<usize, StoreError> {
        let title = self.kept(bake)?.title;
        match self.pool.medium.look(&title, 0, &mut [])? {
            Found::Good(tag) => Ok(told(&mut self.pool.medium, &title, 0, tag, out)?.1),
            _ => Ok(0),
        }
    }

    /// The bytes a bake ended with.
    ///
    /// # Errors
    /// An unknown or unfinished bake, a flash that refuses.
    pub fn bake_end(
        &mut self,
        bake: u32,
        out: &mut [u8; CHECKPOINT_MAX],
    ) -> Result<usize, StoreError> {
        let title = self.kept(bake)?.title;
        let marks = read_title(&mut self.pool.medium, &title)?;
        let (place, tag) = marks.end.ok_or(StoreError::NotFinished)?;
        Ok(told(&mut self.pool.medium, &title, place, tag, out)?.1)
    }

    /// A title found at boot.
    pub(super) fn found_title(&mut self, title: Sheet) -> Result<(), StoreError> {
        let Header { id, a: started, b: document, .. } = title.header;
        let marks = read_title(&mut self.pool.medium, &title)?;
        let seconds = match marks.end {
            Some((place, tag)) => {
                told(&mut self.pool.medium, &title, place, tag, &mut [0; CHECKPOINT_MAX])?.0
            }
            None => 0,
        };
        let finished = marks.end.is_some();
        let bake = Bake { id, document, started, seconds, finished, fetched: marks.fetched };
        self.pool.last_bake = self.pool.last_bake.max(id);
        self.bakes.push(Kept { bake, title }).map_err(|_| StoreError::NoRoom)?;
        // Past every younger one, one by one: moving them as a block costs more code than this.
        let mut carried = None;
        for kept in self.bakes.iter_mut().filter(|kept| kept.bake.id >= id) {
            let last = carried.replace(*kept);
            *kept = last.unwrap_or(Kept { bake, title });
        }
        Ok(())
    }

    /// Opens the bake again that had no end when the supply went, and goes on in turn after the
    /// newest one.
    pub(super) fn resume(&mut self) -> Result<(), StoreError> {
        let Some(newest) = self.bakes.last().copied() else { return Ok(()) };
        let id = newest.bake.id;
        let last = self.pool.last(Stream::Rows, id)?.unwrap_or(newest.title);
        self.pool.turn_after(last.sector);
        if newest.bake.finished {
            return Ok(());
        }
        let keep = self.kept_back();
        let rows = Tail::resume(&mut self.pool, Stream::Rows, id)?;
        let checkpoints = Tail::resume(&mut self.pool, Stream::Checkpoints, id)?;
        self.open = Some(OpenBake { id, rows, checkpoints, keep });
        if let Some((seconds, _)) = self.newest_checkpoint(&mut [0; CHECKPOINT_MAX])? {
            self.kept_mut(id)?.bake.seconds = seconds;
        }
        Ok(())
    }

    pub(super) fn kept(&self, bake: u32) -> Result<Kept, StoreError> {
        let kept = self.bakes.iter().find(|kept| kept.bake.id == bake);
        kept.copied().ok_or(StoreError::Unknown)
    }

    fn kept_mut(&mut self, bake: u32) -> Result<&mut Kept, StoreError> {
        let kept = self.bakes.iter_mut().find(|kept| kept.bake.id == bake);
        kept.ok_or(StoreError::Unknown)
    }

    fn kept_back(&self) -> u32 {
        let Budget { rows_per_sector, .. } = self.budget();
        BLACK_BOX_ROWS.div_ceil(rows_per_sector)
    }

    /// Writes a title: what it says first, then the sector's header, which makes it count.
    fn write_title(&mut self, header: Header, tag: u8, bytes: &[u8]) -> Result<Sheet, StoreError> {
        let medium_parts: [&[u8]; 2] = [&[0; 4], bytes];
        for _ in 0..TRIES {
            let title = Sheet { sector: self.pool.take(0)?, header };
            if self.pool.medium.put(&title, 0, tag, &medium_parts)?
                && self.pool.medium.begin(title.sector, header)?.is_some()
            {
                return Ok(title);
            }
        }
        Err(StoreError::NotKept)
    }

    /// Adds to a title, in a blank place but the first, which may have been under the pen.
    fn mark(&mut self, bake: u32, tag: u8, parts: &[&[u8]]) -> Result<(), StoreError> {
        let title = self.kept(bake)?.title;
        let mut blank = 0;
        for place in 0..Medium::<F>::cells(Stream::Title) {
            if self.pool.medium.look(&title, place, &mut [])? != Found::Blank {
                continue;
            }
            blank += 1;
            if blank > 1 && self.pool.medium.put(&title, place, tag, parts)? {
                return Ok(());
            }
            if blank > TRIES {
                break;
            }
        }
        Err(StoreError::NotKept)
    }
}

/// What a title says.
#[derive(Clone, Copy, Debug, Default)]
struct Marks {
    end: Option<(u16, u8)>,
    fetched: bool,
}

fn read_title<F: NorFlash>(medium: &mut Medium<F>, title: &Sheet) -> Result<Marks, StoreError> {
    let mut marks = Marks::default();
    for place in 0..Medium::<F>::cells(Stream::Title) {
        match medium.look(title, place, &mut [])? {
            Found::Good(FETCHED) => marks.fetched = true,
            Found::Good(tag) if tag >= END => marks.end = Some((place, tag)),
            _ => {}
        }
    }
    Ok(marks)
}

/// Copies what a cell of a title or a checkpoint says: its seconds, and how many bytes.
fn told<F: NorFlash>(
    medium: &mut Medium<F>,
    sheet: &Sheet,
    place: u16,
    tag: u8,
    out: &mut [u8; CHECKPOINT_MAX],
) -> Result<(u32, usize), StoreError> {
    let mut payload = [0; 4 + CHECKPOINT_MAX];
    medium.look(sheet, place, &mut payload)?;
    let [s0, s1, s2, s3, bytes @ ..] = payload;
    *out = bytes;
    let length = usize::from(tag & LENGTH).min(CHECKPOINT_MAX);
    Ok((u32::from_le_bytes([s0, s1, s2, s3]), length))
}

fn length_of(bytes: &[u8]) -> Result<u8, StoreError> {
    if bytes.len() > CHECKPOINT_MAX { Err(StoreError::TooLong) } else { Ok(bytes.len() as u8) }
}

const _: () = assert!(CHECKPOINT_MAX < FETCHED as usize && ROW_MAX < EVENT as usize);
const _: () = assert!(HEADER.is_multiple_of(4));
