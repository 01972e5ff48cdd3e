//! A journal folded through the session that ran it: what came of every event.

use std::sync::Arc;

use crate::live::clock::ShowClock;
use crate::live::event::{Act, Effect, Event, Halt, What};
use crate::live::journal::{Line, OutputCounts, Record};
use crate::live::session::{CueState, Mode, Session, TakenMark};
use crate::live::stage;
use crate::show::{Name, Show};
use crate::sound::Course;
use crate::timeline::{Plan, Version};
use crate::units::{Instant, Span};

/// A show as it went.
pub struct Folded {
    /// The session where the journal ends.
    pub session: Session,
    /// Where that is.
    pub end: Instant,
    /// Whether it was a practice: nobody flew.
    pub practice: bool,
    /// Show seconds in a second: 1 but for a rehearsal.
    pub rate: f64,
    /// When the show was first opened, on the clock on the wall, in microseconds since 1970.
    pub wall_us: Option<i64>,
    /// Marks that nobody keyed: of a show begun in the middle, taken as flown.
    pub assumed: Vec<TakenMark>,
    /// Words said, in order.
    pub spoken: Vec<Spoken>,
    /// Tracks played, in order.
    pub playings: Vec<Playing>,
    /// When each call was made: its place in the show, and when.
    pub calls: Vec<(usize, Instant)>,
    /// What was done to the programme, and when.
    pub changes: Vec<(Instant, String)>,
    /// When the program was not running: from the last that is known of it until it was opened again.
    pub dead: Vec<(Instant, Instant)>,
    /// How the output did; `None` where nobody noted it.
    pub output: Option<OutputCounts>,
    /// Lines of the journal that could not be read.
    pub torn: usize,
}

/// A block that was said.
#[derive(Debug, Clone, PartialEq)]
pub struct Spoken {
    /// Which, by its place in the show.
    pub block: usize,
    /// In which version.
    pub version: Version,
    /// Which flying of its figure it served, from 0.
    pub round: usize,
    /// When it was begun.
    pub from: Instant,
    /// When it was ended; `None` where the journal ends before.
    pub until: Option<Instant>,
}

/// One playing of a track, as the show sent it.
#[derive(Debug, Clone, PartialEq)]
pub struct Playing {
    /// Which, by its place in the show.
    pub track: usize,
    /// Which flying of its figure it served, from 0.
    pub round: usize,
    /// When it was to begin.
    pub start: Instant,
    /// How it was played through in the end.
    pub course: Course,
    /// When it began to go out, and over how long.
    pub fade: Option<(Instant, Span)>,
    /// When it was over.
    pub end: Instant,
}

/// Folds a journal of `show`, planned as `plan`.
pub fn fold(show: &Arc<Show>, plan: &Arc<Plan>, record: &Record) -> Folded {
    let first = record.first_clock().map_or(Instant::ZERO, |clock| clock.at);
    let begins = stage::begins(plan, first);
    let mut folding = Folding {
        session: Session::new(show.clone(), plan.clone(), begins),
        practice: record.header.practice,
        opened: None,
        last: begins,
        folded: Parts::default(),
    };
    for line in &record.lines {
        folding.take(line);
    }
    let end = folding.last;
    folding.apply(&Event {
        at: end,
        what: What::Tick,
    });
    let Folding {
        session, folded, ..
    } = folding;
    let first = record.first_clock();
    Folded {
        end,
        practice: record.header.practice,
        rate: first.map_or(1.0, |clock| clock.rate),
        wall_us: first.map(|clock| clock.reading.wall_us),
        assumed: folded.assumed,
        spoken: folded.spoken,
        playings: ended(&session, folded.playings, end),
        calls: folded.calls,
        changes: folded.changes,
        dead: folded.dead,
        output: record.output(),
        torn: record.torn,
        session,
    }
}

/// A fold under way.
struct Folding {
    session: Session,
    /// A practice is opened anew whenever its pace changes, and none is gone on with.
    practice: bool,
    opened: Option<ShowClock>,
    /// The last instant of the show that anything is known of.
    last: Instant,
    folded: Parts,
}

/// What has been found so far.
#[derive(Default)]
struct Parts {
    assumed: Vec<TakenMark>,
    spoken: Vec<Spoken>,
    playings: Vec<Playing>,
    calls: Vec<(usize, Instant)>,
    changes: Vec<(Instant, String)>,
    dead: Vec<(Instant, Instant)>,
}

/// A block being said: which, its version, its round, since when.
type Said = (usize, Version, usize, Instant);

impl Folding {
    fn take(&mut self, line: &Line) {
        match line {
            Line::Opened(clock) => {
                if self.opened.is_some() && !self.practice && clock.at > self.last {
                    self.folded.dead.push((self.last, clock.at));
                }
                self.last = self.last.max(clock.at);
                self.opened = Some(clock.clone());
            }
            Line::Event(stamped) => {
                self.apply(&stamped.event);
                self.last = self.last.max(stamped.event.at);
            }
            Line::Heard(heard) => self.last = self.last.max(heard.at),
            Line::Closed(reading) => {
                let at = self.opened.as_ref().map(|clock| clock.at(reading));
                self.last = at.map_or(self.last, |at| self.last.max(at));
            }
            // What a sealed journal goes on in has been read with it.
            Line::Sealed { .. } | Line::Follows { .. } | Line::Sent(_) | Line::Output(_) => {}
        }
    }

    fn apply(&mut self, event: &Event) {
        let before = self.said();
        let marks = self.session.marks().len();
        let effects = self.session.apply(event);
        let now = self.session.now();
        if let (Some((block, version, round, from)), true) = (before, before != self.said()) {
            self.folded.spoken.push(Spoken {
                block,
                version,
                round,
                from,
                until: Some(now),
            });
        }
        if self.opened.is_none() {
            let taken = self.session.marks().get(marks..).unwrap_or_default();
            self.folded.assumed.extend_from_slice(taken);
        }
        // The first of the two keys that leave an accident changes nothing.
        let still =
            matches!(self.session.mode(), Mode::Accident { .. }) && event.what == What::Release;
        if let Some(change) = change_of(&event.what).filter(|_| !still) {
            self.folded.changes.push((now, change));
        }
        for effect in &effects {
            self.note(effect);
        }
    }

    fn said(&self) -> Option<Said> {
        let blocks = self.session.blocks();
        let i = blocks
            .iter()
            .position(|cue| cue.state == CueState::Running)?;
        let cue = blocks.get(i)?;
        Some((i, cue.version.unwrap_or_default(), cue.round, cue.since?))
    }

    fn note(&mut self, effect: &Effect) {
        let playings = &mut self.folded.playings;
        let last_of = |playings: &mut Vec<Playing>, track: usize| {
            playings.iter().rposition(|playing| playing.track == track)
        };
        match &effect.act {
            Act::Start { track, course, .. } => playings.push(Playing {
                track: *track,
                round: self.session.tracks().get(*track).map_or(0, |cue| cue.round),
                start: effect.at,
                course: course.clone(),
                fade: None,
                end: Instant::NEVER,
            }),
            Act::Turn { track, course } => {
                if let Some(i) = last_of(playings, *track) {
                    playings[i].course = course.clone();
                }
            }
            Act::Fade { track, over } => {
                if let Some(i) = last_of(playings, *track) {
                    fade(&mut playings[i], effect.at, *over);
                }
            }
            Act::FadeAll { over } => {
                for playing in playings {
                    fade(playing, effect.at, *over);
                }
            }
            Act::Call { call } => self.folded.calls.push((*call, effect.at)),
            Act::Level { .. } | Act::Duck { .. } => {}
        }
    }
}

/// A fade only ever ends a playing sooner; what was to begin after it does not.
fn fade(playing: &mut Playing, at: Instant, over: Span) {
    let sooner = |(from, span): (Instant, Span)| from + span <= at + over;
    if !playing.fade.is_some_and(sooner) {
        playing.fade = Some((at, over));
    }
}

/// The playings with their ends: faded, at the end of the track, or where the journal ends. One that was faded before
/// it began never did.
fn ended(session: &Session, playings: Vec<Playing>, end: Instant) -> Vec<Playing> {
    let lengths = &session.plan().facts.track_lengths;
    let ended = playings.into_iter().filter_map(|playing| {
        let length = lengths.get(playing.track).copied().unwrap_or(Span::ZERO);
        let own = if length > Span::ZERO {
            playing.course.ends(playing.start, length)
        } else {
            end
        };
        let faded = playing.fade.map_or(own, |(at, over)| at + over);
        let over = own.min(faded).min(end);
        let began = playing.fade.is_none_or(|(at, _)| at > playing.start);
        (began && over > playing.start).then_some(Playing {
            end: over,
            ..playing
        })
    });
    ended.collect()
}

/// What an event does to the programme, in words.
fn change_of(what: &What) -> Option<String> {
    let told = |verb: &str, key: &Name| Some(format!("{key} {verb}"));
    match what {
        What::Delay => Some("the show held up".into()),
        What::Resume => Some("the show went on".into()),
        What::Drop { key } => told("dropped", key),
        What::Reinstate { key } => told("flown after all", key),
        What::Repeat { figure } => told("flown once more", figure),
        What::Insert { figure, .. } => told("put in", figure),
        What::Swap { first, second } => Some(format!("{first} and {second} changed places")),
        What::Mirror { key } => told("flown from the other side", key),
        What::Profile { name } => Some(format!("profile {name} from then on")),
        What::KnockItOff => Some("knocked off".into()),
        What::Halt { why } => Some(halted(*why).into()),
        What::Accident => Some("accident".into()),
        What::Release => Some("released".into()),
        _ => None,
    }
}

fn halted(why: Halt) -> &'static str {
    match why {
        Halt::WeatherHold => "weather hold",
        Halt::TechnicalDelay => "technical delay",
        Halt::EndedEarly => "ended early",
    }
}
