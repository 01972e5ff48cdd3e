//! When each block is said in given versions, and what is left before it must stop.

use super::{Problem, Timed, Version, When};
use crate::units::{Instant, Span};

/// Blocks in given versions, on the clock.
#[derive(Clone)]
pub(super) struct Timing<'p> {
    problem: &'p Problem<'p>,
    pub(super) versions: Vec<Version>,
    /// Each on the clock; `None` where it never begins.
    pub(super) blocks: Vec<Option<Placed>>,
}

/// A block on the clock.
#[derive(Clone, Copy)]
pub(super) struct Placed {
    pub(super) start: Instant,
    pub(super) end: Instant,
    /// The end, with what it is to have to spare.
    pub(super) clear: Instant,
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
            let at_once = Placed {
                start,
                end: start,
                clear: start,
            };
            timed.map_or(at_once, |timed| {
                said(timed, start, |time| self.when(time), |_| {})
            })
        });
    }

    pub(super) fn when(&self, when: When) -> Option<Instant> {
        match when {
            When::Never => None,
            When::At(at) => Some(at),
            When::AfterEnd { block, by } => {
                let placed = self.blocks.get(block).copied().flatten()?;
                Some(placed.end + by)
            }
        }
    }

    /// What is left before block `i` must stop, beyond what it is to have to spare; `None` where it is not said, or
    /// nothing stops it.
    pub(super) fn slack(&self, i: usize) -> Option<Span> {
        let next = self.next_start(i).zip(self.blocks[i]);
        let words = next.map(|(at, placed)| at - placed.clear);
        self.slack_alone(i).into_iter().chain(words).min()
    }

    pub(super) fn fits(&self, i: usize) -> bool {
        self.slack(i).is_none_or(|slack| slack >= Span::ZERO)
    }

    /// The same, other blocks apart.
    pub(super) fn slack_alone(&self, i: usize) -> Option<Span> {
        let block = &self.problem.blocks[i];
        let Placed { start, clear, .. } = self.blocks[i]?;
        let timed = block.timed(self.versions[i])?;
        let mut slack = self.when(block.ends_by).map(|by| by - clear);
        let mut stop = |left: Span| slack = Some(slack.map_or(left, |slack| slack.min(left)));
        let tell = |piece: Placed| {
            for quiet in &self.problem.quiet {
                let Some(from) = self.when(quiet.from) else {
                    continue;
                };
                if from >= piece.start {
                    stop(from - piece.clear);
                } else if let Some(until) =
                    self.when(quiet.until).filter(|until| *until > piece.start)
                {
                    stop(piece.start - until);
                }
            }
        };
        said(timed, start, |time| self.when(time), tell);
        slack
    }

    /// When the next block that is said begins.
    fn next_start(&self, i: usize) -> Option<Instant> {
        let said = |&j: &usize| j != i && self.versions[j] != Version::LeftOut;
        (0..self.blocks.len())
            .filter(said)
            .filter(|&j| self.comes_before(i, j))
            .filter_map(|j| Some(self.blocks[j]?.start))
            .min()
    }

    /// Whether block `i` begins before block `j`; of two at one instant, by their ids.
    pub(super) fn comes_before(&self, i: usize, j: usize) -> bool {
        let begins = |i: usize| Some((self.blocks[i]?.start, self.problem.blocks[i].id));
        begins(i)
            .zip(begins(j))
            .is_some_and(|(one, other)| one < other)
    }
}

/// Tells each piece of a text begun at `start`, with `when` for the times it waits for; gives all of it.
pub(super) fn said(
    timed: &Timed,
    start: Instant,
    when: impl Fn(When) -> Option<Instant>,
    mut tell: impl FnMut(Placed),
) -> Placed {
    let (mut now, mut clear) = (start, start);
    for (i, &lasts) in timed.pieces.iter().enumerate() {
        let wait = i.checked_sub(1).and_then(|i| timed.waits.get(i));
        if let Some(until) = wait.and_then(|&wait| when(wait)) {
            now = now.max(until);
        }
        let begun = now;
        now += lasts;
        clear = now + timed.spares.get(i).copied().unwrap_or_default();
        if lasts > Span::ZERO {
            tell(Placed {
                start: begun,
                end: now,
                clear,
            });
        }
    }
    Placed {
        start,
        end: now,
        clear,
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
