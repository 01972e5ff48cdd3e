//! The packets of a file's track, in order.

use std::io::ErrorKind;

use symphonia::core::errors::Error;
use symphonia::core::packet::Packet;
use symphonia::core::units::TimeBase;

use super::super::fault::{Problem, SoundError};
use super::super::guard::guarded;
use super::Decoder;
use super::coder::Piece;

/// Packets in a row that cannot be read before the rest is given up.
const LOST: u32 = 64;
/// Seconds that can be missing in one place; more is a wrong time.
const LONGEST_GAP: u64 = 10;

impl Decoder {
    /// The next packet of the track, and what is missing before it; `None` at the end.
    pub(super) fn next_piece(&mut self) -> Result<Option<Piece>, SoundError> {
        let mut failures = 0;
        while !self.ended {
            let next =
                guarded(|| self.format.next_packet()).map_err(|problem| self.fail(problem))?;
            match next {
                Ok(Some(packet)) if packet.track_id == self.track => {
                    let gap = self.gap_before(&packet);
                    return Ok(Some(Piece { gap, packet }));
                }
                Ok(Some(_)) => {}
                Ok(None) => self.ended = true,
                Err(Error::IoError(error)) if error.kind() == ErrorKind::UnexpectedEof => {
                    self.ended = true;
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
        }
        Ok(None)
    }

    /// Frames that the container lost before a packet, where ticks are frames.
    fn gap_before(&mut self, packet: &Packet) -> u64 {
        let gap = self
            .reached
            .replace(packet.pts.saturating_add(packet.block_dur()))
            .and_then(|reached| packet.pts.duration_from(reached))
            .map_or(0, |gap| gap.get());
        let believed = gap <= LONGEST_GAP * u64::from(self.rate)
            && self.base == TimeBase::try_from_recip(self.rate);
        if believed { gap } else { 0 }
    }
}
