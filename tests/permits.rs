//! A figure the site does not permit is left out, with a word, wherever the display is made up.

mod planned;

use std::sync::Arc;

use abeam::live::{Event, Session, What};
use abeam::show::{Severity, load::read};
use abeam::timeline::CueTime;
use abeam::units::Instant;
use planned::{Planned, document, of_text, timed};

/// Three timed figures, the second flown where `flown` says; words, a call and a track hang on it.
fn display(flown: &str, permits: &str) -> String {
    let body = [
        timed("first", 20.0, ""),
        timed("over", 30.0, &format!("flown = \"{flown}\"")),
        timed("last", 20.0, ""),
        r#"
[[block]]
id = "words"
text = "4 s"
starts = "over.start + 2 s"
[[call]]
id = "call"
who = "anybody"
at = "over.start"
text = "Now"
[[track]]
id = "bed"
file = "10 s.flac"
starts = "over.start"
"#
        .into(),
    ]
    .concat();
    document("", &["first", "over", "last", "over"], &body).replace(
        "line_bearing",
        &format!("permits = {{ {permits} }}\nline_bearing"),
    )
}

fn keys(planned: &Planned) -> Vec<&str> {
    let figures = planned.plan.moments.figures.iter();
    figures.map(|figure| figure.key.as_str()).collect()
}

#[test]
fn what_the_site_permits_is_flown() {
    for (flown, permits) in [
        ("overhead", "overhead = true"),
        ("behind crowd", "behind_crowd = true, overhead = false"),
    ] {
        let planned = of_text(&display(flown, permits));
        assert_eq!(keys(&planned), ["first", "over", "last", "over#2"]);
        assert!(planned.faults().is_empty(), "{:?}", planned.faults());
    }
}

#[test]
fn what_it_does_not_permit_is_left_out_once_said_and_its_cues_lose_their_figure() {
    for (flown, permits, says) in [
        ("overhead", "behind_crowd = true", "overhead = true"),
        ("behind crowd", "overhead = true", "behind_crowd = true"),
        ("behind crowd", "", "behind_crowd = true"),
    ] {
        let text = display(flown, permits);
        let planned = of_text(&text);
        assert_eq!(keys(&planned), ["first", "last"]);
        assert!((planned.point("last", "start") - 20.0).abs() < 1e-9);
        let [fault] = &planned.plan.faults[..] else {
            panic!("{:?}", planned.plan.faults)
        };
        assert_eq!(fault.severity, Severity::Advice);
        assert!(fault.message.contains("\"over\"") && fault.message.contains("left out"));
        assert!(fault.help.contains(says), "{}", fault.help);
        let line = planned
            .show
            .source
            .line_column(fault.at.clone().expect("a place").start)
            .0;
        let figure = text
            .lines()
            .take(line)
            .filter(|line| *line == "[[figure]]")
            .count();
        assert_eq!(figure, 2);
        let layout = &planned.plan.layout;
        assert_eq!(layout.blocks[0].starts, CueTime::Orphaned);
        assert_eq!(
            (layout.calls[0], layout.tracks[0].starts),
            (CueTime::Orphaned, CueTime::Orphaned)
        );
    }
}

#[test]
fn on_the_day_it_cannot_be_put_in_either() {
    let planned = of_text(&display("overhead", ""));
    let mut session = Session::new(
        Arc::new(planned.show),
        Arc::new(planned.plan),
        Instant::from_s(-60.0),
    );
    let changes = [
        What::Insert {
            figure: "over".into(),
            before: None,
        },
        What::Repeat {
            figure: "over".into(),
        },
        What::Profile {
            name: "high".into(),
        },
    ];
    for what in changes {
        let at = session.now();
        session.apply(&Event { at, what });
        let flown = session
            .programme()
            .iter()
            .map(|flying| flying.entry.key.as_str());
        assert_eq!(flown.collect::<Vec<_>>(), ["first", "last"]);
    }
    let said = session
        .notices()
        .iter()
        .filter(|(_, text)| text.contains("not permitted"));
    assert_eq!(said.count(), 2);
}

#[test]
fn show_zero_cannot_hang_on_what_is_not_permitted_and_a_place_must_be_known() {
    let text = display("overhead", "").replace("title =", "zero = \"over.start\"\ntitle =");
    let (show, faults) = read("lake.toml", &text);
    assert!(show.is_none() && faults[0].message.contains("does not permit `over`"));
    let (show, faults) = read("lake.toml", &display("above", ""));
    assert!(show.is_none() && faults[0].help.contains("\"behind crowd\""));
}

#[test]
fn the_times_mark_it_and_words_that_must_be_said_say_why_they_are_not() {
    let folder = tempfile::TempDir::new().expect("a folder");
    let file = folder.path().join("lake.toml");
    let text = display("overhead", "behind_crowd = true")
        .replace("id = \"words\"\n", "id = \"words\"\nkeep = \"must\"\n");
    std::fs::write(&file, text).expect("a document");
    let output = assert_cmd::Command::cargo_bin("abeam")
        .expect("the program")
        .arg("times")
        .arg(&file)
        .output()
        .expect("it runs");
    let times = String::from_utf8_lossy(&output.stdout);
    let marked = "over: left out, flown over the crowd, which the site does not permit\n";
    assert!(times.contains(marked), "{times}");
    let told = String::from_utf8_lossy(&output.stderr);
    let told = told.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        told.contains(
            "\"words\" must be said, but \"over\" is not flown: the site does not permit | it"
        ) || told.contains(
            "\"words\" must be said, but \"over\" is not flown: the site does not permit it"
        ),
        "{told}"
    );
}
