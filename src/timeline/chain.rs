//! Figures put one behind the other, aircraft by aircraft.
//!
//! A figure starts when its own aircraft are free and, if the document says no time of its own, when the
//! figure before it in the programme has ended.

use super::clock::clock_after_zero;
use super::moments::{Expected, FigureTimes, Moments};
use super::prior::{Growth, START_SPREAD, Symmetric, precision};
use crate::flight::{Flight, FlownFigure};
use crate::show::{Anchor, Name, Show, TimeExpression};
use crate::units::{Instant, Span};

/// How a figure's start is come by.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Place {
    /// The chain it belongs to: its first aircraft.
    pub chain: Name,
    /// Entries whose end it waits for, by index: the last of each of its aircraft, and of the programme.
    pub behind: Vec<usize>,
    /// Whether it also waits for a stated time.
    pub stated: bool,
}

/// How each figure of a flight comes to start, in order.
pub fn places(show: &Show, figures: &[FlownFigure]) -> Vec<Place> {
    figures
        .iter()
        .enumerate()
        .map(|(index, figure)| {
            let stated = show
                .figure(&figure.id)
                .is_some_and(|figure| figure.starts.is_some());
            let mut behind: Vec<usize> = figure
                .aircraft
                .iter()
                .filter_map(|aircraft| {
                    figures[..index]
                        .iter()
                        .rposition(|before| before.aircraft.contains(aircraft))
                })
                .collect();
            if !stated {
                behind.extend(index.checked_sub(1));
            }
            behind.sort_unstable();
            behind.dedup();
            Place {
                chain: figure
                    .aircraft
                    .first()
                    .cloned()
                    .unwrap_or_else(|| figure.id.clone()),
                behind,
                stated,
            }
        })
        .collect()
}

/// When everything is flown as planned, with show zero where the document puts it.
pub fn planned(show: &Show, flight: &Flight) -> Moments {
    let places = places(show, &flight.figures);
    let first = as_flown(show, flight, &places, Span::ZERO);
    let Some(zero) = zero_of(show, &first) else {
        return first;
    };
    // Stated clock times stay where they are when the rest moves, so the shift is found by repetition.
    let mut shift = Instant::ZERO - zero;
    let mut moments = as_flown(show, flight, &places, shift);
    for _ in 0..4 {
        match zero_of(show, &moments) {
            Some(zero) if zero != Instant::ZERO => shift += Instant::ZERO - zero,
            _ => break,
        }
        moments = as_flown(show, flight, &places, shift);
    }
    moments
}

/// Where the point that show zero is falls.
fn zero_of(show: &Show, moments: &Moments) -> Option<Instant> {
    show.zero
        .as_ref()
        .and_then(|zero| stated(show, moments, zero))
        .map(|zero| zero.at)
}

/// Figures laid from `start` on, each behind what it waits for.
fn as_flown(show: &Show, flight: &Flight, places: &[Place], start: Span) -> Moments {
    let mut moments = Moments::default();
    // A stated time may name a later figure: go round until nothing moves.
    for _ in 0..=flight.figures.len() {
        let next = lay_once(show, flight, places, start, &moments);
        let settled = next.figures.len() == moments.figures.len()
            && next
                .figures
                .iter()
                .zip(&moments.figures)
                .all(|(a, b)| a.start() == b.start());
        moments = next;
        if settled {
            break;
        }
    }
    moments
}

fn lay_once(
    show: &Show,
    flight: &Flight,
    places: &[Place],
    start: Span,
    known: &Moments,
) -> Moments {
    let mut laid = Laid {
        moments: Moments::default(),
        ends: Vec::with_capacity(flight.figures.len()),
    };
    for (index, flown) in flight.figures.iter().enumerate() {
        let own = show
            .figure(&flown.id)
            .and_then(|figure| figure.starts.as_ref());
        let stated = own.and_then(|starts| stated(show, known, starts));
        let begins = laid
            .begins(places, index, stated)
            .unwrap_or((Instant::ZERO + start, Symmetric::at_start(START_SPREAD)));
        laid.fly(flown, begins);
    }
    laid.moments
}

/// Figures laid so far, and how sharply each one's end is known.
struct Laid {
    moments: Moments,
    ends: Vec<Symmetric>,
}

impl Laid {
    /// When the figure `index` begins and how sharply that is known: its chain runs on to it, or waits for
    /// another chain or a stated time that is later, and starts afresh. `None` where nothing is before it.
    fn begins(
        &self,
        places: &[Place],
        index: usize,
        stated: Option<Expected>,
    ) -> Option<(Instant, Symmetric)> {
        let place = &places[index];
        let end = |i: usize| Expected {
            at: self.moments.figures[i].end(),
            spread: self.ends[i].spread(),
        };
        let chain = |i: &usize| places[*i].chain == place.chain;
        let own = (0..index).rev().find(|i| chain(i));
        let others = place.behind.iter().filter(|i| !chain(i)).map(|&i| end(i));
        let latest = others.chain(stated).max_by_key(|expected| expected.at);
        match (own, latest) {
            (Some(own), Some(latest)) if latest.at <= end(own).at => {
                Some((end(own).at, self.ends[own]))
            }
            (own, Some(latest)) => {
                let mut afresh = own.map_or(Symmetric::at_start(Span::ZERO), |own| self.ends[own]);
                afresh.restart(precision(latest.spread).recip());
                Some((latest.at, afresh))
            }
            (Some(own), None) => Some((end(own).at, self.ends[own])),
            (None, None) => None,
        }
    }

    /// Puts a figure's points on the clock from when it begins.
    fn fly(&mut self, flown: &FlownFigure, (begins, mut known): (Instant, Symmetric)) {
        let mut at = begins;
        let points: Vec<Expected> = flown
            .points
            .iter()
            .map(|point| {
                known.advance(Growth::of(&point.step));
                at += point.step.takes;
                Expected {
                    at,
                    spread: known.spread(),
                }
            })
            .collect();
        let times = FigureTimes::new(flown, &points, false);
        self.moments.figures.push(times);
        self.ends.push(known);
    }
}

/// A stated time that depends on flight or the clock only; it is as sharp as what it hangs on.
pub fn stated(show: &Show, moments: &Moments, time: &TimeExpression) -> Option<Expected> {
    let sure = |at| Expected {
        at,
        spread: Span::ZERO,
    };
    let anchor = match &time.anchor {
        Anchor::Show => sure(moments.zero),
        Anchor::Clock(clock) => sure(moments.zero + clock_after_zero(show, *clock)?),
        Anchor::Point { of, point } => moments.figure(of, 0)?.expected(point)?,
    };
    Some(Expected {
        at: anchor.at + time.offset,
        ..anchor
    })
}
