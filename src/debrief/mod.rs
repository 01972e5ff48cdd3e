//! Debrief: what really happened, beside the plan, and what the plan could learn from it.
//!
//! * [`fold`]: a journal folded through the session that ran it. [`seen`]: every instant of it, planned and as it
//!   was. [`traced`]: what position logs
//!   say, of passes ([`passed`]) and of the way flown ([`trail`]). [`drift`]: how late the show was, figure by figure. [`words`]: how
//!   fast they were said. [`music`]: what was heard of it.
//! * [`stretch`]: how long what was flown took, from one thing seen to the next; [`learn`]: what all journals
//!   together say of that, by [`shrink`]; [`correct`]: what would be written into the document.
//! * [`report`]: all of it on a page, with pictures.
//!
//! Nothing here tells an aircraft to fly otherwise: the plan's times are corrected, not the flying.

pub mod correct;
pub mod drift;
pub mod fold;
pub mod learn;
pub mod music;
pub mod passed;
pub mod report;
pub mod seen;
pub mod shrink;
pub mod stretch;
pub mod traced;
pub mod trail;
pub mod words;

use crate::live::journal::Record;
use crate::show::{Name, Show};
use correct::Correction;
use drift::Drift;
use fold::Folded;
use learn::{Habit, Voice};
use music::{Hit, Sounded};
use seen::{Done, Flown, Logged};
use stretch::PartOf;
use words::Pace;

/// One show as it went.
pub struct Went {
    /// The fold.
    pub folded: Folded,
    /// Every point flown, in order of time.
    pub points: Vec<Flown>,
    /// Words, music and calls, in order of time.
    pub done: Vec<Done>,
    /// Lateness, figure by figure.
    pub drift: Vec<Drift>,
    /// Words said from key to key.
    pub paces: Vec<Pace>,
    /// Hits that were to meet something.
    pub hits: Vec<Hit>,
    /// What sounded, and for how long.
    pub sounded: Vec<Sounded>,
}

impl Went {
    /// What a folded journal says; `logged` is what position logs say of its points.
    pub fn of(folded: Folded, record: &Record, logged: &[Logged]) -> Went {
        let points = seen::points(&folded, logged);
        Went {
            done: seen::done(&folded),
            drift: drift::drift(&folded, &points),
            paces: words::paces(&folded),
            hits: music::hits(&folded, record, &points),
            sounded: music::sounded(&folded, record),
            points,
            folded,
        }
    }
}

/// What all shows together teach.
pub struct Lessons {
    /// Of each figure that was seen.
    pub habits: Vec<Habit>,
    /// What was flown and too little seen to teach anything, in any show.
    pub unseen: Vec<(Name, PartOf)>,
    /// Of the narrator, if words were said.
    pub voice: Option<Voice>,
    /// What would be written into the document.
    pub corrections: Vec<Correction>,
}

impl Lessons {
    /// What shows of one document teach. A practice teaches nothing: nobody flew it.
    pub fn of(show: &Show, went: &[&Went]) -> Lessons {
        let went: Vec<&Went> = went
            .iter()
            .copied()
            .filter(|went| !went.folded.practice)
            .collect();
        let took: Vec<_> = went
            .iter()
            .flat_map(|went| stretch::took(&went.folded, &went.points))
            .collect();
        let paces: Vec<Pace> = went
            .iter()
            .flat_map(|went| went.paces.iter().cloned())
            .collect();
        let habits = learn::habits(show, &took);
        let mut unseen: Vec<_> = went
            .iter()
            .flat_map(|went| stretch::flown_parts(&went.folded, &went.points))
            .filter(|part| {
                !took
                    .iter()
                    .any(|took| (&took.figure, took.part) == (&part.0, part.1))
            })
            .collect();
        learn::in_order(show, &mut unseen);
        let voice = learn::voice(&paces, &show.narrator);
        Lessons {
            corrections: correct::corrections(show, &habits, voice.as_ref()),
            habits,
            unseen,
            voice,
        }
    }
}
