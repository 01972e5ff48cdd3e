//! Where inside a step a leg is over, and where its law kinks.

use super::cannot::CannotFly;
use super::integrate::Law;
use super::step::Step;

/// An end that may hold only briefly is looked for in pieces of a step no longer than this, s.
const LOOK: f64 = 1.0;
/// Whether something rises or falls is told over this share of such a piece.
const SLOPE: f64 = 1e-4;
/// The end is found to this, s.
const NEAR: f64 = 1e-7;
/// So near to the end of a step what is between its ends is as exact as that, s: it keeps to the rates there.
const HAIR: f64 = 1e-3;
/// A step that ends at a kink ends so far past it, s.
const PAST: f64 = 1e-4;
/// The end is looked for at most so often on one step.
const MOST_CUTS: usize = 8;
/// A kink is found to this, s: much nearer than it is passed by.
const AT_A_KINK: f64 = 0.05 * PAST;
/// The golden section.
const GOLDEN: f64 = 0.618_033_988_749_895;

/// The step, from `y` at `t` on a stretch of the law, as it must be taken: to a kink on it at most, so that it is
/// smooth, and to the end if the leg is over on it. And whether it is over at its end; if not, on which stretch it
/// is there.
pub(super) fn cut<const N: usize>(
    law: &impl Law<N>,
    t: f64,
    y: &[f64; N],
    rate: &[f64; N],
    mut step: Step<N>,
    stretch: usize,
) -> Result<(Step<N>, Option<usize>), CannotFly> {
    let kink = kink(law, t, &step, stretch);
    if let Some(share) = kink {
        step = Step::take(law, t, y, rate, (share * step.h + PAST).min(step.h))?;
    }
    let Some(mut share) = end(law, t, &step) else {
        let there = match kink {
            Some(_) => law.stretch(t + step.h, &step.to),
            None => stretch,
        };
        return Ok((step, Some(there)));
    };
    for _ in 0..MOST_CUTS {
        if (1.0 - share) * step.h <= HAIR {
            return Ok((step.until(share), None));
        }
        step = Step::take(law, t, y, rate, share * step.h)?;
        if let Some(share) = end_at(law, t, &step) {
            return Ok((step.until(share), None));
        }
        match end(law, t, &step) {
            Some(again) => share = again,
            None => break,
        }
    }
    // Taken again it may end short of there: the next step finds it.
    let there = law.stretch(t + step.h, &step.to);
    Ok((step, Some(there)))
}

/// The share of a step, taken as far as the leg goes as nearly as could be told, at which it is over: a hair off
/// the end of the step; `None` where it is further off.
fn end_at<const N: usize>(law: &impl Law<N>, t: f64, step: &Step<N>) -> Option<f64> {
    let left = |share: f64| law.left(t + share * step.h, &step.at(share));
    let (before, after) = (1.0 - HAIR / step.h, 1.0 + HAIR / step.h);
    let is_there = before > 0.0 && left(before) > 0.0 && left(after) <= 0.0;
    is_there.then(|| root(left, before, after, NEAR / step.h))
}

/// The share of the step at which the leg is first over.
fn end<const N: usize>(law: &impl Law<N>, t: f64, step: &Step<N>) -> Option<f64> {
    let left = |share: f64| law.left(t + share * step.h, &step.at(share));
    if !law.ends_briefly() {
        return (left(1.0) <= 0.0).then(|| root(left, 0.0, 1.0, NEAR / step.h));
    }
    let pieces = (step.h / LOOK).ceil().max(1.0);
    let mut from = 0.0;
    for piece in 1..=pieces as usize {
        let to = piece as f64 / pieces;
        let lowest = if left(to) <= 0.0 {
            Some(to)
        } else {
            dip(left, from, to)
        };
        if let Some(lowest) = lowest {
            return Some(root(left, from, lowest, NEAR / step.h));
        }
        from = to;
    }
    None
}

/// Where `f`, above zero at both ends, is not above zero between them, if it falls from the one and rises
/// to the other and dips so low: by the golden section.
fn dip(f: impl Fn(f64) -> f64, mut from: f64, mut to: f64) -> Option<f64> {
    let bit = SLOPE * (to - from);
    if f(to - bit) >= f(to) || f(from + bit) >= f(from) {
        return None;
    }
    while to - from > bit {
        let (low, high) = (to - GOLDEN * (to - from), from + GOLDEN * (to - from));
        let (f_low, f_high) = (f(low), f(high));
        if f_low <= 0.0 {
            return Some(low);
        }
        if f_high <= 0.0 {
            return Some(high);
        }
        if f_low < f_high {
            to = high;
        } else {
            from = low;
        }
    }
    None
}

/// The share of a step, begun on a stretch of the law, at which that goes on to another.
fn kink<const N: usize>(law: &impl Law<N>, t: f64, step: &Step<N>, begun: usize) -> Option<f64> {
    let stretch = |share: f64| law.stretch(t + share * step.h, &step.at(share));
    // One that it comes to and leaves again shows in the step's error.
    (stretch(1.0) != begun).then_some(())?;
    let (mut same, mut other) = (0.0, 1.0);
    while (other - same) * step.h > AT_A_KINK {
        let middle = 0.5 * (same + other);
        if stretch(middle) == begun {
            same = middle;
        } else {
            other = middle;
        }
    }
    Some(other)
}

/// Where `f`, above zero at `low` and not at `high`, comes to zero, no further than `near` past it: false position that halves the weight
/// of an end that stays (Illinois), and halves the stretch where that is slow.
fn root(f: impl Fn(f64) -> f64, mut low: f64, mut high: f64, near: f64) -> f64 {
    let (mut f_low, mut f_high) = (f(low), f(high));
    for round in 0..60 {
        if high - low <= near || f_high == 0.0 {
            break;
        }
        let straight = low + (high - low) * f_low / (f_low - f_high);
        let middle = if round % 4 == 3 || !straight.is_finite() {
            0.5 * (low + high)
        } else {
            // Next to an end that is the root already, the other end comes there at once.
            straight.clamp(low + 0.5 * near, high - 0.5 * near)
        };
        let f_middle = f(middle);
        if f_middle > 0.0 {
            if round > 0 {
                f_high *= 0.5;
            }
            (low, f_low) = (middle, f_middle);
        } else {
            if round > 0 {
                f_low *= 0.5;
            }
            (high, f_high) = (middle, f_middle);
        }
    }
    high
}
