//! A show folded in outline, quickly: only what a meet's miss and a block's fit depend on.
//!
//! A sketch comes to the same outcome as [`run()`](fn@super::run::run), which folds a whole session
//! (`tests/sketch.rs` holds it to that), by the same functions: the estimate, which point a mark is of, how a
//! track is started and turned for its meet, which version of each block fits. It is quick because nothing moves
//! between two marks but what an overdue point makes later: the clock is looked at only where that decides
//! something, not every 250 ms.
//!
//! * `hooks`: what times hang on. `score`: a show made ready.
//! * `outlook`: when everything that flies is expected. `words`, `music`: cues.
//! * `fold`: one show after another; `again`: what comes again with another flying of its figure.

mod again;
mod fold;
mod hooks;
mod music;
mod outlook;
mod score;
mod words;

use std::sync::Arc;

use super::errors::Errors;
use super::outcome::Outcome;
use crate::live::Session;
use crate::show::Show;
use crate::timeline::Plan;
use fold::Fold;
use score::Score;

/// A show ready to be sketched many times.
#[derive(Debug)]
pub struct Sketch<'s>(Score<'s>);

/// Where one show after another is sketched.
pub struct Sheet<'s>(Fold<'s>);

impl<'s> Sketch<'s> {
    /// The sketch of a show; `None` where something hangs on words or music that come again, with another flying
    /// of their figure.
    pub fn of(show: &'s Arc<Show>, plan: &'s Arc<Plan>) -> Option<Sketch<'s>> {
        let before = Session::new(show.clone(), plan.clone(), plan.moments.begin());
        Score::of(show, plan, &before).map(Sketch)
    }

    /// An empty sheet.
    pub fn sheet(&'s self) -> Sheet<'s> {
        Sheet(Fold::new(&self.0))
    }
}

impl Sheet<'_> {
    /// Sketches a show that differs from its plan by `errors`, of which nothing is dropped or held up; marks are
    /// keyed plainly.
    pub fn run(&mut self, errors: &Errors) -> Outcome {
        self.0.run(errors)
    }
}
