//! The sounds' arithmetic. Only additions, multiplications and roundings are used, never the system's own sine or
//! power, so that every machine composes the same bytes.

/// Sample rate of every track, hertz.
pub const RATE: u32 = 24_000;
/// Bits of every sample. Twelve keep all the tracks together under 4 MB; the noise is shaped to suit.
pub const BITS: usize = 12;

/// Sine of an angle in turns.
pub fn sine(turns: f64) -> f64 {
    let mut x = turns - turns.round();
    if x > 0.25 {
        x = 0.5 - x;
    } else if x < -0.25 {
        x = -0.5 - x;
    }
    let angle = x * std::f64::consts::TAU;
    let square = angle * angle;
    // Taylor's series, nested: the first term left out is under 1e-11 at a quarter turn.
    let mut sum = 1.0;
    for n in [14.0, 12.0, 10.0, 8.0, 6.0, 4.0, 2.0] {
        sum = 1.0 - square / (n * (n + 1.0)) * sum;
    }
    angle * sum
}

/// Two to the power `x`, for |x| < 1000.
pub fn exp2(x: f64) -> f64 {
    let whole = x.round();
    let rest = (x - whole) * std::f64::consts::LN_2;
    let mut sum = 1.0;
    for n in (1..=12).rev() {
        sum = 1.0 + rest / f64::from(n) * sum;
    }
    let exponent = (1023.0 + whole).clamp(1.0, 2046.0) as u64;
    sum * f64::from_bits(exponent << 52)
}

/// Amplitude of a level in decibels.
pub fn decibels(level: f64) -> f64 {
    // 20 log10 2 = 6.0206 dB a doubling.
    exp2(level / 6.020_599_913_279_624)
}

/// The factor a sample that lets a sound fall by 60 dB in `seconds`.
pub fn decay(seconds: f64) -> f64 {
    exp2(-9.965_784_284_662_087 / (seconds * f64::from(RATE)))
}

/// A count of samples for a time in seconds.
pub fn samples(seconds: f64) -> usize {
    (seconds * f64::from(RATE)).round().max(0.0) as usize
}

/// White noise from a seed, the same on every run.
pub struct Noise(u64);

impl Noise {
    pub fn seeded(seed: u64) -> Self {
        // Spread small seeds over all bits; the generator must not start at nought.
        Self((seed + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }

    /// The next value, −1 to 1.
    pub fn next(&mut self) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) as f64 / (1u64 << 52) as f64 - 1.0
    }
}

/// A first-order low-pass filter.
pub struct LowPass {
    share: f64,
    held: f64,
}

impl LowPass {
    pub fn at(hertz: f64) -> Self {
        let turns = hertz / f64::from(RATE);
        let share = 1.0 - exp2(-std::f64::consts::TAU * turns * std::f64::consts::LOG2_E);
        Self { share, held: 0.0 }
    }

    pub fn next(&mut self, input: f64) -> f64 {
        self.held += self.share * (input - self.held);
        self.held
    }
}

/// A sine that steps on by rotation: two numbers turned by a fixed angle each sample.
#[derive(Clone, Copy)]
pub struct Rotor {
    cosine: f64,
    sine: f64,
    turn_cosine: f64,
    turn_sine: f64,
}

impl Rotor {
    /// Starts at `phase` turns and goes round `hertz` times a second.
    pub fn new(hertz: f64, phase: f64) -> Self {
        let mut rotor = Self {
            cosine: sine(phase + 0.25),
            sine: sine(phase),
            turn_cosine: 1.0,
            turn_sine: 0.0,
        };
        rotor.tune(hertz);
        rotor
    }

    /// Changes the frequency without a jump of phase.
    pub fn tune(&mut self, hertz: f64) {
        let turns = hertz / f64::from(RATE);
        self.turn_cosine = sine(turns + 0.25);
        self.turn_sine = sine(turns);
    }

    pub fn next(&mut self) -> f64 {
        let now = self.sine;
        let cosine = self.cosine * self.turn_cosine - self.sine * self.turn_sine;
        self.sine = self.sine * self.turn_cosine + self.cosine * self.turn_sine;
        self.cosine = cosine;
        now
    }
}

#[cfg(test)]
mod tests {
    use super::{decay, decibels, exp2, samples, sine};

    #[test]
    fn sine_and_powers_agree_with_the_standard_librarys() {
        for n in -4_000..4_000 {
            let x = f64::from(n) / 1_000.0;
            assert!(
                (sine(x) - (x * std::f64::consts::TAU).sin()).abs() < 1e-9,
                "sine of {x} turns"
            );
            assert!(
                (exp2(x * 5.0) / (x * 5.0).exp2() - 1.0).abs() < 1e-9,
                "2^{}",
                x * 5.0
            );
        }
    }

    #[test]
    fn a_decay_falls_by_60_decibels_in_its_time() {
        let fallen = decay(0.5).powi(samples(0.5) as i32);
        assert!((fallen - decibels(-60.0)).abs() < 1e-9, "{fallen}");
    }
}
