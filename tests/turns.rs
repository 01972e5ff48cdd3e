//! Level turns have the radius and rate of the FAA Pilot's Handbook of Aeronautical Knowledge
//! (FAA-H-8083-25), chapter "Aerodynamics of Flight": R = V² / (11.26 tan bank) feet and
//! rate = 1,091 tan bank / V degrees a second, V in knots of true airspeed (looked up where they are quoted). Their
//! constants are rounded, so they hold to half a percent. Worked figures: 150 kt at 25 degrees, 4,285 ft, and 120 kt at
//! 30 degrees, 2,208 ft, are of published examples (looked up); the others are from memory.

mod flights;

use abeam::flight::FlownFigure;
use abeam::show::{
    Aircraft, Induced, Leg, LegSpeed, Motion, Place, PointName, Severity, Side, TurnBy, TurnTowards,
};
use abeam::units::{Airspeed, Speed, quantity::FOOT};
use flights::{
    after, figure, fly_all, fly_one, held, hold, m, powered, run_for, show, turn, unpowered, wind,
};

/// A turn of half a circle after a run-in, and how long it took.
fn half_circle(kt: f64, bank_deg: f64, wind: Vec<abeam::show::WindAt>) -> (FlownFigure, f64) {
    let speed = held(Airspeed::True(Speed::from_kt(kt)));
    let run_in = |legs: Vec<Leg>| {
        let mut all = vec![hold(6_000.0)];
        all.push(flights::run(
            abeam::show::RunUntil::Distance(m(1_000.0)),
            speed,
            false,
        ));
        all.extend(legs);
        figure("turn", all)
    };
    let without = fly_one(run_in(vec![]), wind.clone());
    let with = fly_one(
        run_in(vec![turn(180.0, TurnTowards::Away, bank_deg, None)]),
        wind,
    );
    let took = after(&with, PointName::End) - after(&without, PointName::End);
    (with, took)
}

#[test]
fn the_handbooks_radius_and_rate() {
    // Worked, and from memory: 240 kt at 30 degrees, 8,861 ft; 5.25 and 2.62 degrees a second.
    for (kt, bank, radius_ft, rate_deg) in [
        (
            150.0,
            25.0,
            4_285.2,
            1_091.0 * 25_f64.to_radians().tan() / 150.0,
        ),
        (120.0, 30.0, 2_208.0, 5.25),
        (240.0, 30.0, 8_861.0, 2.62),
        (
            250.0,
            60.0,
            250.0_f64.powi(2) / (11.26 * 3_f64.sqrt()),
            1_091.0 * 3_f64.sqrt() / 250.0,
        ),
    ] {
        let (turned, took) = half_circle(kt, bank, vec![]);
        let end = turned.path().last().expect("a path");
        let radius = (end.y.m() - 230.0) / 2.0 / FOOT;
        assert!((radius / radius_ft - 1.0).abs() < 5e-3, "{kt}: {radius}");
        assert!((180.0 / took / rate_deg - 1.0).abs() < 5e-3, "{kt}: {took}");
    }
}

/// ICAO Doc 8168 (PANS-OPS), construction of turns: R = 3,431 tan bank / (π V) degrees a second and
/// r = V / (20 π R) nautical miles, V in knots of true airspeed (from memory).
#[test]
fn the_turns_that_procedures_are_drawn_with() {
    for (kt, bank) in [(90.0, 20.0), (180.0, 25.0), (250.0, 25.0), (400.0, 45.0)] {
        let rate = 3_431.0 * f64::to_radians(bank).tan() / (std::f64::consts::PI * kt);
        let radius = kt / (20.0 * std::f64::consts::PI * rate);
        let (turned, took) = half_circle(kt, bank, vec![]);
        let ours = (turned.path().last().expect("a path").y.m() - 230.0) / 2.0 / flights::NMI;
        assert!((ours / radius - 1.0).abs() < 5e-3, "{kt}: {ours} {radius}");
        assert!((180.0 / took / rate - 1.0).abs() < 5e-3, "{kt}: {took}");
    }
}

#[test]
fn a_turn_by_load_factor_is_the_turn_by_the_bank_that_carries_it() {
    // Handbook: a level turn at 60 degrees of bank pulls 2 g.
    let fly = |by: TurnBy| {
        let mut legs = vec![hold(6_000.0), run_for(1_000.0)];
        legs[1].speed = flights::tas(100.0);
        let mut turn = turn(90.0, TurnTowards::PilotsLeft, 30.0, None);
        if let Motion::Turn { by: how, .. } = &mut turn.motion {
            *how = by;
        }
        legs.push(turn);
        after(&fly_one(figure("turn", legs), vec![]), PointName::End)
    };
    let by_bank = fly(TurnBy::Bank(abeam::units::Angle::from_deg(60.0)));
    assert!((by_bank - fly(TurnBy::Load(2.0))).abs() < 1e-6);
}

#[test]
fn the_wind_drifts_a_turn_and_does_not_change_its_time() {
    let (still, took) = half_circle(250.0, 45.0, vec![]);
    let (blown, took_in_wind) = half_circle(250.0, 45.0, wind(10.0, 0.0));
    assert!((took - took_in_wind).abs() < 1e-6);
    let x = |figure: &FlownFigure| figure.path().last().expect("a path").x.m();
    assert!((x(&blown) - x(&still) - 10.0 * took).abs() < 1e-3);
}

/// The 90–270 reposition (common practice, no published source): a quarter turn away, then three quarters
/// the other way, and the aircraft is back on its line, headed the other way.
#[test]
fn a_90_270_reposition_returns_to_the_display_line() {
    let speed = held(Airspeed::True(Speed::from_kt(250.0)));
    let flown = fly_one(
        figure(
            "reposition",
            vec![
                hold(4_000.0),
                flights::to_centre(speed),
                run_for(1_000.0),
                turn(90.0, TurnTowards::Away, 60.0, None),
                turn(270.0, TurnTowards::PilotsRight, 60.0, None),
            ],
        ),
        vec![],
    );
    let end = flown.path().last().expect("a path");
    assert!((end.y.m() - 230.0).abs() < 0.01, "{end:?}");
    let last = flown.points.last().expect("an end");
    assert!((last.along.kt() + 250.0).abs() < 1e-6);
}

/// A run back along the line after a half circle with 60 degrees of bank has left that at crowd centre, at 250 kt: when
/// it begins, and all that is flown.
fn back_off_the_line(run: Leg) -> (f64, abeam::flight::Flight) {
    let speed = held(Airspeed::True(Speed::from_kt(250.0)));
    let legs = |more: Vec<Leg>| {
        let turned = turn(180.0, TurnTowards::Away, 60.0, None);
        let before = vec![hold(6_000.0), flights::to_centre(speed), turned];
        figure("back", before.into_iter().chain(more).collect())
    };
    let begins = after(&fly_one(legs(vec![]), vec![]), PointName::End);
    (begins, fly_all(&show(vec![legs(vec![run])])))
}

#[test]
fn a_run_that_leads_far_off_its_heading_begins_with_a_turn() {
    let (begins, mut flight) = back_off_the_line(run_for(8_000.0));
    assert!(flight.faults.is_empty(), "{:?}", flight.faults);
    let flown = flight.figures.remove(0);
    let on_it = |sample: &&abeam::flight::PathSample| sample.after.s() >= begins - 1e-6;
    let run: Vec<_> = flown.path().iter().filter(on_it).collect();
    let mut turning = 0;
    for pair in run.windows(2) {
        let [from, to] = [pair[0], pair[1]].map(|sample| sample.after.s() - begins);
        if to - from < 0.1 {
            continue;
        }
        let towards_the_line = -(pair[1].y - pair[0].y).m();
        let off = towards_the_line
            .atan2(-(pair[1].x - pair[0].x).m())
            .to_degrees();
        // 60 degrees of bank carry 2 g: by the handbook, until it closes on the line at 30 degrees.
        let turned = 1_091.0 * 60_f64.to_radians().tan() / 250.0 * 0.5 * (from + to);
        if turned < 28.0 {
            assert!((off - turned).abs() < 0.3, "{off} {turned} at {from}");
            turning += 1;
        }
        assert!(off < 30.1, "{off} at {from}");
    }
    assert!(turning >= 6, "{turning}");
    let end = run.last().expect("an end");
    assert!((end.y.m() - 230.0).abs() < 0.6, "{end:?}");
}

#[test]
fn one_that_is_too_short_for_that_goes_straight_on() {
    let (_, mut flight) = back_off_the_line(run_for(100.0));
    assert!(flight.faults.is_empty(), "{:?}", flight.faults);
    let flown = flight.figures.remove(0);
    let last = flown.points.last().expect("an end");
    assert!((last.along.kt() + 250.0).abs() < 1e-6);
}

#[test]
fn one_to_a_place_too_near_for_that_is_told() {
    let until = abeam::show::RunUntil::Place(Place {
        out: m(100.0),
        side: Some(Side::Left),
    });
    let (_, flight) = back_off_the_line(flights::run(until, None, false));
    let told: Vec<&str> = flight.faults.iter().map(|f| f.message.as_str()).collect();
    assert_eq!(
        told,
        [
            "a leg of \"back\" leads 30 degrees off the heading it begins with, and is too short to turn there first"
        ]
    );
}

/// What an aircraft turns with at its tightest, once round at a true airspeed in knots, and its radius in feet
/// by the handbook; or why it cannot.
fn tightest(aircraft: &Aircraft, kt: f64, speed: Option<LegSpeed>) -> Result<(f64, f64), String> {
    let run_in = flights::run(
        abeam::show::RunUntil::Distance(m(1_000.0)),
        held(Airspeed::True(Speed::from_kt(kt))),
        false,
    );
    let mut round = turn(360.0, TurnTowards::Away, 60.0, speed);
    if let Motion::Turn { by, .. } = &mut round.motion {
        *by = TurnBy::Tightest;
    }
    let ends = |legs: Vec<Leg>| {
        let mut show = show(vec![figure("round", legs)]);
        show.aircraft = vec![aircraft.clone()];
        let mut flight = fly_all(&show);
        let errors = flight.faults.iter();
        let mut errors = errors.filter(|fault| fault.severity == Severity::Error);
        let error = errors.next().map(|fault| fault.message.clone());
        error.map_or_else(|| Ok(flight.figures.remove(0)), Err)
    };
    let before = after(&ends(vec![hold(6_000.0), run_in.clone()])?, PointName::End);
    let flown = ends(vec![hold(6_000.0), run_in, round])?;
    // 1,091 tan bank / V degrees a second; level, the load factor is 1 / cos bank.
    let tan = 360.0 / (after(&flown, PointName::End) - before) * kt / 1_091.0;
    Ok((tan.hypot(1.0), kt * kt / (11.26 * tan)))
}

/// An aircraft that stalls at 55 kt of true airspeed at 1 g and bears 6 g.
fn limited() -> Aircraft {
    Aircraft {
        stall: Some(Airspeed::True(Speed::from_kt(55.0))),
        most_g: Some(6.0),
        ..unpowered()
    }
}

/// The handbook: stalling speed grows with the root of the load factor, so that wings give (V / Vs)² g; below
/// the speed at which that is the limit load factor (Vs times its root) an aircraft stalls before it is
/// overstressed, and there it turns tightest.
#[test]
fn the_tightest_turn_is_what_the_wings_give_or_the_structure_bears() {
    let near = |value: f64, of: f64| assert!((value / of - 1.0).abs() < 5e-3, "{value} {of}");
    let craft = limited();
    let round = |kt: f64| tightest(&craft, kt, None).expect("a turn");
    for kt in [70.0, 100.0, 120.0_f64] {
        near(round(kt).0, (kt / 55.0).powi(2));
    }
    for kt in [140.0, 200.0, 300.0] {
        near(round(kt).0, 6.0);
    }
    let corner = 55.0 * 6_f64.sqrt();
    near(round(corner).0, 6.0);
    let least = round(corner).1;
    near(least, corner * corner / (11.26 * 35_f64.sqrt()));
    assert!(
        [100.0, 125.0, 145.0, 200.0]
            .iter()
            .all(|kt| round(*kt).1 > least)
    );
    let slow = tightest(&craft, 55.0, None).expect_err("it stalls");
    assert!(slow.contains("too slow to turn"), "{slow}");
    let unknown = tightest(&unpowered(), 150.0, None).expect_err("nothing says");
    assert!(unknown.contains("nothing says what"), "{unknown}");
}

/// Held, its speed asks for all power that the turn costs: P = K (n² − 1) / V (excess power of a parabolic
/// polar, with K the loss times the speed it is stated at).
#[test]
fn a_tightest_turn_at_a_held_speed_is_one_that_its_power_keeps_up() {
    let kt = 100.0;
    let craft = Aircraft {
        induced: Some(Induced {
            cost: Speed::from_mps(1.5),
            at: Speed::from_kt(200.0),
        }),
        ..powered(15.0)
    };
    let craft = Aircraft {
        stall: limited().stall,
        most_g: limited().most_g,
        ..craft
    };
    let (held_load, _) = tightest(&craft, kt, None).expect("a turn");
    let sustained = (1.0 + 15.0 / 1.5 * kt / 200.0_f64).sqrt();
    assert!((held_load / sustained - 1.0).abs() < 5e-3, "{held_load}");
    // As energy goes it turns tighter at first, and slows down.
    let (let_go, _) = tightest(&craft, kt, Some(LegSpeed::Energy)).expect("a turn");
    assert!(
        let_go > held_load && let_go < (kt / 55.0).powi(2),
        "{let_go}"
    );
    // With no power to spare it does not turn at all.
    let weak = Aircraft {
        climb_power: powered(0.0).climb_power,
        ..craft
    };
    let none = tightest(&weak, kt, None).expect_err("no power");
    assert!(none.contains("too little power"), "{none}");
}
