//! Where the voices are, published by the audio callback without waiting for anyone.

use std::sync::atomic::{AtomicI64, AtomicU32, AtomicU64, Ordering, fence};

use super::clock::Monotonic;
use crate::units::{Gain, Span};

/// How many voices there can be at once.
pub(super) const VOICES: usize = 32;

/// Where a sounding voice is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Playhead {
    /// The voice's number.
    pub voice: u32,
    /// The place in the track that is heard now.
    pub position: Span,
    /// Its peak on the way out, in dBFS, falling 20 dB in 1.5 s; −120 dB when silent.
    pub level: Gain,
}

/// What the callback publishes of a voice.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Heard {
    pub voice: u32,
    /// When the beginning of the track was, or would have been, heard.
    pub zero: Monotonic,
    /// Where the track ends, in nanoseconds.
    pub end_ns: i64,
    /// Peak, full scale 1.
    pub level: f32,
}

/// One voice's place on the board. The count is odd while it is being written, and differs after:
/// a reader who saw it change reads again.
#[derive(Debug, Default)]
struct Slot {
    count: AtomicU32,
    sounding: AtomicU32,
    voice: AtomicU32,
    level: AtomicU32,
    zero: AtomicI64,
    end_ns: AtomicI64,
}

/// The board: one writer, any number of readers.
#[derive(Debug, Default)]
pub struct Board {
    slots: [Slot; VOICES],
    refused: AtomicU64,
    starved: AtomicU64,
    /// Programme peaks since they were last taken, as the bits of an `f32`: not negative, so the bits
    /// are in the order of the numbers.
    peaks: [AtomicU32; 2],
    /// How far the programme was taken down, dB, in the same way.
    held: AtomicU32,
}

impl Board {
    /// Notes the programme's peaks, full scale 1.
    pub(super) fn meter(&self, peaks: [f32; 2]) {
        for (kept, peak) in self.peaks.iter().zip(peaks) {
            kept.fetch_max(peak.max(0.0).to_bits(), Ordering::Relaxed);
        }
    }

    /// Notes how far the programme was taken down to stay below its ceiling.
    pub(super) fn hold(&self, by: Gain) {
        let bits = (by.db() as f32).max(0.0).to_bits();
        self.held.fetch_max(bits, Ordering::Relaxed);
    }

    /// How far that was at most since this was last asked.
    pub fn take_held(&self) -> Gain {
        Gain::from_db(f32::from_bits(self.held.swap(0, Ordering::Relaxed)).into())
    }

    /// The programme's peaks since this was last asked, in dBFS; −120 dB when silent.
    pub fn take_meters(&self) -> [Gain; 2] {
        [0, 1].map(|channel| {
            let peak = f32::from_bits(self.peaks[channel].swap(0, Ordering::Relaxed));
            Gain::from_db((20.0 * f64::from(peak).log10()).max(-120.0))
        })
    }

    /// Publishes voice slot `index`; `None` when nothing sounds there.
    pub(super) fn publish(&self, index: usize, heard: Option<Heard>) {
        let Some(slot) = self.slots.get(index) else {
            return;
        };
        let count = slot.count.load(Ordering::Relaxed);
        slot.count.store(count.wrapping_add(1), Ordering::Relaxed);
        fence(Ordering::Release);
        slot.sounding
            .store(u32::from(heard.is_some()), Ordering::Relaxed);
        if let Some(heard) = heard {
            slot.voice.store(heard.voice, Ordering::Relaxed);
            slot.level.store(heard.level.to_bits(), Ordering::Relaxed);
            slot.zero.store(heard.zero.ns(), Ordering::Relaxed);
            slot.end_ns.store(heard.end_ns, Ordering::Relaxed);
        }
        slot.count.store(count.wrapping_add(2), Ordering::Release);
    }

    /// Counts a start that found no free voice.
    pub(super) fn refuse(&self) {
        self.refused.fetch_add(1, Ordering::Relaxed);
    }

    /// Counts a stretch of sound for which a voice's own was not rendered in time.
    pub(super) fn starve(&self) {
        self.starved.fetch_add(1, Ordering::Relaxed);
    }

    /// How often that was so.
    pub(super) fn starved(&self) -> u64 {
        self.starved.load(Ordering::Relaxed)
    }

    /// How many starts found no free voice.
    pub(super) fn refused(&self) -> u64 {
        self.refused.load(Ordering::Relaxed)
    }

    /// Every sounding voice as it is at `now`.
    pub fn playheads(&self, now: Monotonic) -> Vec<Playhead> {
        let heard = self.slots.iter().filter_map(Slot::read);
        heard.map(|heard| heard.playhead(now)).collect()
    }
}

impl Slot {
    fn read(&self) -> Option<Heard> {
        loop {
            let count = self.count.load(Ordering::Acquire);
            let sounding = self.sounding.load(Ordering::Relaxed) == 1;
            let heard = Heard {
                voice: self.voice.load(Ordering::Relaxed),
                zero: Monotonic::from_ns(self.zero.load(Ordering::Relaxed)),
                end_ns: self.end_ns.load(Ordering::Relaxed),
                level: f32::from_bits(self.level.load(Ordering::Relaxed)),
            };
            fence(Ordering::Acquire);
            if count.is_multiple_of(2) && self.count.load(Ordering::Relaxed) == count {
                return sounding.then_some(heard);
            }
            std::hint::spin_loop();
        }
    }
}

impl Heard {
    fn playhead(&self, now: Monotonic) -> Playhead {
        let position = (now.ns() - self.zero.ns()).clamp(0, self.end_ns.max(0));
        Playhead {
            voice: self.voice,
            position: Span::from_us(position / 1_000),
            level: Gain::from_db(20.0 * f64::from(self.level.max(1e-6)).log10()),
        }
    }
}
