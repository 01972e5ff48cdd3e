//! Dither: noise a step wide that makes rounding a hiss instead of a distortion.

/// Digital silence this long, in frames, stays silent.
const SILENT: u32 = 4_800;

/// Triangular dither for two channels, two steps from end to end (Lipshitz, Wannamaker and Vanderkooy 1992; from memory).
/// The same each time, so that a file made twice is the same.
#[derive(Debug)]
pub(super) struct Dither {
    state: u64,
    /// Silent frames in a row.
    silent: u32,
}

impl Default for Dither {
    fn default() -> Self {
        Dither {
            state: 0x9e37_79b9_7f4a_7c15,
            silent: SILENT,
        }
    }
}

impl Dither {
    /// What is added to left and right of a frame, in steps.
    pub fn next(&mut self, left: f32, right: f32) -> [f64; 2] {
        let is_silent = left == 0.0 && right == 0.0;
        self.silent = if is_silent {
            self.silent.saturating_add(1)
        } else {
            0
        };
        if self.silent > SILENT {
            return [0.0; 2];
        }
        let drawn = self.draw();
        // Each quarter of what is drawn lies evenly between 0 and 1; the difference of two is triangular.
        let quarter = |n: u32| f64::from((drawn >> (16 * n)) as u16) / f64::from(1 << 16);
        [quarter(0) - quarter(1), quarter(2) - quarter(3)]
    }

    /// Any 64 bits but none (xorshift64, Marsaglia 2003).
    fn draw(&mut self) -> u64 {
        self.state ^= self.state << 13;
        self.state ^= self.state >> 7;
        self.state ^= self.state << 17;
        self.state
    }
}
