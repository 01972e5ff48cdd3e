//! Calibrated airspeed, true airspeed and Mach number are what the compressible relation makes them.
//!
//! Source: the Python package openap 2.6.2 (openap.aero); reference/airspeed.py wrote its values to
//! reference/airspeed.csv. Its density falls with the power 4.256848 of temperature, the standard's with
//! 4.255880: most of what is between them. Points above Mach 1 check the relation only: no leg is flown
//! there. reference/airspeed_day.py wrote the same for cold and warm days to reference/airspeed_day.csv.

use abeam::flight::air::{Air, Parcel};
use abeam::units::{Length, Pressure, Speed, Temperature, quantity::FOOT};

fn standard(altitude: Length) -> Parcel {
    let sea_level = Length::ZERO;
    Air::new(
        sea_level,
        Air::standard_temperature(sea_level),
        Air::STANDARD_QNH,
    )
    .at(altitude)
}

#[test]
fn openap_gives_the_same_true_airspeed_and_mach_to_a_twentieth_of_a_knot() {
    let rows = include_str!("reference/airspeed.csv").lines().skip(1);
    let (mut count, mut worst): (usize, f64) = (0, 0.0);
    for row in rows {
        let values: Vec<f64> = row.split(',').map(|v| v.parse().expect(row)).collect();
        let [height_ft, cas, tas, mach] = values[..] else {
            panic!("four columns: {row}");
        };
        let air = standard(Length::from_m(height_ft * FOOT));
        let ours = air.true_of(Speed::from_kt(cas));
        let back = air.calibrated_of(Speed::from_kt(tas));
        worst = worst
            .max((ours.kt() - tas).abs())
            .max((back.kt() - cas).abs());
        assert!((ours.kt() - tas).abs() < 0.05, "{row}: {}", ours.kt());
        assert!((back.kt() - cas).abs() < 0.05, "{row}: {}", back.kt());
        assert!((air.mach_of(ours) - mach).abs() < 1e-4, "{row}");
        count += 1;
    }
    println!("{count} points, worst {worst:.4} kt");
    assert!(count >= 40);
}

#[test]
fn on_cold_and_warm_days_openap_gives_the_same_to_a_hundredth_of_a_knot() {
    let (mut count, mut worst): (usize, f64) = (0, 0.0);
    for row in include_str!("reference/airspeed_day.csv").lines().skip(1) {
        let values: Vec<f64> = row.split(',').map(|v| v.parse().expect(row)).collect();
        let [kelvin, pascal, cas, tas, mach] = values[..] else {
            panic!("five columns: {row}");
        };
        let (temperature, pressure) = (Temperature::from_k(kelvin), Pressure::from_pa(pascal));
        let air = Air::new(Length::ZERO, temperature, pressure).at(Length::ZERO);
        let ours = air.true_of(Speed::from_kt(cas));
        worst = worst.max((ours.kt() - tas).abs());
        assert!((air.mach_of(ours) - mach).abs() < 2e-5, "{row}");
        count += 1;
    }
    println!("{count} points, worst {worst:.4} kt");
    assert!(count >= 70 && worst < 0.01, "{worst}");
}

/// ISO 2533: the speed of sound at sea level is 340.294 m/s, 661.5 kt.
#[test]
fn mach_0_94_at_sea_level_is_621_8_knots() {
    let air = standard(Length::ZERO);
    assert_eq!(format!("{:.1}", air.sound.kt()), "661.5");
    assert_eq!(format!("{:.1}", air.sound.kt() * 0.94), "621.8");
    assert!((air.mach_of(Speed::from_kt(621.8)) - 0.94).abs() < 1e-4);
}
