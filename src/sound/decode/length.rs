//! What a file's head says of its length, and what of it is music.

use std::path::Path;

use symphonia::core::formats::well_known::*;
use symphonia::core::formats::{FormatId, Track};

use super::super::priming::{self, Part};

/// Frames in the longest packet of any codec in a CAF file.
const LONGEST_PACKET: u64 = 8192;

/// What is known of a file's length before it is decoded.
#[derive(Debug, Clone, Copy, Default)]
pub struct Length {
    /// The frames of it that are music and not the codec's own.
    pub part: Part,
    /// Its length in frames, where the head says it exactly.
    pub exact: Option<u64>,
    /// Frames without which the file is cut short.
    pub least: Option<u64>,
}

impl Length {
    /// Of a track in a container.
    pub fn of(path: &Path, format: FormatId, track: &Track, rate: u32) -> Length {
        let part = part_of(path, format, track, rate);
        let exact = exact_length(format, track, &part);
        let least = match format {
            // The packet table counts the last packet as a whole one.
            FORMAT_ID_CAF => track
                .num_frames
                .map(|frames| frames.saturating_sub(LONGEST_PACKET)),
            _ => exact,
        };
        Length { part, exact, least }
    }
}

fn part_of(path: &Path, format: FormatId, track: &Track, rate: u32) -> Part {
    match format {
        FORMAT_ID_ISOMP4 => priming::mp4(path, rate),
        FORMAT_ID_MKV => priming::mkv(path, rate),
        FORMAT_ID_CAF => Part {
            skip: track.delay.unwrap_or(0).into(),
            keep: track.padding.or(track.delay).and(track.num_frames),
        },
        _ => Part::default(),
    }
}

fn exact_length(format: FormatId, track: &Track, part: &Part) -> Option<u64> {
    match format {
        FORMAT_ID_WAVE | FORMAT_ID_AIFF | FORMAT_ID_FLAC | FORMAT_ID_OGG => track.num_frames,
        // Without an encoder's tag the length is an estimate.
        FORMAT_ID_MP3 => track.delay.and(track.num_frames),
        FORMAT_ID_ISOMP4 => part.keep,
        _ => None,
    }
    .filter(|&frames| frames > 0)
}
