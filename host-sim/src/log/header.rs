//! The first line of a log: who wrote it and with which files.

use crate::files::{FileKind, Setup};
use serde::{Deserialize, Serialize};

/// Who wrote a log.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Source {
    /// A rehearsal on the desk: never evidence of a bake.
    Rehearsal,
    /// A virtual board: never evidence of a bake.
    Virtual,
    /// A board at an oven.
    Oven,
    /// Another logger.
    Other,
}

impl Source {
    /// Nobody baked anything: the page must say so.
    #[must_use]
    pub fn is_rehearsed(self) -> bool {
        matches!(self, Self::Rehearsal | Self::Virtual)
    }
}

/// The first line of a log. Files and overrides are kept as written, so that the same reader gives
/// the same bake again; keys this version does not know are ignored on reading.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Header {
    /// Who wrote it.
    pub source: Source,
    /// When the bake began, RFC 3339; a rehearsal has none.
    #[serde(default)]
    pub started_at: Option<String>,
    /// The board's own name.
    #[serde(default)]
    pub board: Option<String>,
    /// Whose parts.
    #[serde(default)]
    pub job: Option<String>,
    /// A person's remark.
    #[serde(default)]
    pub note: Option<String>,
    /// The bake file as written.
    #[serde(default)]
    pub bake: Option<String>,
    /// The oven file as written.
    #[serde(default)]
    pub oven: Option<String>,
    /// The load file as written.
    #[serde(default)]
    pub load: Option<String>,
    /// Changes made to the three on the command line (`--set`), in order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub set: Vec<String>,
    /// Digest of the compiled models the controller ran with.
    #[serde(default)]
    pub models: Option<String>,
    /// What a rehearsal adds.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rehearsal: Option<RehearsalHeader>,
}

impl Header {
    /// A header with the files of a bake, as written.
    #[must_use]
    pub fn carrying(source: Source, setup: &Setup) -> Self {
        let text = |file| setup.places.source(file).map(|source| source.text.clone());
        Self {
            bake: text(FileKind::Bake),
            oven: text(FileKind::Oven),
            load: text(FileKind::Load),
            ..Self::of(source)
        }
    }

    /// A header that says only who wrote the log.
    #[must_use]
    pub fn of(source: Source) -> Self {
        Self {
            source,
            started_at: None,
            board: None,
            job: None,
            note: None,
            bake: None,
            oven: None,
            load: None,
            set: Vec::new(),
            models: None,
            rehearsal: None,
        }
    }
}

/// How a rehearsal can be had again, and what its truth columns are.
#[derive(Clone, Debug, PartialEq, Default, Serialize, Deserialize)]
pub struct RehearsalHeader {
    /// Seed of the sensor noise.
    pub seed: u64,
    /// Which draw of the spread the truth was; none: the nominal oven.
    #[serde(default)]
    pub draw: Option<u64>,
    /// Changes made to the truth alone (`--plant`), in order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub plant: Vec<String>,
    /// Run by an air thermometer and a timer, as the practice is.
    #[serde(default)]
    pub by_the_clock: bool,
    /// What the columns after `event` hold; see [`RehearsalHeader::TRUTH`].
    #[serde(default)]
    pub truth: String,
}

impl RehearsalHeader {
    /// What the columns after `event` hold.
    pub const TRUTH: &'static str = "true:<part> is the slowest point of that part in the \
        simulated oven, true_hottest:<part> the fastest, in °C; empty while the part is outside. \
        The controller never saw them.";
}
