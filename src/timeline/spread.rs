//! How sharply the instant of a time expression is known.

use super::clock::told;
use super::moments::{FigureTimes, Moments};
use crate::show::{Anchor, Show, TimeExpression, Track};
use crate::units::{Instant, Span};

/// Less is not worth a word.
const LEAST_TOLD: Span = Span::from_ms(50);

/// One standard deviation of a time: that of the point of flight it hangs on, by way of as many blocks and
/// tracks as it takes; zero for a time of the clock. `None` where what it hangs on is not flown or has no
/// time.
pub fn spread_of(show: &Show, moments: &Moments, time: &TimeExpression) -> Option<Span> {
    let mut time = time;
    // Loading has refused circles.
    for _ in 0..=show.blocks.len() + show.tracks.len() {
        let Anchor::Point { of, point } = &time.anchor else {
            return Some(Span::ZERO);
        };
        if let Some(figure) = moments.figure(of, 0) {
            return figure.expected(point).map(|expected| expected.spread);
        }
        time = match (show.block(of), show.track(of)) {
            (Some(block), _) => block.starts.as_ref()?,
            (None, Some(track)) => time_of_track(track)?,
            (None, None) => return None,
        };
    }
    None
}

/// The time a track's own start hangs on.
pub fn time_of_track(track: &Track) -> Option<&TimeExpression> {
    let met = track.meets.as_ref().map(|meet| &meet.on);
    met.or(track.starts.as_ref())
}

impl FigureTimes {
    /// How sharply an instant of it is known: as its point nearest in time.
    pub(super) fn spread_near(&self, at: Instant) -> Span {
        let nearest = self.points.iter().min_by_key(|(_, e)| (e.at - at).abs());
        nearest.map_or(Span::ZERO, |(_, expected)| expected.spread)
    }
}

/// An instant and how sharply it is known, as people at the show say it: `19:52:05 ±6.3 s`.
pub(super) fn told_within(show: &Show, at: Instant, spread: Option<Span>) -> String {
    match spread.filter(|spread| *spread >= LEAST_TOLD) {
        Some(spread) => format!("{} ±{:.1} s", told(show, at), spread.s()),
        None => told(show, at),
    }
}
