//! The bars of a vamp that can come again.

use crate::show::{Bars, Track, Vamp, VampStep};
use crate::sound::Join;
use crate::units::Span;

/// A bar line written this near to `from` or `to` is the one that is meant.
const ON_THE_LINE: Span = Span::from_ms(5);

/// A vamp that can go round by bars.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Round {
    /// Where it goes back, on a bar line.
    pub to: Span,
    /// How long a bar is.
    pub bar: Span,
    /// The most bars it goes back at once.
    pub most: u32,
    /// How many come again when all is on time.
    pub planned: u32,
}

impl Round {
    /// The vamp of `track`; `None` without one, or when nothing says where its bars are, or none is whole.
    pub fn of(track: &Track) -> Option<Round> {
        let vamp = track.vamp?;
        let (from, to, bar) = match vamp.step {
            VampStep::Bar => on_bars(&vamp, track.bars?)?,
            VampStep::Of(step) => (vamp.from, vamp.to, step),
        };
        let most = whole(to - from, bar);
        (most > 0).then_some(Round {
            to,
            bar,
            most,
            planned: vamp.planned,
        })
    }

    /// Where it goes back to play `bars` bars again: all of it as long as that is not too much, the rest last, so
    /// that it stays open as long as it can.
    pub fn joins(&self, bars: u32) -> Vec<Join> {
        let join = |bars: u32| Join {
            at: self.to,
            back: self.length(bars),
            bars,
        };
        let mut joins = vec![join(self.most); (bars / self.most) as usize];
        if !bars.is_multiple_of(self.most) {
            joins.push(join(bars % self.most));
        }
        joins
    }

    /// How long `bars` bars are.
    pub fn length(&self, bars: u32) -> Span {
        Span::from_us(self.bar.us().saturating_mul(i64::from(bars)))
    }
}

/// The first and last bar line of a vamp, and how long a bar is.
fn on_bars(vamp: &Vamp, bars: Bars) -> Option<(Span, Span, Span)> {
    let bar = bars.length.us();
    if bar <= 0 {
        return None;
    }
    let line = |us: i64| bars.first + Span::from_us(us.saturating_mul(bar));
    let slack = ON_THE_LINE.us();
    let first = -(-(vamp.from - bars.first).us() + slack).div_euclid(bar);
    let last = ((vamp.to - bars.first).us() + slack).div_euclid(bar);
    (last > first).then(|| (line(first), line(last), bars.length))
}

/// How many whole bars are in a span, a line a little off counting as on it.
fn whole(span: Span, bar: Span) -> u32 {
    let bars = (span + ON_THE_LINE).us() / bar.us().max(1);
    u32::try_from(bars).unwrap_or(0)
}
