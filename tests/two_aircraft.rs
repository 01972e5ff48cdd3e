//! Two aircraft, each on a chain of its own, that wait for one another where their figures join.

use std::sync::Arc;

use abeam::live::{Event, Mark, MarkKind, PointOf, Session, What};
use abeam::show::load::read;
use abeam::show::{Name, PointName};
use abeam::timeline::{Facts, Plan};
use abeam::units::Instant;

/// An invented pair: the solo works while the second aircraft waits far out, then both pass together.
const DISPLAY: &str = r#"
[show]
title = "Two"

[profile.both]
order = ["solo-pass", "far-pass", "together", "home"]

[site]
elevation = "0 m"
line_bearing = 90
line_distance = "230 m"

[aircraft.solo]
name = "Lantern One"
[aircraft.second]
name = "Lantern Two"

[[figure]]
id = "solo-pass"
name = "Solo pass"
aircraft = "solo"
takes = "60 s"
passes = ["30 s"]
spread = "2 s"

[[figure]]
id = "far-pass"
name = "Pass of the second aircraft"
aircraft = "second"
starts = "solo-pass.start + 20 s"
takes = "70 s"
passes = ["50 s"]
spread = "2 s"

[[figure]]
id = "together"
name = "Together"
aircraft = ["solo", "second"]
takes = "40 s"
passes = ["20 s"]
spread = "2 s"

[[figure]]
id = "home"
name = "Home"
aircraft = "second"
takes = "30 s"
spread = "2 s"
"#;

fn session() -> Session {
    let (show, faults) = read("two.toml", DISPLAY);
    let show = Arc::new(show.unwrap_or_else(|| panic!("{faults:#?}")));
    let plan = Plan::new(&show, &Name::from("both"), &show.day, Facts::default());
    assert!(!plan.is_faulty(), "{:#?}", plan.faults);
    Session::new(show, Arc::new(plan), Instant::from_s(-60.0))
}

fn expects(session: &Session, key: &str, point: &PointName) -> f64 {
    let times = session
        .times_of(&key.into())
        .expect("a figure that is flown");
    times.expected(point).expect("a point of it").at.s()
}

fn mark(session: &mut Session, key: &str, s: f64) {
    let mark = Mark {
        kind: MarkKind::Abeam,
        observed: Instant::from_s(s),
        point: Some(PointOf {
            key: key.into(),
            point: PointName::Abeam(1),
        }),
    };
    session.apply(&Event {
        at: Instant::from_s(s),
        what: What::Mark(mark),
    });
}

#[test]
fn a_joined_figure_is_planned_when_the_later_of_its_aircraft_is_there() {
    let session = session();
    // The solo is free at 60 s, the second aircraft at 20 s + 70 s.
    assert!((expects(&session, "together", &PointName::Start) - 90.0).abs() < 1e-6);
    assert!((expects(&session, "home", &PointName::Start) - 130.0).abs() < 1e-6);
}

#[test]
fn whoever_is_late_holds_the_joined_figure_up_and_what_follows_it() {
    let mut session = session();
    mark(&mut session, "solo-pass", 30.0);
    let before = expects(&session, "together", &PointName::Start);
    // The second aircraft passes 8 s after its planned 70 s.
    mark(&mut session, "far-pass", 78.0);
    let start = expects(&session, "together", &PointName::Start);
    assert!(
        (6.0..10.0).contains(&(start - before)),
        "{before} then {start}"
    );
    let home = expects(&session, "home", &PointName::Start);
    assert!(
        (home - (start + 40.0)).abs() < 2.0,
        "together {start}, home {home}"
    );
}

#[test]
fn an_aircraft_that_is_early_waits_at_the_join() {
    let mut session = session();
    mark(&mut session, "solo-pass", 24.0);
    let start = expects(&session, "together", &PointName::Start);
    // The second aircraft hangs on the solo's start, learned to be a few seconds early; it is the later one still.
    let second = expects(&session, "far-pass", &PointName::End);
    assert!(
        (start - second).abs() < 1e-3,
        "together {start}, second free {second}"
    );
    assert!(expects(&session, "solo-pass", &PointName::End) < start - 20.0);
}

#[test]
fn a_pass_nobody_saw_is_waited_for_whatever_joins_later() {
    let mut session = session();
    for s in [31.0, 45.0, 70.0] {
        session.apply(&Event {
            at: Instant::from_s(s),
            what: What::Tick,
        });
        assert!(
            expects(&session, "solo-pass", &PointName::Abeam(1)) > s,
            "at {s}"
        );
    }
}

#[test]
fn after_a_delay_only_what_waits_for_nothing_starts() {
    let mut session = session();
    let happen = |session: &mut Session, s: f64, what: What| {
        session.apply(&Event {
            at: Instant::from_s(s),
            what,
        });
    };
    happen(&mut session, -5.0, What::Delay);
    happen(&mut session, 300.0, What::Resume);
    let start = |session: &Session, key: &str| expects(session, key, &PointName::Start);
    assert!((start(&session, "solo-pass") - 300.0).abs() < 0.5);
    assert!(
        start(&session, "far-pass") > 315.0,
        "{}",
        start(&session, "far-pass")
    );
    assert!(start(&session, "together") > start(&session, "far-pass") + 60.0);
}
