//! Every instant of a show: planned, as it was, and how that is known.

use super::fold::Folded;
use crate::live::MarkKind;
use crate::live::session::TakenMark;
use crate::show::{Name, PointName};
use crate::timeline::CueTime;
use crate::units::{Instant, Span};

/// How it is known when something was.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum How {
    /// Somebody keyed it.
    Marked,
    /// A position log says so.
    Logged,
    /// Nobody saw it: as the marks before and after it say.
    Estimated,
    /// Nobody keyed it: the show was begun after it, and it was taken as flown.
    Assumed,
    /// The program did it itself.
    Sent,
}

impl How {
    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            How::Marked => "marked",
            How::Logged => "logged",
            How::Estimated => "estimated",
            How::Assumed => "assumed",
            How::Sent => "sent",
        }
    }
}

/// A point of a figure as it was flown.
#[derive(Debug, Clone, PartialEq)]
pub struct Flown {
    /// The entry.
    pub key: Name,
    /// The point.
    pub point: PointName,
    /// When the plan has it; `None` where it does not.
    pub planned: Option<Instant>,
    /// When it was.
    pub at: Instant,
    /// One standard deviation of that.
    pub spread: Span,
    /// How that is known.
    pub how: How,
}

impl Flown {
    /// How much later than planned.
    pub fn late(&self) -> Option<Span> {
        Some(self.at - self.planned?)
    }
}

/// What a position log says of a point.
#[derive(Debug, Clone, PartialEq)]
pub struct Logged {
    /// The entry.
    pub key: Name,
    /// The point.
    pub point: PointName,
    /// When.
    pub at: Instant,
}

/// One standard deviation of what a log says: a second's fix interpolated.
pub const LOG_SPREAD: Span = Span::from_ms(100);

/// Every point flown before the journal ends, in order of time; what a log says of a point wins over marks.
pub fn points(folded: &Folded, logged: &[Logged]) -> Vec<Flown> {
    let session = &folded.session;
    let mut flown = Vec::new();
    for times in session.moments().figures.iter().filter(|times| !times.held) {
        for (point, _) in &times.points {
            let Some(expected) = times.expected(point) else {
                continue;
            };
            let (at, spread, how) = match seen(folded, logged, &times.key, point) {
                Some(seen) => seen,
                None if expected.at <= folded.end => (expected.at, expected.spread, How::Estimated),
                None => continue,
            };
            flown.push(Flown {
                key: times.key.clone(),
                point: point.clone(),
                planned: session.planned_point(&times.key, point),
                at,
                spread,
                how,
            });
        }
    }
    flown.sort_by_key(|flown| flown.at);
    flown
}

/// When somebody saw a point, or a log has it.
fn seen(
    folded: &Folded,
    logged: &[Logged],
    key: &Name,
    point: &PointName,
) -> Option<(Instant, Span, How)> {
    let of = |log: &&Logged| log.key == *key && log.point == *point;
    if let Some(log) = logged.iter().find(of) {
        return Some((log.at, LOG_SPREAD, How::Logged));
    }
    let session = &folded.session;
    let of = |mark: &&TakenMark| mark.point.key == *key && mark.point.point == *point;
    let marks: Vec<&TakenMark> = session.marks().iter().filter(of).collect();
    let count = marks.len() as f64;
    let first = session.seen_at(marks.first()?);
    // Two marks of one point are one sighting, seen twice.
    let later: Span = marks.iter().map(|mark| session.seen_at(mark) - first).sum();
    let spread = crate::live::estimate::mark_spread(point) / count.sqrt();
    let assumed = marks.iter().all(|mark| folded.assumed.contains(mark));
    let how = if assumed { How::Assumed } else { How::Marked };
    Some((first + later / count, spread, how))
}

/// Whether somebody could have keyed this point.
pub fn can_be_marked(point: &PointName) -> bool {
    MarkKind::of(point).is_some()
}

/// Something else that has its time: words, music, a call.
#[derive(Debug, Clone, PartialEq)]
pub struct Done {
    /// What: `welcome begun`.
    pub what: String,
    /// When the plan has it; `None` where it does not.
    pub planned: Option<Instant>,
    /// When it was.
    pub at: Instant,
    /// How that is known.
    pub how: How,
}

/// Words begun and ended, tracks begun, calls made, in order of time.
pub fn done(folded: &Folded) -> Vec<Done> {
    let session = &folded.session;
    let (show, plan) = (session.show(), &session.plan().layout);
    let mut done = Vec::new();
    for spoken in &folded.spoken {
        let (Some(block), Some(laid)) =
            (show.blocks.get(spoken.block), plan.blocks.get(spoken.block))
        else {
            continue;
        };
        let first = |at: Option<Instant>| {
            let at = at.filter(|_| spoken.round == 0);
            at.map(|at| session.as_hacked(at))
        };
        done.push(Done {
            what: format!("{} begun", block.id),
            planned: first(laid.starts.instant()),
            at: spoken.from,
            how: How::Marked,
        });
        done.extend(spoken.until.map(|at| Done {
            what: format!("{} ended", block.id),
            planned: first(laid.ends),
            at,
            how: How::Marked,
        }));
    }
    for playing in &folded.playings {
        let (Some(track), Some(laid)) = (
            show.tracks.get(playing.track),
            plan.tracks.get(playing.track),
        ) else {
            continue;
        };
        done.push(Done {
            what: format!("{} begun", track.id),
            planned: (laid.starts.instant().filter(|_| playing.round == 0))
                .map(|at| session.as_hacked(at)),
            at: playing.start,
            how: How::Sent,
        });
    }
    for &(call, at) in &folded.calls {
        let planned = plan.calls.get(call).copied().and_then(CueTime::instant);
        let planned = planned.map(|at| session.as_hacked(at));
        let first = !done
            .iter()
            .any(|done: &Done| done.what == call_name(show, call));
        done.push(Done {
            what: call_name(show, call),
            planned: planned.filter(|_| first),
            at,
            how: How::Sent,
        });
    }
    done.sort_by_key(|done| done.at);
    done
}

fn call_name(show: &crate::show::Show, call: usize) -> String {
    show.calls
        .get(call)
        .map_or(String::new(), |call| format!("call {}", call.id))
}
