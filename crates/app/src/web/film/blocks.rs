//! The elements of Matroska (RFC 9559): the time of the last block is what can be shown.

use std::io::{Read, Result, Seek};

use super::parts::{Parts, whole};
use super::{PARTS_MOST, Seen, Standing};

const SEGMENT: u64 = 0x1853_8067;
const INFO: u64 = 0x1549_a966;
const SCALE: u64 = 0x2a_d7b1;
const DURATION: u64 = 0x4489;
const TRACKS: u64 = 0x1654_ae6b;
const TRACK: u64 = 0xae;
const TRACK_NUMBER: u64 = 0xd7;
const TRACK_KIND: u64 = 0x83;
const CLUSTER: u64 = 0x1f43_b675;
const TIMESTAMP: u64 = 0xe7;
const BLOCK_GROUP: u64 = 0xa0;
const BLOCK: u64 = 0xa1;
const SIMPLE_BLOCK: u64 = 0xa3;

/// Kinds of tracks.
const PICTURES: u64 = 1;
const SOUND: u64 = 2;

/// One track, and the times of its blocks in units of the film.
#[derive(Default)]
struct Track {
    number: u64,
    kind: u64,
    blocks: u64,
    first: u64,
    last: u64,
}

/// What was found so far.
struct Film {
    /// Nanoseconds of a unit.
    scale: u64,
    /// The time of the cluster that is looked through.
    cluster: u64,
    /// The time of the last block.
    last: Option<u64>,
    /// How long the film says it is, in units.
    said: Option<f64>,
    tracks: Vec<Track>,
}

/// Looks through a film of elements.
pub(super) fn look<F: Read + Seek>(parts: &mut Parts<F>) -> Result<Seen> {
    let mut film =
        Film { scale: 1_000_000, cluster: 0, last: None, said: None, tracks: Vec::new() };
    let (mut ends, mut cut) = (0, false);
    for _ in 0..PARTS_MOST {
        if parts.at == parts.length {
            break;
        }
        let (Some(name), Some(size)) = (parts.number(true)?, parts.number(false)?) else {
            cut = true;
            break;
        };
        let end = parts.at.saturating_add(size);
        let inside = [SEGMENT, INFO, TRACKS, TRACK, CLUSTER, BLOCK_GROUP].contains(&name);
        if name == SEGMENT && size < u64::MAX {
            ends = end;
        }
        cut = !inside && end > parts.length;
        if cut {
            break;
        }
        film.take(parts, (name, size))?;
        if !inside {
            parts.go(end)?;
        }
    }
    Ok(film.seen(cut || parts.length < ends))
}

impl Film {
    /// Takes up what an element says.
    fn take<F: Read + Seek>(
        &mut self,
        parts: &mut Parts<F>,
        (name, size): (u64, u64),
    ) -> Result<()> {
        match name {
            SCALE => self.scale = parts.whole(size)?,
            DURATION if size == 8 => self.said = parts.take::<8>()?.map(f64::from_be_bytes),
            DURATION => self.said = parts.take::<4>()?.map(|it| f64::from(f32::from_be_bytes(it))),
            TRACK => self.tracks.push(Track::default()),
            TRACK_NUMBER | TRACK_KIND => {
                let found = parts.whole(size)?;
                if let Some(track) = self.tracks.last_mut() {
                    let said = if name == TRACK_KIND { &mut track.kind } else { &mut track.number };
                    *said = found;
                }
            }
            TIMESTAMP => self.cluster = parts.whole(size)?,
            BLOCK | SIMPLE_BLOCK => {
                let number = parts.number(false)?;
                let after = parts.take::<2>()?.map_or(0, i16::from_be_bytes);
                let at = self.cluster.saturating_add_signed(i64::from(after));
                self.last = self.last.max(Some(at));
                if let Some(track) = self.tracks.iter_mut().find(|it| Some(it.number) == number) {
                    track.first = if track.blocks == 0 { at } else { track.first.min(at) };
                    track.last = track.last.max(at);
                    track.blocks += 1;
                }
            }
            _ => {}
        }
        Ok(())
    }

    fn seen(&self, cut: bool) -> Seen {
        let unit = whole(self.scale) / 1e9;
        let seconds = |units: u64| whole(units) * unit;
        let of = |kind| self.tracks.iter().find(|it: &&Track| it.kind == kind && it.blocks > 0);
        let frame = of(PICTURES).filter(|it| it.blocks > 1).map(|it| {
            seconds(it.last.saturating_sub(it.first)) / whole(it.blocks.saturating_sub(1))
        });
        let told = |seconds: &f64| seconds.is_finite() && *seconds >= 0.0;
        let Some(last) = self.last else { return Seen::shown(Standing::NotShown, None) };
        let shown = if cut {
            Seen::shown(Standing::CutOff, Some(seconds(last)).filter(told))
        } else {
            let said = self.said.map(|said| said * unit).filter(told);
            Seen::shown(Standing::Whole, said.or_else(|| Some(seconds(last)).filter(told)))
        };
        Seen {
            frame_seconds: frame.filter(|it| told(it) && *it > 0.0),
            sound_begins_seconds: of(SOUND).map(|it| seconds(it.first)).filter(told),
            ..shown
        }
    }
}
