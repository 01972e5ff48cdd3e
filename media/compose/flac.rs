//! The file: mono FLAC.

use flacenc::bitsink::ByteSink;
use flacenc::component::BitRepr;
use flacenc::config::Encoder;
use flacenc::error::Verify;
use flacenc::source::MemSource;

use super::wave::{BITS, RATE};

/// Longest predictor the encoder offers: these tracks are mostly partials, which it foretells well.
const PREDICTOR: usize = 24;
/// Samples a block: long enough for the chords, short enough for the drums. It divides every track's length, since the
/// encoder calls a stream with a short last block one of varying blocks, which stricter readers then refuse.
const BLOCK: usize = 3200;

/// The bytes of a FLAC file holding `samples`.
pub fn encode(samples: &[i32]) -> Result<Vec<u8>, String> {
    let mut config = Encoder::default();
    config.block_size = BLOCK;
    config.subframe_coding.qlpc.lpc_order = PREDICTOR;
    config.subframe_coding.qlpc.quant_precision = 12;
    let config = config
        .into_verified()
        .map_err(|(_, fault)| fault.to_string())?;
    let source = MemSource::from_samples(samples, 1, BITS, RATE as usize);
    let stream = flacenc::encode_with_fixed_block_size(&config, source, config.block_size)
        .map_err(|fault| fault.to_string())?;
    let mut sink = ByteSink::new();
    stream.write(&mut sink).map_err(|fault| fault.to_string())?;
    Ok(sink.as_slice().to_vec())
}
