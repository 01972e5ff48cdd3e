//! Laws that hold for any flight: mirrored is mirrored, a headwind is never earlier, twice the distance is
//! twice the time, and no finite input gives a number that is none or an answer that never comes.

mod flights;

use abeam::flight::air::Air;
use abeam::flight::arrival::{Arrival, RunIn};
use abeam::flight::wind::WindVector;
use abeam::flight::{CannotFly, FlownFigure};
use abeam::show::{
    Aircraft, CoastUntil, Induced, Leg, LegSpeed, Motion, PilotsSide, PivotAbout, Place, PointName,
    PullBy, PullUntil, RunUntil, Severity, Side, TurnBy, TurnTowards, TurnUntil, WindAt,
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

/// How a run-in is flown: its speed (`None`: held) and its share of the excess power.
fn run_in_speed() -> impl Strategy<Value = (Option<LegSpeed>, Option<f64>)> {
    let changed = (speed(), 0.5..5.0_f64).prop_filter_map("airspeeds", |(to, gain)| {
        let gain = Acceleration::from_mps2(gain);
        (!matches!(to, Airspeed::Ground(_))).then_some(LegSpeed::Changed { to, gain })
    });
    prop_oneof![
        Just((None, None)),
        changed.prop_map(|speed| (Some(speed), None)),
        (-0.5..1.0_f64).prop_map(|power| (Some(LegSpeed::Energy), Some(power))),
    ]
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
    prop_oneof![
        1 => Just(None),
        2 => Just(Some(LegSpeed::Energy)),
        3 => plan.prop_map(Some),
    ]
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
    let motion = prop_oneof![
        3 => wild_run(),
        2 => wild_turn(),
        4 => wild_pull(),
        2 => wild_roll(),
        2 => wild_coast(),
        1 => wild_pivot(),
    ];
    let power = proptest::option::of(prop_oneof![-1.0..1.0_f64, wild()]);
    let leg = (motion, wild_plan(), wild_height(), any::<bool>(), power).prop_map(
        |(motion, speed, height, pass, power)| Leg {
            speed,
            height,
            pass,
            power,
            ..Leg::new(motion, 0..1)
        },
    );
    prop_oneof![1 => hold, 8 => leg]
}

fn wild_angle() -> impl Strategy<Value = Angle> {
    prop_oneof![3 => 1.0..400.0_f64, 1 => wild()].prop_map(Angle::from_deg)
}

fn wild_run() -> impl Strategy<Value = Motion> {
    let until = prop_oneof![
        Just(RunUntil::Centre),
        wild_place().prop_map(RunUntil::Place),
        wild().prop_map(|d| RunUntil::Distance(m(d))),
        wild().prop_map(|t| RunUntil::Time(s(t))),
        (0.0..20.0_f64).prop_map(|t| RunUntil::Time(s(t))),
        wild().prop_map(|h| RunUntil::Height(m(h))),
        wild_speed().prop_map(RunUntil::Speed),
    ];
    let pitch = proptest::option::of((-90.0..90.0_f64).prop_map(Angle::from_deg));
    (until, pitch).prop_map(|(until, pitch)| Motion::Run { until, pitch })
}

fn wild_turn() -> impl Strategy<Value = Motion> {
    let until = prop_oneof![
        4 => wild_angle().prop_map(TurnUntil::Angle),
        1 => Just(TurnUntil::Away),
        1 => Just(TurnUntil::Crowd),
        1 => Just(TurnUntil::Side(Side::Left)),
    ];
    let by = prop_oneof![
        wild().prop_map(|bank| TurnBy::Bank(Angle::from_deg(bank))),
        (1.0..9.0).prop_map(TurnBy::Load),
        Just(TurnBy::Tightest),
        wild().prop_map(TurnBy::Load),
    ];
    let way = prop_oneof![
        Just(TurnTowards::PilotsLeft),
        Just(TurnTowards::PilotsRight),
        Just(TurnTowards::Crowd),
        Just(TurnTowards::Away),
    ];
    (until, way, by).prop_map(|(until, towards, by)| Motion::Turn { until, towards, by })
}

fn wild_pull() -> impl Strategy<Value = Motion> {
    let until = prop_oneof![
        wild_angle().prop_map(PullUntil::Round),
        (-89.0..89.0_f64).prop_map(|climb| PullUntil::Climb(Angle::from_deg(climb))),
        Just(PullUntil::Climb(Angle::ZERO)),
        Just(PullUntil::Vertical),
    ];
    let by = prop_oneof![
        (-6.0..9.0_f64).prop_map(PullBy::Load),
        wild().prop_map(PullBy::Load),
        (50.0..900.0_f64).prop_map(|r| PullBy::Radius(m(r))),
        wild().prop_map(|r| PullBy::Radius(m(r))),
    ];
    (until, by, any::<bool>()).prop_map(|(until, by, pull)| {
        if pull {
            Motion::Pull { until, by }
        } else {
            Motion::Push { until, by }
        }
    })
}

fn wild_side() -> impl Strategy<Value = PilotsSide> {
    prop_oneof![Just(PilotsSide::Left), Just(PilotsSide::Right)]
}

fn wild_way() -> impl Strategy<Value = TurnTowards> {
    prop_oneof![
        Just(TurnTowards::PilotsLeft),
        Just(TurnTowards::PilotsRight),
        Just(TurnTowards::Crowd),
        Just(TurnTowards::Away)
    ]
}

fn wild_roll() -> impl Strategy<Value = Motion> {
    let rate = proptest::option::of(prop_oneof![30.0..400.0_f64, wild()]);
    let load = proptest::option::of(prop_oneof![-2.0..5.0_f64, wild()]);
    (wild_angle(), rate, wild_way(), load).prop_map(|(angle, rate, towards, load)| Motion::Roll {
        angle,
        rate: rate.map(Angle::from_deg),
        towards,
        load,
    })
}

fn wild_coast() -> impl Strategy<Value = Motion> {
    let until = prop_oneof![
        Just(CoastUntil::Top),
        wild().prop_map(|t| CoastUntil::Time(s(t))),
        (0.0..8.0_f64).prop_map(|t| CoastUntil::Time(s(t))),
        wild().prop_map(|h| CoastUntil::Height(m(h))),
        wild_speed().prop_map(CoastUntil::Speed),
    ];
    until.prop_map(|until| Motion::Coast { until })
}

fn wild_pivot() -> impl Strategy<Value = Motion> {
    let about = prop_oneof![
        Just(PivotAbout::Pitch),
        wild_side().prop_map(PivotAbout::Yaw)
    ];
    let any_of = |likely: std::ops::Range<f64>| prop_oneof![2 => likely, 1 => wild()];
    let out = proptest::option::of(wild_speed());
    (
        wild_angle(),
        any_of(20.0..300.0),
        about,
        any_of(20.0..80.0),
        any_of(0.0..1.5),
        out,
    )
        .prop_map(|(angle, rate, about, sink, thrust, out)| Motion::Pivot {
            angle,
            rate: Angle::from_deg(rate),
            about,
            sink: Speed::from_mps(sink),
            thrust,
            out,
        })
}

/// Whether all of it is numbers in order of time.
fn is_sound(figure: &FlownFigure) -> bool {
    let numbers = figure.points.iter().flat_map(|met| {
        let step = met.step;
        [met.along.mps(), step.seconds_per_mps]
    });
    let places = figure.path().iter().flat_map(|place| {
        [
            place.x.m(),
            place.y.m(),
            place.z.m(),
            place.ground_speed.mps(),
            place.true_airspeed.mps(),
            place.climb.rad(),
        ]
    });
    let in_order = figure
        .points
        .windows(2)
        .all(|pair| pair[0].after <= pair[1].after);
    in_order && numbers.chain(places).all(|number| !number.is_nan())
}

/// Legs of every kind but turns and level runs, for an aircraft that comes at this speed, m/s.
fn every_kind(v: f64) -> Vec<Leg> {
    let climb = |deg| PullUntil::Climb(Angle::from_deg(deg));
    let load = |load| PullBy::Load(load);
    let mut up = leg(Motion::Run {
        until: RunUntil::Height(m(2_500.0)),
        pitch: Some(Angle::from_deg(20.0)),
    });
    up.speed = tas(v);
    let pivot = |deg, about, out: Option<f64>| {
        leg(Motion::Pivot {
            angle: Angle::from_deg(deg),
            rate: Angle::from_deg(80.0),
            about,
            sink: Speed::from_mps(60.0),
            thrust: 0.5,
            out: out.map(|out| Airspeed::True(Speed::from_mps(out))),
        })
    };
    vec![
        pull(climb(20.0), load(3.0)),
        up,
        roll(90.0, 120.0, None),
        roll(360.0, 180.0, Some(1.5)),
        roll(-90.0 + 360.0, 240.0, None),
        // With no power to spare: no faster, and no harder, than it begins.
        Leg {
            power: Some(0.0),
            ..pull(round(400.0), PullBy::Radius(m(0.012 * v * v)))
        },
        push(climb(5.0), load(-1.0)),
        pull(climb(60.0), load(4.0)),
        coast(CoastUntil::Time(s(2.0))),
        // Over the top, to straight down.
        pivot(210.0, PivotAbout::Pitch, Some(70.0)),
        coast(CoastUntil::Time(s(1.0))),
        pivot(40.0, PivotAbout::Yaw(PilotsSide::Left), None),
    ]
}

proptest! {
    #[test]
    fn a_figure_mirrored_in_a_mirrored_wind_is_its_mirror_image(
        v in 80.0..250.0_f64, x in -15.0..15.0_f64, y in -15.0..15.0_f64, bank in 30.0..75.0_f64,
    ) {
        let legs = [vec![
            hold(6_000.0),
            to_centre(tas(v)),
            run_for(3_000.0),
            turn(200.0, TurnTowards::Away, bank, None),
            turn(20.0, TurnTowards::PilotsRight, bank, None),
            run_for(1_000.0),
        ], every_kind(v)]
        .concat();
        let mut plain = show(vec![figure("a", legs)]);
        plain.aircraft = vec![powered(60.0)];
        plain.day.wind = wind(x, y);
        let mut other = plain.clone();
        other.day.wind = wind(-x, y);
        let (flown, mirrored) = (fly_all(&plain), fly_mirrored(&other));
        prop_assert!(flown.faults.iter().all(|fault| fault.severity == Severity::Advice), "{:?}", flown.faults);
        let (flown, mirrored) = (&flown.figures[0], &mirrored.figures[0]);
        prop_assert_eq!(flown.points.len(), mirrored.points.len());
        for (a, b) in flown.points.iter().zip(&mirrored.points) {
            prop_assert!((a.after.s() - b.after.s()).abs() < 1e-5);
            prop_assert!((a.along.mps() + b.along.mps()).abs() < 1e-6);
        }
        for (a, b) in flown.path().iter().zip(mirrored.path()) {
            prop_assert!((a.x.m() + b.x.m()).abs() < 1e-3 && (a.y.m() - b.y.m()).abs() < 1e-3);
            prop_assert!((a.z.m() - b.z.m()).abs() < 1e-3);
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
    fn twice_round_takes_twice_the_time_at_one_speed(
        v in 60.0..250.0_f64, radius in 80.0..600.0_f64, deg in 10.0..360.0_f64, bank in 20.0..80.0_f64,
    ) {
        let takes = |leg: Leg| {
            let run = || vec![hold(6_000.0), to_centre(tas(v))];
            let end = |legs| {
                let mut show = show(vec![figure("a", legs)]);
                show.aircraft = vec![powered(50.0)];
                after(&fly_all(&show).figures[0], PointName::End)
            };
            let mut begun = run();
            // High enough for all of it.
            begun[1].height = Some(m(2_000.0));
            let before = end(begun.clone());
            begun.push(Leg { speed: tas(v), height: None, ..leg });
            end(begun) - before
        };
        let pulled = |deg| pull(round(deg), PullBy::Radius(m(radius)));
        let rolled = |deg| roll(deg, 90.0, Some(1.0));
        let turned = |deg| turn(deg, TurnTowards::Away, bank, None);
        for kind in [0, 1, 2] {
            let leg = |deg| match kind {
                0 => pulled(deg),
                1 => rolled(deg),
                _ => turned(deg),
            };
            let (once, twice) = (takes(leg(deg)), takes(leg(2.0 * deg)));
            prop_assert!((twice - 2.0 * once).abs() < 1e-4, "{} {} {}", kind, once, twice);
        }
    }

    #[test]
    fn more_headwind_makes_no_display_arrive_earlier(
        v in 80.0..200.0_f64, x in -15.0..15.0_f64, y in -15.0..15.0_f64, more in 0.0..10.0_f64,
        load in 3.0..6.0_f64, (speed, power) in run_in_speed(),
    ) {
        // A run, a loop and a roll, and the run-in to centre: at one speed, with a gain, or by energy.
        let abeam = |x: f64| {
            let mut away = run_for(500.0);
            away.speed = tas(v);
            let legs = vec![
                hold(6_000.0),
                away,
                pull(round(360.0), PullBy::Load(load)),
                roll(360.0, 180.0, None),
                Leg { power, ..to_centre(speed.or(tas(v))) },
            ];
            let mut show = show(vec![figure("a", legs)]);
            show.aircraft = vec![powered(60.0)];
            show.day.wind = wind(x, y);
            let flight = fly_all(&show);
            let whole = flight.faults.iter().all(|fault| fault.severity == Severity::Advice);
            whole.then(|| after(&flight.figures[0], PointName::Abeam(1)))
        };
        if let (Some(without), Some(with)) = (abeam(x), abeam(x - more)) {
            prop_assert!(with >= without - 1e-6, "{} {}", without, with);
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
        line in wild(), power in -50.0..200.0_f64, wind in proptest::collection::vec((wild(), wild(), wild()), 0..3),
    ) {
        let mut all = if held { vec![hold(5_000.0), to_centre(cas(250.0))] } else { vec![first] };
        all.extend(legs);
        let mut any = figure("any", all);
        any.gates = gates.into_iter().map(m).collect();
        let mut show = show(vec![any, figure("next", vec![run_for(1_000.0)]), timed("timed", 20.0, &[3.0])]);
        show.aircraft = vec![Aircraft {
            roll_rate: Some(Angle::from_deg(180.0)),
            induced: Some(Induced { cost: Speed::from_mps(3.0), at: Speed::from_mps(100.0) }),
            ..powered(power)
        }];
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
