//! The tracks of a laying.

use super::{Due, Known, Stamp, Table, round};
use crate::show::PointName;
use crate::sound::Course;
use crate::timeline::course::as_planned;
use crate::timeline::layout::{CueTime, PlayedTrack};
use crate::timeline::meet::{Means, Way, start};
use crate::units::{Instant, Span};

impl Table<'_> {
    pub(super) fn track_point(&self, i: usize, point: &PointName) -> Due {
        let (track, stamp) = self.track(i);
        let time = match point {
            PointName::End => match track.ends {
                Some(at) => CueTime::At(at),
                None => track.starts,
            },
            PointName::Hit(hit) => {
                let hits = &self.show.tracks[i].hits;
                let hit = hits.iter().find(|(name, _)| name == hit);
                match hit.map(|(_, at)| (at, track.course.reaches(*at))) {
                    Some((_, Some(after))) => track.starts.map(|start| start + after),
                    // Begun after it: when it would have been heard.
                    Some((at, None)) => track.starts.map(|start| start + (*at - track.entry)),
                    None => CueTime::Orphaned,
                }
            }
            _ => track.starts,
        };
        Due { time, stamp }
    }

    pub(in crate::timeline) fn track(&self, i: usize) -> (PlayedTrack, Stamp) {
        let known = self.tracks.borrow()[i].clone();
        match known {
            Known::Is(track) => track,
            Known::Asked => (
                PlayedTrack {
                    starts: CueTime::Orphaned,
                    entry: Span::ZERO,
                    course: Course::default(),
                    fades: None,
                    ends: None,
                    asked_end: None,
                    meeting: None,
                },
                Stamp::default(),
            ),
            Known::Not => {
                self.tracks.borrow_mut()[i] = Known::Asked;
                let track = self.place_track(i);
                self.tracks.borrow_mut()[i] = Known::Is(track.clone());
                track
            }
        }
    }

    fn place_track(&self, i: usize) -> (PlayedTrack, Stamp) {
        let track = &self.show.tracks[i];
        let round = round(&self.begun.rounds.tracks, i);
        let begun = self.begun.tracks.get(i).cloned().flatten();
        let means = Means::of(track);
        let wanted = track.meets.as_ref().map(|meet| self.due(&meet.on, round));
        let stamp = wanted.map_or(Stamp::default(), |wanted| wanted.stamp);
        let wanted = wanted.map(|wanted| wanted.time);
        let (starts, course, meeting, stamp) = match (begun, means, wanted) {
            (Some(way), Some(means), Some(CueTime::At(wanted))) => {
                let meeting = means.meeting(&way, wanted);
                let starts = CueTime::At(way.start);
                (starts, way.course, Some(meeting), Stamp::default())
            }
            (Some(way), ..) => (CueTime::At(way.start), way.course, None, Stamp::default()),
            (None, Some(means), Some(CueTime::At(wanted))) => {
                let earliest = self.begun.now.unwrap_or_else(|| self.moments.begin());
                let (Way { start, course, .. }, meeting) = start::solve(&means, wanted, earliest);
                (CueTime::At(start), course, Some(meeting), stamp)
            }
            (None, Some(_), Some(no_time)) => (no_time, as_planned(track), None, stamp),
            _ => {
                let starts = track.starts.as_ref();
                let starts = starts.map_or(Due::sure(CueTime::Free), |at| self.due(at, round));
                (starts.time, as_planned(track), None, starts.stamp)
            }
        };
        let stated = track.ends.as_ref();
        let asked_end = stated.and_then(|ends| self.time(ends, round).instant());
        let (fades, ends) = self.track_end(i, starts, &course, asked_end);
        let played = PlayedTrack {
            starts,
            entry: course.entry,
            course,
            fades,
            ends,
            asked_end,
            meeting,
        };
        (played, stamp)
    }

    /// When a track begins to fade and when it is silent, if it is `asked` to end then.
    fn track_end(
        &self,
        i: usize,
        starts: CueTime,
        course: &Course,
        asked: Option<Instant>,
    ) -> (Option<Instant>, Option<Instant>) {
        let track = &self.show.tracks[i];
        let Some(start) = starts.instant() else {
            return (None, None);
        };
        let length = self.facts.track_lengths.get(i).copied().unwrap_or_default();
        let own_end = course.ends(start, length);
        let end = asked.map_or(own_end, |end| end.min(own_end)).max(start);
        // One that is over by itself fades only where it is asked to.
        let fades = end < own_end || track.fade_out > Span::ZERO && end > start;
        (fades.then(|| (end - track.fade_out).max(start)), Some(end))
    }
}
