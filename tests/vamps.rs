//! What is proposed to go round, beside a search of the waveform itself: every place of the track is compared with what
//! would be heard at the join, sample by sample, and the best proposal is where that finds it again.

use std::f64::consts::TAU;

use abeam::sound::{Pcm, Vamping, landmarks};

const RATE: u32 = 22_050;
/// The waveform is searched at every so many samples, at this many a second.
const EVERY: usize = 10;
const COARSE: f64 = RATE as f64 / EVERY as f64;
/// How much is compared on each side of a join.
const SIDE_S: f64 = 1.2;
/// A join is heard where it is written to within this.
const NEAR_S: f64 = 0.005;

/// A pseudo-random sequence.
struct Dice(u32);

impl Dice {
    /// From −1 to 1.
    fn roll(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        f64::from(self.0 >> 8) / f64::from(1 << 23) - 1.0
    }
}

/// A piece with a bar of its own for each letter, of so many beats: a struck beat, stronger at the bar, and a tune and
/// a chord that no other letter has. Each bar is performed again with a hiss of its own.
struct Piece {
    letters: &'static str,
    beats: usize,
    bpm: f64,
}

impl Piece {
    fn beat_s(&self) -> f64 {
        60.0 / self.bpm
    }

    fn bar_s(&self) -> f64 {
        self.beat_s() * self.beats as f64
    }

    fn bar(&self, letter: u8) -> Vec<f64> {
        let mut dice = Dice(u32::from(letter) * 7_919 + 13);
        let mut samples = vec![0.0; (self.bar_s() * f64::from(RATE)).round() as usize];
        let mut add = |from: f64, last: f64, voice: &mut dyn FnMut(f64) -> f64| {
            let first = (from * f64::from(RATE)).round() as usize;
            let count = (last * f64::from(RATE)) as usize;
            for (i, sample) in samples.iter_mut().skip(first).take(count).enumerate() {
                *sample += voice(i as f64 / f64::from(RATE));
            }
        };
        let root = 110.0 * 2_f64.powf((f64::from(letter) * 5.0 % 12.0) / 12.0);
        for third in [1.0, 1.25, 1.5] {
            add(0.0, self.bar_s(), &mut |t| {
                0.05 * (TAU * root * third * t).sin()
            });
        }
        for beat in 0..self.beats {
            let at = beat as f64 * self.beat_s();
            let strong = if beat == 0 { 0.5 } else { 0.25 };
            add(at, 0.2, &mut |t| strong * dice.roll() * (-t / 0.03).exp());
            let step = (dice.roll() * 12.0).round();
            let hz = 440.0 * 2_f64.powf(step / 12.0);
            add(at, self.beat_s(), &mut |t| {
                0.2 * (TAU * hz * t).sin() * (-t / 0.3).exp()
            });
        }
        samples
    }

    fn performed(&self) -> Vec<f32> {
        let mut hiss = Dice(1);
        let bars = self.letters.bytes().flat_map(|letter| self.bar(letter));
        bars.map(|x| (x + 0.003 * hiss.roll()) as f32).collect()
    }

    /// The bar line nearest to a time, and how far that is off.
    fn line(&self, s: f64) -> (usize, f64) {
        let line = (s / self.bar_s()).round();
        (line as usize, (s - line * self.bar_s()).abs())
    }
}

/// How like two stretches of a waveform are: the cosine of the angle between them.
fn likeness(a: &[f32], b: &[f32]) -> f64 {
    product(a, b) / (product(a, a) * product(b, b)).sqrt().max(1e-9)
}

fn product(a: &[f32], b: &[f32]) -> f64 {
    // Eight sums side by side, which the compiler makes one instruction of.
    let mut sums = [0.0_f32; 8];
    for (a, b) in a.chunks_exact(8).zip(b.chunks_exact(8)) {
        for (sum, (x, y)) in sums.iter_mut().zip(a.iter().zip(b)) {
            *sum += x * y;
        }
    }
    f64::from(sums.iter().sum::<f32>())
}

/// The waveform around a place, at the coarser rate.
fn around(samples: &[f32], from: f64, until: f64) -> Vec<f32> {
    let frame = |s: f64| (s * f64::from(RATE)).round() as usize;
    samples[frame(from)..frame(until).min(samples.len())]
        .chunks_exact(EVERY)
        .map(|chunk| chunk.iter().sum())
        .collect()
}

/// Where in the track what is heard at a join is written, and how like it is: the likest of all places.
fn written_at(samples: &[f32], (to, from): (f64, f64)) -> (f64, f64) {
    let mut heard = around(samples, to - SIDE_S, to);
    let before = heard.len();
    heard.extend(around(samples, from, from + SIDE_S));
    let track = around(samples, 0.0, samples.len() as f64 / f64::from(RATE));
    let places = track.windows(heard.len()).enumerate();
    let all = places.map(|(i, place)| ((i + before) as f64 / COARSE, likeness(place, &heard)));
    all.max_by(|a, b| a.1.total_cmp(&b.1)).expect("a place")
}

/// How much later or earlier than `from` the track would have to come in again for the join to be as it is written.
fn off(samples: &[f32], from: f64, written: f64) -> f64 {
    let after = around(samples, written, written + SIDE_S);
    let shifts = (-200..=200).map(|shift| f64::from(shift) * 0.000_25);
    let likest = shifts.max_by(|a, b| {
        let like = |shift: &f64| {
            likeness(
                &around(samples, from + shift, from + shift + SIDE_S),
                &after,
            )
        };
        like(a).total_cmp(&like(b))
    });
    likest.expect("a shift")
}

#[test]
fn the_best_proposal_lies_at_a_true_repeat_by_a_search_of_the_waveform() {
    for piece in [
        Piece {
            letters: "ABCDEFEFEFGHIJ",
            beats: 4,
            bpm: 100.0,
        },
        Piece {
            letters: "KLMNNNNOPQRS",
            beats: 3,
            bpm: 112.0,
        },
        Piece {
            letters: "ABCDEABCDEFGHI",
            beats: 4,
            bpm: 126.0,
        },
    ] {
        let samples = piece.performed();
        let found = landmarks(&Pcm {
            rate: RATE,
            channels: 1,
            samples: samples.clone(),
        });
        let best: Vamping = *found
            .vamps
            .first()
            .unwrap_or_else(|| panic!("{}", piece.letters));
        let (from, to) = (best.from.s(), best.to.s());
        let (first, first_off) = piece.line(from);
        let (last, last_off) = piece.line(to);
        let letters = piece.letters.as_bytes();
        println!(
            "{}: from bar {first} ({:+.1} ms) to bar {last} ({:+.1} ms), alike {:.2}",
            piece.letters,
            first_off * 1e3,
            last_off * 1e3,
            best.alike
        );
        let join = [letters[last - 1], letters[first]];
        assert!(
            letters.windows(2).any(|two| two == join),
            "{} is never written",
            String::from_utf8_lossy(&join)
        );

        let (written, alike) = written_at(&samples, (to, from));
        let off = off(&samples, from, written);
        println!(
            "  written at {written:.3} s, {alike:.3} alike; from is {:+.2} ms off",
            off * 1e3
        );
        assert!(alike > 0.9, "{alike}");
        assert!(off.abs() <= NEAR_S, "{off}");
        let (bar, bar_off) = piece.line(written);
        assert!(bar_off < 0.02, "{bar_off}");
        assert_eq!([letters[bar - 1], letters[bar]], join);
        // A join a beat off is written nowhere: the search can tell.
        let (_, elsewhere) = written_at(&samples, (to, from + piece.beat_s()));
        assert!(elsewhere < alike - 0.1, "{elsewhere}");
    }
}
