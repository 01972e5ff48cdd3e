//! What a screen may ask of a session.

use std::sync::Arc;

use super::{
    Ask, BlockCue, CallCue, CueState, Flying, Learned, Mode, Session, SilenceCue, TakenMark,
    TrackCue,
};
use crate::flight::{FlownFigure, PathSample};
use crate::show::{Name, PointName, Show};
use crate::timeline::moments::sample_at;
use crate::timeline::{Expected, FigureTimes, Layout, Moments, Plan, Version};
use crate::units::{Instant, Span};

/// Something that is to come.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Next {
    /// What kind of thing.
    pub kind: NextKind,
    /// When, by the estimate.
    pub at: Instant,
    /// When, by the plan; `None` where the plan has no such thing.
    pub planned: Option<Instant>,
}

/// What kind of thing is to come.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NextKind {
    /// A block begins: index in the show's blocks.
    Block(usize),
    /// A track starts: index in the show's tracks.
    Track(usize),
    /// A call: index in the show's calls.
    Call(usize),
    /// A silence begins: index in the show's silences.
    Silence(usize),
    /// A point of a figure.
    Point {
        /// The entry.
        key: Name,
        /// Which point.
        point: PointName,
    },
}

/// An aircraft in the air, as estimated.
#[derive(Debug, Clone, PartialEq)]
pub struct Aloft {
    /// Who: the first aircraft of the figure.
    pub aircraft: Name,
    /// The figure being flown.
    pub key: Name,
    /// Where.
    pub sample: PathSample,
}

impl Session {
    /// The show.
    pub fn show(&self) -> &Show {
        &self.show
    }

    /// Show and plan, for another session of them.
    pub fn shared(&self) -> (Arc<Show>, Arc<Plan>) {
        (self.show.clone(), self.plan.clone())
    }

    /// The plan, which never changes.
    pub fn plan(&self) -> &Plan {
        &self.plan
    }

    /// Where the show clock stood at the last event.
    pub fn now(&self) -> Instant {
        self.now
    }

    /// How the show is going.
    pub fn mode(&self) -> Mode {
        self.mode
    }

    /// Whether automatic starts are armed.
    pub fn is_armed(&self) -> bool {
        self.armed
    }

    /// Whether music is down under words.
    pub fn is_ducked(&self) -> bool {
        self.ducked
    }

    /// Whether the duck key is latched.
    pub fn is_duck_latched(&self) -> bool {
        self.duck_latched
    }

    /// The programme as it stands, dropped entries too.
    pub fn programme(&self) -> &[Flying] {
        &self.programme
    }

    /// The figures as flown in the model, dropped ones left out.
    pub fn figures(&self) -> &[FlownFigure] {
        &self.flight.figures
    }

    /// When everything that flies is expected.
    pub fn moments(&self) -> &Moments {
        &self.moments
    }

    /// When everything else is expected.
    pub fn layout(&self) -> &Layout {
        &self.layout
    }

    /// Blocks, as in the show.
    pub fn blocks(&self) -> &[BlockCue] {
        &self.blocks
    }

    /// Tracks, as in the show.
    pub fn tracks(&self) -> &[TrackCue] {
        &self.tracks
    }

    /// Calls, as in the show.
    pub fn calls(&self) -> &[CallCue] {
        &self.calls
    }

    /// Silences, as in the show.
    pub fn silences(&self) -> &[SilenceCue] {
        &self.silences
    }

    /// Marks taken, oldest first.
    pub fn marks(&self) -> &[TakenMark] {
        &self.marks
    }

    /// What has been learned of each chain's pace and wind.
    pub fn learned(&self) -> &[Learned] {
        &self.learned
    }

    /// The question about a mark, if one is open.
    pub fn ask(&self) -> Option<&Ask> {
        self.ask.as_ref()
    }

    /// A planned instant, by the last time hack.
    pub fn as_hacked(&self, planned: Instant) -> Instant {
        self.zero + (planned - Instant::ZERO)
    }

    /// How far the machine's clock is behind the last time hack, if one was taken.
    pub fn hack(&self) -> Option<Span> {
        self.hack
    }

    /// When the next figure begins, by the estimate.
    pub fn next_figure(&self) -> Option<Instant> {
        let figures = self.moments.figures.iter().filter(|times| !times.held);
        let starts = figures.map(FigureTimes::start);
        starts.filter(|start| *start > self.now).min()
    }

    /// What was said to whoever looks, oldest first.
    pub fn notices(&self) -> &[(Instant, String)] {
        &self.notices
    }

    /// How many effects there have been so far: the id of the last.
    pub fn last_effect(&self) -> u64 {
        self.effect_count
    }

    /// What a dropped, ahead, running or done entry is doing now.
    pub fn figure_state(&self, flying: &Flying) -> CueState {
        if flying.dropped {
            return CueState::Dropped;
        }
        match self.times_of(&flying.entry.key) {
            _ if flying.held => CueState::Ahead,
            Some(times) if self.now >= times.end() => CueState::Done,
            Some(times) if self.now >= times.start() => CueState::Running,
            _ => CueState::Ahead,
        }
    }

    /// When an entry's points are expected.
    pub fn times_of(&self, key: &Name) -> Option<&FigureTimes> {
        self.moments
            .figures
            .iter()
            .find(|figure| figure.key == *key)
    }

    /// What the start of the `figure`th figure flown waits for outside its own chain, where that is later than the end of
    /// its chain: when that is, and how sharply it is known.
    pub fn waited_for(&self, figure: usize) -> Option<Expected> {
        self.starts.get(&figure).copied()
    }

    /// Where each aircraft in the air is; those that fly as one count as the first of them.
    pub fn aloft(&self) -> Vec<Aloft> {
        let flying = self.moments.figures.iter().zip(&self.flight.figures);
        flying
            .filter(|(times, _)| !times.held && times.start() <= self.now && self.now < times.end())
            .flat_map(|(times, flown)| flown.parts.iter().map(move |part| (times, part)))
            .filter_map(|(times, part)| {
                Some(Aloft {
                    aircraft: part.aircraft.first()?.clone(),
                    key: times.key.clone(),
                    sample: sample_at(&part.path, times.after_at(self.now))?,
                })
            })
            .collect()
    }

    /// Where a sounding track is, in the track.
    pub fn playhead(&self, track: usize) -> Option<Span> {
        let cue = self.tracks.get(track)?;
        let (start, _) = cue.begun.filter(|_| cue.state == CueState::Running)?;
        Some(cue.course.place_at(self.now - start))
    }

    /// When a place of a sounding track is heard for the last time; `None` where it has been passed.
    pub fn heard_at(&self, track: usize, place: Span) -> Option<Instant> {
        let cue = self.tracks.get(track)?;
        let (start, _) = cue.begun.filter(|_| cue.state == CueState::Running)?;
        let at = start + cue.course.reaches(place)?;
        (at > self.now).then_some(at)
    }

    /// How many bars of its vamp a track still plays again.
    pub fn bars_to_come(&self, track: usize) -> u32 {
        let (Some(cue), Some(laid)) = (self.tracks.get(track), self.layout.tracks.get(track))
        else {
            return 0;
        };
        match cue.begun {
            Some((start, _)) => cue.course.bars_after(self.now - start),
            None => laid.course.bars(),
        }
    }

    /// When the hush that is on now ends.
    pub fn hush_until(&self) -> Option<Instant> {
        let hushes = self.moments.hushes();
        let on = hushes
            .iter()
            .filter(|(from, until)| (*from..*until).contains(&self.now));
        on.map(|&(_, until)| until).max()
    }

    /// Everything to come in order of time: words, music, calls, silences and marked points.
    pub fn coming(&self) -> Vec<Next> {
        let mut coming = self.coming_cues();
        coming.extend(self.coming_points());
        coming.retain(|next| next.at > self.now);
        coming.sort_by_key(|next| next.at);
        coming
    }

    fn coming_cues(&self) -> Vec<Next> {
        let plan = &self.plan.layout;
        let ahead = |state| matches!(state, CueState::Ahead | CueState::Due);
        let mut coming = Vec::new();
        let mut add =
            |kind, state, at: crate::timeline::CueTime, planned: crate::timeline::CueTime| {
                if let (true, Some(at)) = (ahead(state), at.instant()) {
                    let planned = planned.instant().map(|at| self.as_hacked(at));
                    coming.push(Next { kind, at, planned });
                }
            };
        let said = |i: usize| self.layout.blocks[i].version != Version::LeftOut;
        for (i, cue) in self.blocks.iter().enumerate().filter(|&(i, _)| said(i)) {
            add(
                NextKind::Block(i),
                cue.state,
                self.layout.blocks[i].starts,
                plan.blocks[i].starts,
            );
        }
        for (i, cue) in self.tracks.iter().enumerate() {
            add(
                NextKind::Track(i),
                cue.state,
                self.layout.tracks[i].starts,
                plan.tracks[i].starts,
            );
        }
        for (i, cue) in self.calls.iter().enumerate() {
            add(
                NextKind::Call(i),
                cue.state,
                self.layout.calls[i],
                plan.calls[i],
            );
        }
        for (i, cue) in self.silences.iter().enumerate() {
            add(
                NextKind::Silence(i),
                cue.state,
                self.layout.silences[i].0,
                plan.silences[i].0,
            );
        }
        coming
    }

    /// Inbounds, gates and abeams still to come; what is marked has come, wherever the estimate puts it.
    fn coming_points(&self) -> Vec<Next> {
        let mut coming = Vec::new();
        let flying = self.moments.figures.iter().zip(&self.flight.figures);
        for (figure, flown) in flying.filter(|(figure, _)| !figure.held) {
            for ((point, _), way) in figure.points.iter().zip(&flown.points) {
                let kept = match point {
                    // Where nobody waits to leave a hold, inbound is no more than the figure's start.
                    PointName::Inbound => way.step.waits,
                    PointName::Gate(_) | PointName::Abeam(_) => true,
                    _ => false,
                };
                let marked = self
                    .marks
                    .iter()
                    .any(|mark| mark.point.key == figure.key && mark.point.point == *point);
                if let (true, Some(expected)) = (kept && !marked, figure.expected(point)) {
                    coming.push(Next {
                        kind: NextKind::Point {
                            key: figure.key.clone(),
                            point: point.clone(),
                        },
                        at: expected.at,
                        planned: self.planned_point(&figure.key, point),
                    });
                }
            }
        }
        coming
    }

    /// When the plan has a point, by the last time hack.
    pub fn planned_point(&self, key: &Name, point: &PointName) -> Option<Instant> {
        let figure = self.plan.moments.figures.iter().find(|f| f.key == *key)?;
        Some(self.as_hacked(figure.expected(point)?.at))
    }
}
