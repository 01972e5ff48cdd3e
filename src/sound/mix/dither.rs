//! Dither: noise a step wide that makes rounding a hiss instead of a distortion.

/// Digital silence this long, in samples, stays silent.
const SILENT: u32 = 9_600;

/// Triangular dither, two steps from end to end (Lipshitz, Wannamaker and Vanderkooy 1992; from memory).
/// The same each time, so that a file made twice is the same.
#[derive(Debug)]
pub(super) struct Dither {
    state: u64,
    /// Zeros in a row.
    zeros: u32,
}

impl Default for Dither {
    fn default() -> Self {
        Dither {
            state: 0x9e37_79b9_7f4a_7c15,
            zeros: SILENT,
        }
    }
}

impl Dither {
    /// What is added to a sample, in steps.
    pub fn next(&mut self, sample: f32) -> f64 {
        self.zeros = if sample == 0.0 {
            self.zeros.saturating_add(1)
        } else {
            0
        };
        if self.zeros > SILENT {
            return 0.0;
        }
        let drawn = self.draw();
        // The two halves of what is drawn, each evenly from 0 to 1.
        let difference = (drawn >> 32) as i64 - (drawn & 0xffff_ffff) as i64;
        difference as f64 / (1_u64 << 32) as f64
    }

    /// Any 64 bits but none (xorshift64, Marsaglia 2003).
    fn draw(&mut self) -> u64 {
        self.state ^= self.state << 13;
        self.state ^= self.state >> 7;
        self.state ^= self.state << 17;
        self.state
    }
}
