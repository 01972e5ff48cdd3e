//! Vectors of three: x along the display line, y away from the crowd, z up.

pub(super) type Vector = [f64; 3];

/// Straight up.
pub(super) const UP: Vector = [0.0, 0.0, 1.0];

pub(super) fn dot(a: Vector, b: Vector) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

pub(super) fn cross(a: Vector, b: Vector) -> Vector {
    [
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    ]
}

pub(super) fn length(v: Vector) -> f64 {
    dot(v, v).sqrt()
}

/// `a` and `share` of `b`.
pub(super) fn plus(a: Vector, share: f64, b: Vector) -> Vector {
    [
        a[0] + share * b[0],
        a[1] + share * b[1],
        a[2] + share * b[2],
    ]
}

pub(super) fn times(v: Vector, factor: f64) -> Vector {
    v.map(|c| c * factor)
}

/// The angle at which a unit vector climbs, rad.
pub(super) fn climb([.., steep]: Vector) -> f64 {
    steep.clamp(-1.0, 1.0).asin()
}

/// The part of `v` across the unit vector `u`.
pub(super) fn across(v: Vector, u: Vector) -> Vector {
    plus(v, -dot(v, u), u)
}

/// As long as 1; `None` where it has no direction.
pub(super) fn unit(v: Vector) -> Option<Vector> {
    let length = length(v);
    (length > 1e-9 && length.is_finite()).then(|| times(v, 1.0 / length))
}
