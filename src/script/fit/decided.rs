//! Blocks that are decided, as far as those to come may ask for them.

use super::ground::{Ground, Moving, breaks};
use super::timing::{Placed, said};
use super::{Version, When, Worth};
use crate::units::Instant;

/// Words that blocks to come may ask for: of a whole block, or of one of its pieces between waits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Open {
    /// Of the block decided at this step.
    step: usize,
    version: Version,
    /// Whether the block fits, as far as others are decided.
    fits: bool,
    from: Instant,
    until: Instant,
    /// The end, with what the words are to have to spare.
    clear: Instant,
}

/// What is open before some step, in the order of steps; the pieces of a block stand together.
pub(super) struct Decided<'g, 'p> {
    ground: &'g Ground<'p>,
    open: Vec<Open>,
    /// Room to lay the next block's words in.
    laid: Vec<Open>,
}

impl<'g, 'p> Decided<'g, 'p> {
    pub(super) fn new(ground: &'g Ground<'p>) -> Self {
        Decided {
            ground,
            open: Vec::new(),
            laid: Vec::new(),
        }
    }

    pub(super) fn open(&self) -> &[Open] {
        &self.open
    }

    /// Goes on from what was open then.
    pub(super) fn go_on_from(&mut self, open: &[Open]) {
        self.open.clear();
        self.open.extend_from_slice(open);
    }

    /// Says the block of a step in a version; what that adds to the worth, as far as is known.
    pub(super) fn say(&mut self, step: usize, version: Version) -> Worth {
        let ground = self.ground;
        let before = self.open.len();
        self.lay(step, version);
        let mut worth = ground.worth(step, version, true);
        if version != Version::LeftOut {
            let laid = &self.open[before..];
            let by = self.when(ground.block(step).ends_by);
            let late = by.is_some_and(|by| laid.last().is_some_and(|last| last.clear > by));
            let quiet = |words: &Open| ground.is_quiet(step, (words.from, words.clear));
            if late || laid.iter().any(quiet) {
                worth = worth + self.lose(step);
            }
            worth = worth + self.cross(step, before);
        }
        for quiet in ground.moving.iter().filter(|quiet| quiet.known <= step) {
            // What came before was told when it was known.
            let first = if quiet.known == step { 0 } else { before };
            worth = worth + self.hush(quiet, first);
        }
        worth
    }

    /// Puts the words of a block on the clock; none, if it never begins.
    fn lay(&mut self, step: usize, version: Version) {
        let Some(start) = self.when(self.ground.block(step).starts) else {
            return;
        };
        let words = |from, until, clear| Open {
            step,
            version,
            fits: true,
            from,
            until,
            clear,
        };
        let Some(timed) = self.ground.block(step).timed(version) else {
            return self.open.push(words(start, start, start));
        };
        if let [lasts] = timed.pieces[..] {
            let end = start + lasts;
            let spare = timed.spares.first().copied().unwrap_or_default();
            return self.open.push(words(start, end, end + spare));
        }
        let mut laid = std::mem::take(&mut self.laid);
        let tell = |piece: Placed| laid.push(words(piece.start, piece.end, piece.clear));
        let all = said(timed, start, |time| self.when(time), tell);
        if laid.first().is_none_or(|first| first.from != start) {
            self.open.push(words(start, start, start));
        }
        self.open.append(&mut laid);
        if self.open.last().is_some_and(|last| last.until != all.end) {
            self.open.push(words(all.end, all.end, all.clear));
        }
        self.laid = laid;
    }

    fn when(&self, time: When) -> Option<Instant> {
        match (time, self.ground.step_of(time)) {
            (When::AfterEnd { by, .. }, Some(step)) => Some(self.over(step)? + by),
            _ => self.ground.outside(time),
        }
    }

    /// When the block of a step is over.
    fn over(&self, step: usize) -> Option<Instant> {
        let mut open = self.open.iter().rev();
        Some(open.find(|words| words.step == step)?.until)
    }

    /// Weighs a block against those before it: of two, the one that begins first must be over.
    fn cross(&mut self, step: usize, before: usize) -> Worth {
        let mut lost = Worth::default();
        let Some((first, last)) = self.open.get(before).zip(self.open.last()) else {
            return lost;
        };
        let (from, clear) = (first.from, last.clear);
        let mut at = 0;
        while at < before {
            let (words, over, next) = self.block_at(at);
            at = next;
            if words.version == Version::LeftOut {
                continue;
            }
            let id = |step: usize| self.ground.block(step).id;
            if (words.from, id(words.step)) < (from, id(step)) {
                if from < over.clear {
                    lost = lost + self.lose(words.step);
                }
            } else if words.from < clear {
                lost = lost + self.lose(step);
            }
        }
        lost
    }

    /// Of the block whose pieces begin at a place in the list: the first, the last, and where the next block's begin.
    fn block_at(&self, at: usize) -> (Open, Open, usize) {
        let first = self.open[at];
        let pieces = self.open[at..].iter();
        let pieces = pieces.take_while(|words| words.step == first.step).count();
        (first, self.open[at + pieces - 1], at + pieces)
    }

    /// Weighs what is open from a place in the list on against a stretch of quiet.
    fn hush(&mut self, quiet: &Moving, first: usize) -> Worth {
        let mut lost = Worth::default();
        let Some(from) = self.when(quiet.from) else {
            return lost;
        };
        let until = self.when(quiet.until);
        for at in first..self.open.len() {
            let words = self.open[at];
            if words.version != Version::LeftOut && words.is_broken_by(from, until) {
                lost = lost + self.lose(words.step);
            }
        }
        lost
    }

    /// The block of a step does not fit; what that takes from the worth, if it was not known.
    fn lose(&mut self, step: usize) -> Worth {
        let mut lost = Worth::default();
        let pieces = self.open.iter_mut().filter(|words| words.step == step);
        for words in pieces.filter(|words| words.fits) {
            words.fits = false;
            let worth = |fits| self.ground.worth(step, words.version, fits);
            lost = worth(false) - worth(true);
        }
        lost
    }

    /// Forgets what no block from a step on asks for, so that ways that differ in nothing else are known to be alike.
    pub(super) fn close(&mut self, next: usize) {
        let earliest = &self.ground.earliest[next];
        let earliest = earliest.instant(|step| self.over(step));
        let mut laid = std::mem::take(&mut self.laid);
        let mut at = 0;
        while at < self.open.len() {
            let (first, last, after) = self.block_at(at);
            let pieces = &self.open[at..after];
            at = after;
            if self.may_be_hushed(&last, next, earliest) {
                laid.extend_from_slice(pieces);
            } else if is_in_the_way(&first, &last, earliest) {
                laid.push(Open {
                    from: first.from,
                    ..last
                });
            } else if self.is_read(first.step, next, earliest) {
                laid.push(Open {
                    step: first.step,
                    version: Version::LeftOut,
                    fits: true,
                    from: last.until,
                    until: last.until,
                    clear: last.until,
                });
            }
        }
        std::mem::swap(&mut self.open, &mut laid);
        laid.clear();
        self.laid = laid;
    }

    /// Whether a stretch of quiet that is not known yet may fall into the words of a block; the last of them.
    fn may_be_hushed(&self, last: &Open, next: usize, earliest: Option<Instant>) -> bool {
        let mut unknown = self
            .ground
            .moving
            .iter()
            .filter(|quiet| quiet.known >= next);
        let falls = |quiet: &Moving| {
            let known = self
                .ground
                .step_of(quiet.from)
                .is_none_or(|step| step < next);
            let from = match known {
                true => self.when(quiet.from),
                false => earliest.map(|earliest| earliest + quiet.after),
            };
            from.is_some_and(|from| from < last.clear)
        };
        last.version != Version::LeftOut && last.fits && unknown.any(falls)
    }

    /// Whether a block from a step on asks when the block of another is over.
    fn is_read(&self, step: usize, next: usize, earliest: Option<Instant>) -> bool {
        let hangs = |quiet: &Moving| {
            let ends = [quiet.from, quiet.until].map(|time| self.ground.step_of(time));
            let near = || {
                let until = self.when(quiet.until).max(self.when(quiet.from));
                until
                    .zip(earliest)
                    .is_some_and(|(until, earliest)| until > earliest)
            };
            ends.contains(&Some(step)) && (quiet.known >= next || near())
        };
        let read = self.ground.read_until[step];
        read.is_some_and(|read| read >= next) || self.ground.moving.iter().any(hangs)
    }
}

impl Open {
    /// When its last word is out.
    pub(super) fn over(&self) -> Instant {
        self.until
    }

    /// A hash that has this in it and what was hashed before.
    pub(super) fn hashed(&self, before: u64) -> u64 {
        // An odd number of 64 bits that look thrown: 2^64 over the golden ratio.
        const MIX: u64 = 0x9e37_79b9_7f4a_7c15;
        let what = (self.step as u64) << 3 | (self.version as u64) << 1 | u64::from(self.fits);
        let times = [self.from, self.until, self.clear].map(|at| at.us() as u64);
        let parts = std::iter::once(what).chain(times);
        parts.fold(before, |hash, part| {
            let mixed = (hash ^ part).wrapping_mul(MIX);
            mixed ^ (mixed >> 29)
        })
    }

    /// Whether quiet from one instant to another falls into it, or it begins in it.
    fn is_broken_by(&self, from: Instant, until: Option<Instant>) -> bool {
        self.from != self.until && breaks((self.from, self.clear), from, until)
    }
}

/// Whether a block of which these are the first and the last words may be in the way of one that begins at the earliest
/// instant.
fn is_in_the_way(first: &Open, last: &Open, earliest: Option<Instant>) -> bool {
    let over = last.clear;
    let begins = |earliest| earliest < over || earliest == over && first.from == over;
    last.version != Version::LeftOut && earliest.is_some_and(begins)
}
