//! Laws of tempo and beats, on sounds made here.

use std::f32::consts::TAU;

use abeam::sound::{Pcm, Pulse, survey_pcm};
use proptest::prelude::*;

const RATE: u32 = 44_100;

fn pcm(samples: Vec<f32>) -> Pcm {
    Pcm {
        rate: RATE,
        channels: 1,
        samples,
    }
}

fn pulse(samples: Vec<f32>) -> Pulse {
    survey_pcm(&pcm(samples)).pulse
}

/// Clicks `bpm` times a minute, the first after `lead` seconds, none cut off by the end; every `accent`-th lower and louder.
fn clicks(bpm: f32, lead: f32, seconds: f32, accent: usize) -> Vec<f32> {
    let mut samples = vec![0.0; (seconds * RATE as f32) as usize];
    for count in 0.. {
        let at = ((lead + count as f32 * 60.0 / bpm) * RATE as f32) as usize;
        let (hertz, level) = if count % accent == 0 {
            (500.0, 0.8)
        } else {
            (1_000.0, 0.5)
        };
        let Some(rest) = samples
            .get_mut(at..)
            .filter(|rest| rest.len() > RATE as usize / 5)
        else {
            return samples;
        };
        for (i, x) in rest.iter_mut().take(RATE as usize / 5).enumerate() {
            let t = i as f32 / RATE as f32;
            *x += level * (-50.0 * t).exp() * (TAU * hertz * t).sin();
        }
    }
    samples
}

fn noise(seed: u32, samples: usize, level: f32) -> Vec<f32> {
    let mut x = seed.wrapping_mul(2_654_435_761).wrapping_add(1);
    let next = |_| {
        x = x.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        level * ((x >> 8) as f32 / (1 << 23) as f32 - 1.0)
    };
    (0..samples).map(next).collect()
}

fn seconds(pulse: &Pulse) -> Vec<f64> {
    pulse.beats.iter().map(|at| at.s()).collect()
}

/// The beats of both that lie within `near` seconds of one of the other's.
fn shared(a: &[f64], b: &[f64], near: f64) -> usize {
    let is_near = |at: &&f64| b.iter().any(|other| (*at - other).abs() < near);
    a.iter().filter(is_near).count()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// Every other click of quick ones can be the beat, or a half between slow ones.
    #[test]
    fn a_click_track_has_its_beats_within_20_ms(bpm in 50.0_f32..210.0, lead in 0.1_f32..1.5) {
        let pulse = pulse(clicks(bpm, lead, 20.0, 4));
        let tempo = pulse.tempo.expect("a tempo").bpm() / f64::from(bpm);
        let octave = [0.5, 1.0, 2.0].into_iter().find(|octave| (tempo / octave - 1.0).abs() < 0.01);
        let octave = octave.ok_or_else(|| TestCaseError::fail(format!("{tempo} times the tempo")))?;
        let beat = 60.0 / f64::from(bpm) / if octave > 1.5 { 2.0 } else { 1.0 };
        for at in seconds(&pulse) {
            let clicks = (at - f64::from(lead)) / beat;
            prop_assert!(((clicks - clicks.round()) * beat).abs() < 0.02, "{at} s, {bpm} from {lead}");
        }
        let wanted = (20.0 - f64::from(lead)) * f64::from(bpm) / 60.0 * octave;
        prop_assert!(pulse.beats.len() as f64 > 0.85 * wanted - 2.0, "{} of {wanted}", pulse.beats.len());
    }

    /// Where no other octave is as likely.
    #[test]
    fn what_is_delayed_has_its_beats_so_much_later(bpm in 80.0_f32..130.0, delay in 0.0_f64..3.0) {
        let sound = clicks(bpm, 0.5, 15.0, 4);
        let mut later = vec![0.0; (delay * f64::from(RATE)) as usize];
        later.extend(&sound);
        let before: Vec<f64> = seconds(&pulse(sound)).iter().map(|at| at + delay).collect();
        let after = seconds(&pulse(later));
        prop_assert!(after.len().abs_diff(before.len()) <= 2);
        prop_assert!(shared(&before, &after, 0.012) + 2 >= before.len(), "{before:?} {after:?}");
    }

    #[test]
    fn it_does_not_matter_how_loud_it_is(bpm in 80.0_f32..130.0, db in -40.0_f32..0.0) {
        let sound = clicks(bpm, 0.5, 15.0, 4);
        let gain = 10_f32.powf(db / 20.0);
        let softer = sound.iter().map(|x| gain * x).collect();
        let (loud, soft) = (pulse(sound), pulse(softer));
        prop_assert!(loud.beats.len().abs_diff(soft.beats.len()) <= 2);
        prop_assert!(shared(&seconds(&loud), &seconds(&soft), 0.012) + 2 >= loud.beats.len());
    }

    #[test]
    fn noise_has_no_tempo(seed in 0_u32..10_000, length in 3.0_f32..15.0) {
        let pulse = pulse(noise(seed, (length * RATE as f32) as usize, 0.3));
        prop_assert_eq!(pulse, Pulse::default());
    }

    #[test]
    fn scraps_do_no_harm(frames in 0_usize..3_000, channels in 1_u16..7, rate in 4_000_u32..200_000) {
        let samples = noise(7, frames * usize::from(channels), 0.5);
        let survey = survey_pcm(&Pcm { rate, channels, samples });
        prop_assert_eq!(survey.pulse, Pulse::default());
        prop_assert_eq!(survey.loudest_bar, None);
    }
}

#[test]
fn silence_and_a_steady_tone_have_no_beats() {
    assert_eq!(pulse(vec![0.0; 20 * RATE as usize]), Pulse::default());
    let tone = (0..20 * RATE).map(|i| 0.3 * (TAU * 440.0 * i as f32 / RATE as f32).sin());
    assert_eq!(pulse(tone.collect()), Pulse::default());
}

/// A beat that quickens from 90 to 130 in half a minute is followed all the way.
#[test]
fn a_changing_tempo_is_followed() {
    let (mut truth, mut at) = (Vec::new(), 0.5_f64);
    while at < 30.0 {
        truth.push(at);
        at += 60.0 / (90.0 + 40.0 * at / 30.0);
    }
    let mut samples = vec![0.0; 31 * RATE as usize];
    let click = clicks(60.0, 0.0, 0.3, 1);
    for at in &truth {
        let place = (at * f64::from(RATE)) as usize;
        for (x, click) in samples[place..].iter_mut().zip(&click) {
            *x += click;
        }
    }
    let found = seconds(&pulse(samples));
    assert!(
        shared(&truth, &found, 0.02) + 2 >= truth.len(),
        "{truth:?} {found:?}"
    );
    assert!(found.len() <= truth.len() + 1);
}
