//! A show made ready to be sketched many times: everything that names something else has found it.

use super::hooks::{Finder, Hook, Place, Time};
use crate::flight::FlownFigure;
use crate::live::estimate::{Chain, mark_spread};
use crate::live::session::parallax;
use crate::live::{MarkKind, Session};
use crate::practice::flown::Walk;
use crate::show::{Go, IfMissed, Show, Wording};
use crate::sound::Course;
use crate::timeline::Plan;
use crate::timeline::course::as_planned;
use crate::timeline::meet::Means;
use crate::units::{Instant, Span};

/// A show and its plan.
#[derive(Debug)]
pub(super) struct Score<'s> {
    pub(super) show: &'s Show,
    pub(super) plan: &'s Plan,
    pub(super) walk: Walk,
    /// The points of all figures, one figure behind the other.
    pub(super) points: Vec<Point>,
    /// For each kind of mark, the points that it can be of.
    pub(super) kinds: [Vec<usize>; 3],
    pub(super) chains: Vec<Strung>,
    /// For each point, its chain and its place in it.
    pub(super) place_of: Vec<(usize, usize)>,
    pub(super) waiting: Vec<Waiting>,
    pub(super) hushes: Vec<(Place, Place)>,
    pub(super) silences: Vec<(Time, Time)>,
    pub(super) blocks: Vec<Spoken>,
    pub(super) tracks: Vec<Played<'s>>,
    /// Whether any time hangs on when words are over.
    pub(super) hangs_on_words: bool,
}

/// A point of flight.
#[derive(Debug)]
pub(super) struct Point {
    /// How much later than at crowd centre it is seen from the stand.
    pub(super) parallax: Span,
    /// One standard deviation of a mark of it.
    pub(super) spread: Span,
}

/// A chain, and which of all points are its own.
#[derive(Debug)]
pub(super) struct Strung {
    pub(super) model: Chain,
    pub(super) points: Vec<usize>,
}

/// A figure whose start may wait for more than the end of the one before it in its chain.
#[derive(Debug)]
pub(super) struct Waiting {
    /// Its chain, and its first point there.
    pub(super) chain: usize,
    pub(super) point: usize,
    /// Ends of figures of other chains, among all points.
    pub(super) others: Vec<usize>,
    /// The time stated for it: so long after a point, or after show zero.
    pub(super) stated: Option<(Option<usize>, Span)>,
    /// The end of the figure before it in its chain.
    pub(super) own: Option<usize>,
}

/// A block.
#[derive(Debug)]
pub(super) struct Spoken {
    pub(super) starts: Option<Time>,
    pub(super) ends_by: Option<Time>,
    /// What its full and its short text wait for.
    pub(super) waits: [Vec<Time>; 2],
}

/// A track.
#[derive(Debug)]
pub(super) struct Played<'s> {
    pub(super) means: Option<Means<'s>>,
    /// What it meets.
    pub(super) on: Option<Time>,
    pub(super) starts: Option<Time>,
    pub(super) ends: Option<Time>,
    pub(super) length: Span,
    pub(super) by_itself: bool,
    /// How it is played as planned, and how much music that is to its hit.
    pub(super) planned: Course,
    pub(super) music: Option<Span>,
    /// Whether it can be turned, or may have to fade, while it plays.
    pub(super) turns: bool,
}

impl<'s> Score<'s> {
    /// `None` where a figure is flown more than once: its cues come again, which a sketch leaves out.
    pub(super) fn of(show: &'s Show, plan: &'s Plan, session: &Session) -> Option<Score<'s>> {
        let figures = &plan.flight.figures;
        let again = |i: usize| figures[..i].iter().any(|before| before.id == figures[i].id);
        if (0..figures.len()).any(again) || figures.iter().any(|figure| figure.points.is_empty()) {
            return None;
        }
        let firsts = firsts(figures);
        let finder = Finder {
            show,
            figures,
            firsts: &firsts,
        };
        let chains = strung(session, figures, &firsts);
        let mut place_of = vec![(0, 0); chains.iter().map(|chain| chain.points.len()).sum()];
        for (c, chain) in chains.iter().enumerate() {
            for (i, &point) in chain.points.iter().enumerate() {
                place_of[point] = (c, i);
            }
        }
        let blocks: Vec<Spoken> = show
            .blocks
            .iter()
            .map(|block| Spoken {
                starts: block.starts.as_ref().map(|time| finder.time(time)),
                ends_by: block.ends_by.as_ref().map(|time| finder.time(time)),
                waits: [Some(&block.text), block.short.as_ref()]
                    .map(|words| words.map_or(Vec::new(), |words| waits(&finder, words))),
            })
            .collect();
        let tracks: Vec<Played<'s>> = (0..show.tracks.len())
            .map(|i| played(&finder, show, plan, i))
            .collect();
        let mut score = Score {
            walk: Walk::of(show, plan, &plan.flight),
            points: points(show, figures),
            kinds: [MarkKind::Inbound, MarkKind::Gate, MarkKind::Abeam]
                .map(|kind| of_kind(figures, kind)),
            waiting: waiting(session, &finder, &place_of),
            hushes: hushes(figures, &firsts),
            silences: show
                .silences
                .iter()
                .map(|silence| (finder.time(&silence.from), finder.time(&silence.until)))
                .collect(),
            show,
            plan,
            chains,
            place_of,
            blocks,
            tracks,
            hangs_on_words: false,
        };
        let on_words = |time: &Time| matches!(time.hook, Hook::BlockEnd(_));
        let hangs = score.times().any(on_words);
        score.hangs_on_words = hangs;
        Some(score)
    }

    /// Every time of the document that can move a cue.
    fn times(&self) -> impl Iterator<Item = &Time> {
        let blocks = self.blocks.iter().flat_map(|block| {
            let words = block.waits.iter().flatten();
            block.starts.iter().chain(&block.ends_by).chain(words)
        });
        let tracks = self.tracks.iter();
        let tracks =
            tracks.flat_map(|track| track.on.iter().chain(&track.starts).chain(&track.ends));
        let silences = self.silences.iter().flat_map(|(from, until)| [from, until]);
        blocks.chain(tracks).chain(silences)
    }
}

/// The first point of each figure among all.
fn firsts(figures: &[FlownFigure]) -> Vec<usize> {
    let mut next = 0;
    let firsts = figures.iter().map(|figure| {
        let first = next;
        next += figure.points.len();
        first
    });
    firsts.collect()
}

fn points(show: &Show, figures: &[FlownFigure]) -> Vec<Point> {
    let points = figures.iter().flat_map(|figure| &figure.points);
    let points = points.map(|point| Point {
        parallax: parallax(&point.point, show.site.stand.0, point.along),
        spread: mark_spread(&point.point),
    });
    points.collect()
}

fn of_kind(figures: &[FlownFigure], kind: MarkKind) -> Vec<usize> {
    let points = figures.iter().flat_map(|figure| &figure.points).enumerate();
    let of_kind = points.filter(|(_, point)| kind.is_of(&point.point));
    of_kind.map(|(i, _)| i).collect()
}

fn strung(session: &Session, figures: &[FlownFigure], firsts: &[usize]) -> Vec<Strung> {
    let chains = session.chains().into_iter().map(|(model, strand)| {
        let points = strand.iter().flat_map(|&figure| {
            let first = firsts[figure];
            first..first + figures[figure].points.len()
        });
        Strung {
            points: points.collect(),
            model,
        }
    });
    chains.collect()
}

fn waiting(session: &Session, finder: &Finder<'_>, place_of: &[(usize, usize)]) -> Vec<Waiting> {
    let places = session.places();
    let end = |figure: usize| {
        (finder.firsts[figure] + finder.figures[figure].points.len()).saturating_sub(1)
    };
    let waiting = places.iter().enumerate().filter_map(|(figure, place)| {
        let behind = place
            .behind
            .iter()
            .filter(|&&before| places[before].chain != place.chain);
        let others: Vec<usize> = behind.map(|&before| end(before)).collect();
        let starts = finder
            .show
            .figure(&finder.figures[figure].id)?
            .starts
            .as_ref();
        let stated = starts.filter(|_| place.stated).and_then(|time| {
            let Time { hook, offset } = finder.time(time);
            match hook {
                Hook::At(at) => Some((None, at - Instant::ZERO + offset)),
                Hook::Point(point, later) => Some((Some(point), later + offset)),
                _ => None,
            }
        });
        let mut before = places[..figure].iter();
        let own = before.rposition(|before| before.chain == place.chain);
        let (chain, point) = place_of[finder.firsts[figure]];
        (stated.is_some() || !others.is_empty()).then(|| Waiting {
            chain,
            point,
            others,
            stated,
            own: own.map(end),
        })
    });
    waiting.collect()
}

fn hushes(figures: &[FlownFigure], firsts: &[usize]) -> Vec<(Place, Place)> {
    let hushes = figures.iter().zip(firsts).flat_map(|(figure, &first)| {
        let place = move |after| Place::of(figure, first, after);
        figure
            .hush
            .iter()
            .map(move |&(from, until)| (place(from), place(until)))
    });
    hushes.collect()
}

fn waits(finder: &Finder<'_>, words: &Wording) -> Vec<Time> {
    words.waits().map(|time| finder.time(time)).collect()
}

fn played<'s>(finder: &Finder<'_>, show: &'s Show, plan: &Plan, i: usize) -> Played<'s> {
    let track = &show.tracks[i];
    let means = Means::of(track);
    let first = track.entries.first().copied().unwrap_or_default();
    let fades = track
        .meets
        .as_ref()
        .is_some_and(|meet| meet.if_missed == IfMissed::Fade);
    let time = |time: &Option<_>| time.as_ref().map(|time| finder.time(time));
    Played {
        on: track.meets.as_ref().map(|meet| finder.time(&meet.on)),
        starts: time(&track.starts),
        ends: time(&track.ends),
        length: plan.facts.track_lengths.get(i).copied().unwrap_or_default(),
        by_itself: track.go == Go::Auto,
        planned: as_planned(track),
        music: means.and_then(|means| means.music_from(first)),
        turns: means
            .is_some_and(|means| means.round.is_some() || track.stretch.whole() > 0.0 || fades),
        means,
    }
}
