//! `abeam odds`: how likely each meet is made and each block fits.

use std::path::{Path, PathBuf};

use clap::Args;
use serde::Serialize;

use super::opened::{Opened, ShowArgs, print_faults};
use super::plot::plot;
use super::table::table;
use super::{Failure, print, print_json};
use crate::pictures::Picture;
use crate::pictures::histogram::{Row, histogram};
use crate::practice::odds::{BlockOdds, Cause, Chance, MeetOdds, Odds, by_hold, odds};
use crate::show::Show;
use crate::timeline::Plan;
use crate::units::quantity::NAUTICAL_MILE;
use crate::units::{Share, Span};

/// For each hold that is tried, one show is flown of so many for the odds: there are many holds.
const HOLD_EVERY: u32 = 4;

/// Says how likely each meet is made and each block fits, from many shows flown by chance
#[derive(Debug, Args)]
pub struct Arguments {
    #[command(flatten)]
    show: ShowArgs,
    /// How many shows are flown
    #[arg(long, default_value_t = 10_000, value_parser = clap::value_parser!(u32).range(20..=1_000_000))]
    runs: u32,
    /// What chance is drawn from: the same number, the same shows
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Says as well from how far a hold each meet has this chance, for planning before the day; each hold is tried
    /// with a quarter of the shows
    #[arg(long, value_name = "95 %")]
    hold_for: Option<Share>,
    /// One JSON object instead of tables
    #[arg(long)]
    json: bool,
    /// Draw into this folder as well how late each hit was, as SVG
    #[arg(long, value_name = "DIR")]
    plot: Option<PathBuf>,
}

#[derive(Serialize)]
struct Report {
    title: String,
    profile: String,
    runs: u32,
    seed: u64,
    meets: Vec<MeetRow>,
    blocks: Vec<BlockRow>,
    /// With `--hold-for`: how likely each meet is with the hold of its figure elsewhere.
    holds: Vec<HoldRow>,
}

#[derive(Serialize)]
struct MeetRow {
    track: String,
    meets: String,
    within_s: f64,
    /// With music that follows what is marked.
    followed: ChanceRow,
    /// With all music at its planned times.
    as_planned: ChanceRow,
    /// Root of the mean square of how late the hit was.
    miss_rms_s: f64,
    miss_as_planned_rms_s: f64,
    wind_share: f64,
    pilot_share: f64,
    marks_share: f64,
}

#[derive(Serialize)]
struct BlockRow {
    id: String,
    fits: ChanceRow,
    full: ChanceRow,
}

#[derive(Serialize)]
struct HoldRow {
    track: String,
    hold_m: f64,
    /// How many shows were flown from there.
    runs: u32,
    met: ChanceRow,
}

/// A chance, 0 to 1, and between what it lies with 95 % confidence.
#[derive(Serialize)]
struct ChanceRow {
    chance: f64,
    low: f64,
    high: f64,
}

impl Arguments {
    /// Prints the odds; faults go to standard error.
    pub fn run(self) -> Result<(), Failure> {
        let opened = self.show.open(self.json)?;
        let odds = odds(&opened.show, &opened.plan, self.runs, self.seed);
        if let Some(folder) = &self.plot {
            draw(&opened, &odds, folder)?;
        }
        let report = self.report(&opened, &odds);
        if self.json {
            print_json(&report)?;
        } else {
            print(&told(&report))?;
            print(&self.told_holds(&report))?;
            print_faults(&opened.show.source, &opened.faults);
        }
        if opened.is_faulty() {
            Err(Failure::Faults)
        } else {
            Ok(())
        }
    }

    fn report(&self, opened: &Opened, odds: &Odds) -> Report {
        let meets = odds.meets.iter();
        let blocks = odds.blocks.iter();
        Report {
            title: opened.show.title.clone(),
            profile: opened.profile.to_string(),
            runs: odds.runs,
            seed: self.seed,
            meets: meets.filter_map(|meet| meet_row(opened, meet)).collect(),
            blocks: blocks.map(|block| block_row(opened, block)).collect(),
            holds: match self.hold_for {
                Some(_) => self.holds(opened, odds),
                None => Vec::new(),
            },
        }
    }

    fn holds(&self, opened: &Opened, odds: &Odds) -> Vec<HoldRow> {
        let plan = |show: &Show| {
            let (profile, day) = (&opened.profile, &opened.plan.day);
            let facts = opened.plan.facts.clone();
            if self.show.mirrored {
                Plan::mirrored(show, profile, day, facts)
            } else {
                Plan::new(show, profile, day, facts)
            }
        };
        let meets = odds.meets.iter().flat_map(|meet| {
            let of = (self.runs.div_ceil(HOLD_EVERY), self.seed);
            let rows = by_hold(&opened.show, meet.track, of, plan);
            rows.into_iter().map(move |row| HoldRow {
                track: opened.show.tracks[meet.track].id.to_string(),
                hold_m: row.hold.m(),
                runs: of.0,
                met: row.met.into(),
            })
        });
        meets.collect()
    }

    /// From how far a hold each meet has the chance asked for.
    fn told_holds(&self, report: &Report) -> String {
        let Some(wanted) = self.hold_for else {
            return String::new();
        };
        let nmi = |row: &HoldRow| format!("{:.0} nmi", row.hold_m / NAUTICAL_MILE);
        let rows = report.holds.iter();
        let rows = rows.map(|row| [row.track.clone(), nmi(row), told_chance(&row.met)]);
        let mut text = format!(
            "\n{}\n{} shows flown from each hold\n",
            table(["track", "hold", "met"], rows),
            self.runs.div_ceil(HOLD_EVERY)
        );
        for meet in &report.meets {
            let mut own = report.holds.iter().filter(|row| row.track == meet.track);
            let any = own.clone().next().is_some();
            let enough = own.find(|row| row.met.chance >= wanted.whole());
            text += &match enough {
                Some(row) => format!(
                    "{}: first from {}, {wanted} or more\n",
                    meet.track,
                    nmi(row)
                ),
                None if any => format!("{}: from no hold up to 8 nmi {wanted}\n", meet.track),
                None => format!("{}: what it meets has no hold\n", meet.track),
            };
        }
        text + "For planning with the display director before the day; on the day the music waits for the aircraft.\n"
    }
}

fn meet_row(opened: &Opened, odds: &MeetOdds) -> Option<MeetRow> {
    let track = &opened.show.tracks[odds.track];
    let meet = track.meets.as_ref()?;
    let share = |cause: Cause| {
        let found = odds.causes.iter().find(|(other, _)| *other == cause);
        found.map_or(0.0, |(_, share)| share.whole())
    };
    Some(MeetRow {
        track: track.id.to_string(),
        meets: meet.on.anchor.to_string(),
        within_s: meet.within.s(),
        followed: odds.followed.into(),
        as_planned: odds.as_planned.into(),
        miss_rms_s: rms(&odds.misses),
        miss_as_planned_rms_s: rms(&odds.misses_as_planned),
        wind_share: share(Cause::Wind),
        pilot_share: share(Cause::Pilot),
        marks_share: share(Cause::Marks),
    })
}

fn block_row(opened: &Opened, odds: &BlockOdds) -> BlockRow {
    BlockRow {
        id: opened.show.blocks[odds.block].id.to_string(),
        fits: odds.fits.into(),
        full: odds.full.into(),
    }
}

fn rms(misses: &[Span]) -> f64 {
    let squares = misses.iter().map(|miss| miss.s() * miss.s());
    (squares.sum::<f64>() / misses.len().max(1) as f64).sqrt()
}

impl From<Chance> for ChanceRow {
    fn from(chance: Chance) -> ChanceRow {
        let [low, high] = chance.limits().map(Share::whole);
        ChanceRow {
            chance: chance.share().whole(),
            low,
            high,
        }
    }
}

fn told_chance(row: &ChanceRow) -> String {
    let [chance, low, high] = [row.chance, row.low, row.high].map(|share| share * 100.0);
    format!("{chance:.0} % ({low:.0} to {high:.0})")
}

fn told(report: &Report) -> String {
    let percent = |share: f64| format!("{:.0} %", share * 100.0);
    let meets = report.meets.iter().map(|meet| {
        [
            meet.track.clone(),
            meet.meets.clone(),
            format!("{} s", meet.within_s),
            told_chance(&meet.followed),
            told_chance(&meet.as_planned),
            format!("{:.2} s", meet.miss_rms_s),
            percent(meet.wind_share),
            percent(meet.pilot_share),
            percent(meet.marks_share),
        ]
    });
    let blocks = report.blocks.iter().map(|block| {
        let [fits, full] = [&block.fits, &block.full].map(told_chance);
        [block.id.clone(), fits, full]
    });
    let head = [
        "track",
        "meets",
        "within",
        "met",
        "as planned",
        "miss",
        "wind",
        "crew",
        "marks",
    ];
    format!(
        "{}, profile {}: {} shows flown by chance, every point marked; in brackets the 95 % limits\n\n\
         {}\n{}\n\
         met: with music that follows the marks; as planned: at its planned times; miss: root mean square, followed;\n\
         wind, crew, marks: how much of its square each makes by itself\n",
        report.title,
        report.profile,
        report.runs,
        table(head, meets),
        table(["block", "fits", "in full"], blocks),
    )
}

/// Draws how late each hit was into `folder`.
fn draw(opened: &Opened, odds: &Odds, folder: &Path) -> Result<(), Failure> {
    let seconds = |misses: &[Span]| misses.iter().map(|miss| miss.s()).collect::<Vec<f64>>();
    let drawn = odds.meets.iter().filter_map(|meet| {
        let track = &opened.show.tracks[meet.track];
        let of = track.meets.as_ref()?;
        let title = format!(
            "How late \"{}\" of {} meets {}",
            of.hit, track.id, of.on.anchor
        );
        let rows = [
            ("with music that follows the marks", &meet.misses),
            ("with music at its planned times", &meet.misses_as_planned),
        ];
        let rows = rows.map(|(name, misses)| Row {
            name: name.into(),
            late_s: seconds(misses),
        });
        let name = format!("odds-{}.svg", track.id);
        Some(histogram(&name, &title, &rows, of.within.s()))
    });
    let pictures: Vec<Picture> = drawn.collect();
    plot(&pictures, folder)
}
