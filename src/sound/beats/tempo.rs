//! How fast the beats go, and how that changes.

use std::sync::Arc;

use realfft::num_complex::Complex;
use realfft::{ComplexToReal, RealFftPlanner, RealToComplex};

/// Beats a minute between which a tempo lies.
const SLOWEST: f64 = 40.0;
const FASTEST: f64 = 240.0;
/// Tempi in an octave that are told apart.
const PARTS: f64 = 36.0;
/// Seconds that are looked at for a tempo at once, and between such looks.
const WINDOW: f64 = 7.7;
pub(super) const STEP: f64 = 0.5;
/// Multiples of a beat after which its strengths repeat, and what each counts. Thirds tell of another beat.
const MULTIPLES: [(f32, f32); 7] = [
    (1.0, 1.0),
    (2.0, 0.75),
    (3.0, 0.5),
    (4.0, 0.28),
    (0.5, 0.15),
    (1.0 / 3.0, -0.06),
    (2.0 / 3.0, -0.06),
];
/// What a change to the next tempo costs from step to step, how many such changes there can be, and what a jump
/// to any other costs.
const DRIFT: f32 = 0.04;
const NEAR: usize = 3;
const JUMP: f32 = 0.5;
/// The usual tempo, and the deviation from it in octaves.
const USUAL: f64 = 113.0;
const SPREAD: f64 = 0.87;
/// The least mean square of strengths that can repeat clearly.
const QUIET: f32 = 0.05;
/// The least share of a window that has to overlap for a lag to count.
const OVERLAP: f32 = 0.25;

/// The tempo, step by step.
pub(super) struct Tempi {
    /// Looks a beat, for every [`STEP`] seconds.
    pub periods: Vec<f32>,
    /// How clearly the strengths repeat, on the whole: about 0.2 in noise, 2.5 at most.
    pub clearness: f32,
}

/// The tempi of strengths that come `rate` times a second.
pub(super) fn tempi(strengths: &[f32], rate: f64) -> Tempi {
    let candidates = candidates(rate);
    let prior: Vec<f32> = candidates.iter().map(|&p| prior(p, rate)).collect();
    let mut repeats = Repeats::new(rate);
    let steps = (strengths.len() as f64 / (STEP * rate)).ceil() as usize;
    let clearness: Vec<Vec<f32>> = (0..steps)
        .map(|step| {
            let lags = repeats.around(strengths, (step as f64 * STEP * rate) as usize);
            candidates
                .iter()
                .map(|&period| comb(lags, period))
                .collect()
        })
        .collect();
    let path = path(&clearness, &prior);
    let clear = path.iter().zip(&clearness).map(|(&i, step)| step[i]);
    Tempi {
        clearness: clear.sum::<f32>() / steps.max(1) as f32,
        periods: path.iter().map(|&i| candidates[i]).collect(),
    }
}

/// Periods in looks, from the shortest.
fn candidates(rate: f64) -> Vec<f32> {
    let count = ((FASTEST / SLOWEST).log2() * PARTS) as usize;
    (0..=count)
        .map(|i| (60.0 * rate / FASTEST * 2_f64.powf(i as f64 / PARTS)) as f32)
        .collect()
}

fn prior(period: f32, rate: f64) -> f32 {
    let octaves = (60.0 * rate / f64::from(period) / USUAL).log2();
    (-0.5 * (octaves / SPREAD).powi(2)).exp() as f32
}

fn comb(lags: &[f32], period: f32) -> f32 {
    MULTIPLES
        .iter()
        .map(|(multiple, weight)| weight * at(lags, multiple * period))
        .sum()
}

/// The value at a lag between two.
fn at(lags: &[f32], lag: f32) -> f32 {
    let below = lag as usize;
    match lags.get(below..below + 2) {
        Some(two) => two[0] + (lag - below as f32) * (two[1] - two[0]),
        None => 0.0,
    }
}

/// Autocorrelations of parts of the strengths.
struct Repeats {
    width: usize,
    forward: Arc<dyn RealToComplex<f32>>,
    back: Arc<dyn ComplexToReal<f32>>,
    line: Vec<f32>,
    spectrum: Vec<Complex<f32>>,
    lags: Vec<f32>,
}

impl Repeats {
    fn new(rate: f64) -> Repeats {
        let width = (WINDOW * rate) as usize;
        let lags = (4.0 * 60.0 * rate / SLOWEST) as usize + 2;
        let size = (width + lags).next_power_of_two();
        let mut planner = RealFftPlanner::new();
        let forward = planner.plan_fft_forward(size);
        Repeats {
            width,
            back: planner.plan_fft_inverse(size),
            line: forward.make_input_vec(),
            spectrum: forward.make_output_vec(),
            lags: vec![0.0; lags],
            forward,
        }
    }

    /// By lag, 1 at lag 0, from the window around `middle` or as near it as there is one.
    fn around(&mut self, strengths: &[f32], middle: usize) -> &[f32] {
        let last = strengths.len().saturating_sub(self.width);
        let from = middle.saturating_sub(self.width / 2).min(last);
        let part = &strengths[from..(from + self.width).min(strengths.len())];
        let count = part.len() as f32;
        let mean = part.iter().sum::<f32>() / count;
        self.line.fill(0.0);
        for (x, strength) in self.line.iter_mut().zip(part) {
            *x = strength - mean;
        }
        const OWN: &str = "buffers of the transform's own making";
        self.forward
            .process(&mut self.line, &mut self.spectrum)
            .expect(OWN);
        for bin in &mut self.spectrum {
            *bin = bin.norm_sqr().into();
        }
        self.back
            .process(&mut self.spectrum, &mut self.line)
            .expect(OWN);
        // The transforms scale by their size.
        let all = self.line[0].max(QUIET * count * self.line.len() as f32);
        for (lag, (repeat, x)) in self.lags.iter_mut().zip(&self.line).enumerate() {
            let pairs = count - lag as f32;
            *repeat = if pairs < OVERLAP * count {
                0.0
            } else {
                x / all * count / pairs
            };
        }
        &self.lags
    }
}

/// The best way through the steps: one candidate each.
fn path(clearness: &[Vec<f32>], prior: &[f32]) -> Vec<usize> {
    let mut best = vec![0.0; prior.len()];
    let mut came: Vec<Vec<u16>> = Vec::with_capacity(clearness.len());
    for step in clearness {
        let top = highest(&best);
        let mut from = Vec::with_capacity(best.len());
        let mut next = Vec::with_capacity(best.len());
        for (i, (clear, prior)) in step.iter().zip(prior).enumerate() {
            let near = i.saturating_sub(NEAR)..(i + NEAR + 1).min(best.len());
            let drifted = near.map(|j| (j, best[j] - DRIFT * i.abs_diff(j) as f32));
            let jumped = (top, best[top] - JUMP);
            let (j, before) = drifted.fold(jumped, |a, b| if b.1 > a.1 { b } else { a });
            from.push(j as u16);
            next.push(before + clear * prior);
        }
        came.push(from);
        best = next;
    }
    let mut at = highest(&best);
    let mut path: Vec<usize> = came
        .iter()
        .rev()
        .map(|from| {
            let here = at;
            at = from[at].into();
            here
        })
        .collect();
    path.reverse();
    path
}

pub(super) fn highest(values: &[f32]) -> usize {
    let best = |best, i: usize| if values[i] > values[best] { i } else { best };
    (0..values.len()).fold(0, best)
}
