//! Laws that hold for any flight: mirrored is mirrored, a headwind is never earlier, twice the distance is
//! twice the time, and no finite input gives a number that is none or an answer that never comes.

mod flights;

use abeam::flight::air::Air;
use abeam::flight::arrival::{Arrival, RunIn};
use abeam::flight::wind::WindVector;
use abeam::flight::{CannotFly, FlownFigure};
use abeam::show::{
    Leg, LegSpeed, Motion, Place, RunUntil, Side, TurnBy, TurnTowards, TurnUntil, WindAt,
};
use abeam::units::{Acceleration, Airspeed, Angle, Length, Pressure, Span, Speed, Temperature};
use flights::*;
use proptest::prelude::*;

fn standard() -> Air {
    let elevation = Length::ZERO;
    Air::new(
        elevation,
        Air::standard_temperature(elevation),
        Air::STANDARD_QNH,
    )
}

fn arrive(
    distance: f64,
    speed: Airspeed,
    change: Option<(Airspeed, f64)>,
    x: f64,
    y: f64,
) -> Result<Arrival, CannotFly> {
    RunIn {
        distance: m(distance),
        speed,
        change: change.map(|(to, gain)| (to, Acceleration::from_mps2(gain))),
        height: m(150.0),
        wind: WindVector {
            x: Speed::from_mps(x),
            y: Speed::from_mps(y),
        },
    }
    .arrive(&standard(), m(230.0))
}

/// Any speed a display aircraft has, named any way.
fn speed() -> impl Strategy<Value = Airspeed> {
    (60.0..300.0_f64, 0..4).prop_map(|(mps, kind)| named(mps, kind))
}

fn named(mps: f64, kind: i32) -> Airspeed {
    match kind {
        0 => Airspeed::Calibrated(Speed::from_mps(mps)),
        1 => Airspeed::True(Speed::from_mps(mps)),
        2 => Airspeed::Ground(Speed::from_mps(mps)),
        _ => Airspeed::Mach(mps / 340.0),
    }
}

/// Any number a document or a command line can hold, small and huge ones often.
fn wild() -> impl Strategy<Value = f64> {
    prop_oneof![
        4 => -400.0..400.0_f64,
        2 => -1e5..1e5_f64,
        1 => any::<f64>().prop_filter("finite", |v| v.is_finite()),
        1 => Just(0.0),
    ]
}

fn wild_speed() -> impl Strategy<Value = Airspeed> {
    prop_oneof![
        speed(),
        (wild(), 0..4).prop_map(|(mps, kind)| named(mps, kind))
    ]
}

fn wild_plan() -> impl Strategy<Value = Option<LegSpeed>> {
    let gain = proptest::option::of(wild().prop_map(Acceleration::from_mps2));
    let plan = (wild_speed(), gain).prop_map(|(to, gain)| match gain {
        Some(gain) => LegSpeed::Changed { to, gain },
        None => LegSpeed::Held(to),
    });
    proptest::option::of(plan)
}

fn wild_place() -> impl Strategy<Value = Place> {
    let side = prop_oneof![Just(None), Just(Some(Side::Left)), Just(Some(Side::Right))];
    (wild(), side).prop_map(|(out, side)| Place { out: m(out), side })
}

fn wild_height() -> impl Strategy<Value = Option<Length>> {
    prop_oneof![3 => Just(Some(m(150.0))), 1 => wild().prop_map(|h| Some(m(h))), 1 => Just(None)]
}

fn wild_leg() -> impl Strategy<Value = Leg> {
    let hold = (wild_place(), wild(), wild()).prop_map(|(place, expect, spread)| {
        let (expect, spread) = (s(expect), s(spread));
        Leg::new(
            Motion::Hold {
                place,
                expect,
                spread,
            },
            0..1,
        )
    });
    let until = prop_oneof![
        Just(RunUntil::Centre),
        wild_place().prop_map(RunUntil::Place),
        wild().prop_map(|d| RunUntil::Distance(m(d))),
        wild().prop_map(|t| RunUntil::Time(s(t))),
    ];
    let run = (until, wild_plan(), wild_height(), any::<bool>()).prop_map(
        |(until, speed, height, pass)| Leg {
            speed,
            height,
            pass,
            ..Leg::new(Motion::Run { until, pitch: None }, 0..1)
        },
    );
    let by = prop_oneof![
        wild().prop_map(|bank| TurnBy::Bank(Angle::from_deg(bank))),
        (1.0..9.0).prop_map(TurnBy::Load),
        wild().prop_map(TurnBy::Load),
    ];
    let way = prop_oneof![
        Just(TurnTowards::PilotsLeft),
        Just(TurnTowards::PilotsRight),
        Just(TurnTowards::Crowd),
        Just(TurnTowards::Away),
    ];
    let turn = (wild(), way, by, wild_plan(), wild_height()).prop_map(
        |(angle, towards, by, speed, height)| {
            let until = TurnUntil::Angle(Angle::from_deg(angle));
            Leg {
                speed,
                height,
                ..Leg::new(Motion::Turn { until, towards, by }, 0..1)
            }
        },
    );
    prop_oneof![1 => hold, 3 => run, 2 => turn]
}

fn is_sound(figure: &FlownFigure) -> bool {
    let numbers = figure.points.iter().flat_map(|met| {
        let step = met.step;
        [met.along.mps(), step.seconds_per_mps]
    });
    let places = figure.path.iter().flat_map(|place| {
        [
            place.x.m(),
            place.y.m(),
            place.z.m(),
            place.ground_speed.mps(),
        ]
    });
    let in_order = figure
        .points
        .windows(2)
        .all(|pair| pair[0].after <= pair[1].after);
    in_order && numbers.chain(places).all(|number| !number.is_nan())
}

proptest! {
    #[test]
    fn a_figure_mirrored_in_a_mirrored_wind_is_its_mirror_image(
        v in 80.0..250.0_f64, x in -15.0..15.0_f64, y in -15.0..15.0_f64, bank in 30.0..75.0_f64,
    ) {
        let legs = vec![
            hold(6_000.0),
            to_centre(tas(v)),
            run_for(3_000.0),
            turn(200.0, TurnTowards::Away, bank, None),
            turn(20.0, TurnTowards::PilotsRight, bank, None),
            run_for(1_000.0),
        ];
        let mut plain = show(vec![figure("a", legs)]);
        plain.day.wind = wind(x, y);
        let mut other = plain.clone();
        other.day.wind = wind(-x, y);
        let (flown, mirrored) = (fly_all(&plain), fly_mirrored(&other));
        let (flown, mirrored) = (&flown.figures[0], &mirrored.figures[0]);
        prop_assert_eq!(flown.points.len(), mirrored.points.len());
        for (a, b) in flown.points.iter().zip(&mirrored.points) {
            prop_assert!((a.after.s() - b.after.s()).abs() < 1e-5);
            prop_assert!((a.along.mps() + b.along.mps()).abs() < 1e-6);
        }
        for (a, b) in flown.path.iter().zip(&mirrored.path) {
            prop_assert!((a.x.m() + b.x.m()).abs() < 1e-3 && (a.y.m() - b.y.m()).abs() < 1e-3);
        }
    }

    #[test]
    fn more_headwind_is_never_earlier(
        from in speed(), to in proptest::option::of((speed(), 0.5..5.0_f64)),
        x in -20.0..20.0_f64, y in -20.0..20.0_f64, more in 0.0..15.0_f64,
    ) {
        // A change of speed that mixes ground speed and airspeed is another plan in another wind.
        let is_ground = |speed| matches!(speed, Airspeed::Ground(_));
        let to = to.filter(|(to, _)| is_ground(*to) == is_ground(from));
        let there = |x| arrive(9_000.0, from, to, x, y);
        if let (Ok(without), Ok(with)) = (there(x), there(x - more)) {
            prop_assert!(with.takes >= without.takes);
        }
    }

    #[test]
    fn twice_the_distance_in_no_wind_takes_twice_the_time(speed in speed(), distance in 100.0..50_000.0_f64) {
        if let (Ok(once), Ok(twice)) =
            (arrive(distance, speed, None, 0.0, 0.0), arrive(2.0 * distance, speed, None, 0.0, 0.0))
        {
            prop_assert!((twice.takes.us() - 2 * once.takes.us()).abs() <= 2);
        }
    }

    #[test]
    fn leaving_at_the_time_told_is_being_abeam_at_the_time_wanted(
        speed in speed(), distance in 100.0..50_000.0_f64, h in 0..24_i8, min in 0..60_i8, sec in 0..60_i8,
    ) {
        let wanted = jiff::civil::time(h, min, sec, 0);
        if let Ok(arrival) = arrive(distance, speed, None, 0.0, 0.0) {
            let leave = arrival.leave_at(wanted);
            let takes = jiff::SignedDuration::from_micros(arrival.takes.us());
            let late = leave.wrapping_add(takes).duration_since(wanted).as_secs_f64();
            prop_assert!(late.abs() <= 0.0006 || late.abs() >= 86_399.9, "{}", late);
        }
    }

    #[test]
    fn a_gain_of_true_airspeed_in_no_wind_takes_what_the_equations_of_motion_say(
        from in 80.0..200.0_f64, to in 80.0..250.0_f64, gain in 0.5..6.0_f64, distance in 500.0..20_000.0_f64,
    ) {
        let true_airspeed = |v| Airspeed::True(Speed::from_mps(v));
        let arrival = arrive(distance, true_airspeed(from), Some((true_airspeed(to), gain)), 0.0, 0.0)
            .expect("an arrival");
        let a = gain.copysign(to - from);
        let ramp = (to * to - from * from) / (2.0 * a);
        let expected = if ramp < distance {
            (to - from) / a + (distance - ramp) / to
        } else {
            ((from * from + 2.0 * a * distance).sqrt() - from) / a
        };
        prop_assert!((arrival.takes.s() - expected).abs() < 1e-4, "{} {}", arrival.takes.s(), expected);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, ..ProptestConfig::default() })]

    #[test]
    fn no_finite_arrival_is_no_number(
        distance in wild(), from in wild_speed(), to in proptest::option::of((wild_speed(), wild())),
        height in wild(), line in wild(), x in wild(), y in wild(), elevation in wild(),
        kelvin in wild(), pascal in wild(),
    ) {
        let air = Air::new(m(elevation), Temperature::from_k(kelvin), Pressure::from_pa(pascal));
        let arrival = RunIn {
            distance: m(distance),
            speed: from,
            change: to.map(|(to, gain)| (to, Acceleration::from_mps2(gain))),
            height: m(height),
            wind: WindVector { x: Speed::from_mps(x), y: Speed::from_mps(y) },
        }
        .arrive(&air, m(line));
        if let Ok(arrival) = arrival {
            for at in [arrival.there, arrival.abeam] {
                prop_assert!(at.true_airspeed.mps() > 0.0 && at.ground_speed.mps() > 0.0);
                prop_assert!(!at.drift.rad().is_nan());
            }
            prop_assert!(arrival.takes >= Span::ZERO && arrival.takes <= s(3_600.0));
        }
    }

    #[test]
    fn no_finite_figure_is_no_number(
        first in wild_leg(), legs in proptest::collection::vec(wild_leg(), 0..5),
        held in any::<bool>(), gates in proptest::collection::vec(wild(), 0..3), mirrored in any::<bool>(),
        line in wild(), wind in proptest::collection::vec((wild(), wild(), wild()), 0..3),
    ) {
        let mut all = if held { vec![hold(5_000.0), to_centre(cas(250.0))] } else { vec![first] };
        all.extend(legs);
        let mut any = figure("any", all);
        any.gates = gates.into_iter().map(m).collect();
        let mut show = show(vec![any, figure("next", vec![run_for(1_000.0)]), timed("timed", 20.0, &[3.0])]);
        show.site.line_distance = m(line);
        show.day.wind = wind
            .into_iter()
            .map(|(height, from, speed)| WindAt {
                height: m(height),
                from: Angle::from_deg(from),
                speed: Speed::from_mps(speed),
                gust: Speed::ZERO,
            })
            .collect();
        let flight = if mirrored { fly_mirrored(&show) } else { fly_all(&show) };
        prop_assert_eq!(flight.figures.len(), 3);
        for flown in &flight.figures {
            prop_assert!(is_sound(flown), "{:?}", flown.points);
        }
    }
}
