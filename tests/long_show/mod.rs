//! A show of 60 figures, as long as a display ever is: 30 passes with a timed reposition after each.

#![allow(dead_code)] // each test file uses its part

use std::fmt::Write;
use std::sync::Arc;

use abeam::script::readings;
use abeam::show::load::read;
use abeam::show::{PointName, Show};
use abeam::timeline::{Facts, Plan};
use abeam::units::{Instant, Span};

const HEAD: &str = r#"
[show]
title = "Long show"
start = "14:00:00"
zero = "pass-0.abeam"
profile = "high"
[site]
elevation = "100 m"
line_bearing = 90
line_distance = "230 m"
[aircraft.solo]
name = "Lantern One"
"#;

/// Its document: with every pass a block, a silence and a call; with every third a track that meets it.
pub fn document() -> String {
    let order: Vec<String> = (0..30)
        .map(|n| format!("\"pass-{n}\", \"back-{n}\""))
        .collect();
    let mut text = format!("{HEAD}[profile.high]\norder = [{}]\n", order.join(", "));
    for n in 0..30 {
        let _ = write!(
            text,
            r#"
[[figure]]
id = "pass-{n}"
name = "Pass {n}"
aircraft = "solo"
from = "left"
gates = ["2 nmi", "1 nmi"]
spread = "1.5 s"
legs = [
  {{ run = "to centre", speed = "240 kt tas", height = "500 ft", pass = true }},
  {{ run = "for 1 nmi" }},
]
[[figure]]
id = "back-{n}"
name = "Reposition {n}"
aircraft = "solo"
from = "right"
spread = "2 s"
takes = "40 s"
[[block]]
id = "words-{n}"
text = "This is what is said of the pass that comes now, and of the one who flies it."
short = "This is what is said of it."
starts = "back-{n}.start + 5 s"
ends_by = "back-{n}.end"
[[silence]]
from = "pass-{n}.abeam - 2 s"
until = "pass-{n}.abeam + 3 s"
[[call]]
id = "smoke-{n}"
who = "coordinator"
at = "pass-{n}.abeam - 10 s"
text = "Smoke on"
"#
        );
        if n % 3 == 0 {
            let _ = write!(
                text,
                r#"
[[track]]
id = "music-{n}"
file = "music.flac"
fade_out = "4 s"
hits = {{ peak = "0:24.000" }}
meets = {{ hit = "peak", on = "pass-{n}.abeam" }}
"#
            );
        }
    }
    text
}

/// The show, planned; its tracks last a minute.
pub fn plan() -> (Arc<Show>, Arc<Plan>) {
    let (show, faults) = read("long.toml", &document());
    let show = show.unwrap_or_else(|| panic!("the long show has faults: {faults:#?}"));
    let facts = Facts {
        readings: readings(&show),
        track_lengths: vec![Span::from_s(60.0); show.tracks.len()],
    };
    let plan = Plan::new(&show, &show.profile, &show.day, facts);
    (Arc::new(show), Arc::new(plan))
}

/// When each pass is abeam as planned, in order.
pub fn passes(plan: &Plan) -> Vec<Instant> {
    plan.moments
        .figures
        .iter()
        .filter_map(|figure| figure.expected(&PointName::Abeam(1)))
        .map(|abeam| abeam.at)
        .collect()
}
