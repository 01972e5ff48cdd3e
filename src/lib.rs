//! abeam: one pass at crowd centre, one bar of music and one sentence arrive together.
//!
//! The rooms, floor by floor; each uses only the floors below it.

pub mod commands; // one file a verb
pub mod screens; // draw a session
pub mod sheets; // print a plan, each sheet for one reader
pub mod debrief; // what really happened, beside the plan
pub mod practice; // a show that nobody flies, flown by chance
pub mod pictures; // draw a plan on paper
pub mod spotting; // set hits and vamps in a track
pub mod live; // the running show
pub mod timeline; // flight, script and sound on one clock
pub mod script; // how long words take to say
pub mod sound; // what a track is, what leaves the desk
pub mod position; // what position logs and feeds say
pub mod flight; // where the aircraft is and when
pub mod show; // the show document
pub mod units; // quantities as people write them
