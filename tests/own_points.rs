//! Where the aircraft of a figure part, each has points of its own: cues hang on them, and they are shown.

mod pair;

use std::path::Path;
use std::process::Command;
use std::sync::Arc;

use abeam::live::{Event, Mark, MarkKind, PointOf, Session, What};
use abeam::show::{Name, OwnPoint, PointName, Show};
use abeam::timeline::{Facts, Plan};
use abeam::units::{Instant, Span};
use pair::{APART, document, loaded, shown};

/// After the crossing the second aircraft comes back for a pass of its own, and calls hang on what each does.
fn with_a_second_pass() -> String {
    let back = "  { run = \"for 0.5 nmi\" },\n  { turn = \"180 deg\", g = 4 },\n  { run = \"to centre\", pass = true },\n]";
    let parts = APART.replace("  { run = \"for 0.5 nmi\" },\n]", back);
    let mut text = document("60, speed = \"18 kt\"", &parts);
    for (id, at) in [
        ("again", "cross.two.abeam.2 + 1 s"),
        ("out", "cross.two.end"),
        ("sound", "cross.two.heard"),
        ("first", "cross.one.abeam"),
    ] {
        text += &format!(
            "[[call]]\nid = \"{id}\"\nwho = \"coordinator\"\nat = \"{at}\"\ntext = \"Now\"\n"
        );
    }
    text
}

fn planned(text: &str) -> (Arc<Show>, Plan) {
    let show = Arc::new(loaded(text));
    let plan = Plan::new(&show, &Name::from("both"), &show.day, Facts::default());
    assert!(!plan.is_faulty(), "{:#?}", plan.faults);
    (show, plan)
}

#[test]
fn each_aircraft_has_points_of_its_own_that_cues_hang_on() {
    let (_, plan) = planned(&with_a_second_pass());
    let (times, two) = (&plan.moments.figures[1], &plan.flight.figures[1].parts[1]);
    // From where it was then, at the 340.3 m/s of ISO 2533 at 15 degrees.
    let heard = two.heard_after[0];
    let mut path = two.path.iter();
    let there = path.find(|sample| sample.after == two.abeams[0]);
    let there = there.expect("the end of its run to centre");
    let away = there.y.m().hypot(there.z.m());
    assert!(there.x.m().abs() < 0.01 && (heard.s() - away / 340.3).abs() < 2e-3);
    let after = [
        two.abeams[1] + Span::from_s(1.0),
        two.ends,
        two.abeams[0] + heard,
        plan.flight.figures[1].parts[0].abeams[0],
    ];
    for (call, after) in plan.layout.calls.iter().zip(after) {
        let at = call.instant().expect("a time");
        assert!((at - times.start() - after).s().abs() < 1e-3, "{at}");
    }
    // How sharply it is known lies between the points around it.
    let spread = |point: PointName| times.expected(&point).expect("a point").spread;
    let own = |point| spread(PointName::Own("two".into(), point));
    let again = own(OwnPoint::Abeam(2));
    assert!(spread(PointName::Cross) < again && again <= spread(PointName::End));
    assert_eq!(own(OwnPoint::End), spread(PointName::End));
}

#[test]
fn they_move_with_the_figure_as_it_is_marked() {
    let (show, plan) = planned(&with_a_second_pass());
    let mut session = Session::new(show, Arc::new(plan), Instant::from_s(-60.0));
    let expects = |session: &Session, point: PointName| {
        let times = session.times_of(&"cross".into()).expect("the crossing");
        times.expected(&point).expect("a point").at
    };
    let again = || PointName::Own("two".into(), OwnPoint::Abeam(2));
    let planned = expects(&session, again());
    let late = expects(&session, PointName::Abeam(1)) + Span::from_s(4.0);
    let point = PointOf {
        key: "cross".into(),
        point: PointName::Abeam(1),
    };
    session.apply(&Event {
        at: late,
        what: What::Mark(Mark {
            kind: MarkKind::Abeam,
            observed: late,
            point: Some(point),
        }),
    });
    let moved = (expects(&session, again()) - planned).s();
    assert!((3.5..5.0).contains(&moved), "{moved}");
    // It is no point that a key marks.
    assert_eq!(MarkKind::of(&again()), None);
}

#[test]
fn times_pictures_and_the_teams_sheet_show_them() {
    let file = Path::new(env!("CARGO_TARGET_TMPDIR")).join("pair-with-own-points.toml");
    std::fs::write(&file, with_a_second_pass()).expect("a file");
    let told = |arguments: &[&str]| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_abeam"));
        let told = command.args(arguments).arg(&file).output();
        String::from_utf8(told.expect("the program").stdout).expect("text")
    };
    let (show, plan) = planned(&with_a_second_pass());
    let pass = plan.moments.figures[1]
        .expected(&PointName::Own("two".into(), OwnPoint::Abeam(2)))
        .expect("a pass");
    let times = told(&["times"]);
    let of_two = |line: &&str| line.split_whitespace().take(2).eq(["cross", "two"]);
    let row = times.lines().find(of_two).expect("a row");
    let said = format!("{} ±{:.1}", pass.at, pass.spread.s());
    assert!(row.contains(&said), "{row}");
    let json: serde_json::Value = serde_json::from_str(&told(&["times", "--json"])).expect("JSON");
    let part = &json["figures"][1]["parts"][1];
    assert!((part["abeam_s"][1].as_f64().expect("s") - pass.at.s()).abs() < 1e-9);
    assert!((part["abeam_spread_s"][1].as_f64().expect("s") - pass.spread.s()).abs() < 1e-9);
    let heard = plan.moments.figures[1].expected(&PointName::Own("two".into(), OwnPoint::Heard(2)));
    let heard = heard.expect("its sound").at.s();
    assert!((part["heard_s"][1].as_f64().expect("s") - heard).abs() < 1e-9);
    let pictures = abeam::pictures::pictures(&show, &plan);
    let own = pictures
        .iter()
        .find(|picture| picture.name == "plan-cross.svg");
    assert!(own.expect("a picture").svg.contains(">two abeam 2<"));
    let sheet = told(&["sheet", "--for", "team"]);
    assert_eq!(sheet.matches(" two</div>").count(), 2, "{sheet}");
}

#[test]
fn a_point_that_no_aircraft_has_is_told_with_those_there_are() {
    let text = with_a_second_pass().replace("cross.two.end", "cross.three.end");
    let (_, faults) = shown(&text);
    let fault = faults.first().expect("a fault");
    assert!(fault.message.contains("`three.end`"), "{fault:?}");
    let help = &fault.help;
    assert!(
        help.contains("`two.abeam.2`") && help.contains("`two.end`"),
        "{fault:?}"
    );
}
