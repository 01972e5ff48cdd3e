//! How sharply the points of a chain are known before anything is seen of them.
//!
//! The state at a point is `[T, c, w]`: the time, the crew's pace, and how much more wind blows towards the
//! crowd's right than was planned with. A step takes `T` to `T + d (1 + s c) + (∂d/∂w) w + e`, with `e` of
//! the step's own spread and `s` one for paced steps, else zero; `c` and `w` are constant. The plan tells
//! the spread of `T`; the estimate of a running show begins with the same.

use crate::flight::Step;
use crate::units::{Share, Span, Speed};

/// One standard deviation of the pace: 2 %.
pub const PACE_SPREAD: Share = Share::from_whole(0.02);
/// One standard deviation of the along-line wind error: 3 kt.
pub const WIND_SPREAD: Speed = Speed::from_kt(3.0);
/// How sharply the start of the display is known (common practice, no published source).
pub const START_SPREAD: Span = Span::from_ms(5_000);
/// Nobody times anything better than this; it keeps every variance above zero.
pub(crate) const FINEST: Span = Span::from_us(1);

/// A symmetric matrix over `[T, c, w]`, in seconds, shares of one, and metres a second.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Symmetric {
    pub tt: f64,
    pub tc: f64,
    pub tw: f64,
    pub cc: f64,
    pub cw: f64,
    pub ww: f64,
}

/// How lateness grows over a step: `by_pace` for each unit of pace, `by_wind` for each metre a
/// second, and `noise` (a variance) of its own.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Growth {
    pub by_pace: f64,
    pub by_wind: f64,
    pub noise: f64,
}

impl Growth {
    /// Thirty years for each metre a second: a bound that keeps every square finite.
    const MOST_SECONDS_PER_MPS: f64 = 1e9;

    pub fn of(step: &Step) -> Self {
        let by_wind = if step.seconds_per_mps.is_nan() {
            0.0
        } else {
            step.seconds_per_mps
        };
        Growth {
            by_pace: if step.paced { step.takes.s() } else { 0.0 },
            by_wind: by_wind.clamp(-Self::MOST_SECONDS_PER_MPS, Self::MOST_SECONDS_PER_MPS),
            noise: step.spread.s().powi(2),
        }
    }
}

impl Symmetric {
    /// The covariance at the first point of a chain.
    pub fn at_start(start_spread: Span) -> Self {
        Symmetric {
            tt: start_spread.s().powi(2),
            cc: PACE_SPREAD.whole().powi(2),
            ww: WIND_SPREAD.mps().powi(2),
            ..Symmetric::default()
        }
    }

    /// The covariance a step later.
    pub fn advance(&mut self, growth: Growth) {
        let Growth {
            by_pace: a,
            by_wind: g,
            noise,
        } = growth;
        let tc = self.tc + a * self.cc + g * self.cw;
        let tw = self.tw + a * self.cw + g * self.ww;
        self.tt = (self.tt + a * (self.tc + tc) + g * (self.tw + tw) + noise).max(0.0);
        (self.tc, self.tw) = (tc, tw);
    }

    /// The covariance where time starts afresh, known to `variance`.
    pub fn restart(&mut self, variance: f64) {
        self.tt = variance;
        (self.tc, self.tw) = (0.0, 0.0);
    }

    /// One standard deviation of the time.
    pub fn spread(&self) -> Span {
        Span::from_s(self.tt.max(0.0).sqrt())
    }

    pub fn times(&self, [t, c, w]: [f64; 3]) -> [f64; 3] {
        [
            self.tt * t + self.tc * c + self.tw * w,
            self.tc * t + self.cc * c + self.cw * w,
            self.tw * t + self.cw * c + self.ww * w,
        ]
    }

    pub fn first_row(&self) -> [f64; 3] {
        [self.tt, self.tc, self.tw]
    }
}

/// The precision, one over the variance, of a time known to `spread`.
pub(crate) fn precision(spread: Span) -> f64 {
    spread.abs().max(FINEST).s().powi(-2)
}
