//! Blocks, tracks, calls and silences laid on the moments of flight.
//!
//! The same code lays the plan (on planned moments) and the running show (on estimated ones, with what has
//! begun kept where it is).

use std::cell::RefCell;

use super::clock::clock_instant;
use super::layout::{Begun, CueTime, Facts, Layout, PlayedTrack, Said, SpokenBlock, Version};
use super::meet::{Means, Round, Way, start};
use super::moments::Moments;
use crate::show::{Anchor, Name, PointName, Show, TimeExpression, Track};
use crate::sound::Course;
use crate::units::{Instant, Span};

/// Lays everything: full texts first, then the short ones where the full do not fit. `keep` holds the
/// versions that are settled already, such as of a block being said.
pub fn lay(
    show: &Show,
    facts: &Facts,
    moments: &Moments,
    begun: &Begun,
    keep: &[Option<Version>],
) -> Layout {
    let kept = |i: usize| keep.get(i).copied().flatten();
    let mut versions: Vec<Version> = (0..show.blocks.len())
        .map(|i| kept(i).unwrap_or_default())
        .collect();
    loop {
        let layout = Table::new(show, facts, moments, begun, &versions).layout();
        let mut late: Vec<usize> = (0..show.blocks.len())
            .filter(|&i| kept(i).is_none() && could_be_shorter(facts, &layout, i))
            .collect();
        if late.is_empty() {
            return layout;
        }
        // Fewer words here may let what hangs on their end be said in full: one at a time, in order of time.
        if hangs_on_words(show) {
            late.sort_by_key(|&i| layout.blocks[i].starts.instant());
            late.truncate(1);
        }
        for i in late {
            versions[i] = Version::Short;
        }
    }
}

/// Whether the full text of a block does not fit and there is a short one.
fn could_be_shorter(facts: &Facts, layout: &Layout, block: usize) -> bool {
    let laid = &layout.blocks[block];
    let short = facts.speaking.get(block).is_some_and(|(_, s)| s.is_some());
    short && laid.version == Version::Full && laid.slack.is_some_and(|slack| slack < Span::ZERO)
}

/// Whether anything is timed by the end of a block.
fn hangs_on_words(show: &Show) -> bool {
    let blocks = show.blocks.iter();
    let blocks = blocks.flat_map(|block| block.starts.iter().chain(&block.ends_by));
    let tracks = show.tracks.iter().flat_map(|track| {
        let meets = track.meets.as_ref().map(|meet| &meet.on);
        track.starts.iter().chain(&track.ends).chain(meets)
    });
    let silences = show.silences.iter();
    let silences = silences.flat_map(|silence| [&silence.from, &silence.until]);
    blocks.chain(tracks).chain(silences).any(|time| {
        matches!(&time.anchor, Anchor::Point { of, point: PointName::End } if show.block(of).is_some())
    })
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
#[derive(Clone)]
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
            Anchor::Clock(clock) => match clock_instant(self.show, *clock) {
                Some(at) => CueTime::At(at),
                None => CueTime::Orphaned,
            },
            Anchor::Point { of, point } => self.point(of, point, round),
        };
        anchor.map(|at| at + time.offset)
    }

    fn point(&self, of: &Name, point: &PointName, round: usize) -> CueTime {
        // Most times name figures, so these are asked first.
        if let Some(figure) = self.moments.figure(of, round) {
            let expected = figure.expected(point);
            return match expected {
                _ if figure.held => CueTime::Held,
                Some(expected) => CueTime::At(expected.at),
                None => CueTime::Orphaned,
            };
        }
        if let Some(i) = self.show.blocks.iter().position(|block| block.id == *of) {
            let starts = self.block_start(i);
            return match (point, self.said(i)) {
                (PointName::End, Said::Ended(at)) => CueTime::At(at),
                // When it ends, the narrator says: nothing hangs on a guess.
                (PointName::End, Said::Now) => CueTime::Held,
                (PointName::End, _) => starts.map(|at| at + self.speaking(i)),
                _ => starts,
            };
        }
        match self.show.tracks.iter().position(|track| track.id == *of) {
            Some(i) => self.track_point(i, point),
            None => CueTime::Orphaned,
        }
    }

    fn said(&self, block: usize) -> Said {
        self.begun.said.get(block).copied().unwrap_or_default()
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
        let known = self.blocks.borrow()[i].clone();
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
                    .filter(|&&(at, whose)| at >= start && whose != Some(i))
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
        // What has been said, or never will be, stops nobody.
        let blocks = (0..self.show.blocks.len())
            .filter(|&i| matches!(self.said(i), Said::Ahead | Said::Now))
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
                let hit = hits.iter().find(|(name, _)| name == hit);
                match hit.map(|(_, at)| (at, track.course.reaches(*at))) {
                    Some((_, Some(after))) => track.starts.map(|start| start + after),
                    // Begun after it: when it would have been heard.
                    Some((at, None)) => track.starts.map(|start| start + (*at - track.entry)),
                    None => CueTime::Orphaned,
                }
            }
            _ => track.starts,
        }
    }

    fn track(&self, i: usize) -> PlayedTrack {
        let known = self.tracks.borrow()[i].clone();
        match known {
            Known::Is(track) => track,
            Known::Asked => PlayedTrack {
                starts: CueTime::Orphaned,
                entry: Span::ZERO,
                course: Course::default(),
                fades: None,
                ends: None,
                meeting: None,
            },
            Known::Not => {
                self.tracks.borrow_mut()[i] = Known::Asked;
                let track = self.place_track(i);
                self.tracks.borrow_mut()[i] = Known::Is(track.clone());
                track
            }
        }
    }

    fn place_track(&self, i: usize) -> PlayedTrack {
        let track = &self.show.tracks[i];
        let round = round(&self.begun.rounds.tracks, i);
        let begun = self.begun.tracks.get(i).cloned().flatten();
        let means = Means::of(track);
        let wanted = track.meets.as_ref().map(|meet| self.time(&meet.on, round));
        let (starts, course, meeting) = match (begun, means, wanted) {
            (Some(way), Some(means), Some(CueTime::At(wanted))) => {
                let meeting = means.meeting(&way, wanted);
                (CueTime::At(way.start), way.course, Some(meeting))
            }
            (Some(way), ..) => (CueTime::At(way.start), way.course, None),
            (None, Some(means), Some(CueTime::At(wanted))) => {
                let earliest = self.begun.now.unwrap_or_else(|| self.moments.begin());
                let (Way { start, course, .. }, meeting) = start::solve(&means, wanted, earliest);
                (CueTime::At(start), course, Some(meeting))
            }
            (None, Some(_), Some(no_time)) => (no_time, as_planned(track), None),
            _ => {
                let starts = track.starts.as_ref();
                let starts = starts.map_or(CueTime::Free, |starts| self.time(starts, round));
                (starts, as_planned(track), None)
            }
        };
        let (fades, ends) = self.track_end(i, round, starts, &course);
        PlayedTrack {
            starts,
            entry: course.entry,
            course,
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
        course: &Course,
    ) -> (Option<Instant>, Option<Instant>) {
        let track = &self.show.tracks[i];
        let Some(start) = starts.instant() else {
            return (None, None);
        };
        let length = self.facts.track_lengths.get(i).copied().unwrap_or_default();
        let own_end = course.ends(start, length);
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

/// A track from its preferred entry, with the bars that are planned to come again.
pub fn as_planned(track: &Track) -> Course {
    let entry = track.entries.first().copied().unwrap_or_default();
    let round = Round::of(track).filter(|round| entry < round.to);
    Course {
        joins: round.map_or(Vec::new(), |round| round.joins(round.planned)),
        ..Course::plain(entry)
    }
}

fn round(rounds: &[usize], i: usize) -> usize {
    rounds.get(i).copied().unwrap_or(0)
}
