//! WAVE: the head of a file whose length is known, and its samples.

use super::{Depth, Shape};

const FLOAT: u16 = 3;
const EXTENSIBLE: u16 = 0xfffe;
/// What every subformat ends with.
const SUBFORMAT: [u8; 14] = [
    0x00, 0x00, 0x00, 0x00, 0x10, 0x00, 0x80, 0x00, 0x00, 0xaa, 0x00, 0x38, 0x9b, 0x71,
];

fn data_bytes(shape: &Shape) -> u32 {
    let bytes = shape.frames * u64::from(shape.channels) * u64::from(shape.depth.bits() / 8);
    u32::try_from(bytes).unwrap_or(u32::MAX)
}

/// Whether a byte has to be added at the end.
pub(super) fn is_odd(shape: &Shape) -> bool {
    data_bytes(shape) % 2 == 1
}

/// Everything before the samples. The extensible form, which more than 16 bits and more than two channels ask for;
/// channels are left, right and, as three
/// channels of FLAC are too, centre.
pub(super) fn head(shape: &Shape) -> Vec<u8> {
    let bits = shape.depth.bits();
    let frame = shape.channels * (bits / 8);
    let code = if shape.depth == Depth::Float {
        FLOAT
    } else {
        1
    };
    let mut format = Vec::new();
    format.extend(EXTENSIBLE.to_le_bytes());
    format.extend(shape.channels.to_le_bytes());
    format.extend(shape.rate.to_le_bytes());
    format.extend((shape.rate * u32::from(frame)).to_le_bytes());
    format.extend(frame.to_le_bytes());
    format.extend(bits.to_le_bytes());
    format.extend(22_u16.to_le_bytes());
    format.extend(bits.to_le_bytes());
    let mask = (1_u32 << shape.channels) - 1;
    format.extend(mask.to_le_bytes());
    format.extend(code.to_le_bytes());
    format.extend(SUBFORMAT);
    let mut chunks = chunk(b"fmt ", &format);
    let frames = u32::try_from(shape.frames).unwrap_or(u32::MAX);
    chunks.extend(chunk(b"fact", &frames.to_le_bytes()));
    chunks.extend(b"data");
    chunks.extend(data_bytes(shape).to_le_bytes());
    let rest = chunks.len() as u32 + 4;
    let whole = rest
        .saturating_add(data_bytes(shape))
        .saturating_add(u32::from(is_odd(shape)));
    let mut head = b"RIFF".to_vec();
    head.extend(whole.to_le_bytes());
    head.extend(b"WAVE");
    head.extend(chunks);
    head
}

fn chunk(name: &[u8; 4], bytes: &[u8]) -> Vec<u8> {
    let mut chunk = name.to_vec();
    chunk.extend((bytes.len() as u32).to_le_bytes());
    chunk.extend(bytes);
    chunk
}

/// Samples of `BYTES` bytes each, little end first.
pub(super) fn put<const BYTES: usize>(samples: &[i32], to: &mut Vec<u8>) {
    let from = to.len();
    to.resize(from + samples.len() * BYTES, 0);
    let places = to[from..].as_chunks_mut::<BYTES>().0;
    for (place, sample) in places.iter_mut().zip(samples) {
        place.copy_from_slice(&sample.to_le_bytes()[..BYTES]);
    }
}
