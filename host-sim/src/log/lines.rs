//! Lines of a table between a first one that says what it is and a last one that sums it.
//!
//! Every line goes out whole. What is dropped or interrupted has no last line, which a reader can
//! tell.

use super::{CHECKSUM, LAST_LINE};
use crc::{Digest, Table};
use serde::Serialize;
use std::io::{self, BufWriter, Write};

/// Bytes gathered before they go out; also what an interruption may lose.
const BUFFER_BYTES: usize = 64 * 1024;

/// A table as it is written.
pub(super) struct Lines<W: Write> {
    out: BufWriter<W>,
    digest: Digest<'static, u32, Table<16>>,
    rows: u64,
    /// The line that is being made.
    pub(super) line: Vec<u8>,
}

impl<W: Write> Lines<W> {
    /// Writes the first line, `kind` and the header behind it, and begins the second: the names of
    /// these columns.
    pub(super) fn new(
        out: W,
        kind: &str,
        header: &impl Serialize,
        columns: &[&str],
    ) -> io::Result<Self> {
        let mut lines = Self {
            out: BufWriter::with_capacity(BUFFER_BYTES, out),
            digest: CHECKSUM.digest(),
            rows: 0,
            line: Vec::with_capacity(512),
        };
        lines.line.extend(kind.bytes());
        serde_json::to_writer(&mut lines.line, header)?;
        lines.line.push(b'\n');
        lines.line.extend(columns.join(",").bytes());
        Ok(lines)
    }

    /// Hands the line out.
    pub(super) fn end_line(&mut self) -> io::Result<()> {
        self.line.push(b'\n');
        self.digest.update(&self.line);
        let written = self.out.write_all(&self.line);
        self.line.clear();
        written
    }

    /// Hands the line out as one of the table's rows.
    pub(super) fn end_row(&mut self) -> io::Result<()> {
        self.rows += 1;
        self.end_line()
    }

    /// Hands everything so far to the output.
    pub(super) fn flush(&mut self) -> io::Result<()> {
        self.out.flush()
    }

    /// Writes the last line and gives the output back.
    pub(super) fn finish(mut self) -> io::Result<W> {
        let Self { rows, digest, .. } = &self;
        let last = format!("{LAST_LINE}{rows} crc32={:08x}\n", digest.clone().finalize());
        self.out.write_all(last.as_bytes())?;
        self.out.into_inner().map_err(io::IntoInnerError::into_error)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The check value of CRC-32/ISO-HDLC in the catalogue of parametrised CRC algorithms.
    #[test]
    fn the_checksum_is_crc_32_iso_hdlc() {
        assert_eq!(CHECKSUM.checksum(b"123456789"), 0xcbf4_3926);
    }
}
