//! Flights that have a closed form, by elementary mechanics (each derived beside its check).

mod flights;

use std::f64::consts::PI;

use abeam::flight::{FlownFigure, PathSample};
use abeam::show::{
    Aircraft, CoastUntil, Induced, Leg, LegSpeed, Motion, PointName, PullBy, PullUntil, RunUntil,
    Severity, TurnTowards, WindAt,
};
use abeam::units::{Airspeed, Angle, Length, Span, Speed, quantity::FOOT};
use flights::*;

/// Standard acceleration of free fall (ISO 2533).
const G: f64 = 9.806_65;

/// After a run-in of 1,000 m at 100 m/s of true airspeed and 500 m height, what these legs add: their
/// samples, the last one of the run-in first.
fn added(aircraft: Aircraft, legs: Vec<Leg>, wind: Vec<WindAt>) -> (Vec<PathSample>, f64) {
    let fly = |legs: Vec<Leg>| -> FlownFigure {
        let mut run_in = flights::run(RunUntil::Distance(m(1_000.0)), tas(100.0), false);
        run_in.height = Some(m(500.0));
        let mut all = vec![hold(6_000.0), run_in];
        all.extend(legs);
        let mut show = show(vec![figure("form", all)]);
        show.aircraft = vec![aircraft.clone()];
        show.day.wind = wind.clone();
        let mut flight = fly_all(&show);
        assert!(flight.faults.is_empty(), "{:?}", flight.faults);
        flight.figures.remove(0)
    };
    let before = after(&fly(vec![]), PointName::End);
    let flown = fly(legs);
    let took = after(&flown, PointName::End) - before;
    let samples = flown.path().iter().copied();
    let samples = samples.filter(|sample| sample.after.s() >= before - 1e-6);
    (samples.collect(), took)
}

fn ends(samples: &[PathSample]) -> (PathSample, PathSample) {
    let ends = samples.first().copied().zip(samples.last().copied());
    ends.expect("samples")
}

fn near(value: f64, expected: f64, within: f64) {
    assert!((value - expected).abs() <= within, "{value} {expected}");
}

#[test]
fn a_level_turn_has_the_radius_and_the_time_of_its_centripetal_force() {
    // The lift's horizontal part g tan(bank) turns: R = V² / (g tan bank), half round takes πV / (g tan bank).
    let bank = 60.0_f64.to_radians();
    let mut half = turn(180.0, TurnTowards::Away, 60.0, None);
    half.height = None;
    let (samples, took) = added(powered(0.0), vec![half], vec![]);
    let (start, end) = ends(&samples);
    near(took, PI * 100.0 / (G * bank.tan()), 2e-6);
    near(
        (end.y - start.y).m(),
        2.0 * 100.0_f64.powi(2) / (G * bank.tan()),
        1e-3,
    );
    near((end.x - start.x).m(), 0.0, 1e-3);
    for sample in &samples {
        near(sample.true_airspeed.mps(), 100.0, 0.02);
    }
}

#[test]
fn a_loop_of_one_radius_at_one_speed_takes_its_circumference_over_its_speed() {
    // 2πR at V; the wind carries all of it along.
    for wind_speed in [0.0, 8.0] {
        let mut round = pull(round(360.0), PullBy::Radius(m(150.0)));
        round.speed = tas(100.0);
        let (samples, took) = added(unpowered(), vec![round], wind(wind_speed, 0.0));
        let (start, end) = ends(&samples);
        let time = 2.0 * PI * 150.0 / 100.0;
        near(took, time, 2e-5);
        near((end.x - start.x).m(), wind_speed * time, 5e-3);
        near((end.z - start.z).m(), 0.0, 2e-3);
        for sample in &samples {
            let t = sample.after.s() - start.after.s();
            near(
                (sample.z - start.z).m(),
                150.0 * (1.0 - (t / time * 2.0 * PI).cos()),
                1e-2,
            );
            let along = 150.0 * (t / time * 2.0 * PI).sin() + wind_speed * t;
            near((sample.x - start.x).m(), along, 1e-2);
        }
    }
}

#[test]
fn without_excess_power_the_energy_height_stays() {
    // dE/dt = V (thrust − drag) = 0: V² + 2 g h is constant, whatever the path; coasts have it so too.
    let idle = || powered(60.0);
    let no_power = |mut leg: Leg| {
        leg.power = Some(0.0);
        leg
    };
    let load = |g| PullBy::Load(g);
    let climb = |deg| PullUntil::Climb(Angle::from_deg(deg));
    let legs = vec![
        no_power(pull(climb(40.0), load(4.0))),
        no_power(roll(360.0, 360.0, None)),
        no_power(push(climb(20.0), load(-1.0))),
        no_power(roll(360.0, 120.0, Some(2.0))),
        coast(CoastUntil::Time(Span::from_s(2.0))),
        no_power(pull(climb(10.0), load(3.0))),
        no_power(pull(round(360.0), PullBy::Radius(m(120.0)))),
        no_power(push(PullUntil::Climb(Angle::ZERO), load(0.0))),
    ];
    let (samples, _) = added(idle(), legs.clone(), wind(6.0, -3.0));
    let energy = |sample: &PathSample| {
        let v = sample.true_airspeed.mps();
        v * v + 2.0 * G * sample.z.m()
    };
    let (start, _) = ends(&samples);
    let heights = samples.iter().map(|sample| sample.z.m());
    assert!(heights.fold(0.0, f64::max) > 650.0);
    for sample in &samples {
        near(energy(sample) / energy(&start), 1.0, 1e-4);
    }
    // Exactly where a leg ends; between, samples are of the cubics that pictures are drawn from.
    let legs_end = |i: usize| {
        let (samples, _) = added(idle(), legs[..i].to_vec(), wind(6.0, -3.0));
        ends(&samples).1
    };
    for i in 1..=legs.len() {
        near(energy(&legs_end(i)) / energy(&start), 1.0, 1e-6);
    }
}

#[test]
fn a_vertical_coast_takes_its_speed_over_g() {
    // v = v0 − g t, so the climb ends after v0 / g and v0² / 2g higher.
    let up = pull(PullUntil::Vertical, PullBy::Load(5.0));
    let without = added(powered(60.0), vec![up.clone()], vec![]);
    let (_, begun) = ends(&without.0);
    let with = added(powered(60.0), vec![up, coast(CoastUntil::Top)], vec![]);
    let (_, top) = ends(&with.0);
    let v0 = begun.true_airspeed.mps();
    near(begun.climb.deg(), 90.0, 1e-4);
    near(with.1 - without.1, v0 / G, 3e-6);
    near((top.z - begun.z).m(), v0 * v0 / (2.0 * G), 1e-3);
}

#[test]
fn a_ballistic_arc_is_a_parabola() {
    // Level again after v sin γ / g, having gone on by v cos γ times that.
    let up = pull(PullUntil::Climb(Angle::from_deg(40.0)), PullBy::Load(4.0));
    let without = added(powered(60.0), vec![up.clone()], vec![]);
    let (_, begun) = ends(&without.0);
    let with = added(powered(60.0), vec![up, coast(CoastUntil::Top)], vec![]);
    let (_, top) = ends(&with.0);
    let (v0, climb) = (begun.true_airspeed.mps(), begun.climb.rad());
    let time = v0 * climb.sin() / G;
    near(with.1 - without.1, time, 3e-6);
    near((top.x - begun.x).m(), v0 * climb.cos() * time, 1e-3);
}

#[test]
fn a_level_run_gains_the_energy_its_excess_power_gives() {
    // At 1 g: V dV/dt = g Ps, so V² = V0² + 2 g Ps t, while Ps/V stays below the most thrust.
    let mut on = flights::run(
        RunUntil::Time(Span::from_s(20.0)),
        Some(LegSpeed::Energy),
        false,
    );
    on.height = None;
    let (samples, took) = added(powered(20.0), vec![on], vec![]);
    near(took, 20.0, 2e-6);
    let (start, end) = ends(&samples);
    for sample in &samples {
        let t = sample.after.s() - start.after.s();
        near(
            sample.true_airspeed.mps(),
            (100.0_f64.powi(2) + 2.0 * G * 20.0 * t).sqrt(),
            1e-3,
        );
    }
    // ∫ V dt = ((V0² + 2 g Ps t)^1.5 − V0³) / (3 g Ps).
    let v2 = 100.0_f64.powi(2) + 2.0 * G * 20.0 * 20.0;
    near(
        (end.x - start.x).m(),
        (v2.powf(1.5) - 1e6) / (3.0 * G * 20.0),
        1e-3,
    );
}

#[test]
fn a_run_to_a_speed_takes_the_time_its_excess_power_needs() {
    // t = (V² − V0²) / (2 g Ps).
    let to = RunUntil::Speed(Airspeed::True(Speed::from_mps(130.0)));
    let mut on = flights::run(to, Some(LegSpeed::Energy), false);
    on.height = None;
    let (samples, took) = added(powered(20.0), vec![on], vec![]);
    near(took, (130.0_f64.powi(2) - 1e4) / (2.0 * G * 20.0), 1e-5);
    near(ends(&samples).1.true_airspeed.mps(), 130.0, 1e-6);
}

#[test]
fn a_turn_holds_the_speed_at_which_its_losses_take_all_excess_power() {
    // Ps1 = K (n² − 1) / V: at n = 3 and V = 100 m/s, induced 3 m/s at 100 m/s costs 24 m/s.
    let mut craft = powered(24.0);
    craft.induced = Some(Induced {
        cost: Speed::from_mps(3.0),
        at: Speed::from_mps(100.0),
    });
    let bank = (1.0_f64 / 3.0).acos().to_degrees();
    let mut full = turn(360.0, TurnTowards::Away, bank, Some(LegSpeed::Energy));
    full.height = None;
    let (samples, took) = added(craft, vec![full], vec![]);
    near(ends(&samples).1.true_airspeed.mps(), 100.0, 1e-6);
    near(took, 2.0 * PI * 100.0 / (G * 8.0_f64.sqrt()), 1e-5);
}

#[test]
fn a_steep_climb_turns_excess_power_into_height() {
    // Straight up: dv/dt = Ps/v − g with no load: where power is Ps = v, it climbs on at one speed.
    let mut up = flights::run(
        RunUntil::Height(m(1_500.0)),
        Some(LegSpeed::Held(Airspeed::True(Speed::from_mps(100.0)))),
        false,
    );
    up.height = None;
    let Motion::Run { pitch, .. } = &mut up.motion else {
        unreachable!()
    };
    *pitch = Some(Angle::from_deg(90.0));
    let mut to_vertical = pull(PullUntil::Vertical, PullBy::Radius(Length::from_m(200.0)));
    to_vertical.speed = tas(100.0);
    let (samples, took) = added(unpowered(), vec![to_vertical, up], vec![]);
    let (_, end) = ends(&samples);
    near(end.z.m(), 1_500.0, 1e-6);
    // A quarter of the circle, then 800 m at 100 m/s.
    near(
        took,
        PI * 200.0 / 2.0 / 100.0 + (1_500.0 - 700.0) / 100.0,
        5e-5,
    );
}

/// Round with a radius from down at an angle to up at the same the path dips by R (1 − cos), wherever a step of the
/// integration ends.
#[test]
fn a_dip_below_the_ground_is_found_between_steps() {
    let dip = |height: f64, deg: f64| {
        let down = leg(Motion::Run {
            until: RunUntil::Height(m(height)),
            pitch: Some(Angle::from_deg(-deg)),
        });
        let until = |deg| PullUntil::Climb(Angle::from_deg(deg));
        let legs = vec![
            hold(9_000.0),
            run(RunUntil::Distance(m(500.0)), tas(90.0), false),
            push(until(-deg), PullBy::Load(0.0)),
            down,
            pull(until(deg), PullBy::Radius(m(400.0))),
        ];
        let mut show = show(vec![figure("dip", legs)]);
        show.aircraft = vec![powered(60.0)];
        fly_all(&show).faults
    };
    for deg in [5.0, 12.0, 20.0_f64] {
        let deep = 400.0 * (1.0 - deg.to_radians().cos());
        let above = dip(deep + 0.1, deg);
        assert!(above.is_empty(), "{deg}: {above:?}");
        let faults = dip(deep - 0.1, deg);
        assert!(
            faults.iter().any(|f| f.message.contains("below the site")),
            "{deg}: {faults:?}"
        );
        assert!(
            faults
                .iter()
                .any(|f| f.help == "begin it higher, or pull harder")
        );
    }
}

#[test]
fn a_run_that_is_over_before_its_height_says_how_much_further_to_run() {
    // Down from 700 m to 100 m. Most of the way at 15 degrees, so that the ground covered is the height lost over
    // tan 15°, and what is left falls by e each 3 s (the law of the leg, in closed form).
    let descent = |far: f64| {
        let down = Leg {
            height: Some(m(100.0)),
            ..run(RunUntil::Distance(m(far)), None, false)
        };
        let begin = Leg {
            height: Some(m(700.0)),
            ..run(RunUntil::Distance(m(500.0)), tas(100.0), false)
        };
        let flight = fly_all(&show(vec![figure(
            "down",
            vec![hold(9_000.0), begin, down],
        )]));
        let told = flight.faults.iter().map(|fault| {
            assert_eq!(fault.severity, Severity::Advice);
            (fault.message.clone(), fault.help.clone())
        });
        let end = flight.figures[0].path().last().expect("a path").z.m();
        (end, told.collect::<Vec<_>>())
    };
    let (end, told) = descent(1_500.0);
    let level = 700.0 - 1_500.0 * 15_f64.to_radians().tan();
    near(end, level, 3.0);
    let (message, help) = &told[0];
    let feet = end / FOOT;
    assert_eq!(
        *message,
        format!("a leg of \"down\" is to come to 328 ft, but ends at {feet:.0} ft")
    );
    // To within 20 ft, in tenths of a nautical mile, rounded up.
    let scale = 3.0 * 15_f64.to_radians().sin() * 100.0;
    let after = 3.0 * (((end - 100.0) / scale).sinh() / (20.0 * FOOT / scale).sinh()).ln();
    // At most all of that level.
    let (least, most) = (after * 100.0 * 15_f64.to_radians().cos(), after * 100.0);
    let more: f64 = help
        .split_whitespace()
        .nth(1)
        .and_then(|number| number.parse().ok())
        .expect("how much further");
    assert!(
        more * 1852.0 >= least && more * 1852.0 < 1.1 * least + 185.2,
        "{help} {least}"
    );
    assert_eq!(descent(1_500.0 + more * 1852.0).1, []);
    assert_eq!(descent(1_500.0 + most + 1.0).1, []);
    assert_eq!(descent(1_500.0 + least - 1.0).1.len(), 1);
}
