//! Sheets as they come out on paper: Chromium prints them, poppler says where each word is.

mod paper;
mod press;

use paper::*;
use press::*;
use roxmltree::Node;

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
