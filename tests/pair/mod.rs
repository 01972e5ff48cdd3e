//! A made-up pair of aircraft that part within a figure.

#![allow(dead_code)] // each test file uses its part

use abeam::show::load::read;
use abeam::show::{Fault, Show};

/// Two aircraft come in together and part; `crossing` is the rest of the figure in which they cross.
pub fn document(wind: &str, crossing: &str) -> String {
    format!(
        r#"
[show]
title = "Pair"
zero = "cross.start"
[profile.both]
order = ["together", "cross"]
[site]
elevation = "0 m"
line_bearing = 90
line_distance = "230 m"
[day]
wind = [{{ height = "0 ft", from = {wind} }}]
[aircraft.one]
[aircraft.two]
[[figure]]
id = "together"
aircraft = ["one", "two"]
from = "left"
legs = [
  {{ hold = "3 nmi", expect = "60 s" }},
  {{ run = "to centre", speed = "250 kt", height = "500 ft", pass = true }},
]
[[figure]]
id = "cross"
aircraft = ["one", "two"]
from = "left"
{crossing}
"#
    )
}

/// Each with legs of its own; the first waits until both cross.
pub const APART: &str = r#"
legs = [
  { run = "for 1 nmi", lengthen = true },
  { turn = "90 deg", g = 3 },
  { turn = "270 deg", g = 3, towards = "back" },
  { run = "to centre", cross = true },
  { run = "for 1 nmi" },
]
[figure.parts]
two = [
  { turn = "180 deg", g = 4, speed = "300 kt" },
  { run = "for 1 nmi", pitch = "0 deg", power = 0 },
  { turn = "180 deg", g = 4, towards = "crowd" },
  { run = "to centre", cross = true, speed = "330 kt" },
  { run = "for 0.5 nmi" },
]
"#;

pub fn shown(text: &str) -> (Option<Show>, Vec<Fault>) {
    read("pair.toml", text)
}

pub fn loaded(text: &str) -> Show {
    let (show, faults) = shown(text);
    show.unwrap_or_else(|| panic!("{faults:#?}"))
}
