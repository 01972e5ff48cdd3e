//! The way each figure was really flown, by position logs.

use super::fold::Folded;
use super::passed::{Log, flies};
use super::seen::Flown;
use crate::live::clock::ShowClock;
use crate::position::{Look, Spot};
use crate::show::{Name, PointName, Show};
use crate::units::{Instant, Length, Speed};

/// An aircraft's way through a figure.
#[derive(Debug, Clone, PartialEq)]
pub struct Trail {
    /// The aircraft.
    pub aircraft: Name,
    /// The entry.
    pub key: Name,
    /// Its fixes in order of time, apart where the log has a gap.
    pub stretches: Vec<Vec<Seen>>,
}

/// Where an aircraft was at an instant of the show.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seen {
    /// When.
    pub at: Instant,
    /// Where.
    pub spot: Spot,
    /// Above the site, where the log has it.
    pub height: Option<Length>,
    /// Over the ground; `None` between two gaps.
    pub ground_speed: Option<Speed>,
}

/// The way each aircraft with a log flew each of its figures, as far as the log has it: from when the figure is
/// thought to have begun until it is thought to have ended.
pub fn trails(
    show: &Show,
    folded: &Folded,
    points: &[Flown],
    clock: &ShowClock,
    logs: &[Log],
) -> Vec<Trail> {
    let figures = folded.session.moments().figures.iter();
    let each = figures.flat_map(|times| logs.iter().map(move |log| (&times.key, log)));
    let trail = |(key, log): (&Name, &Log)| {
        let at = |point: PointName| {
            let mut own = points.iter().filter(|flown| flown.key == *key);
            own.find(|flown| flown.point == point).map(|flown| flown.at)
        };
        let flown = flies(show, folded, key, &log.aircraft);
        let from = at(PointName::Start).filter(|_| flown)?;
        let until = at(PointName::End).unwrap_or(folded.end);
        let stretches = stretches(show, clock, &log.looks, [from, until]);
        (!stretches.is_empty()).then(|| Trail {
            aircraft: log.aircraft.clone(),
            key: key.clone(),
            stretches,
        })
    };
    each.filter_map(trail).collect()
}

/// The fixes between two instants, apart where there is a gap; a fix alone between two gaps shows no way.
fn stretches(
    show: &Show,
    clock: &ShowClock,
    looks: &[Look],
    [from, until]: [Instant; 2],
) -> Vec<Vec<Seen>> {
    let at = |look: &Look| clock.at_wall(look.at.as_microsecond());
    let first = looks.partition_point(|look| at(look) < from);
    let mut stretches: Vec<Vec<Seen>> = vec![Vec::new()];
    for look in looks[first..].iter().take_while(|look| at(look) <= until) {
        if let Some(stretch) = stretches.last_mut() {
            stretch.push(Seen {
                at: at(look),
                spot: look.spot,
                height: look.height.map(|height| height - show.site.elevation),
                ground_speed: look.ground_speed,
            });
        }
        if look.gap {
            stretches.push(Vec::new());
        }
    }
    stretches.retain(|stretch| stretch.len() > 1);
    stretches
}

impl Trail {
    /// Where the aircraft was at an instant, straight between two fixes; `None` where no two are around it.
    pub fn at(&self, at: Instant) -> Option<Seen> {
        self.stretches.iter().find_map(|stretch| {
            let next = stretch.partition_point(|seen| seen.at < at).max(1);
            let (before, later) = (stretch.get(next - 1)?, stretch.get(next)?);
            (before.at <= at).then(|| before.towards(later, at))
        })
    }
}

impl Seen {
    fn towards(&self, later: &Seen, at: Instant) -> Seen {
        let share = (at - self.at).s() / (later.at - self.at).s();
        let length = |from: Length, to: Length| from + (to - from) * share;
        let both = self.height.zip(later.height);
        let speeds = self.ground_speed.zip(later.ground_speed);
        Seen {
            at,
            spot: Spot {
                along: length(self.spot.along, later.spot.along),
                across: length(self.spot.across, later.spot.across),
            },
            height: both.map(|(from, to)| length(from, to)),
            ground_speed: speeds.map(|(from, to)| from + (to - from) * share),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Span;

    /// A fix each second on a straight line, 100 m/s, climbing 10 m a second.
    fn seen(s: f64) -> Seen {
        Seen {
            at: Instant::ZERO + Span::from_s(s),
            spot: Spot {
                along: Length::from_m(100.0 * s),
                across: Length::from_m(230.0),
            },
            height: Some(Length::from_m(10.0 * s)),
            ground_speed: Some(Speed::from_mps(100.0)),
        }
    }

    #[test]
    fn between_two_fixes_it_is_straight_and_in_a_gap_nothing_is_known() {
        let trail = Trail {
            aircraft: "solo".into(),
            key: "pass".into(),
            stretches: vec![
                vec![seen(0.0), seen(1.0), seen(2.0)],
                vec![seen(20.0), seen(21.0)],
            ],
        };
        let at = |s: f64| trail.at(Instant::from_s(s));
        let between = at(1.25).expect("it is known");
        assert!((between.spot.along.m() - 125.0).abs() < 1e-9, "{between:?}");
        assert!((between.height.expect("a height").m() - 12.5).abs() < 1e-9);
        assert_eq!(at(10.0), None);
        assert_eq!(at(22.0), None);
    }
}
