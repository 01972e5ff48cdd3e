//! What was played: when each hit was heard, and for how long each track sounded.

use super::fold::{Folded, Playing};
use super::seen::{Flown, How};
use crate::live::journal::{Heard, Record};
use crate::show::{Anchor, Name, Track};
use crate::units::{Instant, Span};

/// How it is known when something sounded.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Source {
    /// Playout's own log: by the frames the device took.
    Frames,
    /// What the show sent; whether it was heard is not known.
    Sent,
}

impl Source {
    /// The words for it.
    pub fn words(self) -> &'static str {
        match self {
            Source::Frames => "frame log",
            Source::Sent => "sent",
        }
    }
}

/// A hit that was to meet an instant of flight.
#[derive(Debug, Clone, PartialEq)]
pub struct Hit {
    /// The track, by its place in the show.
    pub track: usize,
    /// The hit.
    pub hit: Name,
    /// When what it was to meet came.
    pub wanted: Instant,
    /// How that is known.
    pub how: How,
    /// When the hit was heard.
    pub heard: Instant,
    /// How that is known.
    pub source: Source,
    /// How far off still counts as met.
    pub within: Span,
}

impl Hit {
    /// How much later than wanted it was heard.
    pub fn miss(&self) -> Span {
        self.heard - self.wanted
    }

    /// Whether that counts as met.
    pub fn met(&self) -> bool {
        self.miss().abs() <= self.within
    }
}

/// Every hit that was to meet something and sounded.
pub fn hits(folded: &Folded, record: &Record, points: &[Flown]) -> Vec<Hit> {
    let hit = |playing: &Playing| {
        let track = folded.session.show().tracks.get(playing.track)?;
        let meet = track.meets.as_ref()?;
        let sent = playing.start + playing.course.reaches(meet.hit_at)?;
        if sent > playing.end {
            return None;
        }
        let (wanted, how) = wanted(folded, playing, track, points)?;
        let during = |heard: &&Heard| {
            let within = (playing.start - SLACK..=playing.end + SLACK).contains(&heard.at);
            within && heard.track == track.id && heard.hit.as_ref() == Some(&meet.hit)
        };
        // A place that comes again is meant the last time.
        let heard = record.heard().filter(during).last();
        Some(Hit {
            track: playing.track,
            hit: meet.hit.clone(),
            wanted,
            how,
            heard: heard.map_or(sent, |heard| heard.at),
            source: if heard.is_some() {
                Source::Frames
            } else {
                Source::Sent
            },
            within: meet.within,
        })
    };
    folded.playings.iter().filter_map(hit).collect()
}

/// What is heard of a playing lies this near to when it was sent.
const SLACK: Span = Span::from_ms(2_000);

/// When what a track meets came.
fn wanted(
    folded: &Folded,
    playing: &Playing,
    track: &Track,
    points: &[Flown],
) -> Option<(Instant, How)> {
    let on = &track.meets.as_ref()?.on;
    if let Anchor::Point { of, point } = &on.anchor
        && let Some(times) = folded.session.moments().figure(of, playing.round)
        && let Some(flown) = points
            .iter()
            .find(|flown| flown.key == times.key && flown.point == *point)
    {
        return Some((flown.at + on.offset, flown.how));
    }
    // What nobody can mark is where the show had it.
    let meeting = folded.session.layout().tracks.get(playing.track)?.meeting?;
    Some((meeting.wanted, How::Estimated))
}

/// For how long a track sounded.
#[derive(Debug, Clone, PartialEq)]
pub struct Sounded {
    /// The track, by its place in the show.
    pub track: usize,
    /// When it began.
    pub from: Instant,
    /// For how long in all, what was silent in between left out.
    pub lasted: Span,
    /// How that is known.
    pub source: Source,
}

/// Every playing, with what was heard of it. A journal with a frame log leaves out what nobody heard; one without has
/// what was sent.
pub fn sounded(folded: &Folded, record: &Record) -> Vec<Sounded> {
    let has_log = record.heard().next().is_some();
    let of = |playing: &Playing| {
        if !has_log {
            return Some(Sounded {
                track: playing.track,
                from: playing.start,
                lasted: audible(folded, &[playing.start], playing.end, Source::Sent),
                source: Source::Sent,
            });
        }
        let id = &folded.session.show().tracks.get(playing.track)?.id;
        let begins = record.heard().filter(|heard| {
            let within = (playing.start - SLACK..=playing.end).contains(&heard.at);
            within && heard.track == *id && heard.hit.is_none()
        });
        let begins: Vec<Instant> = begins.map(|heard| heard.at).collect();
        Some(Sounded {
            track: playing.track,
            from: *begins.first()?,
            lasted: audible(folded, &begins, playing.end, Source::Frames),
            source: Source::Frames,
        })
    };
    folded.playings.iter().filter_map(of).collect()
}

/// How much of the time from the first of `begins` to `end` was not silent: after the program died nothing sounds
/// until the track comes in again, as `begins` says or, where nothing was heard of it, with the program.
fn audible(folded: &Folded, begins: &[Instant], end: Instant, source: Source) -> Span {
    let Some(&first) = begins.first() else {
        return Span::ZERO;
    };
    let silent = folded.dead.iter().map(|&(died, opened)| {
        let again = match source {
            Source::Frames => begins.iter().copied().find(|begin| *begin >= opened),
            Source::Sent => Some(opened),
        };
        (again.unwrap_or(end).min(end) - died.max(first)).max(Span::ZERO)
    });
    (end - first - silent.sum()).max(Span::ZERO)
}
