//! A show made ready to be sketched many times: everything that names something else has found it.

use super::hooks::{Finder, Hook, Place, Time};
use crate::flight::FlownFigure;
use crate::live::estimate::{Chain, mark_spread};
use crate::live::session::parallax;
use crate::live::{MarkKind, Session};
use crate::practice::flown::Walk;
use crate::show::{Block, Go, IfMissed, Show, Silence, TimeExpression, Track, Wording};
use crate::sound::Course;
use crate::timeline::Plan;
use crate::timeline::course::as_planned;
use crate::timeline::meet::Means;
use crate::units::Span;

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
    /// Silences and blocks, in each flying of the figure they hang on.
    pub(super) silences: Vec<Vec<(Time, Time)>>,
    pub(super) blocks: Vec<Vec<Spoken>>,
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
    /// When figures of other chains end, and the time stated for it.
    pub(super) others: Vec<Time>,
    /// The end of the figure before it in its chain.
    pub(super) own: Option<usize>,
}

/// A block for one flying.
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
    /// Its times, in each flying of the figure it hangs on.
    pub(super) flyings: Vec<Timed>,
    pub(super) length: Span,
    pub(super) by_itself: bool,
    /// How it is played as planned, and how much music that is to its hit.
    pub(super) planned: Course,
    pub(super) music: Option<Span>,
    /// Whether it can be turned, or may have to fade, while it plays.
    pub(super) turns: bool,
}

/// When a track is, for one flying.
#[derive(Debug)]
pub(super) struct Timed {
    /// What it meets.
    pub(super) on: Option<Time>,
    pub(super) starts: Option<Time>,
    pub(super) ends: Option<Time>,
}

impl<'s> Score<'s> {
    /// `None` where something hangs on words or music that come again: what it then hangs on, and from when, a
    /// sketch leaves to the session.
    pub(super) fn of(show: &'s Show, plan: &'s Plan, session: &Session) -> Option<Score<'s>> {
        let figures = &plan.flight.figures;
        if figures.iter().any(|figure| figure.points.is_empty()) {
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
        let lengths = plan.facts.track_lengths.iter().copied();
        let lengths = lengths.chain(std::iter::repeat(Span::ZERO));
        let tracks = show.tracks.iter().zip(lengths);
        let tracks = tracks.map(|(track, length)| played(&finder, track, length));
        let mut score = Score {
            walk: Walk::of(show, plan, &plan.flight),
            points: points(show, figures),
            kinds: [MarkKind::Inbound, MarkKind::Gate, MarkKind::Abeam]
                .map(|kind| of_kind(figures, kind)),
            waiting: waiting(session, &finder, &place_of),
            hushes: hushes(figures, &firsts),
            silences: show.silences.iter().map(|s| quiet(&finder, s)).collect(),
            blocks: show.blocks.iter().map(|b| spoken(&finder, b)).collect(),
            tracks: tracks.collect(),
            show,
            plan,
            chains,
            place_of,
            hangs_on_words: false,
        };
        let on_words = |time: &Time| matches!(time.hook, Hook::BlockEnd(_));
        let hangs = score.times().any(on_words);
        score.hangs_on_words = hangs;
        let on_what_comes_again = score.times().any(|time| score.comes_again(time.hook));
        (!on_what_comes_again).then_some(score)
    }

    /// One standard deviation of a mark of a kind.
    pub(super) fn mark_spread(&self, kind: MarkKind) -> Span {
        let first = self.kinds[kind as usize].first();
        first.map_or(Span::ZERO, |&first| self.points[first].spread)
    }

    fn comes_again(&self, hook: Hook) -> bool {
        match hook {
            Hook::BlockStart(i) | Hook::BlockEnd(i) => self.blocks[i].len() > 1,
            Hook::TrackStart(i) | Hook::TrackEnd(i) | Hook::Hit(i, _) => {
                self.tracks[i].flyings.len() > 1
            }
            Hook::Nothing | Hook::At(_) | Hook::Flown(_) => false,
        }
    }

    /// Every time of the document that can move a cue.
    fn times(&self) -> impl Iterator<Item = &Time> {
        let blocks = self.blocks.iter().flatten().flat_map(|block| {
            let words = block.waits.iter().flatten();
            block.starts.iter().chain(&block.ends_by).chain(words)
        });
        let tracks = self.tracks.iter().flat_map(|track| &track.flyings);
        let tracks = tracks.flat_map(|at| at.on.iter().chain(&at.starts).chain(&at.ends));
        let silences = self.silences.iter().flatten();
        let silences = silences.flat_map(|(from, until)| [from, until]);
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
    let ends = |figure: usize| Time {
        hook: Hook::Flown(Place::Beyond(end(figure), Span::ZERO)),
        offset: Span::ZERO,
    };
    let waiting = places.iter().enumerate().filter_map(|(figure, place)| {
        let behind = place
            .behind
            .iter()
            .filter(|&&before| places[before].chain != place.chain);
        let starts = finder
            .show
            .figure(&finder.figures[figure].id)?
            .starts
            .as_ref();
        let stated = starts.filter(|_| place.stated);
        let stated = stated.map(|time| finder.time(time, 0));
        let others: Vec<Time> = behind.map(|&before| ends(before)).chain(stated).collect();
        let mut before = places[..figure].iter();
        let own = before.rposition(|before| before.chain == place.chain);
        let (chain, point) = place_of[finder.firsts[figure]];
        (!others.is_empty()).then(|| Waiting {
            chain,
            point,
            others,
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

fn quiet(finder: &Finder<'_>, silence: &Silence) -> Vec<(Time, Time)> {
    let rounds = 0..finder.rounds(Some(&silence.from));
    let times = rounds.map(|round| {
        let time = |time: &TimeExpression| finder.time(time, round);
        (time(&silence.from), time(&silence.until))
    });
    times.collect()
}

fn spoken(finder: &Finder<'_>, block: &Block) -> Vec<Spoken> {
    let rounds = 0..finder.rounds(block.starts.as_ref());
    let spoken = rounds.map(|round| {
        let time = |time: &TimeExpression| finder.time(time, round);
        let waits = |words: &Wording| words.waits().map(&time).collect();
        Spoken {
            starts: block.starts.as_ref().map(&time),
            ends_by: block.ends_by.as_ref().map(&time),
            waits: [Some(&block.text), block.short.as_ref()]
                .map(|words| words.map_or(Vec::new(), waits)),
        }
    });
    spoken.collect()
}

fn played<'s>(finder: &Finder<'_>, track: &'s Track, length: Span) -> Played<'s> {
    let means = Means::of(track);
    let first = track.entries.first().copied().unwrap_or_default();
    let meets = track.meets.as_ref();
    let fades = meets.is_some_and(|meet| meet.if_missed == IfMissed::Fade);
    let on = meets.map(|meet| &meet.on);
    let rounds = 0..finder.rounds(on.or(track.starts.as_ref()));
    let flyings = rounds.map(|round| {
        let time = |time: &TimeExpression| finder.time(time, round);
        Timed {
            on: on.map(time),
            starts: track.starts.as_ref().map(time),
            ends: track.ends.as_ref().map(time),
        }
    });
    Played {
        flyings: flyings.collect(),
        length,
        by_itself: track.go == Go::Auto,
        planned: as_planned(track),
        music: means.and_then(|means| means.music_from(first)),
        turns: means
            .is_some_and(|means| means.round.is_some() || track.stretch.whole() > 0.0 || fades),
        means,
    }
}
