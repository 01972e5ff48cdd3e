//! The ground: from latitude and longitude to the site's frame and back, by exact geodesics on WGS 84.

use geographiclib_rs::{DirectGeodesic, Geodesic, InverseGeodesic};

use super::Place;
use crate::units::{Angle, Length};

/// A place on the site.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spot {
    /// Along the display line from crowd centre, positive to the crowd's right.
    pub along: Length,
    /// From the crowd line, positive away from the crowd.
    pub across: Length,
}

impl Spot {
    /// From crowd centre, over the ground.
    pub fn from_centre(self) -> Length {
        Length::from_m(self.along.m().hypot(self.across.m()))
    }
}

/// Crowd centre and the display line's bearing on the ellipsoid.
///
/// A place is where its geodesic from crowd centre leads to: in the true direction, at the true distance.
/// What lies on the line through crowd centre at right angles to the display line has `along` zero exactly.
#[derive(Debug)]
pub struct Ground {
    geodesic: Geodesic,
    centre: Place,
    line_bearing_deg: f64,
}

impl Ground {
    /// `line_bearing` is the true direction of the display line to the crowd's right.
    pub fn new(centre: Place, line_bearing: Angle) -> Ground {
        Ground {
            geodesic: Geodesic::wgs84(),
            centre,
            line_bearing_deg: line_bearing.deg(),
        }
    }

    /// Where a place is on the site.
    pub fn spot(&self, place: Place) -> Spot {
        let (lat, lon) = self.centre.degrees();
        let (to_lat, to_lon) = place.degrees();
        let (distance_m, azimuth_deg, _, _): (f64, f64, f64, f64) =
            self.geodesic.inverse(lat, lon, to_lat, to_lon);
        let off_line = (azimuth_deg - self.line_bearing_deg).to_radians();
        Spot {
            along: Length::from_m(distance_m * off_line.cos()),
            across: Length::from_m(-distance_m * off_line.sin()),
        }
    }

    /// Which place a spot of the site is.
    pub fn place(&self, spot: Spot) -> Option<Place> {
        let (lat, lon) = self.centre.degrees();
        let (x, y) = (spot.along.m(), spot.across.m());
        let azimuth_deg = self.line_bearing_deg - y.atan2(x).to_degrees();
        let (lat, lon): (f64, f64) = self.geodesic.direct(lat, lon, azimuth_deg, x.hypot(y));
        Place::from_deg(lat, lon)
    }
}

/// The length of the geodesic between two places.
pub fn between(geodesic: &Geodesic, a: Place, b: Place) -> Length {
    let ((lat, lon), (to_lat, to_lon)) = (a.degrees(), b.degrees());
    Length::from_m(geodesic.inverse(lat, lon, to_lat, to_lon))
}
