//! The page as it comes out on paper.

use std::fs;
use std::sync::Arc;

use abeam::debrief::fold::fold;
use abeam::debrief::report::{Told, page};
use abeam::debrief::traced::Traced;
use abeam::debrief::{Lessons, Went};
use abeam::show::PointName;
use roxmltree::{Document, Node};

use crate::drawn_plan::crowded;
use crate::made::*;
use crate::press::{A4, EDGE, Page, apart, print};

/// Nothing but the number of the page is nearer to the edge: margins are 13 mm and more, letters lean out a little.
const MARGIN: f64 = 12.0 / 25.4 * 72.0;

/// Everything of it is on some page, whole and clear of everything else.
fn prints_whole(name: &str, html: &str) -> Vec<Page> {
    let pages = print(html);
    let [wide, high] = A4;
    for (i, page) in pages.iter().enumerate() {
        assert!((page.wide - wide).abs() < 1.0 && (page.high - high).abs() < 1.0);
        for word in &page.words {
            let inside = word.left >= MARGIN
                && word.top >= MARGIN
                && word.right <= wide - MARGIN
                && word.bottom <= high - EDGE;
            assert!(inside, "{name}, page {}: {}", i + 1, word.text);
            assert!(
                word.bottom - word.top > 7.0,
                "{name}: {} is too small to read",
                word.text
            );
        }
        apart(name, page);
        let count = format!("{}of{}", i + 1, pages.len());
        assert!(page.squeezed.contains(&count), "{name}: no page number");
    }
    let plain = crate::page::as_xml(html);
    let document = Document::parse(&plain).unwrap_or_else(|error| panic!("{error}"));
    let texts = document.descendants().filter(|node| {
        ["h1", "h2", "h3", "p", "caption", "tr", "text"].contains(&node.tag_name().name())
    });
    let mut count = 0;
    for node in texts {
        let text: String = node
            .descendants()
            .filter(|text| text.is_text() && !is_hidden(text))
            .filter_map(|text| text.text())
            .flat_map(str::split_whitespace)
            .collect();
        let there = pages.iter().any(|page| page.squeezed.contains(&text));
        assert!(there, "{name}: not whole on any page: {text}");
        count += 1;
    }
    assert!(count > 100, "{name}: {count}");
    pages
}

/// Titles and descriptions are read out, not printed.
fn is_hidden(node: &Node) -> bool {
    let hidden = |node: Node| ["title", "desc"].contains(&node.tag_name().name());
    node.ancestors().any(hidden)
}

#[test]
fn a_late_evening_with_a_log_prints_whole_on_a4() {
    let (made, fixes) = crate::logs::logged(3.0);
    let (dir, _) = folder(&made);
    fs::write(dir.path().join("solo.gpx"), crate::logs::gpx(&fixes)).expect("a log");
    let arguments = [
        "debrief",
        "evening.journal",
        "--track",
        "solo.gpx",
        "--html",
        "evening.html",
    ];
    let (code, _, err) = abeam(dir.path(), &arguments);
    assert_eq!(code, 0, "{err}");
    let html = fs::read_to_string(dir.path().join("evening.html")).expect("a page");
    let pages = prints_whole("an evening", &html);
    assert!(pages.len() <= 8, "{} pages", pages.len());
}

/// Thirty figures of four aircraft, some with names no page has room for, each half a minute late.
#[test]
fn a_crowded_show_prints_whole_on_a4() {
    let planned = crowded();
    let (show, plan) = (Arc::new(planned.show), Arc::new(planned.plan));
    let mut made = Made::planned(show.clone(), plan.clone());
    let passing = plan.moments.figures.iter();
    let passing = passing.filter(|times| times.expected(&PointName::Abeam(1)).is_some());
    for times in passing {
        made.marked_as(times.key.as_str(), "abeam", 30.0);
    }
    made.closed(plan.moments.end().expect("an end").s() + 60.0);
    let folded = fold(&show, &plan, &made.record);
    let went = Went::of(folded, &made.record, &[]);
    let lessons = Lessons::of(&show, &[&went]);
    let told = Told {
        journal: "a.journal",
        date: "2026-06-20 17:38 UTC".into(),
        show: &show,
        plan: &plan,
        profile: &show.profile,
        notes: &["what is worth knowing ".repeat(30)],
        went: &went,
        traced: &Traced::default(),
        outlines: Vec::new(),
    };
    prints_whole("a crowded show", &page(&[told], &lessons));
}
