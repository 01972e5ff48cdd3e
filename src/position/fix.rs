//! Fixes: where an aircraft was at an instant.

use jiff::Timestamp;

use super::Doubts;
use crate::units::{Angle, Length, Speed};

/// A place on the WGS 84 ellipsoid.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    lat_deg: f64,
    lon_deg: f64,
}

impl Place {
    /// From degrees, north and east positive; `None` if there is no such place. A longitude may be given
    /// up to 360 degrees.
    pub fn from_deg(lat: f64, lon: f64) -> Option<Place> {
        let on_earth = (-90.0..=90.0).contains(&lat) && (-180.0..=360.0).contains(&lon);
        on_earth.then_some(Place {
            lat_deg: lat,
            lon_deg: if lon > 180.0 { lon - 360.0 } else { lon },
        })
    }

    /// Latitude, north positive.
    pub fn lat(self) -> Angle {
        Angle::from_deg(self.lat_deg)
    }

    /// Longitude, east positive.
    pub fn lon(self) -> Angle {
        Angle::from_deg(self.lon_deg)
    }

    pub(super) fn degrees(self) -> (f64, f64) {
        (self.lat_deg, self.lon_deg)
    }
}

/// What a receiver said at one instant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fix {
    /// When, UTC.
    pub at: Timestamp,
    /// Where.
    pub place: Place,
    /// Above mean sea level.
    pub height: Option<Length>,
    /// Over the ground.
    pub ground_speed: Option<Speed>,
    /// True direction of the movement over the ground, clockwise from north.
    pub track: Option<Angle>,
}

impl Fix {
    /// A place at an instant and nothing else.
    pub fn new(at: Timestamp, place: Place) -> Fix {
        Fix {
            at,
            place,
            height: None,
            ground_speed: None,
            track: None,
        }
    }
}

/// The fixes of one aircraft, in order, no two at one instant.
#[derive(Debug, Clone, PartialEq)]
pub struct Track {
    /// What the log calls it; the name of the file where it says nothing.
    pub name: String,
    /// The fixes.
    pub fixes: Vec<Fix>,
}

/// What was read from one log.
#[derive(Debug, Clone, PartialEq)]
pub struct Log {
    /// One for each aircraft in it that has a fix.
    pub tracks: Vec<Track>,
    /// What of it was not taken, and why.
    pub doubts: Doubts,
}
