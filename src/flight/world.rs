//! What a figure is flown in, and by what.

use super::air::Air;
use super::craft::Craft;
use super::speed::Conditions;
use super::vector::Vector;
use super::wind::Wind;
use crate::units::{Length, Speed};

/// The day's air and wind, the display line and the aircraft.
#[derive(Debug, Clone)]
pub(super) struct World {
    pub air: Air,
    pub wind: Wind,
    /// The display line, m from the crowd line.
    pub line: f64,
    pub craft: Craft,
    /// How many times less exactly than it should be known it is flown.
    pub roughness: f64,
}

impl World {
    /// Whether it is flown less exactly than it should be known.
    pub fn is_rough(&self) -> bool {
        self.roughness > 1.0
    }

    /// Air and wind at a height, m above the site.
    pub fn at(&self, height: f64) -> Conditions {
        let height = Length::from_m(height);
        Conditions::new(&self.air, self.wind.at(height), height)
    }

    /// A height, m above the site, and a true airspeed there, m/s, as people name them: calibrated.
    pub fn named(&self, height: f64, speed: f64) -> (Length, Speed) {
        let height = Length::from_m(height);
        let air = self.air.at(height);
        (height, air.calibrated_of(Speed::from_mps(speed)))
    }

    /// A velocity through the air at a height, m above the site, as one over the ground.
    pub fn over_ground(&self, height: f64, [x, y, z]: Vector) -> Vector {
        let wind = self.wind.at(Length::from_m(height));
        [x + wind.x.mps(), y + wind.y.mps(), z]
    }
}
