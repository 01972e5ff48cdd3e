//! Displays to be drawn, and what is needed to look at a drawing.

use std::sync::Arc;

use std::path::Path;

use abeam::show::load::{load, read};
use abeam::show::{Day, Name, Show};
use abeam::timeline::{Facts, Plan};
use abeam::units::{Length, Span, Speed};
use roxmltree::{Document, Node};

pub struct Planned {
    pub show: Show,
    pub plan: Plan,
}

fn planned(show: Show) -> Planned {
    let facts = Facts {
        readings: vec![(Span::ZERO.into(), None); show.blocks.len()],
        track_lengths: vec![Span::ZERO; show.tracks.len()],
    };
    let (profile, day): (Name, Day) = (show.profile.clone(), show.day.clone());
    let plan = Plan::new(&show, &profile, &day, facts);
    Planned { show, plan }
}

fn of_text(text: &str) -> Planned {
    let (show, faults) = read("drawn.toml", text);
    planned(show.unwrap_or_else(|| panic!("{faults:#?}")))
}

/// The demonstration show.
pub fn demonstration() -> Planned {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("cues/lantern-lake.toml");
    planned(
        load(&file)
            .unwrap_or_else(|_| panic!("it does not load"))
            .show,
    )
}

const TWO: &str = r#"
[show]
title = "Two at the lake"
start = "15:00:20"
[profile.all]
order = ["solo-loop", "second-crosses", "away"]
[site]
elevation = "0 m"
line_bearing = 90
line_distance = "230 m"
[day]
wind = [{ height = "0 ft", from = 270, speed = "10 kt" }]
[aircraft.solo]
name = "Lantern One"
[aircraft.second]
name = "Lantern Two"

[[figure]]
id = "solo-loop"
name = "Solo loop"
aircraft = "solo"
from = "left"
gates = ["1 nmi"]
spread = "1 s"
legs = [
  { run = "to centre", speed = "200 kt tas", height = "500 ft", pass = true },
  { run = "for 0.5 nmi" },
]

[[figure]]
id = "second-crosses"
name = "Second crosses"
aircraft = "second"
from = "right"
gates = ["1 nmi"]
starts = "solo-loop.start + 10 s"
spread = "1 s"
legs = [
  { hold = "1.5 nmi", expect = "20 s", spread = "4 s" },
  { run = "to centre", speed = "150 kt tas", height = "300 ft", pass = true },
  { turn = "180 deg", g = 3, towards = "away" },
]

[[figure]]
id = "away"
name = "Away & <home>"
aircraft = ["solo", "second"]
takes = "40 s"
spread = "2 s"
"#;

/// Two aircraft, of which the first flies a made-up loop: a circle of 200 m radius over centre.
pub fn with_a_loop() -> Planned {
    let mut planned = of_text(TWO);
    let path = &mut Arc::make_mut(&mut planned.plan.flight.figures[0].parts)[0].path;
    let mut sample = *path.last().expect("a path");
    let takes = sample.after.s();
    path.clear();
    for i in 0..=80 {
        let share = f64::from(i) / 80.0;
        let angle = std::f64::consts::TAU * share;
        sample.after = Span::from_s(takes * share);
        sample.x = Length::from_m(200.0 * angle.sin());
        sample.y = Length::from_m(230.0);
        sample.z = Length::from_m(350.0 - 200.0 * angle.cos());
        sample.ground_speed = Speed::from_mps(90.0 + 20.0 * angle.cos());
        path.push(sample);
    }
    planned
}

/// Thirty figures of one minute and less, some with names no page has room for.
pub fn crowded() -> Planned {
    let name = |i: usize| match i % 3 {
        0 => format!("{i}th"),
        1 => format!("The {i}th figure, whose name says all of how it is flown"),
        _ => "Éclair \\u0001 und Zurück ".repeat(12),
    };
    let ids: Vec<String> = (1..=30).map(|i| format!("f{i}")).collect();
    let figures: String = (1..=30)
        .map(|i| {
            let (name, speed, hard) = (name(i), 180 + 5 * i, 2 + i % 4);
            let manner = if i % 5 == 0 {
                "takes = \"7 s\"\npasses = [\"1 s\", \"2 s\", \"3 s\"]".to_owned()
            } else {
                format!(
                    "gates = [\"1 nmi\", \"0.5 nmi\"]\nlegs = [\n\
                     {{ hold = \"1.2 nmi\", expect = \"2 s\", spread = \"15 s\" }},\n\
                     {{ run = \"to centre\", speed = \"{speed} kt cas\", height = \"{} ft\", pass = true }},\n\
                     {{ turn = \"360 deg\", g = {hard}, towards = \"away\" }},\n]",
                    300 + 40 * i
                )
            };
            let from = if i % 2 == 0 { "left" } else { "right" };
            format!(
                "[[figure]]\nid = \"f{i}\"\nname = \"{name}\"\naircraft = \"a{}\"\nfrom = \"{from}\"\nspread = \"4 s\"\n{manner}\n",
                i % 4
            )
        })
        .collect();
    let aircraft: String = (0..4)
        .map(|i| {
            format!(
                "[aircraft.a{i}]\nname = \"{}\"\n",
                "Lantern of the long name ".repeat(1 + 3 * i)
            )
        })
        .collect();
    of_text(&format!(
        "[show]\ntitle = \"{}\"\nstart = \"23:55:00\"\n[profile.all]\norder = {ids:?}\n\
         [site]\nelevation = \"0 m\"\nline_bearing = 200\nline_distance = \"300 m\"\n\
         [day]\nwind = [\n{{ height = \"0 ft\", from = 10, speed = \"12 kt\" }},\n\
         {{ height = \"2000 ft\", from = 30, speed = \"22 kt\" }},\n\
         {{ height = \"5000 ft\", from = 50, speed = \"0 kt\" }},\n\
         ]\n{aircraft}{figures}",
        "A title that goes on and on ".repeat(9)
    ))
}

/// Nothing is flown leg by leg, and the show has no time of day.
pub fn timed_only() -> Planned {
    of_text(
        "[show]\ntitle = \"Timed\"\n[profile.all]\norder = [\"one\", \"one\"]\n\
         [site]\nelevation = \"0 m\"\nline_bearing = 0\nline_distance = \"100 m\"\n\
         [aircraft.solo]\nname = \"Solo\"\n\
         [[figure]]\nid = \"one\"\nname = \"One\"\ntakes = \"90 s\"\npasses = [\"50 s\"]\n",
    )
}

/// Widths of letters of a font, as another library reads them (tests/reference/letters.py).
pub struct Letters(Vec<(char, f64)>);

impl Letters {
    pub fn of(font: &str) -> Letters {
        let mut lines = include_str!("../reference/letters.csv").lines();
        let head: Vec<&str> = lines.next().expect("a head").split(',').collect();
        let column = head.iter().position(|name| *name == font).expect("a font");
        let row = |line: &str| {
            let cells: Vec<&str> = line.split(',').collect();
            let code: u32 = cells[0].parse().expect("a code");
            let letter = char::from_u32(code).expect("a letter");
            (letter, cells[column].parse().expect("a width"))
        };
        Letters(lines.map(row).collect())
    }

    pub fn width(&self, text: &str, size: f64) -> f64 {
        let advance = |letter: char| {
            let known = self.0.iter().find(|(known, _)| *known == letter);
            known
                .unwrap_or_else(|| panic!("{letter:?} is not in letters.csv"))
                .1
        };
        text.chars().map(advance).sum::<f64>() * size / 1000.0
    }
}

/// The texts of a picture.
pub fn texts<'a>(document: &'a Document<'a>) -> Vec<&'a str> {
    let texts = document
        .descendants()
        .filter(|node| node.has_tag_name("text"));
    texts.filter_map(|node| node.text()).collect()
}

/// The points of a polyline.
pub fn points(line: &Node) -> Vec<[f64; 2]> {
    let points = line.attribute("points").expect("points").split(' ');
    let number = |text: &str| text.parse().expect("a number");
    let point = |text: &str| {
        let (x, y) = text.split_once(',').expect("x,y");
        [number(x), number(y)]
    };
    points.map(point).collect()
}
