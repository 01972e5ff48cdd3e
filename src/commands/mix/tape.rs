//! What is written: the mix and its stems, streamed from the mixer to the disk.

use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use indicatif::ProgressBar;
use rayon::prelude::*;

use super::super::Failure;
use super::super::aside::Part;
use super::super::opened::Opened;
use super::voice;
use super::{LOADING, STEPS, outside};
use crate::live::offline::{Material, Mixdown, Score, Words, sounds};
use crate::sound::mix::{Depth, Kind, Limiter, Shape, Writer};
use crate::sound::timecode::{FrameRate, Timecode};
use crate::sound::{CEILING, Gauge, Gauger, Media};
use crate::units::{Gain, Instant, Span};

/// Frames made at once.
const AT_ONCE: usize = 1 << 15;

/// All that decides what is written.
pub struct Tape<'a> {
    /// The show, planned.
    pub opened: &'a Opened,
    /// Its tracks.
    pub media: &'a [Option<Arc<Media>>],
    /// Words that are spoken too.
    pub words: &'a [Words],
    /// The show time of the first frame.
    pub zero: Instant,
    /// Frames in all.
    pub frames: u64,
    /// Frames a second.
    pub rate: u32,
    /// WAV or FLAC.
    pub kind: Kind,
    /// How samples are written.
    pub depth: Depth,
    /// What the third channel is, if there is one.
    pub timecode: Option<FrameRate>,
}

/// What came of it.
pub struct Reel {
    /// Measured on what was written, timecode apart.
    pub gauge: Gauge,
    /// The lowest the limiter went.
    pub lowest: Gain,
}

/// The file of a stem.
pub fn stem(folder: &Path, id: &str, kind: Kind) -> PathBuf {
    folder.join(format!("{id}.{}", kind.ending()))
}

impl Tape<'_> {
    /// Channels of the mix.
    pub fn channels(&self) -> u16 {
        if self.timecode.is_some() { 3 } else { 2 }
    }

    fn shape(&self, channels: u16) -> Shape {
        Shape {
            kind: self.kind,
            depth: self.depth,
            rate: self.rate,
            channels,
            frames: self.frames,
        }
    }

    fn material(&self) -> Material<'_> {
        Material {
            show: &self.opened.show,
            layout: &self.opened.plan.layout,
            media: self.media,
            words: self.words,
        }
    }

    /// Whether a file can be that long.
    pub fn fits(&self) -> bool {
        self.shape(self.channels()).fits()
    }

    /// The frame of timecode, counted from midnight, at show zero: its time of day, else one hour.
    fn timecode_zero(&self, rate: FrameRate) -> i64 {
        let hour = |start: jiff::civil::Time| {
            i64::from(start.hour()) * 3_600
                + i64::from(start.minute()) * 60
                + i64::from(start.second())
        };
        rate.frame_of_second(self.opened.show.start.map_or(3_600, hour))
    }

    /// The label of timecode at an instant of the show.
    pub fn label(&self, at: Instant) -> Option<String> {
        let rate = self.timecode?;
        let (frames, per) = rate.per_second();
        let since = (at.us() * frames).div_euclid(per * 1_000_000);
        Some(rate.label(self.timecode_zero(rate) + since).to_string())
    }

    /// Tracks that have no time in the plan.
    pub fn unplayed(&self) -> Vec<String> {
        let laid = self.opened.plan.layout.tracks.iter().zip(self.media);
        let tracks = self.opened.show.tracks.iter().zip(laid);
        tracks
            .filter(|(_, (laid, media))| {
                media
                    .as_ref()
                    .is_none_or(|media| sounds(laid, media).is_none())
            })
            .map(|(track, _)| track.id.to_string())
            .collect()
    }

    /// Tracks that could not be decoded whole, and how much of each is silent instead.
    pub fn damaged(&self) -> Vec<(String, Span)> {
        let tracks = self.opened.show.tracks.iter().zip(self.media);
        tracks
            .filter_map(|(track, media)| Some((track.id.to_string(), media.as_ref()?.gauge.lost)))
            .filter(|(_, lost)| *lost > Span::ZERO)
            .collect()
    }

    /// Mixes everything into `file`.
    pub fn write(&self, file: &Path, bar: &ProgressBar) -> Result<Reel, Failure> {
        let wrong = |error| outside(file, error);
        let score = Score::of(&self.material(), self.zero);
        let mut mixdown = Mixdown::new(score, self.rate, self.zero);
        let mut part = Part::begin(file).map_err(wrong)?;
        let to = BufWriter::new(part.file());
        let mut writer = Writer::new(to, self.shape(self.channels()), 2).map_err(wrong)?;
        let mut limiter = Limiter::new(self.rate, CEILING);
        let mut gauger = Gauger::new(self.rate, 2);
        let mut timecode = self.timecode.map(|rate| {
            let first = (self.zero.s() * f64::from(self.rate)).round() as i64;
            Timecode::new(rate, self.rate, self.timecode_zero(rate), first)
        });
        let mut left = self.frames as usize;
        let (mut mixed, mut out) = (Vec::new(), Vec::new());
        while left > 0 {
            mixed.resize(left.min(AT_ONCE) * 2, 0.0);
            mixdown.mix(&mut mixed);
            left -= mixed.len() / 2;
            limiter.process(&mixed, &mut out);
            if left == 0 {
                limiter.finish(&mut out);
            }
            match &mut timecode {
                None => writer.write(&mut out).map_err(wrong)?,
                Some(timecode) => {
                    let frames = out.chunks_exact(2);
                    let mut wide: Vec<f32> = frames
                        .flat_map(|frame| [frame[0], frame[1], timecode.sample()])
                        .collect();
                    writer.write(&mut wide).map_err(wrong)?;
                    out.clear();
                    out.extend(wide.chunks_exact(3).flat_map(|frame| [frame[0], frame[1]]));
                }
            }
            gauger.add(&out);
            out.clear();
            let share = 1.0 - left as f64 / self.frames as f64;
            bar.set_position((STEPS as f64 * (LOADING + (1.0 - LOADING) * share)) as u64);
        }
        finish(writer).map_err(wrong)?;
        part.finish().map_err(wrong)?;
        Ok(Reel {
            gauge: gauger.finish(),
            lowest: limiter.lowest(),
        })
    }

    /// Writes each track that sounds, and the voice if there is one, into a file of its own in `folder`, side by side.
    pub fn write_stems(&self, folder: &Path, bar: &ProgressBar) -> Result<(), Failure> {
        bar.set_message("stems");
        let unplayed = self.unplayed();
        let tracks = self.opened.show.tracks.iter().enumerate();
        let tracks =
            tracks.filter(|(_, track)| !unplayed.iter().any(|id| *id == track.id.as_str()));
        let tracks = tracks.map(|(i, track)| (track.id.as_str(), Some(i)));
        let voice = (!self.words.is_empty()).then_some((voice::STEM, None));
        let stems: Vec<(&str, Option<usize>)> = tracks.chain(voice).collect();
        stems.par_iter().try_for_each(|(id, track)| {
            let file = stem(folder, id, self.kind);
            let score = match track {
                Some(track) => Score::of_track(&self.material(), *track, self.zero),
                None => Score::of_words(&self.material(), self.zero),
            };
            self.write_stem(score, &file)
                .map_err(|error| outside(&file, error))
        })
    }

    fn write_stem(&self, score: Score, file: &Path) -> std::io::Result<()> {
        let mut mixdown = Mixdown::new(score, self.rate, self.zero);
        let mut part = Part::begin(file)?;
        let mut writer = Writer::new(BufWriter::new(part.file()), self.shape(2), 2)?;
        let mut left = self.frames as usize;
        let mut mixed = Vec::new();
        while left > 0 {
            mixed.resize(left.min(AT_ONCE) * 2, 0.0);
            mixdown.mix(&mut mixed);
            left -= mixed.len() / 2;
            writer.write(&mut mixed)?;
        }
        finish(writer)?;
        part.finish()
    }
}

fn finish(writer: Writer<BufWriter<&mut std::fs::File>>) -> std::io::Result<()> {
    writer.finish()?.flush()
}
