//! Figures whose passes are shown by themselves: those that music was to meet, and those a log shows.

use maud::{Markup, html};

use super::tables::{maybe, table};
use super::{Told, lateness};
use crate::debrief::seen::Flown;
use crate::flight::PathSample;
use crate::pictures::programme::{Part, Programme, side_of};
use crate::show::{Anchor, Name, PointName};
use crate::units::quantity::{FOOT, KNOT};
use crate::units::{Length, Speed};

/// The figures to show, in order of time: by entry.
pub(super) fn to_show(told: &Told) -> Vec<Name> {
    let met = |part: &Part| {
        let meets = told
            .show
            .tracks
            .iter()
            .filter_map(|track| track.meets.as_ref());
        let mut anchors = meets.map(|meet| &meet.on.anchor);
        anchors.any(|anchor| matches!(anchor, Anchor::Point { of, .. } if *of == part.times.id))
    };
    let logged = |key: &Name| told.traced.passed.iter().any(|passed| passed.key == *key);
    let programme = Programme::of(told.show, told.plan);
    let shown = programme.flown().filter(|part| {
        let key = &part.times.key;
        (met(part) || logged(key)) && passes(told, key).next().is_some()
    });
    shown.map(|part| part.times.key.clone()).collect()
}

/// The passes of crowd centre of an entry, as flown.
pub(super) fn passes<'a>(told: &'a Told, key: &'a Name) -> impl Iterator<Item = &'a Flown> {
    let passes = told.went.points.iter();
    passes.filter(move |flown| flown.key == *key && matches!(flown.point, PointName::Abeam(_)))
}

pub(super) fn heading(told: &Told, key: &Name) -> String {
    format!("{}: the pass", told.name_of(key))
}

/// How late a pass was, as people read it after its time.
pub(super) fn off(flown: &Flown) -> String {
    flown
        .late()
        .map_or(String::new(), |span| format!(", {}", lateness(span)))
}

/// Where a point of a figure is on its planned path.
pub(super) fn sample_of(part: &Part, point: &PointName) -> Option<PathSample> {
    let mut points = part.flown.points.iter();
    let flown = points.find(|flown| flown.point == *point)?;
    part.sample_at(flown.after)
}

fn feet(height: Length) -> String {
    format!("{:.0} ft", height.m() / FOOT)
}

fn knots(speed: Speed) -> String {
    format!("{:.0} kt", speed.mps() / KNOT)
}

/// The points of the figure: when; and where, how high, how fast, as planned and, where a log of its first aircraft
/// has it, as flown.
pub(super) fn tables(told: &Told, key: &Name) -> Markup {
    let name = told.name_of(key);
    let flown: Vec<&Flown> = told
        .went
        .points
        .iter()
        .filter(|flown| flown.key == *key)
        .collect();
    let times = flown.iter().map(|flown| {
        vec![
            flown.point.to_string(),
            maybe(flown.planned.map(|at| told.clock(at))),
            told.clock(flown.at),
            maybe(flown.late().map(lateness)),
            flown.how.word().into(),
        ]
    });
    let columns = ["Point", "#Planned", "#Flown", "#Late", "=Known"];
    html! {
        (table(&format!("{name}, when"), &columns, &times.collect::<Vec<_>>()))
        (places(told, key, &flown))
    }
}

fn places(told: &Told, key: &Name, flown: &[&Flown]) -> Markup {
    let programme = Programme::of(told.show, told.plan);
    let part = programme.parts.iter().find(|part| part.times.key == *key);
    let first = part.and_then(|part| part.flown.aircraft.first());
    let trail = told
        .trails_of(key)
        .find(|trail| Some(&trail.aircraft) == first);
    let row = |flown: &&Flown| {
        let planned = part.and_then(|part| sample_of(part, &flown.point));
        let speed = planned.map(|sample| sample.ground_speed);
        let mut row = vec![
            flown.point.to_string(),
            maybe(planned.map(|sample| side_of(sample.x))),
            maybe(planned.map(|sample| feet(sample.z))),
            maybe(speed.filter(|speed| *speed > Speed::ZERO).map(knots)),
        ];
        if let Some(trail) = trail {
            let seen = trail.at(flown.at);
            row.push(maybe(seen.map(|seen| side_of(seen.spot.along))));
            row.push(maybe(seen.and_then(|seen| seen.height).map(feet)));
            row.push(maybe(seen.and_then(|seen| seen.ground_speed).map(knots)));
        }
        row
    };
    let mut columns = vec![
        "Point",
        "#Place planned",
        "#Height planned",
        "#Speed planned",
    ];
    if trail.is_some() {
        columns.extend(["#Place flown", "#Height flown", "#Speed flown"]);
    }
    let rows: Vec<Vec<String>> = flown.iter().map(row).collect();
    let caption = format!(
        "{}, where, how high and how fast over the ground",
        told.name_of(key)
    );
    table(&caption, &columns, &rows)
}
