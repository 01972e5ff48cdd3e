//! Odds: many shows, each different by chance, every one folded through a session.
//!
//! The same seed gives the same odds whatever the number of threads: every show has a seed of its own, and
//! what came of them is added up in order.

use std::sync::Arc;

use rayon::prelude::*;

use super::errors::{Errors, WindError, seed_of};
use super::keying::Keyed;
use super::outcome::Outcome;
use super::run::run;
use crate::script::Version;
use crate::show::Show;
use crate::timeline::Plan;
use crate::units::Share;

/// Of every so many shows, one is flown again without each source of error, to tell what that adds.
const COMPARED: u64 = 4;

/// A chance found by trying.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Chance {
    /// The share of shows.
    pub share: Share,
    /// Its limits: 95 % of such limits hold the true chance (Wilson's score interval).
    pub limits: (Share, Share),
}

impl Chance {
    /// Of `tried` shows, that which came about in `came`.
    pub fn of(came: usize, tried: usize) -> Chance {
        const SPREADS: f64 = 1.959_963_984_540_054;
        let n = tried.max(1) as f64;
        let share = came as f64 / n;
        let squared = SPREADS * SPREADS / n;
        let middle = (share + squared / 2.0) / (1.0 + squared);
        let half = (share * (1.0 - share) / n + squared / (4.0 * n)).sqrt();
        let half = SPREADS * half / (1.0 + squared);
        Chance {
            share: Share::from_whole(share),
            limits: (
                Share::from_whole((middle - half).max(0.0)),
                Share::from_whole((middle + half).min(1.0)),
            ),
        }
    }
}

/// What contributes how much, as shares that add up to one; all zero where nothing varies.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Sources {
    /// Wind other than forecast.
    pub wind: f64,
    /// The pilots: pace, holds, figures, the start.
    pub pilot: f64,
    /// Marks keyed early or late.
    pub marks: f64,
    /// The narrator's pace.
    pub words: f64,
}

/// The odds of a meet, as its figure is first flown.
#[derive(Debug, Clone, PartialEq)]
pub struct MeetOdds {
    /// The track, by index.
    pub track: usize,
    /// The chance that its hit falls within what the document allows, the music waiting for the aircraft.
    pub retimed: Chance,
    /// The same, played at the planned time whatever the aircraft does.
    pub as_planned: Chance,
    /// What contributes to the square of its miss.
    pub sources: Sources,
}

/// The odds of a block, as its figure is first flown.
#[derive(Debug, Clone, PartialEq)]
pub struct BlockOdds {
    /// The block, by index.
    pub block: usize,
    /// The chance that it is said, in full or short, and over in time.
    pub fits: Chance,
    /// The share of shows in which it is said in full, and short.
    pub said: (Share, Share),
    /// What contributes to the variance of what is left after it.
    pub sources: Sources,
}

/// The odds of a show.
#[derive(Debug, Clone, PartialEq)]
pub struct Odds {
    /// How many shows were tried.
    pub runs: u64,
    /// Tracks that meet something.
    pub meets: Vec<MeetOdds>,
    /// Blocks with a start.
    pub blocks: Vec<BlockOdds>,
}

/// Tries `runs` shows.
pub fn odds(show: &Arc<Show>, plan: &Arc<Plan>, seed: u64, runs: u64) -> Odds {
    let drawn = |run| Errors::drawn(seed_of(seed, run));
    let try_all = |runs: u64, change: fn(&mut Errors)| -> Vec<Outcome> {
        let one = |run| {
            let mut errors = drawn(run);
            change(&mut errors);
            self::run(show, plan, &errors, Keyed::Named).outcome
        };
        (0..runs).into_par_iter().map(one).collect()
    };
    let all = try_all(runs, |_| {});
    let compared = runs.div_ceil(COMPARED);
    let without = [
        try_all(compared, |errors| errors.wind = WindError::None),
        try_all(compared, |errors| errors.pilot = false),
        try_all(compared, |errors| errors.marks = false),
        try_all(compared, |errors| errors.words = false),
    ];
    let some = &all[..all.len().min(without[0].len())];
    let sources = |scatter: &dyn Fn(&[Outcome]) -> f64| {
        let whole = scatter(some);
        let adds: [f64; 4] =
            std::array::from_fn(|source| (whole - scatter(&without[source])).max(0.0));
        let sum: f64 = adds.iter().sum();
        let [wind, pilot, marks, words] = adds.map(|add| if sum > 0.0 { add / sum } else { 0.0 });
        Sources {
            wind,
            pilot,
            marks,
            words,
        }
    };
    let meets = show.tracks.iter().enumerate();
    let meets = meets.filter(|(_, track)| track.meets.is_some());
    let blocks = show.blocks.iter().enumerate();
    let blocks = blocks.filter(|(_, block)| block.starts.is_some());
    Odds {
        runs,
        meets: meets
            .map(|(track, _)| MeetOdds {
                track,
                retimed: chance(&all, |came| meet(came, track).is_some_and(|meet| meet.met)),
                as_planned: chance(&all, |came| is_met_as_planned(show, plan, came, track)),
                sources: sources(&|came| mean_square(&misses(came, track))),
            })
            .collect(),
        blocks: blocks
            .map(|(block, _)| BlockOdds {
                block,
                fits: chance(&all, |came| {
                    said(came, block).is_some_and(|said| said.fits())
                }),
                said: (
                    chance(&all, |came| is_said(came, block, Version::Full)).share,
                    chance(&all, |came| is_said(came, block, Version::Short)).share,
                ),
                sources: sources(&|came| variance(&slacks(came, block))),
            })
            .collect(),
    }
}

fn chance(all: &[Outcome], is: impl Fn(&Outcome) -> bool) -> Chance {
    Chance::of(all.iter().filter(|came| is(came)).count(), all.len())
}

fn meet(came: &Outcome, track: usize) -> Option<&super::MeetOutcome> {
    came.meets
        .iter()
        .find(|meet| (meet.track, meet.round) == (track, 0))
}

fn said(came: &Outcome, block: usize) -> Option<&super::BlockOutcome> {
    came.blocks
        .iter()
        .find(|said| (said.block, said.round) == (block, 0))
}

fn is_said(came: &Outcome, block: usize, version: Version) -> bool {
    said(came, block).is_some_and(|said| said.version == Some(version))
}

/// Whether the hit, played at its planned time, would have met what was really flown.
fn is_met_as_planned(show: &Show, plan: &Plan, came: &Outcome, track: usize) -> bool {
    let meets = show
        .tracks
        .get(track)
        .and_then(|track| track.meets.as_ref());
    let planned = plan
        .layout
        .tracks
        .get(track)
        .and_then(|track| track.meeting);
    let (Some(meet), Some(planned), Some(came)) = (meets, planned, meet(came, track)) else {
        return false;
    };
    (planned.wanted + planned.miss - came.wanted).abs() <= meet.within
}

/// How late each hit was that was heard, s.
fn misses(all: &[Outcome], track: usize) -> Vec<f64> {
    let miss = |came: &Outcome| Some(meet(came, track)?.miss()?.s());
    all.iter().filter_map(miss).collect()
}

/// What was left after a block wherever it was said, s.
fn slacks(all: &[Outcome], block: usize) -> Vec<f64> {
    let slack = |came: &Outcome| Some(said(came, block)?.slack?.s());
    all.iter().filter_map(slack).collect()
}

fn mean_square(values: &[f64]) -> f64 {
    values.iter().map(|value| value * value).sum::<f64>() / values.len().max(1) as f64
}

fn variance(values: &[f64]) -> f64 {
    let mean = values.iter().sum::<f64>() / values.len().max(1) as f64;
    mean_square(values) - mean * mean
}
