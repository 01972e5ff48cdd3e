//! Figures flown by name: what they ask, what the document may say, and what is flown.

mod alone;

use abeam::show::load::read;
use abeam::show::named;
use abeam::show::report::{Look, report};
use abeam::show::{Leg, Manner, Motion, PullBy, Show, Source};
use alone::{JET, PISTON, document, flown, fly_with};

fn show(legs: &str) -> Show {
    let (show, faults) = read("show.toml", &document(legs));
    show.unwrap_or_else(|| panic!("{legs}: {faults:#?}"))
}

fn legs(text: &str) -> Vec<Leg> {
    match show(text).figures.remove(0).manner {
        Manner::Flown(legs) => legs,
        other => panic!("{other:?}"),
    }
}

fn shown(legs: &str) -> String {
    let text = document(legs);
    let (_, faults) = read("show.toml", &text);
    let source = Source {
        name: "show.toml".into(),
        text: text.into(),
    };
    report(&source, &faults, Look::Plain, 90)
}

#[test]
fn a_name_stands_for_its_legs_between_others() {
    let read = legs("{ run = \"for 1 nmi\" }, { fly = \"loop\", g = 5 }, { run = \"to centre\" }");
    assert_eq!(read.len(), 6);
    let text =
        document("{ run = \"for 1 nmi\" }, { fly = \"loop\", g = 5 }, { run = \"to centre\" }");
    let hard = |leg: &Leg| matches!(leg.motion, Motion::Pull { by: PullBy::Load(load), .. } if load == 5.0);
    assert!(hard(&read[1]) && hard(&read[4]) && !hard(&read[2]));
    for leg in &read[1..5] {
        assert_eq!(&text[leg.at.clone()], "{ fly = \"loop\", g = 5 }");
    }
    let parts: Vec<_> = read.iter().map(|leg| leg.part.as_deref()).collect();
    assert_eq!(parts[2], Some("loop, second quarter"));
    assert_eq!(parts[5], None);
}

#[test]
fn every_figure_can_be_written_with_all_that_it_lists() {
    for figure in named::all() {
        let parameters: Vec<String> = figure
            .parameters()
            .into_iter()
            .filter(|parameter| parameter.contains(" = "))
            .collect();
        let text = format!("{{ fly = \"{}\", {} }}", figure.name, parameters.join(", "));
        let text = document(&text.replace(",  }", " }"))
            .replace("[aircraft.solo]", "[aircraft.one]\n[aircraft.two]")
            .replace("id = \"a\"", "id = \"a\"\naircraft = [\"one\", \"two\"]");
        let (show, faults) = read("show.toml", &text);
        assert!(show.is_some(), "{text}: {faults:#?}");
    }
}

#[test]
fn what_is_no_figure_or_no_parameter_says_what_to_write() {
    let told = [
        "{ fly = \"lop\" }",
        "{ fly = \"pirouette on ice\" }",
        "{ fly = 3 }",
        "{ fly = \"loop\", radus = \"150 m\" }",
        "{ fly = \"loop\", bank = \"60 deg\" }",
        "{ fly = \"loop\", g = 5, radius = \"150 m\" }",
        "{ fly = \"loop\", g = \"5\" }",
        "{ fly = \"level 360\", gain = \"3 kt/s\" }",
        "{ fly = \"level 360\", towards = \"north\" }",
        "{ fly = \"slow pass\", speed = \"0 kt\" }",
        "{ fly = \"slow pass\", speed = \"75 m\" }",
        "{ fly = \"tail slide\", entered = \"above\" }",
        "{ fly = \"loop\", pull = \"90 deg\" }",
        "{ fly = \"loop\", needs = { height = \"4000 ft\" } }",
    ]
    .map(shown);
    insta::assert_snapshot!(told.join("\n"));
}

#[test]
fn loops_end_as_they_began_and_half_loops_higher_and_headed_back() {
    let whole = flown(PISTON, "200 kt", "500 ft", "{ fly = \"loop\" }");
    assert!(whole.goes_on() && whole.highest() > 1500.0 && whole.speed_at_top() < 120.0);
    let round = flown(
        PISTON,
        "200 kt",
        "500 ft",
        "{ fly = \"loop\", radius = \"180 m\" }",
    );
    let diameter = (round.highest() - 500.0) * 0.3048;
    assert!((diameter - 360.0).abs() < 2.0, "{diameter}");
    assert!((round.ends_at() - 500.0).abs() < 5.0 && round.goes_on());
    let half = flown(
        PISTON,
        "200 kt",
        "500 ft",
        "{ fly = \"half loop and roll out\" }",
    );
    assert!(half.is_headed_back() && (half.ends_at() - half.highest()).abs() < 1.0);
    assert!(half.ends_at() > 1500.0);
}

#[test]
fn a_split_s_from_4000_ft_at_200_kt_recovers_above_the_ground() {
    // Common practice, no published source.
    for craft in [PISTON, JET] {
        let down = flown(craft, "200 kt", "4000 ft", "{ fly = \"split-S\" }");
        assert!(down.is_headed_back() && down.ends_at() < 2000.0);
    }
}

/// A run that has all but come to its height leads a little up still, so the split-S begins past the level it ends at.
#[test]
fn a_split_s_begun_still_climbing_a_little_goes_all_the_way_round() {
    let level = flown(JET, "300 kt", "6500 ft", "{ fly = \"split-S\", g = 5 }");
    let climbing = "{ run = \"for 1.25 nmi\", height = \"6500 ft\" }, { fly = \"split-S\", g = 5 }";
    let climbing = flown(JET, "300 kt", "6000 ft", climbing);
    for flown in [&level, &climbing] {
        let end = flown.path.last().expect("a path");
        assert!(end.z.m() / 0.3048 < 4_500.0, "{} ft", end.z.m() / 0.3048);
        assert!(end.climb.deg().abs() < 0.1, "{}", end.climb.deg());
    }
}

/// A leg may end at the very height it comes to on its way.
#[test]
fn a_run_to_the_height_it_climbs_to_ends_there() {
    let run = "{ run = \"to height 3000 ft\", height = \"3000 ft\" }";
    let flown = flown(PISTON, "200 kt", "2000 ft", run);
    let end = flown.path.last().expect("a path");
    assert!((end.z.m() / 0.3048 - 3_000.0).abs() < 0.2, "{}", end.z.m());
}

/// A speed that the aircraft only gets further away from is never come to, and nothing else is to blame.
#[test]
fn a_speed_that_lies_the_other_way_is_said_to_be_out_of_reach() {
    let faster = "{ run = \"to speed 200 kt cas\", speed = \"energy\", power = 1 }";
    let flown = fly_with(JET, "300 kt", "3000 ft", faster);
    let told: Vec<&str> = flown
        .faults
        .iter()
        .map(|fault| fault.message.as_str())
        .collect();
    assert!(
        told.iter()
            .any(|told| told.contains("never gets to its end")),
        "{told:?}"
    );
}

#[test]
fn the_gate_of_a_climb_to_a_split_s_is_asked_for() {
    let legs = |gate| {
        format!("{{ fly = \"climb to split-S\", climb_power = -0.2, gate_speed = \"{gate}\" }}")
    };
    let made = flown(JET, "320 kt", "500 ft", &legs("200 kt cas"));
    assert!(made.is_headed_back() && made.highest() > 4000.0 && made.lowest() >= 499.0);
    let missed = fly_with(JET, "320 kt", "500 ft", &legs("120 kt cas"));
    let told = missed.faults.iter().any(|fault| {
        fault
            .message
            .contains("begins its climb to split-S, split-S at")
            && fault.message.contains("120 kt")
    });
    assert!(told, "{:#?}", missed.faults);
}

#[test]
fn over_the_top_after_a_vertical_pull_of_5_g_it_is_slower_than_100_kt() {
    // Common practice, no published source.
    for (craft, speed, legs) in [
        (PISTON, "180 kt", "{ fly = \"vertical climb\" }"),
        (JET, "180 kt", "{ fly = \"vertical climb\", power = 0.2 }"),
        (PISTON, "220 kt", "{ fly = \"vertical roll\" }"),
    ] {
        let up = flown(craft, speed, "300 ft", legs);
        assert!(up.speed_at_top() < 100.0 && up.highest() > 2000.0, "{legs}");
        assert!(up.is_headed_back(), "{legs}: {}", up.ends_headed());
        let vertical = up
            .path
            .iter()
            .filter(|sample| sample.climb.deg() > 89.0)
            .count();
        assert!(vertical > 3, "{legs}");
    }
}

#[test]
fn a_tail_slide_stands_goes_back_and_leaves_away_from_the_crowd() {
    for craft in [PISTON, JET] {
        let along = flown(craft, "200 kt", "500 ft", "{ fly = \"tail slide\" }");
        assert!(along.most_off_path() > 179.0 && along.speed_at_top() < 15.0 && along.goes_on());
    }
    let front = flown(
        PISTON,
        "200 kt",
        "1000 ft",
        "{ fly = \"tail slide\", entered = \"front\" }",
    );
    assert!(
        (front.ends_headed() - 90.0).abs() < 5.0,
        "{}",
        front.ends_headed()
    );
    // It is come to headed for the crowd's side: the turn away from it leads in from behind.
    let behind = flown(
        PISTON,
        "200 kt",
        "1000 ft",
        "{ fly = \"tail slide\", entered = \"behind\" }",
    );
    assert!(
        (behind.ends_headed() - 90.0).abs() < 5.0,
        "{}",
        behind.ends_headed()
    );
}

#[test]
fn past_the_stall_the_nose_leaves_the_path_by_more_than_60_degrees() {
    // Common practice, no published source.
    for (speed, height, name, back) in [
        ("250 kt", "1500 ft", "pull past vertical", true),
        ("250 kt", "1500 ft", "post-stall reversal", true),
        ("200 kt", "4000 ft", "pedal turn", false),
        ("200 kt", "1500 ft", "tight powered loop", false),
    ] {
        let flown = flown(JET, speed, height, &format!("{{ fly = \"{name}\" }}"));
        assert!(
            flown.most_off_path() > 60.0,
            "{name}: {}",
            flown.most_off_path()
        );
        let headed = if back {
            flown.is_headed_back()
        } else {
            flown.goes_on()
        };
        assert!(headed, "{name}: {}", flown.ends_headed());
    }
}

#[test]
fn a_tight_powered_loop_from_1500_ft_tops_out_near_3000_ft() {
    // Common practice, no published source.
    let tight = flown(JET, "200 kt", "1500 ft", "{ fly = \"tight powered loop\" }");
    assert!(
        (tight.highest() - 3000.0).abs() < 250.0,
        "{}",
        tight.highest()
    );
    assert!(tight.lowest() >= 1499.0);
}

#[test]
fn repositions_come_back_to_the_line_headed_for_centre() {
    for name in ["90-270", "teardrop", "wing-over"] {
        let legs = format!("{{ run = \"to 0.5 nmi right\" }}, {{ fly = \"{name}\" }}");
        let back = flown(PISTON, "150 kt", "500 ft", &legs);
        assert!(back.is_headed_back(), "{name}: {}", back.ends_headed());
        let last = back.path.last().expect("a path");
        assert!((last.y.m() - 230.0).abs() < 30.0, "{name}: {}", last.y);
    }
}

#[test]
fn passes_cross_centre_as_they_say() {
    // Common practice, no published source: a slow pass at 75 kt, 0.94 Mach a little over 600 kt.
    let slow = flown(
        JET,
        "200 kt",
        "500 ft",
        "{ fly = \"slow pass\", gain = \"3 kt/s\", pull_up = \"250 kt\", power = 0.2 }",
    );
    assert!((slow.abeam().true_airspeed.kt() - 75.0).abs() < 2.0);
    assert!(slow.is_headed_back() && slow.highest() > 2000.0);
    let fast = flown(
        JET,
        "350 kt",
        "500 ft",
        "{ fly = \"maximum-speed pass\", gain = \"20 kt/s\" }",
    );
    let speed = fast.abeam().true_airspeed.kt();
    assert!((600.0..640.0).contains(&speed), "{speed}");
    for name in [
        "belly pass",
        "bay-door pass",
        "memorial pass",
        "knife-edge pass",
    ] {
        let past = flown(
            PISTON,
            "150 kt",
            "500 ft",
            &format!("{{ fly = \"{name}\" }}"),
        );
        assert!(past.goes_on() && past.abeam().x.m().abs() < 1.0, "{name}");
        assert!((past.abeam().z.m() / 0.3048 - 500.0).abs() < 1.0, "{name}");
    }
    let edge = flown(PISTON, "150 kt", "500 ft", "{ fly = \"knife-edge pass\" }");
    let steepest = edge
        .path
        .iter()
        .map(|sample| sample.climb.deg())
        .fold(0.0, f64::max);
    assert!(
        (steepest - 15.0).abs() < 0.5,
        "pulled up and pushed back: {steepest}"
    );
}

#[test]
fn a_level_360_ends_where_it_began_with_the_radius_of_its_load() {
    let circle = flown(
        PISTON,
        "150 kt tas",
        "500 ft",
        "{ fly = \"level 360\", g = 3, centre = true }",
    );
    let last = circle.path.last().expect("a path");
    assert!(last.x.m().abs() < 1.0 && (last.y.m() - 230.0).abs() < 1.0 && circle.goes_on());
    let widest = circle
        .path
        .iter()
        .map(|sample| sample.y.m() - 230.0)
        .fold(0.0, f64::max);
    let speed = 150.0 * 1852.0 / 3600.0_f64;
    let radius = speed * speed / (9.80665 * (9.0_f64 - 1.0).sqrt());
    assert!((widest - 2.0 * radius).abs() < 2.0, "{widest} of {radius}");
}

#[test]
fn rolls_go_on_level_at_the_same_speed() {
    for (name, change) in [
        ("slow roll", 1.0),
        ("four-point roll", 1.0),
        ("loaded roll", 400.0),
    ] {
        let rolled = flown(
            PISTON,
            "180 kt",
            "500 ft",
            &format!("{{ fly = \"{name}\" }}"),
        );
        assert!(rolled.goes_on(), "{name}: {}", rolled.ends_headed());
        assert!((rolled.ends_at() - 500.0).abs() < change, "{name}");
        let speed = rolled.path.last().expect("a path").true_airspeed.kt();
        assert!((speed - 181.0).abs() < 10.0, "{name}: {speed}");
    }
}

#[test]
fn a_wing_over_goes_away_from_the_crowd_and_a_belly_pass_banks_away_whichever_side_they_come_from()
{
    // The line is 230 m from the crowd line.
    let apart = |legs: &str| {
        let flown = flown(PISTON, "150 kt", "500 ft", legs);
        let aside = flown.path.iter().map(|sample| sample.y.m() - 230.0);
        aside.fold([0.0, 0.0], |[least, most]: [f64; 2], y| {
            [least.min(y), most.max(y)]
        })
    };
    let out = "{ run = \"to 0.5 nmi right\" }, ";
    let headed_back =
        format!("{out}{{ turn = \"180 deg\", g = 3 }}, {{ run = \"to 0.5 nmi left\" }}, ");
    for before in [out, headed_back.as_str()] {
        let [near, far] = apart(&format!("{before}{{ fly = \"wing-over\" }}"));
        assert!(near > -30.0 && far > 100.0, "{before}: {near} {far}");
    }
    let [near, far] = apart(&format!(
        "{out}{{ fly = \"wing-over\", towards = \"right\" }}"
    ));
    assert!(near < -100.0 && far < 30.0, "{near} {far}");
    // Round with the wings: banked left, the path goes to the left.
    for (towards, headed, left) in [
        ("away", "", true),
        ("crowd", "", false),
        (
            "away",
            "{ turn = \"180 deg\", g = 3 }, { run = \"to 0.5 nmi right\" }, ",
            true,
        ),
    ] {
        let legs = format!(
            "{{ run = \"to 1 nmi right\" }}, {headed}{{ roll = \"60 deg\", towards = \"{towards}\" }}, \
             {{ pull = \"45 deg\", g = 2 }}"
        );
        let flown = flown(PISTON, "150 kt", "1000 ft", &legs);
        let ends = flown.ends_headed();
        assert_eq!(ends > 0.0, left, "{towards}, {headed}: {ends}");
    }
}

#[test]
fn a_tail_slide_entered_from_behind_says_that_it_goes_there() {
    let told = shown("{ fly = \"tail slide\", entered = \"behind\" }");
    assert!(
        told.contains("\"a\" is entered from behind the crowd line"),
        "{told}"
    );
    assert!(told.contains("flown = \"behind crowd\""), "{told}");
    let said = document("{ fly = \"tail slide\", entered = \"behind\" }")
        .replace("from =", "flown = \"behind crowd\"\nfrom =");
    let (show, faults) = read("show.toml", &said);
    assert!(show.is_some(), "{faults:#?}");
    let front = shown("{ fly = \"tail slide\", entered = \"front\" }");
    assert!(!front.contains("behind"), "{front}");
}

#[test]
fn the_readme_lists_every_figure_with_what_it_takes() {
    let rows: String = named::all()
        .map(|figure| {
            let takes: Vec<String> = figure
                .parameters()
                .iter()
                .map(|key| format!("`{key}`"))
                .collect();
            format!("| `{}` | {} |\n", figure.name, takes.join(", "))
        })
        .collect();
    let readme = include_str!("../README.md");
    assert!(readme.contains(&rows), "the table should be\n{rows}");
}
