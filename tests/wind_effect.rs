//! What more wind does to a display's times: where a figure leads depends on it, and so does all that follows. The
//! truth is the display flown again in that wind.

mod flights;

use abeam::flight::FlownFigure;
use abeam::show::{Figure, Leg, Place, PointName, RunUntil, Severity, Show, Side, TurnTowards};
use flights::*;
use proptest::prelude::*;

/// Flown without an error.
fn flown(show: &Show) -> Vec<FlownFigure> {
    let flight = fly_all(show);
    let errors = flight.faults.iter();
    let errors: Vec<_> = errors
        .filter(|fault| fault.severity == Severity::Error)
        .collect();
    assert!(errors.is_empty(), "{errors:?}");
    flight.figures
}

/// When each point of each figure is, from the first start on: seconds, and seconds for each metre a second more.
fn times(figures: &[FlownFigure]) -> Vec<(String, f64, f64)> {
    let (mut begins, mut effect) = (0.0, 0.0);
    let mut times = Vec::new();
    for figure in figures {
        let mut after = 0.0;
        for met in &figure.points {
            effect += met.step.seconds_per_mps;
            after = met.after.s();
            times.push((
                format!("{}.{}", figure.key, met.point),
                begins + after,
                effect,
            ));
        }
        begins += after;
    }
    times
}

/// A turn round to the line, a pass, a turn away and out: what the next begins from has drifted.
fn legs(out: f64, speed: f64) -> [Vec<Leg>; 3] {
    [
        vec![to_centre(tas(speed)), run_for(out)],
        vec![
            turn(90.0, TurnTowards::PilotsLeft, 60.0, None),
            run_for(0.2 * out),
        ],
        vec![
            turn(270.0, TurnTowards::PilotsRight, 65.0, None),
            run(
                RunUntil::Place(Place {
                    out: m(0.3 * out),
                    side: Some(Side::Right),
                }),
                None,
                false,
            ),
            to_centre(None),
            run_for(500.0),
        ],
    ]
}

/// The same legs as one figure, and as three.
fn shows(out: f64, speed: f64, wind_x: f64, wind_y: f64) -> [Show; 2] {
    let parts = legs(out, speed);
    let first = |legs: &[Leg]| [&[hold(2.0 * out)], legs].concat();
    let one = vec![figure("all", first(&parts.concat()))];
    let three = parts.iter().enumerate().map(|(i, legs)| Figure {
        from: if i == 2 { Side::Right } else { Side::Left },
        ..figure(
            &format!("f{i}"),
            if i == 0 { first(legs) } else { legs.clone() },
        )
    });
    [one, three.collect()].map(|figures| {
        let mut show = show(figures);
        show.day.wind = wind(wind_x, wind_y);
        show
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(32))]

    #[test]
    fn it_is_the_same_however_the_legs_are_shared_out_among_figures(
        out in 2_000.0..5_000.0_f64, speed in 70.0..160.0_f64, x in -12.0..12.0_f64, y in -8.0..8.0_f64,
    ) {
        let [one, three] = shows(out, speed, x, y).map(|show| times(&flown(&show)));
        let (_, ends, effect) = one.last().expect("an end");
        let (_, end, drifted) = three.last().expect("an end");
        prop_assert!((ends - end).abs() < 2e-3, "{ends} {end}");
        prop_assert!((effect - drifted).abs() < 0.02, "{effect} {drifted}");
        prop_assert!(three.iter().any(|(_, _, effect)| effect.abs() > 0.05), "there is something to tell");
    }

    #[test]
    fn it_is_what_flying_again_in_that_wind_gives(
        out in 2_000.0..5_000.0_f64, speed in 70.0..160.0_f64, x in -12.0..12.0_f64, y in -8.0..8.0_f64,
    ) {
        let [_, planned] = shows(out, speed, x, y);
        let [less, more] = [-1.0, 1.0].map(|by| {
            let [_, show] = shows(out, speed, x + by, y);
            times(&flown(&show))
        });
        for ((less, more), (point, _, effect)) in
            less.iter().zip(&more).zip(times(&flown(&planned)))
        {
            let truth = 0.5 * (more.1 - less.1);
            prop_assert!((truth - effect).abs() < 0.02, "{point}: {effect}, flown {truth}");
        }
    }
}

/// The figure after begins right at its gate; in another wind it begins inside it or outside.
#[test]
fn a_figure_that_begins_at_its_gate_has_it_in_every_wind() {
    let mut pass = figure("pass", vec![to_centre(None), run_for(500.0)]);
    pass.gates = vec![m(2_000.0)];
    let reach = figure(
        "reach",
        vec![
            hold(5_000.0),
            run(RunUntil::Time(s(30.0)), tas(100.0), false),
        ],
    );
    let figures = flown(&show(vec![reach, pass]));
    let effect = |point| {
        let met = figures[1].points.iter().find(|met| met.point == point);
        met.expect("it is met").step.seconds_per_mps
    };
    // From the left: 30 s of a metre a second more bring it 30 m nearer, at 100 m/s, and the rest 2000/100² s sooner.
    assert!(
        (effect(PointName::Gate(1)) + 0.3).abs() < 2e-3,
        "{}",
        effect(PointName::Gate(1))
    );
    assert!(
        (effect(PointName::Abeam(1)) + 0.2).abs() < 2e-3,
        "{}",
        effect(PointName::Abeam(1))
    );
}
