//! Packets into samples: one after another, or runs of them side by side.

use symphonia::core::codecs::audio::well_known::{CODEC_ID_FLAC, CODEC_ID_MP3, CODEC_ID_VORBIS};
use symphonia::core::codecs::audio::{AudioCodecParameters, AudioDecoder, AudioDecoderOptions};
use symphonia::core::errors::Error;
use symphonia::core::packet::Packet;
use symphonia::core::units::TimeBase;

use super::super::fault::Problem;
use super::super::guard::guarded;
use super::super::{MAX_CHANNELS, RATES};

/// No packet of any codec is longer than this, in seconds.
const LONGEST: f64 = 2.0;
/// The bytes before a packet that an MP3 frame may go back to (ISO/IEC 11172-3: `main_data_begin` has nine bits).
const RESERVOIR: usize = 511;
/// The most bytes of a frame that are none of those: header, checksum and side information.
const SIDE: usize = 4 + 2 + 32;
/// Packets before a frame that its sound overlaps with, and those overlap with in turn.
const OVERLAPPED: usize = 3;

/// A packet, and how many frames before it the container has lost.
pub struct Piece {
    pub gap: u64,
    pub packet: Packet,
}

/// What the samples of a file are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Grid {
    /// Frames a second.
    pub rate: u32,
    /// Samples a frame.
    pub channels: u16,
}

/// What came of packets.
#[derive(Debug, Default)]
pub struct Decoded {
    pub samples: Vec<f32>,
    /// Frames that could not be decoded and are silent instead.
    pub lost: u64,
}

/// What a decoder must have seen before a packet to decode it as if it had seen all of the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Memory {
    /// Nothing: every packet stands for itself.
    None,
    /// As many packets as may hold bits of it and overlap with it.
    Short,
    /// Whatever came before.
    Whole,
}

impl Memory {
    /// That of a codec.
    pub fn of(params: &AudioCodecParameters) -> Memory {
        match params.codec {
            CODEC_ID_FLAC => Memory::None,
            CODEC_ID_MP3 => Memory::Short,
            _ => Memory::Whole,
        }
    }

    /// Where to begin among packets for the one at `first` to be decoded right.
    pub fn begin(self, pieces: &[Piece], first: usize) -> usize {
        match self {
            Memory::None => return first,
            Memory::Whole => return 0,
            Memory::Short => {}
        }
        let (mut begin, mut bytes) = (first.saturating_sub(OVERLAPPED), 0);
        while begin > 0 && bytes < RESERVOIR {
            begin -= 1;
            bytes += pieces[begin].packet.data.len().saturating_sub(SIDE);
        }
        begin
    }
}

/// A decoder.
pub struct Coder {
    codec: Box<dyn AudioDecoder>,
    /// Of ticks in the container.
    base: Option<TimeBase>,
}

impl Coder {
    pub fn new(params: &AudioCodecParameters, base: Option<TimeBase>) -> Result<Coder, Problem> {
        let options = AudioDecoderOptions::default();
        let codec =
            guarded(|| symphonia::default::get_codecs().make_audio_decoder(params, &options))?
                .map_err(|error| Problem::Unsupported(error.to_string()))?;
        Ok(Coder { codec, base })
    }

    /// Decodes a packet behind others. The first that can be decoded says what the samples of the file are, whatever
    /// its head says; one that cannot be is silence of the same length, so that what follows stays in time.
    pub fn decode(
        &mut self,
        piece: &Piece,
        grid: &mut Option<Grid>,
        to: &mut Decoded,
    ) -> Result<(), Problem> {
        if let Some(grid) = grid {
            to.add_silence(piece.gap, *grid);
        }
        let is_vorbis = self.codec.codec_params().codec == CODEC_ID_VORBIS;
        let decoded = match guarded(|| self.codec.decode(&piece.packet))? {
            Ok(decoded) => decoded,
            // Broken packets look like anything, also like features no decoder has.
            Err(Error::Unsupported(what)) if grid.is_none() => {
                return Err(Problem::Unsupported(what.into()));
            }
            Err(_) => {
                if let Some(grid) = grid {
                    to.add_silence(frames_of(&piece.packet, self.base, grid.rate), *grid);
                }
                return Ok(());
            }
        };
        let (rate, channels) = (decoded.spec().rate(), decoded.spec().channels().count());
        match *grid {
            None => *grid = Some(grid_of(rate, channels, is_vorbis)?),
            Some(grid) if (grid.rate, usize::from(grid.channels)) == (rate, channels) => {}
            Some(_) => {
                let what = "its rate or channels change on the way".into();
                return Err(Problem::Unsupported(what));
            }
        }
        let start = to.samples.len();
        to.samples
            .resize(start + decoded.samples_interleaved(), 0.0);
        if let Some(fresh) = to.samples.get_mut(start..) {
            decoded.copy_to_slice_interleaved(&mut *fresh);
            let frames = fresh.chunks_mut(channels.max(1));
            to.lost += frames.map(|frame| u64::from(silenced(frame))).sum::<u64>();
        }
        Ok(())
    }

    /// Decodes a run of packets, after those that are only there to be remembered.
    pub fn decode_run(
        &mut self,
        (before, run): (&[Piece], &[Piece]),
        grid: Grid,
    ) -> Result<Decoded, Problem> {
        self.codec.reset();
        let (mut remembered, mut to) = (Decoded::default(), Decoded::default());
        for piece in before {
            remembered.samples.clear();
            self.decode(piece, &mut Some(grid), &mut remembered)?;
        }
        let frames = run
            .iter()
            .map(|piece| frames_of(&piece.packet, self.base, grid.rate));
        let samples = frames.sum::<u64>() as usize * usize::from(grid.channels);
        to.samples.reserve(samples);
        for piece in run {
            self.decode(piece, &mut Some(grid), &mut to)?;
        }
        Ok(to)
    }
}

/// Silences what cannot be sound, as files of floating-point samples can hold it: no number, or one a million times
/// full scale. Whether there was any.
fn silenced(frame: &mut [f32]) -> bool {
    const HIGHEST: f32 = 1e6;
    let mut was = false;
    for sample in frame {
        if sample.is_nan() || sample.abs() > HIGHEST {
            *sample = 0.0;
            was = true;
        }
    }
    was
}

impl Decoded {
    /// Keeps the place of what is not there.
    fn add_silence(&mut self, frames: u64, grid: Grid) {
        self.lost += frames;
        let samples = self.samples.len() + frames as usize * usize::from(grid.channels);
        self.samples.resize(samples, 0.0);
    }
}

fn grid_of(rate: u32, channels: usize, is_vorbis: bool) -> Result<Grid, Problem> {
    if !RATES.contains(&rate) {
        return Err(Problem::Rate(rate));
    }
    if channels == 0 || channels > usize::from(MAX_CHANNELS) {
        let what = format!("{channels} channels at {rate} Hz");
        return Err(Problem::Unsupported(what));
    }
    // The decoder couples more than two channels wrongly: better none than noise.
    if channels > 2 && is_vorbis {
        let what = format!("Vorbis of {channels} channels");
        return Err(Problem::Unsupported(what));
    }
    Ok(Grid {
        rate,
        channels: channels as u16,
    })
}

/// How long a packet says it is, in frames.
pub fn frames_of(packet: &Packet, base: Option<TimeBase>, rate: u32) -> u64 {
    let frames = base
        .and_then(|base| base.calc_duration(packet.dur))
        .map_or(0.0, |time| time.as_secs_f64() * f64::from(rate));
    frames.round().clamp(0.0, LONGEST * f64::from(rate)) as u64
}
