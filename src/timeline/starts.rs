//! What is said of figures that start at a stated time: that it comes too early for their aircraft, or so late that they
//! would have to stand in the air.

use super::chain::{Place, places, stated};
use super::clock::told;
use super::moments::Moments;
use crate::flight::Flight;
use crate::show::{Fault, Figure, Motion, Show};
use crate::units::{Instant, Span};

/// No later than this after its time is at its time.
const AT_ONCE: Span = Span::from_ms(1_000);
/// Nobody notices a wait of less.
const MOMENT: Span = Span::from_ms(2_000);

/// Advice on each figure whose start is not what it should be.
pub(super) fn advice(show: &Show, flight: &Flight, moments: &Moments) -> Vec<Fault> {
    let places = places(show, &flight.figures);
    let each = moments.figures.iter().zip(&flight.figures).enumerate();
    each.filter_map(|(index, (times, flown))| {
        let figure = show.figure(&flown.id)?;
        let wanted = stated(show, moments, figure.starts.as_ref()?)?.at;
        let place = places.get(index)?;
        let ends = place.behind.iter().filter_map(|&i| moments.figures.get(i));
        let latest = ends.max_by_key(|times| times.end());
        if times.start() - wanted > AT_ONCE {
            return Some(too_early(show, figure, wanted, times.start()));
        }
        let before = latest.filter(|before| times.start() - before.end() > MOMENT)?;
        let wait = times.start() - before.end();
        stands(figure, flight, index, place).then(|| in_the_air(figure, before.key.as_str(), wait))
    })
    .collect()
}

fn too_early(show: &Show, figure: &Figure, wanted: Instant, starts: Instant) -> Fault {
    let (wanted, starts) = (told(show, wanted), told(show, starts));
    let message = format!(
        "\"{}\" is to start at {wanted}, but its aircraft come to it at {starts}: it starts then",
        figure.id
    );
    Fault::advice(figure.at.clone(), message).help(
        "write a later start, or leave it out: a figure starts when the one before it has ended",
    )
}

/// Whether a figure that is flown leg by leg begins in the air, and not at a hold, behind another that is.
fn stands(figure: &Figure, flight: &Flight, index: usize, place: &Place) -> bool {
    let flown = |i: usize| {
        let path = flight.figures.get(i).map(|flown| flown.path());
        path.is_some_and(|path| path.len() > 1)
    };
    let first = figure.manner.legs().next();
    let holds = first.is_some_and(|leg| matches!(leg.motion, Motion::Hold { .. }));
    flown(index) && !holds && place.behind.iter().any(|&i| flown(i))
}

fn in_the_air(figure: &Figure, before: &str, wait: Span) -> Fault {
    let message = format!(
        "\"{}\" starts {wait} after \"{before}\" has ended, and nothing says where its aircraft is meanwhile",
        figure.id
    );
    Fault::advice(figure.at.clone(), message).help(
        "begin it with a hold, { hold = \"3 nmi\", expect = \"90 s\" }, or fly a reposition before it",
    )
}
