//! Words in a sketch: how long they take, and which version of each block is best.

use super::fold::{Fold, Saying};
use super::hooks::{Due, Hook, Time};
use super::score::Score;
use crate::live::session::CueState;
use crate::script::Reading;
use crate::script::fit::{self, Candidate, Problem, Quiet, Timed, When};
use crate::timeline::Version;
use crate::units::{Instant, Span};

impl<'s> Score<'s> {
    /// The choice of versions, its times still to be told.
    pub(super) fn problem(&self) -> Problem<'s> {
        let blocks = self.show.blocks.iter().enumerate().map(|(i, block)| {
            let timed = |reading: &Reading, words: usize| Timed {
                pieces: reading.pieces.clone(),
                waits: vec![When::Never; self.blocks[i][0].waits[words].len()],
                spares: vec![Span::ZERO; reading.pieces.len()],
            };
            let read = self.plan.facts.readings.get(i);
            Candidate {
                id: block.id.as_str(),
                keep: block.keep,
                full: read.map_or_else(Timed::default, |(full, _)| timed(full, 0)),
                short: match (read, &block.short) {
                    (Some((_, Some(short))), Some(_)) => Some(timed(short, 1)),
                    (Some((full, None)), Some(_)) => Some(timed(full, 0)),
                    _ => None,
                },
                ..Candidate::default()
            }
        });
        let never = Quiet {
            from: When::Never,
            until: When::Never,
        };
        Problem {
            blocks: blocks.collect(),
            quiet: vec![never; self.hushes.len() + self.silences.len()],
        }
    }

    /// How long each piece of a block takes in a version, and what it waits for in one flying; nothing where it is
    /// left out.
    fn read(&self, block: usize, round: usize, version: Version) -> (&[Span], &[Time]) {
        let waits = &self.blocks[block][round].waits;
        let has_short = self.show.blocks[block].short.is_some();
        match (version, self.plan.facts.readings.get(block)) {
            (Version::LeftOut, _) | (_, None) => (&[], &[]),
            (Version::Short, Some((_, Some(short)))) if has_short => (&short.pieces, &waits[1]),
            (_, Some((full, _))) => (&full.pieces, &waits[0]),
        }
    }
}

impl Saying {
    /// Whether words that end by themselves may still come.
    fn is_to_come(self) -> bool {
        matches!(self.state, CueState::Ahead | CueState::Due)
    }

    fn is_over(self) -> bool {
        self.state == CueState::Done
    }
}

impl Fold<'_> {
    pub(super) fn block_start(&self, i: usize) -> Due {
        match (self.blocks[i].since, &self.spoken(i).starts) {
            (Some(since), _) => Due::At(since),
            (None, Some(starts)) => self.due(starts),
            (None, None) => Due::Never,
        }
    }

    /// When the last word of a block is out.
    pub(super) fn block_end(&self, i: usize) -> Due {
        let Saying { state, ended, .. } = self.blocks[i];
        if let Some(ended) = ended {
            return Due::At(ended);
        }
        // When it ends, the narrator says.
        if state == CueState::Running {
            return Due::Held;
        }
        match self.block_start(i) {
            Due::At(start) => self.spoken_from(i, self.versions[i], start),
            other => other,
        }
    }

    /// When the last word of a block is out, as far as that is known; `None` where it is left out.
    pub(super) fn last_word(&self, i: usize, version: Version) -> Option<Instant> {
        let start = self.block_start(i).instant()?;
        let said = version != Version::LeftOut;
        self.spoken_from(i, version, start)
            .instant()
            .filter(|_| said)
    }

    fn spoken_from(&self, i: usize, version: Version, start: Instant) -> Due {
        let (pieces, waits) = self.score.read(i, self.blocks[i].round, version);
        let mut now = start;
        for (piece, &lasts) in pieces.iter().enumerate() {
            let wait = piece.checked_sub(1).and_then(|piece| waits.get(piece));
            match wait.map(|wait| self.due(wait)) {
                Some(Due::Held) => return Due::Held,
                Some(Due::At(at)) => now = now.max(at),
                Some(Due::Never) | None => {}
            }
            now += lasts;
        }
        Due::At(now)
    }

    /// Chooses the version of a block that begins, or is about to.
    pub(super) fn choose_version(&mut self, i: usize) {
        if !self.score.hangs_on_words && self.fits_apart(i) {
            self.versions[i] = Version::Full;
        } else {
            self.choose_versions();
        }
    }

    /// Whether a block fits in full and is in no other's way: then nothing else has to be weighed.
    fn fits_apart(&self, i: usize) -> bool {
        let (Some(start), Some(end)) = (
            self.block_start(i).instant(),
            self.last_word(i, Version::Full),
        ) else {
            return false;
        };
        let end = end + self.to_spare(i);
        let longest = |j: usize| {
            let short = self.last_word(j, Version::Short);
            let full = self.last_word(j, Version::Full);
            full.map(|over| over + self.to_spare(j)).max(short)
        };
        let is_apart = |j: usize| {
            let begins = self
                .block_start(j)
                .instant()
                .filter(|_| !self.blocks[j].is_over());
            begins
                .is_none_or(|begins| begins >= end || longest(j).is_some_and(|over| over <= start))
        };
        let ends_by = self.spoken(i).ends_by.as_ref();
        let ends_by = ends_by.and_then(|by| self.due(by).instant());
        let quiet = |at: [Option<Instant>; 2]| {
            at[0].is_none_or(|from| {
                from >= end || at[1].is_none_or(|until| until <= start) && from < start
            })
        };
        let hushes =
            self.score.hushes.iter().map(|(from, until)| {
                [from, until].map(|place| Some(place.instant(&self.outlook.at)))
            });
        let silences = (0..self.silences.len()).map(|i| self.silence(i));
        let silences =
            silences.map(|(from, until)| [from, until].map(|time| self.due(time).instant()));
        ends_by.is_none_or(|by| end <= by)
            && (0..self.blocks.len()).all(|j| j == i || is_apart(j))
            && hushes.chain(silences).all(quiet)
    }

    /// The most that a piece of a block's full text is to have to spare, where there is a shorter one.
    fn to_spare(&self, i: usize) -> Span {
        let round = self.blocks[i].round;
        let pieces = self.score.read(i, round, Version::Full).0.iter();
        let most = pieces.copied().max().filter(|_| self.has_choice(i));
        most.unwrap_or_default() * self.score.show.narrator.spread.whole()
    }

    /// Whether a block could still be said shorter.
    fn has_choice(&self, i: usize) -> bool {
        self.blocks[i].is_to_come() && self.score.show.blocks[i].short.is_some()
    }

    /// Chooses the best versions of all blocks together, as things stand.
    pub(super) fn choose_versions(&mut self) {
        let mut problem = std::mem::take(&mut self.problem);
        for (i, candidate) in problem.blocks.iter_mut().enumerate() {
            self.tell(i, candidate);
        }
        let score = self.score;
        let hushes = score.hushes.iter().map(|(from, until)| {
            [from, until].map(|place| When::At(place.instant(&self.outlook.at)))
        });
        let silences = (0..score.silences.len()).map(|i| self.silence(i));
        let silences = silences.map(|(from, until)| [from, until].map(|time| self.when(time)));
        for (quiet, [from, until]) in problem.quiet.iter_mut().zip(hushes.chain(silences)) {
            *quiet = Quiet { from, until };
        }
        self.versions = fit::fit(&problem);
        self.problem = problem;
    }

    /// Tells a candidate its times.
    fn tell(&self, i: usize, candidate: &mut Candidate<'_>) {
        let block = self.blocks[i];
        let spoken = self.spoken(i);
        let over = block.is_over();
        let when = |time: &Time| if over { When::Never } else { self.when(time) };
        let short = candidate.short.as_mut().map(|short| &mut short.waits);
        let waits = [Some(&mut candidate.full.waits), short];
        for (waits, times) in waits.into_iter().zip(&spoken.waits) {
            for (wait, time) in waits.into_iter().flatten().zip(times) {
                *wait = when(time);
            }
        }
        let spread = match self.has_choice(i) {
            true => self.score.show.narrator.spread.whole(),
            false => 0.0,
        };
        let full = &mut candidate.full;
        for (spare, lasts) in full.spares.iter_mut().zip(&full.pieces) {
            *spare = *lasts * spread;
        }
        candidate.starts = match (block.since, &spoken.starts) {
            _ if over => When::Never,
            (Some(since), _) => When::At(since),
            (None, starts) => starts.as_ref().map_or(When::Never, when),
        };
        candidate.ends_by = spoken.ends_by.as_ref().map_or(When::Never, when);
        candidate.settled = if over {
            block.version.or(Some(Version::Full))
        } else {
            block.version
        };
        candidate.begun = block.state != CueState::Ahead;
    }

    /// A time, by the block whose end it hangs on if it hangs on one.
    fn when(&self, time: &Time) -> When {
        match self.after_words(time.hook) {
            Some((block, by)) => When::AfterEnd {
                block,
                by: by + time.offset,
            },
            None => self.due(time).instant().map_or(When::Never, When::At),
        }
    }

    /// The block on whose end something hangs, and how long after it that comes.
    fn after_words(&self, hook: Hook) -> Option<(usize, Span)> {
        let track = match hook {
            Hook::BlockEnd(i) => return self.blocks[i].is_to_come().then_some((i, Span::ZERO)),
            Hook::BlockStart(i) => {
                let starts = self.spoken(i).starts.as_ref();
                return self.hangs(starts.filter(|_| self.blocks[i].is_to_come())?);
            }
            Hook::TrackStart(i) | Hook::TrackEnd(i) | Hook::Hit(i, _) => i,
            Hook::Nothing | Hook::At(_) | Hook::Flown(_) => return None,
        };
        let (played, at) = (&self.score.tracks[track], self.timed(track));
        let fixed = self.tracks[track].way.is_some() || at.on.is_some();
        let ended = matches!(hook, Hook::TrackEnd(_)) && at.ends.is_some();
        if fixed || ended {
            return None;
        }
        let (block, after) = self.hangs(at.starts.as_ref()?)?;
        let start = self.track_start(track).instant()?;
        let point = match hook {
            Hook::TrackEnd(_) => self.track_end(track).instant()?,
            Hook::Hit(_, place) => start + (place - played.planned.entry),
            _ => start,
        };
        Some((block, after + (point - start)))
    }

    fn hangs(&self, time: &Time) -> Option<(usize, Span)> {
        let (block, after) = self.after_words(time.hook)?;
        Some((block, after + time.offset))
    }
}
