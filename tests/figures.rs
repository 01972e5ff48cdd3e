//! A figure's points are where its legs put them, and what cannot be flown is said on its leg.

mod flights;

use abeam::flight::{Flight, FlownFigure};
use abeam::show::{Figure, Leg, LegSpeed, Place, PointName, RunUntil, Severity, Side, TurnTowards};
use abeam::units::{Acceleration, Airspeed, Length, Speed};
use flights::*;

fn names(figure: &FlownFigure) -> Vec<String> {
    let points = figure.points.iter();
    points.map(|met| met.point.to_string()).collect()
}

fn memorial() -> Figure {
    let mut figure = figure(
        "memorial",
        vec![hold(6_000.0), to_centre(tas(120.0)), run_for(1_000.0)],
    );
    figure.gates = vec![m(4_000.0), m(2_000.0)];
    figure
}

#[test]
fn a_pass_from_a_hold_has_its_points_at_distance_over_speed() {
    let flown = fly_one(memorial(), wind(-20.0, 0.0));
    assert_eq!(
        names(&flown),
        ["start", "inbound", "gate.1", "gate.2", "abeam", "end"]
    );
    // 100 m/s over the ground.
    for (point, at) in [
        (PointName::Inbound, 90.0),
        (PointName::Gate(1), 110.0),
        (PointName::Gate(2), 130.0),
        (PointName::Abeam(1), 150.0),
        (PointName::End, 160.0),
    ] {
        assert!((after(&flown, point) - at).abs() < 1e-3);
    }
    let along = |i: usize| flown.points[i].along.mps();
    assert_eq!(along(0), 0.0);
    assert!((along(1) - 100.0).abs() < 1e-9 && (along(4) - 100.0).abs() < 1e-9);
    // 230 m across and 150 m up at 340 m/s.
    assert!((flown.heard_after[0].s() - 230_f64.hypot(150.0) / 340.0).abs() < 1e-3);
    let first = flown.path().first().expect("a path");
    let last = flown.path().last().expect("a path");
    assert_eq!((first.x, last.x), (m(-6_000.0), m(1_000.0)));
}

#[test]
fn the_hold_waits_and_the_crews_spread_is_shared_by_time_over_the_rest() {
    let flown = fly_one(memorial(), wind(-20.0, 0.0));
    let inbound = flown.points[1].step;
    assert!(inbound.waits && !inbound.paced);
    assert_eq!((inbound.spread, inbound.seconds_per_mps), (s(15.0), 0.0));
    let paced: Vec<_> = flown.points.iter().filter(|met| met.step.paced).collect();
    assert_eq!(paced.len(), 4);
    let variance: f64 = paced.iter().map(|met| met.step.spread.s().powi(2)).sum();
    assert!((variance.sqrt() - 2.0).abs() < 1e-5);
    // 20 s of 70: 2 s times the root of 2/7.
    assert!((paced[0].step.spread.s() - 2.0 * (2.0_f64 / 7.0).sqrt()).abs() < 1e-5);
}

#[test]
fn a_metre_a_second_of_tailwind_shortens_a_run_by_its_distance_over_speed_squared() {
    let flown = fly_one(memorial(), vec![]);
    // d(distance / speed) = − distance / speed², 2,000 m at 120 m/s, to the next order of the difference.
    let step = flown.points[3].step;
    assert!((step.seconds_per_mps + 2_000.0 / 120_f64.powi(2)).abs() < 1e-4);
    let mirrored = fly_mirrored(&show(vec![memorial()]));
    let other = mirrored.figures[0].points[3].step;
    assert!((step.seconds_per_mps + other.seconds_per_mps).abs() < 1e-9);
}

#[test]
fn a_speed_that_changes_evenly_takes_the_mean_of_both() {
    // From 100 to 140 m/s at 2 m/s² takes 20 s and 2,400 m; the other 1,600 m take 1,600/140 s.
    let change = LegSpeed::Changed {
        to: Airspeed::True(Speed::from_mps(140.0)),
        gain: Acceleration::from_mps2(2.0),
    };
    let flown = fly_one(
        figure(
            "fast",
            vec![
                hold(5_000.0),
                run(RunUntil::Distance(m(1_000.0)), tas(100.0), false),
                to_centre(Some(change)),
            ],
        ),
        vec![],
    );
    let expected = 90.0 + 10.0 + 20.0 + 1_600.0 / 140.0;
    assert!((after(&flown, PointName::Abeam(1)) - expected).abs() < 1e-5);
    assert!((flown.points.last().expect("an end").along.mps() - 140.0).abs() < 1e-9);
}

/// A circle begun at crowd centre comes back to it, however the wind has moved it meanwhile.
#[test]
fn a_circle_at_centre_passes_it_again() {
    for (wind_x, passes) in [(0.0, true), (4.0, true), (-4.0, false)] {
        let circle = Leg {
            pass: true,
            ..turn(360.0, TurnTowards::Away, 70.0, None)
        };
        let legs = vec![hold(4_000.0), to_centre(tas(120.0)), circle];
        let mut show = show(vec![figure("circle", legs)]);
        show.day.wind = wind(wind_x, 0.0);
        let flight = fly_all(&show);
        let flown = &flight.figures[0];
        if passes {
            assert!(flight.faults.is_empty(), "{:?}", flight.faults);
            let again = after(flown, PointName::Abeam(2));
            let first = after(flown, PointName::Abeam(1));
            // 2π V / (g tan φ), and of the last of it as much less as the wind has brought it nearer.
            let round = std::f64::consts::TAU * 120.0 / (9.80665 * 70_f64.to_radians().tan());
            let sooner = wind_x * round / (120.0 + wind_x);
            assert!(
                (again - first - (round - sooner)).abs() < 0.1,
                "{again} {first}"
            );
            assert_eq!(flown.heard_after.len(), 2);
        } else {
            // From the left, it has drifted back: it would have to go on a little.
            let [fault] = &flight.faults[..] else {
                panic!("{:?}", flight.faults)
            };
            assert!(
                fault.message.contains("does not cross crowd centre again"),
                "{}",
                fault.message
            );
            assert!(!names(flown).contains(&"abeam.2".to_owned()));
        }
    }
}

#[test]
fn a_run_to_centre_and_on_counts_one_pass_and_a_turn_back_counts_the_second() {
    let flown = fly_one(
        figure(
            "twice",
            vec![
                hold(4_000.0),
                to_centre(tas(120.0)),
                run(RunUntil::Distance(m(6_000.0)), None, true),
                turn(180.0, TurnTowards::Away, 60.0, None),
                run(
                    RunUntil::Place(Place {
                        out: m(1_000.0),
                        side: None,
                    }),
                    None,
                    true,
                ),
            ],
        ),
        vec![],
    );
    assert_eq!(
        names(&flown),
        ["start", "inbound", "abeam", "abeam.2", "end"]
    );
    assert_eq!(flown.heard_after.len(), 2);
    assert!(flown.points[3].along.mps() < 0.0);
    // It has closed on the display line again.
    let last = flown.path().last().expect("a path");
    assert!((last.y.m() - 230.0).abs() < 1.0 && (last.x.m() + 1_000.0).abs() < 1e-6);
}

#[test]
fn a_figure_without_a_hold_begins_where_the_one_before_ended_and_its_run_in_is_inbound() {
    let first = figure(
        "first",
        vec![hold(4_000.0), to_centre(tas(120.0)), run_for(2_000.0)],
    );
    let mut second = figure(
        "second",
        vec![
            run_for(3_000.0),
            turn(180.0, TurnTowards::Away, 60.0, None),
            run_for(500.0),
            to_centre(None),
        ],
    );
    second.from = Side::Right;
    let flight = fly_all(&show(vec![first, second]));
    assert!(flight.faults.is_empty(), "{:?}", flight.faults);
    let second = &flight.figures[1];
    assert_eq!(names(second), ["start", "inbound", "abeam", "end"]);
    assert!(second.points[1].step.paced && !second.points[1].step.waits);
    assert_eq!(second.path()[0].x, m(2_000.0));
}

#[test]
fn after_a_timed_figure_the_next_begins_at_its_hold_or_its_outermost_gate() {
    let mut gated = figure("gated", vec![to_centre(tas(100.0))]);
    gated.gates = vec![m(2_000.0), m(3_000.0)];
    let flight = fly_all(&show(vec![timed("loops", 38.0, &[12.0, 30.0]), gated]));
    assert!(flight.faults.is_empty(), "{:?}", flight.faults);
    let [loops, gated] = &flight.figures[..] else {
        panic!("two figures")
    };
    assert_eq!(names(loops), ["start", "abeam", "abeam.2", "end"]);
    assert_eq!(after(loops, PointName::End), 38.0);
    assert!(loops.path().is_empty() && loops.points[1].step.paced);
    assert!((loops.points[1].step.spread.s() - 2.0 * (12.0_f64 / 38.0).sqrt()).abs() < 1e-5);
    assert!((after(gated, PointName::Abeam(1)) - 30.0).abs() < 1e-6);
    assert!((after(gated, PointName::Gate(1)) - 10.0).abs() < 1e-6);
}

#[test]
fn a_figure_flown_twice_has_two_keys() {
    let mut show = show(vec![memorial()]);
    show.profiles[0].order.push("memorial".into());
    let flight = fly_all(&show);
    let keys: Vec<_> = flight.figures.iter().map(|f| f.key.to_string()).collect();
    assert_eq!(keys, ["memorial", "memorial#2"]);
}

#[test]
fn a_stated_hush_stands_in_for_the_modelled_one() {
    let mut stated = memorial();
    stated.hush = Some((s(-5.0), s(7.0)));
    let flown = fly_one(stated, vec![]);
    assert_eq!(flown.hush, [(s(135.0), s(147.0))]);
    let [(from, until)] = fly_one(memorial(), vec![]).hush[..] else {
        panic!("one hush")
    };
    // Abeam at 140 s, heard 0.8 s later; 12 dB are a factor of 3.98 in range.
    let heard = 140.0 + 230_f64.hypot(150.0) / 340.0;
    assert!(from.s() < heard && until.s() > heard);
}

#[test]
fn a_run_for_a_distance_after_a_turn_of_45_degrees_goes_straight_on() {
    let legs = |run_on: bool| {
        let mut legs = vec![
            hold(4_000.0),
            to_centre(tas(120.0)),
            turn(45.0, TurnTowards::Away, 60.0, None),
        ];
        legs.extend(run_on.then(|| run_for(1_000.0)));
        legs
    };
    for wind in [vec![], wind(6.0, -4.0)] {
        let end = |run_on| {
            let flown = fly_one(figure("departure", legs(run_on)), wind.clone());
            *flown.path().last().expect("a path")
        };
        let (turned, gone) = (end(false), end(true));
        let (dx, dy) = (gone.x.m() - turned.x.m(), gone.y.m() - turned.y.m());
        assert!((dx.hypot(dy) - 1_000.0).abs() < 1e-6);
        if wind.is_empty() {
            assert!((dx - dy).abs() < 1e-6);
        }
        // The wind triangle of the turn's end is kept: the same ground speed, no jump.
        assert!((gone.ground_speed.mps() - turned.ground_speed.mps()).abs() < 1e-6);
    }
}

fn only_fault(flight: &Flight) -> (String, Severity, std::ops::Range<usize>) {
    let [fault] = &flight.faults[..] else {
        panic!("one fault: {:?}", flight.faults)
    };
    assert!(!fault.help.is_empty());
    (
        fault.message.clone(),
        fault.severity,
        fault.at.clone().expect("a place"),
    )
}

#[test]
fn what_cannot_be_flown_is_a_fault_on_its_leg() {
    let change = |gain: f64| {
        Some(LegSpeed::Changed {
            to: Airspeed::True(Speed::from_mps(140.0)),
            gain: Acceleration::from_mps2(gain),
        })
    };
    let climb = |height: f64| Leg {
        height: Some(Length::from_m(height)),
        ..to_centre(tas(100.0))
    };
    let turn_back = turn(180.0, TurnTowards::Away, 60.0, tas(100.0));
    let ground = held(Airspeed::Ground(Speed::from_mps(100.0)));
    for (legs, says) in [
        (vec![hold(2_000.0), to_centre(None)], "has no speed"),
        (vec![hold(2_000.0), to_centre(tas(-1.0))], "not above zero"),
        (
            vec![hold(2_000.0), to_centre(tas(f64::NAN))],
            "not above zero",
        ),
        (vec![hold(2_000.0), to_centre(tas(15.0))], "never arrives"),
        (vec![hold(2_000.0), to_centre(tas(400.0))], "speed of sound"),
        (
            vec![hold(2_000.0), to_centre(change(1.0))],
            "nothing says from which",
        ),
        (
            vec![hold(2_000.0), to_centre(tas(100.0)), to_centre(change(0.0))],
            "gain of zero",
        ),
        (vec![hold(2_000.0), climb(-3.0)], "below the site"),
        (vec![hold(9e6), to_centre(tas(100.0))], "more than an hour"),
        (vec![hold(2_000.0), turn_back, to_centre(None)], "behind it"),
        (
            vec![
                hold(2_000.0),
                turn(90.0, TurnTowards::Away, 60.0, tas(100.0)),
                to_centre(None),
            ],
            "headed across it",
        ),
        (
            vec![
                hold(2_000.0),
                turn(0.0, TurnTowards::Away, 60.0, tas(100.0)),
            ],
            "goes round by no angle",
        ),
        (
            vec![
                hold(2_000.0),
                turn(90.0, TurnTowards::Away, 90.0, tas(100.0)),
            ],
            "no level turn",
        ),
        (
            vec![hold(2_000.0), turn(90.0, TurnTowards::Away, 60.0, ground)],
            "ground speed",
        ),
        (
            vec![
                hold(2_000.0),
                run(RunUntil::Distance(m(500.0)), tas(100.0), true),
            ],
            "1500 m left of it",
        ),
        (vec![to_centre(tas(100.0))], "nothing says where"),
        (vec![], "has no legs"),
        (vec![hold(2_000.0), hold(1_000.0)], "is its second"),
    ] {
        let mut show = show(vec![figure("bad", legs)]);
        show.day.wind = wind(-20.0, 0.0);
        let flight = fly_all(&show);
        let (message, severity, at) = only_fault(&flight);
        assert!(message.contains(says), "{message}");
        assert!(message.contains("\"bad\"") && severity == Severity::Error && !at.is_empty());
        let [flown] = &flight.figures[..] else {
            panic!("one figure")
        };
        let points = names(flown);
        assert_eq!(points.first().map(String::as_str), Some("start"));
        assert_eq!(points.last().map(String::as_str), Some("end"));
    }
}

#[test]
fn a_figure_after_one_that_cannot_be_flown_is_not_blamed() {
    let flight = fly_all(&show(vec![
        figure("bad", vec![hold(2_000.0), to_centre(None)]),
        figure("good", vec![to_centre(tas(100.0))]),
    ]));
    assert!(only_fault(&flight).0.contains("\"bad\""));
}

#[test]
fn what_the_document_says_otherwise_or_the_site_does_not_permit_is_advice() {
    let mut from_right = figure(
        "other",
        vec![
            run_for(4_000.0),
            turn(180.0, TurnTowards::Away, 60.0, None),
            to_centre(None),
        ],
    );
    from_right.from = Side::Left;
    let flight = fly_all(&show(vec![
        figure(
            "first",
            vec![hold(4_000.0), to_centre(tas(120.0)), run_for(2_000.0)],
        ),
        from_right,
    ]));
    let (message, severity, _) = only_fault(&flight);
    assert!(message.contains("other side") && severity == Severity::Advice);

    let off = figure(
        "off",
        vec![
            hold(4_000.0),
            run(RunUntil::Distance(m(6_000.0)), tas(120.0), true),
            turn(180.0, TurnTowards::Away, 60.0, None),
            to_centre(None),
        ],
    );
    let (message, severity, _) = only_fault(&fly_all(&show(vec![off])));
    assert!(
        message.contains("off the display line") && severity == Severity::Advice,
        "{message}"
    );

    let over = figure(
        "over",
        vec![
            hold(4_000.0),
            to_centre(tas(120.0)),
            turn(180.0, TurnTowards::Crowd, 60.0, None),
        ],
    );
    let (message, severity, _) = only_fault(&fly_all(&show(vec![over])));
    assert!(message.contains("behind the crowd line") && severity == Severity::Advice);
}

#[test]
fn gates_off_the_run_in_and_gates_without_a_pass_are_faults() {
    let mut far = memorial();
    far.gates = vec![m(7_000.0)];
    assert!(only_fault(&fly_all(&show(vec![far]))).0.contains("gate 1"));
    let mut none = figure(
        "none",
        vec![hold(4_000.0), run(RunUntil::Centre, tas(120.0), false)],
    );
    none.gates = vec![m(1_000.0)];
    assert!(
        only_fault(&fly_all(&show(vec![none])))
            .0
            .contains("no pass")
    );
}

/// As the document most likely has it.
#[test]
fn a_gate_off_the_run_in_is_named_in_miles_where_it_is_so_many() {
    for (out, told) in [
        (4.0 * NMI, "4 nmi out"),
        (2.5 * NMI, "2.5 nmi out"),
        (5_000.0, "5000 m out"),
    ] {
        let mut figure = figure(
            "pass",
            vec![hold(4_000.0), to_centre(tas(100.0)), run_for(500.0)],
        );
        figure.gates = vec![m(out)];
        let flight = fly_all(&show(vec![figure]));
        let message = &flight.faults[0].message;
        assert!(
            message.contains(&format!("gate 1 of \"pass\", {told}, is not on its run-in")),
            "{message}"
        );
    }
}
