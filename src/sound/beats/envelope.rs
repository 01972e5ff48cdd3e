//! How loud a sound is from millisecond to millisecond: where exactly something begins, and where it comes again.

use crate::sound::Pcm;
use crate::sound::vamps::Vamping;
use crate::units::Span;

/// The loudness of a sound, millisecond by millisecond.
pub(super) struct Envelope<'a> {
    /// Logarithms of mean squares.
    levels: Vec<f32>,
    pcm: &'a Pcm,
}

/// What a level can be at least, above nothing.
const QUIETEST: f32 = 1e-7;
/// Milliseconds around a beginning in which its rise is sought, and over which its two sides are compared.
const AROUND_MS: i64 = 30;
const SIDE_MS: i64 = 6;
/// Milliseconds on each side of a join that are laid on each other, and by how many they can be moved.
const CONTEXT_MS: i64 = 1_200;
const SHIFT_MS: i64 = 40;
/// Milliseconds of waveform that are laid on each other, and by how many they can be moved.
const WAVE_MS: i64 = 300;
const NEAR_MS: i64 = 3;
/// Waveforms more alike than this are the same sound again.
const SAME_SOUND: f32 = 0.7;

impl Envelope<'_> {
    pub fn new(pcm: &Pcm) -> Envelope<'_> {
        let per_ms = (f64::from(pcm.rate) / 1_000.0).max(1.0);
        let channels = usize::from(pcm.channels.max(1));
        let count = (pcm.frames() as f64 / per_ms) as usize;
        let levels = (0..count).map(|ms| {
            let from = (ms as f64 * per_ms) as usize * channels;
            let until = ((ms + 1) as f64 * per_ms) as usize * channels;
            let samples = pcm.samples.get(from..until).unwrap_or(&[]);
            let square = samples.iter().map(|x| x * x).sum::<f32>();
            (square / samples.len().max(1) as f32 + QUIETEST).ln()
        });
        Envelope {
            levels: levels.collect(),
            pcm,
        }
    }

    fn mean(&self, from: i64, until: i64) -> f32 {
        let place = |ms: i64| (ms.max(0) as usize).min(self.levels.len());
        let levels = &self.levels[place(from).min(place(until))..place(until)];
        match levels.len() {
            0 => QUIETEST.ln(),
            count => levels.iter().sum::<f32>() / count as f32,
        }
    }

    /// The steepest rise near an instant, to the millisecond.
    pub fn rise_near(&self, at: Span) -> Span {
        let middle = at.us() / 1_000;
        let rise = |ms: i64| self.mean(ms, ms + SIDE_MS) - self.mean(ms - SIDE_MS, ms);
        let steepest = (middle - AROUND_MS..=middle + AROUND_MS)
            .filter(|ms| *ms >= 0)
            .max_by(|a, b| rise(*a).total_cmp(&rise(*b)));
        steepest.map_or(at, Span::from_ms)
    }

    /// The same vamp with its join as it is written elsewhere: it comes in again on a rise; what follows that is laid on
    /// what follows the place where the join is written, and what is before its end on what is before that place.
    pub fn aligned(&self, vamp: Vamping) -> Vamping {
        let from = self.rise_near(vamp.from);
        let written = self.laid(from, vamp.written, (0, CONTEXT_MS));
        let to = self.laid(written, vamp.to, (-CONTEXT_MS, 0));
        Vamping {
            from,
            to,
            written,
            ..vamp
        }
    }

    /// The place near `near` around which most is as it is around `place`, in a context of so many milliseconds: by
    /// loudness, and closer where the very waveform comes again.
    fn laid(&self, place: Span, near: Span, context: (i64, i64)) -> Span {
        let (place_ms, near_ms) = (place.us() / 1_000, near.us() / 1_000);
        let likeness = |ms: i64| self.likeness((place_ms, ms), context);
        let best = (near_ms - SHIFT_MS..=near_ms + SHIFT_MS)
            .filter(|ms| *ms >= 0)
            .max_by(|a, b| likeness(*a).total_cmp(&likeness(*b)))
            .unwrap_or(near_ms);
        let coarse = Span::from_ms(best) + (place - Span::from_ms(place_ms));
        self.same_waveform(place, coarse, context).unwrap_or(coarse)
    }

    /// How alike the levels around two instants are: their mean product, without their means.
    fn likeness(&self, (a, b): (i64, i64), (from, until): (i64, i64)) -> f32 {
        let pairs = (from..until).filter_map(|ms| {
            let level = |at: i64| self.levels.get(usize::try_from(at + ms).ok()?).copied();
            Some((level(a)?, level(b)?))
        });
        let (mut count, mut sums, mut product) = (0.0_f32, (0.0_f32, 0.0_f32), 0.0_f32);
        let mut squares = (0.0_f32, 0.0_f32);
        for (x, y) in pairs {
            count += 1.0;
            sums = (sums.0 + x, sums.1 + y);
            squares = (squares.0 + x * x, squares.1 + y * y);
            product += x * y;
        }
        let spread = |sum: f32, square: f32| (square - sum * sum / count.max(1.0)).max(1e-6);
        let size = (spread(sums.0, squares.0) * spread(sums.1, squares.1)).sqrt();
        (product - sums.0 * sums.1 / count.max(1.0)) / size
    }

    /// The frame near `near` around which the first channel is the same sound as around `place`; `None` where it is none.
    fn same_waveform(&self, place: Span, near: Span, (from, until): (i64, i64)) -> Option<Span> {
        let rate = f64::from(self.pcm.rate);
        let frame = |at: Span| (at.s() * rate).round() as i64;
        let frames = |ms: i64| (ms.clamp(-WAVE_MS, WAVE_MS) as f64 / 1_000.0 * rate) as i64;
        let heard = |at: i64| self.line(at + frames(from), at + frames(until));
        let ours = heard(frame(place))?;
        let (middle, reach) = (frame(near), frames(NEAR_MS));
        let alike = |at: i64| heard(at).map_or(0.0, |theirs| cosine(&ours, &theirs));
        let all = (middle - reach..=middle + reach).map(|at| (at, alike(at)));
        let (best, likeness) = all.max_by(|a, b| a.1.total_cmp(&b.1))?;
        // Of a frame both ends are the same instant to the microsecond, so that what is the same is joined exactly.
        let off = place - Span::from_s(frame(place) as f64 / rate);
        (likeness > SAME_SOUND).then(|| Span::from_s(best as f64 / rate) + off)
    }

    /// Some frames of the first channel; `None` beyond the ends.
    fn line(&self, from: i64, until: i64) -> Option<Vec<f32>> {
        let channels = usize::from(self.pcm.channels.max(1));
        let place = |frame: i64| usize::try_from(frame).ok().map(|frame| frame * channels);
        let samples = self.pcm.samples.get(place(from)?..place(until)?)?;
        Some(samples.iter().step_by(channels).copied().collect())
    }
}

/// The cosine of the angle between two stretches of sound.
fn cosine(a: &[f32], b: &[f32]) -> f32 {
    let product = |a: &[f32], b: &[f32]| -> f32 { a.iter().zip(b).map(|(x, y)| x * y).sum() };
    product(a, b) / (product(a, a) * product(b, b)).sqrt().max(1e-9)
}
