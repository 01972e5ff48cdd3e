//! The air is the standard atmosphere.
//!
//! Sources: the tables of ISO 2533 / US Standard Atmosphere 1976 by geopotential altitude (printed values
//! from memory, and reproduced to their last digit by the second source); and the Python package
//! ambiance 1.3.1, whose values reference/atmosphere.py wrote to reference/atmosphere.csv.

use abeam::flight::air::{Air, Parcel};
use abeam::units::Length;

fn standard(altitude_m: f64) -> Parcel {
    let sea_level = Length::ZERO;
    Air::new(
        sea_level,
        Air::standard_temperature(sea_level),
        Air::STANDARD_QNH,
    )
    .at(Length::from_m(altitude_m))
}

/// Altitude in m; then temperature in K, pressure in hPa, density in kg/m³ and speed of sound in m/s, as
/// printed.
const PRINTED: [(f64, &str, &str, &str, &str); 5] = [
    (0.0, "288.150", "1013.25", "1.2250", "340.294"),
    (1_000.0, "281.650", "898.75", "1.1116", "336.434"),
    (3_000.0, "268.650", "701.09", "0.90912", "328.578"),
    (5_000.0, "255.650", "540.20", "0.73612", "320.529"),
    (11_000.0, "216.650", "226.32", "0.36392", "295.069"),
];

#[test]
fn the_printed_tables_are_met_to_their_last_digit() {
    for (altitude, temperature, pressure, density, sound) in PRINTED {
        let air = standard(altitude);
        assert_eq!(format!("{:.3}", air.temperature.k()), temperature);
        assert_eq!(format!("{:.2}", air.pressure.pa() / 100.0), pressure);
        let decimals = density.len() - "0.".len();
        assert_eq!(format!("{:.decimals$}", air.density_kg_m3), density);
        assert_eq!(format!("{:.3}", air.sound.mps()), sound);
    }
}

#[test]
fn ambiance_gives_the_same_air_up_to_the_lower_stratosphere() {
    let rows = include_str!("reference/atmosphere.csv").lines().skip(1);
    let mut count = 0;
    for row in rows {
        let values: Vec<f64> = row.split(',').map(|v| v.parse().expect(row)).collect();
        let [altitude, temperature, pressure, density, sound] = values[..] else {
            panic!("five columns: {row}");
        };
        let air = standard(altitude);
        for (ours, theirs) in [
            (air.temperature.k(), temperature),
            (air.pressure.pa(), pressure),
            (air.density_kg_m3, density),
            (air.sound.mps(), sound),
        ] {
            // ambiance begins each layer at a pressure printed to six digits.
            assert!(
                (ours / theirs - 1.0).abs() < 3e-6,
                "{altitude}: {ours} {theirs}"
            );
        }
        count += 1;
    }
    assert_eq!(count, 9);
}
