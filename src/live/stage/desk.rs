//! The desk: tracks loaded behind the show, and the session's effects as orders to playout.

use std::path::PathBuf;
use std::sync::Arc;

use super::audition::Audition;
use super::listening::Listening;
use super::loading::{Loader, Loading};
use crate::live::clock::ShowClock;
use crate::live::event::{Act, Effect};
use crate::live::journal::{Heard, OutputCounts};
use crate::live::playout::{
    Ahead, Bus, Health, Monotonic, Order, Output, Playhead, Playout, Sound, Start, Started,
};
use crate::live::session::{CueState, Session};
use crate::show::Track;
use crate::sound::{Course, Rendering};
use crate::timeline::meet::Round;
use crate::units::{Gain, Instant, Span};

/// Music let in again after a kill comes in over this.
const REJOIN_FADE: Span = Span::from_ms(2_000);
/// What is rendered anew is heard this much later at the soonest.
const RENDERED_WITHIN: Span = Span::from_ms(100);
/// What sounds goes out over this when the show is left, or its clock no longer runs at its own speed.
const LEAVING_FADE: Span = Span::from_ms(300);
/// A level moves over this, so that nothing jumps.
const LEVEL_GLIDE: Span = Span::from_ms(100);

/// Tracks and the output they are played on.
pub struct Desk {
    /// Whether the show is to be heard at all.
    audible: bool,
    /// Whether it is heard now: music is only heard at its own speed.
    heard: bool,
    playout: Option<Playout>,
    /// Renders what can go round or be bent.
    ahead: Option<Ahead>,
    loader: Loader,
    tracks: Vec<Loading>,
    /// Playings numbered as playout knows them: the last of each track.
    voices: Vec<u32>,
    next_voice: u32,
    /// Whether the machine's settings name sockets for the headphones.
    headphones: bool,
    /// What is heard on them.
    pub(super) auditioned: Option<Audition>,
    log: Vec<Started>,
    listening: Listening,
    warnings: Vec<String>,
}

impl Desk {
    /// Begins to open the output and to load every track, behind the show, what is needed first first;
    /// `media` gives each track's file. Without an output tracks are loaded for the screens only.
    pub(super) fn new(
        session: &Session,
        now: Instant,
        output: Option<Output>,
        media: Vec<Option<PathBuf>>,
    ) -> Desk {
        let audible = output.is_some();
        let headphones = output
            .as_ref()
            .is_some_and(|output| output.headphones.is_some());
        let (loader, tracks, begun) = Loader::begin(session, now, output, media);
        let (ahead, unbent) = match Ahead::new() {
            Ok(ahead) => (Some(ahead), None),
            Err(error) => (
                None,
                Some(format!("tracks are played as they are, not bent: {error}")),
            ),
        };
        Desk {
            audible,
            heard: true,
            playout: None,
            ahead,
            loader,
            voices: vec![0; tracks.len()],
            tracks,
            next_voice: 1,
            headphones,
            auditioned: None,
            log: Vec::new(),
            listening: Listening::default(),
            warnings: begun.err().into_iter().chain(unbent).collect(),
        }
    }

    /// Takes what has been loaded since; a track that should be sounding by now comes in where it should be.
    pub(super) fn settle(&mut self, session: &Session, clock: &ShowClock) {
        if let Ok(playout) = self.loader.opened.try_recv() {
            self.playout = Some(playout);
            self.send(Order::Duck {
                down: session.is_ducked(),
            });
        }
        if self.audible && self.playout.is_none() {
            // A track that comes in late comes in once there is an output.
            return;
        }
        while let Ok((i, media)) = self.loader.loaded.try_recv() {
            match media {
                Ok(media) => {
                    self.tracks[i] = Loading::Ready(Arc::new(media));
                    self.rejoin_track(i, session, clock);
                }
                Err(error) => {
                    self.warnings
                        .push(format!("{}: {error}", session.show().tracks[i].id));
                    self.tracks[i] = Loading::Failed(error.to_string());
                }
            }
        }
        self.listen(session, clock);
    }

    /// Notes what has been heard since: starts from playout's own log, hits from where its voices are.
    fn listen(&mut self, session: &Session, clock: &ShowClock) {
        let Some(playout) = &self.playout else {
            return;
        };
        let tracks = &session.show().tracks;
        for started in playout.started() {
            self.listening.began(tracks, &started, clock);
            self.log.push(started);
        }
        let now = (clock.now(), clock.rate);
        self.listening.passes(tracks, &playout.playheads(), now);
    }

    /// What has been heard and not been taken down yet.
    pub(super) fn take_heard(&mut self) -> Vec<Heard> {
        self.listening.take()
    }

    /// How the output has done, if that has changed since this was last asked.
    pub(super) fn take_counts(&mut self) -> Option<OutputCounts> {
        let health = self.health()?;
        self.listening.take_counts(&health)
    }

    /// The track whose last playing has this number.
    fn track_of(&self, voice: u32) -> Option<usize> {
        self.voices.iter().position(|&last| last == voice)
    }

    fn rejoin_track(&mut self, i: usize, session: &Session, clock: &ShowClock) {
        let cue = &session.tracks()[i];
        let sounding = matches!(cue.state, CueState::Due | CueState::Running);
        let (Some((start, _)), true, None) = (cue.begun, sounding, cue.fading) else {
            return;
        };
        let fade = if start < session.now() {
            REJOIN_FADE
        } else {
            session.show().tracks[i].fade_in
        };
        let course = cue.course.clone();
        self.start(i, session, clock, (start, course), fade);
    }

    /// Carries out an effect.
    pub(super) fn perform(&mut self, effect: &Effect, session: &Session, clock: &ShowClock) {
        match &effect.act {
            Act::Start {
                track,
                fade_in,
                course,
                ..
            } => self.start(
                *track,
                session,
                clock,
                (effect.at, course.clone()),
                *fade_in,
            ),
            Act::Turn { track, course } => {
                let voice = self.voices[*track];
                self.listening.turns(voice, course.clone());
                if let Some(ahead) = &self.ahead {
                    ahead.turn(voice, course.clone());
                }
            }
            Act::Fade { track, over } => self.send(Order::Fade {
                voice: self.voices[*track],
                at: monotonic(clock, effect.at),
                over: *over,
            }),
            Act::FadeAll { over } => self.send(Order::FadeAll { over: *over }),
            Act::Level { track, .. } => self.send(Order::Gain {
                voice: self.voices[*track],
                gain: self.gain(*track, session),
                over: LEVEL_GLIDE,
            }),
            Act::Duck { down } => self.send(Order::Duck { down: *down }),
            // Calls are made by people: the screens show them.
            Act::Call { .. } => {}
        }
    }

    /// Starts a track at `start`, played through as `course` has it; one not loaded yet comes in when it is.
    fn start(
        &mut self,
        i: usize,
        session: &Session,
        clock: &ShowClock,
        (start, course): (Instant, Course),
        fade_in: Span,
    ) {
        let Loading::Ready(media) = &self.tracks[i] else {
            return;
        };
        if !self.heard {
            return;
        }
        let media = media.clone();
        let voice = self.next_voice;
        self.next_voice += 1;
        self.voices[i] = voice;
        self.listening.begins(voice, i, course.clone());
        let playing = match &self.ahead {
            Some(ahead) if !course.is_plain() || can_turn(&session.show().tracks[i]) => {
                // What is past by now is not rendered any more.
                let past = clock.now() - start;
                let late = if past > RENDERED_WITHIN {
                    past + RENDERED_WITHIN
                } else {
                    Span::ZERO
                };
                let from = course.entry + late;
                let at = monotonic(clock, start + late);
                let rate = media.pcm.rate;
                let rendering = Rendering::new(media.pcm.clone(), course, late);
                let sound = Sound::Rolling(ahead.begin(voice, rendering, rate, at));
                (sound, from, from, at)
            }
            _ => {
                let sound = Sound::Whole(media.pcm.clone());
                (sound, course.entry, Span::ZERO, monotonic(clock, start))
            }
        };
        let (sound, from, begins, at) = playing;
        self.send(Order::Start(Start {
            voice,
            sound,
            from,
            begins,
            at,
            fade_in,
            gain: self.gain(i, session),
            duck: session.show().tracks[i].duck,
            bus: Bus::Programme,
        }));
    }

    fn gain(&self, i: usize, session: &Session) -> Gain {
        let base = match &self.tracks[i] {
            Loading::Ready(media) => media.gain,
            _ => Gain::ZERO,
        };
        base + session.tracks()[i].gain
    }

    pub(super) fn send(&self, order: Order) {
        if let Some(playout) = self.playout.as_ref().filter(|_| self.heard) {
            // A full queue means the output has stopped taking orders; its health says so.
            playout.send(order);
        }
    }

    /// Lets what sounds go out, at once.
    pub(super) fn silence(&self) {
        self.send(Order::FadeAll { over: LEAVING_FADE });
    }

    /// Follows the show clock to another speed: at its own, what should sound comes in; at any other nothing
    /// is heard.
    pub(super) fn follow(&mut self, session: &Session, clock: &ShowClock) {
        self.silence();
        self.heard = clock.rate == 1.0;
        self.send(Order::Duck {
            down: session.is_ducked(),
        });
        for i in 0..self.tracks.len() {
            self.rejoin_track(i, session, clock);
        }
    }

    /// Lets what sounds go out, and waits for it.
    pub(super) fn close(&self) {
        self.silence();
        if self.playout.is_some() {
            std::thread::sleep(std::time::Duration::from_millis(400));
        }
    }

    /// How far each track is; as in the show.
    pub fn tracks(&self) -> &[Loading] {
        &self.tracks
    }

    /// Whether the show is to be heard at all.
    pub fn is_audible(&self) -> bool {
        self.audible
    }

    /// Whether the show clock runs at the music's own speed.
    pub fn is_heard(&self) -> bool {
        self.heard
    }

    /// Whether there are headphones.
    pub(super) fn has_headphones(&self) -> bool {
        self.headphones
    }

    /// Where every voice is.
    pub(super) fn playheads(&self) -> Vec<Playhead> {
        let playheads = self.playout.as_ref().map(Playout::playheads);
        playheads.unwrap_or_default()
    }

    /// How the output is; `None` while it is being opened, or when the show was asked to be silent.
    pub fn health(&self) -> Option<Health> {
        self.playout.as_ref().map(Playout::health)
    }

    /// The programme's peaks since this was last asked; `None` where nothing is heard.
    pub fn take_meters(&self) -> Option<[Gain; 2]> {
        self.playout.as_ref().map(Playout::take_meters)
    }

    /// How far the programme was taken down to stay below its ceiling since this was last asked.
    pub fn take_held(&self) -> Gain {
        let playout = self.playout.as_ref();
        playout.map_or(Gain::ZERO, Playout::take_held)
    }

    /// What sounds now: track, place in it, level.
    pub fn sounding(&self) -> Vec<(usize, Playhead)> {
        self.playheads()
            .into_iter()
            .filter_map(|playhead| Some((self.track_of(playhead.voice)?, playhead)))
            .collect()
    }

    /// What playout began to play, and when, so far.
    pub fn log(&self) -> &[Started] {
        &self.log
    }

    pub(super) fn warnings(&self) -> impl Iterator<Item = &str> {
        self.warnings.iter().map(String::as_str)
    }
}

/// Whether a track's way may change while it plays.
fn can_turn(track: &Track) -> bool {
    Round::of(track).is_some() || track.meets.is_some() && track.stretch.whole() > 0.0
}

fn monotonic(clock: &ShowClock, at: Instant) -> Monotonic {
    Monotonic::from_ns(clock.monotonic_ns(at))
}
