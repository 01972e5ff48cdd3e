//! The search: blocks that are in nobody's way keep their full text; the rest falls into groups that have
//! nothing to do with each other, and each group is solved by itself.

use super::timing::{Timing, order};
use super::{Candidate, Problem, Version, When, Worth};
use crate::units::{Instant, Span};

/// Blocks in a group that hang on each other and are in each other's way, for which every choice is weighed.
pub const MOST_WEIGHED: usize = 10;
/// Choices kept at each block of a larger group.
const KEPT: usize = 16;

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
            Tries::new(problem, &group, &timing).best()
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

    /// The version that takes longest, or the one that takes least.
    fn extreme(&self, longest: bool) -> Version {
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
    let reach = |i: usize| Some((early.blocks[i]?.0, late.blocks[i]?.1));
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
    ends: Instant,
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
    let start = |i: usize| timing.blocks[i].map(|(start, _)| start);
    let starts: Vec<Option<Instant>> = group.iter().map(|&i| start(i)).collect();
    let choices: Vec<Vec<Choice>> = group
        .iter()
        .map(|&i| choices_of(problem, i, timing))
        .collect();
    let worth = |k: usize, choice: &Choice, next: Option<usize>| {
        let next = next.and_then(|next| starts[next]);
        let fits = choice.fits && next.is_none_or(|next| choice.ends <= next);
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
                ends: timing.blocks[i].map_or(Instant::ZERO, |(_, end)| end),
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

/// A search in depth through a group whose times hang on words: block by block, each after those it hangs on.
struct Tries<'p, 'g> {
    problem: &'p Problem<'p>,
    group: &'g [usize],
    choices: Vec<Vec<Version>>,
    /// The most that the blocks from each on can be worth.
    hopes: Vec<Worth>,
    timing: Timing<'p>,
    /// Whether where nobody speaks is known only when all are decided.
    looks_ahead: bool,
    /// Whether each block fits, as far as blocks are decided.
    fits: Vec<bool>,
    best: Option<(Worth, Vec<Version>)>,
}

impl<'p, 'g> Tries<'p, 'g> {
    fn new(problem: &'p Problem<'p>, group: &'g [usize], timing: &Timing<'p>) -> Self {
        let choices: Vec<Vec<Version>> =
            group.iter().map(|&i| problem.blocks[i].choices()).collect();
        let looks_ahead = problem.quiet_hangs_on(group);
        let mut timing = Timing::of(problem, timing.versions.clone());
        let mut hopes = vec![Worth::default()];
        for &i in group.iter().rev() {
            let moves = looks_ahead || problem.blocks[i].hangs_on_words();
            let most = choices_of(problem, i, &mut timing)
                .into_iter()
                .map(|choice| Worth::of(&problem.blocks[i], choice.version, moves || choice.fits))
                .max();
            let rest = hopes.last().copied().unwrap_or_default();
            hopes.push(rest + most.unwrap_or_default());
        }
        hopes.reverse();
        Tries {
            problem,
            group,
            choices,
            hopes,
            timing,
            looks_ahead,
            fits: vec![true; group.len()],
            best: None,
        }
    }

    fn best(mut self) -> Vec<Version> {
        self.keep_the_best();
        if self.group.len() <= MOST_WEIGHED {
            self.decide(0, Worth::default());
        }
        let versions = self.best.map(|(_, versions)| versions);
        let most = self.choices.iter().map(|choices| choices[0]).collect();
        versions.unwrap_or(most)
    }

    /// Decides block by block, keeping a few of the choices worth most so far: what every choice of a small
    /// group is weighed against, and all there is time for in a large one.
    fn keep_the_best(&mut self) {
        let mut kept = vec![(Worth::default(), self.timing.clone(), self.fits.clone())];
        for (depth, &i) in self.group.iter().enumerate() {
            let mut next = Vec::with_capacity(kept.len() * 3);
            for (sum, timing, fits) in kept {
                for choice in 0..self.choices[depth].len() {
                    self.timing = timing.clone();
                    self.fits.clone_from(&fits);
                    self.timing.versions[i] = self.choices[depth][choice];
                    self.timing.place(i);
                    let (sum, _) = self.add(depth, sum);
                    next.push((sum, self.timing.clone(), self.fits.clone()));
                }
            }
            next.sort_by_key(|(sum, ..)| std::cmp::Reverse(*sum));
            next.truncate(KEPT);
            kept = next;
        }
        for (sum, timing, _) in kept {
            self.timing = timing;
            self.compare(sum);
        }
        self.fits.fill(true);
    }

    /// Decides the blocks from the `depth`th on; those before it are worth `so_far` at most.
    fn decide(&mut self, depth: usize, so_far: Worth) {
        let Some(&i) = self.group.get(depth) else {
            return self.compare(so_far);
        };
        for choice in 0..self.choices[depth].len() {
            self.timing.versions[i] = self.choices[depth][choice];
            self.timing.place(i);
            let (sum, stopped) = self.add(depth, so_far);
            let hope = sum + self.hopes[depth + 1];
            if self.best.as_ref().is_none_or(|(most, _)| hope > *most) {
                self.decide(depth + 1, sum);
            }
            for before in stopped {
                self.fits[before] = true;
            }
        }
    }

    /// What the blocks up to the `depth`th are worth with it, and which of those before it it stops.
    fn add(&mut self, depth: usize, so_far: Worth) -> (Worth, Vec<usize>) {
        let i = self.group[depth];
        let alone = self.timing.slack_alone(i);
        let mut fits = self.looks_ahead || alone.is_none_or(|slack| slack >= Span::ZERO);
        let (mut sum, mut stopped) = (so_far, Vec::new());
        for before in 0..depth {
            let other = self.group[before];
            if self.stops(i, other) && self.fits[before] {
                sum = sum + self.worth(other, false) - self.worth(other, true);
                self.fits[before] = false;
                stopped.push(before);
            }
            fits &= !self.stops(other, i);
        }
        self.fits[depth] = fits;
        (sum + self.worth(i, fits), stopped)
    }

    fn worth(&self, i: usize, fits: bool) -> Worth {
        Worth::of(&self.problem.blocks[i], self.timing.versions[i], fits)
    }

    /// Whether block `i` begins while block `other` is being said.
    fn stops(&self, i: usize, other: usize) -> bool {
        let said = |i: usize| self.timing.versions[i] != Version::LeftOut;
        let (Some((start, _)), Some((_, end))) = (self.timing.blocks[i], self.timing.blocks[other])
        else {
            return false;
        };
        said(i) && said(other) && self.timing.comes_before(other, i) && start < end
    }

    /// Takes what is decided if it is better than what was.
    fn compare(&mut self, so_far: Worth) {
        let worth = match self.looks_ahead {
            true => {
                let all = self.group.iter();
                all.map(|&i| self.worth(i, self.timing.fits(i))).sum()
            }
            false => so_far,
        };
        if self.best.as_ref().is_none_or(|(most, _)| worth > *most) {
            let versions = self.group.iter().map(|&i| self.timing.versions[i]);
            self.best = Some((worth, versions.collect()));
        }
    }
}
