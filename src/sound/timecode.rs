//! Linear timecode (SMPTE ST 12-1): a label for each picture frame, as sound other machines can follow.

use std::fmt;
use std::str::FromStr;

/// Bits in a label's word, and half bits: biphase mark changes at every bit, and within a bit that is one.
const BITS: i64 = 80;
const HALVES: i64 = 2 * BITS;
/// The last 16 bits, in the order they are sent.
const SYNC: u16 = 0b0011_1111_1111_1101;
/// How long an edge takes from one level to the other: 50 µs, 40 µs of it between a tenth and nine tenths
/// (ST 12-1: 40 ± 10 µs; from memory).
const EDGE_S: f64 = 50e-6;
/// The height of the signal: 12 dB below full scale, a line level (common practice, no published source).
const LEVEL: f64 = 0.251_189;

/// How many labels a second, and how they are counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FrameRate {
    /// Film: 24.
    F24,
    /// Television in Europe: 25.
    F25,
    /// 30000/1001, two labels a minute dropped but for every tenth minute, so that labels keep to the clock.
    F2997Drop,
    /// 30.
    F30,
}

impl FrameRate {
    /// Labels counted to a second.
    fn count(self) -> i64 {
        match self {
            FrameRate::F24 => 24,
            FrameRate::F25 => 25,
            FrameRate::F2997Drop | FrameRate::F30 => 30,
        }
    }

    /// Frames a second, as a fraction.
    pub fn per_second(self) -> (i64, i64) {
        match self {
            FrameRate::F2997Drop => (30_000, 1_001),
            other => (other.count(), 1),
        }
    }

    /// Frames in a day of labels.
    fn day(self) -> i64 {
        self.count() * 86_400 - if self.drops() { 2 * (1_440 - 144) } else { 0 }
    }

    fn drops(self) -> bool {
        self == FrameRate::F2997Drop
    }

    /// The number of the frame whose label is that of a full second of the day, counted from midnight. Where that
    /// label is dropped, the next one.
    pub fn frame_of_second(self, second: i64) -> i64 {
        let second = second.rem_euclid(86_400);
        let minute = second / 60;
        let dropped = if self.drops() {
            2 * (minute - minute / 10)
        } else {
            0
        };
        // The first second of a minute begins with its third label.
        let first = self.drops() && minute % 10 != 0 && second % 60 == 0;
        second * self.count() - dropped + if first { 2 } else { 0 }
    }

    /// The label of a frame counted from midnight.
    pub fn label(self, frame: i64) -> Label {
        const TEN_MINUTES: i64 = 17_982;
        let mut frame = frame.rem_euclid(self.day());
        if self.drops() {
            let (tens, rest) = (frame / TEN_MINUTES, frame % TEN_MINUTES);
            // The first minute of ten has 1800 frames, the others 1798.
            let minutes = if rest < 1_800 {
                0
            } else {
                1 + (rest - 1_800) / 1_798
            };
            frame += 2 * (9 * tens + minutes);
        }
        let second = frame / self.count();
        Label {
            hour: (second / 3_600) as u8,
            minute: (second / 60 % 60) as u8,
            second: (second % 60) as u8,
            frame: (frame % self.count()) as u8,
            drop: self.drops(),
        }
    }
}

impl FromStr for FrameRate {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        match text.trim() {
            "24" => Ok(FrameRate::F24),
            "25" => Ok(FrameRate::F25),
            "29.97" => Ok(FrameRate::F2997Drop),
            "30" => Ok(FrameRate::F30),
            _ => Err("write 24, 25, 29.97 (drop frame) or 30".into()),
        }
    }
}

/// The label of a frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Label {
    /// Hour of the day.
    pub hour: u8,
    /// Minute.
    pub minute: u8,
    /// Second.
    pub second: u8,
    /// Frame in the second, from 0.
    pub frame: u8,
    /// Whether labels are dropped.
    pub drop: bool,
}

impl fmt::Display for Label {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Label {
            hour,
            minute,
            second,
            frame,
            drop,
        } = self;
        let mark = if *drop { ';' } else { ':' };
        write!(f, "{hour:02}:{minute:02}:{second:02}{mark}{frame:02}")
    }
}

impl Label {
    /// Its word, bit 0 first; user bits are zero.
    fn word(self, rate: FrameRate) -> u128 {
        let mut word = 0_u128;
        let mut put = |at: u32, value: u8| word |= u128::from(value) << at;
        put(0, self.frame % 10);
        put(8, self.frame / 10);
        put(10, u8::from(self.drop));
        put(16, self.second % 10);
        put(24, self.second / 10);
        put(32, self.minute % 10);
        put(40, self.minute / 10);
        put(48, self.hour % 10);
        put(56, self.hour / 10);
        word |= u128::from(SYNC.reverse_bits()) << 64;
        // Every word has an even number of ones, so that each begins with the same polarity.
        if word.count_ones() % 2 == 1 {
            word |= 1 << if rate == FrameRate::F25 { 59 } else { 27 };
        }
        word
    }
}

/// Timecode as sound.
#[derive(Debug, Clone)]
pub struct Timecode {
    rate: FrameRate,
    /// Samples a second.
    sample_rate: i64,
    /// The frame, counted from midnight, that begins at the instant zero.
    zero: i64,
    /// The sample that is next, counted from that instant.
    next: i64,
    /// The frame whose word was last worked out, and that.
    word: Option<(i64, u128)>,
}

impl Timecode {
    /// Timecode at `sample_rate` whose frame `zero`, counted from midnight, begins at sample 0; the first sample
    /// wanted is `first`, which may be before that.
    pub fn new(rate: FrameRate, sample_rate: u32, zero: i64, first: i64) -> Timecode {
        Timecode {
            rate,
            sample_rate: i64::from(sample_rate.max(1)),
            zero,
            next: first,
            word: None,
        }
    }

    /// The next sample, full scale 1.
    pub fn sample(&mut self) -> f32 {
        let (frames, per) = self.rate.per_second();
        // Half bits since zero: (next / sample rate) · (frames / per) · 160, whole and part.
        let scale = self.sample_rate * per;
        let at = self.next * frames * HALVES;
        let (half, part) = (at.div_euclid(scale), at.rem_euclid(scale));
        self.next += 1;
        let half_s = per as f64 / (frames * HALVES) as f64;
        let since = part as f64 / scale as f64 * half_s;
        let (level, before) = (self.level(half), self.level(half - 1));
        // An edge has its middle where the half bit begins.
        let left = half_s - since;
        let value = if since < EDGE_S / 2.0 {
            before + (level - before) * (0.5 + since / EDGE_S)
        } else if left < EDGE_S / 2.0 {
            let after = self.level(half + 1);
            level + (after - level) * (0.5 - left / EDGE_S)
        } else {
            level
        };
        (value * LEVEL) as f32
    }

    /// 1 or −1: the level of a half bit, counted from zero.
    fn level(&mut self, half: i64) -> f64 {
        let (frame, half) = (half.div_euclid(HALVES), half.rem_euclid(HALVES));
        let word = self.word_of(frame);
        let (bit, second) = (half / 2, half % 2);
        // Every word begins high. Each bit before this one has changed the level twice if it is one, else once.
        let ones = (word & ((1 << bit) - 1)).count_ones();
        let changes = i64::from(ones) + bit + second * (word >> bit & 1) as i64;
        if changes % 2 == 0 { 1.0 } else { -1.0 }
    }

    fn word_of(&mut self, frame: i64) -> u128 {
        match self.word {
            Some((known, word)) if known == frame => word,
            _ => {
                let word = self.rate.label(self.zero + frame).word(self.rate);
                self.word = Some((frame, word));
                word
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ST 12-1's rule: at the start of each minute but 00, 10, 20, 30, 40, 50 the labels 00 and 01 are left out.
    #[test]
    fn two_labels_a_minute_are_dropped_but_for_every_tenth() {
        let rate = FrameRate::F2997Drop;
        for second in [59, 60, 61, 119, 120, 599, 600, 601, 3_600, 71_940, 86_399] {
            let label = rate.label(rate.frame_of_second(second));
            let dropped = second % 60 == 0 && second / 60 % 10 != 0;
            assert_eq!(label.frame, if dropped { 2 } else { 0 }, "{label}");
            let told = i64::from(label.hour) * 3_600
                + i64::from(label.minute) * 60
                + i64::from(label.second);
            assert_eq!(told, second);
        }
        let before = rate.label(rate.frame_of_second(60) - 1);
        assert_eq!(before.to_string(), "00:00:59;29");
        assert_eq!(rate.label(17_982).to_string(), "00:10:00;00");
        assert_eq!(rate.label(-1).to_string(), "23:59:59;29");
        assert_eq!(FrameRate::F25.label(-1).to_string(), "23:59:59:24");
    }

    #[test]
    fn every_word_has_an_even_number_of_ones() {
        for rate in [
            FrameRate::F24,
            FrameRate::F25,
            FrameRate::F2997Drop,
            FrameRate::F30,
        ] {
            for frame in (0..rate.day()).step_by(997) {
                assert_eq!(rate.label(frame).word(rate).count_ones() % 2, 0);
            }
        }
    }
}
