//! What a bake is made from, as a board takes and keeps it: the three files as written, whose parts
//! they are, a remark, and the compiled bake.

use crate::compile;
use crate::files::{self, FileKind, Kept, Refusal, Setup};
use crate::rehearse::Bench;
use truesoak_core::wire::compiled::{COMPILED_BYTES_MAX, Compiled, Fault};
use truesoak_core::wire::upload::{DIGEST, Outline, TEXTS_BYTES_MAX, UploadFault};

/// A document.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Document {
    /// The bake file.
    pub bake: String,
    /// The oven file.
    pub oven: String,
    /// The load file.
    pub load: String,
    /// Whose parts; may be empty.
    pub job: String,
    /// A remark; may be empty.
    pub note: String,
    /// The compiled bake.
    pub compiled: Vec<u8>,
}

/// Why there is no document.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum NoDocument {
    /// The texts are too long together.
    #[error("the bake takes {0} bytes with its oven, load, job and note")]
    TooLarge(usize),
    /// The compiled bake is none.
    #[error("{0}")]
    Compiled(Fault),
    /// The bytes are not those of the outline.
    #[error("{0}")]
    Bytes(UploadFault),
    /// A text is not UTF-8.
    #[error("the {0} is not text")]
    NotText(&'static str),
}

impl Document {
    /// Of files that were read and are compiled.
    ///
    /// # Errors
    /// Texts of more than 16 KiB together; a bake no board would take.
    pub fn of(setup: &Setup, bench: &Bench<'_>, job: &str, note: &str) -> Result<Self, NoDocument> {
        let text = |file| setup.places.source(file).map_or("", |source| source.text.as_str());
        let compiled = bench.compiled();
        let mut bytes = vec![0; COMPILED_BYTES_MAX];
        let len = compiled.encode(&mut bytes).ok_or(NoDocument::Compiled(Fault::Malformed))?;
        bytes.truncate(len);
        let document = Self {
            bake: text(FileKind::Bake).to_owned(),
            oven: text(FileKind::Oven).to_owned(),
            load: text(FileKind::Load).to_owned(),
            job: job.to_owned(),
            note: note.to_owned(),
            compiled: bytes,
        };
        let text_bytes = document.text_bytes();
        if text_bytes > TEXTS_BYTES_MAX as usize {
            return Err(NoDocument::TooLarge(text_bytes));
        }
        document.compiled().map_err(NoDocument::Compiled)?;
        Ok(document)
    }

    /// From the bytes a board gave back.
    ///
    /// # Errors
    /// Other bytes than the outline's digest is of; texts that are none.
    pub fn from_bytes(outline: &Outline, bytes: &[u8]) -> Result<Self, NoDocument> {
        if bytes.len() != outline.bytes() as usize {
            return Err(NoDocument::Bytes(UploadFault::Incomplete));
        }
        if DIGEST.checksum(bytes) != outline.digest {
            return Err(NoDocument::Bytes(UploadFault::Digest));
        }
        let mut rest = bytes;
        let mut text = |len: u16, what: &'static str| {
            let (text, after) = rest.split_at(usize::from(len).min(rest.len()));
            rest = after;
            String::from_utf8(text.to_vec()).map_err(|_| NoDocument::NotText(what))
        };
        Ok(Self {
            bake: text(outline.bake_bytes, "bake")?,
            oven: text(outline.oven_bytes, "oven")?,
            load: text(outline.load_bytes, "load")?,
            job: text(outline.job_bytes, "job")?,
            note: text(outline.note_bytes, "note")?,
            compiled: rest.to_vec(),
        })
    }

    fn texts(&self) -> [&String; 5] {
        [&self.bake, &self.oven, &self.load, &self.job, &self.note]
    }

    fn text_bytes(&self) -> usize {
        self.texts().into_iter().map(String::len).sum()
    }

    /// All of it, one behind the other.
    #[must_use]
    pub fn bytes(&self) -> Vec<u8> {
        let texts = self.texts().into_iter().flat_map(|text| text.bytes());
        texts.chain(self.compiled.iter().copied()).collect()
    }

    /// What is announced of it.
    #[must_use]
    pub fn outline(&self) -> Outline {
        let len = |text: &String| u16::try_from(text.len()).unwrap_or(u16::MAX);
        Outline {
            bake_bytes: len(&self.bake),
            oven_bytes: len(&self.oven),
            load_bytes: len(&self.load),
            job_bytes: len(&self.job),
            note_bytes: len(&self.note),
            compiled_bytes: u16::try_from(self.compiled.len()).unwrap_or(u16::MAX),
            digest: DIGEST.checksum(&self.bytes()),
        }
    }

    /// What the board runs.
    ///
    /// # Errors
    /// What no board would run either.
    pub fn compiled(&self) -> Result<Compiled, Fault> {
        Compiled::decode(&self.compiled)
    }

    /// The files read again.
    ///
    /// # Errors
    /// Their problems, for this program's reader.
    pub fn setup(&self) -> Result<Setup, Refusal> {
        let Self { bake, oven, load, .. } = self;
        files::read_kept(Kept { bake, oven, load }, &[])
    }

    /// A digest of the tables it was compiled to, as logs have it.
    #[must_use]
    pub fn models(&self) -> Option<String> {
        self.compiled().ok().map(|compiled| compile::digest(&compiled.model))
    }
}
