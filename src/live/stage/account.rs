//! What has really been heard, taken down for the journal and the debrief.

use crate::live::clock::ShowClock;
use crate::live::journal::{Heard, OutputCounts};
use crate::live::playout::{Health, Playhead, Started};
use crate::live::session::Session;
use crate::units::Span;

/// A hit first looked at this long after it was passed was not heard: the track came in later.
const JUST_PASSED: Span = Span::from_ms(1_000);

/// The account of what the output has played.
#[derive(Debug, Default)]
pub(super) struct Account {
    /// What playout began to play, and when.
    log: Vec<Started>,
    /// What has been heard and not been taken down yet.
    untold: Vec<Heard>,
    /// The hits heard: of which playing, which hit of it, where in that playing.
    passed: Vec<(u32, usize, Span)>,
    /// How the output had done when that was last taken down.
    counts: OutputCounts,
}

impl Account {
    /// Notes that a voice has begun to sound; `track` is the one it plays, if it is of the programme.
    pub fn note_start(
        &mut self,
        started: Started,
        track: Option<usize>,
        session: &Session,
        clock: &ShowClock,
    ) {
        if let Some(track) = track {
            let course = &session.tracks()[track].course;
            self.untold.push(Heard {
                track: session.show().tracks[track].id.clone(),
                hit: None,
                at: clock.at_monotonic(started.at.ns()),
                place: course.place_at(started.from - course.entry),
            });
        }
        self.log.push(started);
    }

    /// Notes the hits that a sounding track has passed since this was last looked at.
    pub fn note_hits(
        &mut self,
        track: usize,
        playhead: &Playhead,
        session: &Session,
        clock: &ShowClock,
    ) {
        let course = &session.tracks()[track].course;
        for (hit, (name, place)) in session.show().tracks[track].hits.iter().enumerate() {
            // Playheads count time from the entry, whatever is gone back or bent.
            let Some(reached) = course.reaches(*place).map(|after| course.entry + after) else {
                continue;
            };
            let passing = (playhead.voice, hit, reached);
            let since = playhead.position - reached;
            if since <= Span::ZERO || self.passed.contains(&passing) {
                continue;
            }
            self.passed.push(passing);
            // What came in after it never played it.
            if since < JUST_PASSED {
                self.untold.push(Heard {
                    track: session.show().tracks[track].id.clone(),
                    hit: Some(name.clone()),
                    at: clock.now() - since * clock.rate,
                    place: *place,
                });
            }
        }
    }

    /// What has been heard and not been taken down yet.
    pub fn take_heard(&mut self) -> Vec<Heard> {
        std::mem::take(&mut self.untold)
    }

    /// How the output has done, if that has changed since this was last asked.
    pub fn take_counts(&mut self, health: &Health) -> Option<OutputCounts> {
        let counts = OutputCounts {
            underruns: health.underruns,
            reopened: health.reopened,
            refused: health.refused,
        };
        (std::mem::replace(&mut self.counts, counts) != counts).then_some(counts)
    }

    /// What playout began to play, and when, so far.
    pub fn log(&self) -> &[Started] {
        &self.log
    }
}
