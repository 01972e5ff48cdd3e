//! What is flown, as pictures name and count it.

use std::collections::HashMap;

use super::kit::ink::{Style, style};
use super::kit::scale::{multiples, time_step, trimmed};
use crate::flight::{FlownFigure, FlownPart, PathSample, observed};
use crate::show::{Day, Name, PointName, Show};
use crate::timeline::clock::told;
use crate::timeline::moments::sample_at;
use crate::timeline::{Expected, FigureTimes, Plan};
use crate::units::quantity::NAUTICAL_MILE;
use crate::units::{Instant, Length, Span};

/// A planned display.
pub struct Programme<'a> {
    /// The show.
    pub show: &'a Show,
    /// The profile flown, if anything is.
    pub profile: Option<&'a Name>,
    /// The day it is planned for, its report read into it.
    pub day: Day,
    /// Its figures, in order.
    pub parts: Vec<Part<'a>>,
}

/// One flying of a figure.
pub struct Part<'a> {
    /// Its number in the display, from 1.
    pub number: usize,
    /// What people call it.
    pub name: &'a str,
    /// Who flies it: places among the aircraft of the show; never empty.
    pub aircraft: Vec<usize>,
    /// When.
    pub times: &'a FigureTimes,
    /// How.
    pub flown: &'a FlownFigure,
    /// The paths of its aircraft: one for those that fly as one.
    pub paths: Vec<DrawnPath<'a>>,
}

/// A point of one aircraft that flies apart from the first.
pub struct OwnPlace {
    /// Whose.
    pub aircraft: Name,
    /// Which.
    pub point: PointName,
    /// When.
    pub expected: Expected,
    /// From the figure's start, as modelled.
    pub after: Span,
    /// Where.
    pub sample: PathSample,
}

/// A path, and how it is drawn.
pub struct DrawnPath<'a> {
    /// As its (first) aircraft is.
    pub style: Style,
    /// In order of time; empty for a timed figure.
    pub path: &'a [PathSample],
}

impl<'a> Programme<'a> {
    /// The programme of a plan.
    pub fn of(show: &'a Show, plan: &'a Plan) -> Self {
        let flown: HashMap<_, _> = plan
            .flight
            .figures
            .iter()
            .map(|flown| (&flown.key, flown))
            .collect();
        let figures = plan.moments.figures.iter();
        let parts = figures
            .filter_map(|times| Some((times, *flown.get(&times.key)?)))
            .enumerate()
            .map(|(i, (times, flown))| Part {
                number: i + 1,
                name: show
                    .figure(&times.id)
                    .map_or(times.id.as_str(), |figure| &figure.name),
                aircraft: aircraft(show, flown),
                times,
                flown,
                paths: paths(show, flown),
            })
            .collect();
        Programme {
            show,
            profile: plan.entries.first().map(|entry| &entry.profile),
            // What cannot be read of the report is a fault told elsewhere.
            day: observed::observe(&plan.day).day,
            parts,
        }
    }

    /// The figures with a path.
    pub fn flown(&self) -> impl Iterator<Item = &Part<'a>> {
        self.parts.iter().filter(|part| part.flown.path().len() > 1)
    }

    /// The aircraft that fly, by their places in the show, in its order.
    pub fn aircraft(&self) -> Vec<usize> {
        let mut all: Vec<usize> = self
            .parts
            .iter()
            .flat_map(|part| part.aircraft.iter().copied())
            .collect();
        all.sort_unstable();
        all.dedup();
        all
    }

    /// What people call an aircraft.
    pub fn name_of(&self, aircraft: usize) -> &str {
        let found = self.show.aircraft.get(aircraft);
        found.map_or("", |aircraft| &aircraft.name)
    }

    /// The same of the aircraft of this id.
    pub fn name_of_id<'n>(&'n self, id: &'n Name) -> &'n str {
        let found = self.show.aircraft.iter().find(|one| one.id == *id);
        found.map_or(id.as_str(), |aircraft| &aircraft.name)
    }

    /// The title of the show, the profile flown, and what a picture of it shows.
    pub fn heading(&self, picture: &str) -> String {
        let profile = self.profile.map(|profile| format!(", profile {profile}"));
        format!(
            "{}{}: {picture}",
            self.show.title,
            profile.unwrap_or_default()
        )
    }

    /// From when to when there is something to draw, s.
    pub fn span(&self) -> [f64; 2] {
        let starts = self.parts.iter().map(|part| part.times.start().s());
        let ends = self.parts.iter().map(|part| part.times.end().s());
        let [from, until] = [
            starts.reduce(f64::min).unwrap_or(0.0),
            ends.reduce(f64::max).unwrap_or(0.0),
        ];
        [from, until.max(from + 1.0)]
    }

    /// An instant by the clock, if the show begins at a time of day; else by the time of the show.
    pub fn clock(&self, at: Instant) -> String {
        told(self.show, at)
    }

    /// Round clock times between two instants, at most one every `least` seconds.
    pub fn ticks(&self, [from, until]: [f64; 2], least: f64) -> Vec<f64> {
        multiples(from, until, time_step(least), -self.start_s())
    }

    /// What a tick is labelled with.
    pub fn tick_label(&self, s: f64) -> String {
        match self.show.start {
            Some(_) => self.clock(Instant::from_s(s)),
            None => (Instant::from_s(s) - Instant::ZERO).clock(0),
        }
    }

    /// What times are counted from.
    pub fn clock_name(&self) -> &'static str {
        match self.show.start {
            Some(_) => "time of day",
            None => "time of the show",
        }
    }

    /// Time of day of show zero, s; zero if it has none.
    fn start_s(&self) -> f64 {
        self.show.start.map_or(0.0, |start| {
            f64::from(start.hour()) * 3600.0
                + f64::from(start.minute()) * 60.0
                + f64::from(start.second())
        })
    }
}

fn paths<'a>(show: &Show, flown: &'a FlownFigure) -> Vec<DrawnPath<'a>> {
    let drawn = |part: &'a FlownPart| DrawnPath {
        style: style(places(show, &part.aircraft).first().copied().unwrap_or(0)),
        path: &part.path,
    };
    flown.parts.iter().map(drawn).collect()
}

/// The places of aircraft in the show.
fn places(show: &Show, ids: &[Name]) -> Vec<usize> {
    let place = |id: &Name| show.aircraft.iter().position(|aircraft| aircraft.id == *id);
    ids.iter().filter_map(place).collect()
}

fn aircraft(show: &Show, flown: &FlownFigure) -> Vec<usize> {
    let found = places(show, &flown.aircraft);
    if found.is_empty() { vec![0] } else { found }
}

impl Part<'_> {
    /// Its number and name.
    pub fn numbered(&self) -> String {
        format!("{} {}", self.number, self.name)
    }

    /// Where its first aircraft is some time after its start.
    pub fn sample_at(&self, after: Span) -> Option<PathSample> {
        on_path(self.flown.path(), after)
    }

    /// The points of its aircraft that fly apart from the first, each with when and where it is.
    pub fn own_points(&self) -> Vec<OwnPlace> {
        let points = self.flown.own_points();
        let place = |(point, after): (PointName, Span)| {
            let PointName::Own(aircraft, _) = &point else {
                return None;
            };
            Some(OwnPlace {
                expected: self.times.expected(&point)?,
                sample: on_path(self.flown.path_of(aircraft), after)?,
                aircraft: aircraft.clone(),
                point,
                after,
            })
        };
        points.filter_map(place).collect()
    }

    /// Where all its aircraft are.
    pub fn samples(&self) -> impl Iterator<Item = &PathSample> {
        self.paths.iter().flat_map(|drawn| drawn.path)
    }
}

/// Where a path is some time after its figure's start. Where one leg ends and the next begins, it is on the next.
pub fn on_path(path: &[PathSample], after: Span) -> Option<PathSample> {
    let begun = path.iter().rfind(|sample| sample.after == after).copied();
    begun.or_else(|| sample_at(path, after))
}

/// What people call a point.
pub fn point_name(point: &PointName) -> String {
    match point {
        PointName::Abeam(1) => "abeam".into(),
        PointName::Abeam(n) => format!("abeam {n}"),
        PointName::Gate(n) => format!("gate {n}"),
        PointName::Own(aircraft, own) => format!("{aircraft} {}", point_name(&(*own).into())),
        other => other.to_string(),
    }
}

/// How far along the display line from crowd centre, and on which side of it.
pub fn side_of(x: Length) -> String {
    let nmi = x.m() / NAUTICAL_MILE;
    match nmi {
        _ if nmi.abs() < 0.005 => "centre".into(),
        _ if nmi < 0.0 => format!("{} nmi left", trimmed(-nmi)),
        _ => format!("{} nmi right", trimmed(nmi)),
    }
}
