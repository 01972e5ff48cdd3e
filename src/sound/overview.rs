//! The outline of a sound, for drawing it at any width.

use super::Pcm;
use crate::units::Span;

/// Lowest and highest sample in each short stretch of a sound, over all its channels.
#[derive(Debug, Clone, PartialEq)]
pub struct Overview {
    buckets_per_second: u32,
    /// `(lowest, highest)`, full scale ±1.
    buckets: Vec<(f32, f32)>,
}

impl Overview {
    /// The outline in `buckets_per_second` stretches a second.
    pub fn new(pcm: &Pcm, buckets_per_second: u32) -> Overview {
        let buckets_per_second = buckets_per_second.clamp(1, pcm.rate.max(1));
        let (rate, channels) = (u64::from(pcm.rate.max(1)), usize::from(pcm.channels.max(1)));
        let frames = pcm.frames() as u64;
        // The first frame of a bucket, so that they stay in step with time at any rate.
        let first = |bucket: u64| {
            (bucket * rate)
                .div_ceil(buckets_per_second.into())
                .min(frames) as usize
                * channels
        };
        let count = (frames * u64::from(buckets_per_second)).div_ceil(rate);
        let buckets = (0..count)
            .map(|bucket| {
                extremes(
                    pcm.samples
                        .get(first(bucket)..first(bucket + 1))
                        .unwrap_or(&[]),
                )
            })
            .collect();
        Overview {
            buckets_per_second,
            buckets,
        }
    }

    /// Lowest and highest sample in each of `columns` equal parts of `[from, to)`; `(0, 0)` where there is
    /// no sound.
    pub fn slice(&self, from: Span, to: Span, columns: usize) -> Vec<(f32, f32)> {
        let place = |span: Span| span.s() * f64::from(self.buckets_per_second);
        let (start, end) = (place(from), place(to));
        let width = (end - start).max(0.0) / columns.max(1) as f64;
        (0..columns)
            .map(|column| {
                let left = start + column as f64 * width;
                self.within(left, left + width)
            })
            .collect()
    }

    /// Extremes of the buckets that `[left, right)` touches.
    fn within(&self, left: f64, right: f64) -> (f32, f32) {
        // A hair off each side: a bound that rounding put past a bucket's edge must not take in the next.
        let (first, last) = ((left + 1e-6).floor(), (right - 1e-6).ceil());
        if right <= left || last <= 0.0 {
            return (0.0, 0.0);
        }
        let last = (last as usize).min(self.buckets.len());
        self.buckets
            .get(first.max(0.0) as usize..last)
            .unwrap_or(&[])
            .iter()
            .copied()
            .reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)))
            .unwrap_or((0.0, 0.0))
    }
}

fn extremes(samples: &[f32]) -> (f32, f32) {
    let Some(&first) = samples.first() else {
        return (0.0, 0.0);
    };
    let (eights, rest) = samples.as_chunks::<8>();
    let (mut low, mut high) = ([first; 8], [first; 8]);
    for eight in eights {
        for ((low, high), x) in low.iter_mut().zip(&mut high).zip(eight) {
            *low = if x < low { *x } else { *low };
            *high = if x > high { *x } else { *high };
        }
    }
    let lowest = low.iter().chain(rest).copied().fold(first, f32::min);
    let highest = high.iter().chain(rest).copied().fold(first, f32::max);
    (lowest, highest)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pcm(rate: u32, channels: u16, samples: Vec<f32>) -> Pcm {
        Pcm {
            rate,
            channels,
            samples,
        }
    }

    #[test]
    fn a_peak_is_drawn_in_the_column_of_its_time_at_any_width() {
        let mut samples = vec![0.0; 2 * 44_100 * 2];
        samples[2 * 55_125] = 0.9; // 1.25 s, left
        samples[2 * 55_125 + 1] = -0.4;
        let overview = Overview::new(&pcm(44_100, 2, samples), 200);
        for columns in [1, 2, 7, 80, 400, 1_000] {
            let drawn = overview.slice(Span::ZERO, Span::from_s(2.0), columns);
            assert_eq!(drawn.len(), columns);
            let column = (1.25 / 2.0 * columns as f64) as usize;
            assert_eq!(drawn[column], (-0.4, 0.9), "{columns} columns");
            assert_eq!(
                drawn.iter().filter(|at| at.1 > 0.0).count(),
                columns.div_ceil(400)
            );
        }
    }

    #[test]
    fn there_is_silence_before_and_after() {
        let overview = Overview::new(&pcm(48_000, 1, vec![0.5; 48_000]), 100);
        let drawn = overview.slice(Span::from_s(-1.0), Span::from_s(2.0), 3);
        assert_eq!(drawn, [(0.0, 0.0), (0.5, 0.5), (0.0, 0.0)]);
        assert_eq!(
            overview.slice(Span::from_s(1.0), Span::ZERO, 2),
            [(0.0, 0.0); 2]
        );
        assert_eq!(overview.slice(Span::ZERO, Span::from_s(1.0), 0), []);
        let far = Span::from_us(i64::MAX);
        assert_eq!(overview.slice(far, far, 1), [(0.0, 0.0)]);
    }

    #[test]
    fn buckets_keep_time_at_rates_they_do_not_divide() {
        // 100 s at 11 025 Hz in 200 buckets a second: 55.125 frames each.
        let mut samples = vec![0.0; 1_102_500];
        samples[1_091_475] = 1.0; // 99 s
        let overview = Overview::new(&pcm(11_025, 1, samples), 200);
        let drawn = overview.slice(Span::from_s(98.9), Span::from_s(99.1), 40);
        assert_eq!(drawn.iter().position(|at| at.1 == 1.0), Some(20));
    }
}
