//! Instruments that hold or pluck a pitch: brass, strings, flute, choir, harp, bass, bell. Each gives its samples.

use super::wave::{LowPass, Noise, RATE, Rotor, decay, exp2, samples};

/// A sustained voice built by adding partials.
#[derive(Clone, Copy)]
pub struct Blown {
    /// Seconds to speak.
    pub attack: f64,
    /// Seconds to die away after the note's length.
    pub release: f64,
    /// Each partial's amplitude against the one below it, at full breath.
    pub brightness: f64,
    /// How many players, spread a little in pitch.
    pub players: usize,
    /// Depth of the vibrato, as a share of the pitch.
    pub vibrato: f64,
    /// The even partials' share: 1 for brass and strings, less for a hollow voice.
    pub even: f64,
}

pub const HORN: Blown = Blown {
    attack: 0.05,
    release: 0.12,
    brightness: 0.53,
    players: 2,
    vibrato: 0.001,
    even: 1.0,
};
pub const TRUMPET: Blown = Blown {
    attack: 0.022,
    release: 0.07,
    brightness: 0.64,
    players: 2,
    vibrato: 0.0012,
    even: 1.0,
};
pub const TROMBONE: Blown = Blown {
    attack: 0.03,
    release: 0.09,
    brightness: 0.60,
    players: 2,
    vibrato: 0.0006,
    even: 1.0,
};
pub const STRINGS: Blown = Blown {
    attack: 0.22,
    release: 0.35,
    brightness: 0.49,
    players: 3,
    vibrato: 0.0022,
    even: 0.9,
};
pub const SPICCATO: Blown = Blown {
    attack: 0.008,
    release: 0.09,
    brightness: 0.54,
    players: 2,
    vibrato: 0.0,
    even: 0.9,
};
pub const FLUTE: Blown = Blown {
    attack: 0.06,
    release: 0.12,
    brightness: 0.31,
    players: 1,
    vibrato: 0.0035,
    even: 0.8,
};
pub const CHOIR: Blown = Blown {
    attack: 0.30,
    release: 0.50,
    brightness: 0.42,
    players: 3,
    vibrato: 0.003,
    even: 0.5,
};

/// Samples between two looks at the envelope.
const STEP: usize = 60;
/// Partials above this are left out: the tracks keep their top octave for percussion.
const TOP_HERTZ: f64 = 6_000.0;

impl Blown {
    /// A note of `hertz` for `seconds`, played at `force` (0 to 1, which also brightens it).
    pub fn note(&self, hertz: f64, seconds: f64, force: f64) -> Vec<f64> {
        let length = samples(seconds + self.release);
        let partials = ((TOP_HERTZ / hertz) as usize).clamp(1, 18);
        let mut out = vec![0.0; length];
        for player in 0..self.players {
            self.player(player, partials, hertz, seconds, force, &mut out);
        }
        out
    }

    fn player(
        &self,
        player: usize,
        partials: usize,
        hertz: f64,
        seconds: f64,
        force: f64,
        out: &mut [f64],
    ) {
        let mut dice = Noise::seeded((hertz * 16.0) as u64 + 977 * player as u64);
        let middle = (self.players as f64 - 1.0) / 2.0;
        // Players stand about 5 cents apart.
        let pitch = hertz * exp2((player as f64 - middle) * 5.0 / 1200.0);
        let share = 0.5 / (self.players as f64).sqrt();
        let mut rotors: Vec<Rotor> = (1..=partials)
            .map(|k| Rotor::new(pitch * k as f64, dice.next() * 0.5))
            .collect();
        let mut wobble = Rotor::new(4.7 + 0.4 * player as f64, dice.next());
        let mut held = vec![0.0; partials];
        let mut gains = vec![0.0; partials];
        for start in (0..out.len()).step_by(STEP) {
            let end = (start + STEP).min(out.len());
            let at = end as f64 / f64::from(RATE);
            let breath = self.breath(at, seconds);
            self.set_gains(&mut gains, breath, force, share);
            let mut bend = 0.0;
            for _ in 0..STEP {
                bend = wobble.next();
            }
            let bend = 1.0 + bend * self.vibrato * (at / 0.5).min(1.0);
            for (k, rotor) in rotors.iter_mut().enumerate() {
                if self.vibrato > 0.0 {
                    rotor.tune(pitch * bend * (k + 1) as f64);
                }
                let slope = (gains[k] - held[k]) / STEP as f64;
                let mut gain = held[k];
                for sample in &mut out[start..end] {
                    gain += slope;
                    *sample += gain * rotor.next();
                }
                held[k] = gains[k];
            }
        }
    }

    /// How hard the player blows at `at` seconds: up through the attack, a slight fall, away in the release.
    fn breath(&self, at: f64, seconds: f64) -> f64 {
        let rise = (at / self.attack).min(1.0);
        let rise = rise * rise * (3.0 - 2.0 * rise);
        let settle = 1.0 - 0.22 * ((at - self.attack) / 0.5).clamp(0.0, 1.0);
        let fall = (1.0 - (at - seconds) / self.release).clamp(0.0, 1.0);
        rise * settle * fall * fall
    }

    fn set_gains(&self, gains: &mut [f64], breath: f64, force: f64, share: f64) {
        let ratio = self.brightness * (0.62 + 0.38 * breath * (0.4 + 0.6 * force));
        let mut gain = share * breath * force;
        for (k, slot) in gains.iter_mut().enumerate() {
            *slot = if k % 2 == 1 { gain * self.even } else { gain };
            gain *= ratio;
        }
    }
}

/// A plucked string (Karplus–Strong): a seeded burst goes round a delay as long as one period, dulled each time.
/// `soft` is the burst's low-pass in hertz, `ring` the seconds to fall by 60 dB.
pub fn pluck(hertz: f64, seconds: f64, soft: f64, ring: f64) -> Vec<f64> {
    let period = f64::from(RATE) / hertz;
    // The averaging of two neighbours delays by half a sample; linear interpolation gives the rest.
    let whole = (period - 0.5).floor().max(2.0);
    let rest = period - 0.5 - whole;
    let size = whole as usize + 1;
    let mut dice = Noise::seeded((hertz * 8.0) as u64);
    let mut string: Vec<f64> = (0..size).map(|_| dice.next()).collect();
    for _ in 0..4 {
        // Twice round, so that the burst's end joins its beginning.
        let mut dull = LowPass::at(soft);
        string.iter().for_each(|value| {
            dull.next(*value);
        });
        string
            .iter_mut()
            .for_each(|value| *value = dull.next(*value));
    }
    let mean = string.iter().sum::<f64>() / size as f64;
    string.iter_mut().for_each(|value| *value -= mean);
    let power = string.iter().map(|value| value * value).sum::<f64>() / size as f64;
    let gain = 0.22 / power.sqrt().max(1e-9);
    let loss = exp2(-9.966 * period / (ring * f64::from(RATE)));
    let length = samples(seconds);
    let mut before = 0.0;
    let mut out = Vec::with_capacity(length);
    for n in 0..length {
        let (here, next) = (string[n % size], string[(n + 1) % size]);
        // `here` is the oldest value, a whole delay ago; `next` is one sample younger.
        let read = here * rest + next * (1.0 - rest);
        let damped = loss * 0.5 * (read + before);
        before = read;
        string[n % size] = damped;
        out.push(here * gain * (n as f64 / 20.0).min(1.0) * fade(n, length));
    }
    out
}

/// A bell: partials in a church bell's proportions (hum, prime, tierce, quint, nominal and above), each with its own ring.
pub fn bell(hertz: f64, ring: f64) -> Vec<f64> {
    struck(
        hertz,
        ring,
        &[
            (0.5, 0.35, 1.0),
            (1.0, 0.60, 0.7),
            (1.19, 0.38, 0.55),
            (1.5, 0.22, 0.42),
            (2.0, 0.50, 0.38),
            (2.51, 0.18, 0.24),
            (3.01, 0.16, 0.18),
            (4.08, 0.12, 0.12),
            (5.43, 0.06, 0.08),
        ],
    )
}

/// A small bright bar, such as a glockenspiel's.
pub fn glockenspiel(hertz: f64) -> Vec<f64> {
    struck(hertz, 1.3, &[(1.0, 0.7, 1.0), (2.76, 0.14, 0.35)])
}

/// A plucked bass: a few harmonics, the high ones soon gone.
pub fn bass(hertz: f64, seconds: f64) -> Vec<f64> {
    let mut out = struck(
        hertz,
        2.2,
        &[
            (1.0, 0.7, 1.0),
            (2.0, 0.42, 0.7),
            (3.0, 0.24, 0.45),
            (4.0, 0.13, 0.3),
            (5.0, 0.08, 0.2),
            (6.0, 0.05, 0.12),
        ],
    );
    let stop = samples(seconds);
    out.truncate(stop + samples(0.05));
    let length = out.len();
    for (n, sample) in out.iter_mut().enumerate() {
        *sample *= fade(n, length);
    }
    out
}

/// Sum of dying partials: (ratio, amplitude, share of the ring).
pub fn struck(hertz: f64, ring: f64, partials: &[(f64, f64, f64)]) -> Vec<f64> {
    let length = samples(ring);
    let mut out = vec![0.0; length];
    for &(ratio, amplitude, share) in partials {
        if hertz * ratio > 9_000.0 {
            continue;
        }
        let mut rotor = Rotor::new(hertz * ratio, 0.0);
        let fall = decay(ring * share);
        let mut gain = amplitude;
        for (n, sample) in out.iter_mut().enumerate().take(samples(ring * share)) {
            // A strike of half a millisecond, without a click.
            let strike = (n as f64 / 12.0).min(1.0);
            *sample += gain * strike * rotor.next();
            gain *= fall;
        }
    }
    out
}

/// The last 40 ms of a sound that must stop without a click.
fn fade(n: usize, length: usize) -> f64 {
    ((length - n) as f64 / (0.04 * f64::from(RATE))).min(1.0)
}

#[cfg(test)]
mod tests {
    use super::{RATE, pluck};

    #[test]
    fn a_plucked_string_sounds_its_pitch_within_5_cents() {
        for hertz in [65.4, 130.8, 261.6, 440.0, 880.0] {
            let string = pluck(hertz, 1.0, 1_900.0, 2.4);
            // Where the string is most like itself ten periods on, to a part of a sample by a parabola.
            let likeness =
                |lag: usize| -> f64 { (2_000..10_000).map(|n| string[n] * string[n + lag]).sum() };
            let expected = 10.0 * f64::from(RATE) / hertz;
            let near = expected.round() as usize;
            let best = (near - 4..=near + 4)
                .max_by(|a, b| likeness(*a).total_cmp(&likeness(*b)))
                .unwrap();
            let (left, top, right) = (likeness(best - 1), likeness(best), likeness(best + 1));
            let lag = best as f64 + 0.5 * (left - right) / (left - 2.0 * top + right);
            let cents = 1_200.0 * (expected / lag).log2();
            assert!(cents.abs() < 5.0, "{hertz} Hz: {cents} cents off");
        }
    }
}
