//! Sound files into samples, every frame of the music and none of the codec's own.

mod coder;
mod length;
mod packets;

use std::collections::VecDeque;
use std::fs::File;
use std::io::{self, ErrorKind, Read, Seek};
use std::path::{Path, PathBuf};

use rayon::prelude::*;
use symphonia::core::codecs::CodecParameters;
use symphonia::core::errors::Error;
use symphonia::core::formats::probe::Hint;
use symphonia::core::formats::{FormatOptions, FormatReader, TrackType};
use symphonia::core::io::MediaSourceStream;
use symphonia::core::meta::MetadataOptions;
use symphonia::core::units::{TimeBase, Timestamp};

use super::fault::{Problem, SoundError};
use super::guard::guarded;
use super::source::{Counted, Reading};
use super::{Gauge, Gauger, Level, Pcm, to_stereo};
use crate::units::Span;
use coder::{Coder, Decoded, Grid, Memory, Piece, frames_of};
use length::Length;

/// Frames in a block, about; a block is whole packets.
const BLOCK: u64 = 1 << 16;
/// Frames in a run, of which several are decoded side by side: long beside what is decoded twice.
const RUN: u64 = 1 << 18;
/// Samples for which room is made beforehand, for each byte of a file; where more come, room is made as they do.
const MOST_PACKED: u64 = 16;

/// What a sound file is, found without decoding all of it where its header says enough.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TrackFacts {
    /// How long it is, exact.
    pub duration: Span,
    /// Frames a second.
    pub rate: u32,
    /// Samples a frame.
    pub channels: u16,
}

/// Decodes a whole file. `progress` is told the share done, 0 to 1.
pub fn decode(path: &Path, progress: &mut dyn FnMut(f32)) -> Result<Pcm, SoundError> {
    Ok(decode_all(path, progress)?.0)
}

/// The same, and how much of it could not be decoded and is silent.
pub(super) fn decode_all(
    path: &Path,
    progress: &mut dyn FnMut(f32),
) -> Result<(Pcm, Span), SoundError> {
    let mut decoder = Decoder::open(path)?.side_by_side()?;
    let mut samples = Vec::new();
    if let Some(frames) = decoder.length.exact {
        // A broken head can promise more than there will ever be.
        let most = decoder.reading.len().saturating_mul(MOST_PACKED);
        let wanted = frames.saturating_mul(decoder.channels.into());
        samples.reserve(wanted.min(most) as usize);
    }
    while let Some(block) = decoder.next_block()? {
        samples.extend_from_slice(&block);
        progress(decoder.share());
    }
    let pcm = Pcm {
        rate: decoder.rate,
        channels: decoder.channels,
        samples,
    };
    Ok((pcm, decoder.lost()))
}

/// Whether a file is readable, and how long it is. Decodes it only when its header does not say.
pub fn probe(path: &Path) -> Result<TrackFacts, SoundError> {
    let mut decoder = Decoder::open(path)?;
    let frames = match decoder.length.exact {
        Some(frames) => frames,
        None => {
            decoder = decoder.side_by_side()?;
            while decoder.next_block()?.is_some() {}
            decoder.given
        }
    };
    Ok(TrackFacts {
        duration: decoder.span(frames),
        rate: decoder.rate,
        channels: decoder.channels,
    })
}

/// Reads a file from end to end and keeps none of it: whether it is whole, and how much of it is damaged
/// and therefore silent.
pub fn read_through(path: &Path) -> Result<Span, SoundError> {
    let mut decoder = Decoder::open(path)?.side_by_side()?;
    while decoder.next_block()?.is_some() {}
    Ok(decoder.lost())
}

/// The same, and how loud what is played of it is from the two speakers of a desk.
pub fn gauge_through(path: &Path, level: &Level) -> Result<Gauge, SoundError> {
    let mut decoder = Decoder::open(path)?.side_by_side()?;
    let (rate, channels) = (decoder.rate, decoder.channels);
    let mut gauger = Gauger::new(rate, 2);
    let mut first = 0;
    let mut block = decoder.next_block()?;
    while let Some(samples) = block {
        let pcm = Pcm {
            rate,
            channels,
            samples,
        };
        let frames = (pcm.samples.len() / usize::from(channels.max(1))) as u64;
        let gauge = || {
            let stereo = to_stereo(pcm);
            for part in level.played(&stereo.samples, 2, rate, first) {
                gauger.add(part);
            }
        };
        let (next, ()) = rayon::join(|| decoder.next_block(), gauge);
        block = next?;
        first += frames;
    }
    let mut gauge = gauger.finish();
    gauge.lost = decoder.lost();
    Ok(gauge)
}

/// A file being decoded, block by block.
pub struct Decoder {
    path: PathBuf,
    reading: Reading,
    format: Box<dyn FormatReader>,
    /// One, or as many as decode side by side.
    coders: Vec<Coder>,
    memory: Memory,
    track: u32,
    /// Of ticks in the container.
    base: Option<TimeBase>,
    /// Frames a second.
    pub rate: u32,
    /// Samples a frame, in the order of `super::speakers`.
    pub channels: u16,
    /// Decoded and not yet given.
    ready: VecDeque<Vec<f32>>,
    /// Packets that have been decoded and may be needed to decode the next.
    before: Vec<Piece>,
    length: Length,
    /// Where the last packet ended, in ticks.
    reached: Option<Timestamp>,
    /// Frames given.
    given: u64,
    /// Frames that could not be decoded and are silent instead.
    lost: u64,
    ended: bool,
}

impl Decoder {
    /// Opens a file and decodes its first packet.
    pub fn open(path: &Path) -> Result<Decoder, SoundError> {
        let fail = |problem| SoundError::new(path, problem);
        let unreadable = |e: io::Error| fail(Problem::Unreadable(e.to_string()));
        // Asked before it is opened: opening a pipe waits for whoever writes to it.
        let facts = path.metadata().map_err(unreadable)?;
        if !facts.is_file() {
            return Err(fail(Problem::Unreadable("it is not a file".into())));
        }
        if facts.len() == 0 {
            return Err(fail(Problem::Empty));
        }
        let mut file = File::open(path).map_err(unreadable)?;
        if is_long_wav(&mut file).map_err(unreadable)? {
            return Err(fail(Problem::LongWav));
        }
        let (source, reading) = Counted::new(file, facts.len());
        let mut hint = Hint::new();
        if let Some(extension) = path.extension().and_then(|text| text.to_str()) {
            hint.with_extension(extension);
        }
        let format = guarded(|| {
            symphonia::default::get_probe().probe(
                &hint,
                MediaSourceStream::new(Box::new(source), Default::default()),
                FormatOptions::default(),
                MetadataOptions::default(),
            )
        })
        .map_err(fail)?
        .map_err(|error| fail(from_probe(error)))?;
        let track = format
            .default_track(TrackType::Audio)
            .ok_or_else(|| fail(Problem::NotSound))?
            .clone();
        let Some(CodecParameters::Audio(params)) = &track.codec_params else {
            return Err(fail(Problem::NotSound));
        };
        let kind = format.format_info().format;
        let mut decoder = Decoder {
            path: path.to_owned(),
            reading,
            format,
            coders: vec![Coder::new(params, track.time_base).map_err(fail)?],
            memory: Memory::of(params),
            track: track.id,
            base: track.time_base,
            rate: 0,
            channels: 0,
            ready: VecDeque::new(),
            before: Vec::new(),
            length: Length::default(),
            reached: None,
            given: 0,
            lost: 0,
            ended: false,
        };
        decoder.find_rate_and_channels()?;
        decoder.length = Length::of(path, kind, &track, decoder.rate);
        Ok(decoder)
    }

    /// From here on decodes with every processor there is, where the codec lets it: for who waits for nothing else.
    pub fn side_by_side(mut self) -> Result<Decoder, SoundError> {
        let codec = self.format.default_track(TrackType::Audio);
        let params = codec.and_then(|track| track.codec_params.clone());
        if let Some(CodecParameters::Audio(params)) = params
            && self.memory != Memory::Whole
        {
            while self.coders.len() < rayon::current_num_threads() {
                let coder = Coder::new(&params, self.base).map_err(|error| self.fail(error))?;
                self.coders.push(coder);
            }
        }
        Ok(self)
    }

    /// The next block of interleaved samples, full scale ±1; `None` at the end.
    /// A packet that cannot be decoded is silence of the same length, so that what follows stays in time.
    pub fn next_block(&mut self) -> Result<Option<Vec<f32>>, SoundError> {
        loop {
            while self.ready.is_empty() && !self.ended {
                self.read_on()?;
            }
            let Some(mut block) = self.ready.pop_front() else {
                self.check_length()?;
                return Ok(None);
            };
            self.trim(&mut block);
            if !block.is_empty() {
                self.given += (block.len() / usize::from(self.channels)) as u64;
                return Ok(Some(block));
            }
        }
    }

    /// The share of the file that has been read, 0 to 1.
    pub fn share(&self) -> f32 {
        self.reading.share()
    }

    /// How much of what has been given could not be decoded and is silent.
    pub fn lost(&self) -> Span {
        self.span(self.lost)
    }

    fn span(&self, frames: u64) -> Span {
        Span::from_s(frames as f64 / f64::from(self.rate.max(1)))
    }

    fn fail(&self, problem: Problem) -> SoundError {
        SoundError::new(&self.path, problem)
    }

    /// Headers may be silent or wrong about these; the first decoded packet is not.
    fn find_rate_and_channels(&mut self) -> Result<(), SoundError> {
        let (mut grid, mut decoded) = (None, Decoded::default());
        while grid.is_none() {
            let Some(piece) = self.next_piece()? else {
                return Err(self.fail(Problem::Empty));
            };
            let done = self.coders[0].decode(&piece, &mut grid, &mut decoded);
            done.map_err(|problem| self.fail(problem))?;
            self.before.push(piece);
        }
        if let Some(Grid { rate, channels }) = grid {
            (self.rate, self.channels) = (rate, channels);
        }
        self.take(decoded);
        Ok(())
    }

    fn take(&mut self, decoded: Decoded) {
        self.lost += decoded.lost;
        if !decoded.samples.is_empty() {
            self.ready.push_back(decoded.samples);
        }
    }

    /// Reads and decodes the next packets.
    fn read_on(&mut self) -> Result<(), SoundError> {
        let grid = Grid {
            rate: self.rate,
            channels: self.channels,
        };
        if self.coders.len() > 1 {
            return self.read_runs(grid);
        }
        let mut decoded = Decoded::default();
        while (decoded.samples.len() as u64) < BLOCK * u64::from(self.channels) {
            let Some(piece) = self.next_piece()? else {
                break;
            };
            let done = self.coders[0].decode(&piece, &mut Some(grid), &mut decoded);
            done.map_err(|problem| self.fail(problem))?;
        }
        self.take(decoded);
        Ok(())
    }

    /// Reads as many runs of packets as there are coders, and decodes them side by side.
    fn read_runs(&mut self, grid: Grid) -> Result<(), SoundError> {
        let mut pieces = std::mem::take(&mut self.before);
        let mut runs = vec![pieces.len()];
        for _ in 0..self.coders.len() {
            let mut frames = 0;
            while frames < RUN
                && let Some(piece) = self.next_piece()?
            {
                // Where ticks say nothing a packet is as long as it is in most codecs.
                frames += frames_of(&piece.packet, self.base, self.rate).max(1_024);
                pieces.push(piece);
            }
            runs.push(pieces.len());
        }
        let (memory, all) = (self.memory, &pieces);
        let decoded: Vec<Result<Decoded, Problem>> = self
            .coders
            .par_iter_mut()
            .zip(runs.par_windows(2))
            .map(|(coder, run)| {
                let before = memory.begin(all, run[0]);
                coder.decode_run((&all[before..run[0]], &all[run[0]..run[1]]), grid)
            })
            .collect();
        for decoded in decoded {
            let decoded = decoded.map_err(|problem| self.fail(problem))?;
            self.take(decoded);
        }
        self.before = pieces.split_off(memory.begin(&pieces, pieces.len()));
        Ok(())
    }

    /// Leaves out of a block what lies outside the sound.
    fn trim(&mut self, block: &mut Vec<f32>) {
        let channels = usize::from(self.channels);
        let part = &mut self.length.part;
        let skip = part.skip.min((block.len() / channels) as u64);
        part.skip -= skip;
        block.drain(..skip as usize * channels);
        if let Some(keep) = &mut part.keep {
            let keeps = (*keep).min((block.len() / channels) as u64);
            *keep -= keeps;
            block.truncate(keeps as usize * channels);
        }
    }

    /// At the end: whether all that was promised has come.
    fn check_length(&self) -> Result<(), SoundError> {
        let Length { exact, least, .. } = self.length;
        match least {
            Some(least) if self.given < least => Err(self.fail(Problem::CutShort {
                has: self.span(self.given),
                should: self.span(exact.unwrap_or(least)),
            })),
            _ if self.given == 0 => {
                Err(self.fail(Problem::Damaged("there is no sound in it".into())))
            }
            _ if self.lost * 2 > self.given => {
                Err(self.fail(Problem::Damaged("most of it cannot be decoded".into())))
            }
            _ => Ok(()),
        }
    }
}

/// Whether a file begins as a WAV file with 64-bit lengths does; it is read from its start again afterwards.
fn is_long_wav(file: &mut File) -> io::Result<bool> {
    let mut head = Vec::new();
    file.by_ref().take(4).read_to_end(&mut head)?;
    file.rewind()?;
    Ok([b"RF64", b"BW64"].iter().any(|kind| head == kind[..]))
}

fn from_probe(error: Error) -> Problem {
    match error {
        Error::IoError(error) if error.kind() == ErrorKind::UnexpectedEof => {
            Problem::Damaged("it ends too soon".into())
        }
        Error::IoError(error) => Problem::Unreadable(error.to_string()),
        Error::DecodeError(what) => Problem::Damaged(what.into()),
        _ => Problem::NotSound,
    }
}
