//! The log of a bake: one row a second and one at each event, as CSV.
//!
//! A log carries what the controller took in, exactly, so that the bake can be recounted from the
//! log alone: the air reading is an integer number of 1/128 K ([`Reading`]) and is written with
//! the seven decimals that are exact for it; the heater's duty is the on-ticks of the second.
//! Temperatures are °C and times are seconds whatever a person's screen shows.
//!
//! ```text
//! # truesoak.log/1 {"source":"rehearsal", ...}       who wrote it, with which files   [`Header`]
//! t_s,air_c,air_b_c, ... ,event,true:rear hub shell  [`COLUMNS`], then truth of a rehearsal
//! 0,20.0000000, ...                                  [`Row`]s
//! # end rows=10801 crc32=89abcdef                    finds slips, not forgery          [`End`]
//! ```
//!
//! [`Writer`] streams and keeps what it wrote before an interruption readable; [`read`] tolerates
//! and names a torn end, and refuses anything else that does not add up, with the line.

mod black_box;
mod header;
mod lines;
mod number;
mod read;
mod row;
pub(crate) mod time;
mod write;

pub use black_box::{BlackBoxHeader, write_black_box};
pub use header::{Header, RehearsalHeader, Source};
pub use read::{BYTES_MAX, LogError, parse, read};
pub(crate) use read::{bytes_of, quoted, split, text_of};
pub use row::{Flags, Phase, Row};
pub use write::Writer;

use crc::{CRC_32_ISO_HDLC, Crc, Table};

pub use truesoak_core::units::Reading;

/// What the first line begins with.
pub const FIRST_LINE: &str = "# truesoak.log/1 ";
/// What the last line begins with.
pub(crate) const LAST_LINE: &str = "# end rows=";
/// Columns of every log, in order.
pub const COLUMNS: [&str; 15] = [
    "t_s",
    "air_c",
    "air_b_c",
    "part_probe_c",
    "setpoint_c",
    "duty",
    "permit",
    "door",
    "step",
    "phase",
    "coldest_c",
    "hottest_c",
    "credit_s",
    "flags",
    "event",
];
/// Column of a part's slowest point in the plant: this and the part's name.
pub const TRUE_COLDEST: &str = "true:";
/// Column of a part's fastest point in the plant: this and the part's name.
pub const TRUE_HOTTEST: &str = "true_hottest:";

/// CRC-32/ISO-HDLC over 16 bytes at a time: a log is summed as it is written.
pub(crate) static CHECKSUM: Crc<u32, Table<16>> = Crc::<u32, Table<16>>::new(&CRC_32_ISO_HDLC);

/// A log, read or to be drawn.
#[derive(Clone, Debug, PartialEq)]
pub struct Log {
    /// First line.
    pub header: Header,
    /// Rows in order of time.
    pub rows: Vec<Row>,
    /// Truth of a rehearsal: name of the column ([`TRUE_COLDEST`] or [`TRUE_HOTTEST`] and the
    /// part) and one temperature a row, °C; not a number while the part is outside the oven.
    pub truth: Vec<(String, Vec<f64>)>,
    /// How the log ends.
    pub end: End,
}

/// How a log ends.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum End {
    /// With its last line; rows and checksum agree.
    Complete,
    /// Without: the writer was interrupted. What stands before is good.
    Torn {
        /// Line where it breaks off.
        line: usize,
        /// A sentence for a person.
        what: String,
    },
}

impl Log {
    /// Names of the parts that have truth columns, in order.
    #[must_use]
    pub fn parts(&self) -> Vec<&str> {
        self.truth.iter().filter_map(|(name, _)| name.strip_prefix(TRUE_COLDEST)).collect()
    }

    /// Rows the controller counted on: one a second, without event rows.
    pub fn seconds(&self) -> impl Iterator<Item = &Row> {
        self.rows.iter().filter(|row| row.event.is_empty())
    }
}
