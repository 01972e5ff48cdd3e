//! The arrival solver's wind triangle agrees with worked examples of navigation handbooks.
//!
//! * War Department, Mathematics for Air Crew Trainees (technical manual, 1940s; Smithsonian, NASM.2003.0033):
//!   answered exercises on the ground speed triangle. They were
//!   drawn to scale: to a degree and a mile an hour.
//! * FAA, Pilot's Handbook of Aeronautical Knowledge (FAA-H-8083-25), navigation: the wind triangle drawn
//!   from E to P: to a degree and a knot. Its ground speed was looked up, its heading is from memory.

use abeam::flight::air::Air;
use abeam::flight::arrival::RunIn;
use abeam::flight::wind::WindVector;
use abeam::units::{Airspeed, Angle, Length, Speed};

/// Course, airspeed, wind from, wind speed; ground speed and heading as answered. The unit of speed is
/// the handbook's own: none of it depends on it.
const EXAMPLES: [(&str, [f64; 6]); 4] = [
    (
        "Air Crew Trainees, wind from 045 at 30",
        [304.0, 150.0, 45.0, 30.0, 153.0, 315.0],
    ),
    (
        "Air Crew Trainees, wind from 033 at 47",
        [351.0, 269.0, 33.0, 47.0, 232.0, 358.0],
    ),
    (
        "Air Crew Trainees, wind from 165 at 42",
        [27.0, 160.0, 165.0, 42.0, 189.0, 37.0],
    ),
    (
        "Pilot's Handbook, wind from 045 at 40",
        [90.0, 120.0, 45.0, 40.0, 88.0, 76.0],
    ),
];

#[test]
fn handbook_examples() {
    let air = Air::new(
        Length::ZERO,
        Air::standard_temperature(Length::ZERO),
        Air::STANDARD_QNH,
    );
    for (name, [course, airspeed, from, wind, ground_speed, heading]) in EXAMPLES {
        let track = Angle::from_deg(course);
        let arrival = RunIn {
            distance: Length::from_m(5_000.0),
            speed: Airspeed::True(Speed::from_kt(airspeed)),
            change: None,
            height: Length::from_m(150.0),
            wind: WindVector::new(Angle::from_deg(from), Speed::from_kt(wind), track),
        }
        .arrive(&air, Length::from_m(230.0))
        .expect(name);
        let ours = arrival.there;
        assert!(
            (ours.ground_speed.kt() - ground_speed).abs() < 1.0,
            "{name}: {ours:?}"
        );
        let our_heading = course - ours.drift.deg();
        assert!((our_heading - heading).abs() < 1.0, "{name}: {our_heading}");
        let time = 5_000.0 / ours.ground_speed.mps();
        assert!((arrival.takes.s() - time).abs() < 1e-6, "{name}");
    }
}
