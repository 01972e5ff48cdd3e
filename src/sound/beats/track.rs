//! Where the beats lie: on looks that are strong and evenly spaced, by dynamic programming.

use super::tempo::{STEP, highest};

/// What unevenness costs: times the square of the logarithm of how much longer or shorter a beat is.
const TIGHTNESS: f32 = 200.0;
/// The shortest and the longest a beat can be, in periods.
const SHORTEST: f32 = 0.6;
const LONGEST: f32 = 1.6;
/// Where nothing is as strong as this for so many seconds there are no beats, nor are there before the first such
/// look or after the last, but for a few looks.
const STRONG: f32 = 1.0;
const NOTHING: f64 = 4.0;
const FEW: f64 = 5.0;

/// Looks on which beats lie, and between looks. `periods` are looks a beat, one for every [`STEP`] seconds.
pub(super) fn beats(strengths: &[f32], rate: f64, periods: &[f32]) -> Vec<f64> {
    let beats = chain(strengths, rate, periods);
    let strong: Vec<f64> = (0..strengths.len())
        .filter(|&i| strengths[i] > STRONG)
        .map(|i| i as f64)
        .collect();
    beats
        .into_iter()
        .map(|i| refined(strengths, i))
        .filter(|&beat| is_heard(beat, &strong, NOTHING * rate))
        .collect()
}

/// The chain of looks whose strengths, less the costs of unevenness, are greatest.
fn chain(strengths: &[f32], rate: f64, periods: &[f32]) -> Vec<usize> {
    let mut totals: Vec<f32> = Vec::with_capacity(strengths.len());
    let mut before: Vec<u16> = Vec::with_capacity(strengths.len());
    let mut costs = Costs::default();
    for (i, strength) in strengths.iter().enumerate() {
        costs.set(period(periods, i as f64 / (STEP * rate)));
        let (lag, best) = costs.best(&totals);
        totals.push(strength + best);
        before.push(lag);
    }
    // The last beat lies within a beat of the end.
    let from = strengths.len().saturating_sub(costs.period as usize + 1);
    let mut at = from + highest(&totals[from..]);
    let mut beats = Vec::new();
    while let Some(&lag) = before.get(at) {
        beats.push(at);
        if lag == 0 {
            break;
        }
        at -= usize::from(lag);
    }
    beats.reverse();
    beats
}

/// The period at a place between two steps; where it jumps there is no between.
fn period(periods: &[f32], place: f64) -> f32 {
    let last = periods.len().saturating_sub(1);
    let below = (place as usize).min(last);
    let (a, b) = (periods[below], periods[(below + 1).min(last)]);
    let share = (place - below as f64).clamp(0.0, 1.0) as f32;
    if (a / b).ln().abs() > 0.1 {
        a
    } else {
        a + share * (b - a)
    }
}

/// What each distance to the beat before costs.
#[derive(Default)]
struct Costs {
    period: f32,
    shortest: usize,
    costs: Vec<f32>,
}

impl Costs {
    fn set(&mut self, period: f32) {
        if (period - self.period).abs() < 0.05 {
            return;
        }
        self.period = period;
        self.shortest = ((SHORTEST * period) as usize).max(1);
        let longest = (LONGEST * period).ceil() as usize;
        self.costs = (self.shortest..=longest)
            .map(|lag| TIGHTNESS * (lag as f32 / period).ln().powi(2))
            .collect();
    }

    /// The distance back to the best beat before the next look, and what is gained by it; 0: there is none.
    fn best(&self, totals: &[f32]) -> (u16, f32) {
        let mut best = (0, 0.0);
        for (cost, lag) in self.costs.iter().zip(self.shortest..) {
            let Some(&total) = totals.len().checked_sub(lag).and_then(|i| totals.get(i)) else {
                break;
            };
            if total - cost > best.1 {
                best = (lag as u16, total - cost);
            }
        }
        best
    }
}

/// The crest of a parabola through a look and its neighbours, where it is the highest of them.
fn refined(strengths: &[f32], i: usize) -> f64 {
    let around = i
        .checked_sub(1)
        .and_then(|from| strengths.get(from..from + 3));
    match around {
        Some(&[a, b, c]) if b > a && b > c => {
            i as f64 + f64::from(0.5 * (a - c) / (a - 2.0 * b + c))
        }
        _ => i as f64,
    }
}

/// Whether a beat lies among strong looks, all in order.
fn is_heard(beat: f64, strong: &[f64], nothing: f64) -> bool {
    let next = strong.partition_point(|&look| look < beat);
    let after = strong.get(next).map_or(f64::INFINITY, |look| look - beat);
    let since = next
        .checked_sub(1)
        .and_then(|last| strong.get(last))
        .map_or(f64::INFINITY, |look| beat - look);
    let nearest = after.min(since);
    nearest <= FEW || (nearest <= nothing && after.max(since).is_finite())
}
