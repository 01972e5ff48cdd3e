//! Figures put one behind the other, aircraft by aircraft.
//!
//! A figure starts when its own aircraft are free and, if the document says no time of its own, when the
//! figure before it in the programme has ended.

use super::clock::clock_instant;
use super::moments::{Expected, FigureTimes, Moments};
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
    let mut figures: Vec<FigureTimes> = Vec::with_capacity(flight.figures.len());
    let mut variances: Vec<f64> = Vec::with_capacity(flight.figures.len());
    for (flown, place) in flight.figures.iter().zip(places) {
        let own = show
            .figure(&flown.id)
            .and_then(|figure| figure.starts.as_ref());
        let stated = own.and_then(|starts| stated(show, known, starts));
        let last = place
            .behind
            .iter()
            .map(|&i| (figures[i].end(), variances[i]))
            .max_by_key(|&(end, _)| end);
        let first = Instant::ZERO + start;
        let (begin, variance) = match (last, stated) {
            (Some((end, variance)), Some(at)) if end >= at => (end, variance),
            (_, Some(at)) => (at, 0.0),
            (Some(behind), None) => behind,
            (None, None) => (first, 0.0),
        };
        let (points, end_variance) = spread_points(flown, begin, variance);
        figures.push(FigureTimes::new(flown, &points, false));
        variances.push(end_variance);
    }
    Moments { figures }
}

/// A figure's points from `begin` on, spreads adding up as variances.
fn spread_points(flown: &FlownFigure, begin: Instant, variance: f64) -> (Vec<Expected>, f64) {
    let mut variance = variance;
    let points = flown
        .points
        .iter()
        .map(|point| {
            variance += point.step.spread.s().powi(2);
            Expected {
                at: begin + point.after,
                spread: Span::from_s(variance.sqrt()),
            }
        })
        .collect();
    (points, variance)
}

/// A stated time that depends on flight or the clock only.
pub fn stated(show: &Show, moments: &Moments, time: &TimeExpression) -> Option<Instant> {
    let anchor = match &time.anchor {
        Anchor::Show => Instant::ZERO,
        Anchor::Clock(clock) => clock_instant(show, *clock)?,
        Anchor::Point { of, point } => moments.figure(of, 0)?.expected(point)?.at,
    };
    Some(anchor + time.offset)
}
