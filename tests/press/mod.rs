//! HTML printed as a browser prints it: Chromium makes the pages, poppler says where each word is.

#![allow(dead_code)] // each test file uses its part

use std::fs;
use std::time::Duration;

use assert_cmd::Command;
use roxmltree::{Document, Node};
use tempfile::tempdir;

/// A page as printed.
pub struct Page {
    pub wide: f64,
    pub high: f64,
    pub words: Vec<Word>,
    /// Its text in the order it was drawn, without any white space.
    pub squeezed: String,
}

/// A word and its box, in points from the top left corner.
pub struct Word {
    pub text: String,
    pub left: f64,
    pub top: f64,
    pub right: f64,
    pub bottom: f64,
}

/// What a program that must be installed prints.
fn output(program: &str, package: &str, args: &[&str]) -> Vec<u8> {
    let output = Command::new(program)
        .args(args)
        .timeout(Duration::from_secs(120))
        .output();
    let output = output.unwrap_or_else(|error| {
        panic!("this test needs {program}, which does not run ({error}): apt-get install {package}")
    });
    assert!(
        output.status.success(),
        "{program}: {}",
        String::from_utf8_lossy(&output.stderr)
    );
    output.stdout
}

/// Prints a sheet as a browser does.
pub fn print(html: &str) -> Vec<Page> {
    let dir = tempdir().expect("a folder");
    let path = |name: &str| dir.path().join(name).to_str().expect("a path").to_owned();
    let (page, pdf) = (path("sheet.html"), path("sheet.pdf"));
    fs::write(&page, html).expect("a file");
    let (profile, print) = (
        format!("--user-data-dir={}", path("profile")),
        format!("--print-to-pdf={pdf}"),
    );
    // Its sandbox wants what a container or the root user does not have; the page is our own.
    let args = [
        "--headless",
        "--no-sandbox",
        "--disable-gpu",
        "--no-pdf-header-footer",
        &profile,
        &print,
        &page,
    ];
    output("chromium", "chromium", &args);
    let boxes = output("pdftotext", "poppler-utils", &["-bbox", &pdf, "-"]);
    let drawn = output("pdftotext", "poppler-utils", &["-raw", &pdf, "-"]);
    pages(
        &String::from_utf8_lossy(&boxes),
        &String::from_utf8_lossy(&drawn),
    )
}

fn pages(boxes: &str, drawn: &str) -> Vec<Page> {
    let body = boxes.find("<doc>").expect("pages");
    let until = boxes.find("</doc>").expect("an end") + "</doc>".len();
    let xml = &boxes[body..until];
    let document = Document::parse(xml).unwrap_or_else(|error| panic!("{error}: {xml}"));
    let number = |node: &Node, name: &str| -> f64 {
        node.attribute(name)
            .and_then(|text| text.parse().ok())
            .expect("a number")
    };
    document
        .descendants()
        .filter(|node| node.has_tag_name("page"))
        .zip(drawn.split('\u{c}'))
        .map(|(page, drawn)| Page {
            wide: number(&page, "width"),
            high: number(&page, "height"),
            words: page
                .descendants()
                .filter(|node| node.has_tag_name("word"))
                .map(|word| Word {
                    text: word.text().unwrap_or("").to_owned(),
                    left: number(&word, "xMin"),
                    top: number(&word, "yMin"),
                    right: number(&word, "xMax"),
                    bottom: number(&word, "yMax"),
                })
                .collect(),
            squeezed: drawn.split_whitespace().collect(),
        })
        .collect()
}

/// A4: 210 by 297 mm (ISO 216); a point is 1/72 inch.
pub const A4: [f64; 2] = [210.0 / 25.4 * 72.0, 297.0 / 25.4 * 72.0];
/// Printers leave a few millimetres at the edge white: 5 mm, common practice, no published source.
pub const EDGE: f64 = 5.0 / 25.4 * 72.0;

/// No two words of a page are over one another. A word's box has room above and below its letters.
pub fn apart(name: &str, page: &Page) {
    let overlap = |a: &Word, b: &Word| {
        let wide = a.right.min(b.right) - a.left.max(b.left);
        let high = a.bottom.min(b.bottom) - a.top.max(b.top);
        let lower = (a.bottom - a.top).min(b.bottom - b.top);
        wide > 1.0 && high > 0.4 * lower
    };
    for (i, a) in page.words.iter().enumerate() {
        for b in &page.words[i + 1..] {
            assert!(!overlap(a, b), "{name}: {} over {}", a.text, b.text);
        }
    }
}
