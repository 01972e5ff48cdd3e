//! The sky: what is really flown while somebody practises, where everybody is, and what the stand sees and hears
//! of it. The crews do what the show says, each a little otherwise than planned.

use std::sync::Arc;

use super::errors::{Errors, WindError};
use super::flown::{Flown, Walk};
use super::keying::{self, Keyed, is_keyed};
use super::outcome::Truth;
use super::waits::Waits;
use crate::flight::{self, Entry, Flight, PathSample};
use crate::live::session::parallax;
use crate::live::{Event, PointOf, Session, What};
use crate::show::{Day, Name, PointName, Show};
use crate::timeline::moments::sample_at;
use crate::timeline::{Moments, Plan};
use crate::units::{Instant, Span};

/// A path flown is drawn with a place this often.
const TRAIL_EVERY: Span = Span::from_ms(500);

/// What is really flown.
#[derive(Debug, Clone)]
pub struct Sky {
    show: Arc<Show>,
    plan: Arc<Plan>,
    errors: Errors,
    day: Day,
    /// What comes before this entry is flown as planned.
    from: Option<Name>,
    entries: Vec<Entry>,
    waits: Waits,
    flight: Flight,
    flown: Flown,
    moments: Moments,
}

/// An aircraft as it really is.
#[derive(Debug, Clone, PartialEq)]
pub struct Craft {
    /// Who: the first of those that fly as one.
    pub aircraft: Name,
    /// The entry being flown.
    pub key: Name,
    /// Where.
    pub sample: PathSample,
    /// Its velocity over the ground: to the crowd's right, away from the crowd; m/s.
    pub towards_mps: [f64; 2],
}

/// A point of a figure that somebody at the stand has seen.
#[derive(Debug, Clone, PartialEq)]
pub struct Seen {
    /// Which.
    pub point: PointOf,
    /// When it was to be seen from the stand.
    pub at: Instant,
    /// How much later it was keyed; `None` while it is not.
    pub keyed: Option<Span>,
}

impl Sky {
    /// The plan flown on `day`, the wind as it really is, with whatever else of `errors` there is. Where an entry is
    /// given, what comes before it is flown as planned, and it begins as planned.
    pub fn new(
        show: &Arc<Show>,
        plan: &Arc<Plan>,
        errors: Errors,
        day: Day,
        from: Option<Name>,
    ) -> Sky {
        let entries = entries_of(plan.entries.iter(), &errors);
        let mut sky = Sky {
            show: show.clone(),
            plan: plan.clone(),
            // The wind is in the day already.
            errors: Errors {
                wind: WindError::None,
                ..errors
            },
            day,
            from,
            entries,
            waits: Waits::default(),
            flight: Flight {
                figures: Vec::new(),
                faults: Vec::new(),
            },
            flown: Flown::default(),
            moments: Moments::default(),
        };
        sky.fly();
        sky
    }

    /// The crews keep to what has been keyed: programme, delays. Whether that was new to them.
    pub fn follow(&mut self, session: &Session, past: &[Event]) -> bool {
        let waits = Waits::of(past);
        let begun = |key: &Name| {
            let said = waits.dropped.iter().find(|(dropped, _)| dropped == key);
            said.is_some_and(|(_, at)| self.flown.start(key).is_some_and(|start| start <= *at))
        };
        let programme = session.programme().iter();
        let flown = programme.filter(|flying| !flying.dropped || begun(&flying.entry.key));
        let entries = entries_of(flown.map(|flying| &flying.entry), &self.errors);
        if (&entries, &waits) == (&self.entries, &self.waits) {
            return false;
        }
        (self.entries, self.waits) = (entries, waits);
        self.fly();
        true
    }

    fn fly(&mut self) {
        self.flight = flight::fly(&self.show, &self.day, &self.entries);
        let first = self.from.as_ref().and_then(|from| {
            let mut entries = self.entries.iter();
            entries.position(|entry| entry.key == *from)
        });
        if let Some(first) = first {
            let as_planned = flight::fly(&self.show, &self.plan.day, &self.entries);
            let before = as_planned.figures.into_iter().take(first);
            for (figure, planned) in self.flight.figures.iter_mut().zip(before) {
                *figure = planned;
            }
        }
        let mut flown = Walk::of(&self.show, &self.plan, &self.flight).fly(&self.errors);
        if let Some(first) = first {
            self.begin_as_planned(&mut flown, first);
        }
        self.waits.keep(&mut flown, self.errors.held_up.as_ref());
        self.moments = flown.moments(&self.flight);
        self.flown = flown;
    }

    /// What comes before an entry is passed as planned, and it begins as planned.
    fn begin_as_planned(&self, flown: &mut Flown, first: usize) {
        let planned = |key: &Name, point: &PointName| {
            let mut figures = self.plan.moments.figures.iter();
            let figure = figures.find(|figure| figure.key == *key)?;
            Some(figure.expected(point)?.at)
        };
        for figure in flown.figures.iter_mut().take(first) {
            for (point, at) in &mut figure.points {
                *at = planned(&figure.key, point).unwrap_or(*at);
            }
        }
        let begins = flown.figures.get(first).and_then(|figure| {
            let (point, at) = figure.points.first()?;
            Some(planned(&figure.key, point)? - *at)
        });
        let by = begins.unwrap_or(Span::ZERO);
        for (_, at) in flown
            .figures
            .iter_mut()
            .skip(first)
            .flat_map(|f| &mut f.points)
        {
            *at += by;
        }
    }

    /// The show.
    pub fn show(&self) -> &Arc<Show> {
        &self.show
    }

    /// The plan.
    pub fn plan(&self) -> &Arc<Plan> {
        &self.plan
    }

    /// When everything is really passed.
    pub fn flown(&self) -> &Flown {
        &self.flown
    }

    /// The same as moments, all of them certain.
    pub fn moments(&self) -> &Moments {
        &self.moments
    }

    /// The show as it really goes.
    pub fn truth(&self) -> Truth<'_> {
        Truth {
            show: &self.show,
            moments: &self.moments,
        }
    }

    /// What else of the errors than the wind is in it.
    pub fn errors(&self) -> &Errors {
        &self.errors
    }

    /// Who is in the air, and where.
    pub fn aloft(&self, now: Instant) -> Vec<Craft> {
        let flying = self.moments.figures.iter().zip(&self.flight.figures);
        let flying = flying.filter(|(times, _)| times.start() <= now && now < times.end());
        let parts = flying.flat_map(|(times, flown)| flown.parts.iter().map(move |p| (times, p)));
        let crafts = parts.filter_map(|(times, part)| {
            let sample = sample_at(&part.path, times.after_at(now))?;
            let soon = sample_at(&part.path, times.after_at(now + TRAIL_EVERY))?;
            let over = |from: f64, to: f64| (to - from) / TRAIL_EVERY.s();
            Some(Craft {
                aircraft: part.aircraft.first()?.clone(),
                key: times.key.clone(),
                towards_mps: [
                    over(sample.x.m(), soon.x.m()),
                    over(sample.y.m(), soon.y.m()),
                ],
                sample,
            })
        });
        crafts.collect()
    }

    /// What each aircraft in the air has flown of its present figure, and of the one before, and when.
    pub fn trails(&self, now: Instant) -> Vec<Vec<(Instant, PathSample)>> {
        let flying = || self.moments.figures.iter().zip(&self.flight.figures);
        let begun = |key: &Name| flying().position(|(times, _)| times.key == *key);
        let trails = self.aloft(now).into_iter().filter_map(|craft| {
            let at = begun(&craft.key)?;
            let mut figures: Vec<_> = flying()
                .take(at + 1)
                .filter(|(_, flown)| flown.aircraft.contains(&craft.aircraft))
                .collect();
            let present = figures.split_off(figures.len().saturating_sub(2));
            let trail = present.into_iter().flat_map(|(times, flown)| {
                let until = times.after_at(now.min(times.end()));
                let path = flown.path_of(&craft.aircraft);
                let mut next = Span::ZERO;
                let kept = path.iter().filter(move |sample| {
                    let keep = sample.after >= next && sample.after <= until;
                    if keep {
                        next = sample.after + TRAIL_EVERY;
                    }
                    keep
                });
                let timed = |sample: PathSample| (times.instant_of(sample.after), sample);
                kept.copied().chain(sample_at(path, until)).map(timed)
            });
            Some(trail.collect())
        });
        trails.collect()
    }

    /// Everything the stand could have keyed by now, oldest first, and when it was keyed.
    pub fn seen(&self, session: &Session, now: Instant) -> Vec<Seen> {
        let mut seen: Vec<Seen> = self
            .keyable()
            .filter(|(_, at)| *at <= now)
            .map(|(point, at)| {
                let mark = session
                    .marks()
                    .iter()
                    .rev()
                    .find(|mark| mark.point == point);
                Seen {
                    keyed: mark.map(|mark| mark.observed - at),
                    point,
                    at,
                }
            })
            .collect();
        seen.sort_by_key(|seen| seen.at);
        seen
    }

    /// Every point somebody keys, and when the stand sees it.
    pub fn keyable(&self) -> impl Iterator<Item = (PointOf, Instant)> {
        let stand = self.show.site.stand.0;
        let flying = self.flight.figures.iter().zip(&self.flown.figures);
        flying.flat_map(move |(figure, flown)| {
            let points = figure.points.iter().zip(&flown.points);
            let keyed = points.filter(|(point, _)| is_keyed(point));
            keyed.map(move |(point, (name, passed))| {
                let seen = *passed + parallax(name, stand, point.along);
                let key = flown.key.clone();
                let point = name.clone();
                (PointOf { key, point }, seen)
            })
        })
    }

    /// What somebody at the stand keys of it, in order of time.
    pub fn keys(&self) -> Vec<Event> {
        let mut keys = keying::marks(
            &self.show,
            &self.flight,
            &self.flown,
            &self.errors,
            Keyed::Named,
        );
        keys.extend(keying::changes(&self.plan, &self.flown, &self.errors));
        keys.sort_by_key(|key| key.at);
        keys
    }

    /// The latest thing said over the radio, and when.
    pub fn radio(&self, now: Instant) -> Option<(Instant, String)> {
        let changes = keying::changes(&self.plan, &self.flown, &self.errors);
        let director = changes.iter().filter_map(|event| {
            let said = match &event.what {
                What::Drop { key } => format!("director: no {}", self.name_of(key)),
                What::Delay => "director: hold for weather".into(),
                What::Resume => "director: carry on".into(),
                _ => return None,
            };
            Some((event.at, said))
        });
        let crews = self.flight.figures.iter().filter_map(|figure| {
            let waits = figure.points.iter().find(|point| point.step.waits)?;
            let at = self.flown.at(&figure.key, &waits.point)?;
            Some((at, format!("{}: inbound", figure.aircraft.first()?)))
        });
        let said = director.chain(crews).filter(|(at, _)| *at <= now);
        said.max_by_key(|(at, _)| *at)
    }

    fn name_of(&self, key: &Name) -> String {
        let entry = self.plan.entries.iter().find(|entry| entry.key == *key);
        let figure = entry.and_then(|entry| self.show.figure(&entry.figure));
        figure.map_or_else(|| key.to_string(), |figure| figure.name.clone())
    }

    /// The last entry begun by now that has a hold.
    pub fn last_hold(&self, now: Instant) -> Option<&Name> {
        let figures = self.flight.figures.iter().zip(&self.flown.figures);
        let held = figures.filter(|(figure, _)| figure.points.iter().any(|p| p.step.waits));
        let begun = held.filter_map(|(_, flown)| Some((&flown.key, flown.points.first()?.1)));
        let last = begun
            .filter(|(_, start)| *start <= now)
            .max_by_key(|(_, start)| *start);
        last.map(|(key, _)| key)
    }

    /// When an entry is over.
    pub fn end_of(&self, key: &Name) -> Option<Instant> {
        self.flown.at(key, &PointName::End)
    }
}

fn entries_of<'a>(entries: impl Iterator<Item = &'a Entry>, errors: &Errors) -> Vec<Entry> {
    let flown = entries.filter(|entry| !errors.dropped.contains(&entry.key));
    flown.cloned().collect()
}
