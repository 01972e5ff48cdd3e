//! What is written: the mix and its stems, streamed from the mixer to the disk.

use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering::Relaxed};
use std::sync::mpsc::{self, Receiver, SyncSender};
use std::thread;

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
/// Parts that wait for the next thread, at most.
const AHEAD: usize = 8;

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
    /// Whether somebody has asked for it to stop.
    pub stopped: Arc<AtomicBool>,
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

    /// Mixes everything into `file`: one thread mixes, one writes, one measures what was written, each a few parts ahead of
    /// the next.
    pub fn write(&self, file: &Path, bar: &ProgressBar) -> Result<Reel, Failure> {
        let wrong = |error| outside(file, error);
        let mut part = Part::begin(file).map_err(wrong)?;
        let to = BufWriter::new(part.file());
        let writer = Writer::new(to, self.shape(self.channels())).map_err(wrong)?;
        let (mixed, to_write) = mpsc::sync_channel(AHEAD);
        let (written, to_measure) = mpsc::sync_channel::<Vec<f32>>(AHEAD);
        let (lowest, gauge, done) = thread::scope(|scope| {
            let mixing = scope.spawn(|| Sum::new(self).mix_into(mixed));
            let measuring = scope.spawn(|| {
                let mut gauger = Gauger::new(self.rate, 2);
                to_measure.into_iter().for_each(|part| gauger.add(&part));
                gauger.finish()
            });
            let done = self.write_parts(writer, to_write, written, bar);
            let whole = "a thread that does not panic";
            (
                mixing.join().expect(whole),
                measuring.join().expect(whole),
                done,
            )
        });
        done.map_err(wrong)?;
        part.finish().map_err(wrong)?;
        Ok(Reel { gauge, lowest })
    }

    /// An error once it is to stop: what is not finished is taken away again.
    fn goes_on(&self) -> std::io::Result<()> {
        match self.stopped.load(Relaxed) {
            true => Err(std::io::Error::other("stopped, nothing of it is kept")),
            false => Ok(()),
        }
    }

    /// Writes what is mixed, and hands it on as it was written.
    fn write_parts(
        &self,
        writer: FileWriter,
        mixed: Receiver<Vec<f32>>,
        written: SyncSender<Vec<f32>>,
        bar: &ProgressBar,
    ) -> std::io::Result<()> {
        let mut channels = Channels::new(self, writer);
        let mut frames = 0;
        for mut part in mixed {
            self.goes_on()?;
            channels.write(&mut part)?;
            frames += part.len() / 2;
            let share = LOADING + (1.0 - LOADING) * frames as f64 / self.frames as f64;
            bar.set_position((STEPS as f64 * share) as u64);
            // Whoever measures takes all there is.
            let _ = written.send(part);
        }
        channels.finish()
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
        let mut writer = Writer::new(BufWriter::new(part.file()), self.shape(2))?;
        let mut left = self.frames as usize;
        let mut mixed = Vec::new();
        while left > 0 {
            self.goes_on()?;
            mixed.resize(left.min(AT_ONCE) * 2, 0.0);
            mixdown.mix(&mut mixed);
            left -= mixed.len() / 2;
            writer.write(&mut mixed)?;
        }
        finish(writer)?;
        part.finish()
    }
}

type FileWriter<'a> = Writer<BufWriter<&'a mut std::fs::File>>;

fn finish(writer: FileWriter) -> std::io::Result<()> {
    writer.finish()?.flush()
}

/// The sum of everything, limited, part by part.
struct Sum {
    mixdown: Mixdown,
    limiter: Limiter,
    /// Frames still to be mixed.
    left: usize,
}

impl Sum {
    fn new(tape: &Tape) -> Sum {
        let score = Score::of(&tape.material(), tape.zero);
        Sum {
            mixdown: Mixdown::new(score, tape.rate, tape.zero),
            limiter: Limiter::new(tape.rate, CEILING, AT_ONCE),
            left: tape.frames as usize,
        }
    }

    /// Mixes all of it, part by part, for as long as anybody takes them; the lowest the limiter went.
    fn mix_into(mut self, parts: SyncSender<Vec<f32>>) -> Gain {
        let mut line = Vec::new();
        while self.left > 0 {
            line.resize(self.left.min(AT_ONCE) * 2, 0.0);
            self.mixdown.mix(&mut line);
            self.left -= line.len() / 2;
            let mut part = Vec::with_capacity(line.len());
            self.limiter.process(&line, &mut part);
            if self.left == 0 {
                self.limiter.finish(&mut part);
            }
            if parts.send(part).is_err() {
                break;
            }
        }
        self.limiter.take_lowest()
    }
}

/// What is written: left and right, and timecode if it is asked for.
struct Channels<'a> {
    writer: FileWriter<'a>,
    timecode: Option<Timecode>,
    wide: Vec<f32>,
}

impl<'a> Channels<'a> {
    fn new(tape: &Tape, writer: FileWriter<'a>) -> Channels<'a> {
        let first = (tape.zero.s() * f64::from(tape.rate)).round() as i64;
        Channels {
            writer,
            timecode: tape
                .timecode
                .map(|rate| Timecode::new(rate, tape.rate, tape.timecode_zero(rate), first)),
            wide: Vec::new(),
        }
    }

    fn finish(self) -> std::io::Result<()> {
        finish(self.writer)
    }

    /// Writes frames of left and right; each sample becomes what a reader of the file will find.
    fn write(&mut self, frames: &mut [f32]) -> std::io::Result<()> {
        let Some(timecode) = &mut self.timecode else {
            return self.writer.write(frames);
        };
        self.wide.clear();
        for frame in frames.as_chunks::<2>().0 {
            self.wide.extend([frame[0], frame[1], timecode.sample()]);
        }
        self.writer.write(&mut self.wide)?;
        let written = self.wide.as_chunks::<3>().0;
        for (frame, written) in frames.as_chunks_mut::<2>().0.iter_mut().zip(written) {
            *frame = [written[0], written[1]];
        }
        Ok(())
    }
}
