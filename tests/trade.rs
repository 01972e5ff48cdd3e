//! What people of the trade know figures to come out at, the model gives for plausible aircraft.
//!
//! All of it common practice, no published source: heights, speeds and loads as they are talked of at
//! displays. The aircraft are made up, with powers and drags a jet and a piston aircraft could have.

use abeam::flight::{FlownFigure, PathSample, entries, fly};
use abeam::show::Severity;
use abeam::show::load::read;
use abeam::units::quantity::FOOT;

/// A nimble jet with more thrust than weight when light.
const JET: &str = r#"
roll_rate = 180
climb_power = "90 m/s"
induced = "3 m/s"
most_thrust = 0.8
most_g = 9
least_g = -3
"#;

/// An aerobatic piston aircraft.
const PISTON: &str = r#"
roll_rate = 360
climb_power = "12 m/s"
induced = "2.5 m/s"
most_g = 8
least_g = -5
"#;

/// A figure from the left at sea level on a standard day without wind.
fn flown(aircraft: &str, speed: &str, height: &str, legs: &str) -> FlownFigure {
    let text = format!(
        "[show]\ntitle = \"Lake\"\n[profile.high]\norder = [\"figure\"]\n\
         [site]\nelevation = \"0 m\"\nline_bearing = 64\nline_distance = \"230 m\"\n\
         [day]\nqnh = \"1013.25 hPa\"\ntemperature = \"15 C\"\n[aircraft.solo]\n{aircraft}\n\
         [[figure]]\nid = \"figure\"\naircraft = \"solo\"\nfrom = \"left\"\nlegs = [\n  \
         {{ hold = \"4 km\", expect = \"60 s\", spread = \"10 s\" }},\n  \
         {{ run = \"for 2 km\", speed = \"{speed}\", height = \"{height}\" }},\n{legs}\n]\n"
    );
    let (show, faults) = read("figure.toml", &text);
    let show = show.unwrap_or_else(|| panic!("{faults:#?}\n{text}"));
    let mut flight = fly(&show, &show.day, &entries(&show, &show.profile));
    let error = flight.faults.iter().find(|f| f.severity == Severity::Error);
    assert!(error.is_none(), "{error:#?}\n{text}");
    flight.figures.remove(0)
}

fn feet(sample: &PathSample) -> f64 {
    sample.z.m() / FOOT
}

fn end(figure: &FlownFigure) -> PathSample {
    *figure.path().last().expect("a path")
}

#[test]
fn a_tight_powered_loop_begun_at_1500_ft_tops_out_near_3000_ft() {
    let half = |legs| flown(JET, "250 kt cas", "1500 ft", legs);
    let top = end(&half("{ pull = \"180 deg\", g = 6 },"));
    assert!((2_800.0..3_200.0).contains(&feet(&top)), "{}", feet(&top));
    // And the rest of it, eased over the top, comes back no lower than it began.
    let whole = half("{ pull = \"180 deg\", g = 6 },\n{ pull = \"180 deg\", g = 6 },");
    assert!(feet(&end(&whole)) > 1_500.0, "{}", feet(&end(&whole)));
    let takes = (end(&whole).after - end(&half("{ run = \"for 1 m\" },")).after).s();
    assert!((8.0..20.0).contains(&takes), "{takes}");
}

#[test]
fn a_split_s_entered_at_4000_ft_and_200_kt_recovers_above_the_ground() {
    for (aircraft, g) in [(JET, 4), (JET, 5), (PISTON, 4)] {
        let legs = format!(
            "{{ roll = \"180 deg\", power = 0 }},\n{{ pull = \"to level\", g = {g}, power = 0 }},"
        );
        let figure = flown(aircraft, "200 kt cas", "4000 ft", &legs);
        let out = end(&figure);
        assert!((800.0..3_000.0).contains(&feet(&out)), "{}", feet(&out));
        // It goes back the way it came.
        assert!(figure.points.last().expect("an end").along.mps() < -80.0);
    }
}

#[test]
fn over_the_top_it_is_slower_than_100_kt_after_a_5_g_vertical_pull() {
    let figure = flown(
        PISTON,
        "200 kt cas",
        "1000 ft",
        "{ pull = \"to vertical\", g = 5 },\n{ pull = \"to level\", g = 2.5 },",
    );
    let top = end(&figure);
    assert!(
        (40.0..100.0).contains(&top.true_airspeed.kt()),
        "{}",
        top.true_airspeed.kt()
    );
    assert!((1_600.0..2_600.0).contains(&feet(&top)), "{}", feet(&top));
}

#[test]
fn a_slow_pass_at_75_kt_takes_26_seconds_a_kilometre() {
    let figure = flown(
        PISTON,
        "75 kt cas",
        "200 ft",
        "{ run = \"to centre\", pass = true },\n{ run = \"for 1 km\" },",
    );
    let [.., abeam, out] = &figure.points[..] else {
        panic!("points")
    };
    assert!(
        (abeam.along.kt() - 75.0).abs() < 0.5,
        "{}",
        abeam.along.kt()
    );
    assert!(((out.after - abeam.after).s() - 25.9).abs() < 0.2);
}

#[test]
fn a_maximum_speed_pass_at_mach_0_94_is_a_little_over_600_kt() {
    let figure = flown(
        JET,
        "0.94 mach",
        "100 ft",
        "{ run = \"to centre\", pass = true },",
    );
    let along = end(&figure).ground_speed.kt();
    assert!((600.0..640.0).contains(&along), "{along}");
    // It is heard only after it has gone by.
    assert!(figure.heard_after[0].s() > 0.6);
}

#[test]
fn in_post_stall_figures_the_nose_is_more_than_60_degrees_off_the_path() {
    // A somersault begun at 160 kt: the nose goes once round while the path hardly bends.
    let figure = flown(
        JET,
        "160 kt cas",
        "2500 ft",
        "{ pivot = \"360 deg\", rate = 100, sink = \"45 m/s\", thrust = 0.9 },",
    );
    let off = figure
        .path()
        .iter()
        .map(|sample| sample.nose_off_path.deg());
    let most = off.fold(0.0, f64::max);
    assert!((60.0..=180.0).contains(&most), "{most}");
    let out = end(&figure);
    assert!(
        out.true_airspeed.kt() < 120.0 && feet(&out) > 2_000.0,
        "{out:?}"
    );
    // A tail slide: the nose straight up, the path straight down.
    let slide = flown(
        JET,
        "250 kt cas",
        "1000 ft",
        "{ pull = \"to vertical\", g = 5 },\n{ run = \"to speed 90 kt cas\", pitch = \"90 deg\", power = 0 },\n\
         { coast = \"to top\" },\n{ coast = \"for 1.5 s\" },",
    );
    let back = end(&slide);
    assert!(
        back.nose_off_path.deg() > 170.0 && back.climb.deg() < -80.0,
        "{back:?}"
    );
}

#[test]
fn a_push_back_to_level_at_minus_one_and_a_half_g_is_plausible() {
    let figure = |push: &str| {
        let legs = format!(
            "{{ pull = \"to 45 deg\", g = 4 }},\n{{ run = \"for 3 s\", pitch = \"45 deg\" }},\n{push}"
        );
        end(&flown(JET, "300 kt cas", "500 ft", &legs))
    };
    let climbing = figure("");
    let level = figure("{ push = \"to level\", g = -1.5 },");
    assert!(level.climb.deg().abs() < 0.1 && (climbing.climb.deg() - 45.0).abs() < 0.1);
    // 45 degrees at 130 m/s and 2.2 g across the path take some 4 to 5 s.
    let takes = (level.after - climbing.after).s();
    assert!((2.5..6.0).contains(&takes), "{takes}");
    assert!(feet(&level) > feet(&climbing));
}
