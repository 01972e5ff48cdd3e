//! What is known of a group of blocks before any of their versions is decided.

use super::timing::Timing;
use super::{Candidate, Problem, Version, When, Worth};
use crate::units::{Instant, Span};

/// A group of blocks in the order in which they are decided, each after those it hangs on. A block's place in
/// that order is its step.
pub(super) struct Ground<'p> {
    pub(super) problem: &'p Problem<'p>,
    pub(super) group: &'p [usize],
    /// For each block of the problem, its step if it is in the group.
    steps: Vec<Option<usize>>,
    /// The blocks outside the group, in the versions they have.
    outside: Timing<'p>,
    /// The versions each can have.
    pub(super) choices: Vec<Vec<Version>>,
    /// What each is worth in each version that fits, and in one that does not.
    worths: Vec<[(Worth, Worth); 3]>,
    /// The most that the blocks from each step on can be worth.
    pub(super) hopes: Vec<Worth>,
    /// The last step that reads when a block is over, if any does.
    pub(super) read_until: Vec<Option<usize>>,
    /// Before each step, and after the last: when a block not yet decided can begin.
    pub(super) earliest: Vec<Earliest>,
    /// Stretches of quiet that hang on words of the group.
    pub(super) moving: Vec<Moving>,
    /// The stretches of quiet that stay where they are, as far as each block may come near them, in order of time.
    fixed: Vec<Vec<Stretch>>,
}

/// A stretch of quiet that hangs on words.
pub(super) struct Moving {
    pub(super) from: When,
    pub(super) until: When,
    /// The step after which it is known when it is.
    pub(super) known: usize,
    /// How long after the first block not yet decided it begins at the earliest.
    pub(super) after: Span,
}

/// A stretch of quiet that stays where it is.
struct Stretch {
    from: Instant,
    until: Option<Instant>,
    /// When the last of those up to this one is over.
    over: Instant,
}

/// The earliest instant at which a block not yet decided can begin.
#[derive(Default)]
pub(super) struct Earliest {
    /// Of those that hang on no block of the group that is decided.
    fixed: Option<Instant>,
    /// Of those that hang on the end of the block decided at a step: how long after it.
    after: Vec<(usize, Span)>,
}

impl<'p> Ground<'p> {
    /// The group, each block after those it hangs on, with the others in the versions they have in `timing`.
    pub(super) fn new(problem: &'p Problem<'p>, group: &'p [usize], timing: &Timing<'p>) -> Self {
        let mut steps = vec![None; problem.blocks.len()];
        for (step, &i) in group.iter().enumerate() {
            steps[i] = Some(step);
        }
        let choices = group.iter().map(|&i| problem.blocks[i].choices());
        let mut ground = Ground {
            problem,
            group,
            steps,
            outside: timing.clone(),
            choices: choices.collect(),
            worths: Vec::new(),
            hopes: Vec::new(),
            read_until: vec![None; group.len()],
            earliest: Vec::new(),
            moving: Vec::new(),
            fixed: Vec::new(),
        };
        ground.worths = group
            .iter()
            .map(|&i| {
                let worth = |version, fits| Worth::of(&problem.blocks[i], version, fits);
                [Version::Full, Version::Short, Version::LeftOut]
                    .map(|version| (worth(version, true), worth(version, false)))
            })
            .collect();
        let early = ground.extreme(false);
        let late = ground.extreme(true);
        ground.sort_quiet(&early, &late);
        ground.earliest = (0..=group.len())
            .map(|step| ground.earliest(step, &early))
            .collect();
        for (step, &i) in group.iter().enumerate() {
            for time in problem.blocks[i].times() {
                if let Some(read) = ground.step_of(time) {
                    ground.read_until[read] = Some(step);
                }
            }
        }
        ground.hopes = ground.hopes(&early);
        ground
    }

    /// The step of the block whose end a time hangs on, if that is in the group.
    pub(super) fn step_of(&self, time: When) -> Option<usize> {
        match time {
            When::AfterEnd { block, .. } => self.steps.get(block).copied().flatten(),
            When::Never | When::At(_) => None,
        }
    }

    pub(super) fn block(&self, step: usize) -> &'p Candidate<'p> {
        &self.problem.blocks[self.group[step]]
    }

    /// What a block is worth in a version that fits, or does not.
    pub(super) fn worth(&self, step: usize, version: Version, fits: bool) -> Worth {
        let (well, badly) = self.worths[step][version as usize];
        if fits { well } else { badly }
    }

    /// Whether quiet that stays where it is falls into words of a block, or they begin in it.
    pub(super) fn is_quiet(&self, step: usize, (begun, over): (Instant, Instant)) -> bool {
        let fixed = &self.fixed[step];
        let before = fixed.partition_point(|quiet| quiet.from < begun);
        let next = fixed.get(before).is_some_and(|quiet| quiet.from < over);
        let last = before.checked_sub(1).map(|last| &fixed[last]);
        over > begun && (next || last.is_some_and(|last| last.over > begun))
    }

    /// An instant that hangs on no block of the group.
    pub(super) fn outside(&self, time: When) -> Option<Instant> {
        self.outside.when(time)
    }

    /// The group in its shortest versions, or in its longest.
    fn extreme(&self, longest: bool) -> Timing<'p> {
        let mut versions = self.outside.versions.clone();
        for &i in self.group {
            versions[i] = self.problem.blocks[i].extreme(longest);
        }
        Timing::of(self.problem, versions)
    }

    fn sort_quiet(&mut self, early: &Timing<'_>, late: &Timing<'_>) {
        self.fixed = (0..self.group.len()).map(|_| Vec::new()).collect();
        for quiet in &self.problem.quiet {
            let steps = [quiet.from, quiet.until].map(|time| self.step_of(time));
            if let Some(known) = steps.into_iter().flatten().max() {
                self.moving.push(Moving {
                    from: quiet.from,
                    until: quiet.until,
                    known,
                    after: match quiet.from {
                        When::AfterEnd { by, .. } => by,
                        When::Never | When::At(_) => Span::ZERO,
                    },
                });
                continue;
            }
            let Some(from) = self.outside(quiet.from) else {
                continue;
            };
            let until = self.outside(quiet.until);
            for (step, &i) in self.group.iter().enumerate() {
                let reach = early.blocks[i].zip(late.blocks[i]);
                if reach.is_some_and(|(early, late)| {
                    from < late.end + self.problem.blocks[i].most_to_spare()
                        && until.unwrap_or(from).max(from) >= early.start
                }) {
                    self.fixed[step].push(Stretch {
                        from,
                        until,
                        over: from,
                    });
                }
            }
        }
        for fixed in &mut self.fixed {
            fixed.sort_by_key(|quiet| quiet.from);
            let mut over = Instant::from_us(i64::MIN);
            for quiet in fixed {
                over = over.max(quiet.until.unwrap_or(quiet.from));
                quiet.over = over;
            }
        }
    }

    fn earliest(&self, decided: usize, early: &Timing<'_>) -> Earliest {
        let mut earliest = Earliest::default();
        // For each block not yet decided: the step its start hangs on, and how long after.
        let mut hangs: Vec<Option<(usize, Span)>> = vec![None; self.group.len()];
        for step in decided..self.group.len() {
            let block = self.block(step);
            let anchor = self.step_of(block.starts).map(|anchor| match block.starts {
                When::AfterEnd { by, .. } => (anchor, by),
                When::Never | When::At(_) => (anchor, Span::ZERO),
            });
            let root = match anchor {
                Some((anchor, by)) if anchor < decided => Some((anchor, by)),
                Some((anchor, by)) => hangs[anchor].map(|(root, after)| {
                    let block = self.block(anchor);
                    (root, after + block.lasts(block.extreme(false)) + by)
                }),
                None => None,
            };
            hangs[step] = root;
            match root {
                Some((root, after)) => earliest.hangs(root, after),
                None => {
                    let begins = early.blocks[self.group[step]].map(|placed| placed.start);
                    earliest.fixed = earliest.fixed.into_iter().chain(begins).min();
                }
            }
        }
        earliest
    }

    fn hopes(&self, early: &Timing<'_>) -> Vec<Worth> {
        let mut hopes = vec![Worth::default()];
        for step in (0..self.group.len()).rev() {
            let most = self.choices[step]
                .iter()
                .map(|&version| self.worth(step, version, self.may_fit(step, version, early)))
                .max();
            let rest = hopes.last().copied().unwrap_or_default();
            hopes.push(rest + most.unwrap_or_default());
        }
        hopes.reverse();
        hopes
    }

    /// Whether a version fits wherever its block may begin, other blocks apart.
    fn may_fit(&self, step: usize, version: Version, early: &Timing<'_>) -> bool {
        let block = self.block(step);
        let Some(begins) = early.blocks[self.group[step]].map(|placed| placed.start) else {
            return true;
        };
        let spares = block.timed(version).and_then(|timed| timed.spares.last());
        let ends = begins + block.lasts(version) + spares.copied().unwrap_or_default();
        let by = match block.ends_by {
            When::At(by) => Some(by),
            When::Never | When::AfterEnd { .. } => None,
        };
        let hangs = block
            .times()
            .any(|time| matches!(time, When::AfterEnd { .. }));
        let waits =
            block.full.waits.is_empty() && block.short.iter().all(|short| short.waits.is_empty());
        let quiet = !hangs && waits && self.is_quiet(step, (begins, ends));
        by.is_none_or(|by| ends <= by) && !quiet
    }
}

impl Earliest {
    fn hangs(&mut self, on: usize, after: Span) {
        match self.after.iter_mut().find(|(step, _)| *step == on) {
            Some((_, least)) => *least = after.min(*least),
            None => self.after.push((on, after)),
        }
    }

    /// When it is, by when the blocks that are decided are over; `None`: all are decided.
    pub(super) fn instant(&self, over: impl Fn(usize) -> Option<Instant>) -> Option<Instant> {
        let after = self.after.iter();
        let after = after.filter_map(|&(step, after)| Some(over(step)? + after));
        after.chain(self.fixed).min()
    }
}

/// Whether quiet falls into words from one instant to another, or they begin in it.
pub(super) fn breaks(
    (begun, over): (Instant, Instant),
    from: Instant,
    until: Option<Instant>,
) -> bool {
    match from >= begun {
        true => from < over,
        false => until.is_some_and(|until| until > begun),
    }
}
