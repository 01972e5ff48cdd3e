//! What crowd centre hears: when the sound of an instant arrives, and while it is too loud to talk over.
//!
//! Sound goes straight and at one speed, that of the air half-way up to the aircraft; that the wind
//! carries it is neglected.

use super::air::Air;
use super::track::{State, Track, last_true};
use crate::units::{Gain, Length, Span, Speed};

/// How finely a path is searched, s.
const SEARCH: f64 = 0.25;

/// How long the sound of an aircraft takes to crowd centre, s.
pub(super) fn delay(air: &Air, state: &State) -> f64 {
    let [_, _, height] = state.place;
    state.range() / sound_from(air, Length::from_m(height)).mps()
}

/// The speed of sound on its way down from `height`.
pub(super) fn sound_from(air: &Air, height: Length) -> Speed {
    air.at(height * 0.5).sound
}

/// The range within which an aircraft is louder at crowd centre than `above`, m. Levels are relative to
/// the aircraft abeam on a display line `line` metres away and fall by 20 log10 of the range.
pub(super) fn loud_within(line: f64, above: Gain) -> f64 {
    line / above.amplitude()
}

/// The stretches of time, as heard at crowd centre, in which an aircraft on these tracks (one after the
/// other) is within `range` metres.
pub(super) fn hush(air: &Air, tracks: &[&Track], range: f64) -> Vec<(Span, Span)> {
    let heard = |state: &State| state.t + delay(air, state);
    let mut stretches: Vec<(Span, Span)> = Vec::new();
    let mut loud_since: Option<f64> = None;
    let mut last: Option<State> = None;
    for track in tracks {
        let mut before = *track.start();
        for state in track.every(SEARCH) {
            let loud = state.range() < range;
            if loud != loud_since.is_some() {
                let unchanged = |t| (track.at(t).range() < range) != loud;
                let edge = heard(&track.at(last_true(before.t, state.t, unchanged)));
                match loud_since.take() {
                    None => loud_since = Some(edge),
                    Some(since) => stretches.push((Span::from_s(since), Span::from_s(edge))),
                }
            }
            before = state;
        }
        last = Some(before);
    }
    if let (Some(since), Some(last)) = (loud_since, last) {
        stretches.push((Span::from_s(since), Span::from_s(heard(&last))));
    }
    stretches
}

/// Stretches of several aircraft as those in which any of them is too loud, in order of time.
pub(super) fn together(mut stretches: Vec<(Span, Span)>) -> Vec<(Span, Span)> {
    stretches.sort();
    let mut joined: Vec<(Span, Span)> = Vec::new();
    for (from, until) in stretches {
        match joined.last_mut() {
            Some((_, last)) if from <= *last => *last = until.max(*last),
            _ => joined.push((from, until)),
        }
    }
    joined
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Temperature;

    /// A straight pass at a constant speed, from 60 s before abeam to 60 s after.
    fn pass(speed: f64, line: f64, height: f64) -> Track {
        let state = |t: f64| State {
            t,
            place: [speed * (t - 60.0), line, height],
            ground: [speed, 0.0, 0.0],
            air: [speed, 0.0, 0.0],
            nose_off: 0.0,
        };
        let mut track = Track::at_rest(state(0.0));
        track.push(state(120.0));
        track
    }

    /// The instant before or after abeam at which what is heard `t` seconds after abeam was emitted:
    /// the root of (t − e)² a² = (V e)² + h² that lies before t, for Mach M < 1 and least range h
    /// (derived here; the retarded time of a source in uniform motion).
    fn emitted(t: f64, mach: f64, sound: f64, least_range: f64) -> f64 {
        let b2 = 1.0 - mach * mach;
        let lag = least_range / sound;
        (t - (mach * mach * t * t + b2 * lag * lag).sqrt()) / b2
    }

    #[test]
    fn the_hush_of_a_straight_pass_is_the_closed_form_of_its_retarded_time() {
        let air = Air::new(Length::ZERO, Temperature::from_c(20.0), Air::STANDARD_QNH);
        for (mach, line, height) in [(0.3, 230.0, 150.0), (0.9, 150.0, 30.0), (0.6, 450.0, 300.0)] {
            let sound = sound_from(&air, Length::from_m(height)).mps();
            let track = pass(mach * sound, line, height);
            let range = loud_within(line, Gain::from_db(-12.0));
            let stretches = hush(&air, &[&track], range);
            assert_eq!(stretches.len(), 1);
            let (from, until) = stretches[0];
            let least = line.hypot(height);
            for heard in [from, until] {
                let e = emitted(heard.s() - 60.0, mach, sound, least);
                let r = (mach * sound * e).hypot(least);
                assert!((r - range).abs() < 0.01, "{mach}: {r} {range}");
            }
            assert!((delay(&air, &track.at(60.0)) - least / sound).abs() < 1e-9);
            // It is heard approaching for less time than departing.
            let abeam_heard = 60.0 + least / sound;
            assert!(abeam_heard - from.s() < until.s() - abeam_heard);
        }
    }

    #[test]
    fn six_decibels_are_twice_the_range() {
        // Inverse distance law: 20 log10 2 = 6.02 dB.
        assert!((loud_within(230.0, Gain::from_db(-6.0206)) - 460.0).abs() < 0.01);
    }
}
