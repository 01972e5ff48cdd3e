//! Shows to be printed, the program that prints them, and what is needed to look at a sheet.

use std::fs;
use std::path::PathBuf;

use assert_cmd::Command;
use roxmltree::{Document, Node};
use tempfile::TempDir;

/// Everyone there is a sheet for.
pub const READERS: [&str; 4] = ["stand", "desk", "team", "stopwatch"];

pub const DEMO: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/cues/lantern-lake.toml");

/// A small show with one of everything; its runs are flown at a true airspeed in still air.
pub const SMALL: &str = r#"
[show]
title = "Small <script>alert('show')</script> & quiet"
start = "15:00:00"
zero = "arrival.abeam"
slot_ends = "15:06:00"
[profile.high]
order = ["arrival", "home", "memorial", "away"]
[profile.low]
order = ["arrival"]
[words]
knock_it_off = "Stay where you are.\n\nThere will be <b>news</b>."
[site]
elevation = "0 m"
line_bearing = 90
line_distance = "230 m"
[aircraft.solo]
name = "Solo"

[[figure]]
id = "arrival"
name = "Arrival <script>"
from = "right"
gates = ["2 nmi"]
spread = "1 s"
legs = [
  { hold = "4 nmi", expect = "30 s", spread = "5 s" },
  { run = "to centre", speed = "220 kt tas", height = "500 ft", pass = true },
  { run = "for 1 nmi" },
]
[[figure]]
id = "home"
name = "Home"
takes = "60 s"
[[figure]]
id = "memorial"
name = "Memorial pass"
from = "left"
gates = ["2 nmi", "1 nmi"]
spread = "1 s"
legs = [
  { hold = "4 nmi", expect = "40 s", spread = "8 s" },
  { run = "to centre", speed = "220 kt tas", height = "500 ft", pass = true },
  { run = "for 1 nmi" },
]
[[figure]]
id = "away"
name = "Away"
from = "right"
takes = "30 s"
passes = ["20 s"]
hush = { from = "-4 s", until = "8 s" }

[[block]]
id = "welcome"
text = "Good afternoon, <script>alert(1)</script> & welcome."
short = "Good afternoon."
keep = "must"
starts = "arrival.abeam - 30 s"
ends_by = "arrival.abeam - 10 s"
[[block]]
id = "tight"
text = "These words are many more than anybody could say in the four seconds that are given to them here, so that only the short ones are left."
short = "Only these."
keep = "should"
starts = "memorial.inbound + 2 s"
ends_by = "memorial.inbound + 6 s"
[[block]]
id = "lake"
text = "The lake is deep."
keep = "may"
[[silence]]
from = "memorial.abeam - 3 s"
until = "memorial.abeam + 8 s"
[[call]]
id = "smoke"
who = "the <coordinator>"
at = "memorial.abeam - 10 s"
text = "Smoke & on"

[[track]]
id = "hymn"
file = "hymn.wav"
level = "-18 LUFS"
fade_in = "1 s"
fade_out = "4 s"
ends = "memorial.abeam + 8 s"
hits = { verse = "0:48.000" }
meets = { hit = "verse", on = "memorial.abeam", within = "1 s", if_missed = "late" }
duck = "12 dB"
[[track]]
id = "closing"
file = "hymn.wav"
starts = "away.start + 5 s"
[[track]]
id = "sting"
file = "hymn.wav"
go = "hand"
under = true
"#;

/// Words that take more than a page, names that have no spaces, more tracks than anybody would play, no
/// time of day.
pub fn crowded() -> String {
    let endless = "Donaudampfschifffahrt".repeat(9);
    let words: Vec<String> = (0..900).map(|i| format!("word{i}")).collect();
    let mut text = format!(
        "[show]\ntitle = \"{}\"\n[profile.{}]\norder = [\"one\", \"{endless}\", \"one\"]\n\
         [site]\nelevation = \"0 m\"\nline_bearing = 30\nline_distance = \"230 m\"\n\
         [aircraft.solo]\nname = \"Solo\"\n[aircraft.second]\nname = \"{endless}\"\n\
         [[figure]]\nid = \"one\"\nname = \"One\"\naircraft = \"solo\"\nfrom = \"left\"\ntakes = \"300 s\"\npasses = [\"40 s\", \"90 s\", \"200 s\"]\n\
         [[figure]]\nid = \"{endless}\"\nname = \"{endless}\"\naircraft = [\"solo\", \"second\"]\nfrom = \"left\"\ngates = [\"1.25 nmi\"]\nlegs = [\n\
         {{ hold = \"2 nmi\", expect = \"20 s\", spread = \"2 s\" }},\n\
         {{ run = \"to centre\", speed = \"150 kt tas\", height = \"300 ft\", pass = true }},\n]\n\
         [[block]]\nid = \"sermon\"\nkeep = \"may\"\nstarts = \"show\"\ntext = \"{}\"\n",
        "A title that goes on and on ".repeat(6),
        "p".repeat(40),
        words.join(" "),
    );
    for i in 0..24 {
        let at = 600 + 20 * i;
        text += &format!(
            "[[block]]\nid = \"b{i}-{}\"\nstarts = \"show + {at} s\"\ntext = \"The {i}th piece is said here, {}.\"\nshort = \"{endless}\"\n\
             [[call]]\nid = \"c{i}\"\nwho = \"{endless}\"\nat = \"show + {at} s\"\ntext = \"{}\"\n",
            "long-".repeat(i),
            "and on it goes ".repeat(1 + 3 * i),
            "Call it ".repeat(1 + i),
        );
    }
    for i in 0..12 {
        text += &format!(
            "[[track]]\nid = \"track-{i}\"\nfile = \"hymn.wav\"\nunder = true\nends = \"show + {} s\"\nfade_out = \"3 s\"\n\
             hits = {{ {} = \"0:12.000\", last = \"0:30\" }}\nmeets = {{ hit = \"last\", on = \"one.abeam.{}\", within = \"1 s\", if_missed = \"nearest\" }}\n",
            200 + i,
            endless,
            1 + i % 3,
        );
    }
    text
}

/// A folder with a show in `cues/show.toml` and its music in `media/hymn.wav`, a minute and a half of silence.
pub struct Folder(pub TempDir);

impl Folder {
    pub fn of(document: &str) -> Folder {
        let folder = Folder(TempDir::new().expect("a folder"));
        for name in ["cues", "media"] {
            fs::create_dir(folder.0.path().join(name)).expect("a folder in it");
        }
        fs::write(folder.show(), document).expect("the document");
        let spec = hound::WavSpec {
            channels: 1,
            sample_rate: 8_000,
            bits_per_sample: 16,
            sample_format: hound::SampleFormat::Int,
        };
        let file = folder.0.path().join("media/hymn.wav");
        let mut wav = hound::WavWriter::create(file, spec).expect("a file");
        for _ in 0..90 * 8_000 {
            wav.write_sample(0_i16).expect("a sample");
        }
        wav.finalize().expect("a track");
        folder
    }

    pub fn show(&self) -> PathBuf {
        self.0.path().join("cues/show.toml")
    }

    /// A sheet of the show.
    pub fn sheet(&self, reader: &str, options: &[&str]) -> String {
        sheet(self.show().to_str().expect("a path"), reader, options)
    }
}

/// A sheet of a show, whether it has faults or not.
pub fn sheet(show: &str, reader: &str, options: &[&str]) -> String {
    let output = Command::cargo_bin("abeam")
        .expect("the program")
        .args(["sheet", show, "--for", reader])
        .args(options)
        .output()
        .expect("run");
    let said = String::from_utf8_lossy(&output.stderr);
    let sheet = String::from_utf8(output.stdout).expect("text");
    assert!(!sheet.is_empty(), "{said}");
    sheet
}

/// The sheet as XML has it: the elements of HTML that are never closed, closed.
pub fn as_xml(html: &str) -> String {
    let text = html.replace("<!DOCTYPE html>", "").replace("<br>", "<br/>");
    let pieces = text.split("<meta").enumerate().map(|(i, piece)| match i {
        0 => piece.to_owned(),
        _ => format!("<meta{}", piece.replacen('>', "/>", 1)),
    });
    pieces.collect()
}

pub fn parsed(xml: &str) -> Document<'_> {
    Document::parse(xml).unwrap_or_else(|error| panic!("{error}: {xml}"))
}

/// Every element so called.
pub fn all<'a>(document: &'a Document<'a>, tag: &str) -> Vec<Node<'a, 'a>> {
    let nodes = document.descendants();
    nodes
        .filter(|node| node.is_element() && node.tag_name().name() == tag)
        .collect()
}

/// Whether an element is of a class.
pub fn is_of(node: &Node, class: &str) -> bool {
    let classes = node.attribute("class").unwrap_or("");
    node.is_element() && classes.split(' ').any(|one| one == class)
}
