//! The air is the standard atmosphere.
//!
//! Sources: the tables of ISO 2533 / US Standard Atmosphere 1976 by geopotential altitude (printed values
//! from memory, and reproduced to their last digit by the second source); and the Python package
//! ambiance 1.3.1, whose values reference/atmosphere.py wrote to reference/atmosphere.csv. Of a day that is
//! not standard: the altimeter setting formula of the meteorological services (WMO-No. 8; from memory).

use abeam::flight::air::{Air, Parcel};
use abeam::units::{Length, Pressure, Temperature};

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

/// QNH = (p^0.190263 + 8.417286e-5 H)^(1/0.190263), p the station's pressure in hPa and H its height in m:
/// whatever the temperature.
#[test]
fn the_pressure_at_the_site_is_what_a_station_there_reduces_to_its_qnh() {
    for elevation in [-50.0, 0.0, 125.0, 600.0, 1_800.0] {
        for (qnh, celsius) in [(963.0, -12.0), (1_009.0, 24.0), (1_041.0, 38.0)] {
            let air = Air::new(
                Length::from_m(elevation),
                Temperature::from_c(celsius),
                Pressure::from_pa(qnh * 100.0),
            );
            let station = air.at(Length::ZERO).pressure.pa() / 100.0;
            let reduced =
                (station.powf(0.190_263) + 8.417_286e-5 * elevation).powf(1.0 / 0.190_263);
            assert!((reduced - qnh).abs() < 0.01, "{elevation} {qnh}: {reduced}");
        }
    }
}

/// Hypsometric equation (WMO-No. 8): ln(p0/p) is the thickness over R T/g, T the mean of the layer's
/// temperature, here that of a layer whose temperature falls evenly; R/g = 29.2713 m/K.
#[test]
fn the_column_above_a_warm_site_is_as_thick_as_it_is_warm() {
    for (celsius, height) in [
        (-15.0, 900.0),
        (10.0, 300.0),
        (35.0, 1_500.0),
        (35.0, 3_000.0),
    ] {
        let air = Air::new(
            Length::from_m(200.0),
            Temperature::from_c(celsius),
            Pressure::from_pa(99_800.0),
        );
        let (below, above) = (air.at(Length::ZERO), air.at(Length::from_m(height)));
        let (warm, cold) = (below.temperature.k(), above.temperature.k());
        assert!((warm - cold - 0.0065 * height).abs() < 1e-9);
        let mean = (warm - cold) / (warm / cold).ln();
        let thickness = 29.2713 * mean * (below.pressure.pa() / above.pressure.pa()).ln();
        assert!(
            (thickness / height - 1.0).abs() < 1e-5,
            "{celsius}: {thickness}"
        );
    }
}
