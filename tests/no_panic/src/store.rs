//! Everything a board does with its store, on a flash nothing is known of.

use core::hint::black_box;
use embedded_storage::nor_flash::{ErrorType, NorFlash, NorFlashErrorKind, ReadNorFlash};
use truesoak_firmware::store::{
    Bake, CHECKPOINT_MAX, Document, ENTRY, Entry, Need, ROW_MAX, Region, Room, SETTINGS_MAX,
    StoreError,
};

/// A flash that answers anything to everything.
pub struct Flash(usize);

impl ErrorType for Flash {
    type Error = NorFlashErrorKind;
}

impl ReadNorFlash for Flash {
    const READ_SIZE: usize = 1;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), NorFlashErrorKind> {
        black_box((offset, bytes));
        black_box(Ok(()))
    }

    fn capacity(&self) -> usize {
        black_box(self.0)
    }
}

impl NorFlash for Flash {
    const WRITE_SIZE: usize = 4;
    const ERASE_SIZE: usize = 4096;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), NorFlashErrorKind> {
        black_box((from, to));
        black_box(Ok(()))
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), NorFlashErrorKind> {
        black_box((offset, bytes));
        black_box(Ok(()))
    }
}

type Store = truesoak_firmware::store::Store<Flash>;
type Kept<T> = Result<T, StoreError>;
type Told<'a> = &'a mut [u8; CHECKPOINT_MAX];

/// Each way into a store, on arguments nothing is known of.
pub fn board() {
    let open: fn(Flash, Region, fn()) -> Kept<Store> = Store::open;
    black_box(open);
    black_box(Store::settings as fn(&mut Store, &mut [u8; SETTINGS_MAX]) -> Kept<Option<usize>>);
    black_box(Store::set_settings as fn(&mut Store, &[u8]) -> Kept<()>);
    black_box(Store::latched as fn(&Store) -> Option<&[u8]>);
    black_box(Store::latch as fn(&mut Store, &[u8]) -> Kept<()>);
    black_box(Store::acknowledge as fn(&mut Store) -> Kept<()>);
    black_box(Store::make_room as fn(&mut Store, Need) -> Kept<Room>);
    black_box(Store::erase as fn(&mut Store, bool) -> Kept<bool>);
    bakes();
    documents();
}

fn bakes() {
    let listed: fn(&Store) -> u32 = |store| store.bakes().map(|bake: Bake| bake.seconds).sum();
    let is_gap: fn(&[u8; ENTRY]) -> bool = |bytes| Entry::from_bytes(bytes) == Some(Entry::Gap);
    type NewestCheckpoint = fn(&mut Store, Told<'_>) -> Kept<Option<(u32, usize)>>;
    black_box(listed);
    black_box(is_gap);
    black_box(Store::begin as fn(&mut Store, u32, u32, u32, &[u8]) -> Kept<u32>);
    black_box(Store::row as fn(&mut Store, &[u8]) -> Kept<()>);
    black_box(Store::event as fn(&mut Store, &[u8]) -> Kept<()>);
    black_box(Store::black_box as fn(&mut Store, &[[u8; ROW_MAX]]) -> Kept<usize>);
    black_box(Store::checkpoint as fn(&mut Store, u32, &[u8]) -> Kept<()>);
    black_box(Store::newest_checkpoint as NewestCheckpoint);
    black_box(Store::finish as fn(&mut Store, u32, &[u8]) -> Kept<()>);
    black_box(Store::mark_fetched as fn(&mut Store, u32) -> Kept<()>);
    black_box(Store::bake_header as fn(&mut Store, u32, Told<'_>) -> Kept<usize>);
    black_box(Store::bake_end as fn(&mut Store, u32, Told<'_>) -> Kept<usize>);
    black_box(Store::read as fn(&mut Store, u32, u32, &mut [u8]) -> Kept<usize>);
}

fn documents() {
    black_box(Store::find_document as fn(&mut Store, u32) -> Kept<Document>);
    black_box(Store::document_begin as fn(&mut Store, u32) -> Kept<()>);
    black_box(Store::document_piece as fn(&mut Store, u32, &[u8]) -> Kept<()>);
    black_box(Store::document_commit as fn(&mut Store, u32) -> Kept<u32>);
    black_box(Store::document_read as fn(&mut Store, u32, u32, &mut [u8]) -> Kept<usize>);
    black_box(Store::document_holds as fn(&mut Store, u32) -> Kept<bool>);
}
