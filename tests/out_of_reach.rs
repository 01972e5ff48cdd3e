//! A leg whose end the aircraft does not come to is an error that says how near it comes, and what to write instead.

mod alone;

use abeam::show::Severity;
use abeam::show::load::read;
use alone::{JET, PISTON, document, fly_with};

/// The one error of `legs` flown after a run, and its help.
fn error(craft: &str, speed: &str, height: &str, legs: &str) -> (String, String) {
    let flown = fly_with(craft, speed, height, legs);
    let mut errors = flown
        .faults
        .iter()
        .filter(|fault| fault.severity == Severity::Error);
    let (Some(error), None) = (errors.next(), errors.next()) else {
        panic!("{legs}: {:?}", flown.faults)
    };
    (error.message.clone(), error.help.clone())
}

/// The top of a coast is h + V² sin² / 2g, and its least speed V cos (ballistics).
#[test]
fn a_coast_says_how_high_and_how_slow_it_gets() {
    let up = "{ pull = \"to 60 deg\", g = 3, power = 0 }";
    let (message, help) = error(
        PISTON,
        "200 kt tas",
        "2000 ft",
        &format!("{up}, {{ coast = \"to height 6000 ft\" }}"),
    );
    let coasted = fly_with(
        PISTON,
        "200 kt tas",
        "2000 ft",
        &format!("{up}, {{ coast = \"to top\" }}"),
    );
    let top = coasted.ends_at();
    let told: f64 = message
        .split("no higher than ")
        .nth(1)
        .and_then(|s| s.trim_end_matches(" ft").parse().ok())
        .expect("a height");
    assert!((told - top).abs() < 1.0, "{message}: {top}");
    assert!(help.contains("to top"), "{help}");
    let (message, _) = error(
        PISTON,
        "200 kt tas",
        "2000 ft",
        &format!("{up}, {{ coast = \"to speed 20 kt tas\" }}"),
    );
    assert!(message.contains("coasts no slower than "), "{message}");
    // What it does come to is flown: on the way up, and on the way down.
    for until in [
        "to speed 150 kt tas",
        "to height 1000 ft",
        "to height 2900 ft",
    ] {
        let legs = format!("{up}, {{ coast = \"{until}\" }}");
        let flown = fly_with(PISTON, "200 kt tas", "2000 ft", &legs);
        assert!(flown.faults.is_empty(), "{until}: {:?}", flown.faults);
    }
}

#[test]
fn a_climb_that_it_is_past_is_not_gone_all_the_way_round_for() {
    for (before, legs) in [
        (
            "pull = \"to 20 deg\", g = 3",
            "{ pull = \"to 10 deg\", g = 3 }",
        ),
        (
            "push = \"to -20 deg\", g = 0",
            "{ push = \"to -10 deg\", g = -1 }",
        ),
    ] {
        let (message, help) = error(
            PISTON,
            "200 kt",
            "3000 ft",
            &format!("{{ {before} }}, {legs}"),
        );
        assert!(
            message.contains("that it is past: it begins at"),
            "{message}"
        );
        assert!(message.contains("20 degrees"), "{message}");
        assert!(help.contains("push instead of pulling"), "{help}");
    }
    // Over the top to a line down, and from a dive up, are flown as ever.
    for legs in [
        "{ pull = \"to -45 deg\", g = 4 }",
        "{ push = \"to -20 deg\", g = 0 }, { pull = \"to 10 deg\", g = 3 }",
        "{ push = \"to -20 deg\", g = 0 }, { pull = \"to -10 deg\", g = 3 }",
    ] {
        let flown = fly_with(PISTON, "220 kt", "3000 ft", legs);
        assert!(flown.faults.is_empty(), "{legs}: {:?}", flown.faults);
    }
}

#[test]
fn a_run_to_a_height_or_a_speed_that_lies_the_other_way_says_from_where() {
    for (legs, help_says) in [
        (
            "{ run = \"to height 1000 ft\", pitch = \"10 deg\" }",
            "a pitch towards",
        ),
        (
            "{ run = \"to speed 120 kt cas\", speed = \"energy\", power = 1 }",
            "power = -0.5",
        ),
    ] {
        let (message, help) = error(PISTON, "200 kt", "3000 ft", legs);
        assert!(
            message
                .contains("never gets to its end: from 3000 ft and 200 kt it goes the other way"),
            "{message}"
        );
        assert!(help.contains(help_says), "{help}");
    }
}

#[test]
fn what_settles_before_its_end_says_where_it_is_given_up() {
    // At 200 kt all its power is gone.
    let table = "climb_power = [{ speed = \"100 kt cas\", power = \"20 m/s\" }, \
                 { speed = \"200 kt cas\", power = \"0 m/s\" }]";
    let legs = "{ run = \"to speed 250 kt cas\", speed = \"energy\" }";
    let (message, help) = error(table, "120 kt", "3000 ft", legs);
    assert!(
        message.contains("never gets to its end: it is given up at 3000 ft and 200 kt"),
        "{message}"
    );
    assert!(help.contains("an end before that"), "{help}");
    // A push of less than straight flight needs settles into a dive and the ground comes first.
    let (message, help) = error(
        JET,
        "200 kt",
        "3000 ft",
        "{ push = \"to -80 deg\", g = 0.5 }",
    );
    assert!(message.contains("goes below the site"), "{message}");
    assert!(help.contains("push harder"), "{help}");
}

/// Advice that is followed leads on.
#[test]
fn what_is_said_to_be_written_can_be_flown() {
    let up = "{ pull = \"to 30 deg\", g = 3 }";
    let (_, help) = error(
        JET,
        "300 kt",
        "3000 ft",
        &format!("{up}, {{ turn = \"90 deg\", g = 3 }}"),
    );
    let out = "{ pull = \"out\", g = 3 }";
    assert!(help.ends_with(out), "{help}");
    let led = fly_with(
        JET,
        "300 kt",
        "3000 ft",
        &format!("{up}, {out}, {{ turn = \"90 deg\", g = 3 }}"),
    );
    assert!(led.faults.is_empty(), "{:?}", led.faults);
    for (pitch, lead) in [
        ("30 deg", "{ pull = \"to 30 deg\", g = 3 }"),
        ("-30 deg", "{ push = \"to -30 deg\", g = 0 }"),
    ] {
        let run = format!("{{ run = \"for 5 s\", pitch = \"{pitch}\" }}");
        let (_, help) = error(JET, "300 kt", "6000 ft", &run);
        assert!(help.ends_with(lead), "{help}");
        let led = fly_with(JET, "300 kt", "6000 ft", &format!("{lead}, {run}"));
        assert!(led.faults.is_empty(), "{:?}", led.faults);
    }
    // A figure takes the speed it changes to as it takes one it holds.
    let pass = |more: &str| format!("{{ fly = \"level 360\", speed = \"250 kt cas\"{more} }}");
    let jump = fly_with(JET, "300 kt", "3000 ft", &pass(""));
    assert!(
        jump.faults[0]
            .help
            .contains("write speed = \"250 kt cas\" and gain = \"3 kt/s\""),
        "{:?}",
        jump.faults
    );
    assert!(
        fly_with(JET, "300 kt", "3000 ft", &pass(", gain = \"3 kt/s\""))
            .faults
            .is_empty()
    );
}

/// At the top of a round loop V² / gR − 1 is left to pull: too slow, that is below nothing.
#[test]
fn a_loop_too_wide_for_its_speed_is_to_be_flown_faster_or_narrower() {
    let craft = format!("{}\nleast_g = 0", PISTON.replace("least_g = -5", ""));
    let (message, help) = error(
        &craft,
        "220 kt",
        "1000 ft",
        "{ fly = \"loop\", radius = \"300 m\" }",
    );
    assert!(message.contains("is less than its 0 g"), "{message}");
    assert!(
        help.starts_with("begin it faster, or write a smaller radius"),
        "{help}"
    );
    for (speed, radius) in [("290 kt", "300 m"), ("220 kt", "200 m")] {
        let led = fly_with(
            &craft,
            speed,
            "1000 ft",
            &format!("{{ fly = \"loop\", radius = \"{radius}\" }}"),
        );
        assert!(led.faults.is_empty(), "{speed} {radius}: {:?}", led.faults);
    }
}

#[test]
fn no_leg_ends_at_a_ground_speed() {
    for leg in [
        "{ run = \"to speed 120 kt ground\" }",
        "{ coast = \"to speed 60 kt ground\" }",
        "{ pivot = \"180 deg\", rate = 90, sink = \"40 m/s\", out = \"120 kt ground\" }",
    ] {
        let (_, faults) = read("show.toml", &document(leg));
        let [fault] = &faults[..] else {
            panic!("{leg}: {faults:?}")
        };
        assert_eq!(fault.message, "a leg that ends at a ground speed");
        assert!(fault.help.contains("120 kt cas"));
    }
}
