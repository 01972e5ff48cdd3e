//! What is expected now: the estimate of every chain, and the cues laid on it.

use std::collections::BTreeMap;

use super::chains::Strand;
use super::{BlockCue, CueState, Flying, GRID, Session};
use crate::flight::{FlownFigure, Step};
use crate::live::estimate::{Belief, Chain, Sighting, SightingKind, believe, mark_spread};
use crate::show::{Name, PointName};
use crate::timeline::chain::{self, Place};
use crate::timeline::lay;
use crate::timeline::prior::START_SPREAD;
use crate::timeline::{Begun, Expected, FigureTimes, Moments, Rounds, Said, Version, why};
use crate::units::{Instant, Share, Span, Speed};

/// How sharply a chain starts again when somebody says "go on" (common practice, no published source).
const RESTART_SPREAD: Span = Span::from_ms(3_000);
/// A point may be overdue when its time is nearer than this many spreads.
const SURELY_AHEAD: f64 = 6.0;

/// What a chain has taught about its crew and its wind.
#[derive(Debug, Clone, PartialEq)]
pub struct Learned {
    /// The chain: its first aircraft.
    pub chain: Name,
    /// How much longer than planned everything takes, as a share.
    pub pace: Share,
    /// Wind along the line that was not planned, positive to the crowd's right.
    pub wind: Speed,
}

impl Session {
    /// Estimates everything anew from the plan, the marks and the time, and lays the cues on it.
    pub(super) fn expect(&mut self) {
        // A start that waits goes on doing so until what it waits for is over first: what is seen after it is not
        // taken for lateness before it.
        let mut starts = self.starts.clone();
        let (mut points, mut learned) = self.believe_all(&starts);
        // Where chains wait for one another the estimate of one moves the other: a few rounds settle it.
        for _ in 0..4 {
            let waits = self.waits(&points, &starts);
            if waits == starts {
                break;
            }
            starts = waits;
            (points, learned) = self.believe_all(&starts);
        }
        self.starts = starts;
        self.learned = learned;
        self.moments = self.moments_of(&points);
        self.lay();
    }

    /// What would be expected if nothing were overdue and no position were known: somebody may only have
    /// forgotten to key a point, and a position never keeps a mark from its own.
    pub fn unslipped(&self) -> Moments {
        let mut points = vec![Vec::new(); self.flight.figures.len()];
        for strand in &self.chains.strands {
            let (model, sightings) = self.chain_of(strand, &self.starts);
            let belief = believe(&model, &sightings, Instant::from_us(i64::MIN));
            self.share_out(strand, &belief, &mut points);
        }
        self.moments_of(&points)
    }

    /// Each chain before anything is seen of it, and the figures it strings together.
    pub(crate) fn chains(&self) -> Vec<(Chain, Vec<usize>)> {
        let chains = self.chains.strands.iter().map(|strand| {
            let (model, _) = self.chain_of(strand, &BTreeMap::new());
            (model, strand.figures.clone())
        });
        chains.collect()
    }

    /// For each figure, how it comes to start.
    pub(crate) fn places(&self) -> &[Place] {
        &self.chains.places
    }

    /// The next instant of the grid at which what is expected depends on the time it is, because some
    /// awaited point may be overdue by then.
    pub(super) fn next_look(&self) -> Option<Instant> {
        let figures = self.moments.figures.iter().zip(&self.flight.figures);
        let first = figures
            .filter(|(times, _)| !times.held)
            .flat_map(|(times, flown)| times.points.iter().zip(&flown.points))
            .filter(|((_, expected), flown)| is_awaited(flown) && expected.at > self.now)
            .map(|((_, expected), _)| expected.at - expected.spread * SURELY_AHEAD - GRID)
            .min()?;
        let grid = GRID.us();
        let from = first.us().saturating_add(grid - 1).div_euclid(grid);
        let next = self.now.us().div_euclid(grid) + 1;
        Some(Instant::from_us(from.max(next).saturating_mul(grid)))
    }

    /// Lays the cues on what is expected.
    pub(super) fn lay(&mut self) {
        let begun = Begun {
            blocks: self.blocks.iter().map(|block| block.since).collect(),
            said: self.blocks.iter().map(said).collect(),
            tracks: (0..self.tracks.len()).map(|i| self.way(i)).collect(),
            rounds: Rounds {
                blocks: self.blocks.iter().map(|block| block.round).collect(),
                tracks: self.tracks.iter().map(|track| track.round).collect(),
                calls: self.calls.iter().map(|call| call.round).collect(),
                silences: self.silences.iter().map(|silence| silence.round).collect(),
            },
            now: Some(self.now),
        };
        let versions: Vec<Option<Version>> =
            self.blocks.iter().map(|block| block.version).collect();
        self.layout = lay::lay(&self.show, &self.facts, &self.moments, &begun, &versions);
        self.announce_version();
    }

    /// Says so when the next block is to be said in another version than it was.
    fn announce_version(&mut self) {
        let ahead = |&i: &usize| matches!(self.blocks[i].state, CueState::Ahead | CueState::Due);
        let next = (0..self.blocks.len())
            .filter(ahead)
            .filter_map(|i| Some((self.layout.blocks[i].starts.instant()?, i)))
            .min();
        let next = next.map(|(_, i)| (i, self.layout.blocks[i].version));
        let before = std::mem::replace(&mut self.next_words, next);
        let (Some((i, version)), Some((same, was))) = (next, before) else {
            return;
        };
        if i != same || version == was {
            return;
        }
        let id = &self.show.blocks[i].id;
        let why = why(&self.show, &self.moments, &self.layout, i);
        let why = why.map_or(String::new(), |why| format!(": {why}"));
        self.notice(match version {
            Version::Full => format!("\"{id}\" is said in full again"),
            Version::Short => format!("\"{id}\" is said short now{why}"),
            Version::LeftOut => format!("\"{id}\" is left out now{why}"),
        });
    }

    /// Every figure's points and what its chain teaches, chain by chain; `starts` are starts that wait for something outside the chain.
    fn believe_all(
        &self,
        starts: &BTreeMap<usize, Expected>,
    ) -> (Vec<Vec<Expected>>, Vec<Learned>) {
        let mut points = vec![Vec::new(); self.flight.figures.len()];
        let mut learned = Vec::with_capacity(self.chains.strands.len());
        for strand in &self.chains.strands {
            let (model, mut sightings) = self.chain_of(strand, starts);
            sightings.extend(self.position_sighting(&strand.figures));
            // An awaited point lies beyond the next look at the clock, so nothing fires on it unseen.
            let belief = believe(&model, &sightings, self.now + GRID);
            self.share_out(strand, &belief, &mut points);
            learned.push(Learned {
                chain: strand.name.clone(),
                pace: belief.pace,
                wind: belief.wind,
            });
        }
        (points, learned)
    }

    /// Gives each figure of a strand its own points.
    fn share_out(&self, strand: &Strand, belief: &Belief, points: &mut [Vec<Expected>]) {
        let mut believed = belief.points.iter().map(|point| Expected {
            at: point.at,
            spread: point.spread,
        });
        for &figure in &strand.figures {
            let count = self.flight.figures[figure].points.len();
            points[figure] = believed.by_ref().take(count).collect();
        }
    }

    /// The chain of a strand and what has been seen of it.
    fn chain_of(
        &self,
        strand: &Strand,
        starts: &BTreeMap<usize, Expected>,
    ) -> (Chain, Vec<Sighting>) {
        let first = strand.figures.first().copied().unwrap_or(0);
        let mut model = Chain {
            starts: self.first_start(first),
            start_spread: START_SPREAD,
            ..Chain::default()
        };
        let mut sightings = Vec::new();
        for &figure in &strand.figures {
            let flown = &self.flight.figures[figure];
            let flying = self.entry_of(figure);
            let at = model.steps.len();
            let restart = flying.and_then(|flying| flying.restart);
            if let Some(start) = starts.get(&figure) {
                sightings.push(restart_at(at, start.at, start.spread));
            } else if let Some(start) = restart {
                sightings.push(restart_at(at, start, RESTART_SPREAD));
            }
            // What is held or broken off is waited for by nobody.
            let waited_for = flying.is_none_or(|flying| flying.broken.is_none() && !flying.held);
            for (i, point) in flown.points.iter().enumerate() {
                // A figure begins where the one before it in the chain ended.
                let step = if i == 0 { Step::default() } else { point.step };
                model.steps.push(step);
                model.awaited.push(waited_for && is_awaited(point));
            }
            sightings.extend(self.sightings_of(flown, at));
        }
        (model, sightings)
    }

    /// The marks of a figure whose first point is the chain's point `first`.
    fn sightings_of(&self, flown: &FlownFigure, first: usize) -> Vec<Sighting> {
        self.marks
            .iter()
            .filter(|mark| mark.point.key == flown.key)
            .filter_map(|mark| {
                let i = flown
                    .points
                    .iter()
                    .position(|p| p.point == mark.point.point)?;
                Some(Sighting {
                    point: first + i,
                    at: self.seen_at(mark),
                    spread: mark_spread(&mark.point.point),
                    kind: SightingKind::Seen,
                })
            })
            .collect()
    }

    /// When the first figure of a chain starts, as planned.
    fn first_start(&self, figure: usize) -> Instant {
        let key = &self.flight.figures[figure].key;
        let planned = self.plan.moments.figures.iter().find(|f| f.key == *key);
        let display = self.plan.moments.figures.first();
        let begins = if figure == 0 {
            display
        } else {
            planned.or(display)
        };
        let begins = begins.map_or(Instant::ZERO, FigureTimes::start);
        self.zero + (begins - Instant::ZERO)
    }

    /// Starts that wait for another chain or a stated time later than their own chain would have them.
    fn waits(
        &self,
        points: &[Vec<Expected>],
        known: &BTreeMap<usize, Expected>,
    ) -> BTreeMap<usize, Expected> {
        let places = &self.chains.places;
        // Only stated times are looked up in them.
        let moments = places
            .iter()
            .any(|place| place.stated)
            .then(|| self.moments_of(points));
        let mut waits = BTreeMap::new();
        for (figure, place) in places.iter().enumerate() {
            let restarted = self
                .entry_of(figure)
                .is_some_and(|flying| flying.restart.is_some());
            if restarted {
                continue;
            }
            let others = place
                .behind
                .iter()
                .filter(|&&before| places[before].chain != place.chain)
                .filter_map(|&before| self.end_of(points, before));
            let stated = moments
                .as_ref()
                .filter(|_| place.stated)
                .and_then(|moments| self.stated_start(figure, moments));
            let Some(latest) = others.chain(stated).max_by_key(|expected| expected.at) else {
                continue;
            };
            let own = self.own_end(points, figure);
            if own.is_none_or(|own| {
                latest.at > own || known.contains_key(&figure) && latest.at >= own
            }) {
                waits.insert(figure, latest);
            }
        }
        waits
    }

    /// When the document says a figure starts.
    fn stated_start(&self, figure: usize, moments: &Moments) -> Option<Expected> {
        let starts = self.show.figure(&self.flight.figures[figure].id)?;
        chain::stated(&self.show, moments, starts.starts.as_ref()?)
    }

    /// When the figure before this one in its own chain ends.
    fn own_end(&self, points: &[Vec<Expected>], figure: usize) -> Option<Instant> {
        let places = &self.chains.places;
        let before = places[..figure]
            .iter()
            .rposition(|place| place.chain == places[figure].chain)?;
        self.end_of(points, before).map(|end| end.at)
    }

    /// When a figure is expected to end, or was broken off.
    fn end_of(&self, points: &[Vec<Expected>], figure: usize) -> Option<Expected> {
        let end = points[figure].last().copied()?;
        let broken = self.entry_of(figure).and_then(|flying| flying.broken);
        Some(match broken {
            Some(at) if at < end.at => Expected {
                at,
                spread: Span::ZERO,
            },
            _ => end,
        })
    }

    /// The moments of figures whose points fall at `points`.
    fn moments_of(&self, points: &[Vec<Expected>]) -> Moments {
        let figures = self
            .flight
            .figures
            .iter()
            .zip(points)
            .enumerate()
            .map(|(figure, (flown, points))| {
                let flying = self.entry_of(figure);
                let mut times = FigureTimes::new(flown, points, flying.is_some_and(|f| f.held));
                if let Some(broken) = flying.and_then(|flying| flying.broken) {
                    times.break_off(broken);
                }
                times.make_audible(&self.audible);
                times
            })
            .collect();
        Moments {
            figures,
            zero: self.zero,
        }
    }

    /// The entry of the programme that the `figure`th figure flown is.
    fn entry_of(&self, figure: usize) -> Option<&Flying> {
        let entry = self.chains.entries.get(figure).copied().flatten()?;
        self.programme.get(entry)
    }
}

/// How far a block is, for what hangs on its end or its start.
fn said(block: &BlockCue) -> Said {
    match (block.state, block.ended) {
        (_, Some(at)) => Said::Ended(at),
        (CueState::Running, _) => Said::Now,
        (CueState::Done | CueState::Dropped, _) => Said::Never,
        (CueState::Ahead, _) => Said::Ahead,
        (CueState::Due, _) => Said::Due,
    }
}

/// Whether the show waits for this point: it comes when it comes, and somebody marks it.
pub(crate) fn is_awaited(point: &crate::flight::FlownPoint) -> bool {
    point.step.waits || matches!(point.point, PointName::Abeam(_))
}

fn restart_at(point: usize, at: Instant, spread: Span) -> Sighting {
    Sighting {
        point,
        at,
        spread,
        kind: SightingKind::Restart,
    }
}
