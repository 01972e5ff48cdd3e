//! A group whose times hang on words: every way to say it, block by block. Of ways that leave the same behind
//! for the blocks to come only the best is followed, and none that cannot be worth as much as one already found.

use std::cmp::Reverse;
use std::collections::HashMap;
use std::hash::{BuildHasherDefault, Hasher};
use std::ops::Range;

use super::decided::{Decided, Open};
use super::ground::Ground;
use super::timing::Timing;
use super::{Problem, Version, Worth};

/// Ways followed in the first round, the best so far; what it finds is what the next is measured by.
const FIRST: usize = 16;
/// How many times as many each further round follows, until one has left none aside.
const MORE: usize = 8;
/// The most ways followed. More than this leave different things behind only where dozens of blocks hang on each other
/// crosswise; the best found is taken then, for a running show cannot wait.
const MOST: usize = 16_384;

/// The best versions of a group in the order of its blocks, each of them after those it hangs on.
pub(super) fn best<'p>(
    problem: &'p Problem<'p>,
    group: &'p [usize],
    timing: &Timing<'p>,
) -> Vec<Version> {
    let ground = Ground::new(problem, group, timing);
    let (mut most, mut least) = (FIRST, None);
    loop {
        let (found, all) = follow(&ground, most, least);
        match found {
            Some((_, versions)) if all || most >= MOST => return versions,
            found => least = found.map(|(worth, _)| worth).max(least),
        }
        most = (most * MORE).min(MOST);
    }
}

/// A way to say the blocks up to some step.
struct Way {
    /// What they are worth, as far as is known.
    worth: Worth,
    /// What is open, in the list of its step.
    open: Range<usize>,
    /// The way it goes on from, and the version of the last block.
    before: (usize, Version),
    /// Whether it is not followed.
    aside: bool,
}

/// Ways up to one step, those with the most words first.
#[derive(Default)]
struct Ways {
    ways: Vec<Way>,
    open: Vec<Open>,
    /// The last way that leaves something behind, by the hash of that.
    alike: HashMap<u64, usize, BuildHasherDefault<Hashed>>,
}

/// Hashes what is a hash already: by itself.
#[derive(Default)]
struct Hashed(u64);

impl Hasher for Hashed {
    fn finish(&self) -> u64 {
        self.0
    }

    fn write(&mut self, bytes: &[u8]) {
        for byte in bytes {
            self.0 = self.0.rotate_left(8) ^ u64::from(*byte);
        }
    }

    fn write_u64(&mut self, hash: u64) {
        self.0 = hash;
    }
}

impl Ways {
    /// Adds a way, unless one that leaves the same behind is worth as much.
    fn add(&mut self, worth: Worth, open: &[Open], before: (usize, Version)) {
        let hash = open.iter().fold(0, |hash, words| words.hashed(hash));
        let alike = self.alike.insert(hash, self.ways.len());
        if let Some(alike) = alike
            && self.open[self.ways[alike].open.clone()] == *open
        {
            if self.ways[alike].worth >= worth {
                self.alike.insert(hash, alike);
                return;
            }
            self.ways[alike].aside = true;
        }
        let from = self.open.len();
        self.open.extend_from_slice(open);
        self.ways.push(Way {
            worth,
            open: from..self.open.len(),
            before,
            aside: false,
        });
    }

    /// Makes room for what comes of so many ways.
    fn make_room(&mut self, ways: usize) {
        self.ways.reserve(2 * ways);
        self.open.reserve(4 * ways);
        self.alike.reserve(2 * ways);
    }

    /// Leaves all but the best aside; whether there were no more.
    fn keep(&mut self, most: usize) -> bool {
        self.ways.retain(|way| !way.aside);
        let all = self.ways.len() <= most;
        if !all {
            let over = |way: &Way| {
                let open = &self.open[way.open.clone()];
                open.iter().map(Open::over).max()
            };
            let mut by_time: Vec<usize> = (0..self.ways.len()).collect();
            by_time.sort_by_key(|&way| over(&self.ways[way]));
            let each = by_time.len().div_ceil(most);
            for part in by_time.chunks(each) {
                let best = part
                    .iter()
                    .copied()
                    .max_by_key(|&way| (self.ways[way].worth, Reverse(way)));
                for &way in part {
                    self.ways[way].aside = Some(way) != best;
                }
            }
            self.ways.retain(|way| !way.aside);
        }
        all
    }
}

/// Follows the best ways from block to block, `most` of them, and none that cannot be worth `least`. Gives the best
/// and whether no other was left aside.
fn follow(
    ground: &Ground<'_>,
    most: usize,
    least: Option<Worth>,
) -> (Option<(Worth, Vec<Version>)>, bool) {
    let mut decided = Decided::new(ground);
    let mut ways = Ways::default();
    ways.add(Worth::default(), &[], (0, Version::Full));
    let mut befores: Vec<Vec<(usize, Version)>> = Vec::new();
    let mut all = true;
    for (step, choices) in ground.choices.iter().enumerate() {
        let mut next = Ways::default();
        next.make_room(ways.ways.len());
        for (before, way) in ways.ways.iter().enumerate() {
            for &version in choices {
                decided.go_on_from(&ways.open[way.open.clone()]);
                let worth = way.worth + decided.say(step, version);
                if least.is_none_or(|least| worth + ground.hopes[step + 1] >= least) {
                    decided.close(step + 1);
                    next.add(worth, decided.open(), (before, version));
                }
            }
        }
        all &= next.keep(most);
        befores.push(next.ways.iter().map(|way| way.before).collect());
        ways = next;
    }
    // After the last nothing is open, so that one way is left, if any.
    let best = ways.ways.first().map(|way| {
        let mut at = 0;
        let mut versions: Vec<Version> = befores
            .iter()
            .rev()
            .map(|befores| {
                let (before, version) = befores[at];
                at = before;
                version
            })
            .collect();
        versions.reverse();
        (way.worth, versions)
    });
    (best, all)
}
