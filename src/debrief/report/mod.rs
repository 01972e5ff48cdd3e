//! The debrief as one page of HTML that needs nothing but itself, with pictures and a table beside each.
//!
//! * `page`: what stands on it. `tables`: its tables; `lessons`: that of what the plan could learn.
//! * `score`: the timeline, planned above flown, of what is in `lanes`. `late`: drift. `pass`: figures with their
//!   passes, from `above` and as `curves` of height and speed. `wave`: a hit against the instant it was to meet.
//!   `axes`: those of charts against time.

mod above;
mod axes;
mod curves;
mod lanes;
mod late;
mod lessons;
mod page;
mod pass;
mod score;
mod tables;
mod wave;

use super::traced::Traced;
use super::trail::Trail;
use super::{Lessons, Went};
use crate::show::{Name, Show};
use crate::sound::Overview;
use crate::timeline::Plan;
use crate::timeline::clock::told_finely;
use crate::units::{Instant, Span};

/// The width of a picture: at 96 pixels an inch, that of A4 upright without its margins, so that letters come out in
/// the size they are drawn.
const WIDE: f64 = 696.0;
const MARGIN: f64 = 6.0;
/// Sizes of letters, in pixels: 9 and 8 points.
const TEXT: f64 = 12.0;
const SMALL: f64 = 10.7;

/// How every such page begins: a file that does not is somebody else's.
pub const MARK: &str = "<!DOCTYPE html><!-- A debrief by abeam -->";

/// One show to be told of.
pub struct Told<'a> {
    /// What its journal is called.
    pub journal: &'a str,
    /// When it was flown, by the clock on the wall.
    pub date: String,
    /// The show.
    pub show: &'a Show,
    /// As it was planned.
    pub plan: &'a Plan,
    /// In which profile.
    pub profile: &'a Name,
    /// What should be known before it is believed.
    pub notes: &'a [String],
    /// How it went.
    pub went: &'a Went,
    /// What position logs say of it.
    pub traced: &'a Traced,
    /// The outline of each track, where its file could be read.
    pub outlines: Vec<Option<Overview>>,
}

impl Told<'_> {
    fn clock(&self, at: Instant) -> String {
        told_finely(self.show, at)
    }

    fn track(&self, track: usize) -> &str {
        self.show
            .tracks
            .get(track)
            .map_or("", |track| track.id.as_str())
    }

    /// The ways aircraft with logs flew an entry.
    fn trails_of<'n>(&'n self, key: &'n Name) -> impl Iterator<Item = &'n Trail> {
        let trails = self.traced.trails.iter();
        trails.filter(move |trail| trail.key == *key)
    }

    /// The place of an aircraft in the show, and what people call it.
    fn aircraft(&self, id: &Name) -> (usize, &str) {
        let mut all = self.show.aircraft.iter().enumerate();
        let found = all.find(|(_, aircraft)| aircraft.id == *id);
        found.map_or((0, ""), |(i, aircraft)| (i, &aircraft.name))
    }

    fn name_of<'n>(&'n self, key: &'n Name) -> &'n str {
        let figures = &self.went.folded.session.moments().figures;
        let id = figures
            .iter()
            .find(|times| times.key == *key)
            .map_or(key, |times| &times.id);
        self.show
            .figure(id)
            .map_or(key.as_str(), |figure| &figure.name)
    }
}

/// The page.
pub fn page(told: &[Told], lessons: &Lessons) -> String {
    page::page(told, lessons)
}

/// How much later, with its sign: `+1.2 s`.
fn lateness(span: Span) -> String {
    // A little early is not minus nothing.
    let tenths = (10.0 * span.s()).round() / 10.0 + 0.0;
    format!("{tenths:+.1} s").replace('-', "−")
}
