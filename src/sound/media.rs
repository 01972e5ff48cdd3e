//! A track made ready to play: decoded, on two channels, at the device's rate, gauged and outlined.

use std::path::Path;
use std::sync::Arc;

use super::{Gauge, Overview, Pcm, SoundError, decode, gain_to, gauge, to_rate, to_stereo};
use crate::units::{Gain, Loudness};

/// What a show asks of a track's level.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Level {
    /// The loudness it is brought to; `None`: as it is.
    pub loudness: Option<Loudness>,
    /// Added to that.
    pub trim: Gain,
}

/// A track ready to play.
#[derive(Debug, Clone)]
pub struct Media {
    /// Two channels at the device's rate.
    pub pcm: Arc<Pcm>,
    /// Measured on `pcm`: what is heard.
    pub gauge: Gauge,
    /// Its outline.
    pub overview: Overview,
    /// What brings it to its level.
    pub gain: Gain,
}

/// Stretches a second in an outline: 5 ms each.
const OUTLINE: u32 = 200;
/// The share of the work that decoding is, about.
const DECODING: f32 = 0.5;
/// The share of the work after which only gauging is left, about.
const RESAMPLED: f32 = 0.7;

impl Media {
    /// Makes a file ready for a device of `rate` frames a second. `progress` is told the share done, 0 to 1.
    pub fn load(
        path: &Path,
        rate: u32,
        level: Level,
        progress: &mut dyn FnMut(f32),
    ) -> Result<Media, SoundError> {
        let pcm = decode(path, &mut |share| progress(DECODING * share))?;
        let pcm = to_rate(&to_stereo(pcm), rate);
        progress(RESAMPLED);
        let (gauge, overview) = rayon::join(|| gauge(&pcm), || Overview::new(&pcm, OUTLINE));
        progress(1.0);
        Ok(Media {
            gain: gain_to(&gauge, level.loudness, level.trim),
            pcm: Arc::new(pcm),
            gauge,
            overview,
        })
    }
}
