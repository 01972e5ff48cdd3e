//! One laying: looks things up by name, each worked out once, in given versions of all blocks.

mod tracks;

use std::cell::RefCell;

use super::clock::clock_after_zero;
use super::layout::{Begun, CueTime, Facts, Layout, PlayedTrack, Said, Version};
use super::moments::Moments;
use crate::script::Reading;
use crate::show::{Anchor, Name, PointName, Show, TimeExpression, Wording};
use crate::units::Instant;

/// The show in given versions, as far as it has been asked for.
pub(super) struct Table<'a> {
    pub(super) show: &'a Show,
    pub(super) facts: &'a Facts,
    pub(super) moments: &'a Moments,
    pub(super) begun: &'a Begun,
    pub(super) versions: &'a [Version],
    blocks: RefCell<Vec<Known<Due>>>,
    tracks: RefCell<Vec<Known<(PlayedTrack, Stamp)>>>,
}

/// A time, and how sharply it is known.
#[derive(Debug, Clone, Copy)]
pub(super) struct Due {
    pub(super) time: CueTime,
    pub(super) stamp: Stamp,
}

/// What a time hangs on, for how far it may be off.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Stamp {
    /// Variance of the flight it hangs on, s².
    pub(super) flight: f64,
    /// Variance of the words it hangs on, s².
    pub(super) words: f64,
    /// The block whose end it hangs on.
    pub(super) upon: Option<usize>,
}

/// A piece of words between waits, on the clock.
pub(super) struct Stretch {
    pub(super) from: Instant,
    pub(super) until: Instant,
    /// What its first word hangs on.
    pub(super) starts: Stamp,
    /// What its last word hangs on.
    pub(super) ends: Stamp,
}

impl Due {
    /// A time that is known for sure.
    fn sure(time: CueTime) -> Due {
        Due {
            time,
            stamp: Stamp::default(),
        }
    }
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
    pub(super) fn new(
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

    /// Everything but what there is to say about blocks.
    pub(super) fn layout(&self) -> Layout {
        let rounds = &self.begun.rounds;
        let calls = self.show.calls.iter().enumerate();
        Layout {
            blocks: Vec::new(),
            pieces: (0..self.show.blocks.len())
                .map(|i| self.stretches(i, self.versions[i]))
                .map(|said| said.iter().map(|words| (words.from, words.until)).collect())
                .collect(),
            waits: (0..self.show.blocks.len()).map(|i| self.waits(i)).collect(),
            tracks: (0..self.show.tracks.len())
                .map(|i| self.track(i).0)
                .collect(),
            calls: calls
                .map(|(i, call)| self.time(&call.when, round(&rounds.calls, i)))
                .collect(),
            silences: (0..self.show.silences.len())
                .map(|i| self.silence(i))
                .map(|(from, until)| (from.time, until.time))
                .collect(),
        }
    }

    /// When what a block waits for in its midst comes.
    fn waits(&self, i: usize) -> Vec<CueTime> {
        let words = self.reading(i, self.versions[i]);
        let waits = words.into_iter().flat_map(|(_, words)| words.waits());
        waits
            .map(|time| self.time(time, self.block_round(i)))
            .collect()
    }

    /// When a silence begins and is over.
    pub(super) fn silence(&self, i: usize) -> (Due, Due) {
        let silence = &self.show.silences[i];
        let round = self.silence_round(i);
        (
            self.due(&silence.from, round),
            self.due(&silence.until, round),
        )
    }

    /// When the document has a block over.
    pub(super) fn ends_by(&self, i: usize) -> Option<Due> {
        let by = self.show.blocks[i].ends_by.as_ref()?;
        Some(self.due(by, self.block_round(i)))
    }

    pub(super) fn silence_round(&self, i: usize) -> usize {
        round(&self.begun.rounds.silences, i)
    }

    pub(super) fn block_round(&self, i: usize) -> usize {
        round(&self.begun.rounds.blocks, i)
    }

    fn time(&self, time: &TimeExpression, round: usize) -> CueTime {
        self.due(time, round).time
    }

    /// A time expression, serving the `round`th flying of the figure it names.
    pub(super) fn due(&self, time: &TimeExpression, round: usize) -> Due {
        let anchor = match &time.anchor {
            Anchor::Show => Due::sure(CueTime::At(self.moments.zero)),
            Anchor::Clock(clock) => Due::sure(match clock_after_zero(self.show, *clock) {
                Some(after) => CueTime::At(self.moments.zero + after),
                None => CueTime::Orphaned,
            }),
            Anchor::Point { of, point } => self.point(of, point, round),
        };
        Due {
            time: anchor.time.map(|at| at + time.offset),
            ..anchor
        }
    }

    fn point(&self, of: &Name, point: &PointName, round: usize) -> Due {
        // Most times name figures, so these are asked first.
        if let Some(figure) = self.moments.figure(of, round) {
            return match figure.expected(point) {
                _ if figure.held => Due::sure(CueTime::Held),
                Some(expected) => Due {
                    time: CueTime::At(expected.at),
                    stamp: Stamp {
                        flight: expected.spread.s().powi(2),
                        ..Stamp::default()
                    },
                },
                None => Due::sure(CueTime::Orphaned),
            };
        }
        if let Some(i) = self.show.blocks.iter().position(|block| block.id == *of) {
            return match point {
                PointName::End => self.block_end(i),
                _ => self.block_start(i),
            };
        }
        match self.show.tracks.iter().position(|track| track.id == *of) {
            Some(i) => self.track_point(i, point),
            None => Due::sure(CueTime::Orphaned),
        }
    }

    pub(super) fn said(&self, block: usize) -> Said {
        self.begun.said.get(block).copied().unwrap_or_default()
    }

    /// What is read of a block, and its words; `None` where it is left out.
    pub(super) fn reading(&self, i: usize, version: Version) -> Option<(&Reading, &Wording)> {
        let block = &self.show.blocks[i];
        let (full, short) = self.facts.readings.get(i)?;
        match (version, short, &block.short) {
            (Version::LeftOut, ..) => None,
            (Version::Short, Some(short), Some(words)) => Some((short, words)),
            _ => Some((full, &block.text)),
        }
    }

    /// When the last word of a block is out.
    fn block_end(&self, i: usize) -> Due {
        match self.said(i) {
            Said::Ended(at) => return Due::sure(CueTime::At(at)),
            // When it ends, the narrator says: nothing hangs on a guess.
            Said::Now => return Due::sure(CueTime::Held),
            Said::Ahead | Said::Due | Said::Never => {}
        }
        let starts = self.block_start(i);
        if starts.time.instant().is_none() {
            return starts;
        }
        let stretches = self.stretches(i, self.versions[i]);
        let Some(last) = stretches.last() else {
            return starts;
        };
        let held = self
            .reading(i, self.versions[i])
            .is_some_and(|(reading, _)| stretches.len() < reading.pieces.len());
        Due {
            time: if held {
                CueTime::Held
            } else {
                CueTime::At(last.until)
            },
            stamp: Stamp {
                upon: Some(i),
                ..last.ends
            },
        }
    }

    /// Each piece of a block in a version, as far as is known when it comes: after a wait for what is held
    /// up, nobody knows.
    pub(super) fn stretches(&self, i: usize, version: Version) -> Vec<Stretch> {
        let Due { time, stamp } = self.block_start(i);
        let (Some(mut now), Some((reading, words))) = (time.instant(), self.reading(i, version))
        else {
            return Vec::new();
        };
        let being_said = self.begun.now.filter(|_| self.said(i) == Said::Now);
        let mut waits = words.waits();
        let mut starts = stamp;
        let mut since = now;
        let mut stretches = Vec::with_capacity(reading.pieces.len());
        for (piece, &lasts) in reading.pieces.iter().enumerate() {
            let wait = if piece == 0 { None } else { waits.next() };
            match wait.map(|time| self.due(time, self.block_round(i))) {
                Some(Due {
                    time: CueTime::Held,
                    ..
                }) => break,
                Some(Due {
                    time: CueTime::At(at),
                    stamp,
                }) if at > now => {
                    (now, since, starts) = (at, at, stamp);
                }
                _ => {}
            }
            let from = now;
            now += lasts;
            // What has been said is certain.
            let spoken = being_said.map_or(now - since, |said| now - since.max(said.min(now)));
            let mut ends = starts;
            ends.words += (self.show.narrator.spread.whole() * spoken.s()).powi(2);
            stretches.push(Stretch {
                from,
                until: now,
                starts,
                ends,
            });
        }
        stretches
    }

    pub(super) fn block_start(&self, i: usize) -> Due {
        if let Some(since) = self.begun.blocks.get(i).copied().flatten() {
            return Due::sure(CueTime::At(since));
        }
        let known = self.blocks.borrow()[i].clone();
        match known {
            Known::Is(starts) => starts,
            Known::Asked => Due::sure(CueTime::Orphaned),
            Known::Not => {
                self.blocks.borrow_mut()[i] = Known::Asked;
                let starts = match &self.show.blocks[i].starts {
                    Some(starts) => self.due(starts, self.block_round(i)),
                    None => Due::sure(CueTime::Free),
                };
                self.blocks.borrow_mut()[i] = Known::Is(starts);
                starts
            }
        }
    }
}

fn round(rounds: &[usize], i: usize) -> usize {
    rounds.get(i).copied().unwrap_or(0)
}
