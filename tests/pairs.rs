//! Figures whose aircraft part: each flies its own legs, and they cross at crowd centre at one instant.

mod pair;

use abeam::flight::{Entry, Flight, FlownFigure, entries, fly};
use abeam::show::report::{Look, report};
use abeam::show::{Anchor, Fault, Name, PointName, Severity, Show, Source};
use abeam::timeline::{Facts, Plan};
use abeam::units::Instant;
use pair::{APART, document, loaded, shown};
use proptest::prelude::*;

const NAMED: &str = r#"legs = [{ fly = "opposition cross", out = "1 nmi" }]"#;

fn flown(show: &Show, mirrored: bool) -> Flight {
    let entries: Vec<Entry> = entries(show, &show.profile)
        .into_iter()
        .map(|entry| Entry { mirrored, ..entry })
        .collect();
    fly(show, &show.day, &entries)
}

fn crossing(flight: &Flight) -> &FlownFigure {
    let errors: Vec<&Fault> = flight
        .faults
        .iter()
        .filter(|fault| fault.severity == Severity::Error)
        .collect();
    assert!(errors.is_empty(), "{errors:#?}");
    flight.figures.last().expect("the crossing")
}

fn after(figure: &FlownFigure, point: &PointName) -> f64 {
    let found = figure.points.iter().find(|met| met.point == *point);
    found.unwrap_or_else(|| panic!("{point}")).after.s()
}

/// What both aircraft's own passes are apart, and the crossing from either.
fn apart(figure: &FlownFigure) -> f64 {
    let [one, two] = &figure.parts[..] else {
        panic!("{} parts", figure.parts.len());
    };
    let (one, two) = (one.abeams[0].s(), two.abeams[0].s());
    let cross = after(figure, &PointName::Cross);
    (one - two).abs().max((one - cross).abs())
}

#[test]
fn both_cross_at_one_instant_whoever_is_early_and_from_either_side() {
    for wind in [
        "0, speed = \"0 kt\"",
        "60, speed = \"18 kt\"",
        "300, speed = \"25 kt\"",
    ] {
        for crossing_legs in [APART, NAMED] {
            let show = loaded(&document(wind, crossing_legs));
            for mirrored in [false, true] {
                let flight = flown(&show, mirrored);
                let figure = crossing(&flight);
                assert!(apart(figure) < 1e-3, "{wind}: {}", apart(figure));
                // They come from either side.
                let along = |i: usize| {
                    let path = &figure.parts[i].path;
                    let abeam = figure.parts[i].abeams[0];
                    let next = path.iter().position(|sample| sample.after > abeam);
                    let next = next.expect("a run beyond the crossing");
                    (path[next].x - path[next - 1].x).m()
                };
                assert!(along(0) * along(1) < 0.0, "{wind}");
            }
        }
    }
}

/// What a metre a second more wind does to the crossing is found by flying the display in one more and one less, the
/// runs lengthened anew in each.
#[test]
fn the_crossing_is_made_anew_in_the_winds_its_spread_is_told_from() {
    let crosses = |mps: f64| {
        let wind = format!("270, speed = \"{mps} m/s\"");
        let flight = flown(&loaded(&document(&wind, APART)), false);
        let figure = crossing(&flight).clone();
        let until = figure
            .points
            .iter()
            .position(|met| met.point == PointName::Cross);
        let steps = &figure.points[..=until.expect("a crossing")];
        let more: f64 = steps.iter().map(|met| met.step.seconds_per_mps).sum();
        (after(&figure, &PointName::Cross), more)
    };
    let (less, more) = (crosses(2.0).0, crosses(4.0).0);
    let told = crosses(3.0).1;
    assert!(
        (told - (more - less) / 2.0).abs() < 2e-3,
        "{told} {less} {more}"
    );
}

#[test]
fn what_is_not_early_is_flown_as_it_is_written() {
    let mut show = loaded(&document("0, speed = \"0 kt\"", APART));
    let mirrored = crossing(&flown(&show, true)).clone();
    let figure = crossing(&flown(&show, false)).clone();
    // Without wind the side makes no difference.
    assert!((after(&figure, &PointName::Cross) - after(&mirrored, &PointName::Cross)).abs() < 1e-6);
    // Alone, and so with nothing to wait for, one of the two is as early as that, the other not earlier.
    let alone = |show: &mut Show, part: usize| {
        let figure = show.figures.last_mut().expect("a figure");
        let abeam::show::Manner::Apart(parts) = figure.manner.clone() else {
            panic!("apart");
        };
        let mut legs = parts[part].legs.clone();
        for leg in &mut legs {
            leg.cross = false;
        }
        let whole = std::mem::replace(&mut figure.manner, abeam::show::Manner::Flown(legs));
        let alone = after(crossing(&flown(show, false)), &PointName::Abeam(1));
        show.figures.last_mut().expect("a figure").manner = whole;
        alone
    };
    let (one, two) = (alone(&mut show, 0), alone(&mut show, 1));
    let cross = after(&figure, &PointName::Cross);
    assert!((cross - one.max(two)).abs() < 1e-4, "{one} {two} {cross}");
    assert!((one - two).abs() > 1.0, "they would not meet by themselves");
}

#[test]
fn the_crossing_is_a_point_that_words_and_calls_can_hang_on() {
    let mut text = document("60, speed = \"18 kt\"", APART);
    text += "[[call]]\nid = \"now\"\nwho = \"coordinator\"\nat = \"cross.cross - 3 s\"\ntext = \"Now\"\n";
    let show = loaded(&text);
    assert!(matches!(
        &show.calls[0].when.anchor,
        Anchor::Point {
            point: PointName::Cross,
            ..
        }
    ));
    let plan = Plan::new(&show, &Name::from("both"), &show.day, Facts::default());
    assert!(!plan.is_faulty(), "{:#?}", plan.faults);
    let cross = plan.moments.figures[1]
        .expected(&PointName::Cross)
        .expect("a cross")
        .at;
    let abeam = plan.moments.figures[1]
        .expected(&PointName::Abeam(1))
        .expect("a pass")
        .at;
    assert!((cross - abeam).s().abs() < 1e-3);
    assert_eq!(
        plan.layout.calls[0].instant(),
        Some(cross - abeam::units::Span::from_s(3.0))
    );
    assert!(cross > Instant::ZERO);
}

#[test]
fn each_pilot_is_left_where_he_ended_and_the_figure_ends_with_the_last() {
    let mut text = document("0, speed = \"0 kt\"", APART);
    text = text.replace(
        "order = [\"together\", \"cross\"]",
        "order = [\"together\", \"cross\", \"home\"]",
    );
    text += "[[figure]]\nid = \"home\"\naircraft = \"two\"\nfrom = \"left\"\nlegs = [{ run = \"for 1 nmi\" }]\n";
    let show = loaded(&text);
    let flight = flown(&show, false);
    let (home, cross) = (&flight.figures[2], &flight.figures[1]);
    let two = cross.path_of(&"two".into()).last().expect("a path");
    let begun = home.path().first().expect("a path");
    assert!((begun.x - two.x).m().abs() < 1e-6 && (begun.y - two.y).m().abs() < 1e-6);
    let ends = cross
        .parts
        .iter()
        .map(|part| part.ends)
        .max()
        .expect("two parts");
    assert_eq!(cross.points.last().expect("an end").after, ends);
    assert!(cross.parts[0].ends != cross.parts[1].ends);
}

#[test]
fn what_cannot_cross_is_told_on_its_line() {
    let zero = "0, speed = \"0 kt\"";
    let told = [
        APART.replace("lengthen = true ", "lengthen = true, pass = true "),
        APART.replace("two = [", "three = ["),
        APART.replace(", cross = true, speed", ", speed"),
        APART.replacen("cross = true", "pass = true", 2),
        APART.replace(
            "{ run = \"to centre\", cross = true },",
            "{ run = \"to centre\", cross = true, lengthen = true },",
        ),
        NAMED.replace("out", "oust"),
        format!("{NAMED}\n[figure.parts]\ntwo = [{{ fly = \"opposition cross\" }}]"),
        "[figure.parts]\ntwo = [{ run = \"to centre\", speed = \"250 kt\", height = \"500 ft\" }]"
            .into(),
    ]
    .map(|legs| {
        let text = document(zero, &legs);
        let (show, mut faults) = shown(&text);
        if let Some(show) = show {
            faults.extend(flown(&show, false).faults);
        }
        let source = Source {
            name: "pair.toml".into(),
            text: text.as_str().into(),
        };
        report(&source, &faults, Look::Plain, 90)
    });
    insta::assert_snapshot!(told.join("\n"));
}

#[test]
fn a_crossing_that_cannot_be_made_says_why() {
    let zero = "0, speed = \"0 kt\"";
    // Two only goes to centre: nothing of it can be lengthened; or lengthening changes nothing.
    for (two, why) in [
        (
            "{ turn = \"180 deg\", g = 4 }, { run = \"to 0.2 nmi left\" }, { turn = \"180 deg\", g = 4 }, \
          { run = \"to centre\", cross = true }",
            "no run for a distance or a time",
        ),
        (
            "{ turn = \"180 deg\", g = 4 }, { run = \"to 0.2 nmi left\" }, { turn = \"180 deg\", g = 4 }, \
          { run = \"for 10 m\" }, { run = \"to centre\", cross = true }",
            "does not change that",
        ),
    ] {
        let parts = format!(
            "{}[figure.parts]\ntwo = [{two}]\n",
            APART.split("[figure.parts]").next().expect("legs")
        );
        let show = loaded(&document(zero, &parts));
        let faults = flown(&show, false).faults;
        let found = faults
            .iter()
            .any(|fault| fault.message.contains("cannot be made") && fault.message.contains(why));
        assert!(found, "{faults:#?}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn mirrored_in_mirrored_wind_gives_the_mirror_image(
        from in 0.0..360.0f64,
        knots in 0.0..25.0f64,
        out in 0.5..2.0f64,
        g in 2.0..5.0f64,
    ) {
        let legs = NAMED.replace("out = \"1 nmi\"", &format!("out = \"{out} nmi\", g = {g}"));
        let wind = |from: f64| format!("{from}, speed = \"{knots} kt\"");
        let show = loaded(&document(&wind(from), &legs));
        // The line lies 090: the mirror of a wind from 0 + a is one from 0 - a.
        let mirror = loaded(&document(&wind((360.0 - from) % 360.0), &legs));
        let (plain, other) = (flown(&show, false), flown(&mirror, true));
        let (plain, other) = (crossing(&plain), crossing(&other));
        prop_assert!(apart(plain) < 1e-3 && apart(other) < 1e-3);
        for (a, b) in plain.points.iter().zip(&other.points) {
            prop_assert_eq!(&a.point, &b.point);
            prop_assert!((a.after - b.after).s().abs() < 1e-3);
        }
        for (a, b) in plain.parts.iter().zip(other.parts.iter()) {
            let (a, b) = (a.path.last().expect("a path"), b.path.last().expect("a path"));
            prop_assert!((a.x + b.x).m().abs() < 0.5 && (a.y - b.y).m().abs() < 0.5, "{:?} {:?}", a, b);
        }
    }
}

#[test]
fn every_aircraft_of_a_figure_is_drawn() {
    let show = loaded(&document("0, speed = \"0 kt\"", APART));
    let plan = Plan::new(&show, &Name::from("both"), &show.day, Facts::default());
    let pictures = abeam::pictures::pictures(&show, &plan);
    let picture = |name: &str| &pictures.iter().find(|p| p.name == name).expect(name).svg;
    // The crossing's group holds what its aircraft fly: a line of each colour.
    for name in ["plan.svg", "plan-cross.svg", "figures.svg", "heights.svg"] {
        let drawn = picture(name);
        let begun = drawn.find("<title>2 cross</title>").expect(name);
        let group = drawn[begun..].split("</g>").next().expect("a group");
        let lines = group.split("<polyline").skip(1);
        let mut colours: Vec<&str> = lines
            .filter_map(|line| line.split("stroke=\"").nth(1)?.split('"').next())
            .collect();
        colours.sort_unstable();
        colours.dedup();
        assert!(colours.len() == 2, "{name}: {colours:?}");
    }
}

#[test]
fn aircraft_that_begin_a_figure_far_apart_are_told() {
    let again = |legs: &str| {
        let text = document("0, speed = \"0 kt\"", APART).replace(
            "order = [\"together\", \"cross\"]",
            "order = [\"together\", \"cross\", \"join\"]",
        );
        let show = loaded(&format!(
            "{text}\n[[figure]]\nid = \"join\"\naircraft = [\"one\", \"two\"]\nfrom = \"right\"\nlegs = [{legs}]\n"
        ));
        let flight = flown(&show, false);
        let parts = &flight.figures[1].parts;
        let end = |part: usize| *parts[part].path.last().expect("a path");
        let (one, two) = (end(0), end(1));
        let apart = [one.x - two.x, one.y - two.y, one.z - two.z].map(|d| d.m());
        let apart = apart.iter().map(|d| d * d).sum::<f64>().sqrt();
        let told = flight.faults.into_iter().map(|fault| fault.message);
        let told: Vec<String> = told
            .filter(|told| told.contains("when \"join\" begins"))
            .collect();
        (apart, told)
    };
    let (apart, told) = again("{ run = \"for 1 nmi\" }");
    let tens = 10.0 * (apart / 10.0).round();
    let said = format!("{},{:03}", (tens / 1000.0) as u32, tens as u32 % 1000);
    assert!(apart > 1000.0, "{apart}");
    assert_eq!(
        told,
        [format!("two is {said} m from one when \"join\" begins")]
    );
    let (_, told) =
        again("{ hold = \"3 nmi\", expect = \"200 s\" }, { run = \"to centre\", pass = true }");
    assert_eq!(told, [""; 0]);
}
