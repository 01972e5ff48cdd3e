//! Flight: where the aircraft is and when.
//!
//! * [`air`]: the atmosphere and the speeds in it. [`wind`]: the wind in the site frame. [`metar`]: both from a report; [`observed`]: the day with them.
//! * `legs`: flying one leg, by `integrate` (a `step`, its `ending`), to a `track`. `speed`, `craft`, `attitude`: what it flies with. `cannot`: why it cannot.
//! * `crew`: the aircraft, from figure to figure; `sortie`: what is told of one they flew; `skies`: what they fly in.
//! * `path`: a figure's legs in order. `begins`, `ends`: what is said of how they do; `power`: that it takes too much. `reposition`: the way to where one begins.
//! * `other_wind`: the same in another wind; `alike`: what goes the same way in it. `points`: what the legs meet. `advice`: what is said of where they lead.
//! * `hush`: what is heard; `parted`: of aircraft that parted. `gusts`: what they do to times.
//! * [`arrival`]: from a place and a speed to crowd centre, and backwards.
//! * [`entries`]: what a profile flies, in order. [`fly`]: such a list, flown; [`fly_for_times`]: in one wind only.
//!
//! The site frame: x along the display line, positive to the crowd's right of crowd centre; y away from
//! the crowd from the crowd line; z above the site.
//!
//! Where a figure begins: at its hold; without one, where the aircraft's figure before it ended, or after a
//! `reposition` where its run-in cannot begin there; after a
//! figure that is only timed, or first of all, at its outermost gate, headed for centre. Flown mirrored,
//! the sides of the crowd change, and so do the pilot's left and right. A figure without a hold is inbound
//! from the start of the runs that lead to its first pass.
//!
//! What is simple in the model: an aircraft rolls into and out of turns at once. A run to centre or to a place goes along the display
//! line, the way it is headed, and closes on the line if a turn has left it; so does a run for a distance
//! or a time that is headed within 30 degrees of the line, and any other goes straight on. A figure that
//! several aircraft fly is flown as one, except where its legs part them: from where the first of them is, whoever is there
//! early waiting for the last; how the others come to it is not flown, and told where they are far from it. The acceleration of wind shear is neglected.

mod advice;
pub mod air;
mod alike;
mod apart;
pub mod arrival;
mod attitude;
mod begins;
mod cannot;
mod craft;
mod crew;
mod ending;
mod ends;
mod flown;
mod gusts;
mod hush;
mod integrate;
mod legs;
pub mod metar;
pub mod observed;
mod other_wind;
mod parted;
mod path;
mod pilots;
mod points;
mod power;
mod reposition;
mod samples;
mod sequence;
mod skies;
mod sortie;
mod speed;
mod step;
mod track;
mod vector;
pub mod wind;
mod world;

pub use cannot::{CannotFly, Stop, Unflyable};
pub use flown::{Entry, Flight, FlownFigure, FlownPart, FlownPoint, PathSample, Step, part_of};
pub use sequence::{advice_on_left_out, entries, left_out};

use std::sync::mpsc;

use crate::show::{Day, Fault, Show};
use crew::{Crew, Manoeuvre, Told};
use other_wind::OtherWind;
use skies::{Skies, Winds};

/// So many figures are told of at once: to wake another thread takes nearly as long as to tell of one.
const TOGETHER: usize = 4;

/// Flies the entries in order, in the day's air and wind, its report read into them. Every entry of a known figure gives a flown
/// figure, as far as it could be flown; what could not be is in the faults.
///
/// Where a figure leads is known only from the one before it, so they are flown one after the other, beside that in
/// the other winds; what else is asked of each is found out when there is time.
pub fn fly(show: &Show, day: &Day, entries: &[Entry]) -> Flight {
    fly_in(show, day, entries, Winds::AndMore)
}

/// The same without what the wind does to its times: no step says how much longer it takes in more wind, and none is
/// spread by gusts.
pub fn fly_for_times(show: &Show, day: &Day, entries: &[Entry]) -> Flight {
    fly_in(show, day, entries, Winds::TheDays)
}

fn fly_in(show: &Show, day: &Day, entries: &[Entry], winds: Winds) -> Flight {
    let (skies, remarks) = Skies::over(show, day, winds);
    let mut crew = Crew::new(&skies);
    let (send, flown) = mpsc::channel::<Vec<Manoeuvre>>();
    let (tell, told) = mpsc::channel();
    rayon::scope(|scope| {
        let skies = &skies;
        scope.spawn(move |scope| {
            let mut others = OtherWind::each(skies);
            for (nth, some) in as_they_come(&flown).enumerate() {
                let in_others = |flown: &Manoeuvre| {
                    let others = others.iter_mut();
                    others.map(|other| other.fly(flown)).collect::<Vec<_>>()
                };
                let in_others: Vec<_> = some.iter().map(in_others).collect();
                let tell = tell.clone();
                scope.spawn(move |_| {
                    let both = some.into_iter().zip(in_others);
                    let told = both.map(|(flown, in_others)| flown.told(skies, &in_others));
                    // Whoever asked is there until all are told.
                    let _ = tell.send((nth, told.collect::<Vec<Told>>()));
                });
            }
        });
        for some in entries.chunks(TOGETHER) {
            let some: Vec<Manoeuvre> = some.iter().filter_map(|entry| crew.fly(entry)).collect();
            // Whoever flies them in other winds goes on until there are no more.
            let _ = send.send(some);
        }
        drop(send);
    });
    let mut told: Vec<(usize, Vec<Told>)> = told.into_iter().collect();
    told.sort_by_key(|(nth, _)| *nth);
    let told = told.into_iter().flat_map(|(_, told)| told);
    let (figures, faults): (Vec<FlownFigure>, Vec<Vec<Fault>>) = told.unzip();
    Flight {
        figures,
        faults: remarks
            .into_iter()
            .chain(faults.into_iter().flatten())
            .collect(),
    }
}

/// What comes from another thread, in order; until there is more, this one does what else there is to do.
fn as_they_come<T>(from: &mpsc::Receiver<T>) -> impl Iterator<Item = T> {
    std::iter::from_fn(|| {
        loop {
            match from.try_recv() {
                Ok(next) => return Some(next),
                Err(mpsc::TryRecvError::Disconnected) => return None,
                Err(mpsc::TryRecvError::Empty) => match rayon::yield_now() {
                    Some(rayon::Yield::Executed) => {}
                    _ => return from.recv().ok(),
                },
            }
        }
    })
}
