//! Blocks, tracks, calls and silences laid on the moments of flight.
//!
//! The same code lays the plan (on planned moments) and the running show (on estimated ones, with what has
//! begun kept where it is).

use super::fitting;
use super::layout::{Begun, Cause, Facts, Layout, Said, Version};
use super::limits::Stops;
use super::moments::Moments;
use super::table::Table;
use crate::script::fit;
use crate::show::Show;
use crate::units::Span;

/// Lays everything, each block in the version that is best for all of them together. `keep` holds the
/// versions that are settled already, such as of a block being said.
pub fn lay(
    show: &Show,
    facts: &Facts,
    moments: &Moments,
    begun: &Begun,
    keep: &[Option<Version>],
) -> Layout {
    let kept = |i: usize| keep.get(i).copied().flatten();
    let most: Vec<Version> = (0..show.blocks.len())
        .map(|i| kept(i).unwrap_or_default())
        .collect();
    let table = Table::new(show, facts, moments, begun, &most);
    let layout = layout(&table);
    if (0..show.blocks.len()).all(|i| suits(&table, &layout, i)) {
        return layout;
    }
    let problem = fitting::problem(&table, keep);
    let versions = fit::fit(&problem);
    let table = Table::new(show, facts, moments, begun, &versions);
    let mut layout = self::layout(&table);
    for i in 0..show.blocks.len() {
        if kept(i).is_none() && versions[i] != Version::Full {
            layout.blocks[i].because = made_shorter(&table, &problem, &versions, i);
        }
    }
    layout
}

/// Whether a block fits, one that could be said shorter with its own spread to spare, or is none that is to be said.
fn suits(table: &Table<'_>, layout: &Layout, i: usize) -> bool {
    let lasts = layout.pieces[i].iter().map(|(from, until)| *until - *from);
    let spread = lasts.max().unwrap_or_default() * table.show.narrator.spread.whole();
    let slack = layout.blocks[i].slack;
    let fits = |spare| slack.is_none_or(|slack| slack >= spare);
    match table.said(i) {
        Said::Ended(_) | Said::Never => true,
        Said::Ahead | Said::Due if table.show.blocks[i].short.is_some() => fits(spread),
        Said::Ahead | Said::Due | Said::Now => fits(Span::ZERO),
    }
}

fn layout(table: &Table<'_>) -> Layout {
    let stops = Stops::new(table);
    Layout {
        blocks: (0..table.show.blocks.len())
            .map(|i| stops.block(i))
            .collect(),
        ..table.layout()
    }
}

/// What made a shorter version of a block necessary: what its full text would run into, or else the first
/// block that would not fit any more.
fn made_shorter(
    table: &Table<'_>,
    problem: &fit::Problem<'_>,
    versions: &[Version],
    i: usize,
) -> Option<Cause> {
    let stops = Stops::new(table);
    stops.broken_by(i, Version::Full).or_else(|| {
        let mut full = versions.to_vec();
        full[i] = Version::Full;
        let before = fit::slacks(problem, versions);
        let after = fit::slacks(problem, &full);
        let broken = |slack: Option<Span>| slack.is_some_and(|slack| slack < Span::ZERO);
        (0..versions.len())
            .filter(|&other| broken(after[other]) && !broken(before[other]))
            .min_by_key(|&other| table.block_start(other).time.instant())
            .map(|other| match other == i {
                true => Cause::Tight,
                false => Cause::RoomFor(other),
            })
    })
}
