//! `abeam sheet`: what stands on each sheet, for whom, and that nothing on it is more than text.

mod paper;

use std::fs;

use assert_cmd::Command;
use paper::*;
use roxmltree::{Document, Node};

/// What is seen of an element, words apart by one space.
fn text(node: &Node) -> String {
    let texts = node.descendants().filter_map(|node| {
        let line = node.is_element() && ["br", "div", "p"].contains(&node.tag_name().name());
        if line {
            Some(" ")
        } else {
            node.text().filter(|_| node.is_text())
        }
    });
    let text: String = texts.collect();
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The rows of the table whose caption begins so, cell by cell.
fn rows(document: &Document, caption: &str) -> Vec<Vec<String>> {
    let table = all(document, "table").into_iter().find(|table| {
        let mut captions = table.children();
        captions.any(|one| one.has_tag_name("caption") && text(&one).starts_with(caption))
    });
    let table = table.unwrap_or_else(|| panic!("no table {caption}"));
    let rows = table.descendants().filter(|node| node.has_tag_name("tr"));
    rows.map(|row| {
        let cells = row.children().filter(Node::is_element);
        cells.map(|cell| text(&cell)).collect()
    })
    .collect()
}

/// A sheet as a snapshot shows it: an element a line, without style and pictures.
fn lines(html: &str) -> String {
    let without = |html: String, tag: &str| {
        let (open, close) = (format!("<{tag}"), format!("</{tag}>"));
        match html.find(&open).zip(html.find(&close)) {
            Some((from, to)) => format!("{}{}", &html[..from], &html[to + close.len()..]),
            None => html,
        }
    };
    let html = without(without(html.to_owned(), "style"), "svg");
    [
        "<section", "<table", "<tr", "<tbody", "<div", "<p", "<h", "<main", "<ul", "<li",
    ]
    .iter()
    .fold(html, |html, tag| html.replace(tag, &format!("\n{tag}")))
}

#[test]
fn each_sheet_of_a_small_show() {
    let folder = Folder::of(SMALL);
    for reader in READERS {
        let html = lines(&folder.sheet(reader, &[]));
        insta::assert_snapshot!(format!("sheet_{reader}"), html);
    }
}

#[test]
fn no_text_of_a_show_is_anything_but_text() {
    for document in [SMALL.to_owned(), SMALL.replace("Small ", "</style>\\\" ")] {
        let folder = Folder::of(&document);
        for reader in READERS {
            let html = folder.sheet(reader, &[]);
            assert!(!html.contains("<script") && !html.contains("<b>"), "{html}");
            assert_eq!(html.matches("</style>").count(), 1, "{reader}");
            let xml = as_xml(&html);
            let document = parsed(&xml);
            let body = all(&document, "body")[0];
            assert!(text(&body).contains("<script>alert('show')</script> & quiet"));
            for node in document.descendants() {
                for attribute in node.attributes() {
                    let (key, value) = (attribute.name(), attribute.value());
                    assert!(
                        !key.starts_with("on") && !value.contains("alert"),
                        "{key}={value}"
                    );
                    // Self-contained: nothing is fetched from anywhere.
                    assert!(!["src", "href"].contains(&key), "{key}={value}");
                }
            }
        }
    }
}

/// WCAG 2.2: 3.1.1 language of page, 2.4.2 page titled, 1.3.1 info and relationships (technique H63: scope).
#[test]
fn sheets_are_for_those_who_have_them_read_aloud_too() {
    let (small, crowd) = (Folder::of(SMALL), Folder::of(&crowded()));
    for reader in READERS {
        for html in [
            small.sheet(reader, &[]),
            crowd.sheet(reader, &[]),
            sheet(DEMO, reader, &[]),
        ] {
            let xml = as_xml(&html);
            let document = parsed(&xml);
            assert_eq!(document.root_element().attribute("lang"), Some("en"));
            assert!(!all(&document, "title")[0].text().unwrap_or("").is_empty());
            assert_eq!(all(&document, "h1").len(), 1);
            assert_eq!(all(&document, "main").len(), 1);
            let mut level = 1;
            for heading in document.descendants() {
                let next = match heading.tag_name().name() {
                    "h1" => 1,
                    "h2" => 2,
                    "h3" => 3,
                    _ => continue,
                };
                assert!(next <= level + 1 && !text(&heading).is_empty(), "{reader}");
                level = next;
            }
            for head in all(&document, "th") {
                let scope = head.attribute("scope").expect("a scope");
                assert!(["col", "row", "rowgroup"].contains(&scope), "{scope}");
            }
            for table in all(&document, "table") {
                let first = table.first_element_child().expect("a caption");
                assert!(first.has_tag_name("caption") && !text(&first).is_empty());
            }
        }
    }
}

/// Contrast by WCAG 2.2, 1.4.3: relative luminance, at least 4.5 to 1.
#[test]
fn sheets_are_grey_and_dark_enough_on_white() {
    let style = include_str!("../src/sheets/sheet.css");
    let colours: Vec<&str> = style.split('#').skip(1).collect();
    assert!(colours.len() > 8);
    for colour in colours {
        let digits: Vec<u8> = colour
            .bytes()
            .take_while(u8::is_ascii_hexdigit)
            .map(|digit| (digit as char).to_digit(16).expect("a digit") as u8)
            .collect();
        assert!(digits.len() == 3 && digits.iter().all(|digit| *digit == digits[0]));
        let part = f64::from(digits[0]) / 15.0;
        let luminance = if part <= 0.04045 {
            part / 12.92
        } else {
            ((part + 0.055) / 1.055).powf(2.4)
        };
        let contrast = 1.05 / (luminance + 0.05);
        assert!(contrast >= 4.5 || digits[0] == 15, "{digits:?} {contrast}");
    }
}

#[test]
fn the_script_says_what_to_say_and_when_to_stop() {
    let folder = Folder::of(SMALL);
    let xml = as_xml(&folder.sheet("stand", &[]));
    let document = parsed(&xml);
    let blocks: Vec<Node> = document
        .descendants()
        .filter(|node| is_of(node, "block"))
        .collect();
    let told: Vec<String> = blocks.iter().map(text).collect();
    assert_eq!(told.len(), 5, "{told:#?}");
    assert!(told[0].starts_with(
        "14:59:30 −0:30 welcome must be said; for 1 Arrival <script>, from the right Good afternoon,"
    ), "{}", told[0]);
    assert!(
        told[0].contains("Short: Good afternoon. Takes"),
        "{}",
        told[0]
    );
    assert!(
        told[0].contains("Stop talking by 14:59:50, Arrival <script> abeam − 10 s;"),
        "{}",
        told[0]
    );
    // What does not fit is not what stands there large.
    let large: Vec<String> = blocks[1]
        .descendants()
        .filter(|node| is_of(node, "words"))
        .map(|node| text(&node))
        .collect();
    assert_eq!(large, ["Only these."]);
    assert!(told[1].contains("Full, for which there is no time: These words are many more"));
    assert!(
        told[2].starts_with("lake may be left out The lake is deep."),
        "{}",
        told[2]
    );
    assert!(told[3].contains("Knock-it-off Stay where you are. There will be <b>news</b>."));
    assert!(told[4].ends_with("No statement is prepared. Say nothing more."));
    let body = text(&all(&document, "body")[0]);
    assert!(
        body.contains("Silence: nobody speaks for 11 s, until"),
        "{body}"
    );
    assert!(body.contains("Stop talking: too loud for"), "{body}");
    // Fillers come after everything with a time.
    let filler = body.find("Fillers").expect("fillers");
    assert!(body.find("tight").is_some_and(|at| at < filler));
}

#[test]
fn flown_mirrored_everything_comes_from_the_other_side() {
    let folder = Folder::of(SMALL);
    let xml = as_xml(&folder.sheet("stand", &["--mirrored"]));
    let body = text(&all(&parsed(&xml), "body")[0]);
    assert!(body.contains("profile high, mirrored"), "{body}");
    assert!(
        body.contains("for 1 Arrival <script>, from the left"),
        "{body}"
    );
    assert!(
        body.contains("for 3 Memorial pass, from the right"),
        "{body}"
    );
}

#[test]
fn what_the_profile_does_not_fly_is_told_apart() {
    let folder = Folder::of(SMALL);
    let stand = as_xml(&folder.sheet("stand", &["--profile", "low"]));
    let stand = text(&all(&parsed(&stand), "body")[0]);
    let apart = stand.find("Not said in this profile").expect("a heading");
    assert!(stand[apart..].contains("tight should be said"), "{stand}");
    let xml = as_xml(&folder.sheet("desk", &["--profile", "low"]));
    let rows = rows(&parsed(&xml), "Not played in this profile");
    assert!(rows.len() == 3 && rows[1][0].starts_with("hymn") && rows[2][0].starts_with("closing"));
}

#[test]
fn the_cue_list_has_every_cue_in_order_of_time() {
    let folder = Folder::of(SMALL);
    let xml = as_xml(&folder.sheet("desk", &[]));
    let document = parsed(&xml);
    let cues = rows(&document, "Cues in order of time");
    let kinds: Vec<&str> = cues[1..]
        .iter()
        .map(|row| row[1].split(['.', ' ', ':']).next().expect("a word"))
        .collect();
    assert_eq!(kinds, ["Words", "Words", "hymn", "Call", "hymn", "closing"]);
    let times: Vec<&str> = cues[1..].iter().map(|row| row[0].as_str()).collect();
    assert!(times.is_sorted(), "{times:?}");
    let hymn = cues[3].join(" | ");
    for said in [
        "hymn.wav",
        "1:30.0 long",
        "automatic",
        "from 0:00.000",
        "−18 LUFS",
        "fade in 1 s",
        "12 dB down for words",
        "hit verse at 0:48.000, +0:48.0 after the start",
        "meets Memorial pass abeam within 1 s",
        "If it cannot: from the first entry, late",
        ", over 4 s",
        "silent 15:",
    ] {
        assert!(hymn.contains(said), "{said}: {hymn}");
    }
    assert_eq!(
        cues[4][1],
        "Call to the <coordinator>: Smoke & on (Memorial pass abeam − 10 s)"
    );
    assert_eq!(cues[5][1], "hymn begins to fade, over 4 s");
    let by_hand = rows(&document, "Started by hand");
    assert!(by_hand[1][0].starts_with("sting") && by_hand[1][1].starts_with("by hand"));
}

/// A run at a true airspeed along the wind takes distance over the sum of both: kinematics, worked out here.
#[test]
fn run_ins_in_other_winds_take_distance_over_ground_speed() {
    let folder = Folder::of(SMALL);
    // Whatever the day's own wind is, the table has its own.
    for options in [&[][..], &["--wind", "180/25kt"], &["--mirrored"]] {
        let xml = as_xml(&folder.sheet("team", options));
        let document = parsed(&xml);
        let table = rows(&document, "From hold and gates");
        let winds: Vec<f64> = table[0][2..11]
            .iter()
            .map(|head| match head.as_str() {
                "calm" => 0.0,
                head => head
                    .replace('−', "-")
                    .trim_end_matches(" kt")
                    .parse()
                    .expect("knots"),
            })
            .collect();
        assert_eq!(
            winds,
            [-20.0, -15.0, -10.0, -5.0, 0.0, 5.0, 10.0, 15.0, 20.0]
        );
        let ways = [
            ("hold, 4 nmi", 4.0),
            ("gate 1, 2 nmi", 2.0),
            ("hold, 4 nmi", 4.0),
            ("gate 1, 2 nmi", 2.0),
            ("gate 2, 1 nmi", 1.0),
        ];
        let timed = table[1..]
            .iter()
            .filter(|row| !row.iter().any(|cell| cell.starts_with("leave")));
        let mut seen = 0;
        for (row, (place, nmi)) in timed.zip(ways) {
            let from = row.iter().position(|cell| cell == place);
            let from = from.unwrap_or_else(|| panic!("{place}: {row:?}"));
            for (cell, kt) in row[from + 1..].iter().zip(&winds) {
                let expected = nmi / (220.0 - kt) * 3_600.0;
                let told: f64 = cell.parse().expect("seconds");
                assert!(
                    (told - expected).abs() < 0.06,
                    "{place} {kt}: {told} {expected}"
                );
                seen += 1;
            }
        }
        assert_eq!(seen, 45);
        // Leaving by the table, in that wind, is abeam as planned: zero, which is 15:00:00.
        let leave = table
            .iter()
            .find(|row| row[0] == "leave the hold at")
            .expect("a row");
        for (cell, kt) in leave[1..].iter().zip(&winds) {
            let second = 60.0 - 4.0 / (220.0 - kt) * 3_600.0;
            let (minute, second) = if second < 0.0 {
                (58, second + 60.0)
            } else {
                (59, second)
            };
            assert_eq!(
                *cell,
                format!(
                    "14:{minute}:{:02.0}",
                    second.floor() + (second.fract() + 0.5).floor()
                )
            );
        }
    }
}

#[test]
fn the_team_has_every_figure_with_its_points() {
    let folder = Folder::of(SMALL);
    let xml = as_xml(&folder.sheet("team", &[]));
    let document = parsed(&xml);
    let figures = rows(&document, "Figures as planned");
    assert_eq!(figures.len(), 5);
    let arrival = &figures[1];
    assert_eq!(arrival[..3], ["1", "Arrival <script>", "right"]);
    // 4 nmi and 2 nmi at 220 kt: 65.5 s and 32.7 s before abeam.
    assert_eq!(arrival[4], "14:58:55 −1:05");
    assert_eq!(arrival[5], "14:59:27 −0:33 2 nmi");
    assert_eq!(arrival[6], "15:00:00 0:00");
    assert!(arrival[7].starts_with('±'));
    assert_eq!(figures[2][1], "Home only timed");
    assert!(rows(&document, "Calls")[1].contains(&"Smoke & on".to_owned()));
    assert_eq!(all(&document, "svg").len(), 1);
}

#[test]
fn the_card_counts_from_inbound_of_each_tracks_figure_and_else_from_zero() {
    let folder = Folder::of(SMALL);
    let xml = as_xml(&folder.sheet("stopwatch", &[]));
    let document = parsed(&xml);
    let card = rows(&document, "Music by the stop-watch");
    let part = |head: &str| {
        let at = card.iter().position(|row| row[0].starts_with(head));
        &card[at.unwrap_or_else(|| panic!("{card:?}"))..]
    };
    let memorial = part("Watch from 3 Memorial pass inbound");
    // 4 nmi at 220 kt take 65.45 s; the verse comes 48 s into the hymn, which is faded out 8 s after abeam.
    assert_eq!(memorial[1][0], "+0:17.5");
    assert!(memorial[1][1].starts_with(
        "Start hymn (hymn.wav) from 0:00.0, −18 LUFS, fade in 1 s; verse comes 0:48.0 later"
    ));
    assert_eq!(memorial[2][..2], ["+1:05.5", "abeam"]);
    assert_eq!(memorial[3][..2], ["+1:09.5", "Fade hymn over 4 s"]);
    let zero = part("Watch from show zero, Arrival <script> abeam");
    assert!(zero[1][1].starts_with("Start closing"), "{zero:?}");
    // Its figure has no inbound; the one before it ends 1 nmi after abeam, 16.4 s at 220 kt, 5 s before the start.
    assert!(
        zero[1][1].contains("+1:26.8 from 3 Memorial pass inbound"),
        "{zero:?}"
    );
    assert!(text(&all(&document, "body")[0]).contains("Whenever it is wanted: sting (hymn.wav)."));
}

#[test]
fn the_demonstration_is_all_there() {
    let document = fs::read_to_string(DEMO).expect("the document");
    let value = |line: &str| Some(line.split_once('"')?.1.rsplit_once('"')?.0.to_owned());
    let every = |key: &str| -> Vec<String> {
        let lines = document
            .lines()
            .filter(|line| line.split('=').next().is_some_and(|k| k.trim() == key));
        lines.filter_map(value).collect()
    };
    let shown = |reader: &str| text(&all(&parsed(&as_xml(&sheet(DEMO, reader, &[]))), "body")[0]);
    let stand = shown("stand");
    for words in every("short") {
        // What stands in braces depends on the side flown.
        for piece in words.split(['{', '}']).step_by(2) {
            assert!(stand.contains(piece), "{words}");
        }
    }
    for words in every("knock_it_off").into_iter().chain(every("accident")) {
        assert!(stand.contains(&words), "{words}");
    }
    let (desk, card) = (shown("desk"), shown("stopwatch"));
    let files = every("file");
    assert!(files.len() >= 4);
    for file in files {
        assert!(desk.contains(&file) && card.contains(&file), "{file}");
    }
}

#[test]
fn cautions_stand_on_every_sheet_whole_and_at_the_foot() {
    let readme = include_str!("../README.md");
    let (_, cautions) = readme.split_once("## Caution\n\n").expect("cautions");
    let cautions = cautions.split_once("\n\n").expect("a paragraph").0;
    let flowing = cautions.split_whitespace().collect::<Vec<_>>().join(" ");
    for reader in READERS {
        let html = sheet(DEMO, reader, &[]);
        let xml = as_xml(&html);
        let document = parsed(&xml);
        let shown = text(&all(&document, "body")[0]);
        for sentence in flowing.split_inclusive(['.', ';']) {
            // A key is none on paper.
            if !sentence.contains("(k)") {
                assert!(shown.contains(sentence.trim()), "{sentence}");
            }
        }
        assert!(html.contains("@bottom-left{content:\"Timing for words and music only\\3b  it clears nobody to do anything.\"}"));
    }
}

#[test]
fn a_plan_with_faults_says_so_on_its_sheet() {
    let document = SMALL.replace("slot_ends = \"15:06:00\"", "slot_ends = \"15:01:00\"");
    let folder = Folder::of(&document);
    let xml = as_xml(&folder.sheet("desk", &[]));
    let shown = text(&all(&parsed(&xml), "body")[0]);
    assert!(shown.contains("This plan has faults"), "{shown}");
    assert!(shown.contains("after its slot"), "{shown}");
    assert!(
        !Folder::of(SMALL)
            .sheet("desk", &[])
            .contains("This plan has faults")
    );
}

fn run(args: &[&str]) -> (Option<i32>, String, String) {
    let output = Command::cargo_bin("abeam")
        .expect("the program")
        .args(args)
        .output()
        .expect("run");
    let text = |bytes| String::from_utf8(bytes).expect("text");
    (
        output.status.code(),
        text(output.stdout),
        text(output.stderr),
    )
}

#[test]
fn a_file_is_written_over_only_if_it_is_a_sheet() {
    let folder = Folder::of(SMALL);
    let show = folder.show();
    let show = show.to_str().expect("a path");
    let file = folder.0.path().join("paper/stand.html");
    let name = file.to_str().expect("a path");
    let write = ["sheet", show, "--for", "stand", "-o", name];
    let (code, printed, told) = run(&write);
    assert_eq!((code, printed.as_str(), told.as_str()), (Some(0), "", ""));
    let written = fs::read_to_string(&file).expect("a sheet");
    assert_eq!(written, folder.sheet("stand", &[]));
    assert_eq!(
        run(&[&write[..], &["--wind", "090/10kt"]].concat()).0,
        Some(0)
    );
    assert_ne!(fs::read_to_string(&file).expect("a sheet"), written);

    fs::write(&file, "somebody's notes").expect("a file");
    let (code, _, told) = run(&write);
    assert_eq!(code, Some(2));
    assert!(
        told.contains("is no sheet by abeam: name another file for -o"),
        "{told}"
    );
    assert_eq!(
        fs::read_to_string(&file).expect("a file"),
        "somebody's notes"
    );
}

#[test]
fn a_reader_there_is_no_sheet_for_is_refused() {
    for args in [&["sheet", DEMO][..], &["sheet", DEMO, "--for", "crowd"]] {
        let (code, printed, told) = run(args);
        assert_eq!((code, printed.as_str()), (Some(2), ""));
        assert!(told.contains("--for"), "{told}");
    }
    let (.., told) = run(&["sheet", DEMO, "--for", "crowd"]);
    assert!(told.contains("stand, desk, team, stopwatch"), "{told}");
}
