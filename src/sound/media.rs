//! A track made ready to play: decoded, on two channels, at the device's rate, gauged and outlined.

use std::path::Path;
use std::sync::Arc;

use super::decode::decode_all;
use super::guard::guarded;
use super::{Gauge, Gauger, Overview, Pcm, SoundError, gain_to, to_rate, to_stereo};
use crate::show::{Passage, Track};
use crate::units::{Gain, Loudness, Span};

/// What a show asks of a track's level.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Level {
    /// The loudness it is brought to; `None`: as it is.
    pub loudness: Option<Loudness>,
    /// Added to that.
    pub trim: Gain,
    /// What of it is never played, in order: it has no part in how loud the track is.
    pub unplayed: Vec<Passage>,
}

impl From<&Track> for Level {
    fn from(track: &Track) -> Level {
        let behind = track.looped.map(|looped| Passage {
            from: looped.to,
            to: Span::from_us(i64::MAX),
        });
        let before = |cut: &&Passage| track.looped.is_none_or(|looped| cut.from < looped.to);
        Level {
            loudness: track.level,
            trim: track.trim,
            unplayed: (track.cuts.iter().filter(before).copied().chain(behind)).collect(),
        }
    }
}

impl Level {
    /// The parts of frames, counted from `first` at `rate` frames a second, that are played.
    pub fn played<'a>(
        &self,
        samples: &'a [f32],
        channels: u16,
        rate: u32,
        first: u64,
    ) -> Vec<&'a [f32]> {
        let channels = usize::from(channels.max(1));
        let frame = |at: Span| (at.s() * f64::from(rate)).round() as u64;
        let mut parts = Vec::new();
        let mut from = 0;
        let end = samples.len() / channels;
        for cut in &self.unplayed {
            let place = |at: Span| (frame(at).saturating_sub(first) as usize).clamp(from, end);
            let (until, on) = (place(cut.from), place(cut.to));
            parts.extend(samples.get(from * channels..until * channels));
            from = on;
        }
        parts.extend(samples.get(from * channels..));
        parts.retain(|part| !part.is_empty());
        parts
    }
}

/// A track ready to play.
#[derive(Debug, Clone)]
pub struct Media {
    /// Two channels at the device's rate.
    pub pcm: Arc<Pcm>,
    /// Measured on what of `pcm` is played.
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
        // What decodes may still be beyond whatever follows: it must not take the tracks behind it along.
        let loaded = guarded(|| Media::made(path, rate, level, progress));
        loaded.unwrap_or_else(|problem| Err(SoundError::new(path, problem)))
    }

    fn made(
        path: &Path,
        rate: u32,
        level: Level,
        progress: &mut dyn FnMut(f32),
    ) -> Result<Media, SoundError> {
        let (pcm, lost) = decode_all(path, &mut |share| progress(DECODING * share))?;
        let stereo = to_stereo(pcm);
        let pcm = if stereo.rate == rate {
            stereo
        } else {
            to_rate(&stereo, rate)
        };
        progress(RESAMPLED);
        let gauge = || {
            let mut gauger = Gauger::new(pcm.rate, pcm.channels);
            for part in level.played(&pcm.samples, pcm.channels, pcm.rate, 0) {
                gauger.add_all(part);
            }
            gauger.finish()
        };
        let (mut gauge, overview) = rayon::join(gauge, || Overview::new(&pcm, OUTLINE));
        gauge.lost = lost;
        progress(1.0);
        Ok(Media {
            gain: gain_to(&gauge, level.loudness, level.trim),
            pcm: Arc::new(pcm),
            gauge,
            overview,
        })
    }

    /// Lowest and highest sample in each of `columns` equal parts of `[from, to)`: from the outline, or where that
    /// is too coarse from the sound itself.
    pub fn peaks(&self, from: Span, to: Span, columns: usize) -> Vec<(f32, f32)> {
        let column = (to - from).s() / columns.max(1) as f64;
        if column * f64::from(OUTLINE) >= 2.0 {
            self.overview.slice(from, to, columns)
        } else {
            self.pcm.peaks(from, to, columns)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// One channel at 44.1 kHz: 1 kHz at −20 dBFS for 4 s after 1 s of silence.
    fn write_tone(path: &Path) {
        let spec = hound::WavSpec {
            channels: 1,
            sample_rate: 44_100,
            bits_per_sample: 16,
            sample_format: hound::SampleFormat::Int,
        };
        let mut writer = hound::WavWriter::create(path, spec).expect("a WAV file");
        for i in 0..5 * 44_100 {
            let x = (std::f64::consts::TAU * 1000.0 * f64::from(i) / 44_100.0).sin();
            let level = if i < 44_100 { 0.0 } else { 0.1 };
            writer
                .write_sample((level * x * 32_767.0) as i16)
                .expect("a sample");
        }
        writer.finalize().expect("a WAV file");
    }

    /// Whatever fails on the way is a fault of that track alone.
    #[test]
    fn a_panic_while_a_track_is_made_ready_is_damage_to_that_track() {
        let dir = tempfile::TempDir::new().expect("a directory");
        let path = dir.path().join("tone.wav");
        write_tone(&path);
        let mut progress = |share: f32| assert!(share < RESAMPLED, "as it was told to");
        let error =
            Media::load(&path, 48_000, Level::default(), &mut progress).expect_err("no track");
        assert!(
            matches!(error.problem, crate::sound::Problem::Damaged(_)),
            "{error}"
        );
    }

    #[test]
    fn a_track_is_ready_for_the_device_at_its_level() {
        let dir = tempfile::TempDir::new().expect("a directory");
        let path = dir.path().join("tone.wav");
        write_tone(&path);
        let level = Level {
            loudness: Some(Loudness::from_lufs(-18.0)),
            trim: Gain::from_db(-1.0),
            ..Level::default()
        };
        let mut shares = Vec::new();
        let media =
            Media::load(&path, 48_000, level, &mut |share| shares.push(share)).expect("a track");

        assert_eq!(
            (media.pcm.rate, media.pcm.channels, media.pcm.frames()),
            (48_000, 2, 240_000)
        );
        // One channel heard from both speakers is as loud as two; the blocks that the tone begins in are softer.
        let lufs = media.gauge.integrated.expect("a loudness").lufs();
        assert!((lufs + 20.0).abs() < 0.3, "{lufs}");
        assert!(
            (media.gain.db() - (-18.0 - lufs - 1.0)).abs() < 1e-9,
            "{}",
            media.gain
        );
        let drawn = media.overview.slice(Span::ZERO, Span::from_s(5.0), 5);
        assert!(
            drawn[0].1 < 0.01 && drawn[1..].iter().all(|at| (at.1 - 0.1).abs() < 0.005),
            "{drawn:?}"
        );
        assert!(
            shares.is_sorted() && shares.last() == Some(&1.0),
            "{shares:?}"
        );
    }
}
