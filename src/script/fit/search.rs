//! The search: blocks that are in nobody's way keep their full text; the rest falls into groups that have
//! nothing to do with each other, and each group is solved by itself.

use super::timing::{Timing, order};
use super::{Candidate, Problem, Version, When, Worth, ways};
use crate::units::{Instant, Span};

pub(super) fn best(problem: &Problem<'_>) -> Vec<Version> {
    let most = problem.blocks.iter().map(|block| block.choices()[0]);
    let mut timing = Timing::of(problem, most.collect());
    let fit: Vec<bool> = (0..problem.blocks.len()).map(|i| timing.fits(i)).collect();
    if fit.iter().all(|fits| *fits) {
        return timing.versions;
    }
    for group in groups(problem) {
        if group.iter().all(|&i| fit[i]) {
            continue;
        }
        let hangs = |&i: &usize| problem.blocks[i].hangs_on_words();
        let chosen = if group.iter().any(hangs) || problem.quiet_hangs_on(&group) {
            ways::best(problem, &group, &timing)
        } else {
            chain(problem, &group, &mut timing)
        };
        for (i, version) in group.into_iter().zip(chosen) {
            timing.versions[i] = version;
        }
    }
    timing.versions
}

impl Candidate<'_> {
    fn hangs_on_words(&self) -> bool {
        self.times()
            .any(|time| matches!(time, When::AfterEnd { .. }))
    }

    /// The most that any piece of any version is to have to spare.
    pub(super) fn most_to_spare(&self) -> Span {
        let short = self.short.iter().flat_map(|short| &short.spares);
        self.full
            .spares
            .iter()
            .chain(short)
            .copied()
            .max()
            .unwrap_or_default()
    }

    /// The version that takes longest, or the one that takes least.
    pub(super) fn extreme(&self, longest: bool) -> Version {
        let choices = self.choices().into_iter();
        let lasts = |version: &Version| self.lasts(*version);
        let found = if longest {
            choices.max_by_key(lasts)
        } else {
            choices.min_by_key(lasts)
        };
        found.unwrap_or_default()
    }
}

impl Problem<'_> {
    /// Whether a stretch of quiet hangs on the words of one of these blocks.
    fn quiet_hangs_on(&self, group: &[usize]) -> bool {
        self.quiet.iter().any(|quiet| {
            [quiet.from, quiet.until]
                .iter()
                .any(|time| matches!(time, When::AfterEnd { block, .. } if group.contains(block)))
        })
    }
}

/// Blocks that may be in each other's way, or hang on each other's ends; each group in order of time, every
/// block after those it hangs on.
fn groups(problem: &Problem<'_>) -> Vec<Vec<usize>> {
    let extreme = |longest| {
        let versions = problem.blocks.iter().map(|block| block.extreme(longest));
        Timing::of(problem, versions.collect())
    };
    let (early, late) = (extreme(false), extreme(true));
    let reach = |i: usize| {
        Some((
            early.blocks[i]?.start,
            late.blocks[i]?.end + problem.blocks[i].most_to_spare(),
        ))
    };
    let mut sets = Sets::new(problem.blocks.len());
    let mut by_time: Vec<usize> = (0..problem.blocks.len()).collect();
    by_time.sort_by_key(|&i| (reach(i).map(|(from, _)| from), problem.blocks[i].id));
    let mut longest: Option<(usize, Instant)> = None;
    for &i in &by_time {
        let Some((from, until)) = reach(i) else {
            continue;
        };
        match longest {
            Some((other, over)) if from < over => sets.join(i, other),
            _ => {}
        }
        if longest.is_none_or(|(_, over)| until > over) {
            longest = Some((i, until));
        }
        for time in problem.blocks[i].times() {
            if let When::AfterEnd { block, .. } = time {
                sets.join(i, block);
            }
        }
    }
    for quiet in &problem.quiet {
        for time in [quiet.from, quiet.until] {
            let When::AfterEnd { block, .. } = time else {
                continue;
            };
            let near = |&i: &usize| {
                let begins = early.when(quiet.from).zip(reach(i));
                let over = late.when(quiet.until).or(late.when(quiet.from));
                begins.is_some_and(|(begins, (_, until))| begins <= until)
                    && over
                        .zip(reach(i))
                        .is_some_and(|(over, (from, _))| from <= over)
            };
            for &i in by_time.iter().filter(|i| near(i)) {
                sets.join(i, block);
            }
        }
    }
    let mut groups: Vec<Vec<usize>> = vec![Vec::new(); problem.blocks.len()];
    for i in order(problem, &by_time) {
        groups[sets.of(i)].push(i);
    }
    groups.retain(|group| !group.is_empty());
    groups
}

/// Which blocks belong together.
struct Sets(Vec<usize>);

impl Sets {
    fn new(count: usize) -> Sets {
        Sets((0..count).collect())
    }

    fn of(&self, mut i: usize) -> usize {
        while self.0[i] != i {
            i = self.0[i];
        }
        i
    }

    fn join(&mut self, i: usize, j: usize) {
        let (i, j) = (self.of(i), self.of(j));
        self.0[i.max(j)] = i.min(j);
    }
}

/// One version of a block whose times are fixed.
struct Choice {
    version: Version,
    /// When it is over, with what it is to have to spare.
    clear: Instant,
    /// Whether it fits, other blocks apart.
    fits: bool,
}

/// The best way to say what comes before a block that is said: its worth, and the block said before, with its
/// version.
type Way = (Worth, Option<(usize, Version)>);

/// The best versions of a group whose times are fixed. The group is in order of time, and a block only asks
/// of the others which is the next to be said: so the best way to a block that is said is the best way to
/// one before it that is, with nothing said between them.
fn chain(problem: &Problem<'_>, group: &[usize], timing: &mut Timing<'_>) -> Vec<Version> {
    let start = |i: usize| timing.blocks[i].map(|placed| placed.start);
    let starts: Vec<Option<Instant>> = group.iter().map(|&i| start(i)).collect();
    let choices: Vec<Vec<Choice>> = group
        .iter()
        .map(|&i| choices_of(problem, i, timing))
        .collect();
    let worth = |k: usize, choice: &Choice, next: Option<usize>| {
        let next = next.and_then(|next| starts[next]);
        let fits = choice.fits && next.is_none_or(|next| choice.clear <= next);
        Worth::of(&problem.blocks[group[k]], choice.version, fits)
    };
    // To each block of the group, and to the end.
    let mut ways: Vec<Option<Way>> = Vec::new();
    for k in 0..=group.len() {
        let next = (k < group.len()).then_some(k);
        let mut best: Option<Way> = None;
        let mut skipped_all = true;
        for before in (0..k).rev() {
            if let Some((way, _)) = ways[before] {
                let said = choices[before]
                    .iter()
                    .filter(|choice| choice.version != Version::LeftOut);
                for choice in said {
                    let sum = way + worth(before, choice, next);
                    if best.is_none_or(|(most, _)| sum > most) {
                        best = Some((sum, Some((before, choice.version))));
                    }
                }
            }
            let may_go = choices[before]
                .iter()
                .any(|choice| choice.version == Version::LeftOut);
            if !may_go {
                skipped_all = false;
                break;
            }
        }
        if skipped_all && best.is_none_or(|(most, _)| Worth::default() > most) {
            best = Some((Worth::default(), None));
        }
        ways.push(best);
    }
    let mut versions = vec![Version::LeftOut; group.len()];
    let mut said = ways.last().copied().flatten().and_then(|(_, last)| last);
    while let Some((k, version)) = said {
        versions[k] = version;
        said = ways[k].and_then(|(_, before)| before);
    }
    versions
}

fn choices_of(problem: &Problem<'_>, i: usize, timing: &mut Timing<'_>) -> Vec<Choice> {
    let before = timing.versions[i];
    let choices = problem.blocks[i].choices().into_iter();
    let choices = choices
        .map(|version| {
            timing.versions[i] = version;
            timing.place(i);
            Choice {
                version,
                clear: timing.blocks[i].map_or(Instant::ZERO, |placed| placed.clear),
                fits: timing
                    .slack_alone(i)
                    .is_none_or(|slack| slack >= Span::ZERO),
            }
        })
        .collect();
    timing.versions[i] = before;
    timing.place(i);
    choices
}
