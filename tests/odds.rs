//! Shows that differ from their plan by chance: what came of them is right.

mod rehearsal;

use std::path::Path;
use std::sync::Arc;

use abeam::live::estimate::{Chain, Sighting, SightingKind, believe, mark_spread};
use abeam::live::{Mark, What};
use abeam::practice::errors::seed_of;
use abeam::practice::keying::{Keyed, marks};
use abeam::practice::odds::{Chance, odds};
use abeam::practice::{Errors, HeldUp, Outcome, Walk, WindError, run};
use abeam::script::{Version, readings};
use abeam::show::load::load;
use abeam::show::{PointName, Show};
use abeam::sound::probe;
use abeam::timeline::prior::START_SPREAD;
use abeam::timeline::{Facts, Plan};
use abeam::units::{Instant, Span, Speed};

fn demo() -> (Arc<Show>, Arc<Plan>) {
    let home = Path::new(env!("CARGO_MANIFEST_DIR"));
    let show = load(&home.join("cues/lantern-lake.toml"))
        .expect("the demo")
        .show;
    let length = |track: &abeam::show::Track| {
        probe(&home.join("media").join(&track.file)).map_or(Span::ZERO, |facts| facts.duration)
    };
    let facts = Facts {
        readings: readings(&show),
        track_lengths: show.tracks.iter().map(length).collect(),
    };
    let plan = Plan::new(&show, &show.profile, &show.day, facts);
    (Arc::new(show), Arc::new(plan))
}

fn outcome(errors: &Errors) -> Outcome {
    let (show, plan) = rehearsal::plan("high");
    run(&show, &plan, errors, Keyed::Plainly).outcome
}

#[test]
fn a_show_flown_as_planned_meets_everything_and_says_everything() {
    for (show, plan) in [demo(), rehearsal::plan("high")] {
        let run = run(&show, &plan, &Errors::none(), Keyed::Plainly);
        let meets = show
            .tracks
            .iter()
            .filter(|track| track.meets.is_some())
            .count();
        assert_eq!(run.outcome.meets.len(), meets);
        for meet in &run.outcome.meets {
            let miss = meet.miss().expect("it is played");
            assert!(meet.met && miss.abs() < Span::from_ms(100), "{miss:?}");
        }
        let to_say = show.blocks.iter().filter(|block| block.starts.is_some());
        assert_eq!(run.outcome.blocks.len(), to_say.count());
        for block in &run.outcome.blocks {
            let planned = plan.layout.blocks[block.block].version;
            assert_eq!(
                block.version,
                Some(planned),
                "{}",
                show.blocks[block.block].id
            );
            assert!(planned == Version::LeftOut || block.fits(), "{block:?}");
        }
    }
}

#[test]
fn music_waits_for_an_aircraft_that_leaves_its_hold_late_and_for_one_in_a_headwind() {
    let late = Errors {
        late: vec![("memorial".into(), Span::from_s(21.0))],
        ..Errors::none()
    };
    let headwind = Errors {
        wind: WindError::Stated(Speed::from_kt(-6.0)),
        ..Errors::none()
    };
    let held = Errors {
        held_up: Some(HeldUp {
            before: "memorial".into(),
            lasts: Span::from_s(90.0),
        }),
        ..Errors::none()
    };
    let on_time = outcome(&Errors::none()).meets[0].wanted;
    for (errors, later) in [(late, 20.9..21.1), (headwind, 0.1..5.0), (held, 89.9..90.1)] {
        let came = outcome(&errors);
        let [meet] = came.meets[..] else {
            panic!("one meet: {came:?}");
        };
        assert!(
            later.contains(&(meet.wanted - on_time).s()),
            "{errors:?}: {meet:?}"
        );
        assert!(meet.met, "{errors:?}: {:?}", meet.miss());
    }
}

#[test]
fn what_hangs_on_a_dropped_figure_does_not_come() {
    let came = outcome(&Errors {
        dropped: vec!["memorial".into()],
        ..Errors::none()
    });
    assert_eq!(came.meets, []);
    let said: Vec<usize> = came.blocks.iter().map(|block| block.block).collect();
    assert_eq!(said, [0, 1], "welcome and slow words");
}

#[test]
fn the_same_seed_is_the_same_show_and_another_another() {
    assert_eq!(outcome(&Errors::drawn(5)), outcome(&Errors::drawn(5)));
    assert_ne!(outcome(&Errors::drawn(5)), outcome(&Errors::drawn(6)));
    // Taking one kind of error away leaves the rest as it is.
    let wind = |errors: Errors| errors.along();
    let calm = Errors {
        pilot: false,
        marks: false,
        ..Errors::drawn(5)
    };
    assert_eq!(wind(Errors::drawn(5)), wind(calm));
}

/// Source: the interval's own formula, worked out for 8 of 10 by Wilson's definition with z = 1.96 (Wilson, Probable
/// Inference, 1927): 0.4902 to 0.9433.
#[test]
fn limits_are_those_of_the_score_interval() {
    let Chance { share, limits } = Chance::of(8, 10);
    assert!((share.whole() - 0.8).abs() < 1e-12);
    assert!((limits.0.whole() - 0.490_2).abs() < 5e-5, "{limits:?}");
    assert!((limits.1.whole() - 0.943_3).abs() < 5e-5, "{limits:?}");
    assert!(Chance::of(0, 50).limits.0.whole() < 1e-12);
    assert!(Chance::of(50, 50).limits.1.whole() > 0.999_999);
}

/// A pass whose time is one Gaussian: the chance that music played at its planned time is within a second of it
/// is erf(1 / (σ √2)), σ the spread of the plan.
#[test]
fn the_odds_of_a_single_gaussian_run_in_are_those_of_the_closed_form() {
    let (show, plan) = rehearsal::plan_of(ONE_PASS, "high");
    let pass = plan.moments.figures[0].expected(&PointName::Abeam(1));
    let spread = pass.expect("the pass").spread.s();
    let odds = odds(&show, &plan, 11, 2_000);
    let [meet] = &odds.meets[..] else {
        panic!("one meet");
    };
    let chance = libm::erf(1.0 / (spread * std::f64::consts::SQRT_2));
    let (low, high) = meet.as_planned.limits;
    assert!((low.whole()..=high.whole()).contains(&chance));
    assert!(meet.retimed.limits.0 > meet.as_planned.limits.1, "{meet:?}");
}

#[test]
fn odds_are_the_same_on_one_thread_and_on_three() {
    let (show, plan) = rehearsal::plan("high");
    let on = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads);
        pool.build()
            .expect("threads")
            .install(|| odds(&show, &plan, 2, 24))
    };
    assert_eq!(on(1), on(3));
}

/// The estimate knows how sure it is: of 10,000 shows, with the marks of the first three figures keyed as a stand would,
/// the share of true times within one and two of its spreads is that of the normal distribution, 68.3 % and 95.4 %
/// (NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.1, number from memory), to two points, for every point.
#[test]
fn true_times_lie_within_the_spreads_of_the_estimate_as_often_as_they_should() {
    const SHOWS: u64 = 10_000;
    let at_centre = rehearsal::DISPLAY.replace("40 m left", "0 m left");
    let (show, plan) = rehearsal::plan_of(&at_centre, "high");
    let figures = &plan.flight.figures;
    let points = || {
        figures
            .iter()
            .flat_map(|figure| figure.points.iter().map(move |point| (figure, point)))
    };
    let chain = Chain {
        starts: plan.moments.figures[0].start(),
        start_spread: START_SPREAD,
        steps: points().map(|(_, point)| point.step).collect(),
        awaited: Vec::new(),
    };
    let walk = Walk::of(&show, &plan, &plan.flight);
    let mut within = vec![(0u32, 0u32); chain.steps.len()];
    for run in 0..SHOWS {
        let errors = Errors::drawn(seed_of(3, run));
        let flown = walk.fly(&errors);
        let marks = marks(&show, &plan.flight, &flown, &errors, Keyed::Named);
        let seen = marks.iter().filter_map(|event| {
            let What::Mark(Mark {
                observed,
                point: Some(of),
                ..
            }) = &event.what
            else {
                return None;
            };
            let point = points()
                .position(|(figure, point)| figure.key == of.key && point.point == of.point)?;
            let early = figures[..3].iter().any(|figure| figure.key == of.key);
            early.then(|| Sighting {
                point,
                at: *observed,
                spread: mark_spread(&of.point),
                kind: SightingKind::Seen,
            })
        });
        let sightings: Vec<Sighting> = seen.collect();
        assert!(sightings.len() >= 3);
        let belief = believe(&chain, &sightings, Instant::from_us(i64::MIN));
        let passed = flown.figures.iter().flat_map(|figure| &figure.points);
        for ((expected, (_, passed)), (one, two)) in
            belief.points.iter().zip(passed).zip(&mut within)
        {
            let (late, spread) = ((*passed - expected.at).abs(), expected.spread);
            *one += u32::from(late <= spread);
            *two += u32::from(late <= spread * 2.0);
        }
    }
    for ((figure, point), (one, two)) in points().zip(within) {
        let share = |count: u32| 100.0 * f64::from(count) / SHOWS as f64;
        let (one, two) = (share(one), share(two));
        assert!(
            (one - 68.3).abs() < 2.0 && (two - 95.4).abs() < 2.0,
            "{} {}: {one:.1} %, {two:.1} %",
            figure.key,
            point.point
        );
    }
}

const ONE_PASS: &str = r#"
[show]
title = "One pass"
zero = "pass.abeam"
profile = "high"
[profile.high]
order = ["pass"]
[site]
elevation = "100 m"
line_bearing = 90
line_distance = "230 m"
[aircraft.solo]
name = "Lantern One"
[[figure]]
id = "pass"
name = "Pass"
aircraft = "solo"
from = "left"
gates = ["4 nmi", "2 nmi", "1 nmi"]
spread = "1 s"
legs = [
  { run = "to centre", speed = "240 kt tas", height = "500 ft", pass = true },
  { run = "for 1 nmi" },
]
[[track]]
id = "hymn"
file = "hymn.flac"
hits = { peak = "0:12" }
meets = { hit = "peak", on = "pass.abeam", within = "1 s", if_missed = "nearest" }
"#;
