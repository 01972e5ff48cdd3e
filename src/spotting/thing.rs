//! What of a track is set by ear: its hits, where it may begin, its vamp, its level and its fades, and when it starts
//! and ends.

use crate::show::edit::Place;
use crate::show::expression::offset_text;
use crate::show::{Name, TimeExpression, Track};
use crate::units::{Gain, Span};

/// Something of a track that can be set.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Thing {
    /// An instant that matters, by name.
    Hit(Name),
    /// Where it may begin: one of its entries, counted from 0.
    Entry(usize),
    /// Where its vamp begins.
    VampFrom,
    /// Where its vamp ends.
    VampTo,
    /// What is added to its level.
    Trim,
    /// How long it takes to come in.
    FadeIn,
    /// How long it takes to go out.
    FadeOut,
    /// How long after what it hangs on it starts.
    Starts,
    /// How long after what it hangs on it ends.
    Ends,
}

/// What something is set to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Amount {
    /// A place in the track.
    Place(Span),
    /// How long something takes.
    Takes(Span),
    /// A level.
    Level(Gain),
    /// How much later than something else; negative is earlier.
    After(Span),
}

/// How far one key moves a fade, and a level.
pub(super) const FADE_STEP: Span = Span::from_ms(500);
pub(super) const LEVEL_STEP: Gain = Gain::from_db(0.5);

/// Everything of a track that can be set, as it is listed.
pub(super) fn things(track: &Track) -> Vec<Thing> {
    let hits = track.hits.iter().map(|(name, _)| Thing::Hit(name.clone()));
    let entries = (0..track.entries.len()).map(Thing::Entry);
    let vamp = track.vamp.map(|_| [Thing::VampFrom, Thing::VampTo]);
    let starts = track.starts.as_ref().map(|_| Thing::Starts);
    let ends = track.ends.as_ref().map(|_| Thing::Ends);
    hits.chain(entries)
        .chain(vamp.into_iter().flatten())
        .chain([Thing::Trim, Thing::FadeIn, Thing::FadeOut])
        .chain(starts)
        .chain(ends)
        .collect()
}

impl Thing {
    /// What it is called on the screen.
    pub fn title(&self) -> String {
        match self {
            Thing::Hit(name) => format!("hit {name}"),
            Thing::Entry(0) => "entry".into(),
            Thing::Entry(index) => format!("entry {}", index + 1),
            Thing::VampFrom => "vamp from".into(),
            Thing::VampTo => "vamp to".into(),
            Thing::Trim => "trim".into(),
            Thing::FadeIn => "fade in".into(),
            Thing::FadeOut => "fade out".into(),
            Thing::Starts => "starts".into(),
            Thing::Ends => "ends".into(),
        }
    }

    /// What it is set to in a track that has it.
    pub fn amount(&self, track: &Track) -> Option<Amount> {
        Some(match self {
            Thing::Hit(name) => {
                let hit = track.hits.iter().find(|(hit, _)| hit == name)?;
                Amount::Place(hit.1)
            }
            Thing::Entry(index) => Amount::Place(*track.entries.get(*index)?),
            Thing::VampFrom => Amount::Place(track.vamp?.from),
            Thing::VampTo => Amount::Place(track.vamp?.to),
            Thing::Trim => Amount::Level(track.trim),
            Thing::FadeIn => Amount::Takes(track.fade_in),
            Thing::FadeOut => Amount::Takes(track.fade_out),
            Thing::Starts | Thing::Ends => Amount::After(self.time(track)?.offset),
        })
    }

    /// The time that it is, if it is one.
    pub(super) fn time<'t>(&self, track: &'t Track) -> Option<&'t TimeExpression> {
        match self {
            Thing::Starts => track.starts.as_ref(),
            Thing::Ends => track.ends.as_ref(),
            _ => None,
        }
    }

    /// Where it stands in the document.
    pub fn place(&self, track: &Name) -> Place {
        let track = Place::item("track", track.as_str());
        match self {
            Thing::Hit(name) => track.key("hits").key(name.as_str()),
            Thing::Entry(index) => track.key("entries").at(*index),
            Thing::VampFrom => track.key("vamp").key("from"),
            Thing::VampTo => track.key("vamp").key("to"),
            Thing::Trim => track.key("trim"),
            Thing::FadeIn => track.key("fade_in"),
            Thing::FadeOut => track.key("fade_out"),
            Thing::Starts => track.key("starts"),
            Thing::Ends => track.key("ends"),
        }
    }
}

impl Amount {
    /// As it is written in the document; of a time that hangs on something else, what stands behind that.
    pub fn text(self) -> String {
        match self {
            Amount::Place(at) => super::place_text(at),
            Amount::Takes(takes) => takes.to_string(),
            Amount::Level(level) => level.to_string(),
            Amount::After(offset) => offset_text(offset),
        }
    }
}
