//! What cannot be flown on energy is said with the point, the height and the speed at which it stops, and
//! what a leg needs is held against what is delivered.

mod flights;

use abeam::flight::{Flight, PathSample};
use abeam::show::{
    Aircraft, CoastUntil, Induced, Leg, LegSpeed, Limits, Motion, Needs, PivotAbout, PointName,
    PullBy, PullUntil, RunUntil, Severity, TurnTowards, TurnUntil,
};
use abeam::units::{Acceleration, Airspeed, Angle, Speed};
use flights::*;

/// A pass at this speed, m/s, at 150 m, and then these legs.
fn display(aircraft: Aircraft, speed: f64, legs: Vec<Leg>) -> Flight {
    let mut all = vec![hold(6_000.0), to_centre(tas(speed))];
    all.extend(legs);
    let mut show = show(vec![figure("display", all)]);
    show.aircraft = vec![aircraft];
    fly_all(&show)
}

/// The one thing said of them.
fn said(aircraft: Aircraft, speed: f64, legs: Vec<Leg>) -> (Severity, String, String) {
    let flight = display(aircraft, speed, legs.clone());
    let [fault] = &flight.faults[..] else {
        panic!("{legs:?}: one fault: {:?}", flight.faults)
    };
    (fault.severity, fault.message.clone(), fault.help.clone())
}

fn climb(deg: f64) -> PullUntil {
    PullUntil::Climb(Angle::from_deg(deg))
}

#[test]
fn what_stops_flying_says_where_and_why() {
    let looped = || pull(round(360.0), PullBy::Load(4.0));
    let mut quarter = looped();
    quarter.part = Some("second quarter of the loop".into());
    let limits = Aircraft {
        most_g: Some(5.0),
        least_g: Some(-2.0),
        stall: Some(Airspeed::Calibrated(Speed::from_kt(60.0))),
        ..powered(60.0)
    };
    let up = || pull(PullUntil::Vertical, PullBy::Load(4.0));
    let mut on_up = run(RunUntil::Time(s(30.0)), None, false);
    on_up.height = None;
    if let Motion::Run { pitch, .. } = &mut on_up.motion {
        *pitch = Some(Angle::from_deg(90.0));
    }
    on_up.power = Some(0.0);
    for (craft, speed, legs, words) in [
        (
            powered(0.0),
            30.0,
            vec![quarter],
            [
                "(second quarter of the loop) stops flying",
                "too slow to pull 4.0 g",
            ],
        ),
        (
            limits.clone(),
            120.0,
            vec![pull(round(90.0), PullBy::Load(6.0))],
            ["stops flying 0.0 s in, at 492 ft", "more than its 5 g"],
        ),
        (
            limits.clone(),
            120.0,
            vec![push(climb(-20.0), PullBy::Load(-3.0))],
            ["stops flying 0.0 s in", "less than its -2 g"],
        ),
        (
            limits,
            64.0,
            vec![looped()],
            ["stops flying", "too slow to pull 4.0 g"],
        ),
        (
            powered(60.0),
            100.0,
            vec![push(climb(-80.0), PullBy::Load(-2.0))],
            ["at 0 ft", "goes below the site"],
        ),
        (
            powered(60.0),
            100.0,
            vec![up(), on_up],
            ["stops flying", "too slow to fly on"],
        ),
        (
            powered(60.0),
            330.0,
            vec![
                pull(climb(5.0), PullBy::Load(2.0)),
                push(climb(-5.0), PullBy::Load(0.0)),
            ],
            ["stops flying", "the speed of sound"],
        ),
    ] {
        let (severity, message, help) = said(craft, speed, legs);
        assert_eq!(severity, Severity::Error);
        assert!(words.iter().all(|word| message.contains(word)), "{message}");
        assert!(message.starts_with("a leg of \"display\"") && !help.is_empty());
    }
}

#[test]
fn what_cannot_begin_so_says_what_comes_before_it() {
    let up = pull(climb(40.0), PullBy::Load(4.0));
    let inverted = roll(180.0, 180.0, None);
    let mut level = run_for(500.0);
    level.height = None;
    let no_rate = leg(Motion::Roll {
        angle: Angle::from_deg(360.0),
        rate: None,
        towards: TurnTowards::PilotsRight,
        load: None,
    });
    let headed = leg(Motion::Turn {
        until: TurnUntil::Side(abeam::show::Side::Right),
        towards: TurnTowards::Away,
        by: abeam::show::TurnBy::Load(3.0),
    });
    for (craft, legs, says, helps) in [
        (
            unpowered(),
            vec![up.clone()],
            "nothing says what power",
            "[aircraft.solo]",
        ),
        (
            powered(60.0),
            vec![no_rate],
            "nothing says how fast",
            "[aircraft.solo]",
        ),
        (
            powered(60.0),
            vec![up.clone(), level.clone()],
            "climbs at 40 degrees",
            "level out before it",
        ),
        (
            powered(60.0),
            vec![inverted, turn(90.0, TurnTowards::Away, 60.0, None)],
            "inverted",
            "roll upright",
        ),
        (powered(60.0), vec![headed], "headed already", "360 deg"),
        (
            powered(60.0),
            vec![pull(round(90.0), PullBy::Load(0.5))],
            "pulls no harder",
            "higher g",
        ),
        (
            powered(60.0),
            vec![push(round(90.0), PullBy::Load(2.0))],
            "pushes no harder",
            "lower g",
        ),
        (
            powered(60.0),
            vec![coast(CoastUntil::Top)],
            "never gets",
            "an end",
        ),
        (
            powered(60.0),
            vec![
                roll(90.0, 90.0, None),
                pull(PullUntil::Vertical, PullBy::Load(4.0)),
            ],
            "never gets",
            "an end",
        ),
    ] {
        let (severity, message, help) = said(craft, 100.0, legs);
        assert_eq!(severity, Severity::Error);
        assert!(message.contains(says), "{message}");
        assert!(help.contains(helps), "{help}");
    }
}

#[test]
fn what_a_leg_needs_is_held_against_what_is_delivered() {
    let needs = |height: Option<f64>, speed: Option<f64>| {
        Some(Needs {
            height: height.map(|ft| Limits {
                least: Some(m(ft * 0.3048)),
                most: None,
            }),
            speed: speed.map(|kt| Limits {
                least: None,
                most: Some(Airspeed::Calibrated(Speed::from_kt(kt))),
            }),
            at: 3..7,
        })
    };
    let with = |needs, part: &str| {
        let mut leg = pull(climb(10.0), PullBy::Load(3.0));
        leg.needs = needs;
        leg.part = Some(part.into());
        vec![leg]
    };
    assert!(
        display(
            powered(60.0),
            100.0,
            with(needs(Some(400.0), Some(220.0)), "x")
        )
        .faults
        .is_empty()
    );
    let (severity, message, _) = said(
        powered(60.0),
        100.0,
        with(needs(Some(4_000.0), None), "split-S"),
    );
    assert_eq!(severity, Severity::Error);
    assert!(
        message.starts_with("\"display\" begins its split-S at 492 ft; it needs above 4,000 ft"),
        "{message}"
    );
    let (_, message, _) = said(
        powered(60.0),
        100.0,
        with(needs(None, Some(150.0)), "tail slide"),
    );
    // 100 m/s true airspeed at 150 m on a standard day is 193 kt calibrated.
    assert!(
        message.contains("at 193 kt cas; it needs below 150 kt cas"),
        "{message}"
    );

    // A figure's own are of where it begins to move.
    let mut all = figure("display", vec![hold(6_000.0), to_centre(tas(100.0))]);
    all.needs = needs(Some(1_000.0), None);
    let flight = fly_all(&show(vec![all]));
    assert!(
        flight.faults[0]
            .message
            .contains("\"display\" begins at 492 ft; it needs above 1,000 ft")
    );
}

#[test]
fn a_held_speed_that_is_not_the_one_before_is_advice() {
    let mut slower = run_for(1_000.0);
    slower.speed = tas(80.0);
    let (severity, message, help) = said(unpowered(), 100.0, vec![slower]);
    assert_eq!(severity, Severity::Advice);
    assert!(message.contains("ends at 194 kt tas"), "{message}");
    assert!(help.contains("gain"));
    let mut change = run_for(1_000.0);
    change.speed = Some(LegSpeed::Changed {
        to: Airspeed::True(Speed::from_mps(80.0)),
        gain: abeam::units::Acceleration::from_mps2(2.0),
    });
    assert!(display(unpowered(), 100.0, vec![change]).faults.is_empty());
}

#[test]
fn a_run_climbs_to_its_height_and_a_turn_ends_headed_where_it_says() {
    let mut climbing = run_for(3_000.0);
    climbing.height = Some(m(400.0));
    let headed = leg(Motion::Turn {
        until: TurnUntil::Away,
        towards: TurnTowards::Away,
        by: abeam::show::TurnBy::Load(3.0),
    });
    let flight = display(unpowered(), 100.0, vec![climbing, headed]);
    assert!(flight.faults.is_empty(), "{:?}", flight.faults);
    let path = flight.figures[0].path();
    let steepest = path
        .iter()
        .map(|sample| sample.climb.deg())
        .fold(0.0, f64::max);
    assert!((steepest - 15.0).abs() < 0.1, "{steepest}");
    let [before, last] = path.last_chunk().expect("samples");
    assert!((last.z.m() - 400.0).abs() < 1e-6);
    assert!((last.y - before.y).m() > 10.0 * (last.x - before.x).m().abs());
}

#[test]
fn a_roll_on_the_line_is_a_pass_and_a_split_s_turns_back_below() {
    let mut passing = roll(360.0, 60.0, None);
    passing.pass = true;
    passing.power = Some(0.0);
    let mut begun = run(
        RunUntil::Place(abeam::show::Place {
            out: m(300.0),
            side: None,
        }),
        tas(100.0),
        false,
    );
    begun.height = Some(m(1_500.0));
    let split = [
        roll(180.0, 180.0, None),
        pull(round(180.0), PullBy::Load(4.0)),
    ];
    let mut legs = vec![hold(6_000.0), begun, passing];
    legs.extend(split);
    let mut show = show(vec![figure("display", legs)]);
    show.aircraft = vec![powered(60.0)];
    let flight = fly_all(&show);
    assert!(flight.faults.is_empty(), "{:?}", flight.faults);
    let flown = &flight.figures[0];
    assert!((after(flown, PointName::Abeam(1)) - 90.0 - 6_000.0 / 100.0).abs() < 0.1);
    // The run and the roll lead straight to the pass.
    assert!((after(flown, PointName::Inbound) - 90.0).abs() < 1e-6);
    let last = flown.path().last().expect("an end");
    assert!(last.z.m() < 1_300.0 && last.climb.deg().abs() < 0.1);
    assert!(flown.points.last().expect("an end").along.mps() < -90.0);
}

#[test]
fn a_radius_asks_for_no_more_g_than_the_aircraft_has_or_its_wings_give() {
    let tight = |aircraft| {
        said(
            aircraft,
            150.0,
            vec![pull(round(90.0), PullBy::Radius(m(60.0)))],
        )
        .1
    };
    // n = V²/(g r) + cos γ = 150² / (9.80665 · 60) + 1 = 39.2 when it begins.
    let nothing_known = tight(powered(60.0));
    assert!(
        nothing_known.contains("39.2 g is more than its 15 g"),
        "{nothing_known}"
    );
    let stated = tight(Aircraft {
        most_g: Some(8.0),
        ..powered(60.0)
    });
    assert!(stated.contains("39.2 g is more than its 8 g"), "{stated}");
    // At a stall of 100 kt there are (291.6 / 100)² = 8.5 g to be had.
    let wider = vec![pull(round(90.0), PullBy::Radius(m(230.0)))];
    let stall = Some(Airspeed::True(Speed::from_kt(100.0)));
    let (_, message, _) = said(
        Aircraft {
            stall,
            ..powered(60.0)
        },
        150.0,
        wider,
    );
    assert!(message.contains("too slow to pull 11.0 g"), "{message}");
}

#[test]
fn a_pivot_is_flown_out_with_what_thrust_there_is() {
    // Hung on its nose, straight up: −g + min(Ps / V, cap) g along the path, and no more.
    let pivot = |thrust: f64, out| {
        leg(Motion::Pivot {
            angle: Angle::from_deg(360.0),
            rate: Angle::from_deg(360.0),
            about: PivotAbout::Pitch,
            sink: Speed::from_mps(40.0),
            thrust,
            out,
        })
    };
    let strong = abeam::show::Aircraft {
        most_thrust: 1.5,
        ..powered(100.0)
    };
    let fly = |aircraft, thrust, to: f64| {
        let up = pull(PullUntil::Vertical, PullBy::Load(4.0));
        let slow = leg(Motion::Run {
            until: RunUntil::Speed(Airspeed::True(Speed::from_mps(50.0))),
            pitch: Some(Angle::from_deg(90.0)),
        });
        let slow = Leg {
            power: Some(-1.0),
            ..slow
        };
        let out = pivot(thrust, Some(Airspeed::True(Speed::from_mps(to))));
        display(aircraft, 110.0, vec![up, slow, out])
    };
    // Ps / V = 1 at 100 m/s: there it goes on as fast as it is, and comes no nearer to more.
    let flight = fly(strong.clone(), 1.0, 80.0);
    assert!(flight.faults.is_empty(), "{:?}", flight.faults);
    let far = fly(strong.clone(), 1.0, 105.0);
    assert!(
        far.faults
            .iter()
            .any(|fault| fault.severity == Severity::Error),
        "{:?}",
        far.faults
    );
    // With the weight as the most, it cannot gain speed straight up at all.
    let weak = abeam::show::Aircraft {
        most_thrust: 1.0,
        ..strong
    };
    let told = fly(weak, 1.4, 80.0).faults;
    let says = |severity, part: &str| {
        told.iter()
            .any(|fault| fault.severity == severity && fault.message.contains(part))
    };
    assert!(
        says(
            Severity::Advice,
            "asks for a thrust of 1.4, but its aircraft has no more than 1"
        ),
        "{told:?}"
    );
    assert!(says(Severity::Error, ""), "{told:?}");
    let unknown = fly(unpowered(), 0.0, 80.0).faults;
    assert!(
        unknown
            .iter()
            .any(|fault| fault.help.contains("climb_power")),
        "{unknown:?}"
    );
}

#[test]
fn a_tail_slide_points_its_nose_away_from_its_path() {
    let pivot = leg(Motion::Pivot {
        angle: Angle::from_deg(180.0),
        rate: Angle::from_deg(90.0),
        about: PivotAbout::Pitch,
        sink: Speed::from_mps(40.0),
        thrust: 0.0,
        out: Some(Airspeed::True(Speed::from_mps(60.0))),
    });
    let up = pull(PullUntil::Vertical, PullBy::Load(4.0));
    let slide = coast(CoastUntil::Time(s(13.0)));
    let out = pull(climb(0.0), PullBy::Load(4.0));
    let flight = display(powered(60.0), 110.0, vec![up, slide, pivot, out]);
    assert!(flight.faults.is_empty(), "{:?}", flight.faults);
    let path = flight.figures[0].path();
    let off = path.iter().map(|sample| sample.nose_off_path.deg());
    // It slides backwards: nose up, path down.
    assert!(off.fold(0.0, f64::max) > 179.0);
    let last = path.last().expect("an end");
    assert!(last.nose_off_path.deg() < 1e-9 && last.climb.deg().abs() < 0.1);
}

/// Level at speed V and load n, the climb power asked for is what n costs: induced (n² − 1) · at / V; changing speed costs
/// V a / g (both by definition of specific excess power).
#[test]
fn a_set_speed_that_takes_more_power_than_there_is_is_advised_on() {
    let weak = Aircraft {
        induced: Some(Induced {
            cost: Speed::from_mps(3.0),
            at: Speed::from_mps(100.0),
        }),
        ..powered(5.0)
    };
    let circle = |deg: f64| turn(360.0, TurnTowards::Away, deg, None);
    let load = 1.0 / 80_f64.to_radians().cos();
    let costs = 3.0 * (load * load - 1.0) * 100.0 / 150.0;
    let (severity, message, help) = said(weak.clone(), 150.0, vec![circle(80.0)]);
    assert_eq!(severity, Severity::Advice);
    let asked: f64 = message
        .split(" m/s")
        .next()
        .and_then(|s| s.rsplit(' ').next())
        .and_then(|s| s.parse().ok())
        .expect("a power");
    assert!((asked / costs - 1.0).abs() < 0.03, "{message}: {costs}");
    assert!(
        message.ends_with("its aircraft has 5 m/s there"),
        "{message}"
    );
    assert!(help.contains("energy"), "{help}");
    // 45 degrees of bank cost 2 m/s: there is so much.
    assert!(
        display(weak.clone(), 150.0, vec![circle(45.0)])
            .faults
            .is_empty()
    );
    let faster = |gain: f64| {
        let to = Airspeed::True(Speed::from_mps(170.0));
        let gain = Acceleration::from_mps2(gain);
        let mut on = run_for(8_000.0);
        on.speed = Some(LegSpeed::Changed { to, gain });
        display(weak.clone(), 150.0, vec![on]).faults
    };
    // At 170 m/s, 0.3 m/s² cost 5.2 m/s and 0.6 m/s² twice that.
    assert!(faster(0.3).is_empty());
    assert!(
        faster(0.6)[0]
            .message
            .contains("climb power of 10 m/s, at 1.0 g"),
        "{:?}",
        faster(0.6)
    );
    // Of an aircraft of which nothing is known, nothing is said.
    assert!(
        display(unpowered(), 150.0, vec![circle(80.0)])
            .faults
            .is_empty()
    );
}

/// The energy height z + V²/2g is the same to a part in a million, whatever the pull costs, while there is the power for it.
#[test]
fn at_the_same_energy_the_energy_height_stays_all_round_a_loop() {
    let craft = Aircraft {
        induced: Some(Induced {
            cost: Speed::from_mps(3.0),
            at: Speed::from_mps(100.0),
        }),
        ..powered(60.0)
    };
    let quarter = |until, load| Leg {
        speed: Some(LegSpeed::SameEnergy),
        ..pull(until, PullBy::Load(load))
    };
    let legs = vec![
        quarter(PullUntil::Vertical, 4.0),
        quarter(climb(0.0), 2.0),
        quarter(round(90.0), 2.0),
        quarter(climb(0.0), 4.0),
    ];
    let flight = display(craft, 160.0, legs);
    assert!(flight.faults.is_empty(), "{:?}", flight.faults);
    let path = flight.figures[0].path();
    let energy =
        |sample: &PathSample| sample.z.m() + sample.true_airspeed.mps().powi(2) / (2.0 * 9.80665);
    let begun = 150.0 + 160_f64.powi(2) / (2.0 * 9.80665);
    let end = energy(path.last().expect("an end"));
    assert!((end / begun - 1.0).abs() < 1e-6, "{begun} {end}");
    // Between the states of the path speeds are interpolated.
    let looped = path.iter().filter(|sample| sample.z.m() > 151.0);
    assert!(looped.clone().count() > 50);
    for sample in looped {
        assert!((energy(sample) / begun - 1.0).abs() < 1e-4, "{sample:?}");
    }
}
