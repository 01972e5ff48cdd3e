//! Legs and aircraft are read as the grammar says, and what is wrong says what to write instead.

use abeam::show::load::read;
use abeam::show::report::{Look, report};
use abeam::show::{
    ClimbPower, CoastUntil, Leg, LegSpeed, Limits, Manner, Motion, PilotsSide, PivotAbout, Place,
    PullBy, PullUntil, RunUntil, Show, Side, Source, TurnBy, TurnTowards, TurnUntil,
};
use abeam::units::{Airspeed, Angle, Length, Span, Speed};

/// A show whose only figure has these legs, flown by an aircraft with these keys.
fn document(aircraft: &str, legs: &str) -> String {
    format!(
        "[show]\ntitle = \"Legs\"\n[profile.only]\norder = [\"figure\"]\n[site]\nelevation = \"0 ft\"\n\
         line_bearing = 90\nline_distance = \"230 m\"\n[aircraft.solo]\n{aircraft}\n\
         [[figure]]\nid = \"figure\"\nfrom = \"left\"\nlegs = [\n{legs}\n]\n"
    )
}

fn shown(text: &str) -> String {
    let (_, faults) = read("show.toml", text);
    let source = Source {
        name: "show.toml".into(),
        text: text.into(),
    };
    report(&source, &faults, Look::Plain, 90)
}

fn show(aircraft: &str, legs: &str) -> Show {
    let text = document(aircraft, legs);
    read("show.toml", &text)
        .0
        .unwrap_or_else(|| panic!("{}", shown(&text)))
}

fn leg(text: &str) -> Leg {
    match show("", text).figures.remove(0).manner {
        Manner::Flown(mut legs) => legs.remove(0),
        other => panic!("{other:?}"),
    }
}

fn motion(text: &str) -> Motion {
    leg(text).motion
}

fn deg(deg: f64) -> Angle {
    Angle::from_deg(deg)
}

fn ft(ft: f64) -> Length {
    Length::from_m(ft * 0.3048)
}

fn kt(kt: f64) -> Airspeed {
    Airspeed::Calibrated(Speed::from_kt(kt))
}

#[test]
fn a_run_ends_at_a_place_after_a_while_at_a_height_or_at_a_speed() {
    let end = |text: &str| match motion(&format!("{{ run = \"{text}\" }}")) {
        Motion::Run { until, pitch: None } => until,
        other => panic!("{other:?}"),
    };
    let place = |m: f64, side| {
        RunUntil::Place(Place {
            out: Length::from_m(m),
            side,
        })
    };
    assert_eq!(end("to centre"), RunUntil::Centre);
    assert_eq!(end("to 2 nmi"), place(3704.0, None));
    assert_eq!(end("to 800 m left"), place(800.0, Some(Side::Left)));
    assert_eq!(end("for 1 nmi"), RunUntil::Distance(Length::from_m(1852.0)));
    assert_eq!(end("for 20 s"), RunUntil::Time(Span::from_s(20.0)));
    assert_eq!(end("to height 3000 ft"), RunUntil::Height(ft(3000.0)));
    assert_eq!(end("to speed 120 kt"), RunUntil::Speed(kt(120.0)));

    let steep = leg(
        "{ run = \"for 3 s\", pitch = \"-45 deg\", speed = \"energy\", power = -0.5, pass = true }",
    );
    assert!(steep.pass && steep.power == Some(-0.5) && steep.speed == Some(LegSpeed::Energy));
    assert!(matches!(steep.motion, Motion::Run { pitch: Some(pitch), .. } if pitch == deg(-45.0)));
}

#[test]
fn a_turn_is_as_hard_as_its_bank_its_g_or_whatever_the_aircraft_can() {
    let by = |text: &str| match motion(&format!("{{ turn = \"360 deg\", {text} }}")) {
        Motion::Turn { by, .. } => by,
        other => panic!("{other:?}"),
    };
    assert_eq!(by("bank = \"60 deg\""), TurnBy::Bank(deg(60.0)));
    assert_eq!(by("g = 3"), TurnBy::Load(3.0));
    assert_eq!(by("g = \"tightest\""), TurnBy::Tightest);
    let circle = motion("{ fly = \"level 360\", g = \"tightest\" }");
    let tightest = |motion| {
        matches!(
            motion,
            Motion::Turn {
                by: TurnBy::Tightest,
                ..
            }
        )
    };
    assert!(tightest(circle));
    let wrong = shown(&document("", "{ turn = \"360 deg\", g = \"tight\" }"));
    assert!(wrong.contains("must be a number"), "{wrong}");
}

#[test]
fn an_aircraft_may_have_no_power_to_climb_or_less() {
    let power = |text: &str| {
        show(
            &format!("climb_power = \"{text}\""),
            "{ run = \"to centre\" }",
        )
    };
    for (text, mps) in [("0 m/s", 0.0), ("-1.2 m/s", -1.2)] {
        let power = power(text).aircraft[0].climb_power.clone();
        assert_eq!(power, Some(ClimbPower::Everywhere(Speed::from_mps(mps))));
    }
    let wrong = shown(&document(
        "climb_power = \"2000 m/s\"",
        "{ run = \"to centre\" }",
    ));
    assert!(
        wrong.contains("write climb_power = \"60 m/s\"") && !wrong.contains(" kt"),
        "{wrong}"
    );
}

#[test]
fn a_turn_goes_so_far_round_or_until_it_is_headed_somewhere() {
    let end = |text: &str| match motion(&format!("{{ turn = \"{text}\", g = 3 }}")) {
        Motion::Turn { until, towards, .. } => {
            assert_eq!(towards, TurnTowards::Away);
            until
        }
        other => panic!("{other:?}"),
    };
    assert_eq!(end("270 deg"), TurnUntil::Angle(deg(270.0)));
    assert_eq!(end("to right"), TurnUntil::Side(Side::Right));
    assert_eq!(end("to left"), TurnUntil::Side(Side::Left));
    assert_eq!(end("to away"), TurnUntil::Away);
    assert_eq!(end("to crowd"), TurnUntil::Crowd);
}

#[test]
fn pulls_and_pushes_say_how_far_and_how_hard() {
    let by = PullBy::Load(4.0);
    for (text, until) in [
        ("90 deg", PullUntil::Round(deg(90.0))),
        ("to level", PullUntil::Climb(Angle::ZERO)),
        ("to vertical", PullUntil::Vertical),
        ("to 45 deg", PullUntil::Climb(deg(45.0))),
        ("to -45 deg", PullUntil::Climb(deg(-45.0))),
    ] {
        let read = motion(&format!("{{ pull = \"{text}\", g = 4 }}"));
        assert_eq!(read, Motion::Pull { until, by });
    }
    let by = PullBy::Radius(Length::from_m(150.0));
    let until = PullUntil::Vertical;
    assert_eq!(
        motion("{ push = \"to vertical\", radius = \"150 m\" }"),
        Motion::Push { until, by }
    );
    let by = PullBy::Load(-1.5);
    assert_eq!(
        motion("{ push = \"to vertical\", g = -1.5 }"),
        Motion::Push { until, by }
    );
}

#[test]
fn rolls_coasts_and_pivots_have_their_keys() {
    assert_eq!(
        motion("{ roll = \"360 deg\" }"),
        Motion::Roll {
            angle: deg(360.0),
            rate: None,
            towards: TurnTowards::PilotsRight,
            load: None
        }
    );
    assert_eq!(
        motion("{ roll = \"360 deg\", rate = 90, towards = \"left\", g = 2.5 }"),
        Motion::Roll {
            angle: deg(360.0),
            rate: Some(deg(90.0)),
            towards: TurnTowards::PilotsLeft,
            load: Some(2.5)
        }
    );
    for (text, until) in [
        ("to top", CoastUntil::Top),
        ("to speed 60 kt", CoastUntil::Speed(kt(60.0))),
        ("to height 3000 ft", CoastUntil::Height(ft(3000.0))),
        ("for 2 s", CoastUntil::Time(Span::from_s(2.0))),
    ] {
        let read = motion(&format!("{{ coast = \"{text}\" }}"));
        assert_eq!(read, Motion::Coast { until });
    }
    let pivot = |about, thrust, out| Motion::Pivot {
        angle: deg(180.0),
        rate: deg(90.0),
        about,
        sink: Speed::from_mps(40.0),
        thrust,
        out,
    };
    assert_eq!(
        motion("{ pivot = \"180 deg\", rate = 90, sink = \"40 m/s\" }"),
        pivot(PivotAbout::Pitch, 0.0, None)
    );
    assert_eq!(
        motion(
            "{ pivot = \"180 deg\", rate = 90, sink = \"40 m/s\", about = \"yaw\", towards = \"left\", \
             thrust = 0.9, out = \"120 kt\" }"
        ),
        pivot(PivotAbout::Yaw(PilotsSide::Left), 0.9, Some(kt(120.0)))
    );
}

#[test]
fn needs_are_limits_of_height_and_speed() {
    let leg = leg(
        "{ pull = \"180 deg\", g = 4, needs = { height = \"above 4000 ft\", speed = \"120 kt to 200 kt tas\" } }",
    );
    let needs = leg.needs.expect("needs");
    assert_eq!(
        needs.height,
        Some(Limits {
            least: Some(ft(4000.0)),
            most: None
        })
    );
    let tas = |kt| Some(Airspeed::True(Speed::from_kt(kt)));
    assert_eq!(
        needs.speed,
        Some(Limits {
            least: tas(120.0),
            most: tas(200.0)
        })
    );
    assert!(leg.part.is_none());
}

#[test]
fn an_aircraft_says_what_it_can_do() {
    let hold = "{ hold = \"3 nmi\", expect = \"90 s\" }";
    let only = |aircraft: &str| show(aircraft, hold).aircraft.remove(0);
    let plain = only("");
    assert!(plain.climb_power.is_none() && plain.induced.is_none() && plain.stall.is_none());
    assert!((plain.most_thrust - 0.6).abs() < 1e-12 && plain.most_g.is_none());
    let full = only(
        "climb_power = [{ speed = \"100 kt\", power = \"35 m/s\" }, { speed = \"300 kt\", power = \"60 m/s\" }]\n\
         induced = \"3 m/s at 250 kt\"\nmost_thrust = 0.8\nmost_g = 7\nleast_g = -3\nstall = \"55 kt cas\"",
    );
    assert_eq!(
        full.climb_power,
        Some(ClimbPower::BySpeed(vec![
            (kt(100.0), Speed::from_mps(35.0)),
            (kt(300.0), Speed::from_mps(60.0)),
        ]))
    );
    let induced = full.induced.expect("induced losses");
    assert_eq!(
        (induced.cost, induced.at),
        (Speed::from_mps(3.0), Speed::from_kt(250.0))
    );
    assert_eq!((full.most_g, full.least_g), (Some(7.0), Some(-3.0)));
    assert_eq!(full.stall, Some(kt(55.0)));
}

#[test]
fn what_is_no_leg_says_what_to_write() {
    let told = [
        "{ run = \"to 3000 ft\" }",
        "{ run = \"to 120 kt\" }",
        "{ run = \"to height -10 m\" }",
        "{ run = \"to speed 0 kt\" }",
        "{ run = \"for 2 s\", pitch = \"95 deg\" }",
        "{ run = \"for 2 s\", pitch = \"45 deg\", height = \"500 ft\" }",
        "{ run = \"for 2 s\", power = 0.5 }",
        "{ run = \"for 2 s\", speed = \"energy\", gain = \"3 kt/s\" }",
        "{ run = \"for 2 s\", speed = \"energy\", power = 2 }",
        "{ run = \"for 2 s\", needs = {} }",
        "{ run = \"for 2 s\", needs = { height = \"4000 ft\" } }",
        "{ run = \"for 2 s\", needs = { speed = \"200 kt to 100 kt\" } }",
        "{ turn = \"to north\", g = 2 }",
        "{ turn = \"for 10 s\", g = 2 }",
        "{ pull = \"to level\" }",
        "{ pull = \"to level\", g = 4, radius = \"150 m\" }",
        "{ pull = \"to 90 deg\", g = 4 }",
        "{ pull = \"upwards\", g = 4 }",
        "{ pull = \"to level\", g = 40 }",
        "{ push = \"to level\", radius = \"1 m\" }",
        "{ push = \"to level\", height = \"500 ft\", g = 0 }",
        "{ roll = \"0 deg\" }",
        "{ roll = \"360 deg\", towards = \"north\" }",
        "{ coast = \"to centre\" }",
        "{ coast = \"to top\", speed = \"200 kt\" }",
        "{ pivot = \"180 deg\" }",
        "{ pivot = \"180 deg\", rate = 90, sink = \"40 m/s\", towards = \"left\" }",
        "{ pivot = \"180 deg\", rate = 90, sink = \"40 m/s\", out = \"120 kt ground\" }",
        "{ loop = \"360 deg\" }",
    ]
    .map(|leg| shown(&document("", leg)));
    insta::assert_snapshot!(told.join("\n"));
}

#[test]
fn what_is_no_aircraft_says_what_to_write() {
    let hold = "{ hold = \"3 nmi\", expect = \"90 s\" }";
    let told = [
        "climb_power = []",
        "climb_power = [{ speed = \"300 kt\", power = \"60 m/s\" }, { speed = \"100 kt\", power = \"35 m/s\" }]",
        "climb_power = [{ speed = \"100 kt ground\", power = \"35 m/s\" }]",
        "induced = \"3 m/s at low speed\"",
        "induced = \"0 m/s\"",
        "most_g = 0.5",
        "stall = \"55 kt ground\"",
    ]
    .map(|aircraft| shown(&document(aircraft, hold)));
    insta::assert_snapshot!(told.join("\n"));
}
