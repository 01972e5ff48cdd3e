//! Which version of each block is said: the best choice for all of them together.
//!
//! A block fits when it is over before what stops its speaker, with what it is to have to spare: its own latest end, a
//! stretch in which nobody speaks, the next block that is said. The best choice keeps the most important words: as many blocks as
//! fit of those that must be said, then of those that should, then the most words of each kind in that order.

mod decided;
mod ground;
mod search;
mod timing;
mod ways;

use crate::show::Keep;
use crate::units::{Instant, Span};

use timing::Timing;

/// Which words of a block are said.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Version {
    /// The full text.
    #[default]
    Full,
    /// The short text.
    Short,
    /// None.
    LeftOut,
}

/// An instant, as far as words decide it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum When {
    /// It does not come, or nobody knows when.
    #[default]
    Never,
    /// It is fixed.
    At(Instant),
    /// It hangs on when the last word of a block is out; one that is left out is over when it would begin.
    AfterEnd {
        /// Which block, by index.
        block: usize,
        /// How long after.
        by: Span,
    },
}

/// A text as it is timed.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Timed {
    /// How long each piece between waits takes.
    pub pieces: Vec<Span>,
    /// What is waited for before each piece but the first.
    pub waits: Vec<When>,
    /// How much each piece is to have to spare, so that it fits though it takes longer; none where none is stated.
    pub spares: Vec<Span>,
}

/// A block whose version is to be chosen, or is settled and in the way of others.
#[derive(Debug, Clone, Default)]
pub struct Candidate<'a> {
    /// Decides between equals, so that the order of the blocks does not.
    pub id: &'a str,
    /// How much it matters.
    pub keep: Keep,
    /// When it begins; one that never does is no part of the choice.
    pub starts: When,
    /// When it must be over.
    pub ends_by: When,
    /// The full text.
    pub full: Timed,
    /// The short text, if there is one.
    pub short: Option<Timed>,
    /// The version, where it is settled already.
    pub settled: Option<Version>,
    /// Whether its time has come: it can be left out no more.
    pub begun: bool,
}

/// A stretch in which nobody speaks.
#[derive(Debug, Clone, Copy)]
pub struct Quiet {
    /// When it begins.
    pub from: When,
    /// When it is over.
    pub until: When,
}

/// Blocks and what is in their way.
#[derive(Debug, Clone, Default)]
pub struct Problem<'a> {
    /// The blocks.
    pub blocks: Vec<Candidate<'a>>,
    /// Where nobody speaks.
    pub quiet: Vec<Quiet>,
}

/// What a choice of versions is worth; what comes first counts before all that comes after it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub struct Worth {
    /// Blocks that must be said and fit.
    pub musts: i64,
    /// Blocks that should be said and fit.
    pub shoulds: i64,
    /// Blocks that should be said and are, though they may not fit.
    pub tried: i64,
    /// Words that fit, µs: of blocks that must be said, that should, that may.
    pub words: [i64; 3],
    /// Words said that do not fit, µs, as a negative number.
    pub over: i64,
}

/// The versions that are worth most, one for each block; of choices worth the same, the one that keeps more of
/// what is said first.
pub fn fit(problem: &Problem<'_>) -> Vec<Version> {
    search::best(problem)
}

/// What these versions, one for each block, are worth.
pub fn worth(problem: &Problem<'_>, versions: &[Version]) -> Worth {
    let timing = Timing::of(problem, versions.to_vec());
    (0..problem.blocks.len())
        .map(|i| Worth::of(&problem.blocks[i], versions[i], timing.fits(i)))
        .sum()
}

/// What is left before each block, in these versions, must stop, beyond what it is to have to spare; `None` where it
/// never begins, is left out or nothing follows.
pub fn slacks(problem: &Problem<'_>, versions: &[Version]) -> Vec<Option<Span>> {
    let timing = Timing::of(problem, versions.to_vec());
    (0..problem.blocks.len()).map(|i| timing.slack(i)).collect()
}

impl Candidate<'_> {
    /// The versions it can have, the most words first.
    pub fn choices(&self) -> Vec<Version> {
        if let Some(settled) = self.settled {
            return vec![settled];
        }
        let short = self.short.is_some().then_some(Version::Short);
        let goes = self.keep < Keep::Must && !self.begun && self.starts != When::Never;
        let out = goes.then_some(Version::LeftOut);
        std::iter::once(Version::Full)
            .chain(short)
            .chain(out)
            .collect()
    }

    /// What is said in a version; `None`: nothing.
    fn timed(&self, version: Version) -> Option<&Timed> {
        match version {
            Version::Full => Some(&self.full),
            Version::Short => Some(self.short.as_ref().unwrap_or(&self.full)),
            Version::LeftOut => None,
        }
    }

    /// How long the words of a version take.
    fn lasts(&self, version: Version) -> Span {
        let pieces = self.timed(version).map(|timed| timed.pieces.iter());
        pieces.into_iter().flatten().copied().sum()
    }

    /// The times it hangs on.
    fn times(&self) -> impl Iterator<Item = When> {
        let short = self.short.iter().flat_map(|short| &short.waits);
        [self.starts, self.ends_by]
            .into_iter()
            .chain(self.full.waits.iter().chain(short).copied())
    }
}

impl Worth {
    /// What a block is worth in a version that fits, or does not.
    fn of(block: &Candidate<'_>, version: Version, fits: bool) -> Worth {
        let mut worth = Worth::default();
        let said = version != Version::LeftOut && block.starts != When::Never;
        if !said {
            return worth;
        }
        worth.tried = i64::from(block.keep == Keep::Should);
        let words = block.lasts(version).us();
        if !fits {
            worth.over = -words;
            return worth;
        }
        let kind = match block.keep {
            Keep::Must => {
                worth.musts = 1;
                0
            }
            Keep::Should => {
                worth.shoulds = 1;
                1
            }
            Keep::May => 2,
        };
        worth.words[kind] = words;
        worth
    }
}

impl std::ops::Add for Worth {
    type Output = Worth;

    fn add(self, other: Worth) -> Worth {
        Worth {
            musts: self.musts + other.musts,
            shoulds: self.shoulds + other.shoulds,
            tried: self.tried + other.tried,
            words: std::array::from_fn(|i| self.words[i].saturating_add(other.words[i])),
            over: self.over.saturating_add(other.over),
        }
    }
}

impl std::ops::Sub for Worth {
    type Output = Worth;

    fn sub(self, other: Worth) -> Worth {
        Worth {
            musts: self.musts - other.musts,
            shoulds: self.shoulds - other.shoulds,
            tried: self.tried - other.tried,
            words: std::array::from_fn(|i| self.words[i].saturating_sub(other.words[i])),
            over: self.over.saturating_sub(other.over),
        }
    }
}

impl std::iter::Sum for Worth {
    fn sum<I: Iterator<Item = Worth>>(worths: I) -> Worth {
        worths.fold(Worth::default(), std::ops::Add::add)
    }
}
