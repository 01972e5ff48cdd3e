//! The estimate of a chain is the exact one: against dense solutions, known moments and simulation.

use abeam::flight::Step;
use abeam::live::estimate::{
    Belief, Chain, Kept, PACE_SPREAD, Sighting, SightingKind, WIND_SPREAD, believe,
};
use abeam::units::{Instant, Span};
use assert_no_alloc::{AllocDisabler, assert_no_alloc};
use proptest::prelude::*;
use serde::Deserialize;

#[global_allocator]
static ALLOCATOR: AllocDisabler = AllocDisabler;

/// Long before anything: nothing is overdue.
const BEFORE: Instant = Instant::from_us(i64::MIN);

#[derive(Deserialize)]
struct Solved {
    chain: ChainRow,
    sightings: Vec<SightingRow>,
    now_us: i64,
    overdue: Option<usize>,
    late_s: Vec<f64>,
    spread_s: Vec<f64>,
    pace: f64,
    pace_spread: f64,
    wind_mps: f64,
    wind_spread_mps: f64,
}

#[derive(Deserialize)]
struct ChainRow {
    starts_us: i64,
    start_spread_us: i64,
    steps: Vec<StepRow>,
    awaited: Vec<bool>,
}

#[derive(Deserialize)]
struct StepRow {
    takes_us: i64,
    seconds_per_mps: f64,
    paced: bool,
    spread_us: i64,
}

#[derive(Deserialize)]
struct SightingRow {
    point: usize,
    at_us: i64,
    spread_us: i64,
    restart: bool,
}

impl Solved {
    fn chain(&self) -> Chain {
        let steps = self.chain.steps.iter().map(|step| Step {
            takes: Span::from_us(step.takes_us),
            seconds_per_mps: step.seconds_per_mps,
            paced: step.paced,
            spread: Span::from_us(step.spread_us),
            waits: false,
        });
        Chain {
            starts: Instant::from_us(self.chain.starts_us),
            start_spread: Span::from_us(self.chain.start_spread_us),
            steps: steps.collect(),
            awaited: self.chain.awaited.clone(),
        }
    }

    fn sightings(&self) -> Vec<Sighting> {
        let sightings = self.sightings.iter().map(|row| Sighting {
            point: row.point,
            at: Instant::from_us(row.at_us),
            spread: Span::from_us(row.spread_us),
            kind: if row.restart {
                SightingKind::Restart
            } else {
                SightingKind::Seen
            },
        });
        sightings.collect()
    }
}

/// Source: tests/reference/chains.py (numpy 2.4.6, scipy 1.17.1).
#[test]
fn every_point_agrees_with_the_dense_least_squares_solution_to_a_nanosecond() {
    let cases: Vec<Solved> =
        serde_json::from_str(include_str!("reference/chains.json")).expect("reference values");
    assert!(cases.len() >= 40);
    let mut worst: f64 = 0.0;
    for (number, case) in cases.iter().enumerate() {
        let belief = believe(
            &case.chain(),
            &case.sightings(),
            Instant::from_us(case.now_us),
        );
        assert_eq!(belief.points.len(), case.late_s.len());
        let solved = case.late_s.iter().zip(&case.spread_s);
        for (point, (expected, (late_s, spread_s))) in belief.points.iter().zip(solved).enumerate()
        {
            let (late, spread) = expected.exact_s();
            let off = (late - late_s).abs().max((spread - spread_s).abs());
            worst = worst.max(off);
            assert!(
                off < 1e-9,
                "chain {number} point {point}: {late} ± {spread}, solved {late_s} ± {spread_s}"
            );
        }
        for (got, solved) in [
            (belief.pace.whole(), case.pace),
            (belief.pace_spread.whole(), case.pace_spread),
            (belief.wind.mps(), case.wind_mps),
            (belief.wind_spread.mps(), case.wind_spread_mps),
        ] {
            assert!(
                (got - solved).abs() < 1e-9,
                "chain {number}: {got}, {solved}"
            );
        }
        if let Some(point) = case.overdue {
            assert!(belief.points[point].at > Instant::from_us(case.now_us));
        }
    }
    println!("{} chains, worst {worst:.1e} s", cases.len());
}

#[derive(Deserialize)]
struct CutOff {
    by: String,
    beta: f64,
    mean: f64,
    variance: f64,
}

/// Source: tests/reference/chains.py (scipy.stats.truncnorm 1.17.1; mpmath 1.4.1 far in the tail).
#[test]
fn an_overdue_point_has_the_moments_of_the_truncated_gaussian() {
    let rows: Vec<CutOff> =
        serde_json::from_str(include_str!("reference/overdue.json")).expect("reference values");
    for row in rows {
        let chain = Chain {
            starts: Instant::from_s(600.0),
            start_spread: Span::from_s(1.0),
            steps: vec![Step::default()],
            awaited: vec![true],
        };
        let now = chain.starts + Span::from_s(row.beta);
        let (late, spread) = believe(&chain, &[], now).points[0].exact_s();
        // scipy's variance is a difference of large numbers from about two spreads on.
        let digits = if row.by == "scipy" { 1e-11 } else { 1e-13 };
        let (mean_off, variance_off) = (late - row.mean, spread * spread - row.variance);
        let near = mean_off.abs() <= digits * row.mean.abs().max(1.0)
            && variance_off.abs() <= digits * if row.by == "scipy" { 1.0 } else { row.variance };
        assert!(
            near,
            "{} at {}: mean {mean_off:.1e}, variance {variance_off:.1e}",
            row.by, row.beta
        );
    }
}

/// The model itself, simulated: one and two spreads of a Gaussian hold 68.27 % and 95.45 %.
#[test]
fn true_times_fall_within_their_spreads_as_often_as_they_should() {
    let mut dice = Dice(20_260_517);
    let (mut points, mut within_one, mut within_two) = (0.0, 0.0, 0.0);
    for _ in 0..2_000 {
        let (chain, truth) = dice.flown_chain();
        let seen_to = dice.below(truth.len());
        let mut sightings = vec![];
        for (point, &true_s) in truth.iter().enumerate().take(seen_to) {
            if dice.below(3) == 0 {
                let spread_s = [0.25, 2.0][dice.below(2)];
                sightings.push(Sighting {
                    point,
                    at: chain.starts + Span::from_s(true_s + spread_s * dice.gaussian()),
                    spread: Span::from_s(spread_s),
                    kind: SightingKind::Seen,
                });
            }
        }
        let belief = believe(&chain, &sightings, BEFORE);
        for (expected, true_s) in belief.points.iter().zip(&truth) {
            let off = ((expected.at - chain.starts).s() - true_s).abs() / expected.spread.s();
            points += 1.0;
            within_one += f64::from(off <= 1.0);
            within_two += f64::from(off <= 2.0);
        }
    }
    let (one, two) = (100.0 * within_one / points, 100.0 * within_two / points);
    println!("{points} points: {one:.2} % within one spread, {two:.2} % within two");
    assert!((one - 68.27).abs() < 2.0, "{one}");
    assert!((two - 95.45).abs() < 2.0, "{two}");
}

/// One show after another in one estimate, each point seen, seen again, or waited for in vain.
#[test]
fn an_estimate_that_is_kept_allocates_nothing_after_its_first_use() {
    let mut dice = Dice(20_260_611);
    for _ in 0..50 {
        let (chain, truth) = dice.flown_chain();
        let awaited = vec![true; truth.len()];
        let mut kept = Kept::new(&Chain { awaited, ..chain });
        let mut flies = || {
            kept.forget();
            for (point, &true_s) in truth.iter().enumerate() {
                let at = Instant::from_s(true_s);
                kept.look(at);
                kept.unslipped();
                kept.spread(point);
                let seen = |kind| Sighting {
                    point,
                    at,
                    spread: Span::from_ms(250),
                    kind,
                };
                match point % 4 {
                    0 => kept.see(&seen(SightingKind::Foreseen)),
                    1 => kept.restart(point, Some((at, Span::from_s(2.0)))),
                    2 => (0..9).for_each(|_| kept.see(&seen(SightingKind::Restart))),
                    _ => kept.look(at + Span::from_s(3.0)).iter().for_each(drop),
                }
                kept.see(&seen(SightingKind::Seen));
                kept.spread(point / 2);
            }
        };
        flies();
        assert_no_alloc(flies);
    }
}

/// Seeded chance (splitmix64; Box–Muller).
struct Dice(u64);

impl Dice {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn share(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn below(&mut self, count: usize) -> usize {
        (self.share() * count as f64) as usize
    }

    fn gaussian(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.share()).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.share()).cos()
    }

    /// A chain, and its true times in seconds after its planned start, drawn from the model.
    fn flown_chain(&mut self) -> (Chain, Vec<f64>) {
        let start_spread = Span::from_s(0.5 + 5.0 * self.share());
        let pace = PACE_SPREAD.whole() * self.gaussian();
        let wind = WIND_SPREAD.mps() * self.gaussian();
        let mut chain = Chain {
            start_spread,
            steps: vec![Step::default()],
            ..Chain::default()
        };
        let mut truth = vec![start_spread.s() * self.gaussian()];
        for _ in 0..self.below(40) + 4 {
            let hold = self.below(8) == 0;
            let step = Step {
                takes: Span::from_s(20.0 + 40.0 * self.share()),
                seconds_per_mps: if hold { 0.0 } else { 0.2 * self.gaussian() },
                paced: !hold,
                spread: Span::from_s(if hold { 8.0 } else { 0.2 + self.share() }),
                waits: hold,
            };
            truth.push(
                truth[truth.len() - 1]
                    + step.takes.s() * (1.0 + if hold { 0.0 } else { pace })
                    + step.seconds_per_mps * wind
                    + step.spread.s() * self.gaussian(),
            );
            chain.steps.push(step);
        }
        (chain, truth)
    }
}

fn is_finite(belief: &Belief) -> bool {
    let of_points = belief
        .points
        .iter()
        .flat_map(|point| <[f64; 2]>::from(point.exact_s()));
    let of_all = [
        belief.pace.whole(),
        belief.pace_spread.whole(),
        belief.wind.mps(),
        belief.wind_spread.mps(),
    ];
    of_points.chain(of_all).all(f64::is_finite)
}

fn step() -> impl Strategy<Value = Step> {
    (
        0_i64..120_000_000,
        -0.5..0.5,
        any::<bool>(),
        0_i64..5_000_000,
    )
        .prop_map(|(takes, seconds_per_mps, paced, spread)| Step {
            takes: Span::from_us(takes),
            seconds_per_mps,
            paced,
            spread: Span::from_us(spread),
            waits: false,
        })
}

fn chain() -> impl Strategy<Value = Chain> {
    let steps = prop::collection::vec((step(), any::<bool>()), 1..30);
    (0_i64..7_200_000_000, 0_i64..20_000_000, steps).prop_map(|(starts, start_spread, steps)| {
        let (steps, awaited) = steps.into_iter().unzip();
        Chain {
            starts: Instant::from_us(starts),
            start_spread: Span::from_us(start_spread),
            steps,
            awaited,
        }
    })
}

/// Sightings some seconds off the plan.
fn sightings() -> impl Strategy<Value = Vec<(usize, i64, i64, bool)>> {
    let one = (
        0_usize..30,
        -30_000_000_i64..30_000_000,
        50_000_i64..3_000_000,
        prop::bool::weighted(0.1),
    );
    prop::collection::vec(one, 0..12)
}

fn on_chain(chain: &Chain, rows: &[(usize, i64, i64, bool)]) -> Vec<Sighting> {
    let planned = believe(chain, &[], BEFORE).points;
    let sightings = rows.iter().map(|&(point, late, spread, restart)| {
        let point = point % planned.len();
        Sighting {
            point,
            at: planned[point].at + Span::from_us(late),
            spread: Span::from_us(spread),
            kind: if restart {
                SightingKind::Restart
            } else {
                SightingKind::Seen
            },
        }
    });
    sightings.collect()
}

fn any_step() -> impl Strategy<Value = Step> {
    use prop::num::f64::{ANY, NORMAL};
    (
        any::<i64>(),
        prop_oneof![NORMAL, ANY],
        any::<bool>(),
        any::<i64>(),
    )
        .prop_map(|(takes, seconds_per_mps, paced, spread)| Step {
            takes: Span::from_us(takes),
            seconds_per_mps,
            paced,
            spread: Span::from_us(spread),
            waits: false,
        })
}

fn any_size() -> impl Strategy<Value = i64> {
    prop_oneof![
        Just(0),
        any::<i64>(),
        -1_000_000_000_i64..1_000_000_000,
        -5_i64..5
    ]
}

fn any_sighting() -> impl Strategy<Value = Sighting> {
    (0_usize..40, any_size(), any_size(), any::<bool>()).prop_map(|(point, at, spread, seen)| {
        Sighting {
            point,
            at: Instant::from_us(at),
            spread: Span::from_us(spread),
            kind: if seen {
                SightingKind::Seen
            } else {
                SightingKind::Restart
            },
        }
    })
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, cases: 1_000, ..ProptestConfig::default() })]

    #[test]
    fn no_input_however_wild_gives_a_nan(
        steps in prop::collection::vec((prop_oneof![step(), any_step()], any::<bool>()), 0..40),
        starts in any_size(),
        start_spread in any_size(),
        sightings in prop::collection::vec(any_sighting(), 0..20),
        now in any_size(),
    ) {
        let (steps, awaited) = steps.into_iter().unzip();
        let chain = Chain {
            starts: Instant::from_us(starts),
            start_spread: Span::from_us(start_spread),
            steps,
            awaited,
        };
        let belief = believe(&chain, &sightings, Instant::from_us(now));
        prop_assert!(is_finite(&belief), "{belief:?}");
        prop_assert!(belief.points.is_sorted_by_key(|point| point.at));
    }

    #[test]
    fn seeing_a_point_moves_its_estimate_towards_the_sighting(
        chain in chain(), rows in sightings(), point in 0_usize..30,
        late in -30_000_000_i64..30_000_000, spread in 50_000_i64..3_000_000,
    ) {
        let mut seen = on_chain(&chain, &rows);
        let before = believe(&chain, &seen, BEFORE);
        let point = point % chain.steps.len();
        seen.extend(on_chain(&chain, &[(point, late, spread, false)]));
        let after = believe(&chain, &seen, BEFORE);
        let late = late as f64 / 1e6;
        let (was, is) = (before.points[point].exact_s().0, after.points[point].exact_s().0);
        prop_assert!(was.min(late) - 1e-9 <= is && is <= was.max(late) + 1e-9, "{was} {is} {late}");
    }

    #[test]
    fn an_unseen_overdue_point_is_always_later_than_now(
        chain in chain(), rows in sightings(), now in 0_i64..20_000_000_000,
    ) {
        let seen = on_chain(&chain, &rows);
        let now = Instant::from_us(now);
        let belief = believe(&chain, &seen, now);
        let first_unseen = seen.iter().map(|sighting| sighting.point + 1).max().unwrap_or(0);
        for point in first_unseen..chain.steps.len() {
            if chain.awaited[point] {
                prop_assert!(belief.points[point].at > now);
            }
        }
        prop_assert!(is_finite(&belief));
        prop_assert!(belief.points.is_sorted_by_key(|point| point.at));
    }

    #[test]
    fn more_sightings_never_widen_a_spread(
        chain in chain(), rows in sightings(), more in sightings(),
    ) {
        let mut seen = on_chain(&chain, &rows);
        let before = believe(&chain, &seen, BEFORE);
        seen.extend(on_chain(&chain, &more).into_iter().filter(|s| s.kind == SightingKind::Seen));
        let after = believe(&chain, &seen, BEFORE);
        for (was, is) in before.points.iter().zip(&after.points) {
            prop_assert!(is.exact_s().1 <= was.exact_s().1 + 1e-9);
        }
        prop_assert!(after.pace_spread.whole() <= before.pace_spread.whole() + 1e-12);
        prop_assert!(after.wind_spread.mps() <= before.wind_spread.mps() + 1e-12);
    }

    #[test]
    fn the_order_of_sightings_does_not_matter(
        chain in chain(), rows in sightings(), turn in 0_usize..12, now in 0_i64..4_000_000_000,
    ) {
        let seen = on_chain(&chain, &rows);
        let mut turned: Vec<Sighting> = seen.iter().rev().copied().collect();
        turned.rotate_left(turn.min(seen.len()));
        let now = Instant::from_us(now);
        let (one, other) = (believe(&chain, &seen, now), believe(&chain, &turned, now));
        for (a, b) in one.points.iter().zip(&other.points) {
            let ((late, spread), (other_late, other_spread)) = (a.exact_s(), b.exact_s());
            prop_assert!((late - other_late).abs() < 1e-9 * late.abs().max(1.0));
            prop_assert!((spread - other_spread).abs() < 1e-9);
        }
    }

    #[test]
    fn a_restart_says_nothing_of_the_times_before_it(
        chain in chain(), rows in sightings(), point in 0_usize..30, late in 0_i64..600_000_000,
    ) {
        let point = point % chain.steps.len();
        let seen: Vec<Sighting> = on_chain(&chain, &rows).into_iter()
            .filter(|sighting| sighting.point < point).collect();
        let before = believe(&chain, &seen, BEFORE);
        let mut held = seen;
        held.extend(on_chain(&chain, &[(point, late, 250_000, true)]));
        let after = believe(&chain, &held, BEFORE);
        for (was, is) in before.points.iter().zip(&after.points).take(point) {
            prop_assert_eq!(was.exact_s(), is.exact_s());
        }
        let (restarted, spread) = after.points[point].exact_s();
        prop_assert!((restarted - late as f64 / 1e6).abs() < 1e-9 && (spread - 0.25).abs() < 1e-9);
        prop_assert_eq!((before.pace, before.wind_spread), (after.pace, after.wind_spread));
    }
}

/// Six marks, each run 3 % longer than planned: the pace is learnt, and the unseen rest re-timed by it.
#[test]
fn a_slow_crew_is_expected_to_stay_slow() {
    let pass = Step {
        takes: Span::from_s(60.0),
        paced: true,
        spread: Span::from_ms(300),
        ..Step::default()
    };
    let chain = Chain {
        start_spread: Span::from_s(1.0),
        steps: vec![pass; 12],
        ..Chain::default()
    };
    let sightings: Vec<Sighting> = (0..6)
        .map(|point| Sighting {
            point,
            at: Instant::from_s(61.8 * point as f64),
            spread: Span::from_ms(250),
            kind: SightingKind::Seen,
        })
        .collect();
    let belief = believe(&chain, &sightings, BEFORE);
    assert!(
        (belief.pace.whole() - 0.03).abs() < 0.001,
        "{}",
        belief.pace
    );
    let last = belief.points[11].at;
    assert!((last.s() - 61.8 * 11.0).abs() < 0.5, "{last}");
}
