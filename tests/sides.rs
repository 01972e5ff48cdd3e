//! `{side}` and `{other side}` are the sides a figure comes from and goes to, as it is flown today.

mod planned;
mod stage;

use std::sync::Arc;

use abeam::live::{Event, Session, What};
use abeam::screens::Theme;
use abeam::script::speaking_time;
use abeam::show::{Narrator, Side, load::read, with_sides};
use abeam::timeline::{Facts, Plan, Version};
use abeam::units::{Instant, Span};
use planned::{PASS, document, timed};

const WORDS: &str = r#"
[[block]]
id = "words"
text = "From your {side}, out to your {other side}."
short = "From your {side}."
starts = "pass.inbound"
[[block]]
id = "after"
text = "Gone to the {other side}."
starts = "words.end + 1 s"
[[block]]
id = "before"
text = "Look {side}."
ends_by = "pass.abeam - 4 s"
[[call]]
id = "call"
who = "anybody"
at = "pass.gate.1"
text = "Coming from the {side}"
"#;

fn session(text: &str, mirrored: bool) -> Session {
    let (show, faults) = read("lake.toml", text);
    let show = show.unwrap_or_else(|| panic!("{faults:#?}"));
    let facts = Facts {
        readings: vec![
            (Span::from_s(3.0).into(), Some(Span::from_s(2.0).into()));
            show.blocks.len()
        ],
        track_lengths: Vec::new(),
    };
    let plan = if mirrored {
        Plan::mirrored(&show, &show.profile, &show.day, facts)
    } else {
        Plan::new(&show, &show.profile, &show.day, facts)
    };
    Session::new(Arc::new(show), Arc::new(plan), Instant::from_s(-60.0))
}

fn said(session: &Session) -> [String; 5] {
    [
        session.block_words(0, Version::Full).text.clone(),
        session.block_words(0, Version::Short).text.clone(),
        session.block_words(1, Version::Full).text.clone(),
        session.block_words(2, Version::Full).text.clone(),
        session.call_text(0).into_owned(),
    ]
}

const FROM_LEFT: [&str; 5] = [
    "From your left, out to your right.",
    "From your left.",
    "Gone to the right.",
    "Look left.",
    "Coming from the left",
];
const FROM_RIGHT: [&str; 5] = [
    "From your right, out to your left.",
    "From your right.",
    "Gone to the left.",
    "Look right.",
    "Coming from the right",
];

#[test]
fn words_and_calls_say_the_side_flown() {
    let text = document("", &["pass"], &[PASS, WORDS].concat());
    assert_eq!(said(&session(&text, false)), FROM_LEFT);
    assert_eq!(said(&session(&text, true)), FROM_RIGHT);
    let right = text.replace("from = \"left\"", "from = \"right\"");
    assert_eq!(said(&session(&right, false)), FROM_RIGHT);
}

#[test]
fn mirrored_on_the_day_they_change_with_it() {
    let text = document("", &["pass"], &[PASS, WORDS].concat());
    let mut session = session(&text, false);
    for expected in [FROM_RIGHT, FROM_LEFT] {
        session.apply(&Event {
            at: session.now(),
            what: What::Mirror { key: "pass".into() },
        });
        assert_eq!(said(&session), expected);
    }
}

#[test]
fn the_stand_shows_them_and_changes_with_the_day() {
    let text = include_str!("stage/show.toml").replace("Now watch", "To the {side}, now watch");
    let mut session = stage::of_text(&text);
    for (mirrored, from) in [(false, "To the left, now"), (true, "To the right, now")] {
        if mirrored {
            let key = "slow-pass".into();
            stage::happen(&mut session, -60.0, What::Mirror { key });
        }
        let mut panel = stage::panel(&session, Theme::Dark);
        let stand = stage::drawn(&mut panel, &session, &stage::desk(), (120, 40));
        let stand = stage::text(&stand)
            .split_whitespace()
            .collect::<Vec<_>>()
            .join(" ");
        assert!(stand.contains(from), "{stand}");
    }
}

/// Where the points of the pass are drawn from above, px: as rings of paper's colour.
fn rings(session: &Session) -> Vec<f64> {
    let all = abeam::pictures::pictures(session.show(), session.plan());
    let own = all.iter().find(|picture| picture.name == "plan-pass.svg");
    let picture = roxmltree::Document::parse(&own.expect("a picture").svg).expect("a picture");
    let rings = picture.descendants();
    let is_ring = |node: &roxmltree::Node| {
        node.attribute("r") == Some("3") && node.attribute("fill") == Some("#ffffff")
    };
    let rings = rings.filter(is_ring);
    let x = |ring: roxmltree::Node| ring.attribute("cx").expect("x").parse().expect("a number");
    rings.map(x).collect()
}

#[test]
fn pictures_are_flipped_with_the_side() {
    let text = document("", &["pass"], PASS);
    let (plain, mirrored) = (session(&text, false), session(&text, true));
    let (plain, mirrored) = (rings(&plain), rings(&mirrored));
    assert!(plain.len() == 5 && mirrored.len() == 5, "{plain:?}");
    // Abeam, the same in both, is in the middle.
    let sums: Vec<f64> = plain.iter().zip(&mirrored).map(|(a, b)| a + b).collect();
    for sum in &sums {
        assert!((sum - sums[0]).abs() < 0.3, "{plain:?} {mirrored:?}");
    }
    assert!((plain[0] - mirrored[0]).abs() > 100.0);
}

#[test]
fn either_side_takes_as_long_to_say() {
    let text = "Look to your {side}. Now to your {other side}, and {side} again.";
    let narrator = Narrator::default();
    let time = |from| speaking_time(&with_sides(text, from), &narrator);
    let apart = time(Side::Left) - time(Side::Right);
    assert!(apart.abs().s() < 0.1, "{apart}");
}

/// The only fault of a show with this `{…}` in its words: what is said, and what stands at its place.
fn fault(figure: &str, block: &str) -> (String, String) {
    let text = document("", &["pass"], &[figure, block].concat());
    let (show, faults) = read("lake.toml", &text);
    assert!(show.is_none(), "{block}");
    let [fault] = &faults[..] else {
        panic!("{faults:?}")
    };
    let at = fault.at.clone().expect("a place");
    (
        format!("{}: {}", fault.message, fault.help),
        text[at].to_owned(),
    )
}

fn block(text: &str, starts: &str) -> String {
    format!("[[block]]\nid = \"words\"\nkeep = \"may\"\ntext = \"{text}\"\nstarts = \"{starts}\"\n")
}

#[test]
fn the_prepared_words_hang_on_no_figure() {
    let words = "[words]\naccident = \"Leave by the {side}.\"\n";
    let text = document("", &["pass"], &[PASS, words].concat());
    let (show, faults) = read("lake.toml", &text);
    assert!(show.is_none() && faults[0].message.contains("`accident` has a brace"));
}

#[test]
fn what_cannot_be_said_is_a_fault_where_it_stands() {
    let pass_without_side = timed("pass", 20.0, "");
    for (figure, block, says, at) in [
        (
            PASS,
            block("From {sied} now", "pass.start"),
            "did you mean `side`?",
            "{sied}",
        ),
        (
            PASS,
            block("At {time} now", "pass.start"),
            "`side`, `other side`",
            "{time}",
        ),
        (PASS, block("At {side now", "pass.start"), "not closed", "{"),
        (
            PASS,
            block("From {side}", "show + 3 s"),
            "hangs on no figure",
            "{side}",
        ),
        (
            pass_without_side.as_str(),
            block("To {other side}", "pass.start"),
            "nothing says from which side \"pass\" comes",
            "{other side}",
        ),
    ] {
        let (told, place) = fault(figure, &block);
        assert!(told.contains(says), "{told}");
        assert_eq!(place, at);
    }
}

/// `mirrored` in the document is what the day's key does to the same figure: every side in it changes, its words' too.
#[test]
fn a_figure_mirrored_in_the_document_is_the_figure_mirrored_on_the_day() {
    let figure = r#"
[[figure]]
id = "pass"
name = "Pass"
aircraft = "solo"
from = "left"
MORE
gates = ["1 nmi"]
legs = [
  { hold = "3 nmi left", expect = "40 s", spread = "10 s" },
  { run = "to centre", speed = "200 kt tas", height = "3000 ft", pass = true },
  { run = "to 1 nmi right" },
  { roll = "90 deg", rate = 120, towards = "left", power = 0 },
  { roll = "90 deg", rate = 120, towards = "back", power = 0 },
  { turn = "to left", g = 3, towards = "left" },
  { pivot = "180 deg", rate = 60, about = "yaw", towards = "left", sink = "60 m/s" },
]
"#;
    let flown = |more: &str, mirrored: bool| {
        let text = document(
            "",
            &["pass"],
            &format!("{}{WORDS}", figure.replace("MORE", more)),
        );
        let text = text.replace("speed = \"0 kt\"", "speed = \"14 kt\"");
        let (show, faults) = read("sides.toml", &text);
        let show = show.unwrap_or_else(|| panic!("{faults:?}"));
        let facts = Facts {
            readings: vec![(Span::ZERO.into(), None); show.blocks.len()],
            track_lengths: vec![Span::ZERO; show.tracks.len()],
        };
        let plan = match mirrored {
            true => Plan::mirrored(&show, &show.profile, &show.day, facts),
            false => Plan::new(&show, &show.profile, &show.day, facts),
        };
        let pass = &plan.flight.figures[0];
        let points: Vec<_> = pass
            .points
            .iter()
            .map(|met| (met.point.clone(), met.after))
            .collect();
        (
            points,
            pass.path().to_vec(),
            said(&session(&text, mirrored)),
        )
    };
    let (as_written, there) = (flown("", false), flown("mirrored = true", false));
    assert_eq!(there, flown("", true));
    assert_eq!(as_written, flown("mirrored = true", true));
    assert_ne!(as_written.1, there.1);
    assert_ne!(as_written.2, there.2);
    assert_eq!(as_written, flown("mirrored = false", false));
}
