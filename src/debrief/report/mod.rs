//! The debrief as one page of HTML that needs nothing but itself, with pictures and a table beside each.
//!
//! * `page`: what stands on it. `tables`: its tables.
//! * `score`: the timeline, planned above flown. `late`: drift. `pass`: a pass from above, with its speed and height.
//!   `wave`: a hit against the instant it was to meet. `axes`: those of charts against time.

mod axes;
mod late;
mod page;
mod pass;
mod score;
mod tables;
mod wave;

use super::{Lessons, Went};
use crate::show::{Name, Show};
use crate::sound::Overview;
use crate::timeline::Plan;
use crate::timeline::clock::told_finely;
use crate::units::{Instant, Span};

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
    format!("{:+.1} s", span.s()).replace('-', "−")
}
