//! A line through points without the corners that sampling gave it.

use super::Point;

/// Between two points that turn less than this nothing is seen of a corner, rad.
const SEEN: f64 = 0.05;
/// A corner sharper than this is one that was flown, rad.
const FLOWN: f64 = 1.0;
/// Points put between two.
const BETWEEN: usize = 3;

/// The points with others between them where the line turns: cubics whose directions are those of the
/// circle through a point and its neighbours.
pub fn smoothed(points: &[Point]) -> Vec<Point> {
    let mut apart: Vec<Point> = Vec::with_capacity(points.len());
    for point in points {
        let far = |last: &Point| (point[0] - last[0]).hypot(point[1] - last[1]) > 1e-3;
        if apart.last().is_none_or(far) {
            apart.push(*point);
        }
    }
    let directions: Vec<Option<Point>> = (0..apart.len()).map(|i| direction(&apart, i)).collect();
    let mut line: Vec<Point> = apart.first().copied().into_iter().collect();
    for (pair, ways) in apart.windows(2).zip(directions.windows(2)) {
        let (&[a, b], &[from, to]) = (pair, ways) else {
            continue;
        };
        let [dx, dy] = [b[0] - a[0], b[1] - a[1]];
        let long = dx.hypot(dy);
        let straight = [dx / long, dy / long];
        let (from, to) = (from.unwrap_or(straight), to.unwrap_or(straight));
        if turn(from, straight).abs() + turn(straight, to).abs() > SEEN {
            line.extend((1..=BETWEEN).map(|i| {
                let s = i as f64 / (BETWEEN + 1) as f64;
                cubic([a, b], [from, to], long, s)
            }));
        }
        line.push(b);
    }
    line
}

/// The direction at a point; `None` at an end and at a corner.
fn direction(points: &[Point], i: usize) -> Option<Point> {
    let (before, here, after) = (
        points.get(i.checked_sub(1)?)?,
        points.get(i)?,
        points.get(i + 1)?,
    );
    let [ax, ay] = [here[0] - before[0], here[1] - before[1]];
    let [bx, by] = [after[0] - here[0], after[1] - here[1]];
    let (a, b) = (ax.hypot(ay), bx.hypot(by));
    if turn([ax, ay], [bx, by]).abs() > FLOWN {
        return None;
    }
    // The nearer neighbour says more of the direction here.
    let way = [ax / a * b + bx / b * a, ay / a * b + by / b * a];
    let long = way[0].hypot(way[1]);
    (long > 0.0).then(|| [way[0] / long, way[1] / long])
}

/// The angle from one way to another.
fn turn(from: Point, to: Point) -> f64 {
    let across = from[0] * to[1] - from[1] * to[0];
    let along = from[0] * to[0] + from[1] * to[1];
    across.atan2(along)
}

fn cubic([a, b]: [Point; 2], [from, to]: [Point; 2], long: f64, s: f64) -> Point {
    let (s2, s3) = (s * s, s * s * s);
    let part = |i: usize| {
        (2.0 * s3 - 3.0 * s2 + 1.0) * a[i]
            + (s3 - 2.0 * s2 + s) * long * from[i]
            + (3.0 * s2 - 2.0 * s3) * b[i]
            + (s3 - s2) * long * to[i]
    };
    [part(0), part(1)]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sampled_circle_is_round() {
        let angles = [0.0, 0.3, 0.6, 0.75, 1.05, 1.35, 1.65];
        let on_it = angles.map(|angle: f64| [100.0 * angle.cos(), 100.0 * angle.sin()]);
        let round = smoothed(&on_it);
        assert!(round.len() > 2 * on_it.len());
        // Without an end's neighbour its direction is only guessed.
        let inner = round
            .iter()
            .filter(|[x, y]| (0.3..1.35).contains(&y.atan2(*x)));
        for [x, y] in inner {
            assert!((x.hypot(*y) - 100.0).abs() < 0.1, "{x}, {y}");
        }
    }

    #[test]
    fn straight_lines_and_corners_stay() {
        let corner = [
            [0.0, 0.0],
            [10.0, 0.0],
            [20.0, 0.0],
            [20.0, 10.0],
            [20.0, 20.0],
        ];
        assert_eq!(smoothed(&corner), corner);
        assert_eq!(smoothed(&[[1.0, 1.0], [1.0, 1.0]]), [[1.0, 1.0]]);
        assert!(smoothed(&[]).is_empty());
    }
}
