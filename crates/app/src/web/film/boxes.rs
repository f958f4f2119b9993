//! The boxes of ISO base media (ISO/IEC 14496-12, from memory): `moov` says what there is.

use std::io::{Read, Result, Seek};

use super::parts::{Parts, whole};
use super::{PARTS_MOST, Seen, Standing};

/// Boxes that hold boxes, as far as they are of use here.
const INSIDE: [&[u8; 4]; 6] = [b"moov", b"trak", b"edts", b"mdia", b"minf", b"stbl"];

/// What `moov` says.
#[derive(Default)]
struct Movie {
    /// Units of time in a second.
    scale: u64,
    /// How long it is, in these units.
    lasts: u64,
    tracks: Vec<Track>,
}

/// One track of pictures or of sound.
#[derive(Default)]
struct Track {
    /// What it is of, such as `vide` or `soun`.
    of: [u8; 4],
    /// Units of its own time in a second.
    scale: u64,
    /// So much later than the film it begins, in units of the film.
    later: u64,
    /// How many samples it has, and how long they last together, in units of its own.
    samples: (u64, u64),
}

/// Looks through a film of boxes.
pub(super) fn look<F: Read + Seek>(parts: &mut Parts<F>) -> Result<Seen> {
    let (mut movie, mut cut) = (None, false);
    for _ in 0..PARTS_MOST {
        let from = parts.at;
        if from == parts.length {
            break;
        }
        let Some([a, b, c, d, name @ ..]) = parts.take::<8>()? else {
            cut = true;
            break;
        };
        let size = match u32::from_be_bytes([a, b, c, d]) {
            0 => parts.length - from,
            1 => parts.take::<8>()?.map_or(u64::MAX, u64::from_be_bytes),
            size => u64::from(size),
        };
        let end = from.saturating_add(size);
        cut = end > parts.length || end < parts.at;
        if cut {
            break;
        }
        if name == *b"moov" {
            movie = Some(Movie::default());
        } else if let Some(movie) = &mut movie {
            movie.take(parts, name)?;
        }
        if !INSIDE.contains(&&name) {
            parts.go(end)?;
        }
    }
    Ok(match movie {
        None => Seen::shown(Standing::NotShown, None),
        Some(_) if cut => Seen::shown(Standing::CutOff, None),
        Some(movie) => movie.seen(),
    })
}

impl Movie {
    /// Takes up what a box says.
    fn take<F: Read + Seek>(&mut self, parts: &mut Parts<F>, name: [u8; 4]) -> Result<()> {
        if name == *b"trak" {
            self.tracks.push(Track::default());
        } else if name == *b"mvhd" {
            (self.scale, self.lasts) = times(parts)?;
        }
        let Some(track) = self.tracks.last_mut() else { return Ok(()) };
        match &name {
            b"mdhd" => (track.scale, _) = times(parts)?,
            b"hdlr" => {
                parts.whole(8)?;
                track.of = parts.take::<4>()?.unwrap_or_default();
            }
            b"elst" => {
                let each = each(parts)?;
                let edits = parts.whole(4)?;
                let (lasts, from) = (parts.whole(each)?, parts.whole(each)?);
                // A first edit of nothing: all bits of where it begins are set.
                let nothing = edits > 1 && from == u64::MAX >> (64 - 8 * each);
                track.later = if nothing { lasts } else { 0 };
            }
            b"stts" => {
                parts.whole(4)?;
                for _ in 0..parts.whole(4)?.min(PARTS_MOST as u64) {
                    let (count, lasts) = (parts.whole(4)?, parts.whole(4)?);
                    track.samples.0 = track.samples.0.saturating_add(count);
                    track.samples.1 = track.samples.1.saturating_add(count.saturating_mul(lasts));
                }
            }
            _ => {}
        }
        Ok(())
    }

    fn seen(&self) -> Seen {
        let quotient = |one: u64, other: u64| {
            Some(whole(one) / whole(other)).filter(|seconds| seconds.is_finite())
        };
        let of = |of: &[u8; 4]| self.tracks.iter().find(|track| track.of == *of);
        let frame = of(b"vide").and_then(|track| {
            let (samples, lasts) = track.samples;
            Some(quotient(lasts, samples)? / whole(track.scale))
        });
        let positive = |seconds: &f64| seconds.is_finite() && *seconds > 0.0;
        Seen {
            standing: Standing::Whole,
            seconds: quotient(self.lasts, self.scale).filter(positive),
            frame_seconds: frame.filter(positive),
            sound_begins_seconds: of(b"soun").and_then(|it| quotient(it.later, self.scale)),
        }
    }
}

/// How many bytes a time of a box has, by the version it begins with.
fn each<F: Read + Seek>(parts: &mut Parts<F>) -> Result<u64> {
    Ok(if parts.whole(4)? >> 24 == 1 { 8 } else { 4 })
}

/// The scale and the length of `mvhd` and `mdhd`.
fn times<F: Read + Seek>(parts: &mut Parts<F>) -> Result<(u64, u64)> {
    let each = each(parts)?;
    parts.whole(each)?;
    parts.whole(each)?;
    Ok((parts.whole(4)?, parts.whole(each)?))
}
