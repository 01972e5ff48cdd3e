//! The odds: how likely each meet is made and each block fits, from many shows that differ by chance, each
//! sketched as the session would run it, marks, new estimates and music turned while it plays among it. A show
//! that cannot be sketched is folded through the session whole.

use std::sync::Arc;

use rayon::prelude::*;

use super::errors::{Errors, WindError, seed_of};
use super::keying::Keyed;
use super::outcome::{Notes, Outcome, Truth};
use super::run::run;
use super::sketch::Sketch;
use crate::show::{Anchor, Figure, Manner, Meet, Motion, Show};
use crate::timeline::Plan;
use crate::units::quantity::NAUTICAL_MILE;
use crate::units::{Instant, Length, Share, Span};

/// Of every so many shows one is flown again with each cause of error alone.
const ALONE_EVERY: u32 = 4;
/// At least so many shows are sketched on one sheet.
const SHOWS_A_SHEET: usize = 64;
/// Holds that are tried.
const HOLDS_NMI: [f64; 8] = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0];
/// Standard deviations of a normal that hold 95 % of it.
const NORMAL_95: f64 = 1.959_964;

/// What is likely to come of a show.
#[derive(Debug, Clone, PartialEq)]
pub struct Odds {
    /// How many shows were flown.
    pub runs: u32,
    /// For each track that meets something, in the show's order.
    pub meets: Vec<MeetOdds>,
    /// For each block with a start, in the show's order.
    pub blocks: Vec<BlockOdds>,
}

/// What is likely to come of one meet.
#[derive(Debug, Clone, PartialEq)]
pub struct MeetOdds {
    /// The track, by index.
    pub track: usize,
    /// That it is met within what the document allows, by a show that follows what is marked.
    pub followed: Chance,
    /// The same if all music were played at its planned times.
    pub as_planned: Chance,
    /// How late the hit was in each show in which it was heard.
    pub misses: Vec<Span>,
    /// The same as planned.
    pub misses_as_planned: Vec<Span>,
    /// How much of the square of the miss each cause makes by itself, of all of them together.
    pub causes: Vec<(Cause, Share)>,
}

/// What is likely to come of one block.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BlockOdds {
    /// The block, by index.
    pub block: usize,
    /// That it is said, in full or short, and is over in time.
    pub fits: Chance,
    /// That it is said in full.
    pub full: Chance,
}

/// What makes a show differ from its plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cause {
    /// The mean wind along the line.
    Wind,
    /// The crew: pace, holds, the figures' own times.
    Pilot,
    /// Marks keyed a little early or late.
    Marks,
}

/// How often something came of so many times.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Chance {
    /// How often.
    pub came: u32,
    /// Of how many.
    pub of: u32,
}

impl Chance {
    fn count(&mut self, came: bool) {
        self.of += 1;
        self.came += u32::from(came);
    }

    /// The share of all.
    pub fn share(self) -> Share {
        Share::from_whole(f64::from(self.came) / f64::from(self.of.max(1)))
    }

    /// Between what it lies with 95 % confidence: the score interval (Wilson, Journal of the American
    /// Statistical Association 22, 1927).
    pub fn limits(self) -> [Share; 2] {
        let (n, p) = (f64::from(self.of.max(1)), self.share().whole());
        let z2 = NORMAL_95 * NORMAL_95 / n;
        let middle = (p + z2 / 2.0) / (1.0 + z2);
        let half = (p * (1.0 - p) * z2 + z2 * z2 / 4.0).sqrt() / (1.0 + z2);
        // What always came, or never, is at the very end.
        let low = if self.came == 0 { 0.0 } else { middle - half };
        let high = if self.came == self.of {
            1.0
        } else {
            middle + half
        };
        [low, high].map(|limit| Share::from_whole(limit.clamp(0.0, 1.0)))
    }
}

impl Cause {
    /// All of them.
    pub const ALL: [Cause; 3] = [Cause::Wind, Cause::Pilot, Cause::Marks];

    fn alone(self, seed: u64) -> Errors {
        let mut errors = Errors {
            seed,
            ..Errors::none()
        };
        match self {
            Cause::Wind => errors.wind = WindError::Drawn,
            Cause::Pilot => errors.pilot = true,
            Cause::Marks => errors.marks = true,
        }
        errors
    }
}

/// What is likely with the hold of a meet's figure somewhere else.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HoldOdds {
    /// How far from crowd centre the hold is.
    pub hold: Length,
    /// That the meet is made.
    pub met: Chance,
}

/// The chances of a track's meet with the hold of its figure at each whole nautical mile outside its gates, for
/// planning before the day; empty where what it meets has no hold. `plan` makes a plan of a show.
pub fn by_hold(
    show: &Show,
    track: usize,
    (runs, seed): (u32, u64),
    plan: impl Fn(&Show) -> Plan,
) -> Vec<HoldOdds> {
    let meet = show.tracks[track].meets.as_ref();
    let figure = meet.and_then(|meet| match &meet.on.anchor {
        Anchor::Point { of, .. } => Some(of),
        _ => None,
    });
    let Some(at) = figure.and_then(|id| show.figures.iter().position(|figure| figure.id == *id))
    else {
        return Vec::new();
    };
    let holds = HOLDS_NMI
        .iter()
        .map(|nmi| Length::from_m(nmi * NAUTICAL_MILE));
    let outside = holds.filter(|hold| {
        show.figures[at]
            .gates
            .iter()
            .all(|gate| gate.m() < hold.m())
    });
    outside
        .filter_map(|hold| {
            let mut moved = show.clone();
            held_at(&mut moved.figures[at], hold)?;
            let plan = Arc::new(plan(&moved));
            let moved = Arc::new(moved);
            let all = outcomes(&moved, &plan, runs, |i| Errors::drawn(seed_of(seed, i)));
            let mut met = Chance::default();
            of_track(&all, track).for_each(|came| met.count(came.met));
            Some(HoldOdds { hold, met })
        })
        .collect()
}

/// Moves the hold a figure begins with; `None` where it has none.
fn held_at(figure: &mut Figure, hold: Length) -> Option<()> {
    let legs = match &mut figure.manner {
        Manner::Flown(legs) => legs,
        Manner::Apart(parts) => &mut parts.first_mut()?.legs,
        Manner::Timed { .. } => return None,
    };
    let Motion::Hold { place, .. } = &mut legs.first_mut()?.motion else {
        return None;
    };
    place.out = hold;
    Some(())
}

/// Flies `runs` shows that differ from their plan by chance. The same seed gives the same odds, on however many
/// processors they are flown.
pub fn odds(show: &Arc<Show>, plan: &Arc<Plan>, runs: u32, seed: u64) -> Odds {
    let all = outcomes(show, plan, runs, |i| Errors::drawn(seed_of(seed, i)));
    let alone = Cause::ALL.map(|cause| {
        let some = runs.div_ceil(ALONE_EVERY);
        (
            cause,
            outcomes(show, plan, some, |i| cause.alone(seed_of(seed, i))),
        )
    });
    let meets = show.tracks.iter().enumerate();
    let blocks = show.blocks.iter().enumerate();
    Odds {
        runs,
        meets: meets
            .filter_map(|(track, of)| {
                let meet = of.meets.as_ref()?;
                let laid = &plan.layout.tracks[track];
                let hit = laid.starts.instant()? + laid.course.reaches(meet.hit_at)?;
                let planned = |round| planned_hit(show, plan, meet, hit, round);
                Some(meet_odds(track, meet, planned, &all, &alone))
            })
            .collect(),
        blocks: blocks
            .filter(|(_, block)| block.starts.is_some())
            .map(|(block, _)| block_odds(block, &all))
            .collect(),
    }
}

fn outcomes(
    show: &Arc<Show>,
    plan: &Arc<Plan>,
    runs: u32,
    errors: impl Fn(u64) -> Errors + Sync,
) -> Vec<Outcome> {
    let runs = (0..runs).into_par_iter();
    match Sketch::of(show, plan) {
        Some(sketch) => {
            let sheets = runs.with_min_len(SHOWS_A_SHEET);
            let sketched = sheets.map_init(
                || sketch.sheet(),
                |sheet, i| sheet.run(&errors(u64::from(i))),
            );
            sketched.collect()
        }
        None => runs
            .map(|i| run(show, plan, &errors(u64::from(i)), Keyed::Plainly).outcome)
            .collect(),
    }
}

/// When a hit is heard for the `round`th flying of what it meets, if the music is played as planned: `first` for the
/// first.
fn planned_hit(
    show: &Show,
    plan: &Plan,
    meet: &Meet,
    first: Instant,
    round: usize,
) -> Option<Instant> {
    if round == 0 {
        return Some(first);
    }
    let moments = &plan.moments;
    let wanted = |round| Truth { show, moments }.instant(&Notes::default(), &meet.on, round);
    Some(first + (wanted(round)? - wanted(0)?))
}

fn meet_odds(
    track: usize,
    meet: &Meet,
    planned: impl Fn(usize) -> Option<Instant>,
    all: &[Outcome],
    alone: &[(Cause, Vec<Outcome>)],
) -> MeetOdds {
    let mut odds = MeetOdds {
        track,
        followed: Chance::default(),
        as_planned: Chance::default(),
        misses: Vec::new(),
        misses_as_planned: Vec::new(),
        causes: Vec::new(),
    };
    for met in of_track(all, track) {
        odds.followed.count(met.met);
        odds.misses.extend(met.miss());
        let miss = planned(met.round).map(|planned| planned - met.wanted);
        let met = |miss: Span| miss.abs() <= meet.within;
        odds.as_planned.count(miss.is_some_and(met));
        odds.misses_as_planned.extend(miss);
    }
    let squares = alone.iter().map(|(cause, outcomes)| {
        let misses = of_track(outcomes, track).filter_map(|met| met.miss());
        let squares: Vec<f64> = misses.map(|miss| miss.s() * miss.s()).collect();
        (
            *cause,
            squares.iter().sum::<f64>() / squares.len().max(1) as f64,
        )
    });
    let squares: Vec<(Cause, f64)> = squares.collect();
    let whole: f64 = squares.iter().map(|(_, square)| square).sum();
    let share = |square: f64| Share::from_whole(if whole > 0.0 { square / whole } else { 0.0 });
    odds.causes = squares
        .into_iter()
        .map(|(cause, square)| (cause, share(square)))
        .collect();
    odds
}

fn of_track(
    outcomes: &[Outcome],
    track: usize,
) -> impl Iterator<Item = &super::outcome::MeetOutcome> {
    let meets = outcomes.iter().flat_map(|outcome| &outcome.meets);
    meets.filter(move |met| met.track == track)
}

fn block_odds(block: usize, all: &[Outcome]) -> BlockOdds {
    let mut odds = BlockOdds {
        block,
        fits: Chance::default(),
        full: Chance::default(),
    };
    let came = all.iter().flat_map(|outcome| &outcome.blocks);
    for came in came.filter(|came| came.block == block) {
        odds.fits.count(came.fits());
        odds.full
            .count(came.version == Some(crate::script::Version::Full));
    }
    odds
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Wilson's interval in a worked case: 10 of 50 gives 0.1124 to 0.3304 (worked by hand from the formula).
    #[test]
    fn limits_are_those_of_the_score_interval() {
        let [low, high] = Chance { came: 10, of: 50 }.limits().map(Share::whole);
        assert!(
            (low - 0.1124).abs() < 2e-4 && (high - 0.3304).abs() < 2e-4,
            "{low} {high}"
        );
        let [low, high] = Chance { came: 0, of: 20 }.limits().map(Share::whole);
        assert!(low.abs() < 1e-12 && (high - 0.1611).abs() < 2e-4, "{high}");
    }
}
