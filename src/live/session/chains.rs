//! How the figures being flown hang together, chain by chain.

use super::Flying;
use crate::flight::{Flight, FlownFigure};
use crate::show::{Name, Show};
use crate::timeline::chain::{self, Place};

/// One chain being estimated: which figures it strings together.
#[derive(Debug, Clone)]
pub(super) struct Strand {
    pub name: Name,
    pub figures: Vec<usize>,
}

/// How the figures being flown hang together; worked out whenever the programme changes.
#[derive(Debug, Clone)]
pub(super) struct Chains {
    /// For each figure, how it comes to start.
    pub places: Vec<Place>,
    pub strands: Vec<Strand>,
    /// For each figure, its entry of the programme.
    pub entries: Vec<Option<usize>>,
}

impl Chains {
    pub(super) fn of(show: &Show, flight: &Flight, programme: &[Flying]) -> Chains {
        let places = chain::places(show, &flight.figures);
        let entry = |figure: &FlownFigure| {
            programme
                .iter()
                .position(|flying| flying.entry.key == figure.key)
        };
        Chains {
            strands: strands(&places),
            entries: flight.figures.iter().map(entry).collect(),
            places,
        }
    }
}

/// The figures of each chain, in order.
fn strands(places: &[Place]) -> Vec<Strand> {
    let mut strands: Vec<Strand> = Vec::new();
    for (figure, place) in places.iter().enumerate() {
        match strands.iter_mut().find(|strand| strand.name == place.chain) {
            Some(strand) => strand.figures.push(figure),
            None => strands.push(Strand {
                name: place.chain.clone(),
                figures: vec![figure],
            }),
        }
    }
    strands
}
