//! Blocks, tracks, calls and silences laid on the moments of flight.
//!
//! The same code lays the plan (on planned moments) and the running show (on estimated ones, with what has
//! begun kept where it is).

use std::cell::RefCell;

use super::chain;
use super::meet::{self, Meeting};
use super::moments::Moments;
use crate::show::{Anchor, Name, PointName, Show, TimeExpression};
use crate::units::{Instant, Span};

/// Which words of a block are said.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Version {
    /// The full text.
    #[default]
    Full,
    /// The short text.
    Short,
}

/// What is known of words and files before anything is laid; one for each block and track of the show.
#[derive(Debug, Clone, Default)]
pub struct Facts {
    /// Time to speak each block: full, short.
    pub speaking: Vec<(Span, Option<Span>)>,
    /// Length of each track; zero where the file could not be read.
    pub track_lengths: Vec<Span>,
}

/// What has already begun, and how often each cue has been through. One for each cue of the show.
#[derive(Debug, Clone, Default)]
pub struct Begun {
    /// Blocks being said: since when.
    pub blocks: Vec<Option<Instant>>,
    /// Tracks committed or playing: start and entry.
    pub tracks: Vec<Option<(Instant, Span)>>,
    /// How often each block, track, call, silence is through: the flying of its figure it now serves.
    pub rounds: Rounds,
    /// Nothing can start before this; `None`: before the display begins.
    pub now: Option<Instant>,
}

/// How often each cue is through.
#[derive(Debug, Clone, Default)]
pub struct Rounds {
    /// Blocks.
    pub blocks: Vec<usize>,
    /// Tracks.
    pub tracks: Vec<usize>,
    /// Calls.
    pub calls: Vec<usize>,
    /// Silences.
    pub silences: Vec<usize>,
}

/// When a cue is; or why it has no time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CueTime {
    /// At an instant.
    At(Instant),
    /// The show is held up before what it depends on.
    Held,
    /// What it depends on is not flown.
    Orphaned,
    /// Nothing says when: a filler, a track started by hand.
    Free,
}

/// A block on the clock.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SpokenBlock {
    /// When it is begun.
    pub starts: CueTime,
    /// Which words.
    pub version: Version,
    /// When its last word is out, if it has a start.
    pub ends: Option<Instant>,
    /// When its last word must be out by the document.
    pub ends_by: Option<Instant>,
    /// What is left before it must stop: `ends_by`, a hush, a silence or the next block; `None` if nothing follows.
    pub slack: Option<Span>,
}

/// A track on the clock.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PlayedTrack {
    /// When it starts.
    pub starts: CueTime,
    /// Where in the track.
    pub entry: Span,
    /// When its fade out begins, if something ends it before its own end.
    pub fades: Option<Instant>,
    /// When it is silent.
    pub ends: Option<Instant>,
    /// What becomes of its meet.
    pub meeting: Option<Meeting>,
}

/// Everything but flight, on the clock; indices as in the show.
#[derive(Debug, Clone, Default)]
pub struct Layout {
    /// Blocks.
    pub blocks: Vec<SpokenBlock>,
    /// Tracks.
    pub tracks: Vec<PlayedTrack>,
    /// Calls.
    pub calls: Vec<CueTime>,
    /// Silences: from, until.
    pub silences: Vec<(CueTime, CueTime)>,
}

impl CueTime {
    /// The instant, if there is one.
    pub fn instant(self) -> Option<Instant> {
        match self {
            CueTime::At(at) => Some(at),
            _ => None,
        }
    }

    fn map(self, f: impl FnOnce(Instant) -> Instant) -> CueTime {
        match self {
            CueTime::At(at) => CueTime::At(f(at)),
            other => other,
        }
    }
}

/// Lays everything: full texts first, then the short ones where the full do not fit.
pub fn lay(
    show: &Show,
    facts: &Facts,
    moments: &Moments,
    begun: &Begun,
    keep: &[Option<Version>],
) -> Layout {
    let full: Vec<Version> = (0..show.blocks.len())
        .map(|i| keep.get(i).copied().flatten().unwrap_or_default())
        .collect();
    let first = Table::new(show, facts, moments, begun, &full).layout();
    let versions: Vec<Version> = (0..show.blocks.len())
        .map(|i| {
            let fixed = keep.get(i).copied().flatten();
            fixed.unwrap_or_else(|| fitting_version(facts, &first, i))
        })
        .collect();
    if versions == full {
        return first;
    }
    Table::new(show, facts, moments, begun, &versions).layout()
}

/// The short text where there is one and the full does not fit.
fn fitting_version(facts: &Facts, layout: &Layout, block: usize) -> Version {
    let short = facts
        .speaking
        .get(block)
        .is_some_and(|(_, short)| short.is_some());
    let late = layout.blocks[block]
        .slack
        .is_some_and(|slack| slack < Span::ZERO);
    if short && late {
        Version::Short
    } else {
        Version::Full
    }
}

/// One laying: looks things up by name, each worked out once.
struct Table<'a> {
    show: &'a Show,
    facts: &'a Facts,
    moments: &'a Moments,
    begun: &'a Begun,
    versions: &'a [Version],
    blocks: RefCell<Vec<Known<CueTime>>>,
    tracks: RefCell<Vec<Known<PlayedTrack>>>,
}

/// What a table knows of one thing.
#[derive(Clone, Copy)]
enum Known<T> {
    Not,
    /// Being worked out: to ask again is a circle, which loading has refused.
    Asked,
    Is(T),
}

impl<'a> Table<'a> {
    fn new(
        show: &'a Show,
        facts: &'a Facts,
        moments: &'a Moments,
        begun: &'a Begun,
        versions: &'a [Version],
    ) -> Self {
        Table {
            show,
            facts,
            moments,
            begun,
            versions,
            blocks: RefCell::new(vec![Known::Not; show.blocks.len()]),
            tracks: RefCell::new(vec![Known::Not; show.tracks.len()]),
        }
    }

    fn layout(&self) -> Layout {
        let rounds = &self.begun.rounds;
        let silences: Vec<(CueTime, CueTime)> = self
            .show
            .silences
            .iter()
            .enumerate()
            .map(|(i, silence)| {
                let round = round(&rounds.silences, i);
                (
                    self.time(&silence.from, round),
                    self.time(&silence.until, round),
                )
            })
            .collect();
        let calls = self
            .show
            .calls
            .iter()
            .enumerate()
            .map(|(i, call)| self.time(&call.when, round(&rounds.calls, i)))
            .collect();
        let stops = self.stops(&silences);
        Layout {
            blocks: (0..self.show.blocks.len())
                .map(|i| self.block(i, &stops))
                .collect(),
            tracks: (0..self.show.tracks.len()).map(|i| self.track(i)).collect(),
            calls,
            silences,
        }
    }

    /// A time expression, serving the `round`th flying of the figure it names.
    fn time(&self, time: &TimeExpression, round: usize) -> CueTime {
        let anchor = match &time.anchor {
            Anchor::Show => CueTime::At(Instant::ZERO),
            Anchor::Clock(clock) => match chain::clock_instant(self.show, *clock) {
                Some(at) => CueTime::At(at),
                None => CueTime::Orphaned,
            },
            Anchor::Point { of, point } => self.point(of, point, round),
        };
        anchor.map(|at| at + time.offset)
    }

    fn point(&self, of: &Name, point: &PointName, round: usize) -> CueTime {
        if let Some(i) = self.show.blocks.iter().position(|block| block.id == *of) {
            let starts = self.block_start(i);
            return match point {
                PointName::End => starts.map(|at| at + self.speaking(i)),
                _ => starts,
            };
        }
        if let Some(i) = self.show.tracks.iter().position(|track| track.id == *of) {
            return self.track_point(i, point);
        }
        match self.moments.figure(of, round) {
            Some(figure) if figure.held => CueTime::Held,
            Some(figure) => figure
                .expected(point)
                .map_or(CueTime::Orphaned, |expected| CueTime::At(expected.at)),
            None => CueTime::Orphaned,
        }
    }

    fn speaking(&self, block: usize) -> Span {
        let (full, short) = self.facts.speaking.get(block).copied().unwrap_or_default();
        match self.versions[block] {
            Version::Full => full,
            Version::Short => short.unwrap_or(full),
        }
    }

    fn block_start(&self, i: usize) -> CueTime {
        if let Some(since) = self.begun.blocks.get(i).copied().flatten() {
            return CueTime::At(since);
        }
        let known = self.blocks.borrow()[i];
        match known {
            Known::Is(starts) => starts,
            Known::Asked => CueTime::Orphaned,
            Known::Not => {
                self.blocks.borrow_mut()[i] = Known::Asked;
                let starts = match &self.show.blocks[i].starts {
                    Some(starts) => self.time(starts, round(&self.begun.rounds.blocks, i)),
                    None => CueTime::Free,
                };
                self.blocks.borrow_mut()[i] = Known::Is(starts);
                starts
            }
        }
    }

    fn block(&self, i: usize, stops: &[(Instant, Option<usize>)]) -> SpokenBlock {
        let block = &self.show.blocks[i];
        let starts = self.block_start(i);
        let ends = starts.instant().map(|at| at + self.speaking(i));
        let round = round(&self.begun.rounds.blocks, i);
        let ends_by = block
            .ends_by
            .as_ref()
            .and_then(|by| self.time(by, round).instant());
        let slack = match (starts, ends) {
            (CueTime::At(start), Some(end)) => {
                let next = stops
                    .iter()
                    .filter(|&&(at, whose)| at > start && whose != Some(i))
                    .map(|&(at, _)| at);
                next.chain(ends_by).min().map(|stop| stop - end)
            }
            _ => None,
        };
        SpokenBlock {
            starts,
            version: self.versions[i],
            ends,
            ends_by,
            slack,
        }
    }

    /// Every instant at which a speaker must have stopped: a hush, a silence, a block (which one).
    fn stops(&self, silences: &[(CueTime, CueTime)]) -> Vec<(Instant, Option<usize>)> {
        let hushes = self
            .moments
            .hushes()
            .into_iter()
            .map(|(from, _)| (from, None));
        let silences = silences
            .iter()
            .filter_map(|(from, _)| Some((from.instant()?, None)));
        let blocks = (0..self.show.blocks.len())
            .filter_map(|i| Some((self.block_start(i).instant()?, Some(i))));
        hushes.chain(silences).chain(blocks).collect()
    }

    fn track_point(&self, i: usize, point: &PointName) -> CueTime {
        let track = self.track(i);
        match point {
            PointName::End => match track.ends {
                Some(at) => CueTime::At(at),
                None => track.starts,
            },
            PointName::Hit(hit) => {
                let hits = &self.show.tracks[i].hits;
                match hits.iter().find(|(name, _)| name == hit) {
                    Some((_, at)) => track.starts.map(|start| start + (*at - track.entry)),
                    None => CueTime::Orphaned,
                }
            }
            _ => track.starts,
        }
    }

    fn track(&self, i: usize) -> PlayedTrack {
        let known = self.tracks.borrow()[i];
        match known {
            Known::Is(track) => track,
            Known::Asked => PlayedTrack {
                starts: CueTime::Orphaned,
                entry: Span::ZERO,
                fades: None,
                ends: None,
                meeting: None,
            },
            Known::Not => {
                self.tracks.borrow_mut()[i] = Known::Asked;
                let track = self.place_track(i);
                self.tracks.borrow_mut()[i] = Known::Is(track);
                track
            }
        }
    }

    fn place_track(&self, i: usize) -> PlayedTrack {
        let track = &self.show.tracks[i];
        let round = round(&self.begun.rounds.tracks, i);
        let preferred = track.entries.first().copied().unwrap_or_default();
        let begun = self.begun.tracks.get(i).copied().flatten();
        let wanted = track.meets.as_ref().map(|meet| self.time(&meet.on, round));
        let (starts, entry, meeting) = match (begun, &track.meets, wanted) {
            (Some((start, entry)), Some(meet), Some(CueTime::At(wanted))) => {
                let meeting = meet::meeting(meet, entry, start, wanted);
                (CueTime::At(start), entry, Some(meeting))
            }
            (Some((start, entry)), ..) => (CueTime::At(start), entry, None),
            (None, Some(meet), Some(CueTime::At(wanted))) => {
                let earliest = self.begun.now.unwrap_or_else(|| self.moments.begin());
                let meeting = meet::solve(track, meet, wanted, earliest);
                (CueTime::At(meeting.start), meeting.entry, Some(meeting))
            }
            (None, Some(_), Some(no_time)) => (no_time, preferred, None),
            _ => {
                let starts = track.starts.as_ref();
                let starts = starts.map_or(CueTime::Free, |starts| self.time(starts, round));
                (starts, preferred, None)
            }
        };
        let (fades, ends) = self.track_end(i, round, starts, entry);
        PlayedTrack {
            starts,
            entry,
            fades,
            ends,
            meeting,
        }
    }

    /// When a track begins to fade and when it is silent.
    fn track_end(
        &self,
        i: usize,
        round: usize,
        starts: CueTime,
        entry: Span,
    ) -> (Option<Instant>, Option<Instant>) {
        let track = &self.show.tracks[i];
        let Some(start) = starts.instant() else {
            return (None, None);
        };
        let length = self.facts.track_lengths.get(i).copied().unwrap_or_default();
        let own_end = start + (length - entry);
        let stated = track
            .ends
            .as_ref()
            .and_then(|ends| self.time(ends, round).instant())
            .filter(|end| *end < own_end);
        match stated {
            Some(end) => {
                let fades = (end - track.fade_out).max(start);
                (Some(fades), Some(end.max(start)))
            }
            None => (None, Some(own_end)),
        }
    }
}

fn round(rounds: &[usize], i: usize) -> usize {
    rounds.get(i).copied().unwrap_or(0)
}
