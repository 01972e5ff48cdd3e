//! Every figure flown by its name alone, at the speeds displays fly: it is flown, above the ground, and comes out as its
//! name says. The aircraft are plausible ones (common practice, no published source).

mod alone;

use alone::{Flown, JET, PISTON, flown};

/// A jet trainer.
const TRAINER: &str = "roll_rate = 180\nclimb_power = \"60 m/s\"\ninduced = \"3 m/s\"\nmost_g = 5\nstall = \"60 kt cas\"";

/// A figure by itself by each aircraft that would fly it, begun at 1,500 ft at each of its speeds in knots.
fn by(crafts: &[(&str, &[i32])], figure: &str) -> Vec<(i32, Flown)> {
    let each = crafts.iter().flat_map(|(craft, speeds)| {
        speeds.iter().map(|kt| {
            let legs = format!("{{ fly = \"{figure}\" }}");
            (*kt, flown(craft, &format!("{kt} kt"), "1500 ft", &legs))
        })
    });
    each.collect()
}

const FAST: &[i32] = &[200, 250, 300, 350, 400];
const TRAINERS: &[i32] = &[180, 250, 300, 350];
const PISTONS: &[i32] = &[180, 200];

#[test]
fn a_loop_closes_at_the_height_it_began_at() {
    for (kt, flown) in by(&[(JET, FAST), (TRAINER, TRAINERS)], "loop") {
        assert!(flown.goes_on(), "{kt}");
        assert!(
            (flown.ends_at() - 1_500.0).abs() < 20.0,
            "{kt}: {} ft",
            flown.ends_at()
        );
    }
    // A piston's power does not keep its energy at 4 g: it closes a little higher, where there is less of it.
    for (kt, flown) in by(&[(PISTON, PISTONS)], "loop") {
        assert!(flown.goes_on(), "{kt}");
        assert!(
            (flown.ends_at() - 1_500.0).abs() < 150.0,
            "{kt}: {} ft",
            flown.ends_at()
        );
    }
}

/// However fast it is: the path still climbs after the roll, or falls, and is let go or pulled to level.
#[test]
fn a_loaded_roll_goes_on_level_and_upright() {
    let fast = by(
        &[
            (JET, FAST),
            (TRAINER, TRAINERS),
            (PISTON, &[120, 150, 180, 200]),
        ],
        "loaded roll",
    );
    for (kt, flown) in fast {
        // Round with the lift it is carried a little aside.
        let headed = flown.ends_headed();
        assert!(
            headed.abs() < 10.0 && flown.is_level(),
            "{kt}: headed {headed}"
        );
        let end = flown.ends_at();
        assert!((1_000.0..4_000.0).contains(&end), "{kt}: {end} ft");
    }
}

/// The other heading ends it, whatever its bank, its climb and its speed; then it is above where it began.
#[test]
fn a_wing_over_leads_back() {
    let over = |more: &str| format!("{{ fly = \"wing-over\", in = \"10 m\"{more} }}");
    for (craft, speeds) in [
        (JET, FAST),
        (TRAINER, TRAINERS),
        (PISTON, &[150, 180, 200][..]),
    ] {
        for kt in speeds {
            let flown = flown(craft, &format!("{kt} kt"), "1500 ft", &over(""));
            assert!(flown.is_headed_back(), "{kt}: {}", flown.ends_headed());
            let end = flown.ends_at();
            assert!((1_500.0..3_000.0).contains(&end), "{kt}: {end} ft");
        }
    }
    for bank in [45, 60, 75, 90] {
        for up in [20, 40, 55] {
            let legs = over(&format!(
                ", g = 3, bank = \"{bank} deg\", up = \"{up} deg\""
            ));
            for (craft, speed) in [(JET, "350 kt"), (TRAINER, "250 kt")] {
                let flown = flown(craft, speed, "6000 ft", &legs);
                assert!(
                    flown.is_headed_back(),
                    "{bank} {up}: {}",
                    flown.ends_headed()
                );
            }
        }
    }
}

/// At any speed, for the turn aside is as much gentler as leads back; and never towards the crowd.
#[test]
fn a_teardrop_leads_back_onto_the_line_at_any_speed() {
    for (kt, flown) in by(
        &[(JET, FAST), (TRAINER, TRAINERS), (PISTON, PISTONS)],
        "teardrop",
    ) {
        assert!(flown.is_headed_back(), "{kt}");
        let off_line = flown.path.iter().map(|sample| sample.y.m() - 230.0);
        assert!(off_line.fold(f64::MAX, f64::min) > -1.0, "{kt}");
        let end = flown.path.last().expect("a path");
        assert!((end.y.m() - 230.0).abs() < 5.0, "{kt}: {}", end.y);
    }
}

#[test]
fn a_tight_powered_loop_is_flown_out_of() {
    for (kt, flown) in by(
        &[(JET, FAST), (TRAINER, &[250, 300, 350])],
        "tight powered loop",
    ) {
        assert!(flown.goes_on(), "{kt}");
        assert!(flown.ends_at() > 1_000.0, "{kt}: {} ft", flown.ends_at());
    }
}

#[test]
fn the_rest_that_need_no_height_or_speed_of_their_own_are_flown() {
    for figure in [
        "level 360",
        "slow roll",
        "four-point roll",
        "loaded roll",
        "90-270",
        "half loop and roll out",
    ] {
        let flown = by(
            &[(JET, FAST), (TRAINER, TRAINERS), (PISTON, PISTONS)],
            figure,
        );
        assert!(flown.iter().all(|(_, flown)| flown.is_level()), "{figure}");
    }
    for figure in ["vertical roll", "tail slide"] {
        let flown = by(&[(TRAINER, &[250, 300])], figure);
        assert!(flown.iter().all(|(_, flown)| flown.is_level()), "{figure}");
    }
}
