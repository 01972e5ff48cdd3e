//! Shows sketched a second, and what ten thousand of the demonstration take on all processors (target 2 s on two),
//! beside whole sessions. Prints figures; a busy machine makes them worse, so nothing is asserted.

#[path = "../tests/long_show/mod.rs"]
mod long_show;

use std::path::Path;
use std::sync::Arc;
use std::time::Instant;

use abeam::practice::Errors;
use abeam::practice::errors::seed_of;
use abeam::practice::keying::Keyed;
use abeam::practice::odds::odds;
use abeam::practice::run;
use abeam::practice::sketch::Sketch;
use abeam::script::readings;
use abeam::show::load::load;
use abeam::show::{Show, Track};
use abeam::sound::probe;
use abeam::timeline::{Facts, Plan};
use abeam::units::Span;

const SHOWS: u32 = 10_000;
/// Whole sessions are slow.
const WHOLE: u64 = 40;

fn demo() -> (Arc<Show>, Arc<Plan>) {
    let home = Path::new(env!("CARGO_MANIFEST_DIR"));
    let show = load(&home.join("cues/lantern-lake.toml"))
        .expect("the demo")
        .show;
    let length = |track: &Track| {
        probe(&home.join("media").join(&track.file)).map_or(Span::ZERO, |facts| facts.duration)
    };
    let facts = Facts {
        readings: readings(&show),
        track_lengths: show.tracks.iter().map(length).collect(),
    };
    let plan = Plan::new(&show, &show.profile, &show.day, facts);
    (Arc::new(show), Arc::new(plan))
}

fn main() {
    for (name, (show, plan)) in [("demo", demo()), ("60 figures", long_show::plan())] {
        let sketch = Sketch::of(&show, &plan).expect("a show that can be sketched");
        let mut sheet = sketch.sheet();
        let begun = Instant::now();
        for i in 0..u64::from(SHOWS) / 5 {
            sheet.run(&Errors::drawn(seed_of(1, i)));
        }
        let one = begun.elapsed().as_secs_f64() / f64::from(SHOWS / 5);
        let begun = Instant::now();
        for i in 0..WHOLE {
            run(&show, &plan, &Errors::drawn(seed_of(1, i)), Keyed::Plainly);
        }
        let whole = begun.elapsed().as_secs_f64() / WHOLE as f64;
        println!(
            "{name}: a show sketched {:.0} µs on one processor, {:.0} times as quick as a whole session",
            one * 1e6,
            whole / one
        );
        let begun = Instant::now();
        odds(&show, &plan, SHOWS, 1);
        println!(
            "{name}: the odds of {SHOWS} shows {:.2} s (target of the demo 2 s on two processors)",
            begun.elapsed().as_secs_f64()
        );
    }
}
