//! Labels on a map: near what they name, over nothing else.

use super::{Area, Point};

/// Ways from a place to its label, the pleasantest first.
const WAYS: [Point; 8] = [
    [1.0, -1.0],
    [-1.0, -1.0],
    [1.0, 1.0],
    [-1.0, 1.0],
    [0.0, -1.0],
    [0.0, 1.0],
    [1.0, 0.0],
    [-1.0, 0.0],
];
/// How far off a label may stand, in pixels.
const DISTANCES: [f64; 8] = [5.0, 9.0, 15.0, 24.0, 36.0, 52.0, 72.0, 100.0];
/// What it costs to stand on a line, in pixels of distance.
const ON_A_LINE: f64 = 30.0;

/// What is already on a map, so that the next label finds room.
#[derive(Debug, Clone)]
pub struct Placer {
    frame: Area,
    taken: Vec<Area>,
    lines: Vec<[Point; 2]>,
}

/// Where a label goes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Placed {
    /// Its area.
    pub area: Area,
    /// The place it names.
    pub names: Point,
    /// How many lines it stands on.
    pub over: usize,
}

impl Placer {
    /// A map of nothing.
    pub fn new(frame: Area) -> Placer {
        Placer {
            frame,
            taken: Vec::new(),
            lines: Vec::new(),
        }
    }

    /// No other label may stand here.
    pub fn keep_free(&mut self, area: Area) {
        self.taken.push(area);
    }

    /// Labels had better not stand on this line.
    pub fn avoid(&mut self, points: &[Point]) {
        let mut from = points.first().copied();
        for (i, &to) in points.iter().enumerate().skip(1) {
            let Some(start) = from else { return };
            let far = (to[0] - start[0]).hypot(to[1] - start[1]) >= 4.0;
            if far || i + 1 == points.len() {
                self.lines.push([start, to]);
                from = Some(to);
            }
        }
    }

    /// Finds room for a label of this size near one of the places. `None` if the map is full.
    pub fn find(&self, near: &[Point], (wide, high): (f64, f64)) -> Option<Placed> {
        let mut best: Option<(f64, Placed)> = None;
        for (rank, &names) in near.iter().enumerate() {
            for distance in DISTANCES {
                for (taste, way) in WAYS.iter().enumerate() {
                    let cost = distance + 0.5 * taste as f64 + 2.0 * rank as f64;
                    if best.as_ref().is_some_and(|(least, _)| *least <= cost) {
                        continue;
                    }
                    let area = beside(names, *way, distance, wide, high);
                    if !self.is_clear(&area) {
                        continue;
                    }
                    let over = self.lines_under(&area);
                    let cost = cost + ON_A_LINE * over as f64;
                    if best.as_ref().is_none_or(|(least, _)| cost < *least) {
                        best = Some((cost, Placed { area, names, over }));
                    }
                }
            }
        }
        best.map(|(_, placed)| placed)
    }

    fn is_clear(&self, area: &Area) -> bool {
        let around = area.grown(1.0);
        self.frame.holds(area) && !self.taken.iter().any(|taken| taken.overlaps(&around))
    }

    fn lines_under(&self, area: &Area) -> usize {
        let crosses = |[a, b]: &&[Point; 2]| area.cut(*a, *b).is_some();
        self.lines.iter().filter(crosses).count()
    }
}

fn beside([x, y]: Point, way: Point, distance: f64, wide: f64, high: f64) -> Area {
    // Diagonally, the corner is as far off as the edge would be.
    let off = if way[0] != 0.0 && way[1] != 0.0 {
        distance * 0.7
    } else {
        distance
    };
    let along = |way: f64, size: f64| way * (off + 0.5 * size) - 0.5 * size;
    Area {
        left: x + along(way[0], wide),
        top: y + along(way[1], high),
        wide,
        high,
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const FRAME: Area = Area {
        left: 0.0,
        top: 0.0,
        wide: 300.0,
        high: 200.0,
    };

    #[test]
    fn a_label_stands_off_a_line_if_it_can() {
        let mut placer = Placer::new(FRAME);
        placer.avoid(&[[0.0, 80.0], [300.0, 80.0]]);
        let placed = placer.find(&[[150.0, 80.0]], (60.0, 12.0)).expect("room");
        let area = placed.area;
        assert_eq!(placed.over, 0);
        assert!(area.bottom() < 80.0 && area.bottom() > 74.0, "{area:?}");
    }

    #[test]
    fn a_full_map_takes_no_more() {
        let mut placer = Placer::new(FRAME);
        placer.keep_free(FRAME);
        assert_eq!(placer.find(&[[150.0, 80.0]], (10.0, 10.0)), None);
    }

    proptest! {
        #[test]
        fn labels_never_overlap_or_leave(
            places in prop::collection::vec((0.0..300.0, 0.0..200.0, 10.0..90.0), 0..40)
        ) {
            let mut placer = Placer::new(FRAME);
            let mut areas: Vec<Area> = Vec::new();
            for (x, y, wide) in places {
                if let Some(placed) = placer.find(&[[x, y]], (wide, 12.0)) {
                    placer.keep_free(placed.area);
                    prop_assert!(FRAME.holds(&placed.area));
                    prop_assert!(!areas.iter().any(|area| area.overlaps(&placed.area)));
                    areas.push(placed.area);
                }
            }
        }
    }
}
