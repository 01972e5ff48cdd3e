//! FLAC (RFC 9639): the head is ours, the blocks are the encoder's.

use std::io::{self, Seek, SeekFrom, Write};

use flacenc::bitsink::ByteSink;
use flacenc::component::{BitRepr, Frame, StreamInfo};
use flacenc::config::Encoder;
use flacenc::encode_fixed_size_frame;
use flacenc::error::{Verified, Verify};
use flacenc::source::{Context, Fill, FrameBuf};
use rayon::prelude::*;

use super::Shape;

/// Frames in a block; the last may be shorter, which the head does not count as the shortest (RFC 9639, 8.2).
const BLOCK: usize = 4_096;
/// Blocks encoded side by side.
const AT_ONCE: usize = 16;

/// A FLAC file being written.
pub(super) struct Flac<W> {
    to: W,
    shape: Shape,
    coder: Coder,
    /// Keeps the sum of what was written, for the head.
    sum: Context,
    waiting: Vec<i32>,
    blocks: usize,
    /// Bytes of the shortest and the longest block; readers find their way by them.
    bytes: (u32, u32),
}

/// What blocks are made with.
struct Coder {
    config: Verified<Encoder>,
    /// For blocks in which nothing can be foretold: samples as they are.
    plain: Verified<Encoder>,
    info: StreamInfo,
}

impl<W: Write + Seek> Flac<W> {
    pub fn new(mut to: W, shape: Shape) -> io::Result<Self> {
        let (channels, bits) = (usize::from(shape.channels), usize::from(shape.depth.bits()));
        let mut config = Encoder::default();
        config.block_size = BLOCK;
        let mut plain = config.clone();
        plain.subframe_coding.use_fixed = false;
        plain.subframe_coding.use_lpc = false;
        let verified = |config: Encoder| config.into_verified().map_err(|(_, fault)| failed(fault));
        let (config, plain) = (verified(config)?, verified(plain)?);
        let info = StreamInfo::new(shape.rate as usize, channels, bits).map_err(failed)?;
        to.write_all(&head(&shape, (0, 0), [0; 16]))?;
        Ok(Flac {
            to,
            shape,
            coder: Coder {
                config,
                plain,
                info,
            },
            sum: Context::new(bits, channels),
            waiting: Vec::new(),
            blocks: 0,
            bytes: (u32::MAX, 0),
        })
    }

    /// Writes whole frames of interleaved samples.
    pub fn write(&mut self, samples: &[i32]) -> io::Result<()> {
        self.sum.fill_interleaved(samples).map_err(failed)?;
        self.waiting.extend_from_slice(samples);
        let once = BLOCK * usize::from(self.shape.channels) * AT_ONCE;
        while self.waiting.len() >= once {
            let rest = self.waiting.split_off(once);
            let now = std::mem::replace(&mut self.waiting, rest);
            self.encode(&now)?;
        }
        Ok(())
    }

    fn encode(&mut self, samples: &[i32]) -> io::Result<()> {
        let channels = usize::from(self.shape.channels);
        let (coder, first) = (&self.coder, self.blocks);
        let blocks: Vec<&[i32]> = samples.chunks(BLOCK * channels).collect();
        let encoded: Vec<io::Result<Vec<u8>>> = blocks
            .par_iter()
            .enumerate()
            .map(|(i, samples)| coder.block(samples, first + i))
            .collect();
        for block in encoded {
            let block = block?;
            let (least, most) = self.bytes;
            self.bytes = (least.min(block.len() as u32), most.max(block.len() as u32));
            self.to.write_all(&block)?;
        }
        self.blocks += blocks.len();
        Ok(())
    }

    /// Writes the rest, and the sum into the head.
    pub fn finish(mut self) -> io::Result<W> {
        let rest = std::mem::take(&mut self.waiting);
        self.encode(&rest)?;
        self.to.seek(SeekFrom::Start(0))?;
        self.to
            .write_all(&head(&self.shape, self.bytes, self.sum.md5_digest()))?;
        self.to.seek(SeekFrom::End(0))?;
        Ok(self.to)
    }
}

impl Coder {
    /// A block as it is written. The encoder takes the sums of loud 24-bit noise for small ones when they pass 2^28 and
    /// makes blocks of many megabytes of it, more than readers look through: then the samples are written as they are.
    fn block(&self, samples: &[i32], number: usize) -> io::Result<Vec<u8>> {
        let channels = self.info.channels();
        let mut frames = FrameBuf::with_size(channels, samples.len() / channels).map_err(failed)?;
        frames.fill_interleaved(samples).map_err(failed)?;
        let encoded =
            |config| encode_fixed_size_frame(config, &frames, number, &self.info).map_err(failed);
        let mut frame = encoded(&self.config)?;
        // Two channels may be written as their sum and difference: then both are as they are, or neither.
        if channels != 2 {
            frame = shorter(frame, encoded(&self.plain)?)?;
        } else if frame.count_bits() > samples.len() * self.info.bits_per_sample() {
            frame = encoded(&self.plain)?;
        }
        let mut bytes = ByteSink::new();
        frame.write(&mut bytes).map_err(failed)?;
        Ok(bytes.as_slice().to_vec())
    }
}

/// Of two codings of a block, each channel's shorter one: timecode makes more of itself coded than as it is.
fn shorter(coded: Frame, plain: Frame) -> io::Result<Frame> {
    let ((head, coded), (_, plain)) = (coded.into_parts(), plain.into_parts());
    let channels = coded.into_iter().zip(plain);
    let best = channels.map(
        |(coded, plain)| match coded.count_bits() <= plain.count_bits() {
            true => coded,
            false => plain,
        },
    );
    Frame::new(head, best).map_err(failed)
}

/// The mark of the format and its one block of facts (RFC 9639, 8.2).
fn head(shape: &Shape, (least, most): (u32, u32), sum: [u8; 16]) -> Vec<u8> {
    let mut head = b"fLaC".to_vec();
    // The last block of facts, of kind 0, 34 bytes long.
    head.extend([0x80, 0, 0, 34]);
    for _ in 0..2 {
        head.extend((BLOCK as u16).to_be_bytes());
    }
    for bytes in [least, most] {
        head.extend(bytes.to_be_bytes().iter().skip(1));
    }
    let facts = u64::from(shape.rate) << 44
        | u64::from(shape.channels - 1) << 41
        | u64::from(shape.depth.bits() - 1) << 36
        | shape.frames & 0xf_ffff_ffff;
    head.extend(facts.to_be_bytes());
    head.extend(sum);
    head
}

fn failed(fault: impl std::fmt::Display) -> io::Error {
    io::Error::other(fault.to_string())
}
