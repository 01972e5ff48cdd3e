//! How the aircraft lies in the air: where its lift and its nose point.

use super::vector::{UP, Vector, across, cross, dot, plus, times, unit};

/// Nearer to upright or inverted than this the wings are level (sine of a degree).
const LEVEL: f64 = 0.017;

/// Two unit vectors.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Attitude {
    /// From belly to canopy, across the path.
    pub lift: Vector,
    /// Where the nose points; along the path except where it falls.
    pub nose: Vector,
}

impl Attitude {
    /// Wings level and upright on a path along the unit vector `path`; straight up or down, its back to
    /// `before`'s.
    pub fn upright(path: Vector, before: Vector) -> Attitude {
        let lift = unit(across(UP, path))
            .or_else(|| unit(across(before, path)))
            .unwrap_or(UP);
        Attitude { lift, nose: path }
    }

    /// The same wings on a path that leads along `path`, begun along `before`.
    pub fn carried(self, before: Vector, path: Vector) -> Attitude {
        let lift = turned(self.lift, before, path);
        Attitude {
            lift: unit(across(lift, path)).unwrap_or(self.lift),
            nose: path,
        }
    }

    /// Rolled by `angle` about the nose, towards the pilot's right.
    pub fn rolled(self, angle: f64) -> Attitude {
        let right = cross(self.nose, self.lift);
        Attitude {
            lift: plus(times(self.lift, angle.cos()), angle.sin(), right),
            ..self
        }
    }

    /// The same, the last degree of bank taken off: a loop begun level stays in its plane.
    pub fn levelled(self) -> Attitude {
        let Some(up) = unit(across(UP, self.nose)) else {
            return self;
        };
        let aside = dot(self.lift, cross(self.nose, up));
        if aside.abs() > LEVEL {
            return self;
        }
        let lift = times(up, dot(self.lift, up).signum());
        Attitude { lift, ..self }
    }

    /// How upright it is: 1 with the wings level, 0 on the side, −1 inverted.
    pub fn uprightness(self) -> f64 {
        unit(across(UP, self.nose)).map_or(0.0, |up| dot(self.lift, up))
    }
}

/// `v` turned as the unit vector `from` is turned the shortest way to `to`; half round, it stays.
fn turned(v: Vector, from: Vector, to: Vector) -> Vector {
    let axis = cross(from, to);
    let cos = dot(from, to);
    if cos < -1.0 + 1e-12 {
        return v;
    }
    // Rodrigues' rotation, with sin² = 1 − cos² taken out.
    let around = cross(axis, v);
    plus(
        plus(times(v, cos), 1.0, around),
        dot(axis, v) / (1.0 + cos),
        axis,
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(a: Vector, b: Vector) -> bool {
        (0..3).all(|i| (a[i] - b[i]).abs() < 1e-12)
    }

    #[test]
    fn a_quarter_roll_to_the_right_leans_on_the_right_wing() {
        // Headed to the crowd's right: the pilot's right is towards the crowd, −y.
        let level = Attitude::upright([1.0, 0.0, 0.0], UP);
        let knife = level.rolled(std::f64::consts::FRAC_PI_2);
        assert!(near(knife.lift, [0.0, -1.0, 0.0]), "{knife:?}");
        assert!(knife.uprightness().abs() < 1e-12);
    }

    #[test]
    fn round_half_a_loop_the_wings_are_inverted() {
        let ahead = [1.0, 0.0, 0.0];
        let level = Attitude::upright(ahead, UP);
        let climbing = level.carried(ahead, UP);
        assert!(near(climbing.lift, [-1.0, 0.0, 0.0]));
        let over = climbing.carried(UP, [-1.0, 0.0, 0.0]);
        assert!((over.uprightness() + 1.0).abs() < 1e-12);
    }
}
