//! From the hold and from each gate to abeam, flown again in other winds.

use maud::{Markup, html};

use super::planned::Planned;
use crate::flight::{self, FlownFigure};
use crate::pictures::programme::{Part, point_name};
use crate::show::{Day, Manner, Motion, Place, PointName, WindAt};
use crate::units::quantity::NAUTICAL_MILE;
use crate::units::{Angle, Instant, Length, Span, Speed};

/// Headwinds along the display line, kt; a tailwind is below zero.
const HEADWINDS: [i32; 9] = [-20, -15, -10, -5, 0, 5, 10, 15, 20];

/// From one place of a run-in to abeam.
struct Way {
    /// Where from.
    place: String,
    /// How long it takes in each headwind, and as planned; `None` where it cannot be flown.
    takes: Vec<Option<Span>>,
    planned: Option<Span>,
    /// Planned abeam, where the place is a hold.
    leaves_for: Option<Instant>,
}

/// The table; nothing where no figure has a hold or a gate.
pub(super) fn table(planned: &Planned) -> Markup {
    let figures = ways(planned);
    html! {
        @if !figures.is_empty() {
            table.arrivals {
                caption {
                    "From hold and gates to abeam, in seconds, by headwind along the display line (− is a "
                    "tailwind) with no crosswind; and when to leave the hold to be abeam as planned. Good "
                    "before inbound only; after that nobody gives the crew timing advice."
                }
                thead { tr {
                    th scope="col" { "Figure" }
                    th scope="col" { "From" }
                    @for kt in HEADWINDS { th scope="col" { (headwind(kt)) } }
                    th scope="col" { "As planned" }
                } }
                @for (figure, ways) in &figures {
                    tbody { @for (i, way) in ways.iter().enumerate() {
                        tr {
                            @if i == 0 { th scope="rowgroup" rowspan=(rows(ways)) { (figure) } }
                            th scope="row" { (way.place) }
                            @for takes in way.takes.iter().chain([&way.planned]) { td.number { (tenths(*takes)) } }
                        }
                        @if let Some(abeam) = way.leaves_for {
                            tr.leave {
                                th scope="row" { "leave the hold at" }
                                @for takes in way.takes.iter().chain([&way.planned]) {
                                    td.number { (leave(planned, abeam, *takes)) }
                                }
                            }
                        }
                    } }
                }
            }
        }
    }
}

fn rows(ways: &[Way]) -> usize {
    let holds = ways.iter().filter(|way| way.leaves_for.is_some());
    ways.len() + holds.count()
}

fn headwind(kt: i32) -> String {
    match kt {
        0 => "calm".into(),
        kt if kt < 0 => format!("−{} kt", -kt),
        kt => format!("+{kt} kt"),
    }
}

fn tenths(takes: Option<Span>) -> String {
    takes.map_or_else(|| "–".into(), |takes| format!("{:.1}", takes.s()))
}

fn leave(planned: &Planned, abeam: Instant, takes: Option<Span>) -> String {
    takes.map_or_else(|| "–".into(), |takes| planned.clock(abeam - takes))
}

/// For each figure with a run-in from somewhere, the ways on it.
fn ways(planned: &Planned) -> Vec<(String, Vec<Way>)> {
    let winds: Vec<Vec<FlownFigure>> = HEADWINDS
        .iter()
        .map(|kt| {
            let day = in_headwind(planned, f64::from(*kt));
            flight::fly_for_times(planned.show, &day, &planned.plan.entries).figures
        })
        .collect();
    let parts = planned.programme.parts.iter();
    parts
        .filter_map(|part| {
            let ways = ways_of(planned, part, &winds);
            (!ways.is_empty()).then(|| (part.numbered(), ways))
        })
        .collect()
}

/// The day with a wind along the display line only, a headwind for what flies towards the crowd's right.
fn in_headwind(planned: &Planned, kt: f64) -> Day {
    let line = planned.show.site.line_bearing;
    let wind = WindAt {
        height: Length::ZERO,
        from: if kt < 0.0 {
            line + Angle::from_deg(180.0)
        } else {
            line
        },
        speed: Speed::from_kt(kt.abs()),
        gust: Speed::ZERO,
    };
    Day {
        wind: vec![wind],
        metar: None,
        ..planned.programme.day.clone()
    }
}

fn ways_of(planned: &Planned, part: &Part, winds: &[Vec<FlownFigure>]) -> Vec<Way> {
    let abeam = PointName::Abeam(1);
    let Some(pass) = part.flown.points.iter().find(|met| met.point == abeam) else {
        return Vec::new();
    };
    // What is a headwind one way is a tailwind the other.
    let to_the_right = pass.along > Speed::ZERO;
    let key = &part.flown.key;
    let mut flown: Vec<Option<&FlownFigure>> = winds
        .iter()
        .map(|figures| figures.iter().find(|figure| figure.key == *key))
        .collect();
    if !to_the_right {
        flown.reverse();
    }
    let places = part.flown.points.iter().filter_map(|met| {
        let place = match &met.point {
            PointName::Inbound if met.step.waits => format!("hold, {}", hold_place(planned, part)?),
            gate => format!("{}, {}", point_name(gate), gate_place(planned, part, gate)?),
        };
        Some((place, &met.point))
    });
    let way = |(place, from): (String, &PointName)| Way {
        place,
        takes: flown
            .iter()
            .map(|figure| between((*figure)?, from, &abeam))
            .collect(),
        planned: between(part.flown, from, &abeam),
        leaves_for: (*from == PointName::Inbound)
            .then(|| part.times.expected(&abeam))
            .flatten()
            .map(|expected| expected.at),
    };
    places.map(way).collect()
}

/// How long a figure takes from one of its points to another.
fn between(figure: &FlownFigure, from: &PointName, to: &PointName) -> Option<Span> {
    let after = |wanted: &PointName| {
        let place = figure.points.iter().position(|met| met.point == *wanted)?;
        let steps = figure.points.iter().take(place + 1);
        Some(steps.map(|met| met.step.takes).sum::<Span>())
    };
    Some(after(to)? - after(from)?)
}

/// How far out a gate is; `None` for other points.
pub(super) fn gate_place(planned: &Planned, part: &Part, point: &PointName) -> Option<String> {
    let PointName::Gate(n) = point else {
        return None;
    };
    let figure = planned.show.figure(&part.times.id)?;
    let out = figure.gates.get(usize::from(*n).checked_sub(1)?)?;
    Some(miles(*out))
}

/// How far out the hold of a figure is.
fn hold_place(planned: &Planned, part: &Part) -> Option<String> {
    let figure = planned.show.figure(&part.times.id)?;
    let Manner::Flown(legs) = figure.manner_in(planned.programme.profile?) else {
        return None;
    };
    // The last one before the run-in is the one that is left towards centre.
    let pass = legs.iter().position(|leg| leg.pass)?;
    legs[..pass].iter().rev().find_map(|leg| match leg.motion {
        Motion::Hold {
            place: Place { out, .. },
            ..
        } => Some(miles(out)),
        _ => None,
    })
}

fn miles(out: Length) -> String {
    let text = format!("{:.2}", out.m() / NAUTICAL_MILE);
    format!("{} nmi", text.trim_end_matches('0').trim_end_matches('.'))
}
