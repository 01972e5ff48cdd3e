//! Which device frame is heard when: the device's frame count against the monotonic clock.
//!
//! Each callback of an audio device offers one observation: frame `f` will be heard at instant `t`.
//! They cannot be trusted one by one. The first few, while the device fills its buffer, are wrong;
//! a wrong one too far ahead makes the next ones stick to it, since backends never let the reported
//! instant go backwards; an underrun moves every later frame. So a [`FrameClock`] takes the median
//! of the latest ones about a device that runs at its nominal rate: over its window of well under
//! two seconds a device 100 parts in a million off moves the median by less than 0.1 ms.

use std::ops::{Add, Sub};

use crate::units::Span;

const NS_PER_S: i128 = 1_000_000_000;

/// An instant on this machine's monotonic clock (`CLOCK_MONOTONIC`), in nanoseconds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Monotonic(i64);

impl Monotonic {
    /// The present instant.
    pub fn now() -> Self {
        let now = rustix::time::clock_gettime(rustix::time::ClockId::Monotonic);
        Monotonic(now.tv_sec * 1_000_000_000 + now.tv_nsec)
    }

    /// The instant `ns` nanoseconds after the clock's own zero.
    pub const fn from_ns(ns: i64) -> Self {
        Monotonic(ns)
    }

    /// Nanoseconds after the clock's own zero.
    pub const fn ns(self) -> i64 {
        self.0
    }
}

impl Add<Span> for Monotonic {
    type Output = Monotonic;
    fn add(self, span: Span) -> Monotonic {
        Monotonic(self.0.saturating_add(span.us().saturating_mul(1_000)))
    }
}

impl Sub<Span> for Monotonic {
    type Output = Monotonic;
    fn sub(self, span: Span) -> Monotonic {
        self + -span
    }
}

impl Sub for Monotonic {
    type Output = Span;
    fn sub(self, earlier: Monotonic) -> Span {
        Span::from_us(self.0.saturating_sub(earlier.0).div_euclid(1_000))
    }
}

/// How many observations the median is taken over.
const WINDOW: usize = 31;
/// How many are ignored after opening: they are made while the device fills its buffer.
const PRIMING: u32 = 3;
/// How many are needed before the clock is believed; two of them may be wrong.
const NEEDED: usize = 5;
/// An observation this far from the median is not taken into it, in nanoseconds.
const ASTRAY: i64 = 3_000_000;
/// This many in a row, astray but agreeing with each other, mean that the device jumped.
const JUMP: usize = 6;

/// The filtered mapping between a device's frames and the monotonic clock.
#[derive(Debug, Clone)]
pub struct FrameClock {
    rate: u32,
    ignore: u32,
    window: Offsets<WINDOW>,
    astray: Offsets<JUMP>,
    last: Option<(i64, Monotonic)>,
    /// The instant of frame 0, in nanoseconds.
    zero: Option<i64>,
    slipped: i64,
}

impl FrameClock {
    /// A clock that has seen nothing yet, of a device that plays `rate` frames a second.
    pub fn new(rate: u32) -> Self {
        FrameClock {
            rate: rate.max(1),
            ignore: PRIMING,
            window: Offsets::default(),
            astray: Offsets::default(),
            last: None,
            zero: None,
            slipped: 0,
        }
    }

    /// The clock of a perfect device whose frame 0 is heard at `zero`.
    pub fn perfect(rate: u32, zero: Monotonic) -> Self {
        FrameClock {
            zero: Some(zero.ns()),
            ..FrameClock::new(rate)
        }
    }

    /// Takes one observation: `frame` is going to be heard at `heard`.
    pub fn offer(&mut self, frame: i64, heard: Monotonic) {
        let stuck = self.is_stuck(frame, heard);
        self.last = Some((frame, heard));
        if self.ignore > 0 {
            self.ignore -= 1;
            return;
        }
        if stuck {
            return;
        }
        let offset = heard.ns() - self.length_ns(frame);
        match self.zero {
            Some(zero) if (offset - zero).abs() > ASTRAY => self.wander(offset),
            _ => {
                self.astray = Offsets::default();
                self.window.push(offset);
                if self.zero.is_some() || self.window.filled >= NEEDED {
                    self.zero = self.window.median();
                }
            }
        }
    }

    /// The device lost frames: what was observed before says nothing about what comes.
    /// The old mapping serves until the new one is found.
    pub fn interrupted(&mut self) {
        self.window = Offsets::default();
        self.astray = Offsets::default();
    }

    /// Whether enough has been observed to believe it.
    pub fn is_set(&self) -> bool {
        self.zero.is_some()
    }

    /// When `frame` is heard, once the clock is set.
    pub fn heard(&self, frame: i64) -> Option<Monotonic> {
        self.zero
            .map(|zero| Monotonic(zero + self.length_ns(frame)))
    }

    /// The frame heard at `instant`, to the nearest, once the clock is set.
    pub fn frame(&self, instant: Monotonic) -> Option<i64> {
        let since = i128::from(instant.ns()) - i128::from(self.zero?);
        let scaled = since * i128::from(self.rate);
        Some((scaled + NS_PER_S / 2).div_euclid(NS_PER_S) as i64)
    }

    /// How much later frames are heard than when it was first set, by all the device's jumps; drift is
    /// not in it. In nanoseconds.
    pub fn slipped_ns(&self) -> i64 {
        self.slipped
    }

    /// How long `frames` frames take, in nanoseconds.
    fn length_ns(&self, frames: i64) -> i64 {
        (i128::from(frames) * NS_PER_S).div_euclid(i128::from(self.rate)) as i64
    }

    /// Whether the reported instant went on by less than half of what the frames take.
    fn is_stuck(&self, frame: i64, heard: Monotonic) -> bool {
        self.last.is_some_and(|(last_frame, last_heard)| {
            heard.ns() - last_heard.ns() < self.length_ns(frame - last_frame) / 2
        })
    }

    /// Takes an observation that contradicts the mapping, and believes it after enough of its like.
    fn wander(&mut self, offset: i64) {
        self.astray.push(offset);
        if self.astray.filled == JUMP && self.astray.spread() <= ASTRAY {
            self.window = Offsets::default();
            for offset in self.astray.values {
                self.window.push(offset);
            }
            let before = self.zero;
            self.zero = self.window.median();
            self.slipped += self.zero.unwrap_or(0) - before.unwrap_or(0);
            self.astray = Offsets::default();
        }
    }
}

/// The latest `N` offsets, in nanoseconds.
#[derive(Debug, Clone)]
struct Offsets<const N: usize> {
    values: [i64; N],
    filled: usize,
    next: usize,
}

impl<const N: usize> Default for Offsets<N> {
    fn default() -> Self {
        Offsets {
            values: [0; N],
            filled: 0,
            next: 0,
        }
    }
}

impl<const N: usize> Offsets<N> {
    fn push(&mut self, offset: i64) {
        self.values[self.next] = offset;
        self.next = (self.next + 1) % N;
        self.filled = (self.filled + 1).min(N);
    }

    fn median(&self) -> Option<i64> {
        let mut sorted = self.values;
        let sorted = &mut sorted[..self.filled];
        sorted.sort_unstable();
        sorted.get(self.filled / 2).copied()
    }

    fn spread(&self) -> i64 {
        let filled = self.values[..self.filled].iter();
        let highest = filled.clone().max().copied().unwrap_or(0);
        highest - filled.min().copied().unwrap_or(0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE: u32 = 48_000;
    const PERIOD: i64 = 1_024;
    /// When the device of these tests plays frame 0: a boot two weeks ago.
    const ZERO: i64 = 1_209_600_000_000_000;

    fn ms(ms: f64) -> i64 {
        (ms * 1e6) as i64
    }

    /// When a perfect device plays callback `k`'s first frame, in nanoseconds.
    fn truth(k: i64) -> i64 {
        ZERO + (i128::from(k * PERIOD) * NS_PER_S / i128::from(RATE)) as i64
    }

    fn offer(clock: &mut FrameClock, k: i64, error: i64) {
        clock.offer(k * PERIOD, Monotonic::from_ns(truth(k) + error));
    }

    /// How far the clock is off for the first frame of callback `k`, in nanoseconds.
    fn off(clock: &FrameClock, k: i64) -> i64 {
        clock.heard(k * PERIOD).expect("set").ns() - truth(k)
    }

    /// Jitter within ±1 ms that repeats without a pattern of its own.
    fn jitter(k: i64) -> i64 {
        (k * 7_919 % 2_001 - 1_000) * 1_000
    }

    #[test]
    fn the_first_three_wrong_and_a_gap_do_no_harm() {
        let mut clock = FrameClock::new(RATE);
        for (k, error) in [(0, -40.0), (1, -20.0), (2, 300.0)] {
            offer(&mut clock, k, ms(error));
        }
        assert!(!clock.is_set());
        for k in 3..40 {
            offer(&mut clock, k + 20, jitter(k));
        }
        assert!(off(&clock, 60).abs() < ms(0.3), "{} ns", off(&clock, 60));
    }

    #[test]
    fn one_bad_high_value_that_sticks_is_coasted_over() {
        let mut clock = FrameClock::new(RATE);
        for k in 0..40 {
            offer(&mut clock, k, jitter(k));
        }
        // The reported instant is 900 ms ahead, and stays there until the true one passes it.
        let stuck = truth(40) + ms(900.0);
        for k in 40..100 {
            let heard = stuck.max(truth(k));
            clock.offer(k * PERIOD, Monotonic::from_ns(heard + k % 3 * 20_000));
            assert!(off(&clock, k).abs() < ms(0.5), "callback {k}");
        }
    }

    #[test]
    fn a_bad_high_value_among_the_first_is_outvoted() {
        let mut clock = FrameClock::new(RATE);
        for k in 0..3 {
            offer(&mut clock, k, ms(-20.0));
        }
        let stuck = truth(3) + ms(200.0);
        for k in 3..60 {
            clock.offer(k * PERIOD, Monotonic::from_ns(stuck.max(truth(k))));
        }
        assert!(off(&clock, 60).abs() < ms(0.1), "{} ns", off(&clock, 60));
    }

    #[test]
    fn an_underrun_is_followed_within_six_callbacks() {
        let mut clock = FrameClock::new(RATE);
        for k in 0..40 {
            offer(&mut clock, k, jitter(k));
        }
        for k in 40..46 {
            offer(&mut clock, k, ms(37.0) + jitter(k) / 4);
        }
        assert!((off(&clock, 46) - ms(37.0)).abs() < ms(0.5));
        assert!((clock.slipped_ns() - ms(37.0)).abs() < ms(0.5));
    }

    #[test]
    fn after_an_interruption_the_old_mapping_serves_until_the_new_is_found() {
        let mut clock = FrameClock::new(RATE);
        for k in 0..40 {
            offer(&mut clock, k, 0);
        }
        clock.interrupted();
        assert_eq!(off(&clock, 40), 0);
        for k in 40..46 {
            offer(&mut clock, k, ms(80.0));
        }
        assert_eq!(off(&clock, 46), ms(80.0));
    }

    #[test]
    fn a_device_off_its_nominal_rate_is_followed_to_a_tenth_of_a_millisecond() {
        let mut clock = FrameClock::new(RATE);
        let slow = |k: i64| (truth(k) - ZERO) / 10_000; // 100 parts in a million
        for k in 0..3_000 {
            offer(&mut clock, k, slow(k));
            if k > 10 {
                let off = off(&clock, k) - slow(k);
                assert!(off.abs() < ms(0.1), "callback {k}: {off} ns");
            }
        }
        assert_eq!(clock.slipped_ns(), 0);
    }

    #[test]
    fn frames_and_instants_convert_both_ways() {
        let clock = FrameClock::perfect(44_100, Monotonic::from_ns(ZERO));
        for frame in [-5, 0, 1, 44_099, 44_100, 381_024_000] {
            let heard = clock.heard(frame).expect("set");
            assert_eq!(clock.frame(heard), Some(frame));
        }
    }
}
