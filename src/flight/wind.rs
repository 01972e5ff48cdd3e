//! The wind in the site's own frame, by height.

use crate::show::{Day, Site, WindAt};
use crate::units::{Angle, Length, Speed, UnitError};

/// Where the air goes, in the site frame.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct WindVector {
    /// Along the display line, positive towards the crowd's right.
    pub x: Speed,
    /// Away from the crowd.
    pub y: Speed,
}

/// The mean wind over the site. Between the heights given its vector is interpolated; below the lowest
/// and above the highest it stays as there.
#[derive(Debug, Clone, PartialEq)]
pub struct Wind {
    layers: Vec<(f64, WindVector)>,
}

impl WindVector {
    /// The wind blowing from a true bearing, over a line whose true bearing towards the crowd's right
    /// is `line_bearing`.
    pub fn new(from: Angle, speed: Speed, line_bearing: Angle) -> Self {
        let angle = (from - line_bearing).rad();
        WindVector {
            x: speed * -angle.cos(),
            y: speed * angle.sin(),
        }
    }
}

impl Wind {
    /// The day's wind over a site. No wind given is calm.
    pub fn over(site: &Site, day: &Day) -> Self {
        let mut layers: Vec<_> = day
            .wind
            .iter()
            .map(|wind| {
                let vector = WindVector::new(wind.from, wind.speed, site.line_bearing);
                (wind.height.m(), vector)
            })
            .collect();
        layers.sort_by(|a, b| a.0.total_cmp(&b.0));
        if layers.is_empty() {
            layers.push((0.0, WindVector::default()));
        }
        Wind { layers }
    }

    /// The same wind at every height.
    pub(super) fn even(vector: WindVector) -> Self {
        Wind {
            layers: vec![(0.0, vector)],
        }
    }

    /// The wind at `height` above the site.
    pub fn at(&self, height: Length) -> WindVector {
        let h = height.m();
        let above = self.layers.partition_point(|(at, _)| *at <= h);
        let lower = above.checked_sub(1).and_then(|i| self.layers.get(i));
        match (lower, self.layers.get(above)) {
            (Some((low, below)), Some((high, over))) => {
                let share = (h - low) / (high - low);
                WindVector {
                    x: below.x + (over.x - below.x) * share,
                    y: below.y + (over.y - below.y) * share,
                }
            }
            (Some((_, only)), None) | (None, Some((_, only))) => *only,
            (None, None) => WindVector::default(),
        }
    }

    /// The same wind with `along` more of it towards the crowd's right at every height.
    pub(super) fn with_more_along(&self, along: Speed) -> Self {
        let mut layers = self.layers.clone();
        for (_, vector) in &mut layers {
            vector.x = vector.x + along;
        }
        Wind { layers }
    }
}

/// Reads a wind as it is said, `"240/15kt"` or `"240/8 m/s"`: the true bearing it blows from and its
/// speed. It is the wind at the site; `"calm"` is none.
pub fn read_wind(text: &str) -> Result<WindAt, UnitError> {
    let error = || UnitError {
        text: text.into(),
        what: "a wind",
        expected: "it as \"240/15kt\": true bearing it blows from, 0 to 360, then its speed; or \"calm\"",
    };
    let (from, speed) = match text.trim() {
        "calm" => (0.0, Speed::ZERO),
        said => {
            let (from, speed) = said.split_once('/').ok_or_else(error)?;
            let speed: Speed = speed.parse().map_err(|_| error())?;
            (read_bearing(from).ok_or_else(error)?.deg(), speed)
        }
    };
    if speed.mps() < 0.0 {
        return Err(error());
    }
    Ok(WindAt {
        height: Length::ZERO,
        from: Angle::from_deg(from),
        speed,
        gust: Speed::ZERO,
    })
}

/// A bearing in whole or part degrees from 0 to 360, `"082"`.
pub fn read_bearing(text: &str) -> Option<Angle> {
    let text = text.trim();
    if !text.starts_with(|c: char| c.is_ascii_digit()) {
        return None;
    }
    let deg: f64 = text.parse().ok()?;
    (0.0..=360.0).contains(&deg).then_some(Angle::from_deg(deg))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wind(layers: &[(f64, f64, f64)]) -> Wind {
        Wind {
            layers: layers
                .iter()
                .map(|&(height, x, y)| {
                    let vector = WindVector {
                        x: Speed::from_mps(x),
                        y: Speed::from_mps(y),
                    };
                    (height, vector)
                })
                .collect(),
        }
    }

    #[test]
    fn wind_down_the_line_pushes_along_it_and_wind_from_the_crowd_away_from_it() {
        let line = Angle::from_deg(64.0);
        let down = WindVector::new(Angle::from_deg(64.0), Speed::from_mps(10.0), line);
        assert!((down.x.mps() + 10.0).abs() < 1e-9 && down.y.mps().abs() < 1e-9);
        // The crowd looks out along line_bearing - 90; the wind on its back comes from line_bearing + 90.
        let behind = WindVector::new(Angle::from_deg(154.0), Speed::from_mps(10.0), line);
        assert!(behind.x.mps().abs() < 1e-9 && (behind.y.mps() - 10.0).abs() < 1e-9);
    }

    #[test]
    fn wind_between_heights_is_between_vectors_and_beyond_them_stays() {
        let wind = wind(&[(0.0, 2.0, 0.0), (100.0, 0.0, 4.0)]);
        let at = |h| {
            let v = wind.at(Length::from_m(h));
            (v.x.mps(), v.y.mps())
        };
        assert_eq!(at(50.0), (1.0, 2.0));
        assert_eq!(at(-5.0), (2.0, 0.0));
        assert_eq!(at(100.0), (0.0, 4.0));
        assert_eq!(at(9e9), (0.0, 4.0));
    }

    #[test]
    fn a_wind_is_read_as_it_is_said() {
        let read = read_wind("240/15kt").expect("a wind");
        assert!((read.from.deg() - 240.0).abs() < 1e-9 && (read.speed.kt() - 15.0).abs() < 1e-9);
        assert_eq!(read_wind("calm").map(|w| w.speed), Ok(Speed::ZERO));
        for wrong in [
            "",
            "240",
            "240/15",
            "400/5kt",
            "240/-5kt",
            "x/5kt",
            "240/NaN kt",
        ] {
            let error = read_wind(wrong).expect_err(wrong).to_string();
            assert!(error.contains("\"240/15kt\""), "{error}");
        }
    }
}
