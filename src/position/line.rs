//! The path between fixes: through the four nearest where they are close together, straight otherwise.

use jiff::{SignedDuration, Timestamp};

use super::{Fix, Ground, Spot};
use crate::units::{Length, Span, Speed};

/// A neighbour so many times further away than the fixes on both sides says nothing of the path there.
const NEAR: f64 = 3.0;

/// The fixes of one aircraft on the site.
#[derive(Debug)]
pub struct Line {
    starts: Timestamp,
    /// Seconds since then.
    times: Vec<f64>,
    /// Along and across, in metres.
    places: Vec<[f64; 2]>,
    heights: Vec<Option<f64>>,
    longest_gap_s: f64,
}

/// One fix of a log on the site.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Look {
    /// When.
    pub at: Timestamp,
    /// Where.
    pub spot: Spot,
    /// Above mean sea level, where the log has it.
    pub height: Option<Length>,
    /// Over the ground, by the way flown; `None` between two gaps.
    pub ground_speed: Option<Speed>,
    /// Whether the log has a gap after it.
    pub gap: bool,
}

/// Where the aircraft is on the path and how it moves: along and across, metres and metres a second.
#[derive(Debug, Clone, Copy)]
pub(super) struct Moving {
    pub(super) place: [f64; 2],
    velocity: [f64; 2],
}

impl Moving {
    pub(super) fn speed(self) -> Speed {
        Speed::from_mps(self.velocity[0].hypot(self.velocity[1]))
    }

    pub(super) fn spot(self) -> Spot {
        Spot {
            along: Length::from_m(self.place[0]),
            across: Length::from_m(self.place[1]),
        }
    }
}

impl Line {
    /// The path through `fixes` (in order); what is further apart than `longest_gap` is a gap.
    pub fn new(ground: &Ground, fixes: &[Fix], longest_gap: Span) -> Line {
        let starts = fixes.first().map_or(Timestamp::UNIX_EPOCH, |fix| fix.at);
        Line {
            starts,
            times: fixes
                .iter()
                .map(|fix| fix.at.duration_since(starts).as_secs_f64())
                .collect(),
            places: fixes
                .iter()
                .map(|fix| {
                    let spot = ground.spot(fix.place);
                    [spot.along.m(), spot.across.m()]
                })
                .collect(),
            heights: fixes.iter().map(|fix| fix.height.map(Length::m)).collect(),
            longest_gap_s: longest_gap.s(),
        }
    }

    /// Each fix on the site.
    pub fn looks(&self) -> impl Iterator<Item = Look> {
        self.times.iter().enumerate().map(|(fix, &time)| {
            let flown =
                |stretch: &usize| *stretch < self.stretches() && self.gap(*stretch).is_none();
            let beside = [Some(fix), fix.checked_sub(1)]
                .into_iter()
                .flatten()
                .find(flown);
            let place = self.places[fix];
            Look {
                at: self.instant(time),
                spot: Spot {
                    along: Length::from_m(place[0]),
                    across: Length::from_m(place[1]),
                },
                height: self.heights[fix].map(Length::from_m),
                ground_speed: beside.map(|stretch| self.at(stretch, time).speed()),
                gap: fix < self.stretches() && self.gap(fix).is_some(),
            }
        })
    }

    /// How many stretches there are between fixes.
    pub(super) fn stretches(&self) -> usize {
        self.times.len().saturating_sub(1)
    }

    pub(super) fn time(&self, fix: usize) -> f64 {
        self.times[fix]
    }

    pub(super) fn place(&self, fix: usize) -> [f64; 2] {
        self.places[fix]
    }

    /// How long the stretch after a fix is, if it is a gap.
    pub(super) fn gap(&self, stretch: usize) -> Option<Span> {
        let takes = self.times[stretch + 1] - self.times[stretch];
        (takes > self.longest_gap_s).then(|| Span::from_s(takes))
    }

    pub(super) fn instant(&self, time_s: f64) -> Timestamp {
        let after = SignedDuration::from_micros((time_s * 1e6).round() as i64);
        self.starts.checked_add(after).unwrap_or(self.starts)
    }

    /// The height on a stretch, straight between those of its ends.
    pub(super) fn height(&self, stretch: usize, time_s: f64) -> Option<Length> {
        let (from, to) = (self.heights[stretch]?, self.heights[stretch + 1]?);
        let (begins, ends) = (self.times[stretch], self.times[stretch + 1]);
        let share = (time_s - begins) / (ends - begins);
        Some(Length::from_m(from + (to - from) * share))
    }

    /// The path on a stretch at a time: the polynomial through the fixes on both sides of it, two each
    /// way where these are near.
    pub(super) fn at(&self, stretch: usize, time_s: f64) -> Moving {
        let first = stretch - usize::from(self.leads_into(stretch));
        let last = stretch + 1 + usize::from(self.leads_out_of(stretch));
        let times = &self.times[first..=last];
        let places = &self.places[first..=last];
        let mut moving = Moving {
            place: [0.0; 2],
            velocity: [0.0; 2],
        };
        for (i, place) in places.iter().enumerate() {
            let (weight, slope) = lagrange(times, i, time_s);
            for (axis, metres) in place.iter().enumerate() {
                moving.place[axis] += weight * metres;
                moving.velocity[axis] += slope * metres;
            }
        }
        moving
    }

    fn takes(&self, stretch: usize) -> f64 {
        self.times[stretch + 1] - self.times[stretch]
    }

    fn leads_into(&self, stretch: usize) -> bool {
        stretch > 0 && self.is_near(stretch, self.takes(stretch - 1))
    }

    fn leads_out_of(&self, stretch: usize) -> bool {
        stretch + 1 < self.stretches() && self.is_near(stretch, self.takes(stretch + 1))
    }

    fn is_near(&self, stretch: usize, neighbour_s: f64) -> bool {
        let takes = self.takes(stretch);
        takes <= self.longest_gap_s && neighbour_s <= self.longest_gap_s.min(NEAR * takes)
    }
}

/// The `i`th Lagrange polynomial on `times` at `time`, and its slope.
fn lagrange(times: &[f64], i: usize, time: f64) -> (f64, f64) {
    let (mut weight, mut slope) = (1.0, 0.0);
    for (j, other) in times.iter().enumerate() {
        if j != i {
            let apart = times[i] - other;
            slope = (slope * (time - other) + weight) / apart;
            weight *= (time - other) / apart;
        }
    }
    (weight, slope)
}
