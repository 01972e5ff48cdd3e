//! Spotting: where in a track its hits are, where it may begin, where it goes round; found by ear and eye, and
//! written into the document.
//!
//! A [`Spotting`] is the state of that work on one track: what is looked at, what is chosen, and the document as
//! it is being changed. It is pure but for [`write`](Spotting::write) and [`write_beside`](Spotting::write_beside);
//! what is to be heard it only asks for. The show that runs is another: it stays as it was begun.
//!
//! * [`thing`]: what of a track is set here, and where it stands in the document.

mod edits;
mod landing;
pub mod thing;

use std::sync::Arc;

use crate::show::edit::{EditError, Manuscript};
use crate::show::{Name, Show, Track};
use crate::sound::{Course, Join, Landmarks, Vamping};
use crate::timeline::meet::Round;
use crate::units::Span;
pub use thing::{Amount, Thing};

/// How far one key moves the playhead or a thing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Step {
    /// One sample of each channel.
    Frame,
    /// A hundredth of a second.
    #[default]
    Hundredth,
    /// A beat, as long as those around.
    Beat,
    /// A bar.
    Bar,
}

/// Something to be heard on the headphones.
#[derive(Debug, Clone, PartialEq)]
pub struct Audition {
    /// How the track is played through.
    pub course: Course,
    /// How long; `None`: to its end.
    pub lasts: Option<Span>,
}

impl Audition {
    /// What is heard of a place when something is put there.
    pub fn touch(at: Span) -> Audition {
        Audition {
            course: Course::plain(at),
            lasts: Some(TOUCH),
        }
    }

    /// Whether it is only that.
    pub fn is_touch(&self) -> bool {
        self.lasts == Some(TOUCH)
    }
}

/// What was last said to whoever works here.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Said {
    pub text: String,
    /// Whether something did not go as it should.
    pub trouble: bool,
}

/// Work on a track.
#[derive(Debug, Clone)]
pub struct Spotting {
    manuscript: Manuscript,
    /// The show as the document is now.
    show: Show,
    track: Name,
    /// How long the track is, and how many frames a second it has.
    length: Span,
    rate: u32,
    landmarks: Option<Arc<Landmarks>>,
    playhead: Span,
    /// How much of the track is seen close up.
    window: Span,
    step: Step,
    chosen: usize,
    /// The name being typed for the chosen hit.
    naming: Option<String>,
    /// Which of the vamps found is looked at.
    proposal: Option<usize>,
    /// What was moved by the last change: it is gone on with.
    moving: Option<Thing>,
    said: Said,
}

/// The least and the usual length seen close up.
const CLOSEST: Span = Span::from_ms(4);
const USUAL: Span = Span::from_ms(8_000);
/// What is heard of a place that is touched.
const TOUCH: Span = Span::from_ms(200);
/// What is heard before and after a join.
const AROUND_JOIN: Span = Span::from_ms(4_000);

impl Spotting {
    /// Work on the track called `track` of a document. It is `length` long at `rate` frames a second.
    ///
    /// # Errors
    /// When the document has faults, or no such track.
    pub fn new(
        manuscript: Manuscript,
        track: &Name,
        length: Span,
        rate: u32,
    ) -> Result<Spotting, EditError> {
        let faulty = || {
            let name = manuscript.name();
            EditError::Faulty(format!(
                "{name} has faults now: `abeam check {name}` shows them"
            ))
        };
        let show = manuscript.show().map_err(|_| faulty())?;
        let mut spotting = Spotting {
            manuscript,
            show,
            track: track.clone(),
            length,
            rate: rate.max(1),
            landmarks: None,
            playhead: Span::ZERO,
            window: USUAL,
            step: Step::default(),
            chosen: 0,
            naming: None,
            proposal: None,
            moving: None,
            said: Said::default(),
        };
        spotting.turn_to(track, length, rate)?;
        Ok(spotting)
    }

    /// Turns to a track; what was changed of others stays changed.
    ///
    /// # Errors
    /// When the document has no such track.
    pub fn turn_to(&mut self, track: &Name, length: Span, rate: u32) -> Result<(), EditError> {
        if self.show.track(track).is_none() {
            let name = self.manuscript.name();
            return Err(EditError::NoPlace(format!(
                "{name} has no track called {track} any more"
            )));
        }
        if self.track != *track {
            self.landmarks = None;
            self.playhead = Span::ZERO;
        }
        self.track = track.clone();
        (self.length, self.rate) = (length, rate.max(1));
        self.window = self.window.min(length).max(CLOSEST);
        (self.chosen, self.naming, self.proposal, self.moving) = (0, None, None, None);
        self.go_to_chosen();
        let all = self.manuscript.name();
        self.say(format!("{all} is changed here, and written by Ctrl S"));
        Ok(())
    }

    /// What was found in the track.
    pub fn found(&mut self, landmarks: Arc<Landmarks>) {
        self.landmarks = Some(landmarks);
    }

    /// The track as the document has it now.
    pub fn track(&self) -> Option<&Track> {
        self.show.track(&self.track)
    }

    /// What the show calls it.
    pub fn track_id(&self) -> &Name {
        &self.track
    }

    /// What was found in it, once it is found.
    pub fn landmarks(&self) -> Option<&Landmarks> {
        self.landmarks.as_deref()
    }

    /// How long it is.
    pub fn length(&self) -> Span {
        self.length
    }

    /// Frames a second.
    pub fn rate(&self) -> u32 {
        self.rate
    }

    /// Where the playhead stands.
    pub fn playhead(&self) -> Span {
        self.playhead
    }

    /// What is seen close up: from, until. It is as near around `at` as the ends of the track let it be.
    pub fn close_up(&self, at: Span) -> (Span, Span) {
        let latest = (self.length - self.window).max(Span::ZERO);
        let from = (at - self.window / 2.0).max(Span::ZERO).min(latest);
        (from, from + self.window)
    }

    /// How far a key moves.
    pub fn step(&self) -> Step {
        self.step
    }

    /// What can be set, in the order in which it is chosen.
    pub fn things(&self) -> Vec<Thing> {
        self.track().map(thing::things).unwrap_or_default()
    }

    /// Which of them is chosen.
    pub fn chosen(&self) -> Option<Thing> {
        self.things().get(self.chosen).cloned()
    }

    /// What a thing is set to.
    pub fn amount(&self, thing: &Thing) -> Option<Amount> {
        thing.amount(self.track()?)
    }

    /// The name being typed.
    pub fn naming(&self) -> Option<&str> {
        self.naming.as_deref()
    }

    /// The vamp that was found and is looked at, and which of how many it is, from 1.
    pub fn proposal(&self) -> Option<(Vamping, usize, usize)> {
        let vamps = self.vamps()?;
        let index = self.proposal?;
        Some((*vamps.get(index)?, index + 1, vamps.len()))
    }

    /// The vamps found that the track can have: those in which nothing is cut out.
    fn vamps(&self) -> Option<Vec<Vamping>> {
        let cuts = self.track().map_or(&[][..], |track| &track.cuts);
        let is_whole = |vamp: &&Vamping| !cuts.iter().any(|cut| cut.overlaps(vamp.from, vamp.to));
        let vamps = &self.landmarks.as_ref()?.vamps;
        Some(vamps.iter().filter(is_whole).copied().collect())
    }

    /// Whether all that was changed is written.
    pub fn is_written(&self) -> bool {
        self.manuscript.is_saved()
    }

    /// The document as it is now.
    pub fn text(&self) -> &str {
        self.manuscript.text()
    }

    /// What was last said.
    pub fn said(&self) -> &Said {
        &self.said
    }

    /// Says something.
    pub fn say(&mut self, text: impl Into<String>) {
        self.said = Said {
            text: text.into(),
            trouble: false,
        };
    }

    /// Says that something did not go as it should.
    pub fn complain(&mut self, text: impl Into<String>) {
        self.said = Said {
            text: text.into(),
            trouble: true,
        };
    }

    /// Puts the playhead somewhere.
    pub fn go_to(&mut self, at: Span) {
        self.playhead = at.max(Span::ZERO).min(self.length);
        self.moving = None;
    }

    /// Moves the playhead by so many steps.
    pub fn scrub(&mut self, steps: i32) {
        match self.moved(self.playhead, steps) {
            Some(at) => self.go_to(at),
            None => self.complain(NO_BEATS),
        }
    }

    /// Sees more closely, or more.
    pub fn zoom(&mut self, closer: bool) {
        let window = if closer {
            self.window / 2.0
        } else {
            self.window * 2.0
        };
        self.window = window.min(self.length).max(CLOSEST);
    }

    /// Sets how far a key moves.
    pub fn stride(&mut self, step: Step) {
        self.step = step;
        self.moving = None;
    }

    /// Chooses the thing so many places on.
    pub fn choose(&mut self, on: i32) {
        let last = self.things().len().saturating_sub(1);
        let chosen = self.chosen as i64 + i64::from(on);
        self.chosen = chosen.clamp(0, last as i64) as usize;
        self.moving = None;
        self.go_to_chosen();
    }

    fn go_to_chosen(&mut self) {
        if let Some(Amount::Place(at)) = self.chosen().and_then(|thing| self.amount(&thing)) {
            self.go_to(at);
        }
    }

    /// Looks at the next of the vamps found, and after the last at none.
    pub fn next_vamp(&mut self) {
        let count = self.vamps().map(|vamps| vamps.len());
        self.proposal = match (count, self.proposal) {
            (None, _) => {
                self.complain("the track is still being listened to");
                None
            }
            (Some(0), _) => {
                self.complain("nothing in this track sounds as if it came again");
                None
            }
            (Some(_), None) => Some(0),
            (Some(count), Some(index)) => (index + 1 < count).then_some(index + 1),
        };
        if let Some((vamp, ..)) = self.proposal() {
            self.go_to(vamp.to);
            self.window = (vamp.to - vamp.from).max(self.window).min(self.length);
        }
    }

    /// The track from the playhead on.
    pub fn from_here(&self) -> Audition {
        Audition {
            course: Course::plain(self.playhead),
            lasts: None,
        }
    }

    /// The join of the vamp that is looked at, or of the one the track has: some seconds before it, and after.
    pub fn join(&self) -> Option<Audition> {
        let (to, back, bars) = match self.proposal() {
            Some((vamp, ..)) => (vamp.to, vamp.to - vamp.from, vamp.bars),
            None => {
                let round = Round::of(self.track()?)?;
                (round.to, round.length(round.most), round.most)
            }
        };
        let entry = (to - AROUND_JOIN).max(Span::ZERO);
        Some(Audition {
            course: Course {
                joins: vec![Join { at: to, back, bars }],
                ..Course::plain(entry)
            },
            lasts: Some(to - entry + AROUND_JOIN),
        })
    }
}

/// Said where a beat is asked for and none was found.
const NO_BEATS: &str = "no beat was found here: 1 and 2 set another step";

/// A place in a track as it is written: to the millisecond, and closer where a frame is.
pub fn place_text(at: Span) -> String {
    at.clock(if at.us() % 1_000 == 0 { 3 } else { 6 })
}
