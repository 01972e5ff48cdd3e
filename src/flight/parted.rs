//! What crowd centre hears of aircraft that parted: each for itself, and their powers together.

use super::air::Air;
use super::hush::{NEARING, SEARCH, TooLoud, delay, hush};
use super::track::{Track, last_true};
use crate::show::{Name, Show};
use crate::units::Span;

/// Aircraft that fly as one, and where they flew, one track after the other.
pub(super) struct Part<'a> {
    pub aircraft: &'a [Name],
    pub tracks: Vec<&'a Track>,
}

/// The stretches of time, as heard at crowd centre, in which what the parts of a figure flown by the aircraft
/// `all` emit is together too loud.
pub(super) fn hush_of(
    air: &Air,
    show: &Show,
    all: &[Name],
    parts: &[Part<'_>],
) -> Vec<(Span, Span)> {
    if let [part] = parts {
        return hush(air, &part.tracks, &TooLoud::of(show, all, all));
    }
    let voices: Vec<Voice<'_>> = parts
        .iter()
        .map(|part| Voice::of(air, &part.tracks, TooLoud::of(show, all, part.aircraft)))
        .collect();
    chorus(&voices)
}

/// What is heard of one part.
struct Voice<'a> {
    tracks: &'a [&'a Track],
    too_loud: TooLoud,
    /// When what was emitted when is heard, in order.
    heard: Vec<(f64, f64)>,
}

impl<'a> Voice<'a> {
    fn of(air: &Air, tracks: &'a [&'a Track], too_loud: TooLoud) -> Voice<'a> {
        let mut heard: Vec<(f64, f64)> = Vec::new();
        for track in tracks {
            let (mut walk, end) = (track.walk(), track.end().t);
            let mut next = Some(track.start().t);
            while let Some(t) = next {
                let state = walk.to(t);
                // Twice as far as it is too loud alone it adds no more than a quarter of that.
                let away = too_loud.away(&state) - state.range() * 0.5;
                let then = if track.is_still() {
                    end
                } else {
                    (t + SEARCH.max(away / NEARING)).min(end)
                };
                next = (t < end).then_some(then);
                let at = t + delay(air, &state);
                // Faster over the ground than its sound, it is heard from the first place whose sound arrives.
                if heard.last().is_none_or(|(last, _)| at > *last) {
                    heard.push((at, t));
                }
            }
        }
        Voice {
            tracks,
            too_loud,
            heard,
        }
    }

    /// The share of the power that is too loud, heard at `at`.
    fn share(&self, at: f64) -> f64 {
        let next = self.heard.partition_point(|(heard, _)| *heard < at);
        let Some(&(later, to)) = self.heard.get(next) else {
            return 0.0;
        };
        let (earlier, from) = match next.checked_sub(1).and_then(|i| self.heard.get(i)) {
            Some(before) => *before,
            None if later > at => return 0.0,
            None => (later, to),
        };
        let part = if later > earlier {
            (at - earlier) / (later - earlier)
        } else {
            1.0
        };
        let emitted = from + part * (to - from);
        let on = self.tracks.iter().find(|track| track.end().t >= emitted);
        on.map_or(0.0, |track| self.too_loud.share(&track.at(emitted)))
    }
}

/// When voices are together too loud.
fn chorus(voices: &[Voice<'_>]) -> Vec<(Span, Span)> {
    let too_loud = |at: f64| voices.iter().map(|voice| voice.share(at)).sum::<f64>() > 1.0;
    let mut instants: Vec<f64> = voices
        .iter()
        .flat_map(|voice| voice.heard.iter().map(|(at, _)| *at))
        .collect();
    instants.sort_by(f64::total_cmp);
    let mut stretches: Vec<(Span, Span)> = Vec::new();
    let mut from: Option<f64> = None;
    let mut before = f64::NEG_INFINITY;
    for at in instants {
        match (from, too_loud(at)) {
            (None, true) if before.is_finite() => {
                from = Some(last_true(before, at, |t| !too_loud(t)))
            }
            (None, true) => from = Some(at),
            (Some(begun), false) => {
                let until = last_true(before, at, too_loud);
                stretches.push((Span::from_s(begun), Span::from_s(until)));
                from = None;
            }
            _ => {}
        }
        before = at;
    }
    stretches.extend(from.map(|begun| (Span::from_s(begun), Span::from_s(before))));
    stretches
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flight::track::State;
    use crate::units::{Length, Temperature};

    /// 120 s along the display line at 100 m/s one way or the other, abeam crowd centre half-way.
    fn pass(way: f64, line: f64) -> Track {
        let state = |t: f64| State {
            t,
            place: [way * 100.0 * (t - 60.0), line, 150.0],
            ground: [way * 100.0, 0.0, 0.0],
            air: [way * 100.0, 0.0, 0.0],
            nose_off: 0.0,
        };
        let mut track = Track::at_rest(state(0.0));
        track.push(state(120.0));
        track
    }

    /// Sources of 100 dB at 100 m, too loud above 88 dB.
    fn sources(count: usize) -> TooLoud {
        TooLoud::new(&vec![(140.0, 4.0); count], 88.0)
    }

    fn heard(parts: &[(&Track, usize)]) -> Vec<(Span, Span)> {
        let air = Air::new(Length::ZERO, Temperature::from_c(15.0), Air::STANDARD_QNH);
        let tracks: Vec<[&Track; 1]> = parts.iter().map(|(track, _)| [*track]).collect();
        let voices = tracks.iter().zip(parts);
        let voices: Vec<Voice<'_>> = voices
            .map(|(tracks, (_, count))| Voice::of(&air, tracks, sources(*count)))
            .collect();
        chorus(&voices)
    }

    fn alone(track: &Track, count: usize) -> Vec<(Span, Span)> {
        let air = Air::new(Length::ZERO, Temperature::from_c(15.0), Air::STANDARD_QNH);
        hush(&air, &[track], &sources(count))
    }

    fn near(a: &[(Span, Span)], b: &[(Span, Span)]) {
        assert_eq!((a.len(), b.len()), (1, 1), "{a:?} {b:?}");
        let off = |a: Span, b: Span| (a - b).s().abs();
        assert!(
            off(a[0].0, b[0].0) < 0.01 && off(a[0].1, b[0].1) < 0.01,
            "{a:?} {b:?}"
        );
    }

    /// Two that cross are at every instant as far off as each other, so that they sound as two that fly as one;
    /// one that is 30 km off adds nothing to what is heard of the other. Alone it is heard for less long.
    #[test]
    fn aircraft_that_parted_are_heard_each_from_where_it_is() {
        let (right, left, far) = (pass(1.0, 230.0), pass(-1.0, 230.0), pass(1.0, 30_000.0));
        near(&heard(&[(&right, 1), (&left, 1)]), &alone(&right, 2));
        near(&heard(&[(&right, 1), (&far, 1)]), &alone(&right, 1));
        near(&heard(&[(&right, 2), (&far, 1)]), &alone(&right, 2));
        let [(from, until)] = alone(&right, 1)[..] else {
            panic!("one stretch")
        };
        let [(earlier, later)] = heard(&[(&right, 1), (&left, 1)])[..] else {
            panic!("one stretch")
        };
        assert!(earlier < from && until < later);
    }
}
