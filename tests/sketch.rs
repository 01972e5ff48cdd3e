//! A sketch of a show comes to the same as the whole session folded: odds rest on it.

mod long_show;
mod memorial;
mod pair;
mod rehearsal;

use std::path::Path;
use std::sync::Arc;

use abeam::practice::errors::seed_of;
use abeam::practice::keying::Keyed;
use abeam::practice::outcome::BlockOutcome;
use abeam::practice::sketch::Sketch;
use abeam::practice::{Errors, Outcome, WindError, run};
use abeam::script::readings;
use abeam::show::Show;
use abeam::show::load::load;
use abeam::sound::probe;
use abeam::timeline::{Facts, Plan};
use abeam::units::Span;

/// What a hit and what is left after words may differ by.
const SAME: Span = Span::from_ms(10);

fn demo(profile: &str) -> (Arc<Show>, Arc<Plan>) {
    let home = Path::new(env!("CARGO_MANIFEST_DIR"));
    let show = load(&home.join("cues/lantern-lake.toml"))
        .expect("the demo")
        .show;
    let length = |track: &abeam::show::Track| {
        probe(&home.join("media").join(&track.file)).map_or(Span::ZERO, |facts| facts.duration)
    };
    let facts = Facts {
        readings: readings(&show),
        track_lengths: show.tracks.iter().map(length).collect(),
    };
    let plan = Plan::new(&show, &profile.into(), &show.day, facts);
    (Arc::new(show), Arc::new(plan))
}

/// How two outcomes of one show differ, if they do.
fn differs(whole: &Outcome, sketched: &Outcome) -> Option<String> {
    let near = |one: Option<Span>, other: Option<Span>| match (one, other) {
        (Some(one), Some(other)) => (one - other).abs() <= SAME,
        (one, other) => one == other,
    };
    if (whole.meets.len(), whole.blocks.len()) != (sketched.meets.len(), sketched.blocks.len()) {
        return Some(format!("{whole:?}\n{sketched:?}"));
    }
    let meets = whole.meets.iter().zip(&sketched.meets);
    let meets = meets.filter(|(one, other)| {
        let edge = one
            .miss()
            .zip(other.miss())
            .is_some_and(|_| one.met != other.met);
        (one.track, one.round) != (other.track, other.round)
            || !near(one.miss(), other.miss())
            || edge
    });
    let mut blocks: Vec<_> = sketched.blocks.clone();
    blocks.sort_by_key(|block| (block.block, block.round));
    let mut of_whole: Vec<_> = whole.blocks.clone();
    of_whole.sort_by_key(|block| (block.block, block.round));
    let said = |block: &BlockOutcome| (block.block, block.round, block.version);
    let blocks = of_whole
        .into_iter()
        .zip(blocks)
        .filter(|(one, other)| said(one) != said(other) || !near(one.slack, other.slack));
    let told: Vec<String> = meets
        .map(|pair| format!("{pair:?}"))
        .chain(blocks.map(|pair| format!("{pair:?}")))
        .collect();
    (!told.is_empty()).then(|| told.join("\n"))
}

/// Folds and sketches so many shows, and says which differ.
fn compare(
    name: &str,
    (show, plan): &(Arc<Show>, Arc<Plan>),
    runs: u64,
    of: impl Fn(u64) -> Errors,
) {
    let sketch = Sketch::of(show, plan).expect("a show that can be sketched");
    let mut sheet = sketch.sheet();
    let mut differing = Vec::new();
    for i in 0..runs {
        let errors = of(seed_of(11, i));
        let whole = run(show, plan, &errors, Keyed::Plainly).outcome;
        if let Some(how) = differs(&whole, &sheet.run(&errors)) {
            differing.push(format!("{name}, show {i}: {how}"));
        }
    }
    let count = differing.len();
    assert!(count == 0, "{count} of {runs}:\n{}", differing.join("\n\n"));
}

#[test]
fn the_demonstration_comes_out_as_whole_sessions_have_it() {
    compare("demo", &demo("high"), 300, Errors::drawn);
    compare("low", &demo("low"), 40, Errors::drawn);
}

#[test]
fn other_shows_come_out_as_whole_sessions_have_them() {
    compare("rehearsal", &rehearsal::plan("high"), 300, Errors::drawn);
    let folder = memorial::Folder::new();
    let memorial = memorial::Planned::of(&folder);
    compare(
        "memorial",
        &(memorial.show, memorial.plan),
        100,
        Errors::drawn,
    );
    compare("long", &long_show::plan(), 3, Errors::drawn);
}

#[test]
fn one_cause_alone_and_a_wild_wind_come_out_alike_too() {
    let show = rehearsal::plan("high");
    let wind = |seed| Errors {
        seed,
        wind: WindError::Drawn,
        ..Errors::none()
    };
    let marks = |seed| Errors {
        seed,
        marks: true,
        ..Errors::none()
    };
    let missed = |seed| Errors {
        missed: abeam::units::Share::from_whole(0.2),
        ..Errors::drawn(seed)
    };
    compare("wind", &show, 60, wind);
    compare("marks", &show, 60, marks);
    compare("missed", &show, 60, missed);
}

/// Times that hang on words and on music, words that wait, meets that fade or come nearest.
#[test]
fn shows_whose_cues_hang_on_one_another_come_out_alike_too() {
    let hanging = rehearsal::DISPLAY
        .replace(
            "starts = \"slow-pass.abeam - 20 s\"",
            "short = \"Slow.\"\nkeep = \"may\"\nstarts = \"welcome.end + 15 s\"\nends_by = \"slow-pass.abeam\"",
        )
        .replace(
            "went out and did not come home.\"",
            "went out and did not come home. [wait memorial.abeam + 10 s] Thank you.\"",
        )
        .replace("if_missed = \"late\"", "if_missed = \"fade\"")
        + "[[block]]\nid = \"after\"\ntext = \"That was for the crew of the lake, and for all who wait ashore.\"\n\
           short = \"For all.\"\nkeep = \"should\"\nstarts = \"hymn.last_verse + 12 s\"\nends_by = \"departure.start\"\n";
    compare(
        "hanging",
        &rehearsal::plan_of(&hanging, "high"),
        120,
        Errors::drawn,
    );
}

/// The second of two that part comes back for a pass of its own; words, music and a third aircraft hang on what
/// it does.
#[test]
fn cues_on_points_of_one_aircraft_of_a_figure_come_out_alike_too() {
    let back = "  { run = \"for 0.5 nmi\" },\n  { turn = \"180 deg\", g = 4 },\n  { run = \"to centre\", pass = true },\n]";
    let parts = pair::APART.replace("  { run = \"for 0.5 nmi\" },\n]", back);
    let document = pair::document("60, speed = \"18 kt\"", &parts)
        .replace(
            "[\"together\", \"cross\"]",
            "[\"together\", \"cross\", \"after\"]",
        )
        .replace("[aircraft.two]", "[aircraft.two]\n[aircraft.three]")
        + r#"
[[figure]]
id = "after"
aircraft = "three"
from = "left"
starts = "cross.two.end + 4 s"
legs = [{ run = "to centre", speed = "220 kt", height = "500 ft", pass = true }, { run = "for 1 nmi" }]
[[block]]
id = "again"
text = "That was one of them coming home alone, low over the water, for all who wait ashore."
short = "One comes home."
keep = "should"
starts = "cross.two.heard + 8 s"
ends_by = "cross.two.abeam.2 - 1 s"
[[block]]
id = "over"
text = "There he goes. [wait cross.two.end + 3 s] Thank you."
starts = "cross.two.abeam.2 + 1 s"
[[silence]]
from = "cross.one.abeam - 2 s"
until = "cross.two.heard + 1 s"
[[track]]
id = "bell"
file = "bell.flac"
hits = { bell = "0:10.000" }
stretch = "3 %"
fade_out = "2 s"
ends = "cross.two.end + 20 s"
meets = { hit = "bell", on = "cross.two.abeam.2", within = "1 s", if_missed = "late" }
"#;
    let plan = rehearsal::plan_of(&document, "both");
    compare("parted", &plan, 200, Errors::drawn);
}

/// Cues of a figure come again when it is flown again, each flying with its own marks.
#[test]
fn shows_that_fly_a_figure_again_come_out_alike_too() {
    let order = "\"back-two\", \"memorial\", \"departure\"]";
    let again = "\"back-two\", \"memorial\", \"back-one\", \"memorial\", \"back-two\", \"slow-pass\", \"departure\"]";
    let display = rehearsal::DISPLAY.replace(order, again);
    compare(
        "again",
        &rehearsal::plan_of(&display, "high"),
        200,
        Errors::drawn,
    );
    // Music that ends with each flying, that fades where it would miss, and words that may be left out.
    let display = display
        .replace("if_missed = \"late\"", "if_missed = \"fade\"")
        .replace("ends = \"slow-pass.abeam - 30 s\"", "ends = \"clock 19:41:00\"")
        .replace("vamp = {", "ends = \"memorial.end + 5 s\"\nvamp = {")
        .replace(
            "starts = \"slow-pass.abeam - 20 s\"",
            "short = \"Slow.\"\nkeep = \"may\"\nstarts = \"memorial.end - 4 s\"\nends_by = \"memorial.end\"",
        );
    compare(
        "ended",
        &rehearsal::plan_of(&display, "high"),
        200,
        Errors::drawn,
    );
}
