//! The pictures of a planned display can be read: by people, in grey, by machines that read aloud.

mod drawn_plan;

use std::collections::BTreeSet;
use std::sync::Arc;

use abeam::pictures::{Picture, pictures};
use abeam::units::Length;
use drawn_plan::*;
use roxmltree::{Document, Node};

/// Every kind of show the pictures must bear.
fn shows() -> Vec<(&'static str, Planned)> {
    vec![
        ("demonstration", demonstration()),
        ("two aircraft and a loop", with_a_loop()),
        ("many and long names", crowded()),
        ("timed only", timed_only()),
    ]
}

/// Every picture of every show: what it is of, its name, its text.
fn every_picture() -> Vec<(String, String)> {
    shows()
        .into_iter()
        .flat_map(|(of, Planned { show, plan })| {
            pictures(&show, &plan)
                .into_iter()
                .map(move |picture| (format!("{of}: {}", picture.name), picture.svg))
        })
        .collect()
}

#[test]
fn a_picture_is_valid_stands_alone_and_is_described() {
    for (name, svg) in every_picture() {
        let document = Document::parse(&svg).unwrap_or_else(|error| panic!("{name}: {error}"));
        let root = document.root_element();
        assert!(
            root.has_tag_name(("http://www.w3.org/2000/svg", "svg")),
            "{name}"
        );
        // ARIA in SVG: SVG Accessibility API Mappings, "aria-labelledby" names title and description.
        assert_eq!(root.attribute("role"), Some("img"));
        let labels = root.attribute("aria-labelledby").expect("labels");
        for id in labels.split(' ') {
            let labelled = root
                .descendants()
                .filter(|node| node.attribute("id") == Some(id));
            let texts: Vec<_> = labelled.filter_map(|node| node.text()).collect();
            assert!(texts.len() == 1 && texts[0].len() > 8, "{name}: {id}");
        }
        for node in root.descendants() {
            let tag = node.tag_name().name();
            assert!(
                !["script", "image", "style", "foreignObject", "use"].contains(&tag),
                "{name}"
            );
            for attribute in node.attributes() {
                let (key, value) = (attribute.name(), attribute.value());
                assert!(key != "href" && !key.starts_with("on"), "{name}: {key}");
                let pattern = ["url(#slanted)", "url(#dotted)"].contains(&value);
                assert!(pattern || !value.contains("url("), "{name}: {value}");
                assert!(
                    !value.contains("NaN") && !value.contains("inf"),
                    "{name}: {value}"
                );
            }
        }
    }
}

/// The box of a text: left, top, right, bottom. Heights from DejaVu Sans: cap height 0.73, descent 0.24.
fn text_box(node: &Node, letters: &Letters) -> [f64; 4] {
    let number = |name| {
        node.attribute(name)
            .expect("a place")
            .parse::<f64>()
            .expect("a number")
    };
    let (x, y, size) = (number("x"), number("y"), number("font-size"));
    let wide = letters.width(node.text().unwrap_or_default(), size);
    let left = match node.attribute("text-anchor") {
        None => x,
        Some("middle") => x - 0.5 * wide,
        Some("end") => x - wide,
        Some(other) => panic!("{other}"),
    };
    [left, y - 0.73 * size, left + wide, y + 0.24 * size]
}

#[test]
fn no_two_texts_overlap_and_none_leaves_its_picture() {
    let mut count = 0;
    for letters in [Letters::of("dejavu"), Letters::of("liberation")] {
        for (name, svg) in every_picture() {
            let document = Document::parse(&svg).expect("a picture");
            let root = document.root_element();
            let size = |name| {
                root.attribute(name)
                    .expect("a size")
                    .parse::<f64>()
                    .expect("a number")
            };
            let (wide, high) = (size("width"), size("height"));
            let texts: Vec<([f64; 4], &str)> = root
                .descendants()
                .filter(|node| node.has_tag_name("text"))
                .map(|node| (text_box(&node, &letters), node.text().unwrap_or_default()))
                .collect();
            count += texts.len();
            for (i, (one, text)) in texts.iter().enumerate() {
                let [left, top, right, bottom] = *one;
                let within = left >= 0.0 && top >= 0.0 && right <= wide && bottom <= high;
                assert!(
                    within,
                    "{name}: \"{text}\" at {one:?} leaves {wide} by {high}"
                );
                for (other, said) in &texts[..i] {
                    let apart = right <= other[0]
                        || other[2] <= left
                        || bottom <= other[1]
                        || other[3] <= top;
                    assert!(
                        apart,
                        "{name}: \"{text}\" at {one:?} is over \"{said}\" at {other:?}"
                    );
                }
            }
        }
    }
    assert!(count > 1500, "{count}");
}

#[test]
fn every_flown_figure_has_its_number_or_name_on_the_map_and_in_the_list() {
    for (of, Planned { show, plan }) in shows() {
        let all = pictures(&show, &plan);
        let document = Document::parse(&all[0].svg).expect("a picture");
        let texts = texts(&document);
        for (i, flown) in plan.flight.figures.iter().enumerate() {
            let number = (i + 1).to_string();
            let named = |text: &&&str| text.split(' ').next() == Some(&number);
            let count = texts.iter().filter(named).count();
            // Distances are marked with numbers, too.
            let least = if flown.path().is_empty() { 1 } else { 2 };
            assert!(count >= least, "{of}: {number}");
        }
    }
}

#[test]
fn every_figure_is_named() {
    for (of, Planned { show, plan }) in shows() {
        let all = pictures(&show, &plan);
        for picture in ["plan.svg", "arrivals.svg", "heights.svg"] {
            let svg = &drawn(&all, picture).svg;
            let document = Document::parse(svg).expect("a picture");
            let texts: Vec<&str> = texts(&document);
            for figure in &plan.moments.figures {
                let name = &show.figure(&figure.id).expect("a figure").name;
                // A name longer than its room is cut.
                let start: String = name
                    .chars()
                    .take(12)
                    .take_while(|letter| !letter.is_control())
                    .collect();
                assert!(
                    texts.iter().any(|text| text.contains(start.trim_end())),
                    "{of}, {picture}: {start}"
                );
            }
        }
    }
}

/// Relative luminance, WCAG 2.2.
fn luminance(colour: &str) -> f64 {
    let part = |i: usize| {
        let value = u8::from_str_radix(&colour[i..i + 2], 16).expect("a colour");
        let share = f64::from(value) / 255.0;
        if share <= 0.04045 {
            share / 12.92
        } else {
            ((share + 0.055) / 1.055).powf(2.4)
        }
    };
    0.2126 * part(1) + 0.7152 * part(3) + 0.0722 * part(5)
}

#[test]
fn what_is_drawn_can_be_seen_on_white_and_text_read() {
    /// What stands behind: grids, frames, other figures. Nothing is told by it alone.
    const BEHIND: &str = "#b0b0b0";
    let mut colours = BTreeSet::new();
    for (name, svg) in every_picture() {
        let document = Document::parse(&svg).expect("a picture");
        for node in document.descendants() {
            for key in ["stroke", "fill"] {
                let Some(colour) = node.attribute(key).filter(|value| value.starts_with('#'))
                else {
                    continue;
                };
                if [BEHIND, "#ffffff"].contains(&colour) {
                    continue;
                }
                // Success criteria 1.4.11 for what is drawn, 1.4.3 for text.
                let least = if node.has_tag_name("text") { 4.5 } else { 3.0 };
                let contrast = 1.05 / (luminance(colour) + 0.05);
                assert!(contrast >= least, "{name}: {colour} has {contrast:.1} to 1");
                colours.insert(colour.to_owned());
            }
        }
    }
    // Okabe and Ito's blue, vermillion and bluish green (Color Universal Design, 2008), and black.
    let palette = ["#000000", "#0072b2", "#009e73", "#d55e00"].map(str::to_owned);
    assert!(
        colours.iter().all(|colour| palette.contains(colour)),
        "{colours:?}"
    );
}

#[test]
fn in_grey_each_aircraft_has_its_own_dashes_and_marks() {
    let Planned { show, plan } = with_a_loop();
    let all = pictures(&show, &plan);
    let plan = &all[0].svg;
    let document = Document::parse(plan).expect("a picture");
    let drawn = |figure: &str| {
        let title = document
            .descendants()
            .find(|node| {
                node.has_tag_name("title") && node.text().is_some_and(|text| text.contains(figure))
            })
            .and_then(|title| title.parent())
            .unwrap_or_else(|| panic!("{figure}"));
        let line = title
            .descendants()
            .find(|node| node.has_tag_name("polyline"))
            .expect("a line");
        let mark = title
            .descendants()
            .rfind(|node| node.is_element())
            .expect("a mark");
        // Colours do not count.
        let corners = mark
            .attribute("points")
            .map_or(0, |points| points.split(' ').count());
        (
            line.attribute("stroke-dasharray").map(str::to_owned),
            mark.tag_name().name().to_owned(),
            corners,
        )
    };
    let (solo, second) = (drawn("Solo loop"), drawn("Second crosses"));
    assert_ne!(solo.0, second.0);
    assert_ne!((solo.1, solo.2), (second.1, second.2));
}

fn drawn<'a>(all: &'a [Picture], name: &str) -> &'a Picture {
    all.iter().find(|picture| picture.name == name).expect(name)
}

/// From the least to the greatest.
fn reach(values: &[f64]) -> f64 {
    let least = values.iter().copied().fold(f64::MAX, f64::min);
    values.iter().copied().fold(f64::MIN, f64::max) - least
}

/// The lines of a figure in its own picture: from above, and from the crowd.
fn lines_of_figure(document: &Document) -> [Vec<[f64; 2]>; 2] {
    let groups = document.descendants().filter(|node| node.has_tag_name("g"));
    let lines = groups.filter_map(|group| {
        let line = group.children().find(|node| node.has_tag_name("polyline"));
        line.map(|line| points(&line))
    });
    let lines: Vec<_> = lines.collect();
    lines.try_into().expect("two lines")
}

#[test]
fn a_figure_that_climbs_is_seen_from_the_side_to_the_same_scale() {
    let Planned { show, plan } = with_a_loop();
    let all = pictures(&show, &plan);
    let looped = &drawn(&all, "plan-solo-loop.svg").svg;
    assert!(looped.contains("As the crowd sees it"));
    let level = &drawn(&all, "plan-second-crosses.svg").svg;
    assert!(!level.contains("As the crowd sees it"));
    // The loop of radius 200 m: as wide as it is high in the view from the crowd.
    let document = Document::parse(looped).expect("a picture");
    let [_, side] = lines_of_figure(&document);
    let top = side.iter().map(|point| point[1]).fold(f64::MAX, f64::min);
    let bottom = side.iter().map(|point| point[1]).fold(f64::MIN, f64::max);
    let middle = 0.5 * (top + bottom);
    let at_middle: Vec<f64> = side
        .windows(2)
        .filter(|pair| (pair[0][1] - middle) * (pair[1][1] - middle) <= 0.0)
        .map(|pair| 0.5 * (pair[0][0] + pair[1][0]))
        .collect();
    let wide = reach(&at_middle);
    assert!(
        ((bottom - top) / wide - 1.0).abs() < 0.03,
        "{} by {wide}",
        bottom - top
    );
}

#[test]
fn a_flat_climb_is_drawn_higher_and_says_so() {
    let Planned { show, mut plan } = with_a_loop();
    let path = &mut Arc::make_mut(&mut plan.flight.figures[1].parts)[0].path;
    let count = path.len();
    for (i, sample) in path.iter_mut().enumerate() {
        sample.z = Length::from_m(100.0 + 60.0 * i as f64 / (count - 1) as f64);
    }
    let along: Vec<f64> = path.iter().map(|sample| sample.x.m()).collect();
    let all = pictures(&show, &plan);
    let svg = &drawn(&all, "plan-second-crosses.svg").svg;
    let document = Document::parse(svg).expect("a picture");
    let [above, side] = lines_of_figure(&document);
    let column =
        |line: &[[f64; 2]], i: usize| -> Vec<f64> { line.iter().map(|point| point[i]).collect() };
    let per_metre = reach(&column(&above, 0)) / reach(&along);
    let times = reach(&column(&side, 1)) / 60.0 / per_metre;
    let said = format!("height above the site in ft, drawn {times:.1} times as high");
    assert!(times > 1.1 && svg.contains(&said), "{said}");
}

#[test]
fn north_wind_and_distances_are_where_they_belong() {
    // Line bearing 090: the crowd's right is east, so that north is away from it; a west wind blows to the right.
    let Planned { show, plan } = with_a_loop();
    let all = pictures(&show, &plan);
    let svg = &drawn(&all, "plan-second-crosses.svg").svg;
    let document = Document::parse(svg).expect("a picture");
    let line_before = |text: &str| {
        let text = document
            .descendants()
            .find(|node| node.text() == Some(text) && node.has_tag_name("text"));
        let mut before = text.unwrap_or_else(|| panic!("{text:?}")).prev_siblings();
        points(
            &before
                .find(|node| node.has_tag_name("polyline"))
                .expect("an arrow"),
        )
    };
    let north = line_before("north");
    assert!(
        north[1][1] < north[0][1] - 30.0 && (north[1][0] - north[0][0]).abs() < 0.2,
        "{north:?}"
    );
    let wind = line_before("wind at 0 ft: from 270°, 10 kt");
    assert!(
        wind[1][0] > wind[0][0] + 20.0 && (wind[1][1] - wind[0][1]).abs() < 0.2,
        "{wind:?}"
    );

    // A gate 1 nmi out stands over the mark of 1 nmi.
    let tick = document
        .descendants()
        .find(|node| node.has_tag_name("text") && node.text() == Some("1"))
        .expect("the mark of a nautical mile");
    let mile: f64 = tick.attribute("x").expect("x").parse().expect("a number");
    let rings = document
        .descendants()
        .filter(|node| node.has_tag_name("circle") && node.attribute("r") == Some("3"));
    let nearest = rings
        .map(|ring| {
            (ring
                .attribute("cx")
                .expect("x")
                .parse::<f64>()
                .expect("a number")
                - mile)
                .abs()
        })
        .fold(f64::MAX, f64::min);
    assert!(nearest < 0.2, "{nearest}");
}

#[test]
fn the_same_plan_gives_the_same_bytes() {
    for (of, Planned { show, plan }) in shows() {
        assert!(pictures(&show, &plan) == pictures(&show, &plan), "{of}");
    }
    let Planned { show, plan } = with_a_loop();
    for picture in pictures(&show, &plan) {
        insta::assert_snapshot!(picture.name.trim_end_matches(".svg"), picture.svg);
    }
}
