//! What came of a practice, as JSON.

use serde::Serialize;

use crate::practice::account::{Account, Met};
use crate::practice::hindsight::Advice;
use crate::practice::{BlockOutcome, Errors, Seen};
use crate::script::Version;
use crate::show::Show;
use crate::units::Span;

/// One object; times are on the show clock.
#[derive(Serialize)]
pub struct Rows<'a> {
    title: &'a str,
    seed: u64,
    /// What differed from the plan, in words.
    differed: Vec<&'a str>,
    meets: Vec<MeetRow<'a>>,
    blocks: Vec<BlockRow<'a>>,
    marks: Vec<MarkRow<'a>>,
}

#[derive(Serialize)]
struct MeetRow<'a> {
    track: &'a str,
    wanted_s: f64,
    hit_s: Option<f64>,
    miss_s: Option<f64>,
    met: bool,
    /// How late what it meets was on the plan.
    late_s: Option<f64>,
    start_s: Option<f64>,
    rounds: Option<u32>,
    rate: Option<f64>,
    better: Option<BetterRow<'a>>,
}

/// The one mark that would have brought the hit nearest.
#[derive(Serialize)]
struct BetterRow<'a> {
    figure: &'a str,
    point: String,
    /// How late it was keyed, if it was.
    keyed_late_s: Option<f64>,
    miss_s: f64,
}

#[derive(Serialize)]
struct BlockRow<'a> {
    id: &'a str,
    version: Option<&'static str>,
    slack_s: Option<f64>,
}

#[derive(Serialize)]
struct MarkRow<'a> {
    figure: &'a str,
    point: String,
    seen_s: f64,
    /// How late it was keyed; nothing where it was not.
    late_s: Option<f64>,
}

impl<'a> Rows<'a> {
    /// The rows of an account; `differed` says in words what differed from the plan.
    pub fn of(
        show: &'a Show,
        errors: &Errors,
        differed: &'a [String],
        account: &'a Account,
    ) -> Self {
        Rows {
            title: &show.title,
            seed: errors.seed,
            differed: differed.iter().skip(1).map(|text| text.trim()).collect(),
            meets: account.meets.iter().map(|met| meet(show, met)).collect(),
            blocks: account
                .blocks
                .iter()
                .map(|came| block(show, came))
                .collect(),
            marks: account.seen.iter().map(mark).collect(),
        }
    }
}

fn meet<'a>(show: &'a Show, met: &'a Met) -> MeetRow<'a> {
    let outcome = &met.outcome;
    let course = met.played.as_ref().map(|played| &played.course);
    MeetRow {
        track: show.tracks[outcome.track].id.as_str(),
        wanted_s: outcome.wanted.s(),
        hit_s: outcome.hit.map(|hit| hit.s()),
        miss_s: outcome.miss().map(Span::s),
        met: outcome.met,
        late_s: met.late.map(Span::s),
        start_s: met.played.as_ref().map(|played| played.start.s()),
        rounds: course.map(|course| course.bars()),
        rate: course.map(|course| course.last_rate()),
        better: met.advice.as_ref().map(better),
    }
}

fn better(advice: &Advice) -> BetterRow<'_> {
    BetterRow {
        figure: advice.point.key.as_str(),
        point: advice.point.point.to_string(),
        keyed_late_s: advice.keyed.map(Span::s),
        miss_s: advice.miss.s(),
    }
}

fn block<'a>(show: &'a Show, came: &BlockOutcome) -> BlockRow<'a> {
    BlockRow {
        id: show.blocks[came.block].id.as_str(),
        version: came.version.map(|version| match version {
            Version::Full => "full",
            Version::Short => "short",
            Version::LeftOut => "left out",
        }),
        slack_s: came.slack.map(Span::s),
    }
}

fn mark(seen: &Seen) -> MarkRow<'_> {
    MarkRow {
        figure: seen.point.key.as_str(),
        point: seen.point.point.to_string(),
        seen_s: seen.at.s(),
        late_s: seen.keyed.map(Span::s),
    }
}
