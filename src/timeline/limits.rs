//! What stops a speaker, and how likely a block is over before that.

use super::layout::{Cause, Said, SpokenBlock, Version};
use super::table::{Stamp, Stretch, Table};
use crate::units::{Instant, Share, Span};

/// Something a speaker must have stopped for, or must wait to be over.
pub(super) struct Limit {
    pub(super) cause: Cause,
    /// What is left before it; negative when it does not fit.
    pub(super) left: Span,
    /// How far that may be off: one standard deviation, s.
    spread: f64,
    /// Whether it moves with the last word itself.
    own: bool,
}

impl Limit {
    /// The chance that it is kept: what is left is taken as normal.
    fn chance(&self) -> Share {
        let chance = if self.spread > 0.0 {
            0.5 * libm::erfc(-self.left.s() / self.spread * std::f64::consts::FRAC_1_SQRT_2)
        } else {
            f64::from(u8::from(self.left >= Span::ZERO))
        };
        Share::from_whole(chance)
    }
}

/// Everything that stops speakers in one laying, in order of time.
pub(super) struct Stops<'t, 's> {
    table: &'t Table<'s>,
    quiet: Vec<Quiet>,
    /// Blocks that are to be said or are being said: start, id, index.
    blocks: Vec<(Instant, &'s str, usize)>,
}

/// A stretch in which nobody speaks.
struct Quiet {
    from: Instant,
    until: Instant,
    stamp: Stamp,
    /// What a speaker who begins before it runs into, and one who begins in it begins in.
    before: Cause,
    within: Cause,
    /// When all that began no later than this one are over.
    all_over: Instant,
}

impl<'t, 's> Stops<'t, 's> {
    pub(super) fn new(table: &'t Table<'s>) -> Self {
        let said = |&i: &usize| {
            let ahead = matches!(table.said(i), Said::Ahead | Said::Due | Said::Now);
            ahead && table.versions[i] != Version::LeftOut
        };
        let mut blocks: Vec<_> = (0..table.show.blocks.len())
            .filter(said)
            .filter_map(|i| {
                let start = table.block_start(i).time.instant()?;
                Some((start, table.show.blocks[i].id.as_str(), i))
            })
            .collect();
        blocks.sort_unstable();
        Stops {
            table,
            quiet: quiet(table),
            blocks,
        }
    }

    /// Block `i` as it is laid.
    pub(super) fn block(&self, i: usize) -> SpokenBlock {
        let table = self.table;
        let version = table.versions[i];
        let stretches = table.stretches(i, version);
        let all = table
            .reading(i, version)
            .is_some_and(|(reading, _)| reading.pieces.len() == stretches.len());
        let limits = self.limits(i, &stretches);
        SpokenBlock {
            starts: table.block_start(i).time,
            version,
            ends: stretches.last().filter(|_| all).map(|last| last.until),
            ends_by: table.ends_by(i).and_then(|by| by.time.instant()),
            slack: limits.iter().map(|limit| limit.left).min(),
            chance: limits
                .iter()
                .map(Limit::chance)
                .min_by(|a, b| a.whole().total_cmp(&b.whole())),
            because: first_broken(&limits),
        }
    }

    /// What block `i` would not be over before in another version, what moves with its end apart.
    pub(super) fn broken_by(&self, i: usize, version: Version) -> Option<Cause> {
        let mut limits = self.limits(i, &self.table.stretches(i, version));
        limits.retain(|limit| !limit.own);
        first_broken(&limits)
    }

    /// The nearest limit of each kind for each stretch of words.
    fn limits(&self, i: usize, stretches: &[Stretch]) -> Vec<Limit> {
        let mut limits = Vec::with_capacity(4);
        for words in stretches.iter().filter(|words| words.until > words.from) {
            let next = self.quiet.partition_point(|quiet| quiet.from < words.from);
            let inside = self.quiet[..next].iter().rev();
            let inside = inside
                .take_while(|quiet| quiet.all_over > words.from)
                .find(|quiet| quiet.until > words.from);
            limits.extend(inside.map(|quiet| Limit {
                cause: quiet.within,
                left: words.from - quiet.until,
                spread: apart(words.starts, quiet.stamp).sqrt(),
                own: false,
            }));
            limits.extend(
                self.quiet
                    .get(next)
                    .map(|quiet| self.limit(i, words, quiet.before, quiet.from, quiet.stamp)),
            );
        }
        let (Some(first), Some(last)) = (stretches.first(), stretches.last()) else {
            return limits;
        };
        let here = (first.from, self.table.show.blocks[i].id.as_str(), i);
        let next = self.blocks.partition_point(|&block| block <= here);
        limits.extend(self.blocks.get(next).map(|&(at, _, other)| {
            let stamp = self.table.block_start(other).stamp;
            self.limit(i, last, Cause::Block(other), at, stamp)
        }));
        limits.extend(
            self.table.ends_by(i).and_then(|by| {
                Some(self.limit(i, last, Cause::EndsBy, by.time.instant()?, by.stamp))
            }),
        );
        limits
    }

    fn limit(&self, i: usize, words: &Stretch, cause: Cause, at: Instant, stamp: Stamp) -> Limit {
        let own = self.hangs_on(stamp, i);
        let apart = apart(words.ends, stamp).sqrt();
        Limit {
            cause,
            left: at - words.until,
            spread: if own { 0.0 } else { apart },
            own,
        }
    }

    /// Whether a time hangs on the end of block `i`.
    fn hangs_on(&self, stamp: Stamp, i: usize) -> bool {
        let mut upon = stamp.upon;
        // Loading has refused circles; a chain is no longer than there are blocks.
        for _ in 0..self.table.show.blocks.len() {
            match upon {
                Some(block) if block == i => return true,
                Some(block) => upon = self.table.block_start(block).stamp.upon,
                None => return false,
            }
        }
        false
    }
}

/// The limit broken first, if one is.
fn first_broken(limits: &[Limit]) -> Option<Cause> {
    let broken = limits.iter().filter(|limit| limit.left < Span::ZERO);
    broken
        .min_by_key(|limit| limit.left)
        .map(|limit| limit.cause)
}

/// Variance of the time between two instants, s². Flight is one walk through its points: what is behind the
/// first of two is behind both. So are the words that both hang on.
fn apart(one: Stamp, other: Stamp) -> f64 {
    let words = if one.upon.is_some() && one.upon == other.upon {
        (one.words - other.words).abs()
    } else {
        one.words + other.words
    };
    (one.flight - other.flight).abs() + words
}

/// Hushes and silences, in order of time.
fn quiet(table: &Table<'_>) -> Vec<Quiet> {
    let mut all: Vec<Quiet> = Vec::new();
    for (i, figure) in table.moments.figures.iter().enumerate() {
        if figure.held {
            continue;
        }
        all.extend(figure.hush.iter().map(|&(from, until)| Quiet {
            from,
            until,
            stamp: Stamp {
                flight: figure.spread_at(from).s().powi(2),
                ..Stamp::default()
            },
            before: Cause::Hush(i),
            within: Cause::InHush(i),
            all_over: until,
        }));
    }
    for i in 0..table.show.silences.len() {
        let (from, until) = table.silence(i);
        if let Some(begins) = from.time.instant() {
            let until = until.time.instant().unwrap_or(begins);
            all.push(Quiet {
                from: begins,
                until,
                stamp: from.stamp,
                before: Cause::Silence(i),
                within: Cause::InSilence(i),
                all_over: until,
            });
        }
    }
    all.sort_by_key(|quiet| (quiet.from, quiet.until));
    let mut over = None;
    for quiet in &mut all {
        let latest = over.map_or(quiet.until, |over: Instant| over.max(quiet.until));
        quiet.all_over = latest;
        over = Some(latest);
    }
    all
}
