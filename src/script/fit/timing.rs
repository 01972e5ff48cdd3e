//! When each block is said in given versions, and what is left before it must stop.

use super::{Problem, Timed, Version, When};
use crate::units::{Instant, Span};

/// Blocks in given versions, on the clock.
#[derive(Clone)]
pub(super) struct Timing<'p> {
    problem: &'p Problem<'p>,
    pub(super) versions: Vec<Version>,
    /// Start and end of each; `None` where it never begins.
    pub(super) blocks: Vec<Option<(Instant, Instant)>>,
}

impl<'p> Timing<'p> {
    pub(super) fn of(problem: &'p Problem<'p>, versions: Vec<Version>) -> Timing<'p> {
        let mut timing = Timing {
            blocks: vec![None; problem.blocks.len()],
            problem,
            versions,
        };
        let blocks: Vec<usize> = (0..problem.blocks.len()).collect();
        for i in order(problem, &blocks) {
            timing.place(i);
        }
        timing
    }

    /// Works out block `i`; what it hangs on must have been.
    pub(super) fn place(&mut self, i: usize) {
        let block = &self.problem.blocks[i];
        self.blocks[i] = self.when(block.starts).map(|start| {
            let timed = block.timed(self.versions[i]);
            let end = timed.map_or(start, |timed| self.pieces(timed, start, |_, _| {}));
            (start, end)
        });
    }

    pub(super) fn when(&self, when: When) -> Option<Instant> {
        match when {
            When::Never => None,
            When::At(at) => Some(at),
            When::AfterEnd { block, by } => {
                let (_, end) = self.blocks.get(block).copied().flatten()?;
                Some(end + by)
            }
        }
    }

    /// Tells the first and last word of each piece of a text begun at `start`; gives the last of all.
    fn pieces(
        &self,
        timed: &Timed,
        start: Instant,
        mut tell: impl FnMut(Instant, Instant),
    ) -> Instant {
        let mut now = start;
        for (i, &lasts) in timed.pieces.iter().enumerate() {
            let wait = i.checked_sub(1).and_then(|i| timed.waits.get(i));
            if let Some(until) = wait.and_then(|&wait| self.when(wait)) {
                now = now.max(until);
            }
            let begun = now;
            now += lasts;
            if lasts > Span::ZERO {
                tell(begun, now);
            }
        }
        now
    }

    /// What is left before block `i` must stop; `None` where it is not said, or nothing stops it.
    pub(super) fn slack(&self, i: usize) -> Option<Span> {
        let next = self.next_start(i).zip(self.blocks[i]);
        let words = next.map(|(at, (_, end))| at - end);
        self.slack_alone(i).into_iter().chain(words).min()
    }

    pub(super) fn fits(&self, i: usize) -> bool {
        self.slack(i).is_none_or(|slack| slack >= Span::ZERO)
    }

    /// The same, other blocks apart.
    pub(super) fn slack_alone(&self, i: usize) -> Option<Span> {
        let block = &self.problem.blocks[i];
        let (start, end) = self.blocks[i]?;
        let timed = block.timed(self.versions[i])?;
        let mut slack = self.when(block.ends_by).map(|by| by - end);
        let mut stop = |left: Span| slack = Some(slack.map_or(left, |slack| slack.min(left)));
        self.pieces(timed, start, |begun, over| {
            for quiet in &self.problem.quiet {
                let Some(from) = self.when(quiet.from) else {
                    continue;
                };
                if from >= begun {
                    stop(from - over);
                } else if let Some(until) = self.when(quiet.until).filter(|until| *until > begun) {
                    stop(begun - until);
                }
            }
        });
        slack
    }

    /// When the next block that is said begins.
    fn next_start(&self, i: usize) -> Option<Instant> {
        let said = |&j: &usize| j != i && self.versions[j] != Version::LeftOut;
        (0..self.blocks.len())
            .filter(said)
            .filter(|&j| self.comes_before(i, j))
            .filter_map(|j| Some(self.blocks[j]?.0))
            .min()
    }

    /// Whether block `i` begins before block `j`; of two at one instant, by their ids.
    pub(super) fn comes_before(&self, i: usize, j: usize) -> bool {
        let begins = |i: usize| Some((self.blocks[i]?.0, self.problem.blocks[i].id));
        begins(i)
            .zip(begins(j))
            .is_some_and(|(one, other)| one < other)
    }
}

/// The blocks in this order, but every block after those it hangs on.
pub(super) fn order(problem: &Problem<'_>, blocks: &[usize]) -> Vec<usize> {
    let count = problem.blocks.len();
    let (mut order, mut seen) = (Vec::with_capacity(count), vec![false; count]);
    for &first in blocks {
        // A walk with its own stack: a chain may be long. A circle, which loading refuses, is cut.
        let mut stack = vec![(first, false)];
        while let Some((i, asked)) = stack.pop() {
            if asked {
                order.push(i);
            } else if !std::mem::replace(&mut seen[i], true) {
                stack.push((i, true));
                for time in problem.blocks[i].times() {
                    if let When::AfterEnd { block, .. } = time
                        && block < count
                    {
                        stack.push((block, false));
                    }
                }
            }
        }
    }
    order
}
