//! Where a step leads, and what is nearest: frames, beats, bar lines, beginnings.

use super::{Spotting, Step};
use crate::units::Span;

impl Spotting {
    /// The place so many steps from another; `None` for a beat where there are none.
    pub(super) fn moved(&self, at: Span, steps: i32) -> Option<Span> {
        let moved = self.later(at, steps, at)?.max(Span::ZERO);
        if self.step == Step::Frame && moved > self.length {
            let last = (self.length.s() * f64::from(self.rate)).floor();
            return Some(Span::from_s(last / f64::from(self.rate)));
        }
        Some(moved.min(self.length))
    }

    /// A time so many steps later, a beat or a bar as long as those around a place; `None` where there are none.
    /// Microseconds are finer than frames, so that what is moved by frames is always on one.
    pub(super) fn later(&self, time: Span, steps: i32, place: Span) -> Option<Span> {
        let by = match self.step {
            Step::Frame => {
                let rate = f64::from(self.rate);
                let frame = (time.s() * rate).round() + f64::from(steps);
                return Some(Span::from_s(frame / rate));
            }
            Step::Hundredth => Span::from_ms(10),
            Step::Beat => self.beat_at(place)?,
            Step::Bar => self.bar_at(place)?,
        };
        Some(time + Span::from_us(by.us().saturating_mul(i64::from(steps))))
    }

    /// How long the beat around a place is: as the document says, else as was found.
    fn beat_at(&self, at: Span) -> Option<Span> {
        if let Some(beat) = self.track().and_then(|track| track.bars?.beat) {
            return Some(beat);
        }
        let pulse = &self.landmarks.as_ref()?.pulse;
        length_around(&pulse.beats, at)
    }

    /// How long the bar around a place is: as the document says, else as was found.
    fn bar_at(&self, at: Span) -> Option<Span> {
        if let Some(bars) = self.track().and_then(|track| track.bars) {
            return Some(bars.length);
        }
        length_around(&self.landmarks.as_ref()?.pulse.downbeats, at)
    }

    /// Puts the playhead on the nearest beginning of a sound.
    pub fn snap_to_onset(&mut self) {
        let onsets = self.landmarks.as_ref().map(|found| found.onsets.as_slice());
        self.snap(
            onsets.and_then(|onsets| nearest(onsets, self.playhead)),
            "no sound begins here",
        );
    }

    /// Puts the playhead on the nearest bar line: as the document says, else as was found.
    pub fn snap_to_bar(&mut self) {
        let stated = self.track().and_then(|track| track.bars).map(|bars| {
            let bar = bars.length.us().max(1);
            let count = (self.playhead - bars.first).us() as f64 / bar as f64;
            bars.first + Span::from_us(bar.saturating_mul((count.round() as i64).max(0)))
        });
        let found = || {
            let downbeats = self.landmarks.as_ref()?.pulse.downbeats.as_slice();
            nearest(downbeats, self.playhead)
        };
        self.snap(stated.or_else(found), "no bars were found here");
    }

    fn snap(&mut self, to: Option<Span>, otherwise: &str) {
        match to {
            Some(to) => {
                let by = to - self.playhead;
                self.go_to(to);
                self.say(format!("the playhead moved by {by}"));
            }
            None if self.landmarks.is_none() => {
                self.complain("the track is still being listened to");
            }
            None => self.complain(otherwise),
        }
    }
}

/// The nearest of places in order.
fn nearest(places: &[Span], at: Span) -> Option<Span> {
    let next = places.partition_point(|place| *place < at);
    let before = next.checked_sub(1).and_then(|before| places.get(before));
    let around = before.into_iter().chain(places.get(next));
    around.copied().min_by_key(|place| (*place - at).abs())
}

/// From the last of places in order to the next; at the ends as far as the nearest two are apart.
fn length_around(places: &[Span], at: Span) -> Option<Span> {
    let next = places.partition_point(|place| *place <= at);
    let next = next.clamp(1, places.len().saturating_sub(1).max(1));
    Some(*places.get(next)? - *places.get(next - 1)?)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn s(s: f64) -> Span {
        Span::from_s(s)
    }

    #[test]
    fn the_nearest_place_and_the_length_around_one_are_found_at_the_ends_too() {
        let places = [s(1.0), s(2.0), s(4.0)];
        for (at, near, length) in [
            (0.0, 1.0, 1.0),
            (1.4, 1.0, 1.0),
            (1.6, 2.0, 1.0),
            (2.5, 2.0, 2.0),
            (9.0, 4.0, 2.0),
        ] {
            assert_eq!(nearest(&places, s(at)), Some(s(near)), "near {at}");
            assert_eq!(
                length_around(&places, s(at)),
                Some(s(length)),
                "around {at}"
            );
        }
        assert_eq!(
            (nearest(&[], s(1.0)), length_around(&[s(1.0)], s(1.0))),
            (None, None)
        );
    }
}
