//! A file that is gone through part by part.

use std::io::{BufReader, Read, Result, Seek, SeekFrom};

/// The file, and where in it one is.
pub(super) struct Parts<F> {
    film: BufReader<F>,
    pub(super) at: u64,
    pub(super) length: u64,
}

impl<F: Read + Seek> Parts<F> {
    /// At the beginning of a file.
    pub(super) fn of(film: F) -> Result<Self> {
        // Most of a film is passed over: what is read ahead would be read for nothing.
        let mut parts = Self { film: BufReader::with_capacity(512, film), at: 0, length: 0 };
        parts.length = parts.film.seek(SeekFrom::End(0))?;
        parts.at = parts.length;
        parts.go(0)?;
        Ok(parts)
    }

    /// To a place of the file.
    pub(super) fn go(&mut self, to: u64) -> Result<()> {
        let by = i64::try_from(to).unwrap_or(i64::MAX) - i64::try_from(self.at).unwrap_or(0);
        self.film.seek_relative(by)?;
        self.at = to;
        Ok(())
    }

    /// The next bytes; none where the file ends before.
    pub(super) fn take<const N: usize>(&mut self) -> Result<Option<[u8; N]>> {
        if self.length - self.at.min(self.length) < N as u64 {
            return Ok(None);
        }
        let mut bytes = [0; N];
        self.film.read_exact(&mut bytes)?;
        self.at += N as u64;
        Ok(Some(bytes))
    }

    /// A number of EBML: its first byte tells how many there are. With the mark that tells so, as
    /// names of elements have it, or without.
    pub(super) fn number(&mut self, marked: bool) -> Result<Option<u64>> {
        let Some([first]) = self.take::<1>()? else { return Ok(None) };
        let more = first.leading_zeros();
        if more > 7 {
            return Ok(None);
        }
        let mut number = u64::from(first);
        if !marked {
            number &= 0x7f >> more;
        }
        for _ in 0..more {
            let Some([byte]) = self.take::<1>()? else { return Ok(None) };
            number = number << 8 | u64::from(byte);
        }
        // All ones: as long as it takes.
        let open = !marked && number == (1 << (7 * (more + 1))) - 1;
        Ok(Some(if open { u64::MAX } else { number }))
    }

    /// A whole number of so many bytes, highest first.
    pub(super) fn whole(&mut self, bytes: u64) -> Result<u64> {
        let mut number = 0;
        for _ in 0..bytes.min(8) {
            number = number << 8 | self.take::<1>()?.map_or(0, |[byte]| u64::from(byte));
        }
        Ok(number)
    }
}

/// A whole number as it enters a quotient; what is beyond exactness is no film's length.
pub(super) fn whole(number: u64) -> f64 {
    u32::try_from(number).map_or(f64::NAN, f64::from)
}
