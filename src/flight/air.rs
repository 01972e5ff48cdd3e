//! The air: the standard atmosphere as the day bends it, and the speeds an aircraft has in it.
//!
//! ISO 2533 / ICAO Doc 7488: temperature falls 6.5 K a kilometre up to 11 km and then stays.
//! The day's temperature at the site shifts the whole column; the QNH gives the pressure at the site
//! as an altimeter would, and the column above is hydrostatic. Heights are taken as geopotential:
//! the difference from geometric is 0.1 m at 3,000 ft and 19 m at 11 km.

use crate::show::{Day, Site};
use crate::units::{Length, Pressure, Speed, Temperature};

/// Standard acceleration of free fall, m/s² (ISO 2533).
pub(super) const GRAVITY: f64 = 9.806_65;
/// Specific gas constant of air, J/(kg·K) (ISO 2533).
const GAS: f64 = 287.052_87;
/// Ratio of specific heats of air.
const GAMMA: f64 = 1.4;
/// Fall of temperature with height below the tropopause, K/m.
const LAPSE: f64 = 0.006_5;
/// Standard temperature at mean sea level, K.
const SEA_LEVEL_K: f64 = 288.15;
/// Standard pressure at mean sea level, Pa.
const SEA_LEVEL_PA: f64 = 101_325.0;
/// Where the temperature stops falling, m above mean sea level.
const TROPOPAUSE: f64 = 11_000.0;
/// g / (R L), the exponent of pressure in temperature below the tropopause.
const EXPONENT: f64 = GRAVITY / (GAS * LAPSE);
/// Keeps the column defined for temperatures no site has.
const COLDEST_K: f64 = 1.0;

/// The column of air over a site on a day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Air {
    elevation: f64,
    temperature: f64,
    pressure: f64,
}

/// The air at one height.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Parcel {
    /// Its temperature.
    pub temperature: Temperature,
    /// Its pressure.
    pub pressure: Pressure,
    /// Its density, kg/m³.
    pub density_kg_m3: f64,
    /// The speed of sound in it.
    pub sound: Speed,
}

impl Air {
    /// The air over a site at `elevation` where it is `temperature` and the altimeter setting is `qnh`.
    pub fn new(elevation: Length, temperature: Temperature, qnh: Pressure) -> Self {
        let sea_level = (qnh.pa() / SEA_LEVEL_PA).max(0.0).powf(1.0 / EXPONENT);
        let ratio = sea_level - LAPSE * elevation.m() / SEA_LEVEL_K;
        Air {
            elevation: elevation.m(),
            temperature: temperature.k().max(COLDEST_K),
            pressure: SEA_LEVEL_PA * ratio.max(1e-3).powf(EXPONENT),
        }
    }

    /// The air over a site on its day.
    pub fn over(site: &Site, day: &Day) -> Self {
        Air::new(site.elevation, day.temperature, day.qnh)
    }

    /// Whether a true airspeed at a height, m/s and m above the site, is plainly more than a calibrated one: told
    /// without a power. Below the tropopause density falls ever more slowly, and so stays above its tangent; what
    /// a pitot tube feels is no less than ρ V²/2, and for a slow calibrated speed hardly more.
    pub(super) fn is_plainly_faster(&self, height: f64, speed: f64, calibrated: f64) -> bool {
        const LOW: f64 = 10_000.0;
        const SLOW: f64 = 110.0;
        const MARGIN: f64 = 1.05;
        let thinner = 1.0 - (EXPONENT - 1.0) * LAPSE * height.max(0.0) / self.temperature;
        let density = self.pressure / (GAS * self.temperature) * thinner;
        let standard = SEA_LEVEL_PA / (GAS * SEA_LEVEL_K);
        let plain = density * speed * speed > MARGIN * standard * calibrated * calibrated;
        plain && calibrated < SLOW && self.elevation + height < LOW
    }

    /// The standard temperature at `elevation` above mean sea level.
    pub fn standard_temperature(elevation: Length) -> Temperature {
        let k = SEA_LEVEL_K - LAPSE * elevation.m().min(TROPOPAUSE);
        Temperature::from_k(k.max(COLDEST_K))
    }

    /// The speed of sound at `height` above the site: told without the pressure.
    pub fn sound_at(&self, height: Length) -> Speed {
        Speed::from_mps(sound(self.temperature_at(height)))
    }

    /// Where the temperature stops falling, m above the site.
    fn tropopause(&self) -> f64 {
        (TROPOPAUSE - self.elevation).max(0.0)
    }

    /// In K.
    fn temperature_at(&self, height: Length) -> f64 {
        let below = height.m().min(self.tropopause());
        (self.temperature - LAPSE * below).max(COLDEST_K)
    }

    /// The standard pressure at mean sea level: the QNH of a standard day.
    pub const STANDARD_QNH: Pressure = Pressure::from_pa(SEA_LEVEL_PA);

    /// The air at `height` above the site.
    pub fn at(&self, height: Length) -> Parcel {
        let temperature = self.temperature_at(height);
        let mut pressure = self.pressure * (temperature / self.temperature).powf(EXPONENT);
        let above = height.m() - self.tropopause();
        if above > 0.0 {
            pressure *= (-GRAVITY * above / (GAS * temperature)).exp();
        }
        Parcel {
            temperature: Temperature::from_k(temperature),
            pressure: Pressure::from_pa(pressure),
            density_kg_m3: pressure / (GAS * temperature),
            sound: Speed::from_mps(sound(temperature)),
        }
    }
}

/// Calibrated, true and Mach by the compressible isentropic relation, which holds below Mach 1.
impl Parcel {
    /// The true airspeed of a calibrated one.
    pub fn true_of(&self, calibrated: Speed) -> Speed {
        let impact = SEA_LEVEL_PA * impact_ratio(calibrated.mps() / sound(SEA_LEVEL_K));
        Speed::from_mps(mach_of(impact / self.pressure.pa()) * self.sound.mps())
    }

    /// The calibrated airspeed of a true one.
    pub fn calibrated_of(&self, true_airspeed: Speed) -> Speed {
        let impact = self.pressure.pa() * impact_ratio(self.mach_of(true_airspeed));
        Speed::from_mps(mach_of(impact / SEA_LEVEL_PA) * sound(SEA_LEVEL_K))
    }

    /// Whether a true airspeed is slower than a calibrated one.
    pub(super) fn is_slower(&self, true_airspeed: Speed, calibrated: Speed) -> bool {
        let impact = self.pressure.pa() * impact_ratio(self.mach_of(true_airspeed));
        impact < SEA_LEVEL_PA * impact_ratio(calibrated.mps() / sound(SEA_LEVEL_K))
    }

    /// The Mach number of a true airspeed.
    pub fn mach_of(&self, true_airspeed: Speed) -> f64 {
        true_airspeed.mps() / self.sound.mps()
    }
}

/// Speed of sound at a temperature, m/s.
fn sound(temperature: f64) -> f64 {
    (GAMMA * GAS * temperature).sqrt()
}

/// What a pitot tube feels over static pressure, as a share of it, at a Mach number.
fn impact_ratio(mach: f64) -> f64 {
    let total = 1.0 + 0.2 * mach * mach;
    // To the power of 3.5.
    total * total * total * total.sqrt() - 1.0
}

/// The Mach number at which a pitot tube feels so much over static pressure.
fn mach_of(impact_ratio: f64) -> f64 {
    (5.0 * ((impact_ratio + 1.0).powf(2.0 / 7.0) - 1.0)).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_plainly_faster_is_not_slower() {
        for (elevation, celsius, qnh) in [
            (0.0, 15.0, 101_325.0),
            (400.0, -25.0, 104_500.0),
            (1_500.0, 38.0, 98_000.0),
        ] {
            let air = Air::new(
                Length::from_m(elevation),
                Temperature::from_c(celsius),
                Pressure::from_pa(qnh),
            );
            let mut plain = 0;
            for height in [0.0, 150.0, 1_000.0, 3_000.0, 6_000.0, 8_000.0] {
                for speed in [20.0, 40.0, 60.0, 90.0, 140.0, 200.0, 320.0] {
                    for calibrated in [15.0, 30.0, 50.0, 80.0, 109.0] {
                        let parcel = air.at(Length::from_m(height));
                        let speeds = [speed, calibrated].map(Speed::from_mps);
                        if air.is_plainly_faster(height, speed, calibrated) {
                            plain += 1;
                            assert!(
                                !parcel.is_slower(speeds[0], speeds[1]),
                                "{height} {speed} {calibrated}"
                            );
                        }
                    }
                }
            }
            assert!(plain > 60, "{plain}");
        }
    }

    #[test]
    fn a_warm_day_and_a_low_qnh_thin_the_air() {
        let elevation = Length::from_m(125.0);
        let standard = Air::new(
            elevation,
            Air::standard_temperature(elevation),
            Air::STANDARD_QNH,
        );
        let warm = Air::new(
            elevation,
            Temperature::from_c(30.0),
            Pressure::from_pa(99_000.0),
        );
        let at = |air: &Air| air.at(Length::from_m(150.0)).density_kg_m3;
        assert!(at(&warm) < at(&standard));
    }

    #[test]
    fn the_altimeter_of_a_standard_day_reads_the_elevation() {
        let site = Air::new(
            Length::from_m(1_000.0),
            Air::standard_temperature(Length::from_m(1_000.0)),
            Air::STANDARD_QNH,
        );
        let sea = Air::new(
            Length::ZERO,
            Air::standard_temperature(Length::ZERO),
            Air::STANDARD_QNH,
        );
        let (here, there) = (site.at(Length::ZERO), sea.at(Length::from_m(1_000.0)));
        assert!((here.pressure.pa() - there.pressure.pa()).abs() < 1e-6);
    }

    #[test]
    fn calibrated_and_true_are_each_others_inverse() {
        let parcel = Air::new(
            Length::from_m(200.0),
            Temperature::from_c(24.0),
            Pressure::from_pa(100_900.0),
        )
        .at(Length::from_m(900.0));
        for kt in [0.0, 1.0, 90.0, 250.0, 480.0, 600.0] {
            let there = parcel.true_of(Speed::from_kt(kt));
            assert!((parcel.calibrated_of(there).kt() - kt).abs() < 1e-6, "{kt}");
        }
    }
}
