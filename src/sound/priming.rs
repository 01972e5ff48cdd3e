//! Which part of a stream is the sound: codecs put silence of their own before and after it.
//!
//! MP3 and Ogg Vorbis are trimmed by the decoder and CAF says it in its packet table. MP4 says it in its
//! edit list (ISO/IEC 14496-12) or in a tag, Matroska in an element of the track (CodecDelay, RFC 9559);
//! these are read here.

use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom};
use std::path::Path;

/// The part of a decoded stream that is the sound, in frames.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Part {
    /// Frames to leave out at the start.
    pub skip: u64,
    /// Frames of sound after them; `None`: all that follow.
    pub keep: Option<u64>,
}

/// What an MP4 file says about the times of its first sound track.
#[derive(Debug, Default)]
struct Times {
    /// Ticks a second of the whole file.
    movie_scale: u32,
    /// Ticks a second of the track.
    scale: u32,
    /// Length of the track, in its own ticks.
    length: u64,
    /// The first edit that shows the track: its length in the file's ticks, its start in the track's.
    edit: Option<(u64, u64)>,
    /// Delay and length in frames, from the tag some encoders write.
    tag: Option<(u64, u64)>,
    is_sound: bool,
}

/// The part of an MP4 file's first sound track that is the sound, at `rate` frames a second.
/// A file that says nothing, or nothing sensible, is all sound.
pub(super) fn mp4(path: &Path, rate: u32) -> Part {
    let read = || -> io::Result<Times> {
        let mut file = File::open(path)?;
        let end = file.metadata()?.len();
        let mut times = Times::default();
        walk(&mut file, 0, end, 0, &mut times)?;
        Ok(times)
    };
    read().map_or(Part::default(), |times| times.part(rate))
}

impl Times {
    fn part(&self, rate: u32) -> Part {
        let frames = |ticks: u64, scale: u32| {
            (u128::from(ticks) * u128::from(rate) / u128::from(scale.max(1))) as u64
        };
        let Some((length, start)) = self.edit else {
            return self.tagged();
        };
        if let Some((delay, _)) = self.tag
            && delay == frames(start, self.scale)
        {
            return self.tagged();
        }
        let skip = frames(start, self.scale);
        // The edit's length is in the file's ticks, often milliseconds; when it agrees with the track's
        // own finer length to a tick, that one is meant.
        let rest = frames(self.length.saturating_sub(start), self.scale);
        let tick = u64::from(rate / self.movie_scale.max(1)) + 1;
        let edited = frames(length, self.movie_scale);
        let keep = if edited.abs_diff(rest) <= tick {
            rest
        } else {
            edited
        };
        Part {
            skip,
            keep: (keep > 0).then_some(keep),
        }
    }

    fn tagged(&self) -> Part {
        self.tag.map_or(Part::default(), |(skip, keep)| Part {
            skip,
            keep: Some(keep),
        })
    }
}

/// Boxes are nested no deeper than this in any file that makes sense.
const DEEPEST: u32 = 8;
/// The longest box that is read whole.
const LONGEST: u64 = 1 << 16;

/// Walks the boxes in `[at, end)` and notes what they say.
fn walk(file: &mut File, mut at: u64, end: u64, depth: u32, times: &mut Times) -> io::Result<()> {
    while depth < DEEPEST && at.saturating_add(8) <= end {
        file.seek(SeekFrom::Start(at))?;
        let mut head = [0; 8];
        file.read_exact(&mut head)?;
        let [a, b, c, d, kind @ ..] = head;
        let (mut from, size) = match u32::from_be_bytes([a, b, c, d]) {
            0 => (at + 8, end - at),
            1 => {
                let mut long = [0; 8];
                file.read_exact(&mut long)?;
                (at + 16, u64::from_be_bytes(long))
            }
            size => (at + 8, u64::from(size)),
        };
        let to = at.saturating_add(size);
        if to < from || to > end {
            return Ok(());
        }
        match &kind {
            // A second track is of no interest once the first sound track is known.
            b"trak" if times.is_sound => {}
            b"trak" => {
                let (scale, length, edit) = (times.scale, times.length, times.edit);
                walk(file, from, to, depth + 1, times)?;
                if !times.is_sound {
                    (times.scale, times.length, times.edit) = (scale, length, edit);
                }
            }
            b"moov" | b"edts" | b"mdia" | b"udta" | b"ilst" => {
                walk(file, from, to, depth + 1, times)?;
            }
            b"meta" => {
                from += 4;
                walk(file, from, to, depth + 1, times)?;
            }
            b"mvhd" | b"mdhd" | b"hdlr" | b"elst" | b"----" if to - from <= LONGEST => {
                let mut body = vec![0; (to - from) as usize];
                file.seek(SeekFrom::Start(from))?;
                file.read_exact(&mut body)?;
                times.note(&kind, &body);
            }
            _ => {}
        }
        at = to;
    }
    Ok(())
}

impl Times {
    fn note(&mut self, kind: &[u8; 4], body: &[u8]) {
        // Version 1 boxes have 64-bit times.
        let wide = body.first() == Some(&1);
        match kind {
            b"mvhd" => {
                self.movie_scale = u32_at(body, if wide { 20 } else { 12 }).unwrap_or(0);
            }
            b"mdhd" if !self.is_sound => {
                self.scale = u32_at(body, if wide { 20 } else { 12 }).unwrap_or(0);
                self.length = time_at(body, if wide { 24 } else { 16 }, wide).unwrap_or(0);
            }
            b"hdlr" if body.get(8..12) == Some(b"soun") => self.is_sound = true,
            b"elst" => self.edit = first_edit(body, wide),
            b"----" => self.tag = self.tag.or_else(|| gapless_tag(body)),
            _ => {}
        }
    }
}

/// The first edit that shows something: `(length, start)`.
fn first_edit(body: &[u8], wide: bool) -> Option<(u64, u64)> {
    let (entry, time) = if wide { (20, 8) } else { (12, 4) };
    let count = u32_at(body, 4)? as usize;
    (0..count)
        .map_while(|i| {
            let at = i.checked_mul(entry)?.checked_add(8)?;
            Some((time_at(body, at, wide)?, time_at(body, at + time, wide)?))
        })
        // An empty edit (start −1) only delays the track among others.
        .find(|&(_, start)| start != u64::MAX && start != u64::from(u32::MAX))
}

/// Reads the tag `iTunSMPB`: hexadecimal words, of which the second is the delay and the fourth the length.
fn gapless_tag(body: &[u8]) -> Option<(u64, u64)> {
    let text = String::from_utf8_lossy(body);
    let (_, after) = text.split_once("iTunSMPB")?;
    let (_, after) = after.split_once("data")?;
    let words: Vec<u64> = after
        .trim_start_matches('\0')
        .split(|c: char| !c.is_ascii_hexdigit())
        .filter(|word| word.len() >= 8)
        .map_while(|word| u64::from_str_radix(word, 16).ok())
        .collect();
    match words[..] {
        [_, delay, _, length, ..] if length > 0 && delay < 1 << 16 => Some((delay, length)),
        _ => None,
    }
}

fn u32_at(body: &[u8], at: usize) -> Option<u32> {
    body.get(at..at + 4)?
        .try_into()
        .ok()
        .map(u32::from_be_bytes)
}

fn time_at(body: &[u8], at: usize, wide: bool) -> Option<u64> {
    if wide {
        body.get(at..at + 8)?
            .try_into()
            .ok()
            .map(u64::from_be_bytes)
    } else {
        u32_at(body, at).map(u64::from)
    }
}

/// What the codec of the first sound track of a Matroska file puts before the sound, in frames.
pub(super) fn mkv(path: &Path, rate: u32) -> Part {
    let delay = || -> io::Result<Option<u64>> {
        let mut file = File::open(path)?;
        let end = file.metadata()?.len();
        codec_delay(&mut file, 0, end, 0)
    };
    let nanoseconds = delay().ok().flatten().unwrap_or(0);
    Part {
        skip: ((u128::from(nanoseconds) * u128::from(rate) + 500_000_000) / 1_000_000_000) as u64,
        keep: None,
    }
}

const SEGMENT: u64 = 0x1853_8067;
const TRACKS: u64 = 0x1654_AE6B;
const TRACK: u64 = 0xAE;
const TRACK_TYPE: u64 = 0x83;
const CODEC_DELAY: u64 = 0x56AA;
const SOUND: u64 = 2;

/// The codec delay of the first sound track among the elements in `[at, end)`, in nanoseconds.
fn codec_delay(file: &mut File, mut at: u64, end: u64, depth: u32) -> io::Result<Option<u64>> {
    let (mut kind, mut delay) = (None, None);
    while depth < DEEPEST && at < end {
        file.seek(SeekFrom::Start(at))?;
        let (id, id_length) = ebml_number(file, false)?;
        let (size, size_length) = ebml_number(file, true)?;
        let from = at + id_length + size_length;
        // A size of all ones is unknown: to the end.
        let unknown = size == (1 << (7 * size_length)) - 1;
        let to = if unknown {
            end
        } else {
            from.saturating_add(size).min(end)
        };
        match id {
            SEGMENT | TRACKS | TRACK => {
                if let Some(found) = codec_delay(file, from, to, depth + 1)? {
                    return Ok(Some(found));
                }
            }
            TRACK_TYPE => kind = Some(ebml_unsigned(file, size)?),
            CODEC_DELAY => delay = Some(ebml_unsigned(file, size)?),
            _ => {}
        }
        at = to;
    }
    Ok(delay.filter(|_| kind == Some(SOUND)))
}

/// A number of as many bytes as its first one says, and how many; `stripped` of the bit that says it.
fn ebml_number(file: &mut File, stripped: bool) -> io::Result<(u64, u64)> {
    let mut first = [0];
    file.read_exact(&mut first)?;
    let more = first[0].leading_zeros() as usize;
    if more > 7 {
        return Err(io::ErrorKind::InvalidData.into());
    }
    let mut value = u64::from(first[0]);
    if stripped {
        value ^= 0x80 >> more;
    }
    let mut rest = [0; 7];
    file.read_exact(&mut rest[..more])?;
    let value = rest[..more]
        .iter()
        .fold(value, |value, &byte| value << 8 | u64::from(byte));
    Ok((value, more as u64 + 1))
}

fn ebml_unsigned(file: &mut File, size: u64) -> io::Result<u64> {
    let mut bytes = [0; 8];
    let size = size.min(8) as usize;
    file.read_exact(&mut bytes[..size])?;
    Ok(bytes[..size]
        .iter()
        .fold(0, |value, &byte| value << 8 | u64::from(byte)))
}
