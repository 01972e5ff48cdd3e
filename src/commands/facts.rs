//! What the screens are told of clock and desk.

use std::sync::Arc;
use std::sync::atomic::Ordering::Relaxed;

use jiff::{SignedDuration, ZonedDateTime};

use crate::live::playout::{Health, Playhead};
use crate::live::stage::Loading;
use crate::live::{Session, Stage};
use crate::practice::rehearsal::Rehearsal;
use crate::screens::{ClockFace, DeskFacts, Outline, Output, PracticeFacts, TrackFacts};
use crate::sound::Media;
use crate::units::{Instant, Span};

/// A show begun by hand this far from the time its document gives is not running to it.
const OFF_SCHEDULE: SignedDuration = SignedDuration::from_secs(2);

/// The clock on the wall, and what it says at show zero: by the document if the show runs to it, else by
/// when it was begun. A show that runs faster than time has the clock it would have had.
pub(super) fn clock_face(stage: &Stage) -> ClockFace {
    let session = stage.session();
    let now = session.now();
    let start = session.show().start;
    let behind = session.hack().unwrap_or(Span::ZERO);
    if stage.clock().rate != 1.0 {
        let time_of_day = start.map(|start| start.wrapping_add(duration(now)));
        return ClockFace {
            time_of_day,
            zero: start,
            behind,
            is_followed: start.is_some(),
        };
    }
    let wall = ZonedDateTime::now().time();
    let begun = wall.wrapping_sub(duration(now));
    let to_document = start.filter(|start| start.duration_since(begun).abs() < OFF_SCHEDULE);
    ClockFace {
        time_of_day: Some(wall),
        zero: to_document.or(Some(begun)),
        behind,
        is_followed: to_document.is_some(),
    }
}

/// The clock of a practice: the document's, at whatever pace it runs.
pub(super) fn practice_clock(session: &Session) -> ClockFace {
    let zero = session.show().start;
    ClockFace {
        time_of_day: zero.map(|zero| zero.wrapping_add(duration(session.now()))),
        zero,
        behind: session.hack().unwrap_or(Span::ZERO),
        // Aircraft that are simulated know no other clock.
        is_followed: false,
    }
}

/// What is really flown, and how the practice runs.
pub(super) fn practice_facts(rehearsal: &Rehearsal) -> PracticeFacts {
    let (sky, session) = (rehearsal.sky(), rehearsal.stage().session());
    let now = session.now();
    PracticeFacts {
        pace: rehearsal.pace(),
        simulated_narrator: rehearsal.is_simulated(),
        aloft: sky.aloft(now),
        trails: sky.trails(now),
        seen: rehearsal.seen(),
        radio: rehearsal.radio(),
        report: rehearsal.report().map(<[String]>::to_vec),
    }
}

fn duration(at: Instant) -> SignedDuration {
    SignedDuration::from_micros(at.us())
}

/// Output and tracks.
pub(super) fn desk_facts(stage: &Stage) -> DeskFacts {
    let sounding = stage.desk().sounding();
    let tracks = stage
        .desk()
        .tracks()
        .iter()
        .enumerate()
        .map(|(i, loading)| {
            let playhead = sounding.iter().find(|(track, _)| *track == i);
            track_facts(loading, playhead.map(|(_, playhead)| playhead))
        })
        .collect();
    let health = stage.desk().health();
    DeskFacts {
        output: match &health {
            _ if stage.desk().is_audible() && !stage.desk().is_heard() => {
                silent("music is heard at its own speed only")
            }
            _ if !stage.desk().is_audible() => silent("the show was asked to run without sound"),
            None => silent("the output is being opened"),
            Some(health) => match &health.device {
                Some(name) if !health.silent => Output::Device { name: name.clone() },
                _ => silent(health.fault.as_deref().unwrap_or("there is no device")),
            },
        },
        underruns: health.as_ref().map_or(0, |health| health.underruns),
        meters: stage.desk().take_meters().map_or(Vec::new(), Vec::from),
        held: stage.desk().take_held(),
        warnings: stage
            .warnings()
            .map(str::to_owned)
            .chain(refused(health.as_ref()))
            .collect(),
        tracks,
    }
}

fn refused(health: Option<&Health>) -> Option<String> {
    let count = health.map_or(0, |health| health.refused);
    (count > 0).then(|| format!("{count} start(s) were refused: too much was sounding"))
}

fn silent(why: &str) -> Output {
    Output::Silent { why: why.into() }
}

fn track_facts(loading: &Loading, playhead: Option<&Playhead>) -> TrackFacts {
    match loading {
        Loading::Missing | Loading::Failed(_) => TrackFacts::default(),
        Loading::Decoding(share) => TrackFacts {
            loaded: share.load(Relaxed) as f32 / 1_000.0,
            ..TrackFacts::default()
        },
        Loading::Ready(media) => TrackFacts {
            loaded: 1.0,
            duration: Some(media.pcm.duration()),
            integrated: media.gauge.integrated,
            true_peak: media.gauge.true_peak,
            played: playhead.map(|playhead| playhead.level),
            outline: Some(Arc::new(MediaOutline(media.clone()))),
        },
    }
}

struct MediaOutline(Arc<Media>);

impl Outline for MediaOutline {
    fn peaks(&self, from: Span, until: Span, columns: usize) -> Vec<(f32, f32)> {
        self.0.peaks(from, until, columns)
    }
}
