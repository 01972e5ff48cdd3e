//! Rectangles of a picture.

/// A place in a picture, in its pixels: to the right, and down.
pub type Point = [f64; 2];

/// An upright rectangle of a picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Area {
    /// Its left edge.
    pub left: f64,
    /// Its upper edge.
    pub top: f64,
    /// Its width.
    pub wide: f64,
    /// Its height.
    pub high: f64,
}

impl Area {
    /// The right edge.
    pub fn right(&self) -> f64 {
        self.left + self.wide
    }

    /// The lower edge.
    pub fn bottom(&self) -> f64 {
        self.top + self.high
    }

    /// The middle.
    pub fn middle(&self) -> Point {
        [self.left + 0.5 * self.wide, self.top + 0.5 * self.high]
    }

    /// The rectangle with `by` more on every side, or less.
    pub fn grown(&self, by: f64) -> Area {
        Area {
            left: self.left - by,
            top: self.top - by,
            wide: self.wide + 2.0 * by,
            high: self.high + 2.0 * by,
        }
    }

    /// Whether the two have more than an edge in common.
    pub fn overlaps(&self, other: &Area) -> bool {
        self.left < other.right()
            && other.left < self.right()
            && self.top < other.bottom()
            && other.top < self.bottom()
    }

    /// Whether `other` is all within.
    pub fn holds(&self, other: &Area) -> bool {
        self.left <= other.left
            && self.top <= other.top
            && other.right() <= self.right()
            && other.bottom() <= self.bottom()
    }

    /// Whether a point is within.
    pub fn has(&self, [x, y]: Point) -> bool {
        (self.left..=self.right()).contains(&x) && (self.top..=self.bottom()).contains(&y)
    }

    /// The part of the line from `a` to `b` that is within (Liang and Barsky, 1984).
    pub fn cut(&self, a: Point, b: Point) -> Option<[Point; 2]> {
        let [dx, dy] = [b[0] - a[0], b[1] - a[1]];
        let (mut enters, mut leaves) = (0.0_f64, 1.0_f64);
        for (step, room) in [
            (-dx, a[0] - self.left),
            (dx, self.right() - a[0]),
            (-dy, a[1] - self.top),
            (dy, self.bottom() - a[1]),
        ] {
            if step == 0.0 {
                if room < 0.0 {
                    return None;
                }
            } else if step < 0.0 {
                enters = enters.max(room / step);
            } else {
                leaves = leaves.min(room / step);
            }
        }
        let at = |share: f64| [a[0] + share * dx, a[1] + share * dy];
        (enters <= leaves).then(|| [at(enters), at(leaves)])
    }

    /// The parts of a line through `points` that are within.
    pub fn cut_line(&self, points: &[Point]) -> Vec<Vec<Point>> {
        let mut parts: Vec<Vec<Point>> = Vec::new();
        for pair in points.windows(2) {
            let &[a, b] = pair else { continue };
            let Some([from, to]) = self.cut(a, b) else {
                continue;
            };
            match parts.last_mut() {
                Some(part) if part.last() == Some(&from) => part.push(to),
                _ => parts.push(vec![from, to]),
            }
        }
        parts
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SQUARE: Area = Area {
        left: 0.0,
        top: 0.0,
        wide: 10.0,
        high: 10.0,
    };

    #[test]
    fn a_line_is_cut_where_it_enters_and_leaves() {
        let within = SQUARE.cut([-5.0, 5.0], [15.0, 5.0]);
        assert_eq!(within, Some([[0.0, 5.0], [10.0, 5.0]]));
        assert_eq!(SQUARE.cut([-5.0, 4.0], [4.0, -5.0]), None);
        assert_eq!(
            SQUARE.cut([1.0, 1.0], [2.0, 2.0]),
            Some([[1.0, 1.0], [2.0, 2.0]])
        );
        let there_and_back = [[5.0, 5.0], [15.0, 5.0], [15.0, 7.0], [5.0, 7.0]];
        let parts = SQUARE.cut_line(&there_and_back);
        assert_eq!(
            parts,
            [[[5.0, 5.0], [10.0, 5.0]], [[10.0, 7.0], [5.0, 7.0]]]
        );
    }

    #[test]
    fn neighbours_do_not_overlap() {
        let next = Area {
            left: 10.0,
            ..SQUARE
        };
        assert!(!SQUARE.overlaps(&next));
        assert!(SQUARE.overlaps(&next.grown(0.1)));
        assert!(SQUARE.holds(&SQUARE.grown(-1.0)) && !SQUARE.holds(&next));
    }
}
