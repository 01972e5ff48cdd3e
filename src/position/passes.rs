//! Passes of crowd centre: when, how fast, how near; and where the log has gaps.

use jiff::Timestamp;

use super::line::Line;
use super::{Fix, Ground};
use crate::show::Side;
use crate::units::{Length, Span, Speed};

/// A log with nothing for longer than this has a gap (common practice, no published source).
pub const LONGEST_GAP: Span = Span::from_ms(5_000);
/// What passes centre slower than this taxies or hovers there (common practice, no published source).
const SLOWEST_PASS: Speed = Speed::from_mps(10.0);
/// How far to each side of centre the nearness to the crowd line is looked for.
const BESIDE_CROWD: Length = Length::from_m(1_000.0);

/// One pass of crowd centre.
#[derive(Debug, Clone, PartialEq)]
pub struct Pass {
    /// When the aircraft was abeam of crowd centre: on the line through it at right angles to the display
    /// line. To about 10 ms from fixes a second apart.
    pub abeam: Timestamp,
    /// The side of the crowd it came from.
    pub from: Side,
    /// Over the ground, then.
    pub ground_speed: Speed,
    /// How far from the crowd line it was then; negative behind it.
    pub distance: Length,
    /// Above mean sea level then, where the log has it.
    pub height: Option<Length>,
    /// Where it was nearest to crowd centre, over the ground.
    pub nearest_to_centre: Nearest,
    /// Where it was nearest to the crowd line, a kilometre each side of centre; negative is behind it.
    pub nearest_to_line: Nearest,
    /// If it was abeam in a gap of the log, how long that is: then all this is a guess of a straight and
    /// steady flight between the fixes on both sides.
    pub in_gap: Option<Span>,
}

/// The nearest of a pass to something.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Nearest {
    /// When.
    pub at: Timestamp,
    /// How near.
    pub distance: Length,
}

/// A gap of a log.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Gap {
    /// The last fix before it.
    pub from: Timestamp,
    /// The first after it.
    pub to: Timestamp,
}

/// Everything of one aircraft's log that concerns crowd centre.
#[derive(Debug, Clone, PartialEq)]
pub struct Passes {
    /// In order.
    pub passes: Vec<Pass>,
    /// Where the log has nothing for longer than a gap may be.
    pub gaps: Vec<Gap>,
}

/// The passes of the aircraft whose fixes (in order) these are; what is further apart than `longest_gap`
/// is a gap.
pub fn passes(ground: &Ground, fixes: &[Fix], longest_gap: Span) -> Passes {
    passes_on(&Line::new(ground, fixes, longest_gap))
}

/// The passes on a path, and the gaps in it.
pub fn passes_on(line: &Line) -> Passes {
    let gaps = (0..line.stretches())
        .filter(|&stretch| line.gap(stretch).is_some())
        .map(|stretch| Gap {
            from: line.instant(line.time(stretch)),
            to: line.instant(line.time(stretch + 1)),
        })
        .collect();
    let passes = (0..line.stretches())
        .filter(|&stretch| is_right(line, stretch) != is_right(line, stretch + 1))
        .filter_map(|stretch| pass(line, stretch))
        .collect();
    Passes { passes, gaps }
}

fn is_right(line: &Line, fix: usize) -> bool {
    line.place(fix)[0] >= 0.0
}

/// The pass on a stretch whose ends are on different sides of centre.
fn pass(line: &Line, stretch: usize) -> Option<Pass> {
    let from_right = is_right(line, stretch);
    let (mut before, mut after) = (line.time(stretch), line.time(stretch + 1));
    // Halved until nothing is left of a microsecond.
    while after - before > 1e-7 {
        let middle = (before + after) / 2.0;
        if middle <= before || middle >= after {
            break;
        }
        if (line.at(stretch, middle).place[0] >= 0.0) == from_right {
            before = middle;
        } else {
            after = middle;
        }
    }
    let abeam = line.at(stretch, after);
    (abeam.speed() >= SLOWEST_PASS).then(|| Pass {
        abeam: line.instant(after),
        from: if from_right { Side::Right } else { Side::Left },
        ground_speed: abeam.speed(),
        distance: abeam.spot().across,
        height: line.height(stretch, after),
        nearest_to_centre: nearest(line, (stretch, after), |_| true, |[x, y]| x.hypot(y)),
        nearest_to_line: nearest(
            line,
            (stretch, after),
            |x| x.abs() <= BESIDE_CROWD.m(),
            |[_, y]| y,
        ),
        in_gap: line.gap(stretch),
    })
}

/// Where `measure` is least on the path around the pass on a stretch at a time, as long as `beside` holds
/// of the place along, centre is not passed again and the log has no gap.
fn nearest(
    line: &Line,
    (stretch, abeam): (usize, f64),
    beside: impl Fn(f64) -> bool,
    measure: impl Fn([f64; 2]) -> f64,
) -> Nearest {
    let goes_on = |fix: usize, side: bool, gap: Option<Span>| {
        gap.is_none() && is_right(line, fix) == side && beside(line.place(fix)[0])
    };
    let mut first = stretch;
    while first > 0 && goes_on(first - 1, is_right(line, stretch), line.gap(first - 1)) {
        first -= 1;
    }
    let mut last = stretch;
    while last + 1 < line.stretches()
        && goes_on(last + 2, is_right(line, stretch + 1), line.gap(last + 1))
    {
        last += 1;
    }
    let passing = (abeam, measure(line.at(stretch, abeam).place));
    let (at, distance) = (first..=last)
        .map(|stretch| least_on(line, stretch, &measure))
        .fold(passing, |least, on| if on.1 < least.1 { on } else { least });
    Nearest {
        at: line.instant(at),
        distance: Length::from_m(distance),
    }
}

/// Where `measure` is least on one stretch: the time and the measure, by thirds.
fn least_on(line: &Line, stretch: usize, measure: &impl Fn([f64; 2]) -> f64) -> (f64, f64) {
    let of = |time: f64| measure(line.at(stretch, time).place);
    let (mut from, mut to) = (line.time(stretch), line.time(stretch + 1));
    let ends = [(from, of(from)), (to, of(to))];
    for _ in 0..24 {
        let third = (to - from) / 3.0;
        if of(from + third) <= of(to - third) {
            to -= third;
        } else {
            from += third;
        }
    }
    let middle = (from + to) / 2.0;
    let inner = (middle, of(middle));
    ends.into_iter().fold(
        inner,
        |least, end| if end.1 < least.1 { end } else { least },
    )
}
