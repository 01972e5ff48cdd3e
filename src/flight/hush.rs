//! What crowd centre hears: when the sound of an instant arrives, and while it is too loud to talk over.
//!
//! Sound goes straight and at one speed, that of the air half-way up to the aircraft; that the wind
//! carries it is neglected.

use super::air::Air;
use super::track::{State, Track, last_true};
use super::vector::{dot, length};
use crate::show::{LevelAt, Name, Show};
use crate::units::{Length, Span, Speed};

/// How finely a path is searched, s.
pub(super) const SEARCH: f64 = 0.25;
/// Nothing comes nearer than this, m/s: slower than sound, in a wind that is.
pub(super) const NEARING: f64 = 700.0;

/// How long the sound of an aircraft takes to crowd centre, s.
pub(super) fn delay(air: &Air, state: &State) -> f64 {
    let [_, _, height] = state.place;
    state.range() / sound_from(air, Length::from_m(height)).mps()
}

/// The speed of sound on its way down from `height`.
pub(super) fn sound_from(air: &Air, height: Length) -> Speed {
    air.sound_at(height * 0.5)
}

/// What is too loud to talk over: the noise of the aircraft that fly a figure as one, and the level above
/// which it is.
#[derive(Debug, Clone)]
pub(super) struct TooLoud {
    sources: Vec<Source>,
    /// From further than this, m, it never is.
    reach: f64,
}

/// An aircraft that is heard.
#[derive(Debug, Clone, Copy)]
struct Source {
    /// Its power abeam a metre away, as a share of what is too loud.
    abeam: f64,
    /// How much louder it is astern than ahead, dB.
    astern: f64,
}

impl TooLoud {
    /// For the aircraft `own` of those, `all`, that fly a figure. Where not all say how loud they are, levels are
    /// relative to all of them abeam on the display line.
    pub fn of(show: &Show, all: &[Name], own: &[Name]) -> TooLoud {
        let noises = || own.iter().map(|id| show.noise_of(id));
        let says = |id| show.noise_of(id).loudness.is_some();
        if !all.is_empty() && all.iter().all(says) {
            let sources = noises().filter_map(|noise| {
                let LevelAt { level, at } = noise.loudness?;
                Some((level.db() + 20.0 * at.m().log10(), noise.astern.db()))
            });
            return TooLoud::new(&sources.collect::<Vec<_>>(), show.talk_over.db());
        }
        let abeam = 20.0 * show.site.line_distance.m().log10();
        let together = 10.0 * (all.len().max(1) as f64).log10();
        let sources: Vec<_> = noises().map(|noise| (abeam, noise.astern.db())).collect();
        TooLoud::new(&sources, show.hush_above.db() + together)
    }

    /// For aircraft of which each has a level abeam a metre away and is so much louder astern than ahead, dB, where
    /// more than `above` at crowd centre, dB, is too loud.
    pub fn new(levels: &[(f64, f64)], above: f64) -> TooLoud {
        let source = |&(level, astern): &(f64, f64)| Source {
            abeam: power(level - above),
            astern,
        };
        let sources: Vec<Source> = levels.iter().map(source).collect();
        let loudest = |source: &Source| source.abeam * power(0.5 * source.astern.abs());
        TooLoud {
            reach: sources.iter().map(loudest).sum::<f64>().sqrt(),
            sources,
        }
    }

    /// Whether what is emitted there is too loud once it is heard at crowd centre.
    fn is(&self, state: &State) -> bool {
        state.range() <= self.reach && self.share(state) > 1.0
    }

    /// How far, m, it is from where it might be too loud; zero where it might.
    pub fn away(&self, state: &State) -> f64 {
        (state.range() - self.reach).max(0.0)
    }

    /// How loud what is emitted there is once it is heard at crowd centre, as a share of the power that is too loud:
    /// by spherical spreading from the level abeam, L = L₁ − 20 lg r − (A/2) cos θ, with θ the angle between the
    /// velocity through the air and the line to crowd centre, so that A is the difference between straight astern and
    /// straight ahead, and abeam has none of it. Levels of several aircraft add as powers. The air's own absorption
    /// is neglected.
    pub fn share(&self, state: &State) -> f64 {
        let range = state.range();
        let ahead = || {
            let lengths = range * length(state.air);
            if lengths > 0.0 {
                -dot(state.place, state.air) / lengths
            } else {
                0.0
            }
        };
        let heard = self.sources.iter().map(|source| match source.astern {
            0.0 => source.abeam,
            astern => source.abeam * power(-0.5 * astern * ahead()),
        });
        heard.sum::<f64>() / (range * range)
    }
}

/// How many times the power so many decibels more are.
fn power(db: f64) -> f64 {
    10_f64.powf(0.1 * db)
}

/// The stretches of time, as heard at crowd centre, in which an aircraft on these tracks (one after the
/// other) is too loud.
pub(super) fn hush(air: &Air, tracks: &[&Track], too_loud: &TooLoud) -> Vec<(Span, Span)> {
    let heard = |state: &State| state.t + delay(air, state);
    let mut stretches: Vec<(f64, f64)> = Vec::new();
    // When the loud stretch that is on is heard, first and last: nearly as fast as its own sound, an aircraft
    // with the wind may be heard later from where it was earlier.
    let mut loud: Option<(f64, f64)> = None;
    for track in tracks {
        let mut before = *track.start();
        if !too_loud.is(&before) {
            // A track may begin elsewhere than the one before it ended: at a hold.
            stretches.extend(loud.take());
        }
        let (mut walk, end) = (track.walk(), track.end().t);
        let search = if track.is_still() {
            end - before.t
        } else {
            SEARCH
        };
        let mut next = Some(before.t);
        while let Some(t) = next {
            let state = walk.to(t);
            let then = t + search.max(too_loud.away(&state) / NEARING);
            next = (t < end).then(|| then.min(end));
            let is_loud = too_loud.is(&state);
            if is_loud != loud.is_some() {
                let unchanged = |t| too_loud.is(&track.at(t)) != is_loud;
                let edge = heard(&track.at(last_true(before.t, state.t, unchanged)));
                loud = Some(hull(loud, edge));
            }
            if is_loud {
                loud = Some(hull(loud, heard(&state)));
            } else {
                stretches.extend(loud.take());
            }
            before = state;
        }
    }
    stretches.extend(loud);
    joined(stretches)
}

/// A stretch made to hold an instant too.
fn hull(stretch: Option<(f64, f64)>, t: f64) -> (f64, f64) {
    stretch.map_or((t, t), |(from, until)| (from.min(t), until.max(t)))
}

/// Stretches in order, those that touch as one.
fn joined(mut stretches: Vec<(f64, f64)>) -> Vec<(Span, Span)> {
    stretches.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut joined: Vec<(f64, f64)> = Vec::new();
    for (from, until) in stretches {
        match joined.last_mut() {
            Some(last) if from <= last.1 => last.1 = last.1.max(until),
            _ => joined.push((from, until)),
        }
    }
    let spans = joined.into_iter();
    spans
        .map(|(from, until)| (Span::from_s(from), Span::from_s(until)))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Temperature;

    /// A straight flight at a constant velocity, from 60 s before the place nearest to crowd centre, at
    /// `nearest` and across the velocity, to 60 s after.
    fn straight(velocity: [f64; 3], nearest: [f64; 3]) -> Track {
        let state = |t: f64| State {
            t,
            place: std::array::from_fn(|i| nearest[i] + velocity[i] * (t - 60.0)),
            ground: velocity,
            air: velocity,
            nose_off: 0.0,
        };
        let mut track = Track::at_rest(state(0.0));
        track.push(state(120.0));
        track
    }

    fn too_loud(level_at_100_m: f64, astern: f64, above: f64) -> TooLoud {
        TooLoud::new(&[(level_at_100_m + 40.0, astern)], above)
    }

    /// The instant before or after the nearest place at which what is heard `t` seconds after it was
    /// emitted: the root of (t − e)² a² = (V e)² + h² that lies before t, for Mach M < 1 and least range h
    /// (derived here; the retarded time of a source in uniform motion).
    fn emitted(t: f64, mach: f64, sound: f64, least_range: f64) -> f64 {
        let b2 = 1.0 - mach * mach;
        let lag = least_range / sound;
        (t - (mach * mach * t * t + b2 * lag * lag).sqrt()) / b2
    }

    /// The hush of a straight flight against closed forms. With φ the angle flown past the nearest place as
    /// seen from crowd centre, tan φ = V e / h and r = h / cos φ, and the line to crowd centre is 90° − φ off
    /// straight astern: cos θ = − sin φ. So the level is L(h) + 20 lg cos φ + (A/2) sin φ.
    fn check_straight(air: &Air, sound: f64, mach: f64, track: &Track, astern: f64) {
        let least = track.at(60.0).range();
        let at_least = 110.0 - 20.0 * (least / 100.0).log10();
        let above = at_least - 5.0;
        let stretches = hush(air, &[track], &too_loud(110.0, astern, above));
        assert_eq!(stretches.len(), 1, "Mach {mach}, {astern} dB");
        let (from, until) = stretches[0];
        for heard in [from, until] {
            let e = emitted(heard.s() - 60.0, mach, sound, least);
            let past = (mach * sound * e / least).atan();
            let level = at_least + 20.0 * past.cos().log10() + 0.5 * astern * past.sin();
            assert!(
                (level - above).abs() < 1e-3,
                "Mach {mach}, {astern} dB: {level} {above}"
            );
        }
        assert!((delay(air, &track.at(60.0)) - least / sound).abs() < 1e-9);
        // It is heard approaching for less time than departing.
        let abeam_heard = 60.0 + least / sound;
        assert!(abeam_heard - from.s() < until.s() - abeam_heard);
    }

    #[test]
    fn the_hush_of_a_level_pass_is_the_closed_form_of_its_retarded_time() {
        let air = Air::new(Length::ZERO, Temperature::from_c(20.0), Air::STANDARD_QNH);
        for (mach, line, height) in [
            (0.3, 230.0, 150.0),
            (0.95, 150.0, 30.0),
            (0.6, 450.0, 300.0),
        ] {
            for astern in [0.0, 6.0, 12.0] {
                let sound = sound_from(&air, Length::from_m(height)).mps();
                let pass = straight([mach * sound, 0.0, 0.0], [0.0, line, height]);
                check_straight(&air, sound, mach, &pass, astern);
            }
        }
    }

    #[test]
    fn so_is_that_of_a_dive_and_a_climb_away_where_sound_has_one_speed() {
        // Above 11 km the standard air has one temperature, so sound has one speed at every height.
        let site = Length::from_m(11_000.0);
        let air = Air::new(site, Temperature::from_c(-56.5), Air::STANDARD_QNH);
        let sound = sound_from(&air, Length::ZERO).mps();
        for mach in [0.2, 0.7, 0.95] {
            // 7-24-25 and 5-12-13: the place is across the velocity, and all of it above the site.
            for (way, nearest) in [
                ([0.96, 0.0, -0.28], [280.0, 200.0, 960.0]),
                ([0.96, 0.0, 0.28], [-280.0, 200.0, 960.0]),
                ([0.0, 12.0 / 13.0, 5.0 / 13.0], [200.0, -125.0, 300.0]),
            ] {
                let track = straight(way.map(|share| share * mach * sound), nearest);
                check_straight(&air, sound, mach, &track, 8.0);
            }
        }
    }

    #[test]
    fn a_tailwind_that_lets_it_outrun_its_sound_only_joins_what_is_heard() {
        let air = Air::new(Length::ZERO, Temperature::from_c(15.0), Air::STANDARD_QNH);
        let sound = sound_from(&air, Length::from_m(60.0)).mps();
        let track = straight([1.05 * sound, 0.0, 0.0], [0.0, 200.0, 60.0]);
        let stretches = hush(&air, &[&track], &too_loud(120.0, 6.0, 90.0));
        assert_eq!(stretches.len(), 1);
        let (from, until) = stretches[0];
        // Nothing is heard before h √(M² − 1) / (M a) after the nearest place (derived: the least of
        // e + √(V² e² + h²) / a), and that is heard first.
        let (least, mach) = (200_f64.hypot(60.0), 1.05_f64);
        let first = 60.0 + least * (mach * mach - 1.0).sqrt() / (mach * sound);
        assert!(
            (from.s() - first).abs() < 0.01 && until > from,
            "{from} {first}"
        );
    }

    #[test]
    fn levels_follow_the_inverse_distance_law_and_add_as_powers() {
        let at = |place: [f64; 3]| State {
            place,
            air: [0.0, 0.0, 0.0],
            ..State::default()
        };
        let level = |loud: &TooLoud, place| 10.0 * loud.share(&at(place)).log10();
        let one = too_loud(100.0, 6.0, 0.0);
        // Inverse distance law: −20 lg 2 = −6.02 dB for each doubling, from 100 dB at 100 m.
        for (range, expected) in [
            (100.0, 100.0),
            (200.0, 93.979),
            (400.0, 87.959),
            (50.0, 106.021),
        ] {
            assert!((level(&one, [0.0, range, 0.0]) - expected).abs() < 1e-3);
        }
        // Two equal sources: 10 lg 2 = 3.01 dB more.
        let two = TooLoud::new(&[(140.0, 6.0); 2], 0.0);
        assert!((level(&two, [0.0, 100.0, 0.0]) - 103.010).abs() < 1e-3);
    }

    #[test]
    fn astern_is_what_departing_is_louder_by_than_approaching_at_one_range() {
        let along = |vx: f64| State {
            place: [0.0, 0.0, 300.0],
            air: [0.0, 0.0, vx],
            ..State::default()
        };
        let loud = too_loud(100.0, 6.0, 0.0);
        let difference = 10.0 * (loud.share(&along(90.0)) / loud.share(&along(-90.0))).log10();
        assert!((difference - 6.0).abs() < 1e-9);
    }
}
