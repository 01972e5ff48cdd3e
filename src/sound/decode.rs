//! Sound files into samples, every frame of the music and none of the codec's own.

use std::fs::File;
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};

use symphonia::core::codecs::CodecParameters;
use symphonia::core::codecs::audio::well_known::CODEC_ID_VORBIS;
use symphonia::core::codecs::audio::{AudioDecoder, AudioDecoderOptions};
use symphonia::core::errors::Error;
use symphonia::core::formats::probe::Hint;
use symphonia::core::formats::well_known::*;
use symphonia::core::formats::{FormatOptions, FormatReader, Track, TrackType};
use symphonia::core::io::MediaSourceStream;
use symphonia::core::meta::MetadataOptions;
use symphonia::core::packet::Packet;
use symphonia::core::units::{TimeBase, Timestamp};

use super::fault::{Problem, SoundError};
use super::guard::guarded;
use super::priming::{self, Part};
use super::source::{Counted, Reading};
use super::{MAX_CHANNELS, Pcm, RATES};
use crate::units::Span;

/// Frames in a block, about; a block is whole packets.
const BLOCK: usize = 1 << 16;
/// Packets in a row that cannot be read before the rest is given up.
const LOST: u32 = 64;
/// Frames in the longest packet of any codec in a CAF file.
const LONGEST_PACKET: u64 = 8192;
/// Seconds that can be missing in one place; more is a wrong time.
const LONGEST_GAP: u64 = 10;

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
    let mut decoder = Decoder::open(path)?;
    let mut samples = Vec::new();
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
    let frames = match decoder.exact {
        Some(frames) => frames,
        None => {
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
    let mut decoder = Decoder::open(path)?;
    while decoder.next_block()?.is_some() {}
    Ok(decoder.lost())
}

/// A file being decoded, block by block.
pub struct Decoder {
    path: PathBuf,
    reading: Reading,
    format: Box<dyn FormatReader>,
    codec: Box<dyn AudioDecoder>,
    track: u32,
    /// Frames a second.
    pub rate: u32,
    /// Samples a frame, in the order of `super::speakers`.
    pub channels: u16,
    /// Decoded and not yet given.
    pending: Vec<f32>,
    part: Part,
    /// Length in frames, where the header says it exactly.
    exact: Option<u64>,
    /// Frames without which the file is cut short.
    least: Option<u64>,
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
        let file = File::open(path).map_err(unreadable)?;
        let facts = file.metadata().map_err(unreadable)?;
        if !facts.is_file() {
            return Err(fail(Problem::Unreadable("it is not a file".into())));
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
        let codec = match &track.codec_params {
            Some(CodecParameters::Audio(params)) => guarded(|| {
                symphonia::default::get_codecs()
                    .make_audio_decoder(params, &AudioDecoderOptions::default())
            })
            .map_err(fail)?
            .map_err(|error| fail(Problem::Unsupported(error.to_string())))?,
            _ => return Err(fail(Problem::NotSound)),
        };
        let mut decoder = Decoder {
            path: path.to_owned(),
            reading,
            format,
            codec,
            track: track.id,
            rate: 0,
            channels: 0,
            pending: Vec::new(),
            part: Part::default(),
            exact: None,
            least: None,
            reached: None,
            given: 0,
            lost: 0,
            ended: false,
        };
        decoder.find_rate_and_channels()?;
        decoder.part = decoder.part_of(&track);
        decoder.exact = decoder.exact_length(&track);
        decoder.least = decoder.least_length(&track);
        Ok(decoder)
    }

    /// The next block of interleaved samples, full scale ±1; `None` at the end.
    /// A packet that cannot be decoded is silence of the same length, so that what follows stays in time.
    pub fn next_block(&mut self) -> Result<Option<Vec<f32>>, SoundError> {
        loop {
            while !self.ended && self.pending.len() < BLOCK * usize::from(self.channels) {
                self.read_packet()?;
            }
            let mut block = std::mem::take(&mut self.pending);
            if block.is_empty() {
                self.check_length()?;
                return Ok(None);
            }
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
        while self.channels == 0 && !self.ended {
            self.read_packet()?;
        }
        match self.channels {
            0 => Err(self.fail(Problem::Damaged("there is no sound in it".into()))),
            _ => Ok(()),
        }
    }

    fn read_packet(&mut self) -> Result<(), SoundError> {
        let mut failures = 0;
        let packet = loop {
            let next =
                guarded(|| self.format.next_packet()).map_err(|problem| self.fail(problem))?;
            match next {
                Ok(Some(packet)) if packet.track_id == self.track => break packet,
                Ok(Some(_)) => {}
                Ok(None) => {
                    self.ended = true;
                    return Ok(());
                }
                Err(Error::IoError(error)) if error.kind() == ErrorKind::UnexpectedEof => {
                    self.ended = true;
                    return Ok(());
                }
                Err(Error::IoError(error)) => {
                    return Err(self.fail(Problem::Unreadable(error.to_string())));
                }
                Err(Error::ResetRequired) => {
                    return Err(
                        self.fail(Problem::Unsupported("several streams in one file".into()))
                    );
                }
                Err(Error::DecodeError(_)) if failures < LOST => failures += 1,
                Err(error) => return Err(self.fail(Problem::Damaged(error.to_string()))),
            }
        };
        self.fill_gap(&packet);
        self.decode_packet(&packet)
    }

    /// Puts silence in the place of packets that the container lost, where ticks are frames.
    fn fill_gap(&mut self, packet: &Packet) {
        let gap = self
            .reached
            .replace(packet.pts.saturating_add(packet.block_dur()))
            .and_then(|reached| packet.pts.duration_from(reached))
            .map_or(0, |gap| gap.get());
        if gap > 0
            && gap <= LONGEST_GAP * u64::from(self.rate)
            && self.time_base() == TimeBase::try_from_recip(self.rate)
        {
            self.add_silence(gap);
        }
    }

    fn decode_packet(&mut self, packet: &Packet) -> Result<(), SoundError> {
        let is_vorbis = self.codec.codec_params().codec == CODEC_ID_VORBIS;
        let decoded = match guarded(|| self.codec.decode(packet)) {
            Err(problem) => return Err(SoundError::new(&self.path, problem)),
            Ok(decoded) => decoded,
        };
        let decoded = match decoded {
            Ok(decoded) => decoded,
            // Broken packets look like anything, also like features no decoder has.
            Err(Error::Unsupported(what)) if self.channels == 0 => {
                return Err(self.fail(Problem::Unsupported(what.into())));
            }
            Err(_) => {
                self.replace_with_silence(packet);
                return Ok(());
            }
        };
        let (rate, channels) = (decoded.spec().rate(), decoded.spec().channels().count());
        if self.channels == 0 {
            if !RATES.contains(&rate) || channels == 0 || channels > usize::from(MAX_CHANNELS) {
                let what = format!("{channels} channels at {rate} Hz");
                return Err(self.fail(Problem::Unsupported(what)));
            }
            // The decoder couples more than two channels wrongly: better none than noise.
            if channels > 2 && is_vorbis {
                let what = format!("Vorbis of {channels} channels");
                return Err(self.fail(Problem::Unsupported(what)));
            }
            (self.rate, self.channels) = (rate, channels as u16);
        } else if (self.rate, usize::from(self.channels)) != (rate, channels) {
            let what = "its rate or channels change on the way".into();
            return Err(self.fail(Problem::Unsupported(what)));
        }
        let start = self.pending.len();
        self.pending
            .resize(start + decoded.samples_interleaved(), 0.0);
        if let Some(fresh) = self.pending.get_mut(start..) {
            decoded.copy_to_slice_interleaved(&mut *fresh);
            // Files of floating-point samples can hold what is no number.
            fresh
                .iter_mut()
                .filter(|x| !x.is_finite())
                .for_each(|x| *x = 0.0);
        }
        Ok(())
    }

    /// Keeps the place of a packet that cannot be decoded.
    fn replace_with_silence(&mut self, packet: &Packet) {
        let frames = self
            .time_base()
            .and_then(|base| base.calc_duration(packet.dur))
            .map_or(0.0, |time| time.as_secs_f64() * f64::from(self.rate));
        // No packet of any codec is longer than a second or two.
        self.add_silence(frames.round().clamp(0.0, 2.0 * f64::from(self.rate)) as u64);
    }

    fn add_silence(&mut self, frames: u64) {
        self.lost += frames;
        let samples = self.pending.len() + frames as usize * usize::from(self.channels);
        self.pending.resize(samples, 0.0);
    }

    fn time_base(&self) -> Option<TimeBase> {
        let tracks = self.format.tracks();
        tracks
            .iter()
            .find(|track| track.id == self.track)?
            .time_base
    }

    /// Leaves out of a block what lies outside the sound.
    fn trim(&mut self, block: &mut Vec<f32>) {
        let channels = usize::from(self.channels);
        let skip = self.part.skip.min((block.len() / channels) as u64);
        self.part.skip -= skip;
        block.drain(..skip as usize * channels);
        if let Some(keep) = &mut self.part.keep {
            let keeps = (*keep).min((block.len() / channels) as u64);
            *keep -= keeps;
            block.truncate(keeps as usize * channels);
        }
    }

    fn part_of(&self, track: &Track) -> Part {
        match self.format.format_info().format {
            FORMAT_ID_ISOMP4 => priming::mp4(&self.path, self.rate),
            FORMAT_ID_MKV => priming::mkv(&self.path, self.rate),
            FORMAT_ID_CAF => Part {
                skip: track.delay.unwrap_or(0).into(),
                keep: track.padding.or(track.delay).and(track.num_frames),
            },
            _ => Part::default(),
        }
    }

    /// The length in frames, where the header says it exactly.
    fn exact_length(&self, track: &Track) -> Option<u64> {
        match self.format.format_info().format {
            FORMAT_ID_WAVE | FORMAT_ID_AIFF | FORMAT_ID_FLAC | FORMAT_ID_OGG => track.num_frames,
            // Without an encoder's tag the length is an estimate.
            FORMAT_ID_MP3 => track.delay.and(track.num_frames),
            FORMAT_ID_ISOMP4 => self.part.keep,
            _ => None,
        }
        .filter(|&frames| frames > 0)
    }

    /// The least length in frames that the header promises.
    fn least_length(&self, track: &Track) -> Option<u64> {
        match self.format.format_info().format {
            // The packet table counts the last packet as a whole one.
            FORMAT_ID_CAF => track
                .num_frames
                .map(|frames| frames.saturating_sub(LONGEST_PACKET)),
            _ => self.exact,
        }
    }

    /// At the end: whether all that was promised has come.
    fn check_length(&self) -> Result<(), SoundError> {
        match self.least {
            Some(least) if self.given < least => Err(self.fail(Problem::CutShort {
                has: self.span(self.given),
                should: self.span(self.exact.unwrap_or(least)),
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
