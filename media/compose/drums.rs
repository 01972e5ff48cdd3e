//! Percussion. Every stroke is at full strength within a millisecond of its first sample: these are the beats.

use super::voices::struck;
use super::wave::{LowPass, Noise, RATE, Rotor, decay, exp2, samples};

/// A kettledrum stroke: membrane modes over a falling pitch, with the stick's thud.
pub fn timpani(hertz: f64, ring: f64) -> Vec<f64> {
    let modes = [
        (1.0, 0.9, 1.0),
        (1.5, 0.55, 0.8),
        (1.99, 0.38, 0.6),
        (2.44, 0.2, 0.45),
        (2.9, 0.12, 0.3),
        (4.1, 0.1, 0.1),
    ];
    let mut out = struck(hertz, ring, &modes);
    add(&mut out, &burst(31, 0.09, 900.0, 60.0), 0.8);
    out
}

/// A bass drum: a sine that falls from `from` to `to` hertz, with a beater's click.
pub fn drop(from: f64, to: f64, ring: f64) -> Vec<f64> {
    let mut rotor = Rotor::new(from, 0.0);
    let fall = decay(ring);
    let mut gain = 1.0;
    let mut out: Vec<f64> = (0..samples(ring))
        .map(|n| {
            if n % 24 == 0 {
                let at = n as f64 / f64::from(RATE);
                rotor.tune(to + (from - to) * exp2(-at / 0.022));
            }
            gain *= fall;
            (n as f64 / 8.0).min(1.0) * gain * rotor.next()
        })
        .collect();
    add(&mut out, &burst(7, 0.012, 3_500.0, 300.0), 0.5);
    out
}

pub fn kick() -> Vec<f64> {
    drop(150.0, 52.0, 0.34)
}

/// A tenor drum tuned near `hertz`.
pub fn tom(hertz: f64) -> Vec<f64> {
    drop(hertz * 1.6, hertz, 0.42)
}

/// A snare drum: two skin modes and a short rattle.
pub fn snare() -> Vec<f64> {
    let mut out = struck(
        188.0,
        0.16,
        &[
            (1.0, 0.7, 1.0),
            (1.74, 0.4, 0.7),
            (4.6, 0.2, 0.5),
            (9.7, 0.12, 0.5),
        ],
    );
    add(&mut out, &burst(3, 0.13, 4_800.0, 800.0), 0.9);
    out
}

/// A softer snare, played at the rim.
pub fn rim() -> Vec<f64> {
    struck(
        820.0,
        0.06,
        &[(1.0, 0.6, 1.0), (2.1, 0.4, 0.8), (3.37, 0.3, 0.5)],
    )
}

/// A shaker or closed cymbal: a few bright partials, gone at once.
pub fn tick() -> Vec<f64> {
    struck(
        4_300.0,
        0.05,
        &[(1.0, 0.16, 1.0), (1.31, 0.14, 0.8), (1.67, 0.12, 0.7)],
    )
}

/// A crash: many unrelated high partials and a wash that dulls quickly.
pub fn crash(ring: f64) -> Vec<f64> {
    let mut dice = Noise::seeded(17);
    let partials: Vec<(f64, f64, f64)> = (0..32)
        .map(|_| {
            (
                1.0 + 11.0 * (0.5 + 0.5 * dice.next()),
                0.09,
                0.3 + 0.7 * (0.5 + 0.5 * dice.next()),
            )
        })
        .collect();
    let mut out = struck(410.0, ring, &partials);
    add(&mut out, &burst(19, 0.40, 5_000.0, 1_200.0), 0.5);
    out
}

/// A triangle-like ping.
pub fn triangle() -> Vec<f64> {
    struck(
        2_640.0,
        0.9,
        &[
            (1.0, 0.5, 1.0),
            (1.52, 0.3, 0.7),
            (2.13, 0.25, 0.5),
            (2.9, 0.15, 0.4),
        ],
    )
}

/// Seeded noise between two first-order corners, falling by 60 dB in `seconds`.
fn burst(seed: u64, seconds: f64, low_pass: f64, high_pass: f64) -> Vec<f64> {
    let mut dice = Noise::seeded(seed);
    let (mut dull, mut duller, mut floor) = (
        LowPass::at(low_pass),
        LowPass::at(low_pass),
        LowPass::at(high_pass),
    );
    let fall = decay(seconds);
    let mut gain = 1.0;
    (0..samples(seconds))
        .map(|_| {
            let noise = duller.next(dull.next(dice.next()));
            let value = gain * (noise - floor.next(noise));
            gain *= fall;
            value
        })
        .collect()
}

fn add(out: &mut [f64], sound: &[f64], level: f64) {
    for (sample, value) in out.iter_mut().zip(sound) {
        *sample += level * value;
    }
}
