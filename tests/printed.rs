//! Sheets as they come out on paper: Chromium prints them, poppler says where each word is.

mod paper;

use std::fs;
use std::time::Duration;

use assert_cmd::Command;
use paper::*;
use roxmltree::Node;
use tempfile::tempdir;

/// A page as printed.
struct Page {
    wide: f64,
    high: f64,
    words: Vec<Word>,
    /// Its text in the order it was drawn, without any white space.
    squeezed: String,
}

/// A word and its box, in points from the top left corner.
struct Word {
    text: String,
    left: f64,
    top: f64,
    right: f64,
    bottom: f64,
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
fn print(html: &str) -> Vec<Page> {
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
    let document = parsed(xml);
    let number = |node: &Node, name: &str| -> f64 {
        node.attribute(name)
            .and_then(|text| text.parse().ok())
            .expect("a number")
    };
    all(&document, "page")
        .iter()
        .zip(drawn.split('\u{c}'))
        .map(|(page, drawn)| Page {
            wide: number(page, "width"),
            high: number(page, "height"),
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
const A4: [f64; 2] = [210.0 / 25.4 * 72.0, 297.0 / 25.4 * 72.0];
/// Printers leave a few millimetres at the edge white: 5 mm, common practice, no published source.
const EDGE: f64 = 5.0 / 25.4 * 72.0;

/// Paragraphs, headings, captions, rows of tables, pieces of script: what nobody wants to turn a page in.
fn whole<'a>(node: &Node<'a, 'a>) -> bool {
    let tag = node.tag_name().name();
    ["h1", "h2", "h3", "p", "li", "caption", "tr", "text"].contains(&tag) || is_of(node, "row")
}

/// What is seen of an element, without any white space.
fn squeezed(node: &Node) -> String {
    let hidden = |text: &Node| {
        let name = |node: Node| ["title", "desc"].contains(&node.tag_name().name());
        text.ancestors().any(name)
    };
    let texts = node
        .descendants()
        .filter(|text| text.is_text() && !hidden(text));
    let text: String = texts.filter_map(|text| text.text()).collect();
    text.split_whitespace().collect()
}

/// All that is asked of any printed sheet; `longer` are words in pieces longer than a page.
fn holds(name: &str, html: &str, landscape: bool, longer: &str) -> Vec<Page> {
    let pages = print(html);
    let [wide, high] = if landscape { [A4[1], A4[0]] } else { A4 };
    for (i, page) in pages.iter().enumerate() {
        assert!(
            (page.wide - wide).abs() < 1.0 && (page.high - high).abs() < 1.0,
            "{name}"
        );
        for word in &page.words {
            let inside = word.left >= EDGE
                && word.top >= EDGE
                && word.right <= wide - EDGE
                && word.bottom <= high - EDGE;
            assert!(inside, "{name}, page {}: {}", i + 1, word.text);
        }
        apart(name, page);
        assert!(
            page.squeezed
                .contains(&format!("page{}of{}", i + 1, pages.len())),
            "{name}"
        );
        let caution = "Timingforwordsandmusiconly;itclearsnobodytodoanything.";
        assert!(page.squeezed.contains(caution), "{name}, page {}", i + 1);
    }
    let xml = as_xml(html);
    let document = parsed(&xml);
    let body = all(&document, "body")[0];
    let mut seen = 0;
    for piece in body.descendants().filter(whole) {
        let text = squeezed(&piece);
        if !longer.is_empty() && text.contains(longer) {
            continue;
        }
        let there = pages.iter().any(|page| page.squeezed.contains(&text));
        assert!(there, "{name}: not whole on any page: {text}");
        seen += 1;
    }
    assert!(seen > 10, "{name}: {seen}");
    pages
}

/// No two words of a page are over one another. A word's box has room above and below its letters.
fn apart(name: &str, page: &Page) {
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

#[test]
fn the_demonstration_prints_whole_on_a4() {
    for reader in READERS {
        let html = sheet(DEMO, reader, &[]);
        let pages = holds(reader, &html, reader == "team", "");
        assert!(pages.len() <= 8, "{reader}: {} pages", pages.len());
        if reader == "stopwatch" {
            assert_eq!(pages.len(), 1);
        }
    }
}

#[test]
fn endless_names_and_many_cues_print_whole_too() {
    let folder = Folder::of(&crowded());
    for reader in READERS {
        let html = folder.sheet(reader, &[]);
        let pages = holds(reader, &html, reader == "team", "word0word1word2");
        if reader == "stopwatch" {
            assert_eq!(pages.len(), 1, "a card is one page");
        }
        if reader == "stand" {
            // What is longer than a page goes on on the next, and no word of it is lost.
            let words: Vec<&str> = pages
                .iter()
                .flat_map(|page| &page.words)
                .map(|word| word.text.as_str())
                .collect();
            let told: Vec<String> = (0..900).map(|i| format!("word{i}")).collect();
            let mut at = 0;
            for word in &told {
                let next = words[at..].iter().position(|one| one == word);
                at += next.unwrap_or_else(|| panic!("{word} is lost")) + 1;
            }
        }
    }
}

#[test]
fn the_prepared_words_have_a_page_of_their_own() {
    let folder = Folder::of(SMALL);
    let pages = holds("small", &folder.sheet("stand", &[]), false, "");
    let (last, before) = pages.split_last().expect("pages");
    assert!(last.squeezed.contains("Staywhereyouare."));
    assert!(
        last.squeezed.contains("Ifthedisplayisstopped") && !last.squeezed.contains("Inorderoftime")
    );
    assert!(
        !before
            .iter()
            .any(|page| page.squeezed.contains("Staywhereyouare."))
    );
}

/// A show of so many passes, each from a hold and each with music of its own.
fn run_ins(count: usize) -> String {
    let ids: Vec<String> = (0..count).map(|i| format!("pass-{i}")).collect();
    let each = ids.iter().map(|id| {
        format!(
            "[[figure]]\nid = \"{id}\"\nname = \"Of the name {id}\"\nfrom = \"left\"\nlegs = [\n\
             {{ hold = \"2 nmi\", expect = \"200 s\", spread = \"2 s\" }},\n\
             {{ run = \"to centre\", speed = \"150 kt tas\", height = \"300 ft\", pass = true }},\n]\n\
             [[track]]\nid = \"music-of-{id}\"\nfile = \"hymn.wav\"\nends = \"{id}.abeam + 20 s\"\nfade_out = \"3 s\"\n\
             hits = {{ verse = \"0:30\" }}\nmeets = {{ hit = \"verse\", on = \"{id}.abeam\", within = \"1 s\", if_missed = \"late\" }}\n"
        )
    });
    let each: String = each.collect();
    format!(
        "[show]\ntitle = \"Many run-ins\"\nstart = \"15:00:00\"\n[profile.high]\norder = {ids:?}\n\
         [site]\nelevation = \"0 m\"\nline_bearing = 30\nline_distance = \"230 m\"\n\
         [aircraft.solo]\nname = \"Solo\"\n{each}"
    )
}

#[test]
fn the_card_is_one_page_in_letters_as_large_as_fit() {
    let sizes = [(3, "roomy"), (5, "close"), (7, "tight"), (10, "tiny")];
    for (count, size) in sizes {
        let html = Folder::of(&run_ins(count)).sheet("stopwatch", &[]);
        assert!(html.contains(&format!("<div class=\"{size}\">")), "{count}");
        assert_eq!(holds(size, &html, false, "").len(), 1, "{count} run-ins");
    }
}
