//! Music in a sketch: when it starts, and how it is turned for its meet.

use super::fold::Fold;
use super::hooks::Due;
use crate::live::session::{LEAD, SHORTEST_FADE};
use crate::practice::outcome::Played;
use crate::sound::Course;
use crate::timeline::Way;
use crate::timeline::meet::{COMMIT, Means, UNHEARD, playing, start};
use crate::units::{Instant, Span};

/// A track, and what becomes of it.
#[derive(Debug, Clone, Default)]
pub(super) struct Playing {
    /// Which flying of its figure it serves, from 0.
    pub(super) round: usize,
    /// How it plays, once it is fixed to.
    pub(super) way: Option<Way>,
    /// When its hit is heard, and from when on no bars can be added; as it plays now.
    falls: Instant,
    rounds_fixed_from: Option<Instant>,
    /// When it is over by itself.
    ends: Instant,
    settled: Option<Instant>,
    /// For which instant it was last turned, and how much had happened by then.
    met_for: Option<(Instant, u64)>,
    /// When it has gone out, once it fades.
    silent: Option<Instant>,
    left_out: bool,
}

impl Playing {
    /// A track ahead of one flying of its figure.
    pub(super) fn serving(round: usize) -> Playing {
        Playing {
            round,
            ..Playing::default()
        }
    }
}

impl Fold<'_> {
    /// The instant that a track's hit is to meet.
    fn wanted(&self, i: usize) -> Option<Instant> {
        self.due(self.timed(i).on.as_ref()?).instant()
    }

    /// When a track starts, or would.
    pub(super) fn track_start(&self, i: usize) -> Due {
        let (track, at) = (&self.score.tracks[i], self.timed(i));
        match (&self.tracks[i].way, &track.means, &at.on, &at.starts) {
            (Some(way), ..) => Due::At(way.start),
            (None, Some(means), Some(on), _) => match self.due(on) {
                Due::At(wanted) => Due::At(self.meet_start(i, means, wanted)),
                other => other,
            },
            (None, _, _, Some(starts)) => self.due(starts),
            (None, _, _, None) => Due::Never,
        }
    }

    /// When a track must start so that its hit falls on `wanted`: from its first entry, with the bars planned, as
    /// long as there is time for that.
    fn meet_start(&self, i: usize, means: &Means<'_>, wanted: Instant) -> Instant {
        let planned = self.score.tracks[i].music.map(|music| wanted - music);
        match planned.filter(|start| *start >= self.now) {
            Some(start) => start,
            None => start::solve(means, wanted, self.now).0.start,
        }
    }

    /// How it is played through, or would be.
    fn course(&self, i: usize) -> Course {
        let track = &self.score.tracks[i];
        match (&self.tracks[i].way, &track.means, &self.timed(i).on) {
            (Some(way), ..) => way.course.clone(),
            (None, Some(means), Some(on)) => match self.due(on) {
                Due::At(wanted) => start::solve(means, wanted, self.now).0.course,
                _ => track.planned.clone(),
            },
            _ => track.planned.clone(),
        }
    }

    pub(super) fn track_hit(&self, i: usize, place: Span) -> Due {
        let course = self.course(i);
        let after = course.reaches(place);
        // Begun after it: when it would have been heard.
        self.track_start(i)
            .later(after.unwrap_or(place - course.entry))
    }

    pub(super) fn track_end(&self, i: usize) -> Due {
        let start = match self.track_start(i) {
            Due::At(start) => start,
            other => return other,
        };
        let track = &self.score.tracks[i];
        let own = self.course(i).ends(start, track.length);
        let ends = self.timed(i).ends.as_ref();
        let stated = ends.and_then(|ends| self.due(ends).instant());
        Due::At(stated.map_or(own, |stated| stated.min(own)).max(start))
    }

    /// When something happens to a track by itself.
    pub(super) fn track_due(&self, i: usize) -> Option<Instant> {
        let track = &self.tracks[i];
        if track.way.is_none() {
            return self.starts_by_itself(i);
        }
        let turns = track
            .settled
            .filter(|at| *at > self.now && self.wants_to_turn(i));
        let over = self.track_over(i);
        turns.into_iter().chain(self.fades(i)).chain(over).min()
    }

    fn starts_by_itself(&self, i: usize) -> Option<Instant> {
        let waits = self.score.tracks[i].by_itself && !self.tracks[i].left_out;
        let start = self.track_start(i).instant().filter(|_| waits)?;
        // It is fixed so long before it sounds.
        Some(start - LEAD)
    }

    /// When it goes out, if something ends it. After its hit that matters only to one that comes again.
    fn fades(&self, i: usize) -> Option<Instant> {
        let track = &self.tracks[i];
        let way = track.way.as_ref().filter(|_| track.silent.is_none())?;
        let end = self.due(self.timed(i).ends.as_ref()?).instant()?;
        let fades = (end - self.score.show.tracks[i].fade_out).max(way.start);
        let matters = fades < track.falls || self.track_is_to_come_again(i);
        (end < track.ends && matters).then_some(fades)
    }

    /// When one that comes again is over.
    fn track_over(&self, i: usize) -> Option<Instant> {
        let track = &self.tracks[i];
        let plays = track.way.is_some() && self.track_is_to_come_again(i);
        let by_itself = || self.fades(i).is_none().then_some(track.ends);
        track.silent.or_else(by_itself).filter(|_| plays)
    }

    /// Whether another look may turn it.
    pub(super) fn may_turn(&self, i: usize) -> bool {
        let track = &self.tracks[i];
        let open = track.rounds_fixed_from.is_some_and(|from| from > self.now);
        open && self.score.tracks[i].turns && track.silent.is_none()
    }

    /// Starts it, fades it or turns it if its time has come; whether it did.
    pub(super) fn move_track(&mut self, i: usize) -> bool {
        let left_out = self.tracks[i].left_out && self.track_is_to_come_again(i);
        if left_out || self.is_now(self.track_over(i)) {
            self.track_comes_again(i);
            return true;
        }
        if self.tracks[i].way.is_none() {
            if self.tracks[i].left_out {
                self.tracks[i].left_out = !self.can_meet_again(i);
            }
            return self.is_now(self.starts_by_itself(i)) && self.start(i);
        }
        if self.is_now(self.fades(i)) {
            self.fade(i, self.score.show.tracks[i].fade_out);
            return true;
        }
        self.follow_meet(i)
    }

    /// Whether what was left out for a meet it would have missed would make it now.
    fn can_meet_again(&self, i: usize) -> bool {
        let meeting = self.score.tracks[i].means.as_ref().zip(self.wanted(i));
        meeting.is_some_and(|(means, wanted)| !start::solve(means, wanted, self.now).1.left_out)
    }

    /// Fixes its start.
    fn start(&mut self, i: usize) -> bool {
        let track = &self.score.tracks[i];
        let way = match track.means.as_ref().zip(self.wanted(i)) {
            Some((means, wanted)) => {
                let (way, meeting) = start::solve(means, wanted, self.now);
                if meeting.left_out {
                    self.tracks[i].left_out = true;
                    return true;
                }
                way
            }
            None => Way {
                start: self.track_start(i).instant().unwrap_or(self.now),
                course: track.planned.clone(),
                left_out: false,
            },
        };
        let start = way.start.max(self.now);
        let course = way.course.clone();
        let round = self.tracks[i].round;
        self.notes().tracks.push(Played {
            track: (i, round),
            start,
            course,
            faded: None,
        });
        self.plays(i, Way { start, ..way });
        true
    }

    /// It plays so from now on.
    fn plays(&mut self, i: usize, way: Way) {
        let track = &self.score.tracks[i];
        let playing = &mut self.tracks[i];
        playing.ends = way.course.ends(way.start, track.length);
        if let Some(means) = &track.means {
            let meeting = means.meeting(&way, way.start);
            playing.falls = way.start + meeting.miss;
            playing.rounds_fixed_from = meeting.rounds_fixed_from;
        }
        playing.way = Some(way);
    }

    fn fade(&mut self, i: usize, over: Span) {
        let now = self.now;
        self.tracks[i].silent = Some(now + over);
        let mut latest = self.notes().tracks.iter_mut().rev();
        if let Some(played) = latest.find(|played| played.track.0 == i) {
            played.faded.get_or_insert(now);
        }
    }

    /// Whether it may be turned once more: one turn at a time where only time passes, but at once where something happened.
    fn can_turn(&self, i: usize) -> bool {
        let Playing {
            settled, met_for, ..
        } = &self.tracks[i];
        settled.is_none_or(|at| at <= self.now)
            || met_for.is_some_and(|(_, happened)| happened != self.happened)
    }

    /// Whether what it meets has moved since it was last looked at; once nothing but the rate is left to change,
    /// only where something happened.
    fn wants_to_turn(&self, i: usize) -> bool {
        let (track, played) = (&self.tracks[i], &self.score.tracks[i]);
        let sounds = played.turns && track.silent.is_none() && self.now < track.ends;
        let Some(wanted) = self.wanted(i).filter(|_| sounds) else {
            return false;
        };
        let open = track.rounds_fixed_from.is_some_and(|from| from > self.now);
        match track.met_for {
            None => true,
            Some((met, happened)) => met != wanted && (open || happened != self.happened),
        }
    }

    /// Turns a playing track so that its hit falls where it is wanted now; whether it turned.
    fn follow_meet(&mut self, i: usize) -> bool {
        if !self.can_turn(i) || !self.wants_to_turn(i) {
            return false;
        }
        let means = &self.score.tracks[i].means;
        let (Some(wanted), Some(means), Some(way)) = (self.wanted(i), means, &self.tracks[i].way)
        else {
            return false;
        };
        let turned = ((self.tracks[i].falls - wanted).abs() > UNHEARD)
            .then(|| playing::solve(means, way, wanted, self.now + COMMIT))
            .flatten()
            .filter(|turned| turned.left_out || turned.course != way.course);
        self.tracks[i].met_for = Some((wanted, self.happened));
        let Some(turned) = turned else { return false };
        let closed = self.tracks[i]
            .rounds_fixed_from
            .is_none_or(|from| from <= self.now);
        if turned.left_out && closed {
            let over = self.score.show.tracks[i].fade_out.max(SHORTEST_FADE);
            self.fade(i, over);
            return true;
        }
        if self.tracks[i]
            .way
            .as_ref()
            .is_some_and(|way| way.course == turned.course)
        {
            return false;
        }
        let course = turned.course.clone();
        let mut latest = self.notes().tracks.iter_mut().rev();
        if let Some(played) = latest.find(|played| played.track.0 == i) {
            played.course = course;
        }
        self.tracks[i].settled = Some(self.now + COMMIT);
        self.plays(i, turned);
        true
    }
}
