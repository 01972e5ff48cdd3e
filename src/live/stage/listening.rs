//! What of the show was heard, by playout's own account: each beginning of a track and each hit, for the journal.

use crate::live::clock::ShowClock;
use crate::live::journal::{Heard, OutputCounts};
use crate::live::playout::{Health, Playhead, Started};
use crate::show::Track;
use crate::sound::Course;
use crate::units::{Instant, Span};

/// A hit first looked at this long after it was passed was not heard: the track came in later.
const JUST_PASSED: Span = Span::from_ms(1_000);

/// One playing of a track, as playout knows it.
#[derive(Debug)]
struct Playing {
    voice: u32,
    /// By its place in the show.
    track: usize,
    /// As it was last turned.
    course: Course,
}

/// Everything that was begun, and what has been heard of it.
#[derive(Debug, Default)]
pub(super) struct Listening {
    /// In the order they were begun; a track may be begun again before anybody has looked.
    playings: Vec<Playing>,
    /// What has been heard and not been taken down yet.
    untold: Vec<Heard>,
    /// The hits heard: of which playing, which hit of it, where in that playing.
    passed: Vec<(u32, usize, Span)>,
    /// How the output had done when that was last taken down.
    counts: OutputCounts,
}

impl Listening {
    /// A track is about to be played, numbered so.
    pub(super) fn begins(&mut self, voice: u32, track: usize, course: Course) {
        self.playings.push(Playing {
            voice,
            track,
            course,
        });
    }

    /// A playing goes on another way.
    pub(super) fn turns(&mut self, voice: u32, course: Course) {
        let found = self.playings.iter_mut().rfind(|one| one.voice == voice);
        if let Some(playing) = found {
            playing.course = course;
        }
    }

    /// Notes what began to sound.
    pub(super) fn began(&mut self, tracks: &[Track], started: &Started, clock: &ShowClock) {
        let Some((playing, track)) = self.playing(tracks, started.voice) else {
            return;
        };
        let course = &playing.course;
        let heard = Heard {
            track: track.id.clone(),
            hit: None,
            at: clock.at_monotonic(started.at.ns()),
            place: course.place_at(started.from - course.entry),
        };
        self.untold.push(heard);
    }

    /// Notes the hits that have been passed since it was last asked, `now`.
    pub(super) fn passes(
        &mut self,
        tracks: &[Track],
        playheads: &[Playhead],
        (now, rate): (Instant, f64),
    ) {
        let mut heard = Vec::new();
        for playhead in playheads {
            let Some((playing, track)) = self.playing(tracks, playhead.voice) else {
                continue;
            };
            for (hit, (name, place)) in track.hits.iter().enumerate() {
                // Playheads count time from the entry, whatever is gone back or bent.
                let course = &playing.course;
                let Some(reached) = course.reaches(*place).map(|after| course.entry + after) else {
                    continue;
                };
                let since = playhead.position - reached;
                let passing = (playhead.voice, hit, reached);
                if since <= Span::ZERO || self.passed.contains(&passing) {
                    continue;
                }
                let told = Heard {
                    track: track.id.clone(),
                    hit: Some(name.clone()),
                    at: now - since * rate,
                    place: *place,
                };
                heard.push((passing, since, told));
            }
        }
        for (passing, since, told) in heard {
            self.passed.push(passing);
            // What came in after it never played it.
            self.untold.extend((since < JUST_PASSED).then_some(told));
        }
    }

    fn playing<'t>(&self, tracks: &'t [Track], voice: u32) -> Option<(&Playing, &'t Track)> {
        let playing = self.playings.iter().rfind(|one| one.voice == voice)?;
        Some((playing, tracks.get(playing.track)?))
    }

    /// What has been heard and not been taken down yet.
    pub(super) fn take(&mut self) -> Vec<Heard> {
        std::mem::take(&mut self.untold)
    }

    /// How the output has done, if that has changed since this was last asked.
    pub(super) fn take_counts(&mut self, health: &Health) -> Option<OutputCounts> {
        let counts = OutputCounts {
            underruns: health.underruns,
            reopened: health.reopened,
            refused: health.refused,
        };
        (std::mem::replace(&mut self.counts, counts) != counts).then_some(counts)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::live::clock::Reading;
    use crate::live::playout::Monotonic;
    use crate::show::load::read;
    use crate::units::Gain;

    const SHOW: &str = "[show]\ntitle = \"Two stings\"\n[profile.all]\norder = [\"one\"]\n\
        [site]\nelevation = \"0 m\"\nline_bearing = 0\nline_distance = \"230 m\"\n[aircraft.solo]\nname = \"Solo\"\n\
        [[figure]]\nid = \"one\"\ntakes = \"30 s\"\n\
        [[track]]\nid = \"sting\"\nfile = \"sting.flac\"\ngo = \"hand\"\nhits = { blow = \"0:01.000\" }\n";

    fn tracks() -> Vec<Track> {
        let (show, faults) = read("two.toml", SHOW);
        show.unwrap_or_else(|| panic!("{faults:?}")).tracks
    }

    fn started(voice: u32, ns: i64) -> Started {
        Started {
            voice,
            frame: 0,
            at: Monotonic::from_ns(ns),
            from: Span::ZERO,
        }
    }

    #[test]
    fn a_track_begun_twice_before_anybody_looked_is_noted_twice() {
        let tracks = tracks();
        let clock = ShowClock::new(Reading::now(), Instant::ZERO, 1.0);
        let mut listening = Listening::default();
        for voice in [1, 2] {
            listening.begins(voice, 0, Course::plain(Span::ZERO));
        }
        listening.began(&tracks, &started(1, 1_000_000_000), &clock);
        listening.began(&tracks, &started(2, 1_300_000_000), &clock);
        // One that is no playing of the show: on the headphones.
        listening.began(&tracks, &started(9, 1_400_000_000), &clock);
        let heard = listening.take();
        assert_eq!(heard.len(), 2, "{heard:?}");
        // Each is rounded to a microsecond.
        let apart = heard[1].at - heard[0].at - Span::from_ms(300);
        assert!(apart.abs() <= Span::from_us(1), "{heard:?}");
        // The hit is heard in both, each once.
        let playhead = |voice, ms| Playhead {
            voice,
            position: Span::from_ms(ms),
            level: Gain::ZERO,
        };
        let both = [playhead(1, 1_350), playhead(2, 1_050)];
        for _ in 0..2 {
            listening.passes(&tracks, &both, (Instant::from_s(10.0), 1.0));
        }
        let heard = listening.take();
        let at: Vec<f64> = heard.iter().map(|heard| heard.at.s()).collect();
        assert_eq!(at, [9.65, 9.95]);
        assert!(heard.iter().all(|heard| heard.hit == Some("blow".into())));
    }

    #[test]
    fn a_hit_passed_before_the_track_came_in_was_not_heard() {
        let tracks = tracks();
        let mut listening = Listening::default();
        listening.begins(1, 0, Course::plain(Span::ZERO));
        let playhead = Playhead {
            voice: 1,
            position: Span::from_ms(2_500),
            level: Gain::ZERO,
        };
        listening.passes(&tracks, &[playhead], (Instant::from_s(10.0), 1.0));
        assert_eq!(listening.take(), []);
    }
}
