//! The page: it stands alone, can be read out and printed.

use std::fs;

use roxmltree::{Document, Node};

use crate::made::*;

/// The page without its doctype and what HTML never closes.
pub fn as_xml(html: &str) -> String {
    let body = html.split_once('\n').expect("a doctype").1;
    body.replace("<meta charset=\"utf-8\">", "").replace(
        "<meta name=\"viewport\" content=\"width=device-width\">",
        "",
    )
}

fn of_kind<'a>(document: &'a Document, tag: &'a str) -> Vec<Node<'a, 'a>> {
    document
        .descendants()
        .filter(|node| node.has_tag_name(tag) || node.tag_name().name() == tag)
        .collect()
}

/// What a screen reader goes by (W3C, WCAG 2.2, techniques H42, H39, H63, H57, H88; SVG 2, 5.8): headings in order,
/// tables with captions and heads, pictures with a title and a description, a language, no name given twice.
#[test]
fn the_page_stands_alone_and_can_be_read_out() {
    let made = evening();
    let (dir, _) = folder(&made);
    made.write(&dir.path().join("another.journal"));
    let arguments = [
        "debrief",
        "evening.journal",
        "another.journal",
        "--html",
        "evening.html",
    ];
    let (code, _, err) = abeam(dir.path(), &arguments);
    assert_eq!(code, 0, "{err}");
    let html = fs::read_to_string(dir.path().join("evening.html")).expect("a page");
    let plain = as_xml(&html);
    let page = Document::parse(&plain).unwrap_or_else(|error| panic!("{error}"));
    assert_eq!(page.root_element().attribute("lang"), Some("en"));
    let levels: Vec<u32> = page
        .descendants()
        .filter_map(|node| node.tag_name().name().strip_prefix('h')?.parse().ok())
        .collect();
    assert_eq!(levels.iter().filter(|level| **level == 1).count(), 1);
    assert!(
        levels.windows(2).all(|pair| pair[1] <= pair[0] + 1),
        "{levels:?}"
    );
    for table in of_kind(&page, "table") {
        let has = |tag: &str| table.children().any(|node| node.has_tag_name(tag));
        assert!(has("caption") && has("thead"), "{:?}", table.tag_name());
        let columns = table
            .descendants()
            .filter(|node| node.attribute("scope") == Some("col"))
            .count();
        for row in table
            .descendants()
            .filter(|node| node.attribute("scope") == Some("row"))
        {
            let cells = row
                .parent()
                .expect("a row")
                .children()
                .filter(Node::is_element)
                .count();
            assert_eq!(cells, columns);
        }
    }
    let pictures = of_kind(&page, "svg");
    // Three of the timeline, drift, the pass from above, its heights, the hit; twice.
    assert_eq!(pictures.len(), 14);
    for picture in pictures {
        let said = |tag: &str| {
            let node = picture
                .children()
                .find(|node| node.tag_name().name() == tag)
                .expect("a text");
            (
                node.attribute("id").expect("a name").to_owned(),
                node.text().unwrap_or("").len(),
            )
        };
        let ((title, long), (description, longer)) = (said("title"), said("desc"));
        assert!(long > 4 && longer > 40);
        assert_eq!(picture.attribute("role"), Some("img"));
        assert_eq!(
            picture.attribute("aria-labelledby"),
            Some(format!("{title} {description}").as_str())
        );
        // Beside each picture its table.
        let figure = picture.parent().expect("a figure");
        let after = figure.next_siblings().filter(Node::is_element).skip(1);
        let mut until = after.take_while(|node| !["h1", "h2"].contains(&node.tag_name().name()));
        assert!(until.any(|node| node.has_tag_name("table")));
    }
    let mut ids: Vec<&str> = page
        .descendants()
        .filter_map(|node| node.attribute("id"))
        .collect();
    let count = ids.len();
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), count, "names given twice");
    for outside in ["http:", "https:", "src=", "@import", "<script", "<link"] {
        let found = html.replace("http://www.w3.org/2000/svg", "");
        assert!(!found.contains(outside), "{outside}");
    }
    // Another's page is not written over.
    fs::write(dir.path().join("evening.html"), "mine").expect("it");
    let (code, _, err) = abeam(dir.path(), &arguments);
    assert_eq!(
        (code, err.contains("no debrief by abeam")),
        (2, true),
        "{err}"
    );
}
