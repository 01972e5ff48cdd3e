//! Where a run-in cannot begin at the place the aircraft is, the way there is flown, timed and told.

mod flights;
mod planned;

use std::sync::Arc;

use abeam::flight::{FlownFigure, PathSample};
use abeam::live::{Event, Session, What};
use abeam::show::{Figure, PointName, Severity, Show, Side, TurnTowards, WindAt};
use abeam::timeline::Plan;
use abeam::units::{Instant, Span};
use flights::*;
use planned::{Planned, document, of_text};
use proptest::prelude::*;

/// At 100 m/s and 2 g a turn has radius V²/(g √3) and half a circle of it takes π V/(g √3).
const HALF_CIRCLE: f64 = std::f64::consts::PI * 100.0 / (9.806_65 * 1.732_050_807_568_877_2);

/// From the left at 100 m/s, out to 2 km right.
fn first() -> Figure {
    figure(
        "first",
        vec![hold(4_000.0), to_centre(tas(100.0)), run_for(2_000.0)],
    )
}

/// Straight to centre from a side, by a gate 3 km out.
fn next(from: Side) -> Figure {
    let mut next = figure("next", vec![to_centre(None), run_for(500.0)]);
    next.gates = vec![m(3_000.0)];
    next.from = from;
    next
}

fn flown(show: &Show) -> (FlownFigure, Vec<abeam::show::Fault>) {
    let mut flight = fly_all(show);
    (flight.figures.pop().expect("figures"), flight.faults)
}

fn in_wind(figures: Vec<Figure>, wind: Vec<WindAt>) -> Show {
    let mut show = show(figures);
    show.day.wind = wind;
    show
}

#[test]
fn from_the_wrong_side_it_is_two_half_circles_and_the_way_between() {
    let (next, faults) = flown(&show(vec![first(), next(Side::Left)]));
    // From 2 km right, half a circle, back to 3 km left and 50 m beyond, half a circle. Derived.
    let takes = 2.0 * HALF_CIRCLE + (2_000.0 + 3_050.0) / 100.0;
    assert!((after(&next, PointName::Inbound) - takes).abs() < 1e-3);
    assert!((after(&next, PointName::Gate(1)) - takes - 0.5).abs() < 1e-3);
    assert!((after(&next, PointName::Abeam(1)) - takes - 30.5).abs() < 1e-3);
    assert!((next.reposition.expect("a reposition").s() - takes).abs() < 1e-3);
    // Two radii further from the crowd than the display line, never nearer than it.
    let far = next
        .path()
        .iter()
        .map(|place| place.y.m())
        .fold(0.0, f64::max);
    let radius = 100.0 * HALF_CIRCLE / std::f64::consts::PI;
    assert!((far - 230.0 - 2.0 * radius).abs() < 0.1, "{far}");
    assert!(next.path().iter().all(|place| place.y.m() > 229.9));

    let [fault] = &faults[..] else {
        panic!("{faults:?}")
    };
    assert_eq!(fault.severity, Severity::Advice);
    let says = format!("a reposition of {:.0} s is put before it", takes.ceil());
    assert!(fault.message.contains(&says), "{}", fault.message);
    assert!(fault.help.contains("on the left"), "{}", fault.help);
}

#[test]
fn nearer_than_its_gate_it_goes_out_again() {
    let near = |text: &str| {
        let until = text.parse().expect("the end of a run");
        let mut near = figure("first", vec![hold(5_000.0), run(until, tas(100.0), false)]);
        near.from = Side::Right;
        near
    };
    let (from_near, _) = flown(&show(vec![near("to 1 km right"), next(Side::Right)]));
    let takes = 2.0 * HALF_CIRCLE + 2_050.0 / 100.0;
    assert!((after(&from_near, PointName::Inbound) - takes).abs() < 1e-3);
    // Beyond the gate and headed for centre it begins where it is.
    let (from_far, faults) = flown(&show(vec![near("to 4 km right"), next(Side::Right)]));
    assert_eq!((from_far.reposition, faults.len()), (None, 0));
    assert!((after(&from_far, PointName::Abeam(1)) - 40.0).abs() < 1e-6);
}

#[test]
fn headed_away_it_goes_on_out_and_turns_back_onto_the_line() {
    let (next, faults) = flown(&show(vec![first(), next(Side::Right)]));
    assert_eq!(faults.len(), 1);
    let takes = after(&next, PointName::Inbound);
    // At least the way from 2 to 3.05 km out and half a circle, at most a full circle more.
    let least = 1_050.0 / 100.0 + HALF_CIRCLE;
    assert!(
        takes > least && takes < least + 2.0 * HALF_CIRCLE,
        "{takes} {least}"
    );
    let inbound = at(&next, takes);
    assert!(
        inbound.x.m() > 3_049.0 && (inbound.y.m() - 230.0).abs() < 6.0,
        "{inbound:?}"
    );
    assert!(next.path().iter().all(|place| place.y.m() > 224.9));
}

/// The path sample nearest to `t` seconds after the start.
fn at(figure: &FlownFigure, t: f64) -> PathSample {
    let near = |place: &&PathSample| ((place.after.s() - t).abs() * 1e6) as u64;
    *figure.path().iter().min_by_key(near).expect("a path")
}

/// Nothing flies faster than it flies: between two samples it is no further than its speed takes it, also where the
/// way to a hold ends and the hold begins.
#[test]
fn the_way_to_a_hold_leads_to_its_place_and_its_height() {
    for (height, winds) in [(900.0, vec![]), (100.0, vec![]), (400.0, wind(6.0, 4.0))] {
        let mut held = figure("held", vec![hold(4_000.0), to_centre(tas(100.0))]);
        if let abeam::show::Manner::Flown(legs) = &mut held.manner {
            legs[1].height = Some(m(height));
        }
        let (flown, _) = flown(&in_wind(vec![first(), held], winds));
        let path = flown.path();
        let last = path
            .iter()
            .rposition(|sample| sample.true_airspeed.mps() == 0.0);
        let until = last.expect("a hold");
        for pair in path[..=until].windows(2) {
            let [before, after] = pair else { continue };
            let takes = (after.after - before.after).s();
            let far = |of: fn(&PathSample) -> abeam::units::Length| (of(after) - of(before)).m();
            let moved = far(|at| at.x).hypot(far(|at| at.y)).hypot(far(|at| at.z));
            assert!(
                moved <= 115.0 * takes + 8.0,
                "{height}: {moved} m in {takes} s: {before:?} {after:?}"
            );
            assert!(
                far(|at| at.z).abs() <= 28.0 * takes + 1.5,
                "{height}: {before:?} {after:?}"
            );
        }
        assert!((path[until].z.m() - height).abs() < 1e-6);
    }
}

#[test]
fn a_hold_takes_the_way_to_it_in_and_says_where_that_is_too_long() {
    let held = |seconds: f64| {
        let mut held = figure("held", vec![hold(4_000.0), to_centre(tas(100.0))]);
        if let abeam::show::Manner::Flown(legs) = &mut held.manner
            && let abeam::show::Motion::Hold { expect, .. } = &mut legs[0].motion
        {
            *expect = s(seconds);
        }
        held
    };
    let way = 2.0 * HALF_CIRCLE + (2_000.0 + 4_000.0) / 100.0;
    let (long, faults) = flown(&show(vec![first(), held(120.0)]));
    assert_eq!((after(&long, PointName::Inbound), faults.len()), (120.0, 0));
    assert_eq!(long.reposition, None);
    // It is on its way, not at the hold at once.
    assert!(at(&long, 1.0).x.m() > 2_000.0 && at(&long, 119.0).x.m() == -4_000.0);

    let (short, faults) = flown(&show(vec![first(), held(60.0)]));
    assert!((after(&short, PointName::Inbound) - way).abs() < 1e-3);
    let says = format!("takes {:.0} s longer", (way - 60.0).ceil());
    assert!(faults[0].message.contains(&says), "{}", faults[0].message);
    // An aircraft that ends there, headed for centre, is at its hold at once.
    let mut there = figure("first", vec![hold(6_000.0), run_for(2_000.0)]);
    if let abeam::show::Manner::Flown(legs) = &mut there.manner {
        legs[1].speed = tas(100.0);
    }
    let (there, faults) = flown(&show(vec![there, held(5.0)]));
    assert_eq!((after(&there, PointName::Inbound), faults.len()), (5.0, 0));
    // Who waits there is still waited for.
    assert!(short.points[1].step.waits && short.points[1].step.spread == s(15.0));
}

#[test]
fn what_begins_otherwise_or_after_a_timed_figure_is_left_alone() {
    let turning = figure("turning", vec![turn(180.0, TurnTowards::Away, 60.0, None)]);
    let (turning, _) = flown(&show(vec![first(), turning]));
    assert_eq!(turning.reposition, None);
    let (after_timed, faults) = flown(&show(vec![first(), timed("rest", 30.0, &[]), {
        let mut next = figure("next", vec![to_centre(tas(100.0))]);
        next.gates = vec![m(3_000.0)];
        next
    }]));
    assert_eq!((after_timed.reposition, faults.len()), (None, 0));
}

/// A pass on its side begins with a roll; it runs in all the same.
#[test]
fn a_pass_that_begins_with_a_roll_is_led_to_as_any_other() {
    let rolled = |roll: Vec<abeam::show::Leg>| {
        let mut legs = roll;
        legs.push(to_centre(tas(100.0)));
        legs.push(run_for(1_000.0));
        let mut next = figure("next", legs);
        next.from = Side::Left;
        flown(&show(vec![first(), next]))
    };
    let (plain, _) = rolled(vec![]);
    let mut roll = flights::roll(90.0, 90.0, None);
    roll.power = Some(0.0);
    let (on_its_side, faults) = rolled(vec![roll]);
    let errors = faults
        .iter()
        .filter(|fault| fault.severity == abeam::show::Severity::Error);
    assert_eq!(errors.count(), 0, "{faults:?}");
    let by = |figure: &FlownFigure| figure.reposition.expect("a reposition").s();
    assert!((by(&on_its_side) - by(&plain)).abs() < 1.0);
}

/// Out to the right; round to the left, or in the version of the low profile no further; in from the left.
const DISPLAY: &str = r#"
[profile.low]
order = ["out", "round", "in"]
[profile.short]
order = ["out", "in"]
[[figure]]
id = "out"
aircraft = "solo"
from = "left"
gates = ["4 km"]
legs = [
  { run = "to centre", speed = "100 m/s tas", height = "100 m", pass = true },
  { run = "for 2 km" },
]
[[figure]]
id = "round"
aircraft = "solo"
from = "right"
legs = [
  { turn = "180 deg", g = 2, towards = "away" },
  { run = "to 6 km left" },
  { turn = "90 deg", g = 2, towards = "away" },
  { turn = "270 deg", g = 2, towards = "left" },
]
[figure.versions.low]
legs = [{ run = "for 1 km" }]
[[figure]]
id = "in"
aircraft = "solo"
from = "left"
gates = ["3 km"]
legs = [{ run = "to centre", pass = true }, { run = "for 1 km" }]
"#;

fn display() -> Planned {
    of_text(&document("", &["out", "round", "in"], DISPLAY))
}

/// The start of the last pass and its abeam, in the session.
fn last_pass(session: &Session) -> (f64, f64) {
    let times = session.times_of(&"in".into()).expect("it is flown");
    let abeam = times.expected(&PointName::Abeam(1)).expect("a pass");
    (times.start().s(), abeam.at.s())
}

#[test]
fn what_is_changed_on_the_day_is_timed_without_a_word() {
    let from_2_km = 2.0 * HALF_CIRCLE + (2_000.0 + 3_050.0) / 100.0 + 30.5;
    for (what, takes) in [
        (
            What::Drop {
                key: "round".into(),
            },
            from_2_km,
        ),
        (
            What::Profile {
                name: "short".into(),
            },
            from_2_km,
        ),
        // The version of the low profile ends 1 km further out.
        (What::Profile { name: "low".into() }, from_2_km + 10.0),
    ] {
        let Planned { show, plan } = display();
        assert!(plan.faults.is_empty(), "{:?}", plan.faults);
        let mut session = Session::new(Arc::new(show), Arc::new(plan), Instant::from_s(-60.0));
        session.apply(&Event {
            at: Instant::from_s(1.0),
            what: what.clone(),
        });
        let (start, abeam) = last_pass(&session);
        assert!(
            (abeam - start - takes).abs() < 2e-3,
            "{what:?}: {} {takes}",
            abeam - start
        );
        let said = session.notices().iter().map(|(_, text)| text.as_str());
        assert!(!said.into_iter().any(|text| text.contains("reposition")));
    }
}

#[test]
fn a_profile_that_needs_one_says_so_in_its_plan() {
    let Planned { show, plan } = display();
    for profile in ["short", "low"] {
        let plan = Plan::new(&show, &profile.into(), &show.day, plan.facts.clone());
        let [fault] = &plan.faults[..] else {
            panic!("{:?}", plan.faults)
        };
        assert!(
            fault.message.contains("\"in\" cannot begin where"),
            "{}",
            fault.message
        );
        assert_eq!(fault.severity, Severity::Advice);
    }
}

fn from_anywhere(from: Side, speed: f64, far: f64) -> Vec<Figure> {
    let first = figure(
        "first",
        vec![hold(4_000.0), to_centre(tas(speed)), run_for(far)],
    );
    vec![first, next(from)]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 80, ..ProptestConfig::default() })]

    #[test]
    fn in_any_wind_it_ends_on_the_line_beyond_the_gate_and_never_nearer_to_the_crowd(
        left in any::<bool>(), speed in 60.0..220.0_f64, far in 100.0..6_000.0_f64,
        x in -15.0..15.0_f64, y in -15.0..15.0_f64,
    ) {
        let from = if left { Side::Left } else { Side::Right };
        let (next, faults) = flown(&in_wind(from_anywhere(from, speed, far), wind(x, y)));
        prop_assert_eq!(faults.len(), 1, "{:?}", faults);
        let inbound = at(&next, after(&next, PointName::Inbound));
        prop_assert!(inbound.x.m() * from.sign() > 3_000.0, "{:?}", inbound);
        prop_assert!((inbound.y.m() - 230.0).abs() < 30.0, "{:?}", inbound);
        prop_assert!(next.path().iter().all(|place| place.y.m() > 220.0));
        // It jumps nowhere: half a second a sample.
        for ends in next.path().windows(2) {
            let (dx, dy) = (ends[1].x.m() - ends[0].x.m(), ends[1].y.m() - ends[0].y.m());
            prop_assert!(dx.hypot(dy) < (speed + 25.0) * 0.5 + 1.0);
        }
    }

    #[test]
    fn mirrored_in_a_mirrored_wind_it_takes_as_long(
        left in any::<bool>(), speed in 60.0..220.0_f64, far in 100.0..6_000.0_f64,
        x in -15.0..15.0_f64, y in -15.0..15.0_f64,
    ) {
        let from = if left { Side::Left } else { Side::Right };
        let (plain, _) = flown(&in_wind(from_anywhere(from, speed, far), wind(x, y)));
        let mirrored = fly_mirrored(&in_wind(from_anywhere(from, speed, far), wind(-x, y)));
        let takes = |figure: &FlownFigure| figure.reposition.unwrap_or(Span::ZERO).s();
        prop_assert!((takes(&plain) - takes(&mirrored.figures[1])).abs() < 1e-3);
        for (a, b) in plain.points.iter().zip(&mirrored.figures[1].points) {
            prop_assert!((a.step.seconds_per_mps + b.step.seconds_per_mps).abs() < 1e-3);
        }
    }
}
