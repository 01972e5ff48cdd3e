//! What gusts add to how sharply a time is known.

use std::f64::consts::FRAC_1_SQRT_2;

use super::metar::Varies;
use super::points::Met;
use super::{FlownPoint, Step};
use crate::show::Day;
use crate::units::{Angle, Length, Span, Speed};

/// The peak of ten minutes of wind is about so many standard deviations above its mean (common practice,
/// no published source).
const PEAK: f64 = 3.0;
/// How long one gust lasts, about (common practice, no published source): over longer times gusts average
/// out.
const LASTS: Span = Span::from_ms(10_000);

/// One standard deviation of the wind along the display line about its mean, by height above the site. Gusts are
/// taken to be as strong along the line as along the wind; between heights they are interpolated, and beyond
/// them they stay.
///
/// A direction that varies adds to them: of what it does along the line between its extremes, half is taken for
/// as many standard deviations as the peak of a gust; all round, any direction is as likely as another. What
/// it does across the line changes no time to first order, and is left out.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Gusts {
    /// Height in m and spread in m/s, lowest first; empty for none.
    layers: Vec<(f64, f64)>,
}

impl Gusts {
    /// The gusts of a day over a display line of this bearing, with the direction of its surface wind varying so.
    pub fn on(day: &Day, line: Angle, varies: Option<Varies>) -> Gusts {
        let layers = day.wind.iter();
        let mut layers: Vec<(f64, f64)> = layers
            .map(|wind| {
                let gust = wind.gust.mps().max(0.0);
                // It is told of the surface wind.
                let spread = match varies.filter(|_| wind.height <= Length::ZERO) {
                    None => gust / PEAK,
                    Some(Varies::Between(from, to)) => {
                        let [least, most] = along_between(from - line, to - line);
                        let half = 0.5 * wind.speed.mps() * (most - least);
                        half.hypot(gust) / PEAK
                    }
                    // Its mean speed is in the gust, which is all there is of it.
                    Some(Varies::Round(mean)) => {
                        let mean = mean.mps();
                        (mean * FRAC_1_SQRT_2).hypot((gust - mean).max(0.0) / PEAK)
                    }
                };
                (wind.height.m(), spread)
            })
            .collect();
        layers.sort_by(|a, b| a.0.total_cmp(&b.0));
        Gusts { layers }
    }

    /// One standard deviation of the along-line wind at a height.
    fn spread(&self, height: Length) -> Speed {
        let h = height.m();
        let above = self.layers.partition_point(|(at, _)| *at <= h);
        let lower = above.checked_sub(1).and_then(|i| self.layers.get(i));
        Speed::from_mps(match (lower, self.layers.get(above)) {
            (Some((low, below)), Some((high, over))) => {
                below + (over - below) * (h - low) / (high - low)
            }
            (Some((_, only)), None) | (None, Some((_, only))) => *only,
            (None, None) => 0.0,
        })
    }

    /// Widens each flown step by what gusts do to it, at the height half-way between its ends: their spread
    /// times what a metre a second of wind does, averaged down over steps longer than a gust lasts.
    pub fn widen(&self, points: &mut [FlownPoint], met: &[Met]) {
        let heights: Vec<f64> = met.iter().map(|met| met.state.place[2]).collect();
        for (point, ends) in points.iter_mut().skip(1).zip(heights.windows(2)) {
            let half_way = Length::from_m(0.5 * ends.iter().sum::<f64>());
            let step = &mut point.step;
            step.spread = widened(step, self.spread(half_way));
        }
    }
}

/// The least and the most share of a wind that is along a line, its direction going clockwise from one angle off
/// the line to another.
fn along_between(from: Angle, to: Angle) -> [f64; 2] {
    let from = from.deg().rem_euclid(360.0);
    let round = (to.deg() - from).rem_euclid(360.0);
    let passes = |deg: f64| (deg - from).rem_euclid(360.0) <= round;
    let ends = [from, from + round].map(|deg| deg.to_radians().cos());
    let least = ends[0].min(ends[1]);
    let most = ends[0].max(ends[1]);
    [
        if passes(180.0) { -1.0 } else { least },
        if passes(0.0) { 1.0 } else { most },
    ]
}

/// The spread of a step in wind that has this spread for as long as a gust lasts.
fn widened(step: &Step, gusts: Speed) -> Span {
    let takes = step.takes.s().max(LASTS.s());
    let by_gusts = step.seconds_per_mps * gusts.mps() * (LASTS.s() / takes).sqrt();
    if by_gusts == 0.0 || !by_gusts.is_finite() {
        return step.spread;
    }
    Span::from_s(step.spread.s().hypot(by_gusts))
}
