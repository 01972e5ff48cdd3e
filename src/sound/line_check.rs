//! The signal by which a line is checked: a tone on both sides, then left and right told apart by count.

use std::f64::consts::TAU;

use super::Pcm;
use crate::units::{Gain, Span};

/// Alignment level, a sine of 18 dB below full scale (EBU R 68).
const LEVEL: Gain = Gain::from_db(-18.0);
/// How long the tone on both sides is (common practice, no published source).
const TONE: Span = Span::from_ms(2_000);
/// How long a burst is, and the gap after it.
const BURST: Span = Span::from_ms(300);
/// How long it is silent between one thing and the next.
const REST: Span = Span::from_ms(1_000);
/// How long a tone takes to come in and to go out, so that nothing clicks.
const EDGE: Span = Span::from_ms(10);

/// What a part of the signal is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Line {
    /// The tone, on both sides.
    Both,
    /// One burst, left.
    Left,
    /// Two bursts, right.
    Right,
}

/// The signal of a line check.
#[derive(Debug, Clone, PartialEq)]
pub struct LineCheck {
    /// What is heard, on two channels.
    pub pcm: Pcm,
    /// Its parts, each with when it begins.
    pub parts: Vec<(Span, Line)>,
}

/// The signal at `rate` frames a second, its tones `hertz` high.
pub fn line_check(rate: u32, hertz: f64) -> LineCheck {
    let mut pcm = Pcm {
        rate,
        channels: 2,
        samples: Vec::new(),
    };
    let mut parts = Vec::new();
    for (line, sides, lasts, times) in [
        (Line::Both, [1.0, 1.0], TONE, 1),
        (Line::Left, [1.0, 0.0], BURST, 1),
        (Line::Right, [0.0, 1.0], BURST, 2),
    ] {
        parts.push((pcm.duration(), line));
        for _ in 0..times {
            add_tone(&mut pcm, hertz, lasts, sides);
            add_silence(&mut pcm, BURST);
        }
        add_silence(&mut pcm, REST);
    }
    LineCheck { pcm, parts }
}

fn add_tone(pcm: &mut Pcm, hertz: f64, lasts: Span, sides: [f64; 2]) {
    let rate = f64::from(pcm.rate);
    let frames = (lasts.s() * rate) as u32;
    for i in 0..frames {
        let from_edge = f64::from(i.min(frames - 1 - i)) / rate;
        let envelope = (from_edge / EDGE.s()).min(1.0);
        let tone = (TAU * hertz * f64::from(i) / rate).sin();
        let level = LEVEL.amplitude() * envelope * tone;
        pcm.samples.extend(sides.map(|side| (side * level) as f32));
    }
}

fn add_silence(pcm: &mut Pcm, lasts: Span) {
    let frames = (lasts.s() * f64::from(pcm.rate)) as usize;
    let samples = pcm.samples.len() + frames * 2;
    pcm.samples.resize(samples, 0.0);
}

#[cfg(test)]
mod tests {
    use super::*;

    /// How often one side comes up out of 50 ms of silence.
    fn bursts(samples: &[f32], side: usize) -> usize {
        let mut quiet = usize::MAX / 2;
        let mut count = 0;
        for frame in samples.chunks_exact(2) {
            if frame[side].abs() > 0.01 {
                count += usize::from(quiet > 2_400);
                quiet = 0;
            } else {
                quiet += 1;
            }
        }
        count
    }

    #[test]
    fn left_is_one_burst_and_right_are_two_after_a_tone_on_both() {
        let LineCheck { pcm, parts } = line_check(48_000, 1_000.0);
        let lines: Vec<Line> = parts.iter().map(|(_, line)| *line).collect();
        assert_eq!(lines, [Line::Both, Line::Left, Line::Right]);
        let from = |part: usize| (parts[part].0.s() * 48_000.0) as usize * 2;
        let cut = [0, from(1), from(2), pcm.samples.len()];
        let counts = |part: usize| {
            let samples = &pcm.samples[cut[part]..cut[part + 1]];
            [bursts(samples, 0), bursts(samples, 1)]
        };
        assert_eq!([counts(0), counts(1), counts(2)], [[1, 1], [1, 0], [0, 2]]);
        let peak = pcm
            .samples
            .iter()
            .fold(0.0_f32, |peak, x| peak.max(x.abs()));
        assert!((20.0 * peak.log10() + 18.0).abs() < 0.01, "{peak}");
    }
}
