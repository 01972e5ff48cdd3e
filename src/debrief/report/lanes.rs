//! What the timeline shows, lane by lane: each aircraft, the words, the music, as planned and as it was.

use super::Told;
use crate::debrief::seen::How;
use crate::show::{Name, PointName};
use crate::timeline::Version;
use crate::units::Instant;

/// What belongs together: an aircraft, the words, the music.
pub(super) struct Lane {
    pub name: String,
    /// In rows, so that in none of them one bar is over another.
    pub rows: Vec<Vec<Bar>>,
}

/// Something that lasts, from when to when, s.
pub(super) struct Bar {
    pub name: String,
    pub planned: Option<[f64; 2]>,
    pub was: Option<[f64; 2]>,
    /// Passes and hits in it.
    pub marks: Vec<Mark>,
}

/// An instant of it, as planned and as it was.
pub(super) struct Mark {
    pub is: Kind,
    pub planned: Option<f64>,
    pub was: f64,
    /// Whether somebody or something saw it.
    pub seen: bool,
}

/// What a mark is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// A pass of crowd centre.
    Pass,
    /// A hit heard.
    Hit,
}

/// What ends when the next begins is not over it, though what was not seen may be thought to have ended a little later.
const TOUCHING_S: f64 = 0.5;

impl Bar {
    /// The first and the last of it, s.
    pub fn reach(&self) -> [f64; 2] {
        let both = self.planned.iter().chain(&self.was);
        both.fold([f64::MAX, f64::MIN], |[from, until], bar| {
            [from.min(bar[0]), until.max(bar[1])]
        })
    }

    /// Its name, and what became of it.
    pub fn said(&self) -> String {
        match (self.planned, self.was) {
            (Some(_), None) => format!("{} (planned only)", self.name),
            (None, Some(_)) => format!("{} (not planned)", self.name),
            _ => self.name.clone(),
        }
    }

    fn is_over(&self, other: &Bar) -> bool {
        let over = |a: Option<[f64; 2]>, b: Option<[f64; 2]>| match (a, b) {
            (Some(a), Some(b)) => a[0] + TOUCHING_S < b[1] && b[0] + TOUCHING_S < a[1],
            _ => false,
        };
        over(self.planned, other.planned) || over(self.was, other.was)
    }
}

/// Every lane that has something in it.
pub(super) fn lanes(told: &Told) -> Vec<Lane> {
    let mut lanes: Vec<Lane> = told
        .show
        .aircraft
        .iter()
        .map(|aircraft| lane(&aircraft.name, figures(told, &aircraft.id)))
        .collect();
    lanes.push(lane("Words", words(told)));
    lanes.push(lane("Music", music(told)));
    lanes.retain(|lane| !lane.rows.is_empty());
    lanes
}

/// A lane of bars, each in the first row where it is over none.
fn lane(name: &str, bars: Vec<Bar>) -> Lane {
    let mut rows: Vec<Vec<Bar>> = Vec::new();
    for bar in bars {
        let clear = |row: &&mut Vec<Bar>| !row.iter().any(|other| bar.is_over(other));
        match rows.iter_mut().find(clear) {
            Some(row) => row.push(bar),
            None => rows.push(vec![bar]),
        }
    }
    Lane {
        name: name.to_owned(),
        rows,
    }
}

/// The figures an aircraft was to fly, and those it flew.
fn figures(told: &Told, aircraft: &Name) -> Vec<Bar> {
    let folded = &told.went.folded;
    let flies = |key: &Name| {
        let planned = told.plan.flight.figures.iter();
        let mut all = planned.chain(folded.session.figures());
        all.any(|flown| flown.key == *key && flown.aircraft.contains(aircraft))
    };
    let planned = told.plan.moments.figures.iter();
    let planned: Vec<(&Name, [f64; 2])> = planned
        .filter(|times| flies(&times.key))
        .map(|times| (&times.key, [times.start().s(), times.end().s()]))
        .collect();
    let flown = folded.session.moments().figures.iter();
    let flown: Vec<(&Name, [f64; 2])> = flown
        .filter(|times| !times.held && flies(&times.key))
        .map(|times| (&times.key, (times.start(), times.end().min(folded.end))))
        .filter(|(_, (from, until))| from < until)
        .map(|(key, (from, until))| (key, [from.s(), until.s()]))
        .collect();
    let of = |all: &[(&Name, [f64; 2])], key: &Name| {
        all.iter().find(|(other, _)| *other == key).map(|one| one.1)
    };
    let more = flown.iter().filter(|(key, _)| of(&planned, key).is_none());
    let keys = planned.iter().chain(more).map(|(key, _)| *key);
    keys.map(|key| Bar {
        name: told.name_of(key).to_owned(),
        planned: of(&planned, key),
        was: of(&flown, key),
        marks: passes(told, key),
    })
    .collect()
}

fn passes(told: &Told, key: &Name) -> Vec<Mark> {
    let points = told.went.points.iter();
    let passes =
        points.filter(|flown| flown.key == *key && matches!(flown.point, PointName::Abeam(_)));
    passes
        .map(|flown| Mark {
            is: Kind::Pass,
            planned: flown.planned.map(Instant::s),
            was: flown.at.s(),
            seen: matches!(flown.how, How::Marked | How::Logged),
        })
        .collect()
}

fn words(told: &Told) -> Vec<Bar> {
    let (show, plan) = (told.show, &told.plan.layout);
    let mut bars: Vec<Bar> = Vec::new();
    for (i, (block, laid)) in show.blocks.iter().zip(&plan.blocks).enumerate() {
        let planned = laid.starts.instant().filter(|_| laid.is_said());
        let planned = planned.zip(laid.ends).map(span);
        let said = told.went.folded.spoken.iter();
        let said = said.filter(|spoken| spoken.block == i);
        let said: Vec<_> = said
            .filter_map(|spoken| Some((spoken.version, span((spoken.from, spoken.until?)))))
            .collect();
        let name = |version: Version| match version {
            Version::Short => format!("{}, short", block.id),
            _ => block.id.to_string(),
        };
        let first = said.first().map(|one| one.1);
        let version = said.first().map_or(laid.version, |one| one.0);
        bars.push(Bar {
            name: name(version),
            planned,
            was: first,
            marks: Vec::new(),
        });
        bars.extend(said.iter().skip(1).map(|(version, was)| Bar {
            name: format!("{}, again", name(*version)),
            planned: None,
            was: Some(*was),
            marks: Vec::new(),
        }));
    }
    in_order(bars)
}

fn music(told: &Told) -> Vec<Bar> {
    let (show, plan) = (told.show, &told.plan.layout);
    let mut bars: Vec<Bar> = Vec::new();
    for (i, (track, laid)) in show.tracks.iter().zip(&plan.tracks).enumerate() {
        let planned = laid.starts.instant().zip(laid.ends).map(span);
        let sounded = told.went.sounded.iter();
        let sounded: Vec<[f64; 2]> = sounded
            .filter(|sounded| sounded.track == i)
            .map(|sounded| span((sounded.from, sounded.from + sounded.lasted)))
            .collect();
        let hits = told.went.hits.iter().filter(|hit| hit.track == i);
        let hits: Vec<f64> = hits.map(|hit| hit.heard.s()).collect();
        let count = sounded.len().max(1);
        bars.extend((0..count).map(|nth| {
            let was = sounded.get(nth).copied();
            let within = |at: &&f64| was.is_some_and(|[from, until]| (from..=until).contains(*at));
            Bar {
                name: track.id.to_string(),
                planned: planned.filter(|_| nth == 0),
                was,
                marks: hits.iter().filter(within).map(|at| hit(*at)).collect(),
            }
        }));
    }
    in_order(bars)
}

fn hit(was: f64) -> Mark {
    Mark {
        is: Kind::Hit,
        planned: None,
        was,
        seen: true,
    }
}

fn span((from, until): (Instant, Instant)) -> [f64; 2] {
    [from.s(), until.s()]
}

/// Those that were planned or came, by when they begin.
fn in_order(mut bars: Vec<Bar>) -> Vec<Bar> {
    bars.retain(|bar| bar.planned.is_some() || bar.was.is_some());
    bars.sort_by(|a, b| a.reach()[0].total_cmp(&b.reach()[0]));
    bars
}
