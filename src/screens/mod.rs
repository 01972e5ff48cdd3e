//! Screens: they draw a session and turn keys into events. No rule of the show lives here.
//!
//! A frame is drawn from a [`Scene`], which is all there is to know of the show, and from the state of the
//! interface, the [`Panel`]: which screen, which theme, what is selected, what waits for a second key.
//! The first screen says what the program is not for; then there are the Stand, the Desk and a track of it close
//! up, and Practice beside them while one practises; a
//! knock-it-off and an accident have faces of their own that come before everything.

mod countdown;
mod desk;
mod digits;
mod emergency;
mod facts;
mod field;
mod hack;
mod keys;
mod marking;
mod mending;
mod naming;
mod overlay;
mod panel;
mod pool;
mod practice;
mod programme;
mod reading;
mod remote;
mod say;
mod script;
mod spotting;
mod stand;
mod status;
mod strip;
mod svg;
mod text;
mod theme;
mod wave;
mod words;

pub use facts::{ClockFace, DeskFacts, Outline, Output, Scene, TrackFacts};
pub use panel::{Page, Panel, Wish};
pub use practice::{PracticeFacts, PracticeWish};
pub use svg::svg;
pub use theme::Theme;
