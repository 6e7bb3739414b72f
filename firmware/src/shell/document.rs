//! Documents: from the store to a controller, and from the computer to the store.
//!
//! ```text
//! stored: outline (postcard, 32 bytes) · document as sent
//! ```
//!
//! The compiled part is kept in memory while a document comes, so that it is judged before the
//! document takes the place of the one that was there. A document that no board may run, or that
//! may let the air exceed what this oven stands, is refused and changes nothing.

use super::{Memory, Station, rest};
use crate::board::Hardware;
use crate::store::{Store, StoreError};
use embedded_storage::nor_flash::NorFlash;
use truesoak_core::Controller;
use truesoak_core::bake::{Bake, Step};
use truesoak_core::bounds::Hottest;
use truesoak_core::guard::Trip;
use truesoak_core::record::Checkpoint;
use truesoak_core::units::Celsius;
use truesoak_core::wire::built_in::BuiltIn;
use truesoak_core::wire::compiled::{COMPILED_BYTES_MAX, Compiled};
use truesoak_core::wire::messages::Piece;
use truesoak_core::wire::refusal::Refusal;
use truesoak_core::wire::stored::THIN_AFTER_S;
use truesoak_core::wire::upload::{DIGEST, Outline, TEXTS_BYTES_MAX, Upload};
use truesoak_core::wire::write;

/// Bytes before a stored document.
pub(super) const PREFIX: usize = 32;
/// Most bytes of a document with them.
pub(super) const STORED_MAX: u32 = PREFIX as u32 + TEXTS_BYTES_MAX + COMPILED_BYTES_MAX as u32;
/// Room is made for so long a cooling, s.
const COOL_S: u32 = 3 * 3600;
/// What may go wrong with time, in a bake of every length, s.
const SPARE_S: u32 = 1800;

/// The bake that GO starts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Loaded {
    /// Number of its document in the store.
    pub document: u32,
    /// What that is made of.
    pub outline: Outline,
    /// The board's own steps instead of the document's.
    pub built_in: Option<BuiltIn>,
    /// The longest it can take, s.
    pub longest_s: u32,
}

/// A document on its way.
pub(super) struct Receiving {
    upload: Upload,
    digest: crc::Digest<'static, u32, crc::NoTable>,
}

impl Receiving {
    /// A document is announced; room for it has been made before.
    ///
    /// # Errors
    /// One that no board has room for; a store that does not take it.
    pub fn begin<F: NorFlash>(outline: Outline, store: &mut Store<F>) -> Result<Self, Refusal> {
        let upload = Upload::begin(outline).map_err(Refusal::Upload)?;
        let prefix = encode(&outline).ok_or(Refusal::StoreFailing)?;
        store.document_begin(PREFIX as u32 + outline.bytes()).map_err(refused)?;
        store.document_piece(0, &prefix).map_err(refused)?;
        let mut digest = DIGEST.digest();
        digest.update(&prefix);
        Ok(Self { upload, digest })
    }

    /// A piece has come.
    ///
    /// # Errors
    /// One that does not follow; a store that does not take it: begin again then.
    pub fn piece<F: NorFlash>(
        &mut self,
        piece: &Piece<'_>,
        compiled: &mut [u8; COMPILED_BYTES_MAX],
        store: &mut Store<F>,
    ) -> Result<(), Refusal> {
        let at = self.upload.received();
        let fresh = self.upload.piece(piece).map_err(Refusal::Upload)?;
        self.digest.update(fresh);
        let compiled_at = self.upload.outline().compiled_offset();
        for (offset, byte) in (at..).zip(fresh) {
            let place = offset.checked_sub(compiled_at);
            if let Some(place) = place.and_then(|place| compiled.get_mut(place as usize)) {
                *place = *byte;
            }
        }
        store.document_piece(PREFIX as u32 + at, fresh).map_err(refused)
    }

    /// What was announced, once it is whole, and the digest of what is in the store.
    ///
    /// # Errors
    /// Missing bytes, or others than announced.
    pub fn finish(self) -> Result<(Outline, u32), Refusal> {
        let outline = self.upload.finish().map_err(Refusal::Upload)?;
        Ok((outline, self.digest.finalize()))
    }
}

/// What the store says, as a refusal.
pub(super) fn refused(error: StoreError) -> Refusal {
    match error {
        StoreError::Unknown => Refusal::NoSuchBake,
        StoreError::NoRoom => Refusal::NoRoom,
        _ => Refusal::StoreFailing,
    }
}

fn encode(outline: &Outline) -> Option<[u8; PREFIX]> {
    let mut bytes = [0; PREFIX];
    write(outline, &mut bytes)?;
    Some(bytes)
}

/// The outline of a stored document.
pub(super) fn outline<F: NorFlash>(store: &mut Store<F>, document: u32) -> Option<Outline> {
    let mut bytes = [0; PREFIX];
    let read = store.document_read(document, 0, &mut bytes).ok()?;
    let (outline, _) = postcard::take_from_bytes::<Outline>(bytes.get(..read)?).ok()?;
    outline.fault().is_none().then_some(outline)
}

/// The longest a bake can take, s: heat as long as it may, every cooling, and a person who lets each
/// check and wait stand for an hour more than it asks.
fn longest_s(bake: &Bake) -> u32 {
    let others = bake.steps.iter().map(|step| match step {
        Step::Cool(_) => COOL_S,
        Step::Check(_) | Step::LoadIn(_) => THIN_AFTER_S,
        Step::Wait(wait) => wait.for_s.saturating_add(THIN_AFTER_S),
        Step::Ramp(_) | Step::Soak(_) => 0,
    });
    let heated = bake.limits.bake_max_s.saturating_add(SPARE_S);
    others.fold(heated, u32::saturating_add)
}

/// A checkpoint of nothing but a latched trip.
pub(super) fn only(trip: Trip) -> Checkpoint {
    let room = Celsius(20.0);
    Checkpoint {
        second: 0,
        step: 0,
        credit_s: 0,
        in_step_s: 0,
        stayed_s: 0,
        loaded: false,
        rounds: [0; truesoak_core::bake::STEPS_MAX],
        short: [false; truesoak_core::bake::STEPS_MAX],
        heat_ticks: 0,
        coldest: room,
        hottest: Hottest::all(room),
        outside_model: false,
        probe: truesoak_core::bounds::Trust::Proving,
        trip: Some(trip),
    }
}

impl Memory {
    /// Makes the controller; a latched trip stays latched.
    #[inline(never)]
    fn make(&mut self, compiled: Option<Compiled>, is_virtual: bool) {
        let trip = self.controller.as_ref().and_then(Controller::trip);
        self.controller = Some(match compiled {
            Some(Compiled { bake, model, mut settings }) => {
                settings.is_virtual = is_virtual;
                Controller::new(bake, model, settings)
            }
            None => rest::controller(is_virtual),
        });
        if let (Some(trip), Some(controller)) = (trip, &mut self.controller) {
            controller.resume(only(trip));
        }
    }
}

impl<H: Hardware> Station<'_, H> {
    /// Makes a controller for a document of the store, or for the board's own steps in its oven;
    /// at rest if there is none that this oven may run.
    #[inline(never)]
    pub(super) fn load(&mut self, document: Option<u32>, built_in: Option<BuiltIn>) {
        self.loaded = None;
        self.above_oven = false;
        let is_virtual = self.identity.is_virtual;
        let found = document.and_then(|document| Some((document, self.read_compiled(document)?)));
        let Some((document, outline)) = found else { return self.memory.make(None, is_virtual) };
        let bytes = self.memory.compiled.get(..usize::from(outline.compiled_bytes));
        let decoded = bytes.and_then(|bytes| Compiled::decode(bytes).ok());
        let Some(mut compiled) = decoded else { return self.memory.make(None, is_virtual) };
        if let Some(built_in) = built_in {
            built_in.apply(&mut compiled);
        }
        let kept = self.kept.as_ref();
        if !kept.is_some_and(|kept| kept.settings.allows(&compiled.bake)) {
            self.above_oven = kept.is_some();
            return self.memory.make(None, is_virtual);
        }
        // A bake whose limits let it last longer than the store can ever hold begins once all of the
        // store is free; should it last that long, its log ends and says so.
        let holds_s = self.store.as_ref().map_or(0, |store| store.budget().longest_bake_s());
        let longest_s = longest_s(&compiled.bake).min(holds_s);
        self.memory.make(Some(compiled), is_virtual);
        self.loaded = Some(Loaded { document, outline, built_in, longest_s });
    }

    /// Loads the current document: while commissioning the board's own steps in its oven, first the
    /// step test, then the hold.
    pub(super) fn load_current(&mut self) {
        let document = self.store.as_ref().and_then(Store::document).map(|current| current.id);
        let built_in = self.commission.is_open().then_some(if self.commission.step_tested {
            BuiltIn::Hold
        } else {
            BuiltIn::StepTest
        });
        self.load(document, built_in);
        self.room.is_wanted();
    }

    /// Brings the compiled part of a stored document into memory.
    fn read_compiled(&mut self, document: u32) -> Option<Outline> {
        let store = self.store.as_mut()?;
        let outline = outline(store, document)?;
        let out = self.memory.compiled.get_mut(..usize::from(outline.compiled_bytes))?;
        let at = PREFIX as u32 + outline.compiled_offset();
        let read = store.document_read(document, at, out).ok()?;
        (read == out.len()).then_some(outline)
    }

    /// Takes a document that has come whole.
    pub(super) fn commit(&mut self) -> Result<(), Refusal> {
        let receiving = self.receiving.take().ok_or(NOT_BEGUN)?;
        let (outline, digest) = receiving.finish()?;
        let bytes = self.memory.compiled.get(..usize::from(outline.compiled_bytes));
        let compiled = Compiled::decode(bytes.unwrap_or(&[])).map_err(Refusal::Document)?;
        if let Some(kept) = &self.kept
            && !kept.settings.allows(&compiled.bake)
        {
            return Err(Refusal::AboveOven);
        }
        let store = self.store.as_mut().ok_or(Refusal::StoreFailing)?;
        store.document_commit(digest).map_err(refused)?;
        self.load_current();
        Ok(())
    }
}

/// Nothing was announced.
pub(super) const NOT_BEGUN: Refusal =
    Refusal::Upload(truesoak_core::wire::upload::UploadFault::NotBegun);
