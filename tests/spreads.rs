//! How sharply a planned time is known is how sharply the running show knows it before anything is seen.

mod planned;

use std::path::Path;
use std::sync::Arc;

use abeam::live::Session;
use abeam::show::{Name, PointName, load};
use abeam::timeline::{Facts, Plan, spread_of};
use abeam::units::{Instant, Span};
use planned::{PASS, Planned, document, of_text, planned, timed};
use serde_json::Value;

/// Long before anything: nothing is overdue.
const BEFORE: Instant = Instant::from_us(-86_400_000_000);

/// Checks each point of a plan against the session's own estimate.
fn check(planned: Planned) -> usize {
    let plan = Arc::new(planned.plan);
    let session = Session::new(Arc::new(planned.show), plan.clone(), BEFORE);
    let (planned, expected) = (&plan.moments.figures, &session.moments().figures);
    assert_eq!(planned.len(), expected.len());
    let mut points = 0;
    for (planned, expected) in planned.iter().zip(expected) {
        assert_eq!(planned.points.len(), expected.points.len());
        for (plan, estimate) in planned.points.iter().zip(&expected.points) {
            let ((point, plan), (same, estimate)) = (plan, estimate);
            assert_eq!(
                (point, plan.spread),
                (same, estimate.spread),
                "{}",
                planned.key
            );
            // Planned steps are added up in whole microseconds.
            assert!((plan.at - estimate.at).abs() <= Span::from_us(10));
            points += 1;
        }
    }
    points
}

#[test]
fn every_planned_spread_of_the_shows_is_the_estimates_before_any_mark() {
    let cues = Path::new(env!("CARGO_MANIFEST_DIR")).join("cues");
    for name in ["lantern-lake.toml", "first-show.toml"] {
        let show = load(&cues.join(name)).expect("a show").show;
        for profile in show.profiles.iter().map(|profile| profile.name.clone()) {
            let facts = Facts {
                readings: vec![(Span::ZERO.into(), None); show.blocks.len()],
                track_lengths: vec![Span::ZERO; show.tracks.len()],
            };
            for plan in [
                Plan::new(&show, &profile, &show.day, facts.clone()),
                Plan::mirrored(&show, &profile, &show.day, facts.clone()),
            ] {
                let show = show.clone();
                assert!(check(Planned { show, plan }) > 10, "{name} {profile}");
            }
        }
    }
}

#[test]
fn so_they_are_where_chains_join_part_and_wait() {
    let pair = |id: &str, takes: f64, more: &str| {
        timed(id, takes, more).replace("aircraft = \"solo\"", "aircraft = \"pair\"")
    };
    let both = |id: &str| {
        timed(id, 30.0, "passes = [\"10 s\"]")
            .replace("aircraft = \"solo\"", "aircraft = [\"pair\", \"solo\"]")
    };
    let body = [
        PASS.to_owned(),
        pair("roll", 20.0, "spread = \"4 s\""),
        both("cross"),
        timed("away", 25.0, "starts = \"cross.abeam + 1 s\""),
        pair("back", 50.0, "starts = \"clock 19:05:30\""),
        timed("home", 40.0, "starts = \"clock 19:08:00\""),
    ]
    .concat();
    let order = ["pass", "roll", "cross", "away", "back", "home", "pass"];
    let points = check(planned("start = \"19:00:00\"", &order, &body));
    assert!(points > 20);
}

/// A pass in still air after a hold: derived from the model, `T' = T + d (1 + s c) + (∂d/∂w) w + e`.
#[test]
fn a_spread_is_the_root_of_all_that_adds_to_it() {
    let figure = PASS.replace("from =", "spread = \"2 s\"\nfrom =");
    let planned = planned("", &["pass"], &figure);
    let times = planned
        .plan
        .moments
        .figure(&Name::from("pass"), 0)
        .expect("it is flown");
    let spread = |point: &str| {
        let expected = times.expected(&PointName::read(point)).expect("a point");
        expected.spread.s()
    };
    // Known beforehand: the start to 5 s, the hold to 10 s.
    assert!((spread("start") - 5.0).abs() < 1e-6);
    let inbound = 5_f64.hypot(10.0);
    assert!((spread("inbound") - inbound).abs() < 1e-6);
    // Pace 2 %, wind 3 kt: at 100 m/s a run of d metres takes d / 100² s less for each metre a second.
    // The crew's own 2 s are shared by time over the 60 s flown.
    let kt = 1852.0 / 3600.0;
    for (point, metres) in [
        ("gate.1", 2_000.0),
        ("gate.2", 3_000.0),
        ("abeam", 4_000.0),
        ("end", 6_000.0),
    ] {
        let takes = metres / 100.0;
        let (pace, wind) = (0.02 * takes, 3.0 * kt * metres / 100_f64.powi(2));
        let own = 2.0 * (takes / 60.0_f64).sqrt();
        let expected = [inbound, pace, wind, own]
            .iter()
            .map(|s| s * s)
            .sum::<f64>()
            .sqrt();
        // The sensitivity is a difference over 2 m/s.
        assert!(
            (spread(point) - expected).abs() < 1e-3,
            "{point}: {} {expected}",
            spread(point)
        );
    }
}

#[test]
fn a_time_is_known_as_sharply_as_what_it_hangs_on() {
    let body = [
        PASS,
        r#"
[[block]]
id = "words"
text = "5 s"
starts = "pass.gate.1 - 20 s"
[[block]]
id = "more"
text = "5 s"
starts = "words.end + 1 s"
[[track]]
id = "bed"
file = "30 s.flac"
hits = { bell = "0:10" }
meets = { hit = "bell", on = "pass.abeam", within = "1 s", if_missed = "late" }
[[call]]
id = "call"
who = "anybody"
at = "bed.bell - 2 s"
text = "Now"
[[call]]
id = "fixed"
who = "anybody"
at = "show + 3 s"
text = "Now"
"#,
    ]
    .concat();
    let Planned { show, plan } = planned("", &["pass"], &body);
    let of = |point: &str| {
        let figure = plan
            .moments
            .figure(&Name::from("pass"), 0)
            .expect("it is flown");
        figure
            .expected(&PointName::read(point))
            .map(|expected| expected.spread)
    };
    let time = |time| spread_of(&show, &plan.moments, time);
    let start = |i: usize| time(show.blocks[i].starts.as_ref().expect("a start"));
    assert_eq!((start(0), start(1)), (of("gate.1"), of("gate.1")));
    assert_eq!(time(&show.calls[0].when), of("abeam"));
    assert_eq!(time(&show.calls[1].when), Some(Span::ZERO));
}

#[test]
fn what_does_not_fit_says_its_times_with_their_spread() {
    let block = "[[block]]\nid = \"words\"\ntext = \"30 s\"\nstarts = \"pass.inbound\"\nends_by = \"pass.abeam - 20 s\"\n";
    let text = document(
        "start = \"19:00:00\"\nslot_ends = \"19:01:50\"",
        &["pass"],
        &[PASS, block].concat(),
    );
    let planned = of_text(&text);
    let messages = planned.messages().join("\n");
    // 11.2 s and 11.3 s, as derived above, without a stated spread of the crew: 2 s.
    assert!(
        messages.contains("is not over by 19:01:20 ±11.3 s, its ends_by: 10 s too long"),
        "{messages}"
    );
    assert!(
        messages.contains("the display ends at 19:02:00 ±11.5 s"),
        "{messages}"
    );
}

#[test]
fn times_have_their_spreads_as_text_and_as_json() {
    let first = Path::new(env!("CARGO_MANIFEST_DIR")).join("cues/first-show.toml");
    let run = |json: &[&str]| {
        let mut command = assert_cmd::Command::cargo_bin("abeam").expect("the program");
        let output = command
            .arg("times")
            .arg(&first)
            .args(json)
            .output()
            .expect("it runs");
        String::from_utf8(output.stdout).expect("text")
    };
    let report: Value = serde_json::from_str(&run(&["--json"])).expect("JSON");
    let salute = &report["figures"][3];
    let number = |value: &Value| value.as_f64().expect("a number");
    let spreads = [
        number(&salute["start_spread_s"]),
        number(&salute["inbound_spread_s"]),
        number(&salute["gates_spread_s"][0]),
        number(&salute["abeam_spread_s"][0]),
        number(&salute["end_spread_s"]),
    ];
    assert!(spreads.is_sorted() && spreads[0] > 5.0, "{spreads:?}");
    assert!(number(&salute["gates_s"][0]) < number(&salute["abeam_s"][0]));
    let text = run(&[]);
    assert!(text.contains(&format!("±{:.1}", spreads[3])), "{text}");
    // What hangs on a point is known as sharply as the point.
    assert_eq!(report["calls"][0]["spread_s"], salute["abeam_spread_s"][0]);
    assert_eq!(
        report["tracks"][0]["start_spread_s"],
        salute["abeam_spread_s"][0]
    );
    assert_eq!(
        report["blocks"][1]["start_spread_s"],
        salute["inbound_spread_s"]
    );
    assert_eq!(
        report["silences"][0]["end_spread_s"],
        salute["abeam_spread_s"][0]
    );
}
