//! `abeam odds`: the chance that each meet is made and each block fits.

use clap::Args;
use serde::Serialize;

use super::opened::{Opened, ShowArgs};
use super::{Failure, print, print_json};
use crate::practice::odds::{self, Chance, Sources};
use crate::show::Show;
use crate::units::Share;

/// Says how likely each meet is made and each block fits, by trying shows that differ by chance
#[derive(Debug, Args)]
pub struct Odds {
    #[command(flatten)]
    show: ShowArgs,
    /// How many shows to try
    #[arg(long, default_value_t = 1_000, value_parser = clap::value_parser!(u64).range(1..=1_000_000))]
    runs: u64,
    /// What chance begins with: the same number, the same shows
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// One JSON object instead of text
    #[arg(long)]
    json: bool,
}

/// Chances are from 0 to 1; `low` and `high` are 95 % limits.
#[derive(Serialize)]
struct Report {
    title: String,
    profile: String,
    runs: u64,
    seed: u64,
    meets: Vec<MeetRow>,
    blocks: Vec<BlockRow>,
}

#[derive(Serialize)]
struct ChanceRow {
    chance: f64,
    low: f64,
    high: f64,
}

#[derive(Serialize)]
struct MeetRow {
    track: String,
    within_s: f64,
    retimed: ChanceRow,
    as_planned: ChanceRow,
    from_wind: f64,
    from_pilot: f64,
    from_marks: f64,
}

#[derive(Serialize)]
struct BlockRow {
    id: String,
    fits: ChanceRow,
    said_in_full: f64,
    said_short: f64,
    from_wind: f64,
    from_pilot: f64,
    from_marks: f64,
    from_words: f64,
}

impl Odds {
    /// Tries the shows and prints what came of them.
    pub fn run(self) -> Result<(), Failure> {
        let opened = self.show.open(self.json)?;
        let odds = odds::odds(&opened.show, &opened.plan, self.seed, self.runs);
        if self.json {
            print_json(&self.report(&opened, &odds))
        } else {
            print(&self.text(&opened, &odds))
        }
    }

    fn report(&self, opened: &Opened, odds: &odds::Odds) -> Report {
        let show = &opened.show;
        let meets = odds.meets.iter().map(|meet| MeetRow {
            track: show.tracks[meet.track].id.to_string(),
            within_s: within_s(show, meet.track),
            retimed: row(&meet.retimed),
            as_planned: row(&meet.as_planned),
            from_wind: meet.sources.wind,
            from_pilot: meet.sources.pilot,
            from_marks: meet.sources.marks,
        });
        let blocks = odds.blocks.iter().map(|block| BlockRow {
            id: show.blocks[block.block].id.to_string(),
            fits: row(&block.fits),
            said_in_full: block.said.0.whole(),
            said_short: block.said.1.whole(),
            from_wind: block.sources.wind,
            from_pilot: block.sources.pilot,
            from_marks: block.sources.marks,
            from_words: block.sources.words,
        });
        Report {
            title: show.title.clone(),
            profile: opened.profile.to_string(),
            runs: odds.runs,
            seed: self.seed,
            meets: meets.collect(),
            blocks: blocks.collect(),
        }
    }

    fn text(&self, opened: &Opened, odds: &odds::Odds) -> String {
        let show = &opened.show;
        let mut text = format!(
            "{}, profile {}: {} shows tried, seed {}; chances with their 95 % limits\n",
            show.title, opened.profile, odds.runs, self.seed
        );
        let names = show.tracks.iter().map(|track| track.id.as_str());
        let names = names.chain(show.blocks.iter().map(|block| block.id.as_str()));
        let wide = names
            .map(|name| name.chars().count())
            .max()
            .unwrap_or(0)
            .max(5);
        if !odds.meets.is_empty() {
            text += &format!(
                "\n{:wide$}  within          re-timed        as planned  its miss is due to\n",
                "meet"
            );
        }
        for meet in &odds.meets {
            text += &format!(
                "{:wide$}  {:>5.1}s  {:>16}  {:>16}  {}\n",
                show.tracks[meet.track].id.as_str(),
                within_s(show, meet.track),
                told(&meet.retimed),
                told(&meet.as_planned),
                due_to(&meet.sources)
            );
        }
        if !odds.blocks.is_empty() {
            text += &format!(
                "\n{:wide$}              fits  full  short  what is left after it varies with\n",
                "block"
            );
        }
        for block in &odds.blocks {
            text += &format!(
                "{:wide$}  {:>16}  {:>3.0}%  {:>4.0}%  {}\n",
                show.blocks[block.block].id.as_str(),
                told(&block.fits),
                percent(block.said.0),
                percent(block.said.1),
                due_to(&block.sources)
            );
        }
        text
    }
}

fn within_s(show: &Show, track: usize) -> f64 {
    show.tracks[track]
        .meets
        .as_ref()
        .map_or(0.0, |meet| meet.within.s())
}

fn row(chance: &Chance) -> ChanceRow {
    ChanceRow {
        chance: chance.share.whole(),
        low: chance.limits.0.whole(),
        high: chance.limits.1.whole(),
    }
}

fn percent(share: Share) -> f64 {
    100.0 * share.whole()
}

/// `83 % (79 to 86)`.
fn told(chance: &Chance) -> String {
    let (low, high) = chance.limits;
    let [chance, low, high] = [chance.share, low, high].map(percent);
    format!("{chance:.0} % ({low:.0} to {high:.0})")
}

/// Sources from most to least, those that round to nothing left out.
fn due_to(sources: &Sources) -> String {
    let mut all = [
        (sources.wind, "wind"),
        (sources.pilot, "pilot"),
        (sources.marks, "marks"),
        (sources.words, "words"),
    ];
    all.sort_by(|a, b| b.0.total_cmp(&a.0));
    let told: Vec<String> = all
        .iter()
        .filter(|(share, _)| *share >= 0.005)
        .map(|(share, name)| format!("{name} {:.0} %", 100.0 * share))
        .collect();
    if told.is_empty() {
        "-".into()
    } else {
        told.join(", ")
    }
}
