//! What a display is flown in: the day's air and wind, and the winds its spread is told from.

use super::air::Air;
use super::craft::Craft;
use super::gusts::Gusts;
use super::observed::{self, Observed};
use super::wind::Wind;
use super::world::World;
use crate::show::{Day, Fault, Name, Show};
use crate::units::Speed;

/// The wind change the sensitivity to wind is measured with, each way.
pub(super) const WIND_CHANGE: Speed = Speed::from_mps(1.0);
/// How many times less exactly figures are flown in these other winds: only the difference counts.
const ROUGHNESS: f64 = 200.0;

/// In which winds a display is flown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Winds {
    /// That of the day.
    TheDays,
    /// Also in more and in less of it, for what that does to its times.
    AndMore,
}

/// A show and its day.
pub(super) struct Skies<'a> {
    pub show: &'a Show,
    pub world: World,
    /// The same in so much more wind along the display line, m/s: first towards the crowd's left. None where
    /// the spread is not asked for.
    pub others: Vec<(f64, World)>,
    pub gusts: Gusts,
}

impl Skies<'_> {
    /// Over the show's site on a day; and what is to be said of its report.
    pub fn over<'a>(show: &'a Show, day: &Day, winds: Winds) -> (Skies<'a>, Vec<Fault>) {
        let Observed {
            day,
            varies,
            remarks,
        } = observed::observe(day);
        let world = World {
            air: Air::over(&show.site, &day),
            wind: Wind::over(&show.site, &day),
            line: show.site.line_distance.m(),
            craft: Craft::of(None),
            roughness: 1.0,
        };
        let in_more = |change: Speed| {
            let world = World {
                wind: world.wind.with_more_along(change),
                roughness: ROUGHNESS,
                ..world.clone()
            };
            (change.mps(), world)
        };
        let skies = Skies {
            show,
            others: match winds {
                Winds::TheDays => Vec::new(),
                Winds::AndMore => vec![in_more(-WIND_CHANGE), in_more(WIND_CHANGE)],
            },
            world,
            gusts: Gusts::on(&day, show.site.line_bearing, varies),
        };
        (skies, remarks)
    }

    /// The same world for an aircraft of the show.
    pub fn with_craft(&self, world: &World, id: Option<&Name>) -> World {
        let mut aircraft = self.show.aircraft.iter();
        World {
            craft: Craft::of(aircraft.find(|craft| id == Some(&craft.id))),
            ..world.clone()
        }
    }
}
