//! A limiter that sees ahead: what leaves it peaks no higher than a ceiling, between samples too.
//!
//! Where nothing is too high every sample leaves as it came, bit for bit.

use std::collections::VecDeque;

use crate::sound::peak::{Between, TAPS};
use crate::units::{Gain, Span};

/// How long before a peak the gain begins to go down.
const AHEAD: Span = Span::from_ms(5);
/// How long it takes to come up again to a third of the way.
const RELEASE: Span = Span::from_ms(80);
/// What is too high is brought this far below the ceiling: the moving gain and the rounding of samples add to it.
const MARGIN: Gain = Gain::from_db(0.1);
/// No more than this above the ceiling is rounding: a track brought up to it leaves as it came.
const ROUNDING: Gain = Gain::from_db(0.001);
/// Reductions are whole numbers of this part, so that sums of them come to nothing again.
const ONE: f64 = (1_u64 << 32) as f64;
/// Frames that leave together as they came, if none of them is too high.
const PART: usize = 256;

/// The limiter, for two channels.
pub struct Limiter {
    /// What is no higher leaves as it came.
    ceiling: f32,
    /// How high the rest may go.
    target: f32,
    between: Between,
    gain: GainDown,
    /// What has come in and not gone out, and before it the frames the filter rests on.
    held: [Vec<f32>; 2],
    /// Frames of it that have been looked at and have not gone out.
    waiting: usize,
    /// How high the frames just taken go.
    crests: Vec<f32>,
    lowest: f32,
}

impl Limiter {
    /// A limiter at `rate` frames a second that takes `most` frames at once without asking for memory.
    pub fn new(rate: u32, ceiling: Gain, most: usize) -> Limiter {
        let gain = GainDown::new(rate);
        let room = gain.ahead + 2 * TAPS + most;
        let mut limiter = Limiter {
            ceiling: (ceiling + ROUNDING).amplitude() as f32,
            target: (ceiling - MARGIN).amplitude() as f32,
            between: Between::new(rate),
            gain,
            held: [(); 2].map(|()| Vec::with_capacity(room)),
            waiting: 0,
            crests: Vec::with_capacity(room),
            lowest: 1.0,
        };
        limiter.clear();
        limiter
    }

    /// Forgets what has come in.
    pub fn clear(&mut self) {
        self.gain.clear();
        for held in &mut self.held {
            held.clear();
            held.resize(TAPS / 2 - 1, 0.0);
        }
        self.waiting = 0;
    }

    /// How many frames have to come in before the first goes out.
    pub fn lag(&self) -> usize {
        self.delay() + TAPS / 2
    }

    /// The lowest gain since this was last asked.
    pub fn take_lowest(&mut self) -> Gain {
        let lowest = std::mem::replace(&mut self.lowest, 1.0);
        Gain::from_db(20.0 * f64::from(lowest).log10())
    }

    /// Takes frames of two channels; adds those that are ready behind `out`.
    pub fn process(&mut self, samples: &[f32], out: &mut Vec<f32>) {
        for (channel, held) in self.held.iter_mut().enumerate() {
            held.extend(
                samples
                    .as_chunks::<2>()
                    .0
                    .iter()
                    .map(|frame| frame[channel]),
            );
        }
        self.look(out);
    }

    /// Adds the rest.
    pub fn finish(&mut self, out: &mut Vec<f32>) {
        let before = (self.held[0].len() - (TAPS / 2 - 1)) * 2;
        let wanted = out.len() + before;
        let silence = vec![0.0; (self.delay() + TAPS) * 2];
        self.process(&silence, out);
        out.truncate(wanted);
    }

    /// Frames between what is looked at and what goes out: the look-ahead, and the filter's reach after it, for
    /// samples beside a peak carry it too.
    fn delay(&self) -> usize {
        self.gain.ahead + TAPS / 2
    }

    /// Looks at every frame that has all the filter rests on, and lets out what is far enough behind.
    fn look(&mut self, out: &mut Vec<f32>) {
        let ready = self.held[0].len().saturating_sub(self.waiting + TAPS - 1);
        let mut crests = std::mem::take(&mut self.crests);
        crests.clear();
        crests.resize(ready, 0.0);
        for held in &self.held {
            let around = &held[self.waiting..];
            self.between.look(around, self.ceiling, |i, value| {
                crests[i] = crests[i].max(value);
                self.ceiling
            });
        }
        let mut gone = 0;
        for crests in crests.chunks(PART) {
            if self.gain.is_full() && crests.iter().all(|crest| *crest <= self.ceiling) {
                self.gain.stay(crests.len());
                let count = (self.waiting + crests.len()).saturating_sub(self.delay());
                self.let_out(gone..gone + count, 1.0, out);
                self.waiting += crests.len() - count;
                gone += count;
                continue;
            }
            for crest in crests {
                let gain = self.gain.after(self.reduction(*crest));
                self.waiting += 1;
                if self.waiting > self.delay() {
                    self.lowest = self.lowest.min(gain);
                    self.let_out(gone..gone + 1, gain, out);
                    self.waiting -= 1;
                    gone += 1;
                }
            }
        }
        for held in &mut self.held {
            held.drain(..gone);
        }
        self.crests = crests;
    }

    /// How much has to be taken off, in parts of [`ONE`].
    fn reduction(&self, crest: f32) -> u64 {
        if crest > self.ceiling {
            ((1.0 - f64::from(self.target / crest)) * ONE).ceil() as u64
        } else {
            0
        }
    }

    /// Lets out frames, counted from the first that has not gone out.
    fn let_out(&self, frames: std::ops::Range<usize>, gain: f32, out: &mut Vec<f32>) {
        let places = frames.start + TAPS / 2 - 1..frames.end + TAPS / 2 - 1;
        let [left, right] = &self.held;
        let frames = left[places.clone()].iter().zip(&right[places]);
        let before = out.len();
        out.resize(before + 2 * frames.len(), 0.0);
        let fresh = out[before..].as_chunks_mut::<2>().0.iter_mut();
        for (fresh, (left, right)) in fresh.zip(frames) {
            *fresh = [left * gain, right * gain];
        }
    }
}

/// The gain from frame to frame: down in time for every peak, and up again slowly.
struct GainDown {
    /// Frames of the look-ahead.
    ahead: usize,
    /// Reductions of the newest frames, for the highest within reach: `(frame, reduction)`, falling.
    reach: VecDeque<(u64, u64)>,
    /// The last reductions, held and released, whose mean is taken.
    mean: VecDeque<u64>,
    sum: u64,
    released: u64,
    /// How much of a reduction is left a frame later, in parts of [`ONE`].
    decay: u64,
    /// Frames so far.
    seen: u64,
}

impl GainDown {
    fn new(rate: u32) -> GainDown {
        let frames = |span: Span| (span.s() * f64::from(rate)).round().max(1.0);
        let ahead = frames(AHEAD) as usize;
        GainDown {
            ahead,
            reach: VecDeque::with_capacity(ahead + TAPS + 2),
            mean: VecDeque::with_capacity(ahead + 1),
            sum: 0,
            released: 0,
            decay: ((-1.0 / frames(RELEASE)).exp() * ONE) as u64,
            seen: 0,
        }
    }

    /// Forgets what it has seen.
    fn clear(&mut self) {
        self.reach.clear();
        self.mean.clear();
        self.mean.extend(std::iter::repeat_n(0, self.ahead));
        (self.sum, self.released, self.seen) = (0, 0, 0);
    }

    /// Whether nothing is taken off, nor will be for what has been seen.
    fn is_full(&self) -> bool {
        self.sum == 0
            && self.released == 0
            && self.reach.iter().all(|(_, reduction)| *reduction == 0)
    }

    /// Goes on over frames of which nothing has to be taken off, when it is full.
    fn stay(&mut self, frames: usize) {
        self.reach.clear();
        self.seen += frames as u64;
    }

    /// The gain once one more frame has been seen, of which so much has to be taken off.
    fn after(&mut self, reduction: u64) -> f32 {
        while self.reach.back().is_some_and(|(_, r)| *r <= reduction) {
            self.reach.pop_back();
        }
        self.reach.push_back((self.seen, reduction));
        let oldest = (self.seen + 1).saturating_sub((self.ahead + TAPS) as u64);
        while self.reach.front().is_some_and(|(frame, _)| *frame < oldest) {
            self.reach.pop_front();
        }
        self.seen += 1;
        let highest = self.reach.front().map_or(0, |(_, reduction)| *reduction);
        self.released =
            highest.max(((u128::from(self.released) * u128::from(self.decay)) >> 32) as u64);
        self.sum += self.released;
        self.mean.push_back(self.released);
        self.sum -= self.mean.pop_front().unwrap_or(0);
        (1.0 - self.sum as f64 / (self.ahead as f64 * ONE)) as f32
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sound::{CEILING, Pcm, gain_to, gauge};
    use crate::units::Loudness;

    const RATE: u32 = 48_000;

    fn limited(samples: &[f32], bit: usize) -> Vec<f32> {
        let mut limiter = Limiter::new(RATE, CEILING, bit);
        let mut out = Vec::new();
        samples
            .chunks(2 * bit)
            .for_each(|bit| limiter.process(bit, &mut out));
        limiter.finish(&mut out);
        out
    }

    fn noise(level: f32) -> Vec<f32> {
        let mut x = 1_u32;
        let mut next = || {
            x = x.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            level * ((x >> 8) as f32 / (1 << 23) as f32 - 1.0)
        };
        (0..RATE * 4).map(|_| next()).collect()
    }

    #[test]
    fn what_is_low_enough_leaves_as_it_came() {
        let soft = noise(0.3);
        assert_eq!(limited(&soft, 441), soft);
    }

    #[test]
    fn a_track_brought_up_to_the_ceiling_leaves_as_it_came() {
        let pcm = |samples| Pcm {
            rate: RATE,
            channels: 2,
            samples,
        };
        let gain = gain_to(
            &gauge(&pcm(noise(0.3))),
            Some(Loudness::from_lufs(0.0)),
            Gain::ZERO,
        );
        let gain = gain.amplitude() as f32;
        let high: Vec<f32> = noise(0.3).iter().map(|x| x * gain).collect();
        let peak = gauge(&pcm(high.clone())).true_peak.expect("a peak").db();
        assert!((peak - CEILING.db()).abs() < 1e-3, "{peak}");
        assert_eq!(limited(&high, 441), high);
    }

    #[test]
    fn it_is_the_same_however_it_is_fed() {
        let loud = noise(1.3);
        assert_eq!(limited(&loud, 37), limited(&loud, 10_000));
    }

    #[test]
    fn nothing_peaks_above_the_ceiling_and_what_follows_comes_back_whole() {
        let mut samples = noise(2.5);
        let soft = noise(0.2);
        samples.extend_from_slice(&soft);
        let out = limited(&samples, 480);
        assert_eq!(out.len(), samples.len());
        let tail = soft.len() - RATE as usize;
        let end = out.len() - tail;
        let differ = out[end..]
            .iter()
            .zip(&soft[soft.len() - tail..])
            .filter(|(a, b)| a != b);
        // A reduction dies away by 80 ms again and again: the last of it is gone within 32 bits of that.
        assert!(differ.count() < 2 * RATE as usize * 2);
        assert_eq!(out[out.len() - 100..], soft[soft.len() - 100..]);
        let peak = gauge(&Pcm {
            rate: RATE,
            channels: 2,
            samples: out,
        })
        .true_peak;
        let peak = peak.expect("a peak").db();
        assert!((-1.6..=-1.0).contains(&peak), "{peak}");
    }
}
