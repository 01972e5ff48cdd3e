//! What came of a show: what was noted while it ran, held against when everything was really passed.

use crate::live::{Act, CueState, Effect, Session};
use crate::script::Version;
use crate::show::{Anchor, PointName, Show, TimeExpression};
use crate::sound::Course;
use crate::timeline::Moments;
use crate::timeline::clock::clock_instant;
use crate::units::{Instant, Span};

/// What came of a show, each flying of a figure by itself.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Outcome {
    /// Tracks that meet something that was flown.
    pub meets: Vec<MeetOutcome>,
    /// Blocks whose time came, fillers apart.
    pub blocks: Vec<BlockOutcome>,
}

/// What came of a meet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeetOutcome {
    /// The track, by index.
    pub track: usize,
    /// Which flying of its figure, from 0.
    pub round: usize,
    /// When what it meets really was.
    pub wanted: Instant,
    /// When its hit was heard; `None` where the track was not played as far as that.
    pub hit: Option<Instant>,
    /// Whether that is within what the document allows.
    pub met: bool,
}

impl MeetOutcome {
    /// How late the hit was; negative is early. `None` where it was not heard.
    pub fn miss(&self) -> Option<Span> {
        self.hit.map(|hit| hit - self.wanted)
    }
}

/// What came of a block.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BlockOutcome {
    /// The block, by index.
    pub block: usize,
    /// Which flying of its figure, from 0.
    pub round: usize,
    /// Which words were said; `None` where nobody came to begin it.
    pub version: Option<Version>,
    /// What was left before it had to be over; negative where it was not. `None`: nothing followed, or not said.
    pub slack: Option<Span>,
}

impl BlockOutcome {
    /// Whether it was said, in full or short, and over in time.
    pub fn fits(&self) -> bool {
        let said = matches!(self.version, Some(Version::Full | Version::Short));
        said && self.slack.is_none_or(|slack| slack >= Span::ZERO)
    }
}

/// Notes taken while a show runs.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Notes {
    /// Tracks as they were last turned.
    pub tracks: Vec<Played>,
    /// Blocks as they came.
    pub blocks: Vec<Came>,
}

/// A track that was fixed to start.
#[derive(Debug, Clone, PartialEq)]
pub struct Played {
    /// Which, by index, and for which flying of its figure.
    pub track: (usize, usize),
    /// When it started.
    pub start: Instant,
    /// How it was played through.
    pub course: Course,
    /// When it began to go out, if it did before its end.
    pub faded: Option<Instant>,
}

/// A block whose time came.
#[derive(Debug, Clone, PartialEq)]
pub struct Came {
    /// Which, by index, and for which flying of its figure.
    pub block: (usize, usize),
    /// When it was due; when it was left out, if it was.
    pub due: Instant,
    /// Which words were said, if any were begun or it was left out.
    pub version: Option<Version>,
    /// Its words between waits.
    pub pieces: Vec<(Instant, Instant)>,
}

impl Notes {
    /// Takes down what a session has just done.
    pub fn note(&mut self, session: &Session, effects: &[Effect]) {
        for effect in effects {
            self.note_sound(session, effect);
        }
        for (i, cue) in session.blocks().iter().enumerate() {
            let block = (i, cue.round);
            let known = self.blocks.iter().position(|came| came.block == block);
            if known.is_none()
                && matches!(
                    cue.state,
                    CueState::Due | CueState::Running | CueState::Done
                )
            {
                self.blocks.push(Came {
                    block,
                    due: session.now(),
                    version: (cue.state == CueState::Done).then_some(Version::LeftOut),
                    pieces: Vec::new(),
                });
            }
            // A hand began it: from its keys alone, all of it is one piece.
            let came = known.and_then(|known| self.blocks.get_mut(known));
            if let (Some(came), Some(since), Some(ended)) = (came, cue.since, cue.ended)
                && came.pieces.is_empty()
            {
                came.version = cue.version;
                came.pieces = vec![(since, ended)];
            }
        }
    }

    /// Takes down how the words that have just been begun will be said.
    pub fn note_words(&mut self, session: &Session, pieces: Vec<(Instant, Instant)>) {
        let mut blocks = session.blocks().iter().enumerate();
        let Some((i, cue)) = blocks.find(|(_, cue)| cue.state == CueState::Running) else {
            return;
        };
        let mut came = self.blocks.iter_mut();
        if let Some(came) = came.find(|came| came.block == (i, cue.round)) {
            came.version = cue.version;
            came.pieces = pieces;
        }
    }

    /// A track as it was last started.
    fn playing(&mut self, track: usize) -> Option<&mut Played> {
        let mut latest = self.tracks.iter_mut().rev();
        latest.find(|played| played.track.0 == track)
    }

    fn note_sound(&mut self, session: &Session, effect: &Effect) {
        let round = |track: usize| session.tracks().get(track).map_or(0, |cue| cue.round);
        match &effect.act {
            Act::Start { track, course, .. } => self.tracks.push(Played {
                track: (*track, round(*track)),
                start: effect.at,
                course: course.clone(),
                faded: None,
            }),
            Act::Turn { track, course } => {
                if let Some(playing) = self.playing(*track) {
                    playing.course = course.clone();
                }
            }
            Act::Fade { track, .. } => {
                if let Some(playing) = self.playing(*track) {
                    playing.faded.get_or_insert(effect.at);
                }
            }
            Act::FadeAll { .. } => {
                for playing in &mut self.tracks {
                    playing.faded.get_or_insert(effect.at);
                }
            }
            Act::Level { .. } | Act::Duck { .. } | Act::Call { .. } => {}
        }
    }
}

/// A show as it really went.
#[derive(Debug, Clone, Copy)]
pub struct Truth<'a> {
    /// The show.
    pub show: &'a Show,
    /// When everything that flies was really passed.
    pub moments: &'a Moments,
}

impl Truth<'_> {
    /// What came of it.
    pub fn outcome(&self, notes: &Notes) -> Outcome {
        Outcome {
            meets: self.meets(notes),
            blocks: self.blocks(notes),
        }
    }

    /// When a time, serving the `round`th flying of the figure it names, really was; `None` where what it hangs
    /// on was not.
    pub fn instant(&self, notes: &Notes, time: &TimeExpression, round: usize) -> Option<Instant> {
        let anchor = match &time.anchor {
            Anchor::Show => Instant::ZERO,
            Anchor::Clock(clock) => clock_instant(self.show, *clock)?,
            Anchor::Point { of, point } => match self.moments.figure(of, round) {
                Some(figure) => figure.expected(point)?.at,
                None => self.cue_point(notes, of, point, round)?,
            },
        };
        Some(anchor + time.offset)
    }

    fn cue_point(
        &self,
        notes: &Notes,
        of: &crate::show::Name,
        point: &PointName,
        round: usize,
    ) -> Option<Instant> {
        if let Some(i) = self.show.blocks.iter().position(|block| block.id == *of) {
            let came = notes.blocks.iter().find(|came| came.block == (i, round))?;
            return match point {
                PointName::End => came.pieces.last().map(|piece| piece.1),
                _ => came.pieces.first().map(|piece| piece.0),
            };
        }
        let i = self.show.tracks.iter().position(|track| track.id == *of)?;
        let played = notes
            .tracks
            .iter()
            .find(|played| played.track == (i, round))?;
        match point {
            PointName::Hit(hit) => {
                let (_, at) = self.show.tracks[i]
                    .hits
                    .iter()
                    .find(|(name, _)| name == hit)?;
                Some(played.start + played.course.reaches(*at)?)
            }
            _ => Some(played.start),
        }
    }

    fn meets(&self, notes: &Notes) -> Vec<MeetOutcome> {
        let mut meets = Vec::new();
        for (track, of) in self.show.tracks.iter().enumerate() {
            let Some(meet) = &of.meets else { continue };
            for round in 0.. {
                let Some(wanted) = self.instant(notes, &meet.on, round) else {
                    break;
                };
                let played = notes
                    .tracks
                    .iter()
                    .find(|played| played.track == (track, round));
                let hit = played.and_then(|played| played.hears(meet.hit_at));
                meets.push(MeetOutcome {
                    track,
                    round,
                    wanted,
                    hit,
                    met: hit.is_some_and(|hit| (hit - wanted).abs() <= meet.within),
                });
                if !self.flies_in_rounds(&meet.on) {
                    break;
                }
            }
        }
        meets
    }

    /// Whether a time hangs on a figure, which may be flown again.
    fn flies_in_rounds(&self, time: &TimeExpression) -> bool {
        match &time.anchor {
            Anchor::Point { of, .. } => self.moments.figure(of, 0).is_some(),
            Anchor::Show | Anchor::Clock(_) => false,
        }
    }

    fn blocks(&self, notes: &Notes) -> Vec<BlockOutcome> {
        let quiet = self.quiet(notes);
        let outcome = |came: &Came| BlockOutcome {
            block: came.block.0,
            round: came.block.1,
            version: came.version,
            slack: self.slack(notes, came, &quiet),
        };
        notes.blocks.iter().map(outcome).collect()
    }

    /// What was left before the words had to be over.
    fn slack(&self, notes: &Notes, came: &Came, quiet: &[(Instant, Instant)]) -> Option<Span> {
        let (_, end) = *came.pieces.last()?;
        let mut left = came
            .pieces
            .iter()
            .filter(|(from, until)| until > from)
            .filter_map(|&(from, until)| {
                let within = quiet.iter().filter(|(q, over)| *q <= from && *over > from);
                let within = within.map(|(_, over)| from - *over);
                let next = quiet.iter().map(|(q, _)| *q).filter(|q| *q > from).min();
                within.chain(next.map(|next| next - until)).min()
            })
            .min();
        let by = self.show.blocks.get(came.block.0)?.ends_by.as_ref();
        let by = by.and_then(|by| self.instant(notes, by, came.block.1));
        let later = notes.blocks.iter().filter(|other| {
            let said = other.version != Some(Version::LeftOut);
            said && (other.due, other.block) > (came.due, came.block)
        });
        let next = later.map(|other| other.due).min();
        for limit in by.into_iter().chain(next) {
            let this = limit - end;
            left = Some(left.map_or(this, |left: Span| left.min(this)));
        }
        left
    }

    /// When nobody could or should speak, in no order.
    fn quiet(&self, notes: &Notes) -> Vec<(Instant, Instant)> {
        let hushes = self
            .moments
            .figures
            .iter()
            .flat_map(|figure| figure.hush.iter().copied());
        let mut quiet: Vec<(Instant, Instant)> = hushes.collect();
        for silence in &self.show.silences {
            for round in 0.. {
                let from = self.instant(notes, &silence.from, round);
                let until = self.instant(notes, &silence.until, round);
                let (Some(from), Some(until)) = (from, until) else {
                    break;
                };
                quiet.push((from, until));
                if !self.flies_in_rounds(&silence.from) {
                    break;
                }
            }
        }
        quiet
    }
}

impl Played {
    /// When an instant of the track was heard, if it was.
    pub fn hears(&self, instant: Span) -> Option<Instant> {
        let at = self.start + self.course.reaches(instant)?;
        self.faded.is_none_or(|faded| faded > at).then_some(at)
    }
}
