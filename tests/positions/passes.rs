//! From latitude and longitude to the site, and when an aircraft was abeam.

use abeam::position::{Fix, Ground, LONGEST_GAP, Spot, passes};
use abeam::show::Side;
use abeam::units::{Angle, Length, Span};
use jiff::Timestamp;
use proptest::prelude::*;

use crate::{as_gpx, flown, log, place};

#[test]
fn geodesics_are_those_of_geographiclib_to_a_millimetre() {
    // PyPI's geographiclib 2.1 on 1,000 pairs of places: tests/reference/geodesics.py.
    let mut pairs = 0;
    for line in include_str!("../reference/geodesics.csv").lines().skip(1) {
        let v: Vec<f64> = line.split(',').map(|n| n.parse().expect(line)).collect();
        let (from, to) = (place(v[0], v[1]), place(v[2], v[3]));
        // Any bearing will do; this one differs from pair to pair.
        let bearing = v[0] * 7.0;
        let ground = Ground::new(from, Angle::from_deg(bearing));
        let spot = ground.spot(to);
        let off_line = (v[5] - bearing).to_radians();
        assert!((spot.from_centre().m() - v[4]).abs() < 1e-3, "{line}");
        assert!(
            (spot.along.m() - v[4] * off_line.cos()).abs() < 1e-3,
            "{line}"
        );
        assert!(
            (spot.across.m() + v[4] * off_line.sin()).abs() < 1e-3,
            "{line}"
        );
        let back = ground.place(spot).expect(line);
        let missed = Ground::new(to, Angle::ZERO).spot(back).from_centre();
        assert!(missed.m() < 1e-3, "{line}: back to {missed} from there");
        pairs += 1;
    }
    assert_eq!(pairs, 1_000);
}

#[test]
fn the_site_lies_as_the_document_says() {
    // A crowd that looks north has east on its right.
    let centre = place(61.0, 9.5);
    let ground = Ground::new(centre, Angle::from_deg(90.0));
    let east = ground.spot(place(61.0, 9.51));
    assert!(
        east.along.m() > 500.0 && east.across.abs().m() < 1.0,
        "{east:?}"
    );
    let north = ground.spot(place(61.01, 9.5));
    assert!(
        north.across.m() > 1_000.0 && north.along.abs().m() < 1e-6,
        "{north:?}"
    );
}

fn seconds_into(at: Timestamp) -> f64 {
    let starts: Timestamp = "2026-07-05T17:40:00Z".parse().expect("an instant");
    at.duration_since(starts).as_secs_f64()
}

#[test]
fn abeam_is_found_to_ten_milliseconds_where_speed_and_path_change() {
    let ground = Ground::new(place(61.0, 9.5), Angle::from_deg(64.0));
    // Slowing from 120 m/s by 3 m/s a second; and a level turn of 4 g around a point 800 m out. Both have
    // closed forms.
    let slowing = |t: f64| (-1_500.0 + 120.0 * t - 1.5 * t * t, 230.0);
    let radius = 150.0_f64.powi(2) / (9.80665 * 15.0_f64.sqrt());
    let rate = 150.0 / radius;
    let turning = |t: f64| {
        let angle = rate * (t - 10.137);
        (radius * angle.sin(), 800.0 - radius * angle.cos())
    };
    let abeam_slowing = (120.0 - (120.0_f64.powi(2) - 4.0 * 1.5 * 1_500.0).sqrt()) / 3.0;
    let fixes = flown(&ground, 20.0, 1.0, slowing);
    let found = &log(&as_gpx(&fixes)).tracks[0].fixes;
    let pass = &passes(&ground, found, LONGEST_GAP).passes[0];
    assert!(
        (seconds_into(pass.abeam) - abeam_slowing).abs() < 0.010,
        "{pass:?}"
    );
    assert!(
        (pass.ground_speed.mps() - (120.0 - 3.0 * abeam_slowing)).abs() < 0.2,
        "{pass:?}"
    );
    assert!((pass.distance.m() - 230.0).abs() < 0.1 && pass.in_gap.is_none());

    let fixes = flown(&ground, 20.0, 1.0, turning);
    let found = passes(&ground, &fixes, LONGEST_GAP);
    let near = found
        .passes
        .iter()
        .min_by(|a, b| a.distance.m().total_cmp(&b.distance.m()))
        .expect("a pass");
    assert!(
        (seconds_into(near.abeam) - 10.137).abs() < 0.010,
        "{near:?}"
    );
    assert!((near.ground_speed.mps() - 150.0).abs() < 1.0, "{near:?}");
    assert!(
        (near.nearest_to_line.distance.m() - (800.0 - radius)).abs() < 0.5,
        "{near:?}"
    );
    assert!(
        (near.nearest_to_centre.distance.m() - (800.0 - radius)).abs() < 0.5,
        "{near:?}"
    );
    assert!((seconds_into(near.nearest_to_centre.at) - 10.137).abs() < 0.05);
}

#[test]
fn a_slanting_pass_is_nearest_where_geometry_says() {
    let ground = Ground::new(place(-35.0, 149.0), Angle::from_deg(200.0));
    // From the right, closing in at 10 degrees: abeam at 300 m.
    let (along, across) = (
        -100.0 * 10_f64.to_radians().cos(),
        -100.0 * 10_f64.to_radians().sin(),
    );
    let fixes = flown(&ground, 40.0, 1.0, |t| {
        (along * (t - 20.4), 300.0 + across * (t - 20.4))
    });
    let pass = &passes(&ground, &fixes, LONGEST_GAP).passes[0];
    assert_eq!(pass.from, Side::Right);
    let nearest = 300.0 * 10_f64.to_radians().cos();
    assert!(
        (pass.nearest_to_centre.distance.m() - nearest).abs() < 0.01,
        "{pass:?}"
    );
    let at_the_end = 300.0 - 1_000.0 * 10_f64.to_radians().tan();
    assert!(
        pass.nearest_to_line.distance.m() - at_the_end < 20.0,
        "{pass:?}"
    );
    assert!(
        pass.nearest_to_line.distance.m() >= at_the_end - 0.01,
        "{pass:?}"
    );
}

#[test]
fn gaps_are_named_and_a_pass_in_one_says_so() {
    let ground = Ground::new(place(61.0, 9.5), Angle::from_deg(64.0));
    let mut fixes = flown(&ground, 40.0, 1.0, |t| (100.0 * t - 2_050.0, 230.0));
    fixes.drain(18..27);
    let found = passes(&ground, &fixes, LONGEST_GAP);
    assert_eq!(found.gaps.len(), 1);
    let gap = found.gaps[0];
    assert_eq!((seconds_into(gap.from), seconds_into(gap.to)), (17.0, 27.0));
    assert_eq!(found.passes[0].in_gap, Some(Span::from_s(10.0)));
    assert!((seconds_into(found.passes[0].abeam) - 20.5).abs() < 0.01);
    let wide = passes(&ground, &fixes, Span::from_s(15.0));
    assert!(wide.gaps.is_empty() && wide.passes[0].in_gap.is_none());
    // What stands at centre passes nothing.
    let standing = flown(&ground, 40.0, 1.0, |t| (0.4 * (t * 2.3).sin(), 20.0));
    assert!(passes(&ground, &standing, LONGEST_GAP).passes.is_empty());
}

proptest! {
    #[test]
    fn any_fixes_have_their_passes_looked_for(
        spots in proptest::collection::vec((0i64..100_000, -5e3..5e3, -5e3..5e3), 0..30)
    ) {
        let ground = Ground::new(place(61.0, 9.5), Angle::from_deg(64.0));
        let mut spots = spots;
        spots.sort_by_key(|spot| spot.0);
        spots.dedup_by_key(|spot| spot.0);
        let fixes: Vec<Fix> = spots.iter().map(|&(ms, x, y)| {
            let spot = Spot { along: Length::from_m(x), across: Length::from_m(y) };
            let at = Timestamp::from_millisecond(ms).expect("an instant");
            Fix::new(at, ground.place(spot).expect("a place"))
        }).collect();
        let found = passes(&ground, &fixes, LONGEST_GAP);
        for pass in &found.passes {
            prop_assert!(pass.nearest_to_centre.distance <= pass.distance.abs() + Length::from_m(1e-3));
        }
    }
}
