//! How a level leg climbs or descends on its way.

/// It comes to its height within this time constant, s, ...
const CLOSING: f64 = 3.0;
/// ... with its path no further off level than this: the sine of 15 degrees.
const STEEPEST: f64 = 0.258_819_045_102_520_74;
/// At its height, m.
const THERE: f64 = 0.05;

/// A height kept, or one to come to.
#[derive(Debug, Clone, Copy)]
pub(in crate::flight) struct Climb {
    to: Option<f64>,
}

impl Climb {
    /// From a height to another, m; `None`: it stays.
    pub fn new(from: f64, to: Option<f64>) -> Climb {
        Climb {
            to: to.filter(|to| (to - from).abs() > THERE),
        }
    }

    /// The speed upwards at a height and a speed through the air, m/s.
    pub fn rate(&self, height: f64, speed: f64) -> f64 {
        let most = STEEPEST * speed;
        match self.to {
            Some(to) => most * ((to - height) / (CLOSING * most)).tanh(),
            None => 0.0,
        }
    }

    /// How long it takes from a height to within `near` of where it leads, at one speed: the closed form of
    /// dh/dt = −m tanh(h / (c m)), which is sinh(h / (c m)) falling with the time constant c. Below zero if it
    /// is nearer already; `None` if it leads nowhere.
    pub fn takes(&self, height: f64, speed: f64, near: f64) -> Option<f64> {
        let scale = CLOSING * STEEPEST * speed;
        let far = (self.to? - height).abs() / scale;
        // ln sinh, which itself would overflow.
        let ln_sinh = |x: f64| x + (-(-2.0 * x).exp_m1()).ln();
        Some(CLOSING * (ln_sinh(far) - ln_sinh(near / scale)))
    }

    pub fn is_level(&self) -> bool {
        self.to.is_none()
    }

    /// Whether it has just come to its height; there it stays.
    pub fn settle(&mut self, height: &mut f64) -> bool {
        let Some(to) = self.to.filter(|to| (to - *height).abs() <= THERE) else {
            return false;
        };
        *height = to;
        self.to = None;
        true
    }
}
